//! What a bench can tell apart, and so which limits a verification plan may set.

/// A count is read as a whole number.
const ONE_COUNT: f64 = 1.0;
/// Limits are at least so many times what the bench resolves: common practice, no source.
pub(super) const TIMES_RESOLUTION: f64 = 3.0;

/// Said where a predicted value drowns in noise and reading.
pub(super) const TOO_SMALL: &str = "too small to verify";

/// Smallest difference of counts that one reading tells apart from another, with a noise \[counts rms\].
pub(super) fn resolution(noise: f64) -> f64 {
    noise.max(ONE_COUNT)
}

/// The accepted range of counts: what is expected, and at least [`TIMES_RESOLUTION`] times the resolution to
/// either side of the prediction; none where everything that is expected is smaller than that.
pub(super) fn accepted(predicted: f64, expected: [f64; 2], noise: f64) -> Option<[f64; 2]> {
    let reach = TIMES_RESOLUTION * resolution(noise);
    let [low, high] = expected;
    let largest = low.abs().max(high.abs()).max(predicted.abs());
    (largest >= reach).then(|| [low.min(predicted - reach), high.max(predicted + reach)])
}

/// Whether a limit can be told from zero and from the value that is held against it.
pub(super) fn can_tell(limit: f64, value: f64, noise: f64) -> bool {
    let reach = TIMES_RESOLUTION * resolution(noise);
    limit.abs() >= reach && (value - limit).abs() >= reach
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_three_times_what_is_read() {
        // 0.4 counts in a noise of 1.2 are nothing anyone reads.
        assert_eq!(accepted(0.4, [0.3, 0.5], 1.2), None);
        // A prediction that is sharper than the reading is widened to it, on both sides.
        assert_eq!(accepted(40.0, [39.5, 40.5], 0.2), Some([37.0, 43.0]));
        assert_eq!(accepted(40.0, [39.5, 40.5], 2.0), Some([34.0, 46.0]));
        // Wider tolerances stay.
        assert_eq!(accepted(20.0, [12.0, 38.0], 1.0), Some([12.0, 38.0]));
        // A fall of counts is no smaller than a rise.
        assert_eq!(accepted(-20.0, [-22.0, -18.0], 1.0), Some([-23.0, -17.0]));
    }

    #[test]
    fn a_threshold_is_told_from_an_event_that_is_far_enough_from_it() {
        assert!(can_tell(20.0, 30.0, 1.0));
        assert!(!can_tell(20.0, 22.0, 1.0));
        assert!(!can_tell(20.0, 30.0, 4.0));
        assert!(!can_tell(2.0, 30.0, 0.1));
    }
}
