//! Plain words for paths, values, quantities; file names; axes.

use crate::study::{Coordinate, Limit, Quantity, Side, Spread, Study, Values, Variable};
use padfield_chart::{Axis, LimitLine, Scale, Sense};

/// Values that span more than this factor are drawn on a logarithmic axis.
const LARGE_FACTOR: f64 = 30.0;

/// A dotted path as a person says it: `layer.overlay.thickness` is "overlay thickness",
/// `pads.keys.gap` "gap of keys", `finger.adult.contact` "contact of finger adult".
pub(crate) fn of_path(path: &str) -> String {
    let words = path.replace('_', " ");
    match words.split('.').collect::<Vec<_>>()[..] {
        ["layer", name, what] => format!("{name} {what}"),
        ["pads", name, what] => format!("{what} of {name}"),
        ["stray", what] => format!("stray {what}"),
        [kind, name, what] => format!("{what} of {kind} {name}"),
        _ => words.replace('.', " "),
    }
}

/// A value with the name of its variable, as in a legend: "overlay thickness 2 mm". A material needs
/// no name.
pub(super) fn of_value(variable: &Variable, coordinate: &Coordinate) -> String {
    // Samples come with more digits than anyone would order.
    let rounded = match (&variable.values, coordinate) {
        (
            Values::Range {
                spread: Spread::Anywhere { .. },
                ..
            },
            Coordinate::Number(number),
        ) => number.round_sf(4).map(Coordinate::Number),
        _ => None,
    };
    let text = variable.text(rounded.as_ref().unwrap_or(coordinate));
    match variable.path.ends_with(".material") {
        true => text,
        false => format!("{} {text}", of_path(&variable.path)),
    }
}

/// The axis of a variable with these values.
pub(super) fn variable_axis(variable: &Variable, values: &[f64]) -> Axis {
    let logarithmic_range = matches!(
        variable.values,
        Values::Range {
            spread: Spread::Logarithmic(_) | Spread::Anywhere { logarithmic: true },
            ..
        }
    );
    let label = of_path(&variable.path);
    axis(label, &variable.unit, logarithmic_range, values)
}

/// The axis of a quantity with these values.
pub(super) fn quantity_axis(quantity: &Quantity, values: &[f64]) -> Axis {
    axis(quantity.to_string(), quantity.kind.unit(), false, values)
}

fn axis(label: String, unit: &str, logarithmic: bool, values: &[f64]) -> Axis {
    let finite = || values.iter().copied().filter(|value| value.is_finite());
    let least = finite().fold(f64::INFINITY, f64::min);
    let most = finite().fold(f64::NEG_INFINITY, f64::max);
    let positive = least > 0.0 && most > 0.0;
    let scale = match positive && (logarithmic || most > LARGE_FACTOR * least) {
        true => Scale::Logarithmic,
        false => Scale::Linear,
    };
    Axis {
        scale,
        ..Axis::linear(label, unit)
    }
}

/// The quantity with the pad it is taken from, for titles: "Touch shift of the weakest pad".
pub(super) fn in_title(quantity: &Quantity, has_several_pads: bool) -> String {
    let mut text = quantity.to_string();
    if quantity.pad.is_none() && has_several_pads {
        text += &format!(" of the {}", quantity.kind.which_pad());
    }
    capital(&text)
}

/// The text with a capital first letter.
pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// A file name without its ending: letters and digits with hyphens.
pub(crate) fn file_name(text: &str) -> String {
    let letters: String = text
        .to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { ' ' })
        .collect();
    letters.split_whitespace().collect::<Vec<_>>().join("-")
}

/// The limits of a quantity as lines of a chart.
pub(super) fn limit_lines(study: &Study, quantity: &Quantity) -> Vec<LimitLine> {
    let own = study.limits.iter().filter(|l| &l.quantity == quantity);
    own.map(limit_line).collect()
}

/// A limit as a line of a chart, with its origin.
pub(super) fn limit_line(limit: &Limit) -> LimitLine {
    LimitLine {
        value: limit.value,
        sense: match limit.side {
            Side::AtMost => Sense::AtMost,
            Side::AtLeast => Sense::AtLeast,
        },
        because: limit.because.clone().unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_said_in_plain_words() {
        assert_eq!(of_path("layer.overlay.thickness"), "overlay thickness");
        assert_eq!(of_path("pads.keys.gap"), "gap of keys");
        assert_eq!(of_path("finger.adult.contact"), "contact of finger adult");
        assert_eq!(of_path("guard.between.width"), "width of guard between");
        assert_eq!(of_path("wall_distance"), "wall distance");
        assert_eq!(of_path("stray.pin"), "stray pin");
    }

    #[test]
    fn sampled_values_are_told_with_four_digits() {
        let number = |text: &str| text.parse::<rust_decimal::Decimal>().expect("a number");
        let spread = |spread| Variable {
            path: "pads.keys.gap".to_owned(),
            unit: "mm".to_owned(),
            values: Values::Range {
                from: number("2"),
                to: number("16"),
                spread,
            },
        };
        let value = Coordinate::Number(number("6.941482"));
        let anywhere = spread(Spread::Anywhere { logarithmic: false });
        assert_eq!(of_value(&anywhere, &value), "gap of keys 6.941 mm");
        let exact = spread(Spread::Linear(5));
        assert_eq!(of_value(&exact, &value), "gap of keys 6.941482 mm");
    }

    #[test]
    fn file_names_hold_letters_digits_and_hyphens() {
        assert_eq!(
            file_name("touch shift of ../Vent (A)"),
            "touch-shift-of-vent-a"
        );
    }

    #[test]
    fn an_axis_is_logarithmic_when_its_values_ask_for_it() {
        let scale = |values: &[f64]| axis(String::new(), "mm", false, values).scale;
        assert_eq!(scale(&[1.0, 29.0, f64::NAN]), Scale::Linear);
        assert_eq!(scale(&[1.0, 31.0]), Scale::Logarithmic);
        assert_eq!(scale(&[-1.0, 31.0]), Scale::Linear);
        assert_eq!(
            axis(String::new(), "", true, &[1.0, 2.0]).scale,
            Scale::Logarithmic
        );
        assert_eq!(
            axis(String::new(), "", true, &[0.0, 2.0]).scale,
            Scale::Linear
        );
        assert_eq!(axis(String::new(), "", true, &[]).scale, Scale::Linear);
    }
}
