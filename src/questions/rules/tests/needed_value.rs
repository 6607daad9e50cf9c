//! Needed values: crossings, intervals, ends of the range.

use super::*;
use padfield_chart::Chart;

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
fn what_is_far_from_the_limit_is_looked_at_roughly_and_the_answer_stays() {
    // Bars as wide as the accuracy asked for allows, and values that are off by half of them.
    let asked = Settings::default().accuracy;
    let seen: RefCell<Vec<(f64, f64)>> = RefCell::default();
    let engine = |panel: &Panel, touch: Touch<'_>| {
        let mut solved = closed_form(panel, touch)?;
        let gap = panel.pads[1].centre[0] - panel.pads[0].centre[0];
        seen.borrow_mut().push((gap.mm() - 10.0, touch.accuracy));
        let ratio = &mut solved.values.pads[0].neighbour_ratio;
        if let Some(ratio) = ratio.as_mut().filter(|_| touch.accuracy > asked) {
            ratio.error *= touch.accuracy / asked;
            ratio.value += 0.5 * ratio.error;
        }
        Ok(solved)
    };
    let rule = gap_rule("value = \"0.25 in\"");
    let rough = judged_of(PANEL, &rule, &engine);
    let exhaustive = judged(&rule);
    let ends = |judgement: &Judgement| match needed(&judgement.rows[0]).needed {
        Place::At(at, [low, high]) => [at, low, high],
        other => panic!("{other:?}"),
    };
    for (rough, exhaustive) in ends(&rough).into_iter().zip(ends(&exhaustive)) {
        assert!((rough - exhaustive).abs() < 0.02, "{rough}, {exhaustive}");
    }
    assert_eq!(rough.rows[0].verdict, exhaustive.rows[0].verdict);
    let seen = seen.into_inner();
    // At 20 mm between the pads nothing is left to decide; beside the crossing at 2.8 mm everything is.
    let solved_at = |gap: &dyn Fn(f64) -> bool, is_rough: bool| {
        let mut all = seen.iter();
        all.any(|&(at, accuracy)| gap(at) && (accuracy > asked) == is_rough)
    };
    let is_far = |gap: f64| gap > 9.0;
    assert!(
        solved_at(&is_far, true) && !solved_at(&is_far, false),
        "{seen:?}"
    );
    assert!(solved_at(&|gap| (gap - 2.8).abs() < 0.2, false), "{seen:?}");
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

/// Any value of the catalogue can be what a rule is about; the pads of 10 mm show sqrt(area) / 3 mm.
#[test]
fn a_rule_may_be_about_a_hole() {
    let panel = PANEL.replace("columns = 3", "columns = 3\nhole = \"2 mm\"");
    let rule = "[rule.hole]\nsays = \"a hole\"\nkind = \"needed value\"\npath = [\"pads.{pads}.hole\"]\n\
                value = \"4 mm\"\nside = \"at most\"\nfrom = \"0.5 mm\"\nto = \"8 mm\"\n\
                condition = \"touch shift >= 3 pF\"\n";
    let row = &judged_of(&panel, rule, &closed_form).rows[0];
    assert_eq!(row.verdict, Verdict::Holds, "{}", row.reason);
    let Place::At(at, _) = needed(row).needed else {
        panic!("{:?}", needed(row).needed)
    };
    // Area 81 mm2 is left by a hole of sqrt(4 19 / pi) mm = 4.918 mm; its polygon has corners.
    assert!((at - 4.918).abs() < 0.03, "{at}");
    assert_eq!(needed(row).drawn, Some(2.0));
}

/// Names that stand for placeholders, and the drawn values at every kind of path, of a panel with one of
/// everything.
#[test]
fn rules_see_slots_shields_hatches_traces_and_layers() {
    let text = include_str!("../../../../tests/panels/everything.toml");
    let document = Document::from_text("everything.toml", text).unwrap();
    let panel = document.panel(&[]).unwrap_or_else(|e| panic!("{e}"));
    let subject = &subject::subjects(&panel, "adult", &[])[0];
    for (path, drawn) in [
        ("pads.{pads}.hole", 3.0),
        ("pads.{pads}.size", 12.0),
        ("pads.{pads}.gap", 8.0),
        ("slot.{slot}.depth", 0.8),
        ("slot.{slot}.width", 1.5),
        ("shield.{shield}.line", 0.3),
        ("shield.{shield}.gain", 0.9),
        ("ground.{ground}.pitch", 1.5),
        ("trace.{trace}.keepout", 1.2),
        ("layer.bond.thickness", 0.1),
        ("layer.{overlay}.permittivity", 2.8),
        ("circuit.gate", 8.0),
    ] {
        let path = subject.fill(path);
        let value = drawn::drawn_value(&document, &panel, &path);
        assert!(
            value.is_some_and(|value| (value - drawn).abs() < 1e-9),
            "{path}: {value:?}"
        );
    }
    assert_eq!(subject.trace, "a", "the trace of a pad, not a foreign line");
    let bare = Document::from_text("keys.toml", PANEL)
        .unwrap()
        .panel(&[])
        .unwrap();
    let subject = &subject::subjects(&bare, "adult", &[])[0];
    assert_eq!(subject.fill("slot.{slot}.depth"), "slot.NAME.depth");
}
