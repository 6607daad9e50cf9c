//! D, P3: problems about an axis, closed cans and open space.

use super::draw::Draw;
use super::{CLOSED, COUPLING, OPEN, OPEN_DISTANCE, OPEN_ISOLATED, TOUCHING, TOUCHING_FINENESS};
use crate::case::{Kind, Wall};
use crate::verify::Problem;

/// Published 1 of problems with details of a tenth or a twentieth of it [m].
const CENTIMETRE_M: f64 = 1e-2;

pub(super) fn problems() -> Vec<Problem> {
    let mut problems = discs_in_cans();
    problems.extend(can_walls());
    problems.extend(coaxes());
    problems.extend(open_discs());
    problems
}

fn can(id: &str, radius: f64, height: f64) -> Draw {
    Draw::new(id, Kind::Axisymmetric, &[0.0, radius, 0.0, height])
}

/// D1, D2: sheet discs on the interfaces of a layered can.
fn discs_in_cans() -> Vec<Problem> {
    let panel = [(4.4, 1.6), (3.0, 3.0), (1.0, 15.4)];
    vec![
        can("D1.1", 2.0, 2.0)
            .conductor("disc", &[&[0.0, 1.0, 1.0, 1.0]])
            .entry("D1.1", 0, 0, CLOSED)
            .done(),
        can("D1.2", 2.0, 2.0)
            .layers(&[(4.4, 0.5), (3.0, 0.5), (1.0, 1.0)])
            .conductor("disc", &[&[0.0, 1.0, 0.5, 0.5]])
            .entry("D1.2", 0, 0, CLOSED)
            .done(),
        can("D1.3", 25.0, 20.0)
            .layers(&panel)
            .conductor("disc", &[&[0.0, 7.0, 1.6, 1.6]])
            .entry("D1.3", 0, 0, CLOSED)
            .done(),
        can("D2", 25.0, 20.0)
            .layers(&panel)
            .conductor("pad", &[&[0.0, 7.0, 1.6, 1.6]])
            .conductor("finger", &[&[0.0, 5.0, 4.6, 4.6]])
            .entry("D2.c11", 0, 0, CLOSED)
            .entry("D2.c12", 0, 1, COUPLING)
            .entry("D2.c22", 1, 1, CLOSED)
            .done(),
    ]
}

/// D3, D4: floor (or a disc of it) to the ceiling of a can.
fn can_walls() -> Vec<Problem> {
    let halves = [(4.4, 0.5), (1.0, 0.5)];
    let walls = |id: &str, radius: f64, disc: f64, layers: &[(f64, f64)]| {
        can(id, radius, 1.0)
            .layers(layers)
            .conductor("floor", &[&[0.0, disc, 0.0, 0.0]])
            .conductor("ceiling", &[&[0.0, radius, 1.0, 1.0]])
            .touching(TOUCHING_FINENESS)
            .scaled_entry(id, 0, 1, -1.0, TOUCHING)
            .done()
    };
    vec![
        walls("D3.1", 1.0, 1.0, &[]),
        walls("D3.2", 1.0, 1.0, &halves),
        walls("D4.1", 2.0, 1.0, &[]),
        walls("D4.2", 2.0, 1.0, &halves),
    ]
}

/// D5: coaxial cylinders, one unit of their length between insulated ends.
fn coaxes() -> Vec<Problem> {
    let coax = |id: &str| {
        can(id, 2.0, 1.0)
            .wall(1, 0, Wall::Insulated)
            .wall(1, 1, Wall::Insulated)
            .conductor("inner", &[&[0.0, 1.0, 0.0, 1.0]])
            .entry(id, 0, 0, CLOSED)
    };
    vec![
        coax("D5").done(),
        coax("D5.layers")
            .dielectric(4.0, &[1.0, 1.5, 0.0, 1.0])
            .done(),
    ]
}

/// D6, D7, P3: discs in open space.
fn open_discs() -> Vec<Problem> {
    let far = OPEN_DISTANCE;
    let mut problems = vec![
        Draw::new("D6", Kind::Axisymmetric, &[0.0, far, -far, far])
            .open()
            .conductor("disc", &[&[0.0, 1.0, 0.0, 0.0]])
            .entry("D6", 0, 0, OPEN_ISOLATED)
            .done(),
    ];
    let above_floor = |id: &str| {
        let domain = [0.0, far, 0.0, far];
        Draw::in_unit(id, Kind::Axisymmetric, &domain, CENTIMETRE_M)
            .open()
            .wall(1, 0, Wall::Grounded)
    };
    // The mirror plane between oppositely charged discs is at 0 V and doubles C.
    for (id, distance) in [
        ("D7.1", 1.0),
        ("D7.0.5", 0.5),
        ("D7.0.2", 0.2),
        ("D7.0.1", 0.1),
    ] {
        let height = 0.5 * distance;
        problems.push(
            above_floor(id)
                .conductor("disc", &[&[0.0, 1.0, height, height]])
                .scaled_entry(id, 0, 0, 0.5, OPEN)
                .done(),
        );
    }
    problems.push(
        above_floor("P3")
            .layers(&[(2.65, 0.1)])
            .conductor("disc", &[&[0.0, 1.0, 0.1, 0.1]])
            .entry("P3", 0, 0, OPEN)
            .done(),
    );
    problems
}
