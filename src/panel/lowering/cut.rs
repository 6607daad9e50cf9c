//! Plane cuts of solids and boxes: what a two-dimensional model sees of them.

use padfield_engine::case::{Conductor, Dielectric, Extent, Prism, RoundBody, Screen, Solid};

/// A two-dimensional extent.
pub(super) fn extent(low: [f64; 2], high: [f64; 2]) -> Extent {
    Extent {
        low_m: [low[0], low[1], 0.0],
        high_m: [high[0], high[1], 0.0],
    }
}

/// The plane where coordinate `normal` (0 is x, 1 is y) is `at_m`; axes of what it cuts: the other one of x
/// and y, and z.
#[derive(Clone, Copy)]
pub(super) struct Plane {
    pub normal: usize,
    pub at_m: f64,
}

impl Plane {
    /// The axis of the panel that lies in the plane.
    pub fn across(self) -> usize {
        1 - self.normal
    }

    /// The pieces it leaves of a solid.
    fn solid(self, solid: &Solid) -> Vec<Solid> {
        match self.normal {
            1 => cut_along_x(solid, self.at_m),
            _ => cut_along_x(&exchanged(solid), self.at_m),
        }
    }

    /// What it leaves of an extent.
    fn extent(self, Extent { low_m, high_m }: Extent) -> Option<Extent> {
        let (normal, across) = (self.normal, self.across());
        let is_met = low_m[normal] <= self.at_m && self.at_m <= high_m[normal];
        is_met.then(|| extent([low_m[across], low_m[2]], [high_m[across], high_m[2]]))
    }

    /// What it leaves of a dielectric box.
    pub fn dielectric(self, dielectric: Dielectric) -> Option<Dielectric> {
        Some(Dielectric {
            extent: self.extent(dielectric.extent)?,
            ..dielectric
        })
    }

    /// What it leaves of conductors and screens.
    pub fn metal(self, conductors: Vec<Conductor>, screens: Vec<Screen>) -> CutMetal {
        let screens = screens.into_iter().filter_map(|screen| {
            Some(Screen {
                extent: self.extent(screen.extent)?,
                ..screen
            })
        });
        let mut cut = CutMetal {
            screens: screens.collect(),
            conductors: Vec::new(),
            missed: Vec::new(),
        };
        for Conductor { name, solids } in conductors {
            let solids: Vec<Solid> = solids.iter().flat_map(|solid| self.solid(solid)).collect();
            let mut screens = cut.screens.iter();
            if !solids.is_empty() || screens.any(|screen| screen.conductor == name) {
                cut.conductors.push(Conductor { name, solids });
            } else {
                cut.missed.push(name);
            }
        }
        cut
    }
}

/// What a plane leaves of the metal of a panel.
pub(super) struct CutMetal {
    pub conductors: Vec<Conductor>,
    pub screens: Vec<Screen>,
    /// Conductors that it does not meet.
    pub missed: Vec<String>,
}

/// The solid with x and y exchanged.
fn exchanged(solid: &Solid) -> Solid {
    let turn = |[x, y, z]: [f64; 3]| [y, x, z];
    match solid {
        Solid::Block(block) => Solid::Block(Extent {
            low_m: turn(block.low_m),
            high_m: turn(block.high_m),
        }),
        Solid::Round(round) => Solid::Round(RoundBody {
            centre_m: [round.centre_m[1], round.centre_m[0]],
            ..*round
        }),
        Solid::Prism(prism) => {
            let outlines = prism.outlines_m.iter();
            let turned = outlines.map(|outline| outline.iter().map(|[x, y]| [*y, *x]).collect());
            Solid::Prism(Prism {
                outlines_m: turned.collect(),
                ..prism.clone()
            })
        }
    }
}

fn cut_along_x(solid: &Solid, cut_y: f64) -> Vec<Solid> {
    let (chords, bottom, top) = match solid {
        Solid::Block(block) => {
            let inside = block.low_m[1] <= cut_y && cut_y <= block.high_m[1];
            let chord = inside.then_some([block.low_m[0], block.high_m[0]]);
            (chord.into_iter().collect(), block.low_m[2], block.high_m[2])
        }
        // Copper discs are straight cylinders: contact and dome radius agree.
        Solid::Round(round) => {
            let off = cut_y - round.centre_m[1];
            let squared = round.contact_radius_m.powi(2) - off * off;
            let chord = (squared > 0.0).then(|| {
                let half = squared.sqrt();
                [round.centre_m[0] - half, round.centre_m[0] + half]
            });
            (chord.into_iter().collect(), round.bottom_m, round.top_m)
        }
        Solid::Prism(prism) => (
            polygon_chords(&prism.outlines_m, cut_y),
            prism.bottom_m,
            prism.top_m,
        ),
    };
    chords
        .into_iter()
        .map(|[low, high]: [f64; 2]| Solid::Block(extent([low, bottom], [high, top])))
        .collect()
}

/// Intervals along x where the line y = `cut_y` runs inside the outlines (even-odd rule).
fn polygon_chords(outlines: &[Vec<[f64; 2]>], cut_y: f64) -> Vec<[f64; 2]> {
    let mut crossings: Vec<f64> = outlines
        .iter()
        .flat_map(|outline| {
            let next = outline.iter().cycle().skip(1);
            outline.iter().zip(next)
        })
        .filter(|(a, b)| (a[1] > cut_y) != (b[1] > cut_y))
        .map(|(a, b)| a[0] + (cut_y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
        .collect();
    crossings.sort_by(f64::total_cmp);
    crossings
        .chunks_exact(2)
        .map(|pair| [pair[0], pair[1]])
        .filter(|[low, high]| low < high)
        .collect()
}
