//! Rows of many points at once.

use super::super::solve::{Job, Means, Prepared, outcome};
use super::models::Models;
use super::survey::WITHOUT;
use crate::panel::Panel;
use crate::response::{Response, problems, respond_with};
use crate::store::{Outcome, PointKey};
use crate::study::Point;
use crate::touch::Progress;
use padfield_engine::case::Case;
use padfield_engine::field::reduced::Scratch;
use padfield_engine::field::{FieldAnswer, FieldError, Settings, judged};
use serde_json::json;
use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;

/// Points that are answered at once: matrix products of so many cost a third of what single ones do.
pub(in super::super) const AT_ONCE: usize = 128;

/// A point with what models say of it.
pub(in super::super) struct Reduced {
    pub point: Point,
    pub prepared: Prepared,
    /// None: it is to be solved.
    pub row: Option<(Outcome, Vec<String>)>,
}

/// What every reduced row hangs on.
const HANGS_ON: &str = "Rows marked \"reduced\": energies of a certified reduced model, on one grid that is stretched from point to point; their bars hold what that leaves.";

/// Answers points by models. The name of a row that models gave holds `stands_on`, what they stand on.
pub(in super::super) fn rows(
    job: &Job<'_>,
    models: &Models,
    scratches: &mut [Scratch],
    points: Vec<(Point, Prepared)>,
    means: Means,
    stands_on: &str,
) -> Vec<Reduced> {
    let mut answered = Answers::of(job, models, scratches, &points, means);
    let each = points.into_iter().enumerate();
    each.map(|(number, (point, mut prepared))| {
        let answers = std::mem::take(&mut answered.by_point[number]);
        let response = match &prepared.panel {
            // A fault of the program is met again, and told, where the point is solved.
            Ok(panel) => catch_unwind(AssertUnwindSafe(|| response(job, panel, answers, means)))
                .ok()
                .flatten(),
            Err(_) => None,
        };
        let row = response.map(|response| {
            let Outcome::Done {
                mut values,
                accuracy_reached,
                missed,
                iterations,
                cells,
            } = outcome(&response)
            else {
                unreachable!("a response has values");
            };
            values.is_reduced = true;
            prepared.inputs["reduced"] = json!(stands_on);
            prepared.key = PointKey::new(&prepared.inputs, job.study.accuracy);
            let mut assumptions = response.assumptions;
            assumptions.push(HANGS_ON.to_owned());
            let outcome = Outcome::Done {
                values,
                accuracy_reached,
                missed,
                iterations,
                cells,
            };
            (outcome, assumptions)
        });
        Reduced {
            point,
            prepared,
            row,
        }
    })
    .collect()
}

/// Answers of all field problems of some points, by the touch.
struct Answers {
    by_point: Vec<HashMap<String, FieldAnswer>>,
}

impl Answers {
    fn of(
        job: &Job<'_>,
        models: &Models,
        scratches: &mut [Scratch],
        points: &[(Point, Prepared)],
        means: Means,
    ) -> Self {
        let mut by_point: Vec<HashMap<String, FieldAnswer>> =
            points.iter().map(|_| HashMap::new()).collect();
        // Cases of every model, with the point of each.
        let mut asked: Vec<Vec<(usize, Case, Settings)>> =
            models.all.iter().map(|_| Vec::new()).collect();
        for (number, (_, prepared)) in points.iter().enumerate() {
            let Ok(panel) = &prepared.panel else { continue };
            let Ok(problems) = problems(&job.request(panel, means)) else {
                continue;
            };
            for (case, settings) in problems {
                let covers = |at: &usize| {
                    models.touches[*at] == case.id
                        && models.all[*at].chamber().covers(&case).is_ok()
                };
                if let Some(model) = (0..models.all.len()).find(covers) {
                    asked[model].push((number, case, settings));
                }
            }
        }
        for ((model, scratch), asked) in models.all.iter().zip(scratches).zip(asked) {
            let Some((_, _, settings)) = asked.first() else {
                continue;
            };
            let cases: Vec<&Case> = asked.iter().map(|(_, case, _)| case).collect();
            let answers = model.answers(&cases, Some(WITHOUT), settings, scratch);
            for ((number, case, _), answer) in asked.iter().zip(answers) {
                if let Ok(answer) = answer {
                    by_point[*number].insert(case.id.clone(), answer);
                }
            }
        }
        Self { by_point }
    }
}

/// The response that answers make; none where one is missing, or where the accuracy is missed that a solution might reach.
fn response(
    job: &Job<'_>,
    panel: &Panel,
    answers: HashMap<String, FieldAnswer>,
    means: Means,
) -> Option<Response> {
    if answers.is_empty() {
        return None;
    }
    let answers = Mutex::new(answers);
    let solver = |case: &Case, _: Option<&str>, settings: &Settings, _: &Progress<'_>| {
        let mut answers = answers.lock().expect("no panic while it is held");
        let answer = answers.remove(&case.id);
        // Whoever is not answered for is solved: what the error says is not told.
        answer
            .map(|answer| judged(answer, settings))
            .ok_or(FieldError::Interrupted)
    };
    let response = respond_with(&job.request(panel, means), &solver).ok()?;
    response.numerics.accuracy_reached.then_some(response)
}
