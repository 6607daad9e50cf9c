//! What a change of the panel buys and costs: the panel as written beside variants of it.
//!
//! Takes a panel, variants of it and a finger; solves each for the same touches; gives a [`Comparison`]:
//! per variant and touched pad base, touch shift, neighbour and count shift of both, the change with
//! its numerical error, and whether the constants of the firmware stay; fails as
//! [`respond_over_tolerances`] does.
//!
//! - Pads are matched by name; those without a counterpart are named.
//! - The numerical errors of both sides count in full: they cancel in part, by how much is not known. So
//!   both are solved [`FINER`] times finer than asked, and the change of a base or touch shift has an
//!   error of about the asked accuracy.
//! - A change that is not larger than its error is no difference.
//! - Input tolerances are left out: they are those of one unit on both sides.

mod checks;
mod difference;
mod record;
mod report;
mod verdict;

pub use difference::{Compared, Difference, Figure};
pub use record::ComparisonRecord;
pub use report::report;
pub use verdict::{BASE_CHANGE_LIMIT, COUNT_CHANGE_LIMIT, VERDICT_SOURCE, Verdict};

use crate::panel::Panel;
use crate::response::{
    PadResponse, Request, Response, ResponseError, Touch, pads_so_far, point_values,
    respond_over_tolerances,
};
use crate::study::PadValues;
use verdict::{is_revision, verdict};

/// Values that are compared with one another are solved so much finer: both errors count.
pub const FINER: f64 = 2.0;

#[derive(Clone, Debug, PartialEq)]
pub struct Variant {
    /// What is changed, one entry per value: `guard.cross.width = 2 mm`.
    pub changes: Vec<String>,
    /// The panel with the changes.
    pub panel: Panel,
}

impl Variant {
    /// All changes in one line.
    pub fn words(&self) -> String {
        self.changes.join("; ")
    }
}

/// A touched pad of the panel as written beside the pad of the same name of a variant.
#[derive(Clone, Debug, PartialEq)]
pub struct PadComparison {
    pub pad: String,
    /// Quantity by quantity, those that both sides have.
    pub differences: Vec<Difference>,
    /// The pad with the largest shift on either side; that of the panel as written on both where the
    /// variant cannot tell it from its own.
    pub worst_neighbours: [Option<String>; 2],
    /// The pad whose mirror image the touch is on both sides.
    pub mirrored_from: Option<String>,
    /// Whether the firmware keeps its constants; none when the variant is no other board, or there are no
    /// counts.
    pub verdict: Option<Verdict>,
}

impl PadComparison {
    pub fn of(&self, quantity: Compared) -> Option<&Difference> {
        self.differences.iter().find(|one| one.quantity == quantity)
    }
}

/// A variant beside the panel as written.
#[derive(Clone, Debug, PartialEq)]
pub struct VariantComparison {
    pub changes: Vec<String>,
    /// Pads that are touched on both sides, in the order of the panel as written.
    pub pads: Vec<PadComparison>,
    /// Touched pads of the panel as written that the variant does not have.
    pub only_as_written: Vec<String>,
    /// Touched pads of the variant that the panel as written does not have.
    pub only_in_variant: Vec<String>,
    /// The whole answer for the variant.
    pub response: Response,
}

/// The panel as written beside its variants.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The whole answer for the panel as written.
    pub as_written: Response,
    /// Accuracy asked of the differences; the panels are solved [`FINER`] times finer.
    pub accuracy_asked: f64,
    pub variants: Vec<VariantComparison>,
}

impl Comparison {
    /// Whether every panel was solved to its accuracy.
    pub fn accuracy_reached(&self) -> bool {
        let variants = self.variants.iter().map(|variant| &variant.response);
        let mut all = variants.chain([&self.as_written]);
        all.all(|response| response.numerics.accuracy_reached)
    }
}

#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{}{source}", .variant.as_ref().map_or(String::new(), |words| format!("against {words}: ")))]
pub struct CompareError {
    /// The variant that has no answer, in words; none: the panel as written.
    pub variant: Option<String>,
    pub source: ResponseError,
}

/// Compares the panel of `request` with variants of it; finger, pad and settings are the same for all.
///
/// `progress` receives one line of text now and then; it may be called from several threads.
///
/// # Errors
/// The first panel without an answer.
pub fn compare(
    request: &Request,
    variants: &[Variant],
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Comparison, CompareError> {
    let accuracy_asked = request.settings.accuracy;
    let finer = finer(request);
    let as_written =
        respond_over_tolerances(&finer, &finer.limits(progress)).map_err(|source| {
            CompareError {
                variant: None,
                source,
            }
        })?;
    let variants = variants
        .iter()
        .map(|variant| {
            let words = variant.words();
            let finer = Request {
                panel: &variant.panel,
                ..finer.clone()
            };
            let tell = |text: &str| progress(&format!("{words}: {text}"));
            let response = respond_over_tolerances(&finer, &finer.limits(&tell));
            match response {
                Ok(response) => Ok(beside(request.panel, &as_written, variant, response)),
                Err(source) => Err(CompareError {
                    variant: Some(words),
                    source,
                }),
            }
        })
        .collect::<Result<_, _>>()?;
    Ok(Comparison {
        as_written,
        accuracy_asked,
        variants,
    })
}

/// The same with every value as good as asked, and grids that are better for the sake of the differences.
fn finer<'r>(request: &Request<'r>) -> Request<'r> {
    let mut finer = request.clone();
    finer.settings.accuracy = request.settings.accuracy / FINER;
    finer.settings.printed_accuracy = Some(request.settings.accuracy);
    finer
}

/// What an interrupted comparison knows of every side, in words.
///
/// # Errors
/// See [`ResponseError`].
pub fn so_far(request: &Request, variants: &[Variant]) -> Result<String, ResponseError> {
    let variants = variants.iter();
    let sides = variants.map(|variant| (variant.words(), &variant.panel));
    let sides = std::iter::once(("as written".to_owned(), request.panel)).chain(sides);
    let each = sides.map(|(words, panel)| {
        let side = Request {
            panel,
            ..finer(request)
        };
        Ok(format!(
            "{words}: {}",
            pads_so_far(&side, &side.limits(&|_| {}))?
        ))
    });
    Ok(each.collect::<Result<Vec<_>, ResponseError>>()?.join("\n"))
}

/// One variant beside the panel as written.
fn beside(
    panel: &Panel,
    as_written: &Response,
    variant: &Variant,
    response: Response,
) -> VariantComparison {
    let is_revision = is_revision(panel, &variant.panel);
    let sides = [as_written, &response].map(|side| (side, point_values(side).pads));
    let mut pads = Vec::new();
    let mut only_as_written = Vec::new();
    for (pad, touch) in touched(as_written) {
        let other = touched(&response).find(|(other, _)| other.name == pad.name);
        let Some((other, other_touch)) = other else {
            only_as_written.push(pad.name.clone());
            continue;
        };
        let both = [pad, other];
        let differences = differences(both, [&sides[0].1, &sides[1].1]);
        let mirrors = [touch, other_touch].map(|touch| touch.mirrored_from.clone());
        pads.push(PadComparison {
            pad: pad.name.clone(),
            verdict: verdict(&differences).filter(|_| is_revision),
            differences,
            worst_neighbours: worst_neighbours(touch, other_touch),
            mirrored_from: match mirrors {
                [Some(one), Some(other)] if one == other => Some(one),
                _ => None,
            },
        });
    }
    let is_known = |name: &String| touched(as_written).any(|(pad, _)| pad.name == *name);
    let only_in_variant = touched(&response)
        .map(|(pad, _)| pad.name.clone())
        .filter(|name| !is_known(name))
        .collect();
    VariantComparison {
        changes: variant.changes.clone(),
        pads,
        only_as_written,
        only_in_variant,
        response,
    }
}

fn touched(response: &Response) -> impl Iterator<Item = (&PadResponse, &Touch)> {
    let pads = response.pads.iter();
    pads.filter_map(|pad| Some((pad, pad.touch.as_ref()?)))
}

fn worst_neighbours(as_written: &Touch, variant: &Touch) -> [Option<String>; 2] {
    let before = as_written.worst_neighbour();
    let after = variant.worst_neighbour().map(|worst| {
        let same = variant.neighbours.iter().find(|neighbour| {
            let behind = worst.shift.value - neighbour.shift.value;
            before.is_some_and(|before| before.pad == neighbour.pad)
                && behind <= worst.shift.error + neighbour.shift.error
        });
        same.unwrap_or(worst)
    });
    [before, after].map(|worst| worst.map(|worst| worst.pad.clone()))
}

fn differences(pads: [&PadResponse; 2], values: [&[PadValues]; 2]) -> Vec<Difference> {
    let figures = |side: usize, quantity: Compared| {
        let pad = pads[side];
        let values = values[side].iter().find(|one| one.pad == pad.name)?;
        quantity.of(pad, values)
    };
    let both = |quantity: Compared| {
        Some(Difference {
            quantity,
            as_written: figures(0, quantity)?,
            variant: figures(1, quantity)?,
        })
    };
    Compared::ALL.into_iter().filter_map(both).collect()
}
