//! Which coordinates the grid must pass through, axis by axis.

#[cfg(doc)]
use super::axis::LARGEST_STRETCH;
use super::axis::{Axis, Line, Zone, stretches};
use super::gap::smallest_gap_m;
use crate::case::{Case, Kind, Screen, Solid, Wall};
use crate::stop::Stop;

/// Cells per radius of a round outline at fineness 1.
const CELLS_PER_RADIUS: f64 = 10.0;
/// How the cells per radius follow the fineness: slower than the rest of the grid, because the
/// rounding error of an outline falls faster than that of an edge.
const RADIUS_EXPONENT: f64 = 0.5;

/// Cells across the smallest width or gap of an outline at fineness 1.
const FEATURE_CELLS: f64 = 2.0;

/// Growth of the cells beside an outline with sharp edges: that beside any edge. Without growth a
/// lone disc is 60 % off at fineness 1, with twice this one 0.3 %.
const EDGE_GROWTH: f64 = 1.0;
/// Growth beside a dome, whose field is smooth and which has pads under it: 1 would cost panels a
/// fifth more cells and gain nothing.
const DOME_GROWTH: f64 = 4.0;

/// How much finer a volume's grid is across its levels than along them, on the coarsest grids: by this share, of which a
/// third is left at fineness 1. Along them every pad and trace has lines of its own; across them there are a few layers, each
/// many times as wide as it is thick.
const MORE_ACROSS: f64 = 0.8;
/// Share of the smallest gap in a level within which the field grows towards the level. Half the distance to the next level,
/// which counts elsewhere, leaves toothed sliders under thick glass with a first cell many gaps high.
const GAP_SHARE: f64 = 0.7;

/// Where round solids of a conductor may stand: the grid is made for all of them there, and for none in particular.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Region {
    /// Low corner, x and y \[m\].
    pub low_m: [f64; 2],
    /// High corner, x and y \[m\].
    pub high_m: [f64; 2],
}

struct Collector {
    low: f64,
    high: f64,
    mirror: [bool; 2],
    lines: Vec<Line>,
    zones: Vec<Zone>,
}

impl Collector {
    fn add(&mut self, at_m: f64, singular: bool) {
        self.add_blunt(at_m, singular, 0.0);
    }

    fn add_blunt(&mut self, at_m: f64, singular: bool, blunt_m: f64) {
        if at_m >= self.low && at_m <= self.high {
            self.lines.push(Line {
                at_m,
                singular,
                blunt_m,
                room_m: f64::INFINITY,
            });
        }
    }

    /// A conductor from `a` to `b`: its ends are singular, except where it runs straight through a
    /// mirror plane.
    fn conductor(&mut self, a: f64, b: f64) {
        for at in [a, b] {
            self.end(at, b - a, 0.0);
        }
    }

    /// One end of something that conducts and is `length_m` long.
    fn end(&mut self, at: f64, length_m: f64, blunt_m: f64) {
        let slack = 1e-9 * (self.high - self.low);
        let on_mirror = (self.mirror[0] && (at - self.low).abs() < slack)
            || (self.mirror[1] && (at - self.high).abs() < slack);
        self.add_blunt(at, !(on_mirror && length_m > slack), blunt_m);
    }

    fn zone(&mut self, low_m: f64, high_m: f64, largest_cell_m: f64, growth: f64) {
        self.add(low_m, false);
        self.add(high_m, false);
        self.zones.push(Zone {
            low_m,
            high_m,
            largest_cell_m,
            growth,
        });
    }

    /// The lines in order, those at the same place made one, and the zones.
    fn finish(mut self) -> (Vec<Line>, Vec<Zone>) {
        let slack = 1e-9 * (self.high - self.low);
        self.add(self.low, false);
        self.add(self.high, false);
        self.lines.sort_by(|a, b| a.at_m.total_cmp(&b.at_m));
        let mut merged: Vec<Line> = Vec::new();
        for line in self.lines {
            match merged.last_mut() {
                Some(last) if line.at_m - last.at_m <= slack => {
                    last.blunt_m = match (last.singular, line.singular) {
                        (true, true) => last.blunt_m.min(line.blunt_m),
                        (false, true) => line.blunt_m,
                        _ => last.blunt_m,
                    };
                    last.singular |= line.singular;
                }
                _ => merged.push(line),
            }
        }
        let last = merged.len() - 1;
        merged[0].at_m = self.low;
        merged[last].at_m = self.high;
        (merged, self.zones)
    }
}

/// The grid axes of a case at fineness M.
pub fn axes(case: &Case, fineness: f64) -> [Axis; 3] {
    axes_until(Stop::NEVER, case, fineness)
}

/// The same; coarse ones once `stop` is asked for.
pub(crate) fn axes_until(stop: Stop, case: &Case, fineness: f64) -> [Axis; 3] {
    roaming_axes(stop, case, None, fineness)
}

/// The same with a conductor that may stand anywhere in a region.
pub(crate) fn roaming_axes(
    stop: Stop,
    case: &Case,
    roaming: Option<(&str, Region)>,
    fineness: f64,
) -> [Axis; 3] {
    let mut axis = 0;
    collected(case, fineness, roaming).map(|found| {
        let d = axis;
        axis += 1;
        match found {
            Some(found) => graded(stop, case, d, found, roaming, fineness),
            None => Axis::point(),
        }
    })
}

/// Grades an axis; gaps are looked for here, because not everybody who asks for lines grades them.
fn graded(
    stop: Stop,
    case: &Case,
    d: usize,
    (mut lines, zones): Collected,
    roaming: Option<(&str, Region)>,
    fineness: f64,
) -> Axis {
    if case.kind != Kind::Volume || d < 2 {
        return Axis::graded(stop, &lines, &zones, fineness);
    }
    for line in lines.iter_mut().filter(|line| line.singular) {
        let gap_m = smallest_gap_m(case, line.at_m, roaming.map(|(name, _)| name));
        line.room_m = GAP_SHARE * gap_m;
    }
    let across = (1.0 + MORE_ACROSS / (1.0 + 2.0 * fineness * fineness)) * fineness;
    Axis::graded(stop, &lines, &zones, across)
}

/// How many nodes each axis has at least, told from its lines and zones without grading it: what
/// grading takes grows with the square of the lines.
pub fn least_nodes(case: &Case, fineness: f64) -> [f64; 3] {
    let mut axis = 0;
    collected(case, fineness, None).map(|found| {
        let (low, high) = (case.domain.low_m[axis], case.domain.high_m[axis]);
        axis += 1;
        let Some((lines, zones)) = found else {
            return 1.0;
        };
        let cells = |zone: &Zone| {
            let inside = zone.high_m.min(high) - zone.low_m.max(low);
            (inside / zone.largest_cell_m).floor().max(0.0)
        };
        let zones = zones.iter().map(|zone| cells(zone) + 1.0);
        zones.fold(lines.len() as f64, f64::max)
    })
}

/// The grid axes of a case as a member of the family of `reference`: axes with as many lines as the
/// reference are its axes with every segment stretched, so that results vary smoothly and potentials
/// of one member are a first guess for the next. An axis with other lines, or with a segment more
/// than [`LARGEST_STRETCH`] times as long or as short, is graded on its own. Coarse ones once `stop` is asked for.
pub(crate) fn family_axes(
    stop: Stop,
    case: &Case,
    reference: &Case,
    roaming: Option<(&str, Region)>,
    fineness: f64,
) -> [Axis; 3] {
    let mut pattern = roaming_axes(stop, reference, roaming, fineness).into_iter();
    let mut axis = 0;
    collected(case, fineness, roaming).map(|found| {
        let d = axis;
        axis += 1;
        match (found, pattern.next()) {
            (Some(found), Some(pattern)) => pattern
                .stretched_to(&found.0)
                .unwrap_or_else(|| graded(stop, case, d, found, roaming, fineness)),
            _ => Axis::point(),
        }
    })
}

/// Whether the grid of a case as a member of the family of `reference` has its lines, all of them stretched.
pub fn has_lines_of(case: &Case, reference: &Case) -> bool {
    let lines = |case: &Case| {
        collected(case, 1.0, None).map(|axis| axis.map_or(Vec::new(), |(lines, _)| lines))
    };
    let (own, pattern) = (lines(case), lines(reference));
    own.iter().zip(&pattern).all(|(own, pattern)| {
        let pattern: Vec<f64> = pattern.iter().map(|line| line.at_m).collect();
        stretches(&pattern, own).is_some()
    })
}

/// From where to where all screens of the same conductor reach at the height of this one \[m\].
fn reach(case: &Case, screen: &Screen, axis: usize) -> (f64, f64) {
    let height = case.kind.dimensions() - 1;
    let level_m = screen.extent.low_m[height];
    let same = case
        .screens
        .iter()
        .filter(|s| s.conductor == screen.conductor && s.extent.low_m[height] == level_m);
    same.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
        (
            low.min(s.extent.low_m[axis]),
            high.max(s.extent.high_m[axis]),
        )
    })
}

/// Every coordinate of every extent, axis by axis, in the order of the case and not only once: two cases
/// of one shape have them in the same order, so that the grid lines of one are found in the other. The
/// ends of the domain come last.
pub fn line_coordinates(case: &Case) -> [Vec<f64>; 3] {
    [0, 1, 2].map(|d| {
        if d >= case.kind.dimensions() {
            return Vec::new();
        }
        let everywhere = Collector {
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
            mirror: [false; 2],
            lines: Vec::new(),
            zones: Vec::new(),
        };
        let collector = collect(case, 1.0, d, None, everywhere);
        let ends = [case.domain.low_m[d], case.domain.high_m[d]];
        let lines = collector.lines.iter().map(|line| line.at_m);
        lines.chain(ends).collect()
    })
}

/// Lines and zones of an axis.
type Collected = (Vec<Line>, Vec<Zone>);

/// Lines and zones of every axis there is.
fn collected(
    case: &Case,
    fineness: f64,
    roaming: Option<(&str, Region)>,
) -> [Option<Collected>; 3] {
    [0, 1, 2].map(|d| {
        if d >= case.kind.dimensions() {
            return None;
        }
        let inside = Collector {
            low: case.domain.low_m[d],
            high: case.domain.high_m[d],
            mirror: case.walls[d].map(|w| w == Wall::Insulated),
            lines: Vec::new(),
            zones: Vec::new(),
        };
        Some(collect(case, fineness, d, roaming, inside).finish())
    })
}

/// Adds what a case asks for along one axis.
fn collect(
    case: &Case,
    fineness: f64,
    d: usize,
    roaming: Option<(&str, Region)>,
    mut collector: Collector,
) -> Collector {
    let radius_cells = CELLS_PER_RADIUS * fineness.powf(RADIUS_EXPONENT);
    let vertical = if case.kind == Kind::Axisymmetric {
        1
    } else {
        2
    };
    for dielectric in &case.dielectrics {
        // What comes with a body that roams ends at the line nearest to where it does: it is seen over its thickness.
        let comes_with = |(name, _)| dielectric.comes_with.as_deref() == Some(name);
        if d != vertical && roaming.is_some_and(comes_with) {
            continue;
        }
        collector.add(dielectric.extent.low_m[d], false);
        collector.add(dielectric.extent.high_m[d], false);
    }
    let solids = case.conductors.iter().flat_map(|conductor| {
        let roaming = roaming.filter(|(name, _)| *name == conductor.name);
        let region = roaming.map(|(_, region)| region);
        conductor.solids.iter().map(move |solid| (solid, region))
    });
    for (solid, region) in solids {
        match solid {
            Solid::Block(extent) => collector.conductor(extent.low_m[d], extent.high_m[d]),
            Solid::Round(body) if d == vertical => {
                collector.conductor(body.bottom_m, body.top_m);
                let shoulder = (body.dome_radius_m.powi(2) - body.contact_radius_m.powi(2))
                    / (2.0 * body.dome_radius_m);
                if shoulder > 0.0 {
                    collector.zone(
                        body.bottom_m,
                        (body.bottom_m + shoulder).min(body.top_m),
                        shoulder / (0.4 * radius_cells),
                        DOME_GROWTH,
                    );
                }
            }
            Solid::Round(body) => {
                let centre = if case.kind == Kind::Axisymmetric {
                    0.0
                } else {
                    body.centre_m[d]
                };
                let growth = if body.dome_radius_m > body.contact_radius_m {
                    DOME_GROWTH
                } else {
                    EDGE_GROWTH
                };
                if let Some(region) = region {
                    collector.zones.push(Zone {
                        low_m: region.low_m[d],
                        high_m: region.high_m[d],
                        largest_cell_m: body.contact_radius_m / radius_cells,
                        growth,
                    });
                    continue;
                }
                for radius in [body.contact_radius_m, body.dome_radius_m] {
                    let cell = radius / radius_cells;
                    collector.zone(centre - radius, centre + radius, cell, growth);
                }
            }
            Solid::Prism(prism) if d == 2 => collector.conductor(prism.bottom_m, prism.top_m),
            Solid::Prism(prism) => {
                let corners = prism.outlines_m.iter().flatten().map(|c| c[d]);
                let low = corners.clone().fold(f64::INFINITY, f64::min);
                let high = corners.fold(f64::NEG_INFINITY, f64::max);
                let feature = prism.feature_m / (FEATURE_CELLS * fineness.powf(RADIUS_EXPONENT));
                let cell = (0.5 * (high - low) / radius_cells).min(feature);
                collector.zone(low, high, cell, EDGE_GROWTH);
            }
        }
    }
    // Graded like a conductor, edges and level. A pad over a screen over a plate, depths 0.01 to
    // 1 mm, in volume: 0.07 % of the coupling at depth 0.1 mm with 19 k cells, against 0.4 % with
    // 25 k cells when nothing is singular and 0.4 % with 33 k when only the level is.
    // Where traces and pads cut a screen its field grows no longer within its depth of the edge.
    for screen in &case.screens {
        let [low_m, high_m] = [screen.extent.low_m[d], screen.extent.high_m[d]];
        let (first_m, last_m) = reach(case, screen, d);
        for (at_m, is_outer) in [(low_m, low_m <= first_m), (high_m, high_m >= last_m)] {
            let blunt_m = if is_outer { 0.0 } else { screen.depth_m };
            collector.end(at_m, high_m - low_m, blunt_m);
        }
    }
    collector
}
