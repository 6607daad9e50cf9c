//! Every form of a quantity, and the schema beside the parser.

use super::kinds::*;
use super::*;
use crate::panel::DischargeKind;
use padfield_engine::units::*;

fn mm(toleranced: WithTolerance<Length>) -> [f64; 3] {
    let t = toleranced.0;
    [t.nominal, t.least, t.most].map(|length| (length.mm() * 1e9).round() / 1e9)
}

#[test]
fn tolerances_in_all_forms() {
    for (text, expected) in [
        ("4.0 mm", [4.0, 4.0, 4.0]),
        ("4.0 mm ± 0.2 mm", [4.0, 3.8, 4.2]),
        ("4.0 ± 0.2 mm", [4.0, 3.8, 4.2]),
        ("4mm+/-200um", [4.0, 3.8, 4.2]),
        ("4.0 mm ± 10 %", [4.0, 3.6, 4.4]),
        ("4.0 mm +0.3 -0.1 mm", [4.0, 3.9, 4.3]),
        ("4.0 +0.3/-0.1 mm", [4.0, 3.9, 4.3]),
        ("4.0 mm +10 -5 %", [4.0, 3.8, 4.4]),
        ("0.5 in", [12.7, 12.7, 12.7]),
        ("35 \u{b5}m", [0.035, 0.035, 0.035]),
        ("35 \u{3bc}m", [0.035, 0.035, 0.035]),
    ] {
        assert_eq!(
            mm(WithTolerance::<Length>::read(text).unwrap()),
            expected,
            "{text}"
        );
    }
}

#[test]
fn pairs_share_their_unit() {
    let size = Size::read("15 x 12 mm").unwrap().0;
    assert_eq!(size.map(|l| (l.mm() * 1e9).round() / 1e9), [15.0, 12.0]);
    let gap = Spacing::read("8 mm").unwrap().0;
    assert_eq!(gap[0], gap[1]);
    assert!(Position::read("8 mm").is_err());
}

#[test]
fn parts_are_replaced_in_the_text() {
    for (text, part, value, expected) in [
        (Some("15 mm x 12 mm"), "width", "20 mm", "20 mm x 12 mm"),
        (Some("15 x 12 mm"), "height", "20 mm", "15 mm x 20 mm"),
        (Some("15 mm"), "height", "20 mm", "15 mm x 20 mm"),
        (Some("8 mm"), "y", "5 mm", "8 mm, 5 mm"),
        (None, "x", "5 mm", "5 mm, 0 mm"),
        (Some("4 mm ± 0.2 mm"), "nominal", "5 mm", "5 mm ± 0.2 mm"),
        (Some("4 mm"), "tolerance", "5 %", "4 mm ± 5 %"),
        (Some("4.0 ± 0.2 mm"), "tolerance", "5 %", "4.0 mm ± 5 %"),
        (
            Some("4.0 mm"),
            "tolerance",
            "+0.3 -0.1 mm",
            "4.0 mm +0.3 -0.1 mm",
        ),
    ] {
        assert_eq!(with_part(text, part, value), expected);
    }
}

#[test]
fn misread_quantities_say_what_to_write() {
    for (text, message, hint) in [
        ("4", "4 has no unit", "did you mean \"4 mm\"?"),
        (
            "4 pF",
            "\"4 pF\" is a capacitance, not a length",
            "write a length such as \"4 mm\"",
        ),
        (
            "thick",
            "\"thick\" does not start with a number",
            "write a number and its unit, such as \"4 mm\"",
        ),
        (
            "4 mm ± 0.2",
            "the tolerance 0.2 has no unit",
            "did you mean \"0.2 mm\"?",
        ),
        (
            "1e999 mm",
            "1e999 is out of range",
            "an exponent has at most two digits",
        ),
    ] {
        let misread = WithTolerance::<Length>::read(text).unwrap_err();
        assert_eq!(
            (misread.message.as_str(), misread.hint.as_str()),
            (message, hint)
        );
    }
    let misread = WithTolerance::<Length>::read("4 mn").unwrap_err();
    assert!(
        misread.hint.starts_with("did you mean \"4 mm\"?"),
        "{}",
        misread.hint
    );
}

/// The schema and the parser must accept the same texts.
fn pattern_agrees<Q: FileQuantity>() {
    let schema = serde_json::json!({
        "type": "string", "pattern": Q::pattern(), "maxLength": MAX_CHARACTERS,
    });
    let validator = jsonschema::validator_for(&schema).expect("the pattern compiles");
    let numbers = [
        "4", "4.", ".5", "0.25", "1e3", "2E-3", "1e123", "-3", "+2", ".", "", "x",
    ];
    let units = [
        "mm", " mm", "um", "\u{b5}m", " in", "mil", "pF", " pF/cm", "deg", "°", "%", "", " mn",
        "MM", "kohm", " MΩ", "uA", " ms", "V", " mAh", "counts", "ppm", " degC", "K/min", "ppm/K",
        " %/K", "kV/mm", "kV",
    ];
    let tails = [
        "",
        " ",
        " ± 0.2 mm",
        " ± 0.2",
        "±5 %",
        " +/- 1 pF",
        " +0.3 -0.1 mm",
        "+0.3/-0.1",
        " +0.3 -0.1 %",
        " +10 % −0.2 pF",
        " +-2 pF/cm",
        " x 3 mm",
        " × 3",
        ", 4 mm",
        ",4",
        ", -4 mm",
        " ± -1 mm",
        " + 1 mm",
        "\t",
        "/3",
        " / 3",
        "/3, 2/3",
        ", 75 %",
        "/3 %",
    ];
    let mut accepted = 0;
    for number in numbers {
        for unit in units {
            for tail in tails {
                for front in ["", " ", "\t"] {
                    let text = format!("{front}{number}{unit}{tail}");
                    let reads = Q::read(&text).is_ok();
                    let matches = validator.is_valid(&serde_json::json!(text));
                    assert_eq!(reads, matches, "{}: {text:?}", Q::name());
                    accepted += usize::from(reads);
                }
            }
        }
    }
    let long = format!("4{} {}", "0".repeat(70), Q::MEASURE.usual_unit());
    assert!(Q::read(&long).is_err() && !validator.is_valid(&serde_json::json!(long)));
    assert!(accepted > 5, "{} accepted {accepted}", Q::name());
}

#[test]
fn patterns_agree_with_the_parser() {
    pattern_agrees::<One<Length>>();
    pattern_agrees::<One<Angle>>();
    pattern_agrees::<WithTolerance<Length>>();
    pattern_agrees::<WithTolerance<Permittivity>>();
    pattern_agrees::<WithTolerance<Capacitance>>();
    pattern_agrees::<WithTolerance<LineCapacitance>>();
    pattern_agrees::<Size>();
    pattern_agrees::<Spacing>();
    pattern_agrees::<Position>();
    pattern_agrees::<Return>();
    pattern_agrees::<Earth>();
    pattern_agrees::<One<Number>>();
    pattern_agrees::<WithTolerance<Resistance>>();
    pattern_agrees::<WithTolerance<Current>>();
    pattern_agrees::<One<Time>>();
    pattern_agrees::<One<Voltage>>();
    pattern_agrees::<One<Charge>>();
    pattern_agrees::<One<Counts>>();
    pattern_agrees::<One<Share>>();
    pattern_agrees::<Fraction>();
    pattern_agrees::<FractionPair>();
    pattern_agrees::<One<Temperature>>();
    pattern_agrees::<One<TemperatureRate>>();
    pattern_agrees::<WithTolerance<TemperatureCoefficient>>();
    pattern_agrees::<WithTolerance<Share>>();
    pattern_agrees::<WithTolerance<FieldStrength>>();
    assert!(Return::read("earthed").is_ok());
}

#[test]
fn an_ounce_per_square_foot_is_34_8_um_and_the_schema_says_so_too() {
    let schema = serde_json::json!({
        "type": "string", "pattern": CopperThickness::pattern(), "maxLength": MAX_CHARACTERS,
    });
    let validator = jsonschema::validator_for(&schema).expect("the pattern compiles");
    let um = |length: Length| (length.mm() * 1e6).round() / 1e3;
    for (text, expected) in [
        ("1 oz", Some([34.8, 34.8, 34.8])),
        ("0.5oz", Some([17.4, 17.4, 17.4])),
        ("2 oz ± 10 %", Some([69.6, 62.64, 76.56])),
        ("35 um", Some([35.0, 35.0, 35.0])),
        ("1.4 mil", Some([35.56, 35.56, 35.56])),
        ("1", None),
        ("1 oz ± 2 um", None),
        ("1 OZ", None),
        ("1 pF", None),
        ("1 oz 2", None),
    ] {
        let read = CopperThickness::read(text).ok();
        let read = read.map(|t| [t.0.nominal, t.0.least, t.0.most].map(um));
        assert_eq!(read, expected, "{text}");
        let is_valid = validator.is_valid(&serde_json::json!(text));
        assert_eq!(is_valid, expected.is_some(), "{text}");
    }
    // 1 oz is 28.3495 g, 1 ft2 is 0.09290304 m2 (both exact by definition), copper 8.96 g/cm3: 34.06 um.
    // Boards are specified with 34.8 um, which is what a file means by an ounce.
    let by_weight_um: f64 = 28.349_523 / 0.092_903_04 / 8.96;
    assert!((by_weight_um - 34.06).abs() < 0.01, "{by_weight_um}");
    assert!((34.8 / by_weight_um - 1.0).abs() < 0.03);
}

#[test]
fn schema_and_parser_accept_the_same_levels() {
    let schema = serde_json::json!({
        "type": "string", "pattern": Discharge::pattern(), "maxLength": MAX_CHARACTERS,
    });
    let validator = jsonschema::validator_for(&schema).expect("the pattern compiles");
    let texts = [
        "air 8 kV",
        "contact 4kV",
        "air  15 kV",
        "air 8000 V ",
        "air 8",
        "air",
        "8 kV",
        "air8 kV",
        " air 8 kV",
        "spark 8 kV",
        "contact 8 mm",
        "air 8 kV ± 1 kV",
        "",
        "air ",
        "Air 8 kV",
    ];
    let mut accepted = 0;
    for text in texts {
        let reads = Discharge::read(text).is_ok();
        assert_eq!(
            reads,
            validator.is_valid(&serde_json::json!(text)),
            "{text:?}"
        );
        accepted += usize::from(reads);
    }
    assert_eq!(accepted, 4);
    let level = Discharge::read("air 8 kV").expect("a level").0;
    assert_eq!(
        (level.kind, level.voltage.volts()),
        (DischargeKind::Air, 8000.0)
    );
}
