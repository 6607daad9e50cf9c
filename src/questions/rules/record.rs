//! Judged rules for machines, every digit kept.

use super::{
    Detail, EffectDetail, EstimateDetail, Judgement, NeededDetail, Place, PowerDetail, Row,
    RowTouch, ThresholdShares,
};
use crate::accuracy::AccuracyRecord;
use crate::record::{Uncertain, all, record};
use schemars::JsonSchema;
use serde::Serialize;
use std::path::PathBuf;

/// What rules go by, as far as it goes with their kind.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum NumbersRecord {
    /// A value that makes a condition hold.
    Needed(NeededRecord),
    /// What changes did, one by one.
    Effects(Vec<EffectRecord>),
    /// An exponent.
    Power(PowerRecord),
    /// A hand estimate.
    Estimate(EstimateRecord),
    /// A threshold as a share of a touch.
    Threshold(ThresholdRecord),
}

impl NumbersRecord {
    /// From what was found; none where there are no numbers.
    fn of(detail: &Detail) -> Option<Self> {
        Some(match detail {
            Detail::None => return None,
            Detail::Needed(detail) => Self::Needed(NeededRecord::of(detail)),
            Detail::Effects(details) => Self::Effects(all(details, EffectRecord::of)),
            Detail::Power(detail) => Self::Power(PowerRecord::of(detail)),
            Detail::Estimate(detail) => Self::Estimate(EstimateRecord::of(detail)),
            Detail::Threshold { shares, found } => {
                Self::Threshold(ThresholdRecord::of(*shares, found))
            }
        })
    }
}

/// The value that a panel needs.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum PlaceRecord {
    /// It was found.
    At {
        /// Here.
        at: f64,
        /// From where to where it may be by the error bars.
        interval: [f64; 2],
    },
    /// Less (or more) would do.
    BeyondEnd {
        /// The condition holds up to this end of the range, where the search ends.
        holds_up_to_the_end_of_the_range: f64,
    },
    /// Nothing would do.
    NowhereTo {
        /// The condition holds nowhere up to this end of the range.
        holds_nowhere_up_to: f64,
    },
}

impl PlaceRecord {
    /// From what was found; none when the error bars do not let it be told.
    fn of(place: Place) -> Option<Self> {
        match place {
            Place::At(at, interval) => Some(Self::At { at, interval }),
            Place::BeyondEnd(at) => Some(Self::BeyondEnd {
                holds_up_to_the_end_of_the_range: at,
            }),
            Place::NowhereTo(at) => Some(Self::NowhereTo {
                holds_nowhere_up_to: at,
            }),
            Place::Unclear => None,
        }
    }
}

record! {
    /// Rules of thumb held against a panel.
    pub struct RulesRecord(judgement: &Judgement, accuracy: f64, charts: &[PathBuf], not_drawn: &[String]) {
        /// Title of the panel.
        title: String = judgement.title.clone(),
        /// Finger that touches.
        finger: String = judgement.finger.clone(),
        /// Rule by rule.
        rules: Vec<RuleRecord> = all(&judgement.rows, RuleRecord::of),
        /// What is assumed.
        assumptions: Vec<String> = judgement.assumptions.clone(),
        /// How exact it is.
        accuracy: AccuracyRecord =
            AccuracyRecord::of(accuracy, judgement.accuracy_reached, &judgement.missed),
        /// Field problems that were solved.
        field_problems: usize = judgement.field_problems,
        /// Field problems that were solved for thresholds.
        threshold_field_problems: usize = judgement.threshold_problems,
        /// Field problems that another rule had solved already.
        known_from_another_rule: usize = judgement.shared,
        /// Wall-clock time, s.
        seconds: f64 = judgement.seconds,
        /// Whether every rule was judged; otherwise it was interrupted.
        complete: bool = !judgement.stopped,
        /// Charts that were written.
        charts: Vec<PathBuf> = charts.to_vec(),
        /// Charts that could not be drawn, and why.
        not_drawn: Vec<String> = not_drawn.to_vec(),
    }

    /// A rule.
    pub struct RuleRecord(row: &Row) {
        /// Its name.
        rule: String = row.rule.clone(),
        /// The rule in words.
        says: String = row.says.clone(),
        /// Where it comes from.
        source: String = row.source.clone(),
        /// Why its condition is what it is; empty for none.
        because: String = row.because.clone(),
        /// The pad group, when the panel has several.
        pads: Option<String> = row.group.clone(),
        /// Where the finger was; null without one.
        touch: Option<TouchRecord> = row.touch.as_ref().map(TouchRecord::of),
        /// The verdict.
        verdict: &'static str = row.verdict.words(),
        /// The reason in one line.
        reason: String = row.reason.clone(),
        /// The numbers it goes by; null where there are none.
        numbers: Option<NumbersRecord> = NumbersRecord::of(&row.detail),
    }

    /// Where the finger was.
    pub struct TouchRecord(touch: &RowTouch) {
        /// The touched pad.
        pad: String = touch.pad.clone(),
        /// The pad towards which it was off the centre; null when it was not.
        off_towards: Option<String> = touch.off_towards.as_ref().map(|(pad, _)| pad.clone()),
        /// By how much, mm.
        off_mm: Option<f64> = touch.off_towards.as_ref().map(|(_, mm)| *mm),
    }

    /// A value that makes a condition hold.
    pub struct NeededRecord(detail: &NeededDetail) {
        /// Dotted path of the value.
        path: String = detail.path.clone(),
        /// Its unit; empty for a plain number.
        unit: String = detail.unit.clone(),
        /// At least or at most.
        side: &'static str = detail.side.words(),
        /// The rule's value.
        rule: f64 = detail.rule,
        /// The same as it was written, or how it was found.
        rule_as_written: String = detail.rule_text.clone(),
        /// What the panel has; null where it cannot be read.
        drawn: Option<f64> = detail.drawn,
        /// What the panel needs; null when the error bars do not let it be told.
        needed: Option<PlaceRecord> = PlaceRecord::of(detail.needed),
        /// What shall hold.
        condition: ConditionRecord = ConditionRecord::of(detail),
        /// The quantity at the rule's value.
        at_rule: Uncertain = detail.at_rule,
        /// Solved places, ascending.
        points: Vec<PointRecord> = all(&detail.samples, PointRecord::of),
    }

    /// What shall hold.
    pub struct ConditionRecord(detail: &NeededDetail) {
        /// Of which quantity.
        quantity: &'static str = detail.condition.quantity.kind.words(),
        /// How it is compared.
        relation: &'static str = detail.condition.relation.words(),
        /// With what.
        value: f64 = detail.condition.value,
        /// Unit of the quantity.
        unit: &'static str = detail.sample_unit(),
        /// Whether the quantity is in percent of a reference.
        is_share_of_reference: bool = detail.reference.is_some(),
    }

    /// The quantity at one place.
    pub struct PointRecord(point: &(f64, Uncertain)) {
        /// The place, in the unit of the value.
        at: f64 = point.0,
        /// The quantity.
        #[serde(flatten)]
        sample: Uncertain = point.1,
    }

    /// What a change did.
    pub struct EffectRecord(detail: &EffectDetail) {
        /// Which quantity.
        quantity: &'static str = detail.expectation.quantity.words(),
        /// The other outline; null when no shape changes.
        outline: Option<&'static str> = detail.form.map(|form| form.words()),
        /// What was expected.
        expected: String =
            format!("{} {} %", detail.expectation.change.words(), detail.expectation.percent),
        /// Value before.
        before: Uncertain = detail.before,
        /// Value after.
        after: Uncertain = detail.after,
        /// After over before minus one, %.
        change_percent: Uncertain = detail.change,
        /// Whether the expectation is met; null when the error bar holds its limit.
        met: Option<bool> = detail.is_met,
    }

    /// The exponent of a power law.
    pub struct PowerRecord(detail: &PowerDetail) {
        /// Which quantity.
        quantity: &'static str = detail.quantity.words(),
        /// What is raised to the power.
        against: String = detail.against[0].clone(),
        /// Its unit.
        unit: String = detail.against[1].clone(),
        /// Smaller, drawn, larger.
        samples: Vec<SampleRecord> = all(&detail.samples, SampleRecord::of),
        /// The exponent the rule says.
        rule: f64 = detail.rule[0],
        /// How far it may be off.
        rule_within: f64 = detail.rule[1],
        /// The computed exponent.
        exponent: Uncertain = detail.exponent,
    }

    /// One place of a power law.
    pub struct SampleRecord(sample: &(f64, Uncertain)) {
        /// Base of the power.
        at: f64 = sample.0,
        /// The quantity.
        value: Uncertain = sample.1,
    }

    /// A hand estimate beside the computed value.
    pub struct EstimateRecord(detail: &EstimateDetail) {
        /// Name of the formula.
        estimate: String = detail.name.clone(),
        /// What it stands for.
        quantity: &'static str = detail.quantity.words(),
        /// The estimate, pF.
        estimate_pf: f64 = detail.estimate_pf,
        /// The computed value, pF.
        computed_pf: Uncertain = detail.computed_pf,
        /// Estimate over computed value.
        ratio: Uncertain = detail.ratio,
        /// How far from one it may be, %.
        within_percent: f64 = detail.within_percent,
    }

    /// A threshold as a share of a touch.
    pub struct ThresholdRecord(shares: [f64; 2], found: &ThresholdShares) {
        /// The rule's shares, %.
        rule_percent: [f64; 2] = shares,
        /// Shares of this panel that work, %.
        working_percent: [f64; 2] = found.working,
        /// The share that is recommended for it, %; null when there is none.
        recommended_percent: Option<f64> = found.recommended,
    }
}
