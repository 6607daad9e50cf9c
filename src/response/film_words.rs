//! Wet films in words: what each is taken for, and which bound is nearer to the truth.

use super::answer::PadResponse;
use super::assumptions::plain;
use crate::panel::film::{crossover_frequency, overlay_capacitance_per_area};
use crate::panel::{Film, FilmBound, FilmShape, Panel};
use padfield_engine::units::Frequency;

/// One line per film; the frequency is that of the measuring circuit at the first pad's base.
pub(super) fn film_lines(panel: &Panel, pads: &[PadResponse]) -> Vec<String> {
    let base = pads.iter().find_map(|pad| pad.base_at_pin);
    let frequency = base.map(|base| panel.electronics.circuit.frequency(base.nominal));
    panel
        .films
        .iter()
        .map(|film| {
            let mut line = format!("Wet film {}.", described(film));
            match frequency {
                Some(frequency) if film.conductivity.is_some() => {
                    line += &format!(" {}", which_bound(panel, film, frequency));
                }
                _ => {
                    line += " No conductivity given: whether \"dielectric\" or \"floating\" is nearer \
                             to the truth is not known.";
                }
            }
            line
        })
        .collect()
}

fn described(film: &Film) -> String {
    let size = match film.shape {
        FilmShape::Rectangle { width, height } => {
            format!("{} x {} mm", plain(width.mm(), 2), plain(height.mm(), 2))
        }
        FilmShape::Disc { diameter } => format!("{} mm across", plain(diameter.mm(), 2)),
    };
    let taken = match film.bound {
        FilmBound::Dielectric => "a dielectric of permittivity 80 (water, 20 degrees C)",
        FilmBound::Floating => "a floating conductor without thickness",
        FilmBound::Earthed => "a conductor at 0 V without thickness",
    };
    format!(
        "\"{}\" ({size}, {} mm thick, centred at {} mm, {} mm): {taken}",
        film.name,
        plain(film.thickness.mm(), 3),
        plain(film.centre[0].mm(), 2),
        plain(film.centre[1].mm(), 2)
    )
}

fn which_bound(panel: &Panel, film: &Film, frequency: Frequency) -> String {
    let below = overlay_capacitance_per_area(panel);
    let (Some(conductivity), Some(reach)) = (film.conductivity, film.reach(frequency, below))
    else {
        return String::new();
    };
    let crossover = crossover_frequency(conductivity);
    let half = film.half_extent_m();
    let longest_mm = 2e3 * half[0].max(half[1]);
    let verdict = if frequency >= crossover {
        "above its crossover the film acts as a dielectric: that bound is the nearer one".to_owned()
    } else if reach.mm() >= longest_mm {
        "the film is at one potential throughout: the conductor's bound is the nearer one"
            .to_owned()
    } else {
        format!(
            "the film conducts over {} mm of its {} mm: the truth lies between the dielectric and the \
             conductor",
            plain(reach.mm(), 1),
            plain(longest_mm, 1)
        )
    };
    format!(
        "At {} kHz and {} S/m a potential reaches {} mm along it, crossover {} MHz; {verdict}.",
        plain(frequency.hertz() / 1e3, 0),
        plain(conductivity.siemens_per_metre(), 6),
        plain(reach.mm(), 1),
        plain(crossover.hertz() / 1e6, 3)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::sample::{four_keys, mm};
    use padfield_engine::units::Conductivity;

    #[test]
    fn the_nearer_bound_follows_reach_and_crossover() {
        let panel = four_keys();
        let film = Film {
            name: "rain".to_owned(),
            shape: FilmShape::Rectangle {
                width: mm(40.0),
                height: mm(20.0),
            },
            centre: [mm(0.0); 2],
            thickness: mm(0.1),
            bound: FilmBound::Floating,
            conductivity: Some(Conductivity::from_siemens_per_metre(0.05)),
        };
        let words = |hertz: f64| which_bound(&panel, &film, Frequency::from_hertz(hertz));
        // The reach falls with the root of the frequency: about 50 mm at 100 kHz here.
        assert!(
            words(100e3).contains("at one potential throughout"),
            "{}",
            words(100e3)
        );
        assert!(words(1e6).contains("conducts over"), "{}", words(1e6));
        assert!(
            words(20e6).contains("acts as a dielectric"),
            "{}",
            words(20e6)
        );
        let mut unknown = panel.clone();
        unknown.films = vec![Film {
            conductivity: None,
            ..film
        }];
        let lines = film_lines(&unknown, &[]);
        assert_eq!(lines.len(), 1);
        assert!(lines[0].contains("No conductivity given"), "{}", lines[0]);
    }
}
