//! Rules on made-up engines whose numbers are closed forms: every verdict, its crossings known.

use super::*;
use crate::field::Settings;
use crate::panel::{Outline, Panel};
use crate::scenario::Document;
use crate::study::{HandValue, PadValues, PointValues, QuantityKind, Reported};
use std::cell::RefCell;

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
    let gap = drawn::drawn_value(panel, &format!("pads.{}.gap", own.group));
    let area = drawn::pad_area(panel, &own.group).expect("an area");
    let mut thickness = 0.0;
    for layer in &panel.layers[..own.layer] {
        thickness += layer.thickness.nominal.mm() * if layer.name == "air" { 2.0 } else { 1.0 };
    }
    let guard = panel
        .guards
        .iter()
        .map(|guard| guard.width.mm())
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
        values: PointValues { pads: vec![values] },
        accuracy_reached: true,
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
fn a_needed_value_is_the_crossing_with_its_interval_and_the_verdict_follows_from_it() {
    let exact = 4.0 * (40.4_f64 / 20.0).ln();
    // Value plus and minus 0.5 % meet the limit here.
    let ends = [20.5, 19.5].map(|limit| 4.0 * (40.4_f64 / limit).ln());
    for (value, verdict) in [
        ("value = \"2 mm\"", Verdict::FailsHere),
        ("value = \"2.8 mm\"", Verdict::CannotTell),
        ("value = \"2.85 mm\"", Verdict::CannotTell),
        ("value = \"3 mm\"", Verdict::Holds),
        ("value = \"4.3 mm\"", Verdict::Holds),
        ("value = \"4.4 mm\"", Verdict::MoreCareful),
        ("value = \"0.25 in\"", Verdict::MoreCareful),
        (
            "times = 1\nof = \"layer.{overlay}.thickness\"",
            Verdict::Holds,
        ),
        (
            "times = 2\nof = \"layer.{overlay}.thickness\"",
            Verdict::MoreCareful,
        ),
        ("value = \"0.25 in\"\ncareful_factor = 2.5", Verdict::Holds),
    ] {
        let judgement = judged(&gap_rule(value));
        let row = &judgement.rows[0];
        assert_eq!(row.verdict, verdict, "{value}: {}", row.reason);
        let Place::At(at, [low, high]) = needed(row).needed else {
            panic!("{:?}", needed(row).needed)
        };
        // The search stops at a twentieth of the error.
        assert!((at - exact).abs() < 0.006, "{at}");
        assert!((low - ends[0]).abs() < 0.02, "{low}");
        assert!((high - ends[1]).abs() < 0.02, "{high}");
        assert_eq!(needed(row).drawn.map(f64::round), Some(8.0));
        assert_eq!(row.touch.as_ref().map(|t| t.pad.as_str()), Some("b"));
        let picture = picture(row, "adult").expect("a chart");
        assert!(picture.svg().unwrap().contains("needed: 2.8"));
    }
}

#[test]
fn an_aim_error_moves_the_finger_towards_the_nearest_pad_and_mirror_images_are_solved_once() {
    let seen: RefCell<Vec<(String, [f64; 2])>> = RefCell::default();
    let engine = |panel: &Panel, touch: Touch<'_>| {
        let offset = panel.fingers[0].offset.map(|part| part.mm());
        seen.borrow_mut().push((touch.pad.to_owned(), offset));
        assert_eq!(touch.watched.len(), 1);
        closed_form(panel, touch)
    };
    let rule = gap_rule("value = \"8 mm\"\naim_error = \"3 mm\"");
    let judgement = judged_of(PANEL, &rule, &engine);
    let touch = judgement.rows[0].touch.clone().expect("a touch");
    assert_eq!(touch.pad, "b");
    assert_eq!(touch.off_towards, Some(("a".to_owned(), 3.0)));
    // a towards b, b towards a; the others are their images. Then b only.
    let seen = seen.into_inner();
    assert_eq!(seen[0], ("a".to_owned(), [3.0, 0.0]));
    assert_eq!(seen[1], ("b".to_owned(), [-3.0, 0.0]));
    assert!(seen[2..].iter().all(|(pad, _)| pad == "b"));
    let exact = 4.0 * (80.8_f64 / 20.0).ln();
    let Place::At(at, _) = needed(&judgement.rows[0]).needed else {
        panic!("no crossing")
    };
    assert!((at - exact).abs() < 0.006, "{at}");
}

#[test]
fn ends_of_the_range_are_told_as_such() {
    let rule = |condition: &str, side: &str, value: &str| {
        format!(
            "[rule.r]\nsays = \"x\"\nkind = \"needed value\"\npath = [\"layer.{{overlay}}.thickness\"]\n\
             value = \"{value}\"\nside = \"{side}\"\nfrom = \"1 mm\"\nto = \"10 mm\"\n\
             condition = \"touch shift >= {condition} pF\"\n"
        )
    };
    // Touch shift: 10 / thickness, so 10 to 1 over the range.
    for (condition, side, value, place, verdict) in [
        (
            "0.5",
            "at most",
            "9 mm",
            Place::BeyondEnd(10.0),
            Verdict::Holds,
        ),
        (
            "0.5",
            "at most",
            "6 mm",
            Place::BeyondEnd(10.0),
            Verdict::MoreCareful,
        ),
        (
            "20",
            "at most",
            "2 mm",
            Place::NowhereTo(1.0),
            Verdict::FailsHere,
        ),
        (
            "20",
            "at least",
            "2 mm",
            Place::NowhereTo(10.0),
            Verdict::FailsHere,
        ),
    ] {
        let judgement = judged(&rule(condition, side, value));
        let row = &judgement.rows[0];
        assert_eq!(needed(row).needed, place, "{condition} {side}");
        assert_eq!(row.verdict, verdict, "{condition} {side} {value}");
    }
    let judgement = judged(&rule("2.5", "at most", "3 mm"));
    let Place::At(at, _) = needed(&judgement.rows[0]).needed else {
        panic!("no crossing")
    };
    assert!((at - 4.0).abs() < 0.004, "{at}");
}

#[test]
fn a_condition_may_be_a_share_of_the_best_or_of_the_panel_as_drawn() {
    let rule = |compared: &str, share: &str| {
        format!(
            "[rule.r]\nsays = \"x\"\nkind = \"needed value\"\n\
             path = [\"pads.{{pads}}.diameter\", \"pads.{{pads}}.size\"]\n\
             times = 1\nof = \"finger.{{finger}}.dome\"\nside = \"at least\"\nfrom = \"5 mm\"\n\
             to = \"25 mm\"\ncondition = \"touch shift >= {share} %\"\ncompared_with = \"{compared}\"\n"
        )
    };
    // The touch shift is proportional to the side: 25 mm is best, 10 mm is drawn.
    for (compared, share, exact) in [("best of the range", "60", 15.0), ("as drawn", "120", 12.0)] {
        let judgement = judged(&rule(compared, share));
        let detail = needed(&judgement.rows[0]);
        assert_eq!(detail.path, "pads.keys.size");
        assert_eq!(detail.rule, 16.0);
        assert_eq!(detail.sample_unit(), "%");
        let Place::At(at, [low, high]) = detail.needed else {
            panic!("no crossing")
        };
        assert!((at / exact - 1.0).abs() < 0.002, "{at}");
        // Both errors of 1 % count.
        assert!((low / exact - 0.98).abs() < 0.004, "{low}");
        assert!((high / exact - 1.02).abs() < 0.004, "{high}");
    }
}

fn effects(row: &Row) -> &[EffectDetail] {
    match &row.detail {
        Detail::Effects(details) => details,
        other => panic!("{other:?}, {}", row.reason),
    }
}

/// The guard takes 40 % of the ratio and 5 % of the touch: 43 % of the neighbour shift.
fn guard_rule(neighbour: &str, touch: &str, more: &str) -> String {
    format!(
        "[rule.trace]\nsays = \"a ground trace\"\nkind = \"effect\"\nadd = [{{ guard = \"{{guard}}\" }}]\n\
         set = [{{ path = \"guard.{{guard}}.between\", value = \"{{pads}}\" }},\n\
         {{ path = \"guard.{{guard}}.width\", value = \"0 mm\" }}]\n\
         change = [{{ path = \"guard.{{guard}}.width\", value = \"1 mm\" }}]\n\
         expect = [{{ quantity = \"neighbour shift\", falls_at_least = \"{neighbour} %\" }},\n\
         {{ quantity = \"touch shift\", falls_at_most = \"{touch} %\" }}]\n{more}"
    )
}

#[test]
fn an_effect_is_weighed_against_every_expectation() {
    for (neighbour, touch, more, verdict) in [
        ("30", "10", "", Verdict::Holds),
        ("60", "10", "", Verdict::FailsHere),
        ("30", "2", "", Verdict::FailsHere),
        ("43", "10", "", Verdict::CannotTell),
        ("30", "5.5", "", Verdict::CannotTell),
        (
            "30",
            "10",
            "not_needed_when = \"neighbour ratio <= 10 %\"",
            Verdict::MoreCareful,
        ),
        (
            "30",
            "10",
            "not_needed_when = \"neighbour ratio <= 5 %\"",
            Verdict::Holds,
        ),
    ] {
        let judgement = judged(&guard_rule(neighbour, touch, more));
        let row = &judgement.rows[0];
        assert_eq!(
            row.verdict, verdict,
            "{neighbour} {touch} {more}: {}",
            row.reason
        );
        let [first, second] = effects(row) else {
            panic!("{row:?}")
        };
        assert!((first.change.value + 43.0).abs() < 1e-9, "{first:?}");
        assert!((second.change.value + 5.0).abs() < 1e-9, "{second:?}");
        assert!(picture(row, "adult").expect("a chart").svg().is_ok());
    }
    // A trace that is there already is taken away and put back.
    let with_guard = format!("{PANEL}\n[guard.mine]\nbetween = \"keys\"\nwidth = \"2 mm\"\n");
    let judgement = judged_of(&with_guard, &guard_rule("30", "10", ""), &closed_form);
    assert!((effects(&judgement.rows[0])[0].change.value + 43.0).abs() < 1e-9);
}

#[test]
fn a_layer_of_a_rule_is_there_only_with_the_change() {
    let rule = |share: &str| {
        format!(
            "[rule.air]\nsays = \"no air\"\nkind = \"effect\"\n\
             add = [{{ layer = \"air\", behind = \"{{overlay}}\" }}]\n\
             set = [{{ path = \"layer.air.permittivity\", value = \"1\" }}]\n\
             change = [{{ path = \"layer.air.thickness\", value = \"0.5 mm\" }}]\n\
             expect = [{{ quantity = \"touch shift\", falls_at_least = \"{share} %\", \
             otherwise = \"more careful than needed\" }}]\n"
        )
    };
    // 3 mm become 4: a quarter less.
    for (share, verdict) in [
        ("20", Verdict::Holds),
        ("25", Verdict::CannotTell),
        ("30", Verdict::MoreCareful),
    ] {
        let judgement = judged(&rule(share));
        let row = &judgement.rows[0];
        assert_eq!(row.verdict, verdict, "{share}: {}", row.reason);
        assert!((effects(row)[0].change.value + 25.0).abs() < 1e-9);
    }
}

#[test]
fn other_outlines_have_the_same_area_about_the_same_centres() {
    let shapes = |panel: &Panel, touch: Touch<'_>| {
        let mut solved = closed_form(panel, touch)?;
        if let Outline::Rectangle { width, height } = panel.pads[0].outline
            && height.mm() > 1.5 * width.mm()
        {
            let values = &mut solved.values.pads[0];
            values.touch_shift = values.touch_shift.map(|shift| Reported {
                value: 0.8 * shift.value,
                ..shift
            });
        }
        Ok(solved)
    };
    let rule = |forms: &str, gap: &str| {
        let panel = PANEL.replace("gap = \"8 mm\"", gap);
        let rule = format!(
            "[rule.shape]\nsays = \"shape hardly\"\nkind = \"effect\"\nreshape = [{forms}]\n\
             expect = [{{ quantity = \"touch shift\", changes_at_most = \"5 %\" }}]\n"
        );
        judged_of(&panel, &rule, &shapes).rows.remove(0)
    };
    let gap = "gap = \"8 mm\"";
    let row = rule("\"disc\", \"square\"", gap);
    assert_eq!(row.verdict, Verdict::Holds, "{}", row.reason);
    // Squares they are already.
    assert_eq!(effects(&row).len(), 1);
    assert_eq!(effects(&row)[0].form, Some(Form::Disc));
    assert!(effects(&row)[0].change.value.abs() < 1e-6);
    let row = rule("\"disc\", \"upright rectangle\"", gap);
    assert_eq!(row.verdict, Verdict::FailsHere, "{}", row.reason);
    // A disc of that area is 11.28 mm wide.
    let row = rule("\"disc\"", "gap = \"1.2 mm\"");
    assert_eq!(row.verdict, Verdict::NotDescribed);
    assert!(row.reason.contains("would touch"), "{}", row.reason);
}

#[test]
fn exponents_are_exact_for_power_laws() {
    let rule = |path: &str, against: &str, exponent: f64| {
        format!(
            "[rule.law]\nsays = \"x\"\nkind = \"power law\"\nquantity = \"touch shift\"\n\
             path = [\"{path}\"]\nagainst = \"{against}\"\nfactors = [0.8, 1.25]\n\
             exponent = {exponent}\nexponent_within = 0.1\n"
        )
    };
    for (path, against, said, exact, verdict) in [
        ("pads.{pads}.size", "pad area", 0.5, 0.5, Verdict::Holds),
        ("pads.{pads}.size", "pad area", 1.0, 0.5, Verdict::FailsHere),
        (
            "pads.{pads}.size",
            "pad area",
            0.6,
            0.5,
            Verdict::CannotTell,
        ),
        ("pads.{pads}.size", "value", 1.0, 1.0, Verdict::Holds),
        (
            "layer.{overlay}.thickness",
            "value",
            -1.0,
            -1.0,
            Verdict::Holds,
        ),
    ] {
        let judgement = judged(&rule(path, against, said));
        let row = &judgement.rows[0];
        let Detail::Power(detail) = &row.detail else {
            panic!("{row:?}")
        };
        assert!((detail.exponent.value - exact).abs() < 1e-9, "{detail:?}");
        // 1 % at both ends over ln of the ratio of the bases.
        let [low, _, high] = detail.samples;
        let error = 0.02 / (high.0 / low.0).ln();
        assert!((detail.exponent.error - error).abs() < 1e-12, "{detail:?}");
        assert_eq!(row.verdict, verdict, "{}", row.reason);
        assert!(picture(row, "adult").expect("a chart").svg().is_ok());
    }
}

#[test]
fn estimates_and_shares_hold_within_their_limits_and_their_error_bars() {
    // The estimate is 1.1 times the computed value, which has an error of 1 %.
    for (within, verdict) in [
        ("20 %", Verdict::Holds),
        ("10.5 %", Verdict::CannotTell),
        ("5 %", Verdict::FailsHere),
    ] {
        let rule = format!(
            "[rule.e]\nsays = \"x\"\nkind = \"estimate\"\nestimate = \"plates, contact area\"\n\
             within = \"{within}\"\n"
        );
        let judgement = judged(&rule);
        assert_eq!(judgement.rows[0].verdict, verdict, "{within}");
    }
    // Thresholds of 38 to 55 % of the touch work.
    for (shares, verdict) in [
        ("40 %\", \"50 %", Verdict::Holds),
        ("40 %\", \"60 %", Verdict::FailsHere),
        ("60 %\", \"70 %", Verdict::FailsHere),
        ("20 %\", \"30 %", Verdict::FailsHere),
    ] {
        let rule = format!(
            "[rule.t]\nsays = \"x\"\nkind = \"threshold share\"\nshares = [\"{shares}\"]\n"
        );
        assert_eq!(judged(&rule).rows[0].verdict, verdict, "{shares}");
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
    let whole = judged(&gap_rule("value = \"8 mm\"")).field_problems;
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
