//! Rules on made-up engines whose numbers are closed forms: every verdict, its crossings known.

use super::judge::{field_engine, judge};
use super::*;
use crate::input::Document;
use crate::panel::{LayerContent, Outline, Panel};
use crate::study::{HandValue, PadValues, PointValues, QuantityKind, Reported};
use padfield_engine::field::Settings;
use std::cell::RefCell;

mod kinds;
mod needed_value;

const PANEL: &str = r#"
title = "Keys"
[[layer]]
name = "cover"
material = "PMMA"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
material = "FR-4"
thickness = "1.6 mm"
[board]
outline = "200 mm x 200 mm"
[pads.keys]
layer = "front"
shape = "rectangle"
size = "10 mm x 10 mm"
columns = 3
gap = "8 mm"
names = ["a", "b", "c"]
[finger.adult]
contact = "10 mm"
dome = "16 mm"
"#;

const SECOND_GROUP: &str = r#"
[pads.big]
layer = "front"
shape = "disc"
diameter = "20 mm"
centre = "0 mm, 60 mm"
"#;

fn reported(value: f64, error: f64) -> Option<Reported> {
    Some(Reported {
        value,
        error,
        lower: None,
        upper: None,
        guaranteed: false,
    })
}

/// Numbers of a panel in closed form: neighbour ratio 40 exp(-gap / 4 mm) ± 0.5 % where pads are 10 mm
/// wide and the finger is centred, twice that 3 mm off; touch shift area^0.5 / thickness (acrylic
/// equivalent of air counts double) ± 1 %.
fn closed_form(panel: &Panel, touch: Touch<'_>) -> Result<Solved, NoNumbers> {
    let Touch { finger, pad, .. } = touch;
    let own = panel.pads.iter().find(|p| p.name == pad).expect("a pad");
    let finger = panel
        .fingers
        .iter()
        .find(|f| f.name == finger)
        .expect("a finger");
    let off_mm = finger.offset[0].mm().hypot(finger.offset[1].mm());
    let gap = panel.group(&own.group).and_then(|group| group.least_gap());
    let gap = gap.map(|gap| gap.mm());
    let area = drawn::pad_area(panel, &own.group).expect("an area");
    let mut thickness = 0.0;
    for layer in &panel.layers[..own.layer] {
        thickness += layer.thickness.nominal.mm() * if layer.name == "air" { 2.0 } else { 1.0 };
    }
    let guard = panel
        .guards
        .iter()
        .map(|guard| guard.width().expect("a width").mm())
        .sum::<f64>();
    let touch = area.sqrt() / thickness * (1.0 - 0.05 * guard);
    let ratio = gap.map(|gap| {
        let off = if off_mm > 0.0 { 2.0 } else { 1.0 };
        off * 40.0 * (-gap / 4.0).exp() * (1.0 - 0.4 * guard)
    });
    // The middle one is a little worse.
    let worse = if own.name == "b" { 1.01 } else { 1.0 };
    let values = PadValues {
        pad: pad.to_owned(),
        base_capacitance: reported(6.0, 0.06),
        touch_shift: reported(touch, 0.01 * touch),
        relative_touch_shift: reported(touch, 0.01 * touch),
        neighbour_shift: ratio.and_then(|ratio| {
            let shift = 0.01 * ratio * touch * worse;
            reported(shift, 0.02 * shift)
        }),
        neighbour_ratio: ratio.and_then(|ratio| reported(ratio * worse, 0.5)),
        count_shift: None,
        neighbour_count_shift: None,
        signal_to_noise: None,
        worst_neighbour: ratio.map(|_| "?".to_owned()),
        hand_estimates: vec![HandValue {
            name: "plates, contact area".to_owned(),
            of_base: false,
            value_pf: 1.1 * touch,
        }],
    };
    Ok(Solved {
        values: PointValues {
            pads: vec![values],
            is_reduced: false,
        },
        accuracy_reached: true,
        missed: Vec::new(),
        assumptions: vec!["Made up.".to_owned()],
        field_problems: 1,
    })
}

fn judged_of(panel: &str, rules: &str, engine: &Engine<'_>) -> Judgement {
    let document = Document::from_text("keys.toml", panel).unwrap();
    let rules = rules_of("house.toml", rules.as_bytes()).unwrap_or_else(|e| panic!("{e}"));
    let asked = Asked {
        document: &document,
        overrides: &[],
        finger: None,
        groups: &[],
        settings: Settings::default(),
        thresholds: Ok(ThresholdShares {
            working: [38.0, 55.0],
            recommended: Some(46.0),
        }),
    };
    let panel = document.panel(&[]).unwrap();
    judge(&asked, &panel, &rules, engine, &|| false, &mut |_, _| {})
}

fn judged(rules: &str) -> Judgement {
    judged_of(PANEL, rules, &closed_form)
}

/// A rule about the gap; the condition is met from 4 ln 2.02 = 2.812 mm of gap on (pad "b" decides).
fn gap_rule(value: &str) -> String {
    format!(
        "[rule.gap]\nsays = \"a gap\"\nkind = \"needed value\"\npath = [\"pads.{{pads}}.gap\"]\n{value}\n\
         side = \"at least\"\nfrom = \"0.5 mm\"\nto = \"20 mm\"\n\
         condition = \"neighbour ratio <= 20 %\"\n"
    )
}

fn needed(row: &Row) -> &NeededDetail {
    match &row.detail {
        Detail::Needed(detail) => detail,
        other => panic!("{other:?}, {}", row.reason),
    }
}

#[test]
fn every_group_has_a_row_and_what_it_lacks_is_said() {
    let both = format!("{PANEL}{SECOND_GROUP}");
    let rules = gap_rule("value = \"8 mm\"")
        + "[rule.glass]\nsays = \"x\"\nkind = \"not described\"\nneeds = \"nothing\"\n\
           overlay = [\"glass\"]\n[rule.traces]\nsays = \"x\"\nkind = \"not described\"\n\
           needs = \"traces\"\n";
    let judgement = judged_of(&both, &rules, &closed_form);
    let told: Vec<(&str, Option<&str>, Verdict)> = judgement
        .rows
        .iter()
        .map(|row| (row.rule.as_str(), row.group.as_deref(), row.verdict))
        .collect();
    assert_eq!(
        told,
        [
            ("gap", Some("keys"), Verdict::MoreCareful),
            ("glass", Some("keys"), Verdict::NotAbout),
            ("traces", Some("keys"), Verdict::NotDescribed),
            ("gap", Some("big"), Verdict::NotDescribed),
            ("glass", Some("big"), Verdict::NotAbout),
            ("traces", Some("big"), Verdict::NotDescribed),
        ]
    );
    let reason = |index: usize| judgement.rows[index].reason.as_str();
    assert_eq!(reason(2), "the panel file would need traces");
    assert_eq!(
        reason(3),
        "the panel file would need a value at pads.big.gap"
    );
    assert_eq!(
        reason(1),
        "the overlay is acrylic; the rule is about soda-lime glass"
    );
    assert_eq!(file_name(&judgement.rows[0]), "gap-keys");
}

#[test]
fn rules_about_the_same_value_share_their_places() {
    let one = judged(&gap_rule("value = \"8 mm\""));
    let twice = gap_rule("value = \"8 mm\"")
        + &gap_rule("value = \"8 mm\"").replace("[rule.gap]", "[rule.again]");
    let two = judged(&twice);
    assert_eq!(one.field_problems, two.field_problems);
    assert!(two.shared > one.shared + 5, "{} {}", one.shared, two.shared);
    assert_eq!(two.rows[0].detail, two.rows[1].detail);
}

#[test]
fn an_interrupt_keeps_what_is_judged_and_solves_no_more() {
    let rules = gap_rule("value = \"8 mm\"")
        + &gap_rule("value = \"9 mm\"").replace("[rule.gap]", "[rule.b]");
    // Calls of the engine: a touch that is looked at roughly and then finely is one field problem and two of them.
    let calls = RefCell::new(0);
    judged_of(PANEL, &gap_rule("value = \"8 mm\""), &|panel, touch| {
        *calls.borrow_mut() += 1;
        closed_form(panel, touch)
    });
    let whole = calls.into_inner();
    for most in [0, 1, whole, whole + 1] {
        let solves = RefCell::new(0);
        let engine = |panel: &Panel, touch: Touch<'_>| {
            *solves.borrow_mut() += 1;
            closed_form(panel, touch)
        };
        let document = Document::from_text("keys.toml", PANEL).unwrap();
        let asked = Asked {
            document: &document,
            overrides: &[],
            finger: None,
            groups: &[],
            settings: Settings::default(),
            thresholds: Err("not asked".to_owned()),
        };
        let panel = document.panel(&[]).unwrap();
        let list = rules_of("r.toml", rules.as_bytes()).unwrap();
        let stop = || *solves.borrow() >= most;
        let judgement = judge(&asked, &panel, &list, &engine, &stop, &mut |_, _| {});
        assert!(judgement.stopped || most > whole);
        assert!(*solves.borrow() <= most);
        let verdicts: Vec<Verdict> = judgement.rows.iter().map(|row| row.verdict).collect();
        match most >= whole {
            true => assert_eq!(verdicts[0], Verdict::MoreCareful),
            false => assert_eq!(verdicts, [Verdict::NotJudged; 2]),
        }
    }
}

#[test]
fn an_engine_without_an_answer_is_a_reason() {
    let engine = |_: &Panel, _: Touch<'_>| {
        Err(NoNumbers {
            reason: "not converged".to_owned(),
            is_numerical: true,
        })
    };
    let judgement = judged_of(PANEL, &gap_rule("value = \"8 mm\""), &engine);
    assert!(judgement.has_numerical_failure);
    assert_eq!(judgement.rows[0].verdict, Verdict::NotJudged);
    assert_eq!(judgement.rows[0].reason, "not converged");
}

#[test]
fn the_built_in_rules_claim_no_source_and_a_house_adds_and_replaces() {
    let mut rules = built_in();
    let count = rules.len();
    assert!(count >= 15, "{count}");
    for rule in &rules {
        assert_eq!(rule.source, "common practice, no source", "{}", rule.name);
    }
    let house = gap_rule("value = \"8 mm\"")
        + &gap_rule("value = \"5 mm\"").replace("[rule.gap]", "[rule.quarter-inch-gap]");
    add_or_replace(
        &mut rules,
        rules_of("house.toml", house.as_bytes()).unwrap(),
    );
    assert_eq!(rules.len(), count + 1);
    let replaced = rules
        .iter()
        .find(|rule| rule.name == "quarter-inch-gap")
        .unwrap();
    assert_eq!(replaced.source, "house rule, no source given");
    assert_eq!(rules.last().map(|rule| rule.name.as_str()), Some("gap"));
}

#[test]
fn rows_that_are_not_wanted_do_not_change_the_numbers() {
    // A cut in two dimensions, for time.
    let text = format!("model = \"section\"\n{PANEL}");
    let panel = Document::from_text("keys.toml", &text)
        .unwrap()
        .panel(&[])
        .unwrap();
    let settings = Settings {
        accuracy: 0.02,
        ..Settings::default()
    };
    let engine = field_engine(&settings, &|_| {});
    let solved = |watched: &[&str]| {
        let watched: Vec<String> = watched.iter().map(|name| (*name).to_owned()).collect();
        let touch = Touch {
            finger: "adult",
            pad: "a",
            watched: &watched,
            accuracy: settings.accuracy,
        };
        let values = engine(&panel, touch).unwrap().values;
        values.pads.into_iter().next().expect("the touched pad")
    };
    let [all, one, none] = [solved(&["b", "c"]), solved(&["b"]), solved(&[])];
    assert_eq!(none.neighbour_shift, None);
    assert_eq!(one.worst_neighbour.as_deref(), Some("b"));
    let near = |a: Option<Reported>, b: Option<Reported>| {
        let [a, b] = [a, b].map(|value| value.expect("a value"));
        // They may have been refined to different grids.
        assert!(
            (a.value - b.value).abs() <= a.error + b.error,
            "{a:?} {b:?}"
        );
    };
    for other in [&one, &none] {
        near(all.touch_shift, other.touch_shift);
        near(all.base_capacitance, other.base_capacitance);
    }
    near(all.neighbour_ratio, one.neighbour_ratio);
    let count = QuantityKind::NeighbourCountShift;
    assert!(one.of(count).is_some() && count.is_of_neighbour());
}
