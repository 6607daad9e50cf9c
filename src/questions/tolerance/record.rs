//! A spread for machines.

use super::{
    MonteCarlo, Output, Row, Share, Spread, Summary, SurrogateQuality, Total, Watched, Way,
};
use crate::accuracy::MissedRecord;
use crate::record::{all, finite, record};
use crate::sensitivity::Parameter;
use crate::spread::{Distribution, Shape};

/// One thing per output.
#[derive(Clone, Debug, serde::Serialize, schemars::JsonSchema)]
pub struct ByOutput<T> {
    /// Base capacitance at the pin, pF.
    base_capacitance_pf: T,
    /// Touch shift, pF.
    touch_shift_pf: T,
    /// Neighbour shift, pF.
    neighbour_shift_pf: T,
    /// Counts of the weakest true touch.
    weakest_true_touch_counts: T,
    /// Counts of the strongest false event.
    strongest_false_event_counts: T,
    /// Window ratio.
    window_ratio: T,
}

fn by_output<T>(value: impl Fn(usize) -> T) -> ByOutput<T> {
    let of = |output: Output| value(output as usize);
    ByOutput {
        base_capacitance_pf: of(Output::Base),
        touch_shift_pf: of(Output::TouchShift),
        neighbour_shift_pf: of(Output::NeighbourShift),
        weakest_true_touch_counts: of(Output::TrueCounts),
        strongest_false_event_counts: of(Output::FalseCounts),
        window_ratio: of(Output::Ratio),
    }
}

record! {
    /// What tolerances do to a pad: which hurts most, and what yield one threshold gives.
    pub struct ToleranceRecord(spread: &Spread) {
        /// Name of the pad.
        pad: String = spread.pad.clone(),
        /// The events that are watched.
        events: Vec<WatchedRecord> = all(&spread.watch.events, WatchedRecord::of),
        /// At nominal values.
        nominal: ByOutput<Option<f64>> = by_output(|o| finite(spread.totals[o].nominal)),
        /// Every parameter, that with the largest effect on the window ratio first.
        parameters: Vec<ParameterRecord> = {
            let rows = spread.rows.iter();
            rows.map(|row| ParameterRecord::of(&spread.parameters[row.parameter], row)).collect()
        },
        /// What all tolerances do together, to first order.
        totals: ByOutput<TotalRecord> = by_output(|o| TotalRecord::of(&spread.totals[o])),
        /// One threshold for all units, counts.
        threshold_counts: f64 = spread.threshold,
        /// Where it comes from.
        threshold_origin: &'static str = spread.threshold_origin.words(),
        /// The window of the pad.
        window: WindowRecord = WindowRecord::of(spread),
        /// Window ratio asked for.
        wanted_ratio: f64 = spread.wanted_ratio,
        /// Units drawn at random; null when none were asked for or nothing spreads.
        units: Option<UnitsRecord> = spread.units.as_ref().map(UnitsRecord::of),
        /// How good the fit is that they stand on; null without units.
        surrogate: Option<SurrogateRecord> = spread.surrogate.as_ref().map(SurrogateRecord::of),
        /// What it took and how exact it is.
        solver: SolverRecord = SolverRecord::of(spread),
    }

    /// A watched event.
    pub struct WatchedRecord(watched: &Watched) {
        /// What happens, for people.
        words: String = watched.event.words(),
        /// What the pad should make of it.
        group: &'static str = watched.event.group.words(),
        /// At nominal values, counts.
        mean_counts: f64 = watched.event.mean,
    }

    /// What one value of the panel does.
    pub struct ParameterRecord(parameter: &Parameter, row: &Row) {
        /// Its dotted path, or the name of the tolerance that moves several values.
        path: String = parameter.path.clone(),
        /// Its nominal value.
        value: f64 = parameter.value / parameter.unit_si,
        /// Its unit; empty for plain numbers.
        unit: String = parameter.unit.clone(),
        /// How it spreads; null without a tolerance.
        tolerance: Option<DistributionRecord> =
            parameter.spread.as_ref().map(|spread| DistributionRecord::of(spread, parameter.unit_si)),
        /// How its effect was found: `derivative`, `difference` or `circuit`.
        found_by: &'static str = match row.way {
            Way::Derivative => "derivative",
            Way::Difference => "difference",
            Way::Circuit => "circuit",
        },
        /// Relative change of every output over relative change of the value; null where one is zero.
        log_sensitivity: ByOutput<Option<f64>> = by_output(|o| finite(row.log_sensitivity[o])),
        /// Change of every output with the value at the lower and at the upper end of its tolerance.
        effects: ByOutput<[Option<f64>; 2]> = by_output(|o| row.effects[o].map(finite)),
    }

    /// How a value spreads, in its unit.
    pub struct DistributionRecord(spread: &Distribution, unit_si: f64) {
        /// Lower end.
        least: f64 = spread.least / unit_si,
        /// Upper end.
        most: f64 = spread.most / unit_si,
        /// `rectangular`, `triangular` or `normal`.
        shape: &'static str = match spread.shape {
            Shape::Rectangular => "rectangular",
            Shape::Triangular => "triangular",
            Shape::Normal { .. } => "normal",
        },
        /// Standard uncertainty.
        standard_uncertainty: f64 = spread.standard_uncertainty() / unit_si,
    }

    /// What all tolerances together do to one output.
    pub struct TotalRecord(total: &Total) {
        /// Expectation: asymmetric tolerances move it.
        mean: Option<f64> = finite(total.mean),
        /// Standard uncertainty, root sum square with correlations.
        standard_uncertainty: Option<f64> = finite(total.standard_uncertainty),
        /// Every value at the end that lowers or raises it.
        worst_case: [Option<f64>; 2] = total.worst.map(finite),
    }

    /// The window of the pad; null where a ratio is endless.
    pub struct WindowRecord(spread: &Spread) {
        /// Window ratio over everything that may be built and used.
        window_ratio: Option<f64> = finite(spread.window_ratio),
        /// Window ratio of a unit that is built as drawn.
        nominal_window_ratio: Option<f64> = finite(spread.nominal_ratio),
    }

    /// Units drawn at random.
    pub struct UnitsRecord(units: &MonteCarlo) {
        /// How many.
        drawn: usize = units.outcomes.len(),
        /// What they show.
        summaries: ByOutput<SummaryRecord> = by_output(|o| SummaryRecord::of(&units.summaries[o])),
        /// Shares of them that pass.
        r#yield: YieldRecord = YieldRecord::of(units),
    }

    /// One output over the units.
    pub struct SummaryRecord(summary: &Summary) {
        /// Mean.
        mean: Option<f64> = finite(summary.mean[0]),
        /// Its standard error.
        mean_standard_error: Option<f64> = finite(summary.mean[1]),
        /// Standard deviation.
        standard_deviation: Option<f64> = finite(summary.deviation),
        /// 5th percentile.
        percentile_5: Option<f64> = finite(summary.percentiles[0]),
        /// Its 95 % confidence interval.
        percentile_5_confidence_interval: [Option<f64>; 2] =
            summary.low_percentile_confidence.map(finite),
        /// Median.
        median: Option<f64> = finite(summary.percentiles[1]),
        /// 95th percentile.
        percentile_95: Option<f64> = finite(summary.percentiles[2]),
    }

    /// Shares of the units.
    pub struct YieldRecord(units: &MonteCarlo) {
        /// Whose true events all lie above the one threshold and whose false ones all lie below.
        one_threshold: ShareRecord = ShareRecord::of(&units.fixed),
        /// That lose to a true event below the threshold.
        missed: ShareRecord = ShareRecord::of(&units.missed),
        /// That lose to a false event above it.
        triggered: ShareRecord = ShareRecord::of(&units.triggered),
        /// That have a threshold of their own: window ratio above 1.
        threshold_per_unit: ShareRecord = ShareRecord::of(&units.own),
        /// Whose window ratio is at least the wanted one.
        wanted_ratio: ShareRecord = ShareRecord::of(&units.comfortable),
    }

    /// A share of units.
    pub struct ShareRecord(share: &Share) {
        /// Units that pass.
        passed: usize = share.passed,
        /// Units drawn.
        of: usize = share.of,
        /// Ends of its 95 % confidence interval, 0 to 1.
        confidence_interval: [f64; 2] = share.interval,
    }

    /// Quality of the fit that the units stand on.
    pub struct SurrogateRecord(quality: &SurrogateQuality) {
        /// Field problems it stands on, all places together.
        field_problems: usize = quality.solves,
        /// Field problems it was tested at and that it does not know.
        held_out: usize = quality.held_out,
        /// Root mean square of its error there over the standard deviation of the output, the worst of all.
        error_over_spread: f64 = quality.share_of_spread,
        /// Largest relative error of a base or shift there.
        largest_relative_error: f64 = quality.largest_error,
        /// Parameters with squares and products; the others are linear.
        parameters_with_squares: usize = quality.active,
        /// Whether the error is small beside the spread.
        is_good: bool = quality.is_good(),
    }

    /// What a spread took and how exact it is.
    pub struct SolverRecord(spread: &Spread) {
        /// Field problems that were solved.
        field_problems: usize = spread.field_problems,
        /// Cells of the largest grid.
        cells: usize = spread.cells,
        /// Relative accuracy asked for.
        accuracy_asked: f64 = spread.accuracy_asked,
        /// Whether every printed quantity has it.
        accuracy_reached: bool = spread.accuracy_reached,
        /// The printed quantities that have not.
        accuracy_missed: Vec<MissedRecord> = all(&spread.missed, MissedRecord::of),
    }
}
