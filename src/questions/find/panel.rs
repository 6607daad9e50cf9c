//! The question to a panel file: every place of the range is a panel that is solved.

use super::ask::{Ask, Place, Sample, Span};
use super::result::{Bound, Ending, Found};
use super::search::search;
use crate::input::{Document, Override};
use crate::panel::lowering::LoweringOptions;
use crate::response::{Request, ResponseError, point_values, respond};
use crate::study::{Condition, Reported, Spread, Values, Variable};
use padfield_engine::field::{FieldError, Printed, Settings, join_printed};
use rust_decimal::prelude::ToPrimitive;
use std::time::Instant;

#[derive(Clone, Debug)]
pub struct Question<'a> {
    pub document: &'a Document,
    /// Values set before the one that varies.
    pub overrides: &'a [Override],
    /// What varies, over a range.
    pub variable: &'a Variable,
    pub condition: &'a Condition,
    /// Finger by name; none: the first of the panel.
    pub finger: Option<&'a str>,
    pub settings: Settings,
}

/// Why a question makes no sense.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FindError {
    /// No range of numbers.
    #[error("\"{0}\" does not vary over a range of numbers")]
    NoRange(String),
    /// Nothing in the whole range can be solved.
    #[error("nothing can be solved in this range; at {at}: {reason}")]
    NothingSolved {
        /// The place of the reason, with its unit.
        at: String,
        reason: String,
        /// Whether the field engine did not converge somewhere.
        is_numerical: bool,
    },
}

/// What a search on a panel has found and what it took.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Crossings and solved places.
    pub found: Found,
    /// What the numbers hang on, one line each, at the place of [`Answer::assumed_at`].
    pub assumptions: Vec<String>,
    /// A solved place next to the first crossing, or the first one.
    pub assumed_at: f64,
    /// Places whose accuracy was not reached, ascending.
    pub short_of_accuracy: Vec<f64>,
    /// What missed it there, each quantity at its worst place.
    pub missed: Vec<Printed>,
    /// Solved field problems (each untouched and touched).
    pub field_problems: usize,
    /// Wall-clock time \[s\].
    pub seconds: f64,
}

impl Question<'_> {
    /// The range as numbers in the unit of the variable.
    ///
    /// # Errors
    /// Words, or a list.
    pub fn span(&self) -> Result<Span, FindError> {
        let none = || FindError::NoRange(self.variable.path.clone());
        let Values::Range { from, to, spread } = &self.variable.values else {
            return Err(none());
        };
        let (Some(from), Some(to)) = (from.to_f64(), to.to_f64()) else {
            return Err(none());
        };
        let logarithmic = matches!(
            spread,
            Spread::Logarithmic(_) | Spread::Anywhere { logarithmic: true }
        );
        Ok(Span {
            from,
            to,
            logarithmic,
        })
    }

    fn overrides_at(&self, place: f64) -> Vec<Override> {
        let mut all = self.overrides.to_vec();
        all.push(Override {
            path: self.variable.path.clone(),
            value: format!("{place} {}", self.variable.unit)
                .trim_end()
                .to_owned(),
        });
        all
    }

    /// Why there is no such quantity at a place.
    fn missing(&self) -> String {
        let quantity = &self.condition.quantity;
        let why = match quantity.kind.is_of_neighbour() {
            true => ": no touched pad has a neighbour in this model",
            false => ": the pad is not in the model",
        };
        format!("there is no {quantity}{why}")
    }
}

/// Searches the range of the question. `stop` is asked before every solve; `progress` hears what is
/// going on, `observe` of every solved place.
///
/// # Errors
/// See [`FindError`].
pub fn find(
    question: &Question<'_>,
    stop: &dyn Fn() -> bool,
    progress: &(dyn Fn(&str) + Sync),
    observe: &mut dyn FnMut(&Place),
) -> Result<Answer, FindError> {
    let start = Instant::now();
    let span = question.span()?;
    let mut solver = Solver {
        question,
        stop,
        progress,
        assumptions: Vec::new(),
        short_of_accuracy: Vec::new(),
        missed: Vec::new(),
        field_problems: 0,
        has_numerical_failure: false,
    };
    let condition = question.condition;
    let found = search(
        &span,
        condition.value,
        condition.relation,
        &mut solver,
        observe,
    );
    if found.ending != Ending::Stopped
        && found.solved().next().is_none()
        && let Some(place) = found.places.first()
        && let Err(reason) = &place.sample
    {
        return Err(FindError::NothingSolved {
            at: format!(
                "{} = {} {}",
                question.variable.path, place.at, question.variable.unit
            ),
            reason: reason.clone(),
            is_numerical: solver.has_numerical_failure,
        });
    }
    let wanted = match found.crossings.first() {
        Some(_) => found.place_of(Bound::Crossing(0)),
        None => span.from,
    };
    let distance = |place: f64| (place - wanted).abs();
    let nearest = solver
        .assumptions
        .into_iter()
        .min_by(|(a, _), (b, _)| distance(*a).total_cmp(&distance(*b)));
    let (assumed_at, assumptions) = nearest.unwrap_or_default();
    solver.short_of_accuracy.sort_by(f64::total_cmp);
    Ok(Answer {
        found,
        assumptions,
        assumed_at,
        short_of_accuracy: solver.short_of_accuracy,
        missed: solver.missed,
        field_problems: solver.field_problems,
        seconds: start.elapsed().as_secs_f64(),
    })
}

struct Solver<'s> {
    question: &'s Question<'s>,
    stop: &'s dyn Fn() -> bool,
    progress: &'s (dyn Fn(&str) + Sync),
    assumptions: Vec<(f64, Vec<String>)>,
    short_of_accuracy: Vec<f64>,
    missed: Vec<Printed>,
    field_problems: usize,
    has_numerical_failure: bool,
}

impl Ask for Solver<'_> {
    fn possible(&mut self, place: f64) -> Result<(), String> {
        let overrides = self.question.overrides_at(place);
        let panel = self.question.document.panel(&overrides);
        panel
            .map(|_| ())
            .map_err(|error| error.message().to_owned())
    }

    fn solve(&mut self, place: f64) -> Result<Sample, String> {
        let question = self.question;
        let overrides = question.overrides_at(place);
        let panel = question
            .document
            .panel(&overrides)
            .map_err(|error| error.message().to_owned())?;
        let quantity = &question.condition.quantity;
        let request = Request {
            panel: &panel,
            finger: question.finger,
            pad: quantity.pad.as_deref(),
            settings: question.settings.clone(),
            options: LoweringOptions::default(),
        };
        let at = format!(
            "{} = {place} {}",
            question.variable.path, question.variable.unit
        );
        (self.progress)(&at);
        let response = respond(&request, &|text| {
            (self.progress)(&format!("{at}: {text}"));
        })
        .map_err(|error| {
            self.has_numerical_failure |=
                matches!(error, ResponseError::Field(FieldError::NotConverged { .. }));
            let refused = error.field().filter(|field| field.has_no_room());
            let placed =
                refused.and_then(|_| question.document.without_room(&panel, &error.to_string()));
            placed.map_or_else(|| error.to_string(), |placed| placed.to_string())
        })?;
        self.field_problems += response.numerics.solves;
        let Reported { value, error, .. } = point_values(&response)
            .of(quantity)
            .ok_or_else(|| question.missing())?;
        if !response.numerics.accuracy_reached {
            self.short_of_accuracy.push(place);
            join_printed(&mut self.missed, response.numerics.missed);
        }
        self.assumptions.push((place, response.assumptions));
        Ok(Sample { value, error })
    }

    fn stopped(&self) -> bool {
        (self.stop)()
    }
}
