//! How near to each other conductors come in a level of a volume.

use crate::case::{Case, Solid};
use crate::polygon::{Rectangle, boxes_apart, corners, distance, polygon_box};

/// Corners that stand for a circle where a gap beside it is measured: a quarter of a percent of the radius.
const CORNERS: usize = 64;

/// Smallest gap \[m\] between two conductors that lie in the same level; infinite where no two do. Domes, whose foot
/// nothing stands beside, and a conductor that roams are left out.
pub(super) fn smallest_gap_m(case: &Case, level_m: f64, roaming: Option<&str>) -> f64 {
    let slack = 1e-9 * (case.domain.high_m[2] - case.domain.low_m[2]);
    let mut pieces: Vec<Piece> = Vec::new();
    for (index, conductor) in case.conductors.iter().enumerate() {
        if roaming == Some(&conductor.name) {
            continue;
        }
        let there = conductor.solids.iter().filter(|solid| {
            let [low, high] = heights(solid);
            low - slack <= level_m && level_m <= high + slack
        });
        pieces.extend(there.filter_map(|solid| Piece::of(index, solid)));
    }
    // In order of their low ends, so that what is too far off ends the search.
    pieces.sort_by(|a, b| a.bounds[0][0].total_cmp(&b.bounds[0][0]));
    let mut least = f64::INFINITY;
    let mut open: Vec<&Piece> = Vec::new();
    for piece in &pieces {
        open.retain(|other| piece.bounds[0][0] - other.bounds[1][0] < least);
        for other in open.iter().filter(|o| o.conductor != piece.conductor) {
            if boxes_apart(piece.bounds, other.bounds) < least {
                let apart = distance(&piece.outlines, &other.outlines);
                // Pieces that overlap have no gap.
                if apart > slack {
                    least = least.min(apart);
                }
            }
        }
        open.push(piece);
    }
    least
}

fn heights(solid: &Solid) -> [f64; 2] {
    match solid {
        Solid::Block(extent) => [extent.low_m[2], extent.high_m[2]],
        Solid::Round(body) => [body.bottom_m, body.top_m],
        Solid::Prism(prism) => [prism.bottom_m, prism.top_m],
    }
}

/// What a level cuts of a conductor.
struct Piece {
    conductor: usize,
    outlines: Vec<Vec<[f64; 2]>>,
    bounds: Rectangle,
}

impl Piece {
    /// None for a dome.
    fn of(conductor: usize, solid: &Solid) -> Option<Self> {
        let outlines = match solid {
            Solid::Block(extent) => {
                let lateral = [&extent.low_m, &extent.high_m].map(|at| [at[0], at[1]]);
                vec![corners(lateral)]
            }
            Solid::Prism(prism) => prism.outlines_m.clone(),
            Solid::Round(body) if body.dome_radius_m > body.contact_radius_m => return None,
            Solid::Round(body) => {
                let corner = |k: usize| {
                    let angle = std::f64::consts::TAU * k as f64 / CORNERS as f64;
                    let (sin, cos) = angle.sin_cos();
                    let [x, y] = body.centre_m;
                    let radius = body.dome_radius_m;
                    [x + radius * cos, y + radius * sin]
                };
                vec![(0..CORNERS).map(corner).collect()]
            }
        };
        Some(Self {
            conductor,
            bounds: polygon_box(&outlines),
            outlines,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{Conductor, Extent, Kind, RoundBody, Wall};

    fn block(low: [f64; 2], high: [f64; 2], level: f64) -> Solid {
        Solid::Block(Extent {
            low_m: [low[0], low[1], level],
            high_m: [high[0], high[1], level],
        })
    }

    fn disc(x: f64, radii: [f64; 2]) -> Solid {
        Solid::Round(RoundBody {
            centre_m: [x, 0.0],
            contact_radius_m: radii[0],
            dome_radius_m: radii[1],
            bottom_m: 0.0,
            top_m: if radii[0] < radii[1] { 3.0 } else { 0.0 },
        })
    }

    fn gap(solids: Vec<Solid>, roaming: Option<&str>) -> f64 {
        let conductors = solids.into_iter().enumerate();
        let case = Case {
            id: String::new(),
            title: String::new(),
            kind: Kind::Volume,
            domain: Extent {
                low_m: [-20.0; 3],
                high_m: [20.0; 3],
            },
            walls: [[Wall::Open; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: Vec::new(),
            conductors: conductors
                .map(|(index, solid)| Conductor {
                    name: index.to_string(),
                    solids: vec![solid],
                })
                .collect(),
            screens: Vec::new(),
        };
        smallest_gap_m(&case, 0.0, roaming)
    }

    #[test]
    fn gaps_are_those_of_one_level() {
        let left = || block([-4.0, -1.0], [-1.0, 1.0], 0.0);
        let right = |level| block([1.5, 2.0], [4.0, 3.0], level);
        // Corner to corner: 2.5 across and 1 up.
        approx::assert_relative_eq!(gap(vec![left(), right(0.0)], None), 7.25_f64.sqrt());
        assert!(gap(vec![left(), right(1.0)], None).is_infinite());
        assert!(gap(vec![left()], None).is_infinite());
        let round = vec![left(), disc(3.0, [2.0; 2]), right(0.0)];
        // Disc and block overlap, and that is no gap.
        approx::assert_relative_eq!(gap(round, None), 2.0, max_relative = 1e-3);
        assert!(gap(vec![left(), disc(3.0, [1.0, 2.0])], None).is_infinite());
        assert!(gap(vec![left(), right(0.0)], Some("1")).is_infinite());
    }
}
