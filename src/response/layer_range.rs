//! Counts over the tolerances of the layers.

use super::answer::Response;
use super::compute::{Request, ResponseError};
use super::counts::base_count_range;
use crate::event::{FieldEnds, Shown, field_varies};
use crate::panel::{Finger, Panel};
use crate::sensitivity::PanelFamily;
use crate::touch::{PadTouch, Tally, TouchPlace, WorkLimits, panel_mirrors};
use padfield_engine::units::Capacitance;
use rayon::prelude::*;

/// Widens the ranges of every touch's counts, of those of its neighbours, of their ratios and of base counts by
/// thickness and permittivity of the layers at the ends of their tolerances, and says how many field problems that
/// took. Each has its own ends, which follow from exact derivatives; far ends of the touched pad are solved again,
/// and what the derivatives miss there is taken over to all others.
pub(super) fn widen(
    response: &mut Response,
    request: &Request,
    finger: &Finger,
    limits: &WorkLimits<'_>,
) -> Result<usize, ResponseError> {
    let panel = request.panel;
    let family = PanelFamily::of_panel(panel);
    if !field_varies(&family) {
        return Ok(0);
    }
    let own = |index: &usize| {
        let touch = response.pads[*index].touch.as_ref();
        touch.is_some_and(|touch| touch.mirrored_from.is_none())
    };
    let asked: Vec<usize> = (0..panel.pads.len()).filter(own).collect();
    let tally = Tally::new(
        asked.len(),
        "places with derivatives solved",
        limits.progress,
    );
    let tell = |text: &str| tally.tell(text);
    let limits = limits.heard_by(&tell);
    let solved: Vec<(usize, FieldEnds)> = asked
        .par_iter()
        .filter_map(|&pad| {
            let place = TouchPlace {
                finger: finger.clone(),
                pad,
            };
            let counts = |touch: &PadTouch| counts(panel, pad, finger, touch);
            let ends = FieldEnds::solve(&family, &place, (pad, None), None, &counts, &limits);
            let ends = ends.inspect(|_| tally.add());
            ends.map(|ends| ends.map(|ends| (pad, ends))).transpose()
        })
        .collect::<Result<_, _>>()?;
    let problems = solved.iter().map(|(_, ends)| ends.problems).sum();
    let touches = seen_again(response, panel, &solved)?;
    for pad in 0..panel.pads.len() {
        if let Some(one) = touches.iter().find(|one| one.touched == pad) {
            widen_touch(response, panel, finger, one);
        }
        widen_base(response, panel, &touches, pad);
    }
    Ok(problems)
}

/// Whether [`widen`] solves anything.
pub(super) fn has_field_range(panel: &Panel) -> bool {
    field_varies(&PanelFamily::of_panel(panel))
}

/// A touch of a pad, solved there or on its mirror image.
struct Touched<'e> {
    touched: usize,
    ends: &'e FieldEnds,
    /// The pad of the solution that stands for each pad of the panel.
    stands_for: Vec<usize>,
    nominal: Shown,
}

impl Touched<'_> {
    fn nominal(&self, pad: usize) -> Option<PadTouch> {
        self.nominal[self.stands_for[pad]]
    }

    fn of(&self, shown: &Shown, pad: usize) -> Option<PadTouch> {
        shown[self.stands_for[pad]]
    }

    /// What the pads show where a value of some of them is least and most.
    fn extremes(&self, value: &dyn Fn(&Shown) -> Option<f64>) -> [Shown; 2] {
        let corners = &self.ends.corners;
        corners.extremes(&|shown| value(shown).unwrap_or(0.0))
    }
}

fn seen_again<'e>(
    response: &Response,
    panel: &Panel,
    solved: &'e [(usize, FieldEnds)],
) -> Result<Vec<Touched<'e>>, ResponseError> {
    let mirrors = panel_mirrors(panel)?;
    let each = (0..panel.pads.len()).filter_map(|touched| {
        let touch = response.pads[touched].touch.as_ref()?;
        let source = match &touch.mirrored_from {
            Some(name) => panel.pads.iter().position(|pad| pad.name == *name)?,
            None => touched,
        };
        let (_, ends) = solved.iter().find(|(pad, _)| *pad == source)?;
        let itself = || (0..panel.pads.len()).collect();
        let image = |images: &Vec<usize>| {
            let original = |pad: usize| images.iter().position(|&image| image == pad);
            (0..panel.pads.len())
                .map(original)
                .collect::<Option<Vec<_>>>()
        };
        let mut mirrors = mirrors.iter().map(|mirror| &mirror.images);
        let stands_for: Vec<usize> = match source == touched {
            true => itself(),
            false => image(mirrors.find(|images| images[source] == touched)?)?,
        };
        Some(Touched {
            touched,
            nominal: ends.corners.nominal(),
            ends,
            stands_for,
        })
    });
    Ok(each.collect())
}

/// A value that moves as another one: by its ratio where that has a sign to keep, else by its difference.
fn moved_like(value: f64, from: f64, to: f64) -> f64 {
    let ratio = to / from;
    match ratio.is_finite() && ratio > 0.0 {
        true => value * ratio,
        false => value + to - from,
    }
}

fn widen_touch(response: &mut Response, panel: &Panel, finger: &Finger, one: &Touched<'_>) {
    let path = finger.return_path;
    let touched = one.touched;
    let shift = |shown: &Shown, pad: usize| Some(one.of(shown, pad)?.shift(path).farads());
    let circuit = &panel.electronics.circuit;
    // Range of the count shift of a pad whose shift is computed at nominal values.
    let range = |pad: usize, computed: Capacitance| -> Option<Vec<[f64; 2]>> {
        let nominal = one.nominal(pad)?;
        let base = response.pads[pad].base?.computed.value.farads();
        let value = |shown: &Shown| Some(counts(panel, pad, finger, &one.of(shown, pad)?));
        let ends = one.extremes(&value);
        let each = ends.iter().filter_map(|shown| {
            let end = one.of(shown, pad)?;
            let field = moved_like(base, nominal.base, end.base);
            let at_pin = panel.stray.of(&panel.pads[pad]);
            let at_pin = at_pin.at_pin(Capacitance::from_farads(field));
            let [from, to] = [&nominal, &end].map(|touch| touch.shift(path).farads());
            let shift = Capacitance::from_farads(moved_like(computed.farads(), from, to));
            let none = Capacitance::default();
            let counted = circuit.shift_in_counts(&at_pin, none, &[shift], none);
            Some(counted.tolerance_range)
        });
        Some(each.collect())
    };
    let index = |name: &str| panel.pads.iter().position(|pad| pad.name == name);
    let Some(touch) = response.pads[touched].touch.clone() else {
        return;
    };
    let own_ranges = range(touched, touch.shift.value);
    let neighbours: Vec<_> = touch
        .neighbours
        .iter()
        .map(|neighbour| {
            let pad = index(&neighbour.pad)?;
            let ratio = |shown: &Shown| Some(shift(shown, pad)? / shift(shown, touched)?);
            let from = ratio(&one.nominal)?;
            let ends = one.extremes(&ratio);
            let ratios: Vec<f64> = ends
                .iter()
                .filter_map(|shown| Some(moved_like(neighbour.ratio, from, ratio(shown)?)))
                .collect();
            Some((range(pad, neighbour.shift.value)?, ratios))
        })
        .collect();
    if let Some(touch) = &mut response.pads[touched].touch {
        for (neighbour, found) in touch.neighbours.iter_mut().zip(&neighbours) {
            for &ratio in found.iter().flat_map(|(_, ratios)| ratios) {
                include(&mut neighbour.ratio_range, [ratio; 2]);
            }
        }
    }
    let name = &panel.pads[touched].name;
    let all = &mut response.counts.pads;
    let counted = all.iter_mut().find(|counted| counted.pad == *name);
    let Some(counted) = counted.and_then(|counted| counted.touch.as_mut()) else {
        return;
    };
    for found in own_ranges.into_iter().flatten() {
        include(&mut counted.shift.tolerance_range, found);
    }
    for (neighbour, found) in touch.neighbours.iter().zip(neighbours) {
        let mut others = counted.neighbours.iter_mut();
        let other = others.find(|other| other.pad == neighbour.pad);
        if let (Some(other), Some((ranges, _))) = (other, found) {
            for range in ranges {
                include(&mut other.shift.tolerance_range, range);
            }
        }
    }
}

/// A pad that is in no touch, a segment, moves as the first touched pad does.
fn widen_base(response: &mut Response, panel: &Panel, touches: &[Touched<'_>], pad: usize) {
    let of_own = touches.iter().filter(|one| one.touched == pad);
    let mut known = of_own.chain(touches).map(|one| (one, pad));
    let known = known.find(|(one, pad)| one.nominal(*pad).is_some());
    let first = || touches.first().map(|one| (one, one.touched));
    let Some(((one, like), base)) = known.or_else(first).zip(response.pads[pad].base) else {
        return;
    };
    let Some(nominal) = one.nominal(like) else {
        return;
    };
    let base_of = |shown: &Shown| Some(one.of(shown, like)?.base);
    let name = &panel.pads[pad].name;
    let counted = response.counts.pads.iter_mut();
    let Some(counted) = counted.into_iter().find(|counted| counted.pad == *name) else {
        return;
    };
    for base_end in one.extremes(&base_of).iter().filter_map(base_of) {
        let field = moved_like(base.computed.value.farads(), nominal.base, base_end);
        let at_pin = panel.stray.of(&panel.pads[pad]);
        let at_pin = at_pin.at_pin(Capacitance::from_farads(field));
        let range = base_count_range(&panel.electronics.circuit, &at_pin);
        include(&mut counted.base_range, range);
    }
}

fn include(range: &mut [f64; 2], found: [f64; 2]) {
    *range = [range[0].min(found[0]), range[1].max(found[1])];
}

/// Counts of the finger's touch under its own return path.
fn counts(panel: &Panel, pad: usize, finger: &Finger, touch: &PadTouch) -> f64 {
    let stray = panel.stray.of(&panel.pads[pad]);
    let base = stray.at_pin(Capacitance::from_farads(touch.base)).nominal;
    let circuit = &panel.electronics.circuit;
    circuit.counts_towards_touch(base, touch.shift(finger.return_path))
}
