//! A case drawn in the published unit of length.

use crate::case::{Case, Conductor, Dielectric, Extent, Kind, Solid, Wall};
use crate::verify::reference::reference;
use crate::verify::{Bracket, Check, Problem, Readout, Tolerance};

/// Length that stands for 1 in the published geometries [m], unless a problem says otherwise.
const MILLIMETRE_M: f64 = 1e-3;

/// Builds a [`Problem`] step by step; bounds are `[low, high]` per axis in published units.
pub(super) struct Draw {
    problem: Problem,
    touching: bool,
}

impl Draw {
    /// A grounded box, empty.
    pub fn new(id: &str, kind: Kind, domain: &[f64]) -> Self {
        Self::in_unit(id, kind, domain, MILLIMETRE_M)
    }

    /// The same with another length for the published 1 [m], where details would fall below the
    /// finest local length of the grid.
    pub fn in_unit(id: &str, kind: Kind, domain: &[f64], unit_m: f64) -> Self {
        let mut walls = [[Wall::Grounded; 2]; 3];
        if kind == Kind::Axisymmetric {
            walls[0][0] = Wall::Insulated;
        }
        if kind != Kind::Volume {
            walls[2] = [Wall::Insulated; 2];
        }
        Self {
            problem: Problem {
                case: Case {
                    id: id.to_owned(),
                    title: id.to_owned(),
                    kind,
                    domain: extent(domain, unit_m),
                    walls,
                    background_relative_permittivity: 1.0,
                    dielectrics: Vec::new(),
                    screens: Vec::new(),
                    conductors: Vec::new(),
                },
                unit_m,
                fixed_fineness: None,
                checks: Vec::new(),
            },
            touching: false,
        }
    }

    /// Sets one face: axis, 0 for the low and 1 for the high side.
    pub fn wall(mut self, axis: usize, side: usize, wall: Wall) -> Self {
        self.problem.case.walls[axis][side] = wall;
        self
    }

    /// Opens every grounded face.
    pub fn open(mut self) -> Self {
        for wall in self.problem.case.walls.iter_mut().flatten() {
            if *wall == Wall::Grounded {
                *wall = Wall::Open;
            }
        }
        self
    }

    pub fn dielectric(mut self, relative_permittivity: f64, bounds: &[f64]) -> Self {
        let dielectrics = &mut self.problem.case.dielectrics;
        dielectrics.push(Dielectric {
            name: format!("dielectric {}", dielectrics.len() + 1),
            relative_permittivity,
            extent: extent(bounds, self.problem.unit_m),
            comes_with: None,
        });
        self
    }

    /// Layers stacked from the low end of the last axis: relative permittivity and thickness.
    pub fn layers(mut self, layers: &[(f64, f64)]) -> Self {
        let domain = self.problem.case.domain;
        let vertical = self.problem.case.kind.dimensions() - 1;
        let unit_m = self.problem.unit_m;
        // Added in published units, so that levels equal those of the conductors to the last bit.
        let mut level = domain.low_m[vertical] / unit_m;
        for &(relative_permittivity, thickness) in layers {
            let mut layer = domain;
            layer.low_m[vertical] = level * unit_m;
            level += thickness;
            layer.high_m[vertical] = level * unit_m;
            let dielectrics = &mut self.problem.case.dielectrics;
            dielectrics.push(Dielectric {
                name: format!("layer {}", dielectrics.len() + 1),
                relative_permittivity,
                extent: layer,
                comes_with: None,
            });
        }
        self
    }

    /// A conductor of blocks and sheets.
    pub fn conductor(mut self, name: &str, pieces: &[&[f64]]) -> Self {
        let unit_m = self.problem.unit_m;
        self.problem.case.conductors.push(Conductor {
            name: name.to_owned(),
            solids: pieces
                .iter()
                .map(|bounds| Solid::Block(extent(bounds, unit_m)))
                .collect(),
        });
        self
    }

    /// Stays at one grid fineness, see [`Problem::fixed_fineness`].
    pub fn fixed(mut self, fineness: f64) -> Self {
        self.problem.fixed_fineness = Some(fineness);
        self
    }

    /// The same where electrodes touch: no bounds exist.
    pub fn touching(mut self, fineness: f64) -> Self {
        self.touching = true;
        self.fixed(fineness)
    }

    /// A check on one entry; closed boxes without touching electrodes demand the bracket.
    pub fn entry(self, id: &str, row: usize, column: usize, tolerance: Tolerance) -> Self {
        self.scaled_entry(id, row, column, 1.0, tolerance)
    }

    /// A check on one entry times a factor.
    pub fn scaled_entry(
        self,
        id: &str,
        row: usize,
        column: usize,
        factor: f64,
        tolerance: Tolerance,
    ) -> Self {
        let readout = Readout::Entry {
            row,
            column,
            factor,
        };
        self.check(id, readout, tolerance)
    }

    /// Any check.
    pub fn check(mut self, id: &str, readout: Readout, tolerance: Tolerance) -> Self {
        let walls = self.problem.case.walls;
        let open = walls.iter().flatten().any(|wall| *wall == Wall::Open);
        self.problem.checks.push(Check {
            reference: reference(id),
            readout,
            tolerance,
            bracket: match (self.touching, open) {
                (true, _) => Bracket::Absent,
                (false, true) => Bracket::Shown,
                (false, false) => Bracket::Demanded,
            },
        });
        self
    }

    pub fn done(self) -> Problem {
        self.problem
    }
}

fn extent(bounds: &[f64], unit_m: f64) -> Extent {
    let mut extent = Extent {
        low_m: [0.0; 3],
        high_m: [0.0; 3],
    };
    for (axis, pair) in bounds.chunks_exact(2).enumerate() {
        extent.low_m[axis] = pair[0] * unit_m;
        extent.high_m[axis] = pair[1] * unit_m;
    }
    extent
}
