//! The search itself: scan, hidden vertices, refinement.

use super::ask::{Ask, Place, Sample, Span};
use super::refine::{Task, Walk, next_task};
use super::result::{Dot, Ending, Found, result, segments};
use crate::study::Relation;

/// Places of the first scan, at equal shares of the way.
pub const SCAN: usize = 7;
/// Most solves of one search.
pub const MOST_SOLVES: usize = 100;
/// Most solves at vertices of parabolas.
const MOST_VERTICES: usize = 8;
/// Halvings between a possible and an impossible place.
const HALVINGS: usize = 10;

/// Searches a range for the places where a quantity meets `limit`; `relation` says which side holds.
/// `observe` hears of every solved place.
pub fn search(
    span: &Span,
    limit: f64,
    relation: Relation,
    ask: &mut dyn Ask,
    observe: &mut dyn FnMut(&Place),
) -> Found {
    let mut search = Search {
        span: *span,
        limit,
        ask,
        observe,
        places: Vec::new(),
        solves: 0,
        given_up: Vec::new(),
    };
    let ending = match search.run() {
        Ok(()) => Ending::Complete,
        Err(ending) => ending,
    };
    result(search.places, span, limit, relation, ending)
}

struct Search<'s> {
    span: Span,
    limit: f64,
    ask: &'s mut dyn Ask,
    observe: &'s mut dyn FnMut(&Place),
    places: Vec<Place>,
    solves: usize,
    given_up: Vec<Task>,
}

impl Search<'_> {
    fn run(&mut self) -> Result<(), Ending> {
        for share in self.scan() {
            self.solve(share)?;
        }
        for _ in 0..MOST_VERTICES {
            let Some(share) = self.hidden_vertex() else {
                break;
            };
            self.solve(share)?;
        }
        while let Some(task) = self.next_task() {
            self.walk(task)?;
        }
        Ok(())
    }

    /// Shares to solve first: equal steps, and the last possible place beside an impossible one.
    fn scan(&mut self) -> Vec<f64> {
        let shares: Vec<f64> = (0..SCAN).map(|i| i as f64 / (SCAN - 1) as f64).collect();
        let possible: Vec<bool> = shares
            .iter()
            .map(|share| self.is_possible(*share))
            .collect();
        let mut wanted: Vec<f64> = Vec::new();
        for index in 0..SCAN {
            if possible[index] {
                wanted.push(shares[index]);
            }
            if index + 1 < SCAN && possible[index] != possible[index + 1] {
                let (mut yes, mut no) = (shares[index], shares[index + 1]);
                if possible[index + 1] {
                    (yes, no) = (no, yes);
                }
                for _ in 0..HALVINGS {
                    let middle = 0.5 * (yes + no);
                    let place = self.span.place(middle);
                    match self.ask.possible(place) {
                        Ok(()) => yes = middle,
                        Err(_) => no = middle,
                    }
                }
                self.is_possible(no);
                wanted.push(yes);
            }
        }
        wanted.sort_by(f64::total_cmp);
        wanted.dedup();
        wanted
    }

    /// Asks, and keeps the reason why not.
    fn is_possible(&mut self, share: f64) -> bool {
        let at = self.span.place(share);
        match self.ask.possible(at) {
            Ok(()) => true,
            Err(reason) => {
                self.keep(Place {
                    at,
                    sample: Err(reason),
                });
                false
            }
        }
    }

    fn keep(&mut self, place: Place) {
        let index = self.places.partition_point(|known| known.at < place.at);
        if self
            .places
            .get(index)
            .is_none_or(|known| known.at != place.at)
        {
            self.places.insert(index, place);
        }
    }

    /// Solves a place; none when it gives no value or is known already.
    fn solve(&mut self, share: f64) -> Result<Option<Dot>, Ending> {
        let at = self.span.place(share);
        if self.places.iter().any(|known| known.at == at) {
            return Ok(None);
        }
        if self.ask.stopped() {
            return Err(Ending::Stopped);
        }
        if self.solves >= MOST_SOLVES {
            return Err(Ending::OutOfSolves);
        }
        let sample = match self.ask.possible(at) {
            Ok(()) => {
                self.solves += 1;
                let sample = self.ask.solve(at).and_then(checked);
                // Left in the middle: nothing is known about this place.
                if sample.is_err() && self.ask.stopped() {
                    return Err(Ending::Stopped);
                }
                sample
            }
            Err(reason) => Err(reason),
        };
        let place = Place { at, sample };
        (self.observe)(&place);
        let dot = place.sample.as_ref().ok().map(|sample| Dot {
            share: self.span.share(at),
            excess: sample.value - self.limit,
            error: sample.error,
        });
        self.keep(place);
        Ok(dot)
    }

    fn segments(&self) -> Vec<Vec<Dot>> {
        segments(&self.places, &self.span, self.limit)
    }

    /// Where the parabola through three neighbours on one side of the limit reaches it.
    fn hidden_vertex(&self) -> Option<f64> {
        let segments = self.segments();
        let triples = segments.iter().flat_map(|dots| dots.windows(3));
        triples.filter_map(vertex_at_limit).next()
    }

    fn next_task(&self) -> Option<Task> {
        let is_given_up = |task: &Task| {
            let known = self.given_up.iter();
            known
                .into_iter()
                .any(|given_up| Walk::new(given_up).is_for(task))
        };
        let mut segments = self.segments().into_iter();
        segments.find_map(|dots| next_task(&dots, is_given_up))
    }

    /// Refines one task for as long as it is the most urgent one.
    fn walk(&mut self, task: Task) -> Result<(), Ending> {
        let mut walk = Walk::new(&task);
        let mut task = task;
        loop {
            let Some(dot) = self.solve(walk.next())? else {
                // No value there, or no room between two places.
                self.given_up.push(task);
                return Ok(());
            };
            walk.take(dot);
            match self.next_task() {
                Some(next) if walk.is_for(&next) => task = next,
                _ => return Ok(()),
            }
        }
    }
}

/// A value that is no number would poison every comparison.
fn checked(sample: Sample) -> Result<Sample, String> {
    if sample.value.is_finite() && sample.error.is_finite() {
        Ok(sample)
    } else {
        Err("the value is not a finite number".to_owned())
    }
}

/// Share of the vertex of the parabola through three places, when all are on one side of the limit and
/// the vertex is not, its error considered.
fn vertex_at_limit(triple: &[Dot]) -> Option<f64> {
    let [a, b, c] = [triple[0], triple[1], triple[2]];
    if a.is_above() != b.is_above() || b.is_above() != c.is_above() {
        return None;
    }
    let left = (b.excess - a.excess) / (b.share - a.share);
    let right = (c.excess - b.excess) / (c.share - b.share);
    let curvature = (right - left) / (c.share - a.share);
    // Towards the limit: a valley above it, a hill below it.
    if (curvature > 0.0) != a.is_above() || curvature == 0.0 {
        return None;
    }
    let vertex = 0.5 * (a.share + b.share) - 0.5 * left / curvature;
    let room = 0.01 * (c.share - a.share);
    let is_new = triple.iter().all(|dot| (dot.share - vertex).abs() > room);
    if vertex <= a.share || vertex >= c.share || !is_new {
        return None;
    }
    let there = a.excess + (vertex - a.share) * (left + curvature * (vertex - b.share));
    let reaches = match a.is_above() {
        true => there - b.error <= 0.0,
        false => there + b.error >= 0.0,
    };
    reaches.then_some(vertex)
}
