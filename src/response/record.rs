//! The response for machines: unrounded, units in the names; capacitances in pF, shares and ratios as plain
//! fractions.

use super::answer::{
    BaseCapacitance, BaseStep, Estimated, HandEstimate, Neighbour, Numerics, PadResponse,
    RelativeShift, Response, StrayPart, Subject, Touch,
};
use super::counts_record::{CountsRecord, PadCountsRecord};
use crate::accuracy::MissedRecord;
use crate::panel::{IdleState, Model, Origin};
use crate::record::{PicofaradBounds, Picofarads, Uncertain, all, record};

record! {
    /// What a finger does to the panel.
    pub struct ResponseRecord(response: &Response, differences: Option<(f64, bool)>) {
        /// Title of the panel.
        title: String = response.title.clone(),
        /// Finger that touches.
        finger: String = response.finger.clone(),
        /// `volume`, `axisymmetric` or `section`.
        model: &'static str = match response.model {
            Model::Volume => "volume",
            Model::Axisymmetric => "axisymmetric",
            Model::Section => "section",
        },
        /// What the pads are while another is measured: `grounded`, `floating` or `driven`.
        idle: &'static str = match response.idle {
            IdleState::Grounded => "grounded",
            IdleState::Floating => "floating",
            IdleState::Driven => "driven",
        },
        /// Every pad.
        pads: Vec<PadRecord> =
            response.pads.iter().map(|pad| PadRecord::of(response, pad)).collect(),
        /// What changes of the surroundings do to the bases.
        surroundings: Vec<StepRecord> = all(&response.steps, StepRecord::of),
        /// What belongs to the circuit and all pads.
        counts: CountsRecord = CountsRecord::of(&response.counts),
        /// What is assumed.
        assumptions: Vec<String> = response.assumptions.clone(),
        /// What the field problems took.
        solver: SolverRecord = SolverRecord::of(&response.numerics),
        /// How exact it is.
        accuracy: ReachedRecord = ReachedRecord::of(&response.numerics, differences),
    }

    /// A response inside of another answer.
    pub struct WholeResponseRecord(response: &Response) {
        /// What a finger does to the panel.
        #[serde(flatten)]
        response: ResponseRecord = ResponseRecord::of(response, None),
        /// What this panel is part of.
        cautions: Vec<String> = response.cautions.clone(),
    }

    /// A pad.
    pub struct PadRecord(response: &Response, pad: &PadResponse) {
        /// Its name.
        pad: String = pad.name.clone(),
        /// Field part of its capacitance, untouched; null when the model does not hold the pad.
        base: Option<BaseRecord> = pad.base.as_ref().map(BaseRecord::of),
        /// Stray capacitance of its pin.
        pin: StrayRecord = StrayRecord::of(&pad.pin),
        /// Stray capacitance of its trace.
        trace: StrayRecord = StrayRecord::of(&pad.trace),
        /// What the driver of every driven shield and guard has to charge while this pad is measured.
        driver_loads: Vec<LoadRecord> = all(&pad.driver_loads, LoadRecord::of),
        /// Base with pin and trace.
        base_at_pin: Option<PicofaradBounds> = pad.base_at_pin.as_ref().map(PicofaradBounds::of),
        /// What a touch does; null when it was not touched.
        touch: Option<TouchRecord> = pad.touch.as_ref().map(TouchRecord::of),
        /// The pad in counts; null without a circuit.
        counts: Option<PadCountsRecord> = response.counts.pad(&pad.name).map(PadCountsRecord::of),
    }

    /// Field part of a pad's capacitance.
    pub struct BaseRecord(base: &BaseCapacitance) {
        /// As computed.
        #[serde(flatten)]
        computed: Picofarads = Picofarads::of(base.computed.value.pf(), base.computed.error.pf()),
        /// Lower and upper bound, pF.
        bounds_pf: [f64; 2] = base.bounds.map(|end| end.pf()),
        /// Whether the bounds hold mathematically: not with round or slanted outlines.
        bounds_are_guaranteed: bool = base.bounds_are_guaranteed,
    }

    /// A stray capacitance that is entered.
    pub struct StrayRecord(part: &StrayPart) {
        /// Over its tolerance.
        #[serde(flatten)]
        value: PicofaradBounds = PicofaradBounds::of(&part.value),
        /// `given` in the panel file, or `default`.
        origin: &'static str = match part.origin {
            Origin::Given => "given",
            Origin::Default => "default",
        },
    }

    /// What loads a driver.
    pub struct LoadRecord(load: &(String, Estimated)) {
        /// The driver.
        name: String = load.0.clone(),
        /// The load.
        load: EstimatedRecord = EstimatedRecord::of(load.1),
    }

    /// A computed capacitance or change of one.
    pub struct EstimatedRecord(estimated: Estimated) {
        /// As computed.
        #[serde(flatten)]
        computed: Picofarads = Picofarads::of(estimated.value.pf(), estimated.error.pf()),
        /// Whether it cannot be told from zero.
        below_resolution: bool = estimated.is_below_resolution(),
    }

    /// What a change of the surroundings does to a pad that nobody touches.
    pub struct StepRecord(step: &BaseStep) {
        /// What changes.
        kind: &'static str = step.kind.words(),
        /// Its name.
        name: String = step.name.clone(),
        /// The pad.
        pad: String = step.pad.clone(),
        /// Base before.
        before: EstimatedRecord = EstimatedRecord::of(step.before),
        /// Change of the base.
        change: EstimatedRecord = EstimatedRecord::of(step.change),
    }

    /// A touch.
    pub struct TouchRecord(touch: &Touch) {
        /// Touch shift.
        shift: EstimatedRecord = EstimatedRecord::of(touch.shift),
        /// The same over the untouched base at the pin.
        relative: RelativeRecord = RelativeRecord::of(&touch.relative),
        /// What the other pads feel of it.
        neighbours: Vec<NeighbourRecord> = all(&touch.neighbours, NeighbourRecord::of),
        /// The one that feels most; null without another pad.
        worst_neighbour: Option<String> = touch.worst_neighbour().map(|worst| worst.pad.clone()),
        /// Hand formulas beside it.
        estimates: Vec<HandRecord> = all(&touch.estimates, HandRecord::of),
        /// The pad whose mirror image the touch is; null when it was solved itself.
        mirrored_from: Option<String> = touch.mirrored_from.clone(),
    }

    /// A shift over the untouched base at the pin.
    pub struct RelativeRecord(relative: &RelativeShift) {
        /// As computed.
        #[serde(flatten)]
        computed: Uncertain = Uncertain { value: relative.value, error: relative.error },
        /// Smallest and largest over the tolerances of pin and trace.
        stray_tolerance_range: [f64; 2] = relative.stray_tolerance_range,
    }

    /// Another pad under a touch.
    pub struct NeighbourRecord(neighbour: &Neighbour) {
        /// Its name.
        pad: String = neighbour.pad.clone(),
        /// Its shift.
        shift: EstimatedRecord = EstimatedRecord::of(neighbour.shift),
        /// Its shift over the touch shift.
        ratio: f64 = neighbour.ratio,
        /// Estimated numerical error of the ratio.
        ratio_estimated_error: f64 = neighbour.ratio_error,
        /// Smallest and largest ratio over the tolerances of pins and traces.
        ratio_tolerance_range: [f64; 2] = neighbour.ratio_range,
        /// Its shift over its own untouched base at the pin.
        relative: RelativeRecord = RelativeRecord::of(&neighbour.relative),
    }

    /// A hand formula.
    pub struct HandRecord(estimate: &HandEstimate) {
        /// Its name.
        name: &'static str = estimate.name,
        /// `base` or `touch shift`.
        of: &'static str = match estimate.subject {
            Subject::Base => "base",
            Subject::TouchShift => "touch shift",
        },
        /// What it gives, pF.
        value_pf: f64 = estimate.value.pf(),
        /// That over the computed value.
        ratio_to_computed: f64 = estimate.ratio,
        /// How it is known to err.
        known_bias: &'static str = estimate.known_bias,
    }

    /// What the field problems took.
    pub struct SolverRecord(numerics: &Numerics) {
        /// Field problems solved.
        solves: usize = numerics.solves,
        /// Cells of the largest grid, after symmetry.
        cells: usize = numerics.cells,
        /// Largest fineness used.
        fineness: f64 = numerics.fineness,
        /// Most iterations of any system.
        iterations: usize = numerics.iterations,
        /// Largest relative residual.
        residual: f64 = numerics.residual,
        /// Wall-clock time, s.
        seconds: f64 = numerics.seconds,
    }

    /// How exact the response is.
    pub struct ReachedRecord(numerics: &Numerics, differences: Option<(f64, bool)>) {
        /// Relative accuracy asked for.
        asked: f64 = numerics.accuracy_asked,
        /// Largest estimated relative error of what is printed.
        estimated: f64 = numerics.accuracy_estimated,
        /// Whether every printed quantity has it.
        reached: bool = numerics.accuracy_reached,
        /// The printed quantities that have not.
        missed: Vec<MissedRecord> = all(&numerics.missed, MissedRecord::of),
        /// Beside a variant: the accuracy asked of the differences; the panels are solved finer.
        #[serde(skip_serializing_if = "Option::is_none")]
        asked_of_differences: Option<f64> = differences.map(|(asked, _)| asked),
        /// Beside a variant: whether the panel and all variants reached theirs.
        #[serde(skip_serializing_if = "Option::is_none")]
        reached_by_all: Option<bool> = differences.map(|(_, by_all)| by_all),
    }
}
