//! Today, for what is signed: the note takes its date from whoever writes it.

use std::time::{SystemTime, UNIX_EPOCH};

const SECONDS_PER_DAY: u64 = 86_400;

/// Today as `2026-11-28`, at Greenwich.
pub(super) fn today() -> String {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    date(since.map_or(0, |since| since.as_secs() / SECONDS_PER_DAY))
}

/// The date so many days after 1970-01-01, in the Gregorian calendar: years are counted from March, so that
/// a leap day is the last of its year. Source: arithmetic of the calendar, 146 097 days in 400 years.
fn date(days: u64) -> String {
    // From 0000-03-01.
    let days = days + 719_468;
    let (era, day_of_era) = (days / 146_097, days % 146_097);
    let leaps = day_of_era / 36_524 + day_of_era / 146_096;
    let year_of_era = (day_of_era - day_of_era / 1460 + leaps - 2 * (day_of_era / 146_096)) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = (month_from_march + 2) % 12 + 1;
    let year = 400 * era + year_of_era + u64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

/// A date as typed.
pub(super) fn parse_date(text: &str) -> Result<String, String> {
    let parts: Vec<&str> = text.trim().split('-').collect();
    let is_number = |part: &&str| part.chars().all(|c| c.is_ascii_digit());
    let lengths: Vec<usize> = parts.iter().map(|part| part.len()).collect();
    let in_range = |place: usize, most: u32| {
        let number = parts[place].parse::<u32>();
        number.is_ok_and(|number| (1..=most).contains(&number))
    };
    match lengths.as_slice() {
        [4, 2, 2] if parts.iter().all(is_number) && in_range(1, 12) && in_range(2, 31) => {
            Ok(parts.join("-"))
        }
        _ => Err("expected a date such as 2026-11-28".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_become_dates() {
        // Known days: the first of the count, leap days of 2000 and 2024, ends of years.
        let days = [
            (0, "1970-01-01"),
            (59, "1970-03-01"),
            (11_016, "2000-02-29"),
            (11_017, "2000-03-01"),
            (19_782, "2024-02-29"),
            (20_453, "2025-12-31"),
            (20_454, "2026-01-01"),
        ];
        for (number, expected) in days {
            assert_eq!(date(number), expected);
        }
        // Every day of four centuries has a date of its own, one after the other.
        let all: Vec<String> = (0..146_097).map(date).collect();
        assert!(all.windows(2).all(|pair| pair[0] < pair[1]));
        assert_eq!(all[146_096], "2369-12-31");
    }

    #[test]
    fn dates_are_read_as_they_are_written() {
        assert_eq!(parse_date(" 2026-11-28 "), Ok("2026-11-28".to_owned()));
        for wrong in ["28.11.2026", "2026-13-01", "2026-1-1", "2026-00-10", "x"] {
            assert!(parse_date(wrong).is_err(), "{wrong}");
        }
    }
}
