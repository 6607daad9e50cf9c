//! The comparison for machines: unrounded, units beside the numbers.

use super::{Comparison, Difference, PadComparison, VariantComparison, Verdict};
use crate::record::{Uncertain, all, record};
use crate::response::{ResponseRecord, WholeResponseRecord};

record! {
    /// The panel as written beside its variants. Numbers are in the unit beside them, relative changes plain
    /// fractions.
    pub struct ComparisonRecord(comparison: &Comparison) {
        /// The answer for the panel as written.
        #[serde(flatten)]
        as_written: ResponseRecord = ResponseRecord::of(
            &comparison.as_written,
            Some((comparison.accuracy_asked, comparison.accuracy_reached())),
        ),
        /// Variant by variant.
        against: Vec<VariantRecord> = all(&comparison.variants, VariantRecord::of),
    }

    /// A variant beside the panel as written.
    pub struct VariantRecord(variant: &VariantComparison) {
        /// What is changed.
        changes: Vec<String> = variant.changes.clone(),
        /// Pads that are touched on both sides.
        pads: Vec<PadRecord> = all(&variant.pads, PadRecord::of),
        /// Touched pads of the panel as written that the variant does not have.
        only_as_written: Vec<String> = variant.only_as_written.clone(),
        /// Touched pads of the variant that the panel as written does not have.
        only_in_variant: Vec<String> = variant.only_in_variant.clone(),
        /// The whole answer for the variant.
        response: WholeResponseRecord = WholeResponseRecord::of(&variant.response),
    }

    /// A touched pad of the panel as written beside the pad of the same name of a variant.
    pub struct PadRecord(pad: &PadComparison) {
        /// Its name.
        pad: String = pad.pad.clone(),
        /// Quantity by quantity, those that both sides have.
        differences: Vec<DifferenceRecord> = all(&pad.differences, DifferenceRecord::of),
        /// The pad with the largest shift of the panel as written; null when it is touched alone.
        worst_neighbour_as_written: Option<String> = pad.worst_neighbours[0].clone(),
        /// The same of the variant.
        worst_neighbour_in_variant: Option<String> = pad.worst_neighbours[1].clone(),
        /// The pad whose mirror image the touch is on both sides.
        mirrored_from: Option<String> = pad.mirrored_from.clone(),
        /// Whether the firmware keeps its constants; null when the variant is no other board, or there are
        /// no counts.
        constants: Option<&'static str> = pad.verdict.map(Verdict::words),
    }

    /// One quantity of a pad on both sides.
    pub struct DifferenceRecord(difference: &Difference) {
        /// Which quantity.
        quantity: &'static str = difference.quantity.words(),
        /// Unit of its numbers.
        unit: &'static str = difference.quantity.unit(),
        /// Of the panel as written.
        as_written: Uncertain = difference.as_written,
        /// Of the variant.
        variant: Uncertain = difference.variant,
        /// Variant minus as written; both errors count in full.
        change: Uncertain = difference.change(),
        /// Variant over as written minus one; null when the value as written cannot be told from zero.
        relative_change: Option<Uncertain> = difference.relative(),
        /// Whether the change is larger than its numerical error.
        told_apart: bool = difference.is_told_apart(),
    }
}
