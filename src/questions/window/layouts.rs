//! Other ways to lay a trace, and the window with each.

use super::compared::{Compared, with};
use super::{LeverSearch, window_of};
use crate::input::{Candidate, Document};
use crate::panel::Panel;
use crate::sensitivity::PanelFamily;
use crate::touch::{Tally, TouchError, WorkLimits};
use padfield_engine::field::{FieldError, Settings};
use rayon::prelude::*;

/// Another way to lay a trace, with its window.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// What is done, for people.
    pub words: String,
    /// Window ratio with it: of every event where it was solved as a whole, else of the pair that binds now.
    pub ratio: f64,
    /// Whether every event was solved again.
    pub is_whole: bool,
}

/// Solves the binding pair with every other way to lay a trace, and the whole window with the best of them.
pub(super) fn layouts(
    document: &Document,
    panel: &Panel,
    pair: &Compared<'_>,
    search: &mut LeverSearch,
    limits: &WorkLimits<'_>,
) -> Result<(), TouchError> {
    let candidates = document.trace_candidates(panel);
    let tally = Tally::new(
        candidates.len(),
        "ways to lay a trace solved",
        limits.progress,
    );
    let tell = |text: &str| tally.tell(text);
    let limits = &limits.heard_by(&tell);
    let solve = |candidate: &Candidate, limits: &WorkLimits<'_>| {
        let Some(changed) = with(document, &candidate.overrides) else {
            return Ok(None);
        };
        (limits.progress)(&format!("what it does: {}", candidate.words));
        let shown = pair.solve(&changed.panel, limits)?;
        tally.add();
        let layout = Layout {
            words: candidate.words.clone(),
            ratio: pair.ratio(&changed, &shown),
            is_whole: false,
        };
        Ok(layout.ratio.is_finite().then_some((layout, changed)))
    };
    // Side by side in shares of the memory; what finds no room there has all of it.
    let share = limits.under(Settings {
        memory_cap_bytes: limits.settings.memory_cap_bytes / rayon::current_num_threads() as u64,
        ..limits.settings.clone()
    });
    let shared: Vec<_> = candidates
        .par_iter()
        .map(|candidate| solve(candidate, &share))
        .collect();
    let mut found: Vec<(Layout, PanelFamily)> = Vec::new();
    for (candidate, solved) in candidates.iter().zip(shared) {
        found.extend(match solved {
            Err(TouchError::Field(FieldError::TooLarge { .. } | FieldError::NoMemory { .. })) => {
                solve(candidate, limits)?
            }
            solved => solved?,
        });
    }
    search.field_problems += found.len() * pair.touches();
    found.sort_by(|a, b| b.0.ratio.total_cmp(&a.0.ratio));
    if let Some((best, changed)) = found.first_mut()
        && best.ratio > search.ratio
    {
        let solved = window_of(changed, limits)?;
        search.field_problems += solved.field_problems;
        best.ratio = solved.binding().ratio;
        best.is_whole = true;
    }
    search.layouts = found.into_iter().map(|(layout, _)| layout).collect();
    Ok(())
}
