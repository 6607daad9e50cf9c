//! Power laws and hand estimates against computed values.

use super::bench::{Bench, Scene, Trouble};
use super::data::{PowerLaw, Rule, decided};
use super::drawn::{pad_area, unit_of};
use super::needed::{Judged, row_touch};
use super::read::twelve_digits;
use super::row::{Detail, EstimateDetail, PowerDetail, Verdict};
use super::subject::{Subject, ThresholdShares};
use super::words::{figure, number, said, with_unit};
use crate::figures::of_path;
use crate::input::Override;
use crate::panel::Panel;
use crate::questions::find::Sample;
use crate::study::{QuantityKind, Relation};

pub(super) fn power_law(
    bench: &mut Bench<'_>,
    subject: &Subject,
    rule: &Rule,
    law: &PowerLaw,
) -> Result<Judged, Trouble> {
    let scene = Scene::new(bench.asked, subject, rule)?;
    let panel = scene.panel(&scene.with_layers, &[])?;
    let mut paths = law.paths.iter().map(|path| subject.fill(path));
    let found = paths.find_map(|path| Some((scene.value(&panel, &path)?, path)));
    let Some((drawn, path)) = found else {
        return Ok(Judged::without_value(&subject.fill(&law.paths[0])));
    };
    let unit = unit_of(&path);
    let kind = law.quantity;
    let touched = bench.worst_touch(&panel, subject, rule.aim_error_m, kind)?;
    let base_of = |panel: &Panel, value: f64| match law.against_area {
        true => pad_area(panel, &subject.group).unwrap_or(f64::NAN),
        false => value,
    };
    let mut samples = Vec::new();
    for factor in [law.factors[0], 1.0, law.factors[1]] {
        let value = twelve_digits(factor * drawn);
        let text = with_unit(&value.to_string(), unit);
        let set = Override {
            path: path.clone(),
            value: text.clone(),
        };
        let varied = match scene.panel(&scene.with_layers, &[set]) {
            Ok(varied) => varied,
            Err(reason) => {
                return Ok(Judged::not_described(format!("{path} = {text}: {reason}")));
            }
        };
        let sample = bench.sample(&varied, &subject.finger, &touched, rule.aim_error_m, kind)?;
        samples.push((base_of(&varied, value), sample));
    }
    let samples: [(f64, Sample); 3] = [samples[0], samples[1], samples[2]];
    let Some(exponent) = exponent(samples[0], samples[2]) else {
        return Ok(Judged::not_described(format!(
            "the {} is not above zero here",
            kind.words()
        )));
    };
    let distance = (exponent.value - law.exponent).abs();
    let is_within = decided(Relation::AtMost, law.within, distance, exponent.error);
    let against = match law.against_area {
        true => ["pad area".to_owned(), "mm²".to_owned()],
        false => [path.clone(), unit.to_owned()],
    };
    Ok(Judged {
        verdict: of_decision(is_within),
        reason: format!(
            "the {} grows with the power {} of the {} ({} said), from {} to {} {}",
            kind.words(),
            figure(exponent),
            of_path(&against[0]),
            said(law.exponent, law.within),
            number(samples[0].0),
            number(samples[2].0),
            against[1]
        ),
        touch: Some(row_touch(&touched, rule.aim_error_m)),
        detail: Detail::Power(PowerDetail {
            quantity: kind,
            against,
            samples,
            rule: [law.exponent, law.within],
            exponent,
        }),
    })
}

/// d ln(quantity) / d ln(base) between two points; none unless all are above zero.
pub(super) fn exponent(low: (f64, Sample), high: (f64, Sample)) -> Option<Sample> {
    let ((base_low, low), (base_high, high)) = (low, high);
    let all = [base_low, base_high, low.value, high.value];
    if !all.into_iter().all(|value| value > 0.0) || base_low == base_high {
        return None;
    }
    let step = (base_high / base_low).ln();
    Some(Sample {
        value: (high.value / low.value).ln() / step,
        error: (low.error / low.value + high.error / high.value) / step.abs(),
    })
}

pub(super) fn estimate(
    bench: &mut Bench<'_>,
    subject: &Subject,
    rule: &Rule,
    name: &str,
    within_percent: f64,
) -> Result<Judged, Trouble> {
    let scene = Scene::new(bench.asked, subject, rule)?;
    let panel = scene.panel(&scene.with_layers, &[])?;
    let leading = QuantityKind::TouchShift;
    let touched = bench.worst_touch(&panel, subject, rule.aim_error_m, leading)?;
    let solved = bench.solve(
        &panel,
        &subject.finger,
        &touched,
        rule.aim_error_m,
        &[leading],
    )?;
    let pad = solved.values.pads.iter().find(|pad| pad.pad == touched.pad);
    let hand = pad.and_then(|pad| pad.hand_estimates.iter().find(|hand| hand.name == name));
    let Some(hand) = hand else {
        return Ok(Judged::not_described(format!(
            "the estimate \"{name}\" does not apply to this panel and finger"
        )));
    };
    let quantity = match hand.of_base {
        true => QuantityKind::BaseCapacitance,
        false => QuantityKind::TouchShift,
    };
    let computed = pad
        .and_then(|pad| pad.of(quantity))
        .ok_or_else(|| Trouble::None(format!("there is no {} in this model", quantity.words())))?;
    let computed = Sample {
        value: computed.value,
        error: computed.error,
    };
    let ratio = Sample {
        value: hand.value_pf / computed.value,
        error: hand.value_pf * computed.error / (computed.value * computed.value),
    };
    let distance = 100.0 * (ratio.value - 1.0).abs();
    let verdict = of_decision(decided(
        Relation::AtMost,
        within_percent,
        distance,
        100.0 * ratio.error,
    ));
    Ok(Judged {
        verdict,
        reason: format!(
            "estimate {} pF, computed {} pF: {} times the computed {} ({} said)",
            number(hand.value_pf),
            figure(computed),
            figure(ratio),
            quantity.words(),
            said(1.0, within_percent / 100.0)
        ),
        touch: Some(row_touch(&touched, rule.aim_error_m)),
        detail: Detail::Estimate(EstimateDetail {
            name: name.to_owned(),
            quantity,
            estimate_pf: hand.value_pf,
            computed_pf: computed,
            ratio,
            within_percent,
        }),
    })
}

/// The verdict on a rule that can only hold or fail.
pub(super) fn of_decision(decision: Option<bool>) -> Verdict {
    match decision {
        Some(true) => Verdict::Holds,
        Some(false) => Verdict::FailsHere,
        None => Verdict::CannotTell,
    }
}

/// Whether the thresholds a rule allows are among those that work.
pub(super) fn threshold_share(found: &Result<ThresholdShares, String>, shares: [f64; 2]) -> Judged {
    let found = match found {
        Ok(found) => found.clone(),
        Err(reason) => return Judged::not_described(reason.clone()),
    };
    let ([low, high], working) = (shares, found.working);
    let [from, to] = [low.max(working[0]), high.min(working[1])];
    let all = from <= low && high <= to;
    let which = if all {
        "all of them".to_owned()
    } else if from < to {
        format!("of them {} to {} %", share(from), share(to))
    } else {
        "none of them".to_owned()
    };
    Judged {
        verdict: of_decision(Some(all)),
        reason: if working[0] >= working[1] {
            "no threshold separates the touches of this panel: see padfield window".to_owned()
        } else {
            format!(
                "every user crosses and nothing false does from {} to {} % of a typical touch: {which}",
                share(working[0]),
                share(working[1])
            )
        },
        touch: None,
        detail: Detail::Threshold { shares, found },
    }
}

/// Whole percents are as fine as a threshold needs.
fn share(percent: f64) -> String {
    format!("{percent:.0}")
}
