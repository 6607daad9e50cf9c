use super::parse;
use crate::case::{Kind, Solid, Wall};

const PLANAR: &str = r#"{
  "id": "P", "kind": "planar", "box": [-4, 4, -2, 4],
  "dielectrics": [{"name": "board", "eps_r": 4.5, "rect": [-3, 3, -1.5, 0]}],
  "conductors": [
    {"name": "pad", "rects": [[-1, 1, 0, 0]]},
    {"name": "finger", "rects": [[-1, 1, 2, 3]]}
  ],
  "length_unit": "mm", "background_eps_r": 1.0, "outer_boundary": "whole box",
  "result": {"C": [[1]]}
}"#;

const VOLUME: &str = r#"
kind = "volume"
box = [-25, 25, -25, 25, -15, 25]
wall = "open"
[[conductors]]
name = "pad"
cylinders = [[1.0, 2.0, 6.0, 0.0, 0.0]]
boxes = [[-5, 5, -5, 5, 2, 3]]
"#;

/// Text of the fault after `old` became `new` in a sound record.
fn fault(record: &str, old: &str, new: &str) -> String {
    assert!(record.contains(old), "the record has no {old}");
    parse(&record.replacen(old, new, 1))
        .unwrap_err()
        .to_string()
}

#[test]
fn reads_a_json_record_in_millimetres() {
    let case = parse(PLANAR).unwrap();
    assert_eq!((case.id.as_str(), case.title.as_str()), ("P", "P"));
    assert_eq!(case.kind, Kind::Planar);
    assert_eq!(case.domain.low_m, [-4e-3, -2e-3, 0.0]);
    assert_eq!(case.dielectrics[0].extent.low_m, [-3e-3, -1.5e-3, 0.0]);
    assert_eq!(case.walls[0], [Wall::Grounded; 2]);
    assert_eq!(case.walls[2], [Wall::Insulated; 2]);
    assert_eq!(case.conductors.len(), 2);
    assert_eq!(case.background_relative_permittivity, 1.0);
}

#[test]
fn reads_a_toml_record_with_cylinders() {
    let case = parse(VOLUME).unwrap();
    assert_eq!(case.kind, Kind::Volume);
    assert_eq!(case.walls, [[Wall::Open; 2]; 3]);
    let Solid::Round(disc) = &case.conductors[0].solids[1] else {
        panic!("the cylinder is not round");
    };
    assert_eq!(disc.contact_radius_m, 6e-3);
    assert_eq!(disc.dome_radius_m, 6e-3);
    assert_eq!(disc.centre_m, [1e-3, 2e-3]);
    assert_eq!(disc.bottom_m, disc.top_m);
}

#[test]
fn the_axis_is_insulated_whatever_the_wall_says() {
    let text = r#"
kind = "axisymmetric"
box = [0, 5, 0, 4]
wall = { r = "open", z = ["grounded", "insulated"] }
conductors = [{ name = "disc", rects = [[0, 1, 2, 2]] }]
"#;
    let walls = parse(text).unwrap().walls;
    assert_eq!(walls[0], [Wall::Insulated, Wall::Open]);
    assert_eq!(walls[1], [Wall::Grounded, Wall::Insulated]);
}

#[test]
fn faults_name_place_expectation_and_nearest_word() {
    let cases: &[(&str, &str, &str, &str)] = &[
        (
            PLANAR,
            "\"conductors\"",
            "\"condutors\"",
            "4:13: unknown field `condutors`",
        ),
        (
            PLANAR,
            "\"conductors\"",
            "\"condutors\"",
            "did you mean `conductors`?",
        ),
        (PLANAR, "\"rects\"", "\"rect\"", "did you mean `rects`?"),
        (
            PLANAR,
            "4.5",
            "-4.5",
            "3:49: the relative permittivity is -4.5, expected a positive number",
        ),
        (
            PLANAR,
            "[-3, 3, -1.5, 0]",
            "[3, -3, -1.5, 0]",
            "the bounds 3 to -3 run backwards",
        ),
        (
            PLANAR,
            "[-3, 3, -1.5, 0]",
            "[-3, 3, -1.5]",
            "expected 4 numbers",
        ),
        (
            PLANAR,
            "[-3, 3, -1.5, 0]",
            "[-3, 3, -1.5, 1e300]",
            "is out of range",
        ),
        (PLANAR, "[-4, 4, -2, 4]", "[-4, 4, -2, 4, 0, 1]", "2:"),
        (
            PLANAR,
            "[-4, 4, -2, 4]",
            "[-4, 4, 4, 4]",
            "no width along y",
        ),
        (
            PLANAR,
            "[-1, 1, 2, 3]",
            "[-1, 1, 2, 5]",
            "6:15: conductor `finger` spans y = 2 to 5 mm",
        ),
        (
            PLANAR,
            "[-1, 1, 0, 0]",
            "[1, 1, 0, 0]",
            "without area (a point)",
        ),
        (
            PLANAR,
            "\"finger\"",
            "\"pad\"",
            "6:15: the name `pad` occurs twice",
        ),
        (
            PLANAR,
            "\"eps_r\": 4.5",
            "\"comes_with\": \"finge\", \"eps_r\": 4.5",
            "3:29: dielectric `board` comes with `finge`, which is no conductor, expected one of pad, finger",
        ),
        (PLANAR, "\"mm\"", "\"inch\"", "expected `mm`"),
        (PLANAR, "\"planar\"", "\"axial\"", "unknown variant `axial`"),
        (PLANAR, "\"planar\"", "\"3d\"", "has 4 numbers, expected 6"),
        (PLANAR, "}\n  ],", "},\n  ],", "trailing comma"),
        (
            PLANAR,
            "[[-1, 1, 0, 0]]",
            "[]",
            "has no pieces, expected `rects`",
        ),
        (
            VOLUME,
            "6.0, 0.0",
            "0.0, 0.0",
            "7:13: the radius of a cylinder is 0 mm",
        ),
        (VOLUME, "6.0, 0.0", "nan, 0.0", "out of range"),
        (
            VOLUME,
            "6.0, 0.0",
            "60.0, 0.0",
            "expected within the outer wall",
        ),
        (
            VOLUME,
            "\"open\"",
            "\"opne\"",
            "4:8: unknown variant `opne`",
        ),
        (
            VOLUME,
            "\"open\"",
            "{ q = \"open\" }",
            "unknown axis `q` of a volume case, expected `x`, `y`, `z`",
        ),
        (
            VOLUME,
            "boxes = [[-5, 5, -5, 5, 2, 3]]",
            "boxes = [[-5, 5, 2, 2, 2, 2]]",
            "without area (a line)",
        ),
        (
            VOLUME,
            "[[conductors]]",
            "[[conductor]]",
            "did you mean `conductors`?",
        ),
        (VOLUME, "kind = \"volume\"", "", "missing field `kind`"),
    ];
    let mut misses = Vec::new();
    for (record, old, new, wanted) in cases {
        let text = fault(record, old, new);
        if !text.contains(wanted) {
            misses.push(format!("{old} -> {new}: got {text:?}, wanted {wanted:?}"));
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[test]
fn rubbish_is_refused_without_panic() {
    let deep = "[".repeat(100_000);
    for text in [
        "",
        "{",
        "null",
        "\u{feff}{}",
        "x = [",
        "\0\0\0",
        "{\"kind\": [}",
        &deep,
        "é = 1\n\"",
        "kind = \"planar\"\nbox = [0,1,0,1]",
    ] {
        assert!(parse(text).is_err(), "{text:.20} was accepted");
    }
}

#[test]
fn characters_that_nobody_sees_are_refused_with_their_place() {
    for (text, expected) in [
        ("id = \"a\u{202e}b\"\n", "1:8: U+202E changes the direction"),
        (
            "kind = \"volume\"\ntitle = \"\\u200b\"\n",
            "2:9: U+200B has no width",
        ),
        (
            "{\"id\": \"a\u{2066}b\"}",
            "1:10: U+2066 changes the direction",
        ),
        ("{\n\"i\\u00ADd\": 1}", "2:3: U+00AD has no width"),
    ] {
        let found = parse(text).unwrap_err().to_string();
        assert!(found.starts_with(expected), "{found}");
    }
    // A comment is not shown by anybody.
    let found = parse("# \u{202e}\nid = 3\n").unwrap_err().to_string();
    assert!(!found.contains("202E"), "{found}");
}
