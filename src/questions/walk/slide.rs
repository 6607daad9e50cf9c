//! A finger along a slider or around a wheel: the position its segments tell.
//!
//! Straight: the centroid of the three neighbouring segments with the largest sum of counts,
//! `pitch * sum(i S_i) / sum(S_i)`. Round: the direction of `sum(S_i exp(2 pi j i / n))`; for three
//! segments that is `atan2(sqrt(3)/2 (S2 - S3), S1 - (S2 + S3)/2)`. Both are common practice, no source.

use super::{Counted, PlaceCounts, Work, counted};
use crate::panel::{Course, Finger, Panel, Slider, SliderLimits, Supply};
use crate::touch::{TouchError, TouchPlace, Touches, WorkLimits, solve_touches_on};
use padfield_engine::units::Length;
use std::f64::consts::TAU;

/// Places per segment.
const PLACES_PER_SEGMENT: usize = 4;
/// Segments a position is told from.
const STRONGEST: usize = 3;

/// One place of the finger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlidePlace {
    /// True position along the course, from its middle (straight) or from the first segment (round);
    /// along the ring's middle.
    pub position: Length,
    /// Position that the segments tell.
    pub estimate: Length,
    /// Its numerical error, from those of the counts.
    pub estimate_error: Length,
    /// Counts of all segments together.
    pub total_counts: f64,
    /// Standard deviation of the estimate by the noise of the counts.
    pub resolution: Length,
}

impl SlidePlace {
    /// Estimate minus truth.
    pub fn deviation(&self) -> Length {
        self.estimate - self.position
    }
}

/// One finger along one slider.
#[derive(Clone, Debug, PartialEq)]
pub struct Slide {
    /// Pad group.
    pub group: String,
    /// The finger.
    pub finger: String,
    /// From the first to the last place, or around.
    pub places: Vec<SlidePlace>,
    /// Distance of neighbouring segments along the course.
    pub pitch: Length,
    /// What it is judged by.
    pub limits: SliderLimits,
    /// What the numbers took and whether they can be trusted.
    pub work: Work,
}

impl Slide {
    /// Largest distance between estimate and truth away from the dead zones.
    pub fn linearity(&self) -> Length {
        let live = self.live();
        let worst = live.map(|place| place.deviation().metres().abs());
        Length::from_metres(worst.fold(0.0, f64::max))
    }

    /// How far the total of all segments falls below its largest value, relative, away from the dead zones.
    pub fn ripple(&self) -> f64 {
        let totals = || self.live().map(|place| place.total_counts);
        let most = totals().fold(f64::NEG_INFINITY, f64::max);
        1.0 - totals().fold(f64::INFINITY, f64::min) / most
    }

    /// Largest standard deviation of the estimate away from the dead zones.
    pub fn resolution(&self) -> Length {
        let worst = self.live().map(|place| place.resolution.metres());
        Length::from_metres(worst.fold(0.0, f64::max))
    }

    /// Stretches at both ends where the estimate moves less than half as far as the finger; none around
    /// a wheel, where the places close.
    pub fn dead_zones(&self) -> [Length; 2] {
        let slow = |pair: &[SlidePlace]| {
            let moved = (pair[1].estimate - pair[0].estimate).metres();
            moved < 0.5 * (pair[1].position - pair[0].position).metres()
        };
        let pairs: Vec<&[SlidePlace]> = self.places.windows(2).collect();
        let length = |count: usize, from_end: bool| {
            let pairs = pairs.iter();
            let taken: Vec<_> = match from_end {
                true => pairs.rev().take(count).collect(),
                false => pairs.take(count).collect(),
            };
            let lengths = taken
                .iter()
                .map(|p| (p[1].position - p[0].position).metres());
            // An empty sum of f64 is minus zero.
            Length::from_metres(lengths.fold(0.0, |sum, length| sum + length))
        };
        let low = pairs.iter().take_while(|pair| slow(pair)).count();
        let high = pairs.iter().rev().take_while(|pair| slow(pair)).count();
        [length(low, false), length(high, true)]
    }

    /// The dead zones in mm: of the low and the high end, or that there is none.
    pub fn dead_zone_words(&self) -> String {
        let words = self.dead_zones().map(|zone| match zone.mm() < 0.05 {
            true => "none".to_owned(),
            false => crate::rounding::fixed(zone.mm(), 1),
        });
        match words.iter().all(|zone| zone == "none") {
            true => "none".to_owned(),
            false => words.join(" and "),
        }
    }

    /// Places outside the dead zones.
    pub fn live(&self) -> impl Iterator<Item = &SlidePlace> {
        let [low, high] = self.dead_zones();
        let first = self.places.first().map_or(0.0, |p| p.position.metres()) + low.metres();
        let last = self.places.last().map_or(0.0, |p| p.position.metres()) - high.metres();
        let slack = 1e-9;
        self.places
            .iter()
            .filter(move |place| (first - slack..=last + slack).contains(&place.position.metres()))
    }
}

/// Where a finger goes along a slider.
#[derive(Clone, Debug, PartialEq)]
pub struct Stroke {
    /// Along the course, as [`SlidePlace::position`].
    pub positions: Vec<Length>,
    /// Middles of the contact x, y on the panel, in the same order.
    pub places: Vec<[Length; 2]>,
}

/// Panel indices of the segments, in order.
pub fn segments(panel: &Panel, slider: &Slider) -> Vec<usize> {
    (0..panel.pads.len())
        .filter(|&pad| panel.pads[pad].group == slider.group)
        .collect()
}

/// Distance of neighbouring segments along the course \[m\].
fn pitch_m(slider: &Slider, count: usize) -> f64 {
    match slider.course {
        Course::Straight { pitch } => pitch.metres(),
        Course::Round { radius } => TAU * radius.metres() / count as f64,
    }
}

/// The places of a slider: from the middle of the first segment to that of the last, or all around.
pub fn stroke(panel: &Panel, slider: &Slider) -> Stroke {
    let count = segments(panel, slider).len();
    let pitch_m = pitch_m(slider, count);
    let positions: Vec<f64> = match slider.course {
        Course::Straight { .. } => {
            let half = count.saturating_sub(1) * PLACES_PER_SEGMENT / 2;
            let step = 0.5 * count.saturating_sub(1) as f64 * pitch_m / half.max(1) as f64;
            let half = half as i64;
            (-half..=half).map(|number| number as f64 * step).collect()
        }
        Course::Round { .. } => (0..count * PLACES_PER_SEGMENT)
            .map(|number| number as f64 * pitch_m / PLACES_PER_SEGMENT as f64)
            .collect(),
    };
    let place = |position: &f64| {
        let from_middle = match slider.course {
            Course::Straight { .. } => [*position, 0.0],
            Course::Round { radius } => {
                let angle = position / radius.metres();
                [radius.metres() * angle.cos(), radius.metres() * angle.sin()]
            }
        };
        [0, 1].map(|axis| slider.centre[axis] + Length::from_metres(from_middle[axis]))
    };
    Stroke {
        places: positions.iter().map(place).collect(),
        positions: positions.into_iter().map(Length::from_metres).collect(),
    }
}

/// Moves a finger along a slider.
///
/// # Errors
/// See [`TouchError`].
pub fn slide(
    panel: &Panel,
    slider: &Slider,
    finger: &Finger,
    supply: &Supply,
    limits: &WorkLimits<'_>,
) -> Result<Slide, TouchError> {
    let stroke = stroke(panel, slider);
    let asked = slid(panel, slider, finger, &stroke);
    let touches = solve_touches_on(panel, &asked, &segments(panel, slider), limits)?;
    slide_along(panel, slider, finger, supply, &stroke, &touches, 0)
}

/// A finger at every place of a stroke.
pub(super) fn slid(
    panel: &Panel,
    slider: &Slider,
    finger: &Finger,
    stroke: &Stroke,
) -> Vec<TouchPlace> {
    let pad = segments(panel, slider)[0];
    let centre = panel.pads[pad].centre;
    let place = |at: &[Length; 2]| TouchPlace {
        finger: Finger {
            offset: [0, 1].map(|axis| at[axis] - centre[axis]),
            ..finger.clone()
        },
        pad,
    };
    stroke.places.iter().map(place).collect()
}

/// What the segments tell of a stroke whose places are solved, from number `start` of `touches` on.
///
/// # Errors
/// See [`TouchError`].
pub fn slide_along(
    panel: &Panel,
    slider: &Slider,
    finger: &Finger,
    supply: &Supply,
    stroke: &Stroke,
    touches: &Touches,
    start: usize,
) -> Result<Slide, TouchError> {
    let members = segments(panel, slider);
    let pitch_m = pitch_m(slider, members.len());
    let range = start..start + stroke.places.len();
    let Counted {
        by_pad,
        bases,
        work,
    } = counted(panel, supply, touches, range)?;
    // The untouched noise of the noisiest segment stands for all of them.
    let circuit = &panel.electronics.circuit;
    let noises = members.iter().filter_map(|&pad| bases[pad]);
    let noise = noises
        .map(|base| circuit.noise(base).total())
        .fold(0.0, f64::max);
    let positions = stroke.positions.iter().map(|position| position.metres());
    let places = positions
        .enumerate()
        .map(|(place, position)| {
            let seen = Seen::at(&by_pad, &members, place);
            let told = match slider.course {
                Course::Straight { .. } => seen.centroid(pitch_m, noise),
                Course::Round { radius } => seen.angle(position, radius.metres(), noise),
            };
            SlidePlace {
                position: Length::from_metres(position),
                estimate: Length::from_metres(told[0]),
                estimate_error: Length::from_metres(told[1]),
                total_counts: seen.values.iter().sum(),
                resolution: Length::from_metres(told[2]),
            }
        })
        .collect();
    Ok(Slide {
        group: slider.group.clone(),
        finger: finger.name.clone(),
        places,
        pitch: Length::from_metres(pitch_m),
        limits: slider.limits,
        work,
    })
}

/// Counts of all segments at one place, with their errors.
struct Seen {
    values: Vec<f64>,
    errors: Vec<f64>,
}

impl Seen {
    fn at(by_pad: &[Vec<Option<PlaceCounts>>], members: &[usize], place: usize) -> Self {
        let of = |pad: &usize| by_pad[*pad][place];
        Self {
            values: members
                .iter()
                .map(|pad| of(pad).map_or(0.0, |c| c.value))
                .collect(),
            errors: members
                .iter()
                .map(|pad| of(pad).map_or(0.0, |c| c.error))
                .collect(),
        }
    }

    /// Position about the middle, its numerical error, its standard deviation \[m\].
    fn centroid(&self, pitch_m: f64, noise: f64) -> [f64; 3] {
        let count = self.values.len();
        let window = STRONGEST.min(count);
        let sum = |first: usize| self.values[first..first + window].iter().sum::<f64>();
        let first = (0..=count - window)
            .max_by(|&a, &b| sum(a).total_cmp(&sum(b)))
            .unwrap_or(0);
        let total = sum(first);
        let at = |segment: usize| (segment as f64 - 0.5 * (count - 1) as f64) * pitch_m;
        let range = first..first + window;
        let moment: f64 = range
            .clone()
            .map(|segment| at(segment) * self.values[segment])
            .sum();
        let estimate = moment / total;
        let lever = |segment: usize| (at(segment) - estimate) / total;
        let error = range.clone().map(|s| lever(s).abs() * self.errors[s]).sum();
        let variance: f64 = range.map(|s| (lever(s) * noise).powi(2)).sum();
        [estimate, error, variance.sqrt()]
    }

    /// Position along the ring, within half a turn of the truth, its error, its deviation \[m\].
    fn angle(&self, truth_m: f64, radius_m: f64, noise: f64) -> [f64; 3] {
        let count = self.values.len() as f64;
        let direction = |segment: usize| TAU * segment as f64 / count;
        let segments = || self.values.iter().enumerate();
        let x: f64 = segments()
            .map(|(s, value)| value * direction(s).cos())
            .sum();
        let y: f64 = segments()
            .map(|(s, value)| value * direction(s).sin())
            .sum();
        let angle = y.atan2(x);
        let turns = (truth_m / radius_m - angle) / TAU;
        let estimate = radius_m * (angle + TAU * turns.round());
        // d angle = sin(direction - angle) / |sum| per count.
        let length = x.hypot(y);
        let lever = |segment: usize| radius_m * (direction(segment) - angle).sin() / length;
        let errors = self.errors.iter().enumerate();
        let error = errors.map(|(s, error)| lever(s).abs() * error).sum();
        let variance: f64 = segments().map(|(s, _)| (lever(s) * noise).powi(2)).sum();
        [estimate, error, variance.sqrt()]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::Findings;
    use crate::questions::walk::SlideRecord;
    use padfield_engine::field::Printed;

    fn seen(values: &[f64]) -> Seen {
        Seen {
            values: values.to_vec(),
            errors: vec![1.0; values.len()],
        }
    }

    fn slide_of(estimates_mm: &[f64]) -> Slide {
        let place = |(number, estimate): (usize, &f64)| SlidePlace {
            position: Length::from_mm(number as f64),
            estimate: Length::from_mm(*estimate),
            estimate_error: Length::default(),
            total_counts: 100.0,
            resolution: Length::default(),
        };
        Slide {
            group: "dim".to_owned(),
            finger: "adult".to_owned(),
            places: estimates_mm.iter().enumerate().map(place).collect(),
            pitch: Length::from_mm(9.0),
            limits: SliderLimits::default(),
            work: Work {
                places: estimates_mm.len(),
                field_problems: 1,
                accuracy_reached: true,
                missed: Vec::new(),
            },
        }
    }

    #[test]
    fn what_missed_the_accuracy_is_named() {
        let mut slide = slide_of(&[0.0, 1.0]);
        slide.work.accuracy_reached = false;
        let printed = Printed::new(
            "touch shift of \"a\"".to_owned(),
            [1e-12, 4e-14],
            4e-14,
            1e-12,
        );
        slide.work.missed = printed.into_iter().collect();
        slide.work.missed[0].asked = 0.02;
        let record = serde_json::to_value(SlideRecord::of(&slide)).expect("JSON");
        assert_eq!(record["accuracy_reached"], false);
        assert_eq!(record["accuracy_missed"][0]["name"], "touch shift of \"a\"");
        assert_eq!(record["accuracy_missed"][0]["asked"], 0.02);
        let checks = slide.work.checks();
        assert_eq!(
            checks[0].sentence(),
            "accuracy: not reached by touch shift of \"a\" (±4.0 %; 1.00 ± 0.04 pF); limit: estimated error of 2.0 %"
        );
    }

    /// Before, an empty sum gave "-0.0 and -0.0".
    #[test]
    fn dead_zones_are_told_and_none_is_called_none() {
        let live = slide_of(&[0.0, 1.0, 2.0, 3.0]);
        assert_eq!(live.dead_zone_words(), "none");
        assert!(
            live.dead_zones()
                .iter()
                .all(|zone| zone.metres().is_sign_positive())
        );
        let zones = SlideRecord::of(&live).dead_zones_mm;
        assert!(zones.iter().all(|zone| zone.is_sign_positive()));
        let slow = slide_of(&[0.8, 1.0, 1.2, 2.2, 3.2, 3.3]);
        assert_eq!(slow.dead_zone_words(), "2.0 and 1.0");
        assert_eq!(
            slide_of(&[0.8, 1.0, 2.0, 3.0]).dead_zone_words(),
            "1.0 and none"
        );
    }

    #[test]
    fn limits_of_the_file_fail_and_those_of_common_practice_are_unusual() {
        use crate::checks::{Severity, Source};
        use crate::panel::{Origin, Sourced};
        let mut slide = slide_of(&[0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 6.0, 7.0, 10.0, 12.0]);
        let words = |slide: &Slide| -> Vec<(Severity, String)> {
            let checks = slide.limit_checks(Source::Walk).into_iter();
            checks.map(|check| (check.severity, check.place)).collect()
        };
        let found = words(&slide);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found.iter().all(|one| one.0 == Severity::Unusual));
        assert!(found[0].1.contains("deviation") && found[1].1.contains("dead zone"));
        slide.limits.deviation = Sourced {
            value: Length::from_mm(0.5),
            origin: Origin::Given,
        };
        assert_eq!(words(&slide)[0].0, Severity::Failed);
    }

    /// A triangle of shares tells every place exactly: the centroid of linear weights.
    #[test]
    fn a_linear_share_between_neighbours_gives_the_place() {
        for step in 0..=10 {
            let share = step as f64 / 10.0;
            let told = seen(&[0.0, 100.0 * (1.0 - share), 100.0 * share, 0.0]);
            let [estimate, ..] = told.centroid(9e-3, 1.0);
            approx::assert_abs_diff_eq!(estimate, (share - 0.5) * 9e-3, epsilon = 1e-12);
        }
    }

    /// `sigma_x = pitch sigma_N sqrt(sum (i - x/pitch)^2) / S_total`, by hand for 50, 100, 50 counts:
    /// 9 mm x 2 x sqrt(2) / 200 = 0.1273 mm.
    #[test]
    fn the_resolution_is_that_of_the_formula() {
        let [estimate, _, deviation] = seen(&[50.0, 100.0, 50.0]).centroid(9e-3, 2.0);
        approx::assert_abs_diff_eq!(estimate, 0.0, epsilon = 1e-15);
        approx::assert_abs_diff_eq!(deviation * 1e3, 0.12728, epsilon = 1e-5);
    }

    /// Three segments with cosine shares tell the angle exactly:
    /// `atan2(sqrt(3)/2 (S2 - S3), S1 - (S2 + S3)/2)`.
    #[test]
    fn a_wheel_of_three_tells_the_angle() {
        let radius = 12e-3;
        for step in 0..24 {
            let truth = TAU * step as f64 / 24.0;
            let share = |segment: f64| 100.0 + 80.0 * (truth - TAU * segment / 3.0).cos();
            let values = [share(0.0), share(1.0), share(2.0)];
            let [estimate, ..] = seen(&values).angle(radius * truth, radius, 1.0);
            approx::assert_abs_diff_eq!(estimate, radius * truth, epsilon = 1e-12);
            let formula = (3f64.sqrt() / 2.0 * (values[1] - values[2]))
                .atan2(values[0] - (values[1] + values[2]) / 2.0);
            let turned = (estimate / radius - formula) / TAU;
            approx::assert_abs_diff_eq!(turned, turned.round(), epsilon = 1e-12);
        }
    }
}
