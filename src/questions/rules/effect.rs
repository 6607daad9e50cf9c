//! What a change does: a ground trace, air, another outline of the same area.

use super::air::Air;
use super::bench::{Bench, Scene, Solved, Trouble};
use super::data::{Added, Change, Effect, Expectation, Form, Otherwise, Rule, decided};
use super::drawn::reshaped;
use super::needed::{Judged, row_touch};
use super::row::{Detail, EffectDetail, Verdict};
use super::subject::{Subject, Touched};
use super::words::{figure, number, signed_figure};
use crate::panel::Panel;
use crate::questions::find::Sample;
use crate::study::{Condition, Quantity, QuantityKind, Relation, Reported};
use std::rc::Rc;

pub(super) fn judge(
    bench: &mut Bench<'_>,
    subject: &Subject,
    rule: &Rule,
    effect: &Effect,
) -> Result<Judged, Trouble> {
    let scene = Scene::new(bench.asked, subject, rule)?;
    let plain = without_own_layers(&scene, subject, rule);
    let mut before_panel = plain.panel(&plain.document, &[])?;
    let air = match effect.air_gap {
        Some(assumed) => Some(Air::of(&plain, subject, &before_panel, assumed)?),
        None => None,
    };
    if let Some(air) = &air {
        before_panel = plain.panel(&plain.document, &air.without)?;
    }
    let leading = rule.leading_quantity();
    let touched = bench.worst_touch(&before_panel, subject, rule.aim_error_m, leading)?;
    let mut kinds: Vec<QuantityKind> = effect.expect.iter().map(|e| e.quantity).collect();
    kinds.extend(effect.not_needed_when.iter().map(|c| c.quantity.kind));
    let finger = &subject.finger;
    let before = bench.solve(&before_panel, finger, &touched, rule.aim_error_m, &kinds)?;
    let not_needed = match &effect.not_needed_when {
        Some(condition) => not_needed(&before, &touched, condition)?,
        None => None,
    };
    let mut trials = Trials {
        bench,
        subject,
        rule,
        touched: &touched,
        kinds: &kinds,
        before: &before,
        details: Vec::new(),
        left_out: Vec::new(),
    };
    if !effect.change.is_empty() {
        let set = subject.overrides(&effect.change);
        let panel = scene.panel(&scene.with_layers, &set)?;
        trials.add(&panel, None, &effect.expect)?;
    }
    if let Some(air) = &air {
        let panel = plain.panel(&air.document, &air.with)?;
        trials.add(&panel, None, &effect.expect)?;
    }
    for form in &effect.reshape {
        match reshaped(&before_panel, &subject.group, *form) {
            Ok(Some(panel)) => trials.add(&panel, Some(*form), &effect.expect)?,
            Ok(None) => {}
            Err(reason) => trials.left_out.push(reason),
        }
    }
    let Trials {
        details, left_out, ..
    } = trials;
    if details.is_empty() {
        return Ok(Judged::not_described(left_out.join("; ")));
    }
    let mut verdict = verdict(&details);
    let mut reason = reason(&details, &left_out);
    if let Some(air) = &air {
        reason = format!("{}: {reason}", air.words);
    }
    if let Some(why) = not_needed {
        verdict = Verdict::MoreCareful;
        reason = format!("{why}; with it: {reason}");
    } else if verdict == Verdict::CannotTell {
        reason += "; a smaller --accuracy may tell";
    }
    Ok(Judged {
        verdict,
        reason,
        touch: Some(row_touch(&touched, rule.aim_error_m)),
        detail: Detail::Effects(details),
    })
}

/// The scene without what it sets for layers of the rule: they come with the change.
fn without_own_layers(scene: &Scene, subject: &Subject, rule: &Rule) -> Scene {
    let mut plain = scene.clone();
    plain.overrides.retain(|set| {
        !rule.add.iter().any(|added| match added {
            Added::Layer { name, .. } => {
                let prefix = format!("layer.{}.", subject.fill(name));
                set.path.starts_with(&prefix)
            }
            Added::Guard(_) => false,
        })
    });
    plain
}

/// Why the change is not needed, where that is certain.
fn not_needed(
    before: &Solved,
    touched: &Touched,
    condition: &Condition,
) -> Result<Option<String>, Trouble> {
    let kind = condition.quantity.kind;
    let sample = value_of(before, touched, kind)?;
    let is_met = decided(
        condition.relation,
        condition.value,
        sample.value,
        sample.error,
    );
    Ok((is_met == Some(true)).then(|| {
        format!(
            "not needed: without it the {} is {} {} ({} {} {} suffices)",
            kind.words(),
            figure(sample),
            kind.unit(),
            condition.relation.words(),
            number(condition.value),
            kind.unit()
        )
    }))
}

/// Changes tried one after the other against one state before.
struct Trials<'t, 'a> {
    bench: &'t mut Bench<'a>,
    subject: &'t Subject,
    rule: &'t Rule,
    touched: &'t Touched,
    kinds: &'t [QuantityKind],
    before: &'t Rc<Solved>,
    details: Vec<EffectDetail>,
    /// What could not be tried, and why.
    left_out: Vec<String>,
}

impl Trials<'_, '_> {
    fn add(
        &mut self,
        panel: &Panel,
        form: Option<Form>,
        expectations: &[Expectation],
    ) -> Result<(), Trouble> {
        let aim_error_m = self.rule.aim_error_m;
        let finger = &self.subject.finger;
        let solved = self
            .bench
            .solve(panel, finger, self.touched, aim_error_m, self.kinds);
        let after = match solved {
            Ok(after) => after,
            Err(Trouble::None(reason)) => {
                self.left_out.push(reason);
                return Ok(());
            }
            Err(trouble) => return Err(trouble),
        };
        for expectation in expectations {
            let kind = expectation.quantity;
            let [before, after] = [
                value_of(self.before, self.touched, kind)?,
                value_of(&after, self.touched, kind)?,
            ];
            let change = relative_change(before, after);
            self.details.push(EffectDetail {
                form,
                expectation: *expectation,
                before,
                after,
                change,
                is_met: is_met(expectation, change),
            });
        }
        Ok(())
    }
}

fn value_of(solved: &Solved, touched: &Touched, kind: QuantityKind) -> Result<Sample, Trouble> {
    let quantity = Quantity {
        kind,
        pad: Some(touched.pad.clone()),
    };
    match solved.values.of(&quantity) {
        Some(Reported { value, error, .. }) => Ok(Sample { value, error }),
        None => Err(Trouble::None(format!(
            "there is no {quantity} in this model"
        ))),
    }
}

/// After over before minus one, in percent; both errors count in full.
pub(super) fn relative_change(before: Sample, after: Sample) -> Sample {
    let ratio = after.value / before.value;
    Sample {
        value: 100.0 * (ratio - 1.0),
        error: 100.0 * (after.error + ratio.abs() * before.error) / before.value.abs(),
    }
}

pub(super) fn is_met(expectation: &Expectation, change: Sample) -> Option<bool> {
    let Sample { value, error } = change;
    let percent = expectation.percent;
    match expectation.change {
        Change::FallsAtLeast => decided(Relation::AtMost, -percent, value, error),
        Change::FallsAtMost => decided(Relation::AtLeast, -percent, value, error),
        Change::RisesAtLeast => decided(Relation::AtLeast, percent, value, error),
        Change::RisesAtMost => decided(Relation::AtMost, percent, value, error),
        Change::ChangesAtMost => decided(Relation::AtMost, percent, value.abs(), error),
    }
}

pub(super) fn verdict(details: &[EffectDetail]) -> Verdict {
    let missed = |otherwise: Otherwise| {
        let mut all = details.iter();
        all.any(|d| d.is_met == Some(false) && d.expectation.otherwise == otherwise)
    };
    if missed(Otherwise::Fails) {
        Verdict::FailsHere
    } else if details.iter().any(|detail| detail.is_met.is_none()) {
        Verdict::CannotTell
    } else if missed(Otherwise::MoreCareful) {
        Verdict::MoreCareful
    } else {
        Verdict::Holds
    }
}

fn reason(details: &[EffectDetail], left_out: &[String]) -> String {
    let mut parts: Vec<String> = details
        .iter()
        .map(|detail| {
            let expectation = &detail.expectation;
            let form = match detail.form {
                Some(form) => format!("as {}s: ", form.words()),
                None => String::new(),
            };
            format!(
                "{form}{} {} % ({} {} %)",
                expectation.quantity.words(),
                signed_figure(detail.change),
                expectation.change.words(),
                number(expectation.percent)
            )
        })
        .collect();
    parts.extend(left_out.iter().map(|why| format!("not tried: {why}")));
    parts.join("; ")
}
