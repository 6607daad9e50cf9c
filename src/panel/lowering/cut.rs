//! Plane cuts of solids and boxes: what a two-dimensional model sees of them.

use padfield_engine::case::{Dielectric, Extent, Prism, RoundBody, Screen, Solid};

/// A two-dimensional extent.
pub(super) fn extent(low: [f64; 2], high: [f64; 2]) -> Extent {
    Extent {
        low_m: [low[0], low[1], 0.0],
        high_m: [high[0], high[1], 0.0],
    }
}

/// The pieces a solid leaves in the plane where coordinate `normal` (0 is x, 1 is y) is `at_m`; axes: the
/// other one of x and y, and z.
pub(super) fn cut_solid(solid: &Solid, normal: usize, at_m: f64) -> Vec<Solid> {
    match normal {
        1 => cut_along_x(solid, at_m),
        _ => cut_along_x(&exchanged(solid), at_m),
    }
}

/// What the plane leaves of a dielectric box.
pub(super) fn cut_box(dielectric: Dielectric, normal: usize, at_m: f64) -> Option<Dielectric> {
    let Extent { low_m, high_m } = dielectric.extent;
    let across = 1 - normal;
    let is_met = low_m[normal] <= at_m && at_m <= high_m[normal];
    is_met.then(|| Dielectric {
        extent: extent([low_m[across], low_m[2]], [high_m[across], high_m[2]]),
        ..dielectric
    })
}

/// What the plane leaves of a screen.
pub(super) fn cut_screen(screen: Screen, normal: usize, at_m: f64) -> Option<Screen> {
    let Extent { low_m, high_m } = screen.extent;
    let across = 1 - normal;
    let is_met = low_m[normal] <= at_m && at_m <= high_m[normal];
    is_met.then(|| Screen {
        extent: extent([low_m[across], low_m[2]], [high_m[across], high_m[2]]),
        ..screen
    })
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
