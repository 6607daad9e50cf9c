//! Mirror symmetry of a panel's copper: a touch on one pad then answers for its mirror image.

use super::Panel;
use super::lowering::PanelMetal;
use padfield_engine::case::{Conductor, Solid};

/// Corners closer than this \[m\] count as the same.
pub(crate) const SAME_POINT_M: f64 = 1e-9;

/// A symmetry of the plane about the panel's middle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mirror {
    /// x becomes -x.
    LeftRight,
    /// y becomes -y.
    UpDown,
    /// Both: half a turn.
    HalfTurn,
}

impl Mirror {
    pub const ALL: [Self; 3] = [Self::LeftRight, Self::UpDown, Self::HalfTurn];

    /// Factors on x and y.
    pub fn signs(self) -> [f64; 2] {
        match self {
            Self::LeftRight => [-1.0, 1.0],
            Self::UpDown => [1.0, -1.0],
            Self::HalfTurn => [-1.0, -1.0],
        }
    }
}

/// For each conductor the index of its image, or nothing when the copper is not symmetric.
///
/// Every piece of a conductor must be found again, mirrored, in one and the same other conductor of as
/// many pieces. The board is centred on 0, 0 and needs no check.
pub fn images(conductors: &[Conductor], mirror: Mirror) -> Option<Vec<usize>> {
    conductors
        .iter()
        .map(|conductor| {
            conductors
                .iter()
                .position(|other| is_image(conductor, other, mirror))
        })
        .collect()
}

/// For each conductor of a panel the index of its image, or nothing when its metal, hatched areas among
/// it, the outlines of its layers or the slots in them are not symmetric.
pub fn panel_images(panel: &Panel, metal: &PanelMetal, mirror: Mirror) -> Option<Vec<usize>> {
    let signs = mirror.signs();
    let near = |a: f64, b: f64| (a - b).abs() <= SAME_POINT_M;
    let outlines = panel.layers.iter().filter_map(|layer| layer.outline);
    let mut centres = outlines.map(|outline| outline.centre.map(|at| at.metres()));
    if centres.any(|at| (0..2).any(|axis| !near(signs[axis] * at[axis], at[axis]))) {
        return None;
    }
    let slots: Vec<_> = panel
        .slots
        .iter()
        .flat_map(|slot| {
            let strips = slot.strips(&panel.groups);
            strips.into_iter().map(move |strip| (slot, strip))
        })
        .collect();
    let found_again = slots.iter().all(|(slot, [low, high])| {
        slots.iter().any(|(other, candidate)| {
            slot.cuts_like(other)
                && (0..2).all(|axis| {
                    let ends = [signs[axis] * low[axis], signs[axis] * high[axis]];
                    near(candidate[0][axis], ends[0].min(ends[1]))
                        && near(candidate[1][axis], ends[0].max(ends[1]))
                })
        })
    });
    let images = found_again
        .then(|| images(&metal.conductors, mirror))
        .flatten()?;
    let index = |name: &str| metal.conductors.iter().position(|c| c.name == name);
    let screens_alike = metal.screens.iter().all(|screen| {
        let wanted = index(&screen.conductor).and_then(|own| images.get(own).copied());
        let image = Fingerprint::new(&Solid::Block(screen.extent), signs);
        metal.screens.iter().any(|other| {
            index(&other.conductor) == wanted
                && near(screen.depth_m, other.depth_m)
                && image.matches(&Fingerprint::new(&Solid::Block(other.extent), [1.0, 1.0]))
        })
    });
    screens_alike.then_some(images)
}

fn is_image(conductor: &Conductor, other: &Conductor, mirror: Mirror) -> bool {
    if conductor.solids.len() != other.solids.len() {
        return false;
    }
    let candidates = other.solids.iter();
    let candidates: Vec<Fingerprint> = candidates
        .map(|solid| Fingerprint::new(solid, [1.0, 1.0]))
        .collect();
    conductor.solids.iter().all(|solid| {
        let wanted = Fingerprint::new(solid, mirror.signs());
        candidates.iter().any(|candidate| wanted.matches(candidate))
    })
}

/// A solid as numbers that do not depend on where its outline starts and which way it runs.
struct Fingerprint {
    /// By x: a hatch has tens of thousands of them.
    corners: Vec<[f64; 2]>,
    numbers: Vec<f64>,
}

impl Fingerprint {
    fn new(solid: &Solid, signs: [f64; 2]) -> Self {
        let turn = |corner: [f64; 2]| [signs[0] * corner[0], signs[1] * corner[1]];
        let mut print = match solid {
            Solid::Block(block) => {
                let (low, high) = (block.low_m, block.high_m);
                let corners = [
                    [low[0], low[1]],
                    [high[0], low[1]],
                    [high[0], high[1]],
                    [low[0], high[1]],
                ];
                Self {
                    corners: corners.into_iter().map(turn).collect(),
                    numbers: vec![low[2], high[2]],
                }
            }
            Solid::Round(round) => Self {
                corners: vec![turn(round.centre_m)],
                numbers: vec![
                    round.bottom_m,
                    round.top_m,
                    round.contact_radius_m,
                    round.dome_radius_m,
                ],
            },
            Solid::Prism(prism) => Self {
                corners: prism
                    .outlines_m
                    .iter()
                    .flatten()
                    .copied()
                    .map(turn)
                    .collect(),
                numbers: vec![prism.bottom_m, prism.top_m],
            },
        };
        print.corners.sort_by(|a, b| a[0].total_cmp(&b[0]));
        print
    }

    fn matches(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= SAME_POINT_M;
        self.numbers.len() == other.numbers.len()
            && self.corners.len() == other.corners.len()
            && self
                .numbers
                .iter()
                .zip(&other.numbers)
                .all(|(a, b)| near(*a, *b))
            && self.corners.iter().all(|corner| {
                // A little more than what is near, against rounding.
                let first = corner[0] - 2.0 * SAME_POINT_M;
                let start = other.corners.partition_point(|found| found[0] < first);
                other.corners[start..]
                    .iter()
                    .take_while(|found| found[0] <= corner[0] + 2.0 * SAME_POINT_M)
                    .any(|found| near(corner[0], found[0]) && near(corner[1], found[1]))
            })
    }
}
