//! Effects, power laws, estimates and threshold shares.

use super::*;
use padfield_chart::Chart;

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
         {{ path = \"guard.{{guard}}.width\", value = \"0 mm\" }},\n\
         {{ path = \"guard.{{guard}}.state\", value = \"grounded\" }}]\n\
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
    let with_guard = format!(
        "{PANEL}\n[guard.mine]\nbetween = \"keys\"\nwidth = \"2 mm\"\nstate = \"grounded\"\n"
    );
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

/// Layers named "air" count double in the closed form: 3 mm of cover become 3 mm + 2 gap.
#[test]
fn air_is_judged_at_the_panel_s_own_gap_at_its_largest() {
    let rule = "[rule.air]\nsays = \"no air\"\nkind = \"effect\"\nair_gap = \"0.1 mm\"\n\
                expect = [{ quantity = \"touch shift\", falls_at_least = \"10 %\", \
                otherwise = \"more careful than needed\" }]\n";
    let with_layer = |layer: &str| {
        let front = "[[layer]]\nname = \"front\"";
        PANEL.replace(front, &format!("[[layer]]\n{layer}\n{front}"))
    };
    let gap = |thickness: &str| {
        with_layer(&format!(
            "name = \"air\"\nmaterial = \"air\"\nthickness = \"{thickness}\""
        ))
    };
    for (panel, largest_mm, verdict, told) in [
        (
            gap("0.3 mm +0.3 -0.29 mm"),
            0.6,
            Verdict::Holds,
            "air of the panel itself, layer \"air\" at its largest: 0.6 mm: touch shift ",
        ),
        // None is wanted, some may be there.
        (
            gap("0.01 mm +0.01 -0.005 mm"),
            0.02,
            Verdict::MoreCareful,
            "air of the panel itself, layer \"air\" at its largest: 0.02 mm: ",
        ),
        (
            gap("0.5 mm"),
            0.5,
            Verdict::Holds,
            "air of the panel itself, layer \"air\": 0.5 mm: ",
        ),
    ] {
        let judgement = judged_of(&panel, rule, &closed_form);
        let row = &judgement.rows[0];
        assert_eq!(row.verdict, verdict, "{}", row.reason);
        assert!(row.reason.starts_with(told), "{}", row.reason);
        let exact = 100.0 * (3.0 / (3.0 + 2.0 * largest_mm) - 1.0);
        let change = effects(row)[0].change.value;
        assert!((change - exact).abs() < 1e-9, "{change} {exact}");
    }
    // Air that is behind the pads, or of no thickness, is none: what is assumed is said.
    let behind = PANEL.replace(
        "[board]",
        "[[layer]]\nname = \"space\"\nmaterial = \"air\"\nthickness = \"10 mm\"\n[board]",
    );
    let engine = |panel: &Panel, touch: Touch<'_>| {
        let mut renamed = panel.clone();
        for layer in &mut renamed.layers {
            if layer.name == "air of the rule" {
                layer.name = "air".to_owned();
            }
        }
        closed_form(&renamed, touch)
    };
    for panel in [PANEL.to_owned(), behind, gap("0 mm")] {
        let judgement = judged_of(&panel, rule, &engine);
        let row = &judgement.rows[0];
        let told =
            "no air in this panel file: 0.1 mm behind layer \"cover\" is assumed: touch shift ";
        assert!(row.reason.starts_with(told), "{}", row.reason);
        let change = effects(row)[0].change.value;
        assert!((change - 100.0 * (3.0 / 3.2 - 1.0)).abs() < 1e-9);
    }
    // Voids go and come back; the engine sees them in the permittivity of the bond: 3 with 20 % is 2.6.
    let bond =
        with_layer("name = \"bond\"\npermittivity = 3\nthickness = \"0.2 mm\"\nvoids = \"20 %\"");
    let seen = RefCell::new(Vec::new());
    let engine = |panel: &Panel, touch: Touch<'_>| {
        if let LayerContent::Dielectric { permittivity, .. } = &panel.layers[1].content {
            seen.borrow_mut().push(permittivity.nominal.relative());
        }
        closed_form(panel, touch)
    };
    let judgement = judged_of(&bond, rule, &engine);
    let told = "air of the panel itself, 20 % voids in layer \"bond\": ";
    assert!(
        judgement.rows[0].reason.starts_with(told),
        "{}",
        judgement.rows[0].reason
    );
    let seen = seen.into_inner();
    assert_eq!(seen.first(), Some(&3.0));
    assert!(
        (seen.last().expect("solved") - 2.6).abs() < 1e-12,
        "{seen:?}"
    );
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
