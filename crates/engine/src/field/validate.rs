//! What makes a case a field problem that can be solved.

use super::answer::FieldError;
use crate::case::{Case, Extent, Kind, Screen, Solid, Wall};

/// Largest number of conductors or dielectrics: marks are 16 bits.
const MOST: usize = 60_000;

pub(crate) fn validate(case: &Case) -> Result<(), FieldError> {
    let fail = |text: String| Err(FieldError::Invalid(text));
    let dimensions = case.kind.dimensions();
    let domain = &case.domain;
    for d in 0..dimensions {
        let (low, high) = (domain.low_m[d], domain.high_m[d]);
        if !(low.is_finite() && high.is_finite() && high > low) {
            return fail(format!("the outer wall has no extent along axis {d}"));
        }
    }
    if case.kind == Kind::Axisymmetric && domain.low_m[0] != 0.0 {
        return fail("an axisymmetric case must reach from r = 0".into());
    }
    if case.kind == Kind::Axisymmetric && case.walls[0][0] != Wall::Insulated {
        return fail("r = 0 is the axis, not a wall: it must be insulated".into());
    }
    if case.conductors.is_empty() {
        return fail("there is no conductor".into());
    }
    if case.conductors.len() > MOST || case.dielectrics.len() > MOST {
        return fail(format!("more than {MOST} conductors or dielectrics"));
    }
    let positive = |eps: f64| eps.is_finite() && eps > 0.0;
    if !positive(case.background_relative_permittivity) {
        return fail("the background permittivity must be positive".into());
    }
    for dielectric in &case.dielectrics {
        if !positive(dielectric.relative_permittivity) {
            return fail(format!(
                "permittivity of {:?} must be positive",
                dielectric.name
            ));
        }
    }
    for (index, conductor) in case.conductors.iter().enumerate() {
        let name = &conductor.name;
        if case.conductors[..index].iter().any(|c| c.name == *name) {
            return fail(format!("two conductors are named {name:?}"));
        }
        let screened = case.screens.iter().any(|s| s.conductor == *name);
        if conductor.solids.is_empty() && !screened {
            return fail(format!("conductor {name:?} has no pieces"));
        }
        for solid in &conductor.solids {
            validate_solid(case, name, solid)?;
        }
    }
    if case.screens.len() > MOST {
        return fail(format!("more than {MOST} screens"));
    }
    for screen in &case.screens {
        validate_screen(case, screen)?;
    }
    Ok(())
}

/// A solid fits the kind of the case and has an extent; a box lies inside the outer wall.
fn validate_solid(case: &Case, name: &str, solid: &Solid) -> Result<(), FieldError> {
    let fault = match solid {
        Solid::Block(e) => {
            let axes = 0..case.kind.dimensions();
            let flat = axes.clone().filter(|&d| e.low_m[d] == e.high_m[d]);
            if !axes.clone().all(|d| e.low_m[d] <= e.high_m[d]) || flat.count() > 1 {
                format!("a piece of conductor {name:?} is not a box or a sheet")
            } else if !is_inside(e, case) {
                format!("conductor {name:?} reaches outside the outer wall")
            } else {
                return Ok(());
            }
        }
        Solid::Round(_) if case.kind == Kind::Planar => {
            format!("conductor {name:?} is round, but the case is planar")
        }
        Solid::Round(b)
            if b.contact_radius_m >= 0.0
                && b.dome_radius_m > 0.0
                && b.dome_radius_m >= b.contact_radius_m
                && b.top_m >= b.bottom_m =>
        {
            return Ok(());
        }
        Solid::Round(_) => format!("the round conductor {name:?} has no extent"),
        Solid::Prism(_) if case.kind != Kind::Volume => {
            format!("conductor {name:?} has an outline, but the case is no volume")
        }
        Solid::Prism(p)
            if p.outlines_m.iter().any(|o| o.len() < 3)
                || p.outlines_m.is_empty()
                || p.top_m < p.bottom_m =>
        {
            format!("the outline of conductor {name:?} has no area")
        }
        Solid::Prism(_) => return Ok(()),
    };
    Err(FieldError::Invalid(fault))
}

/// Rounding \[m\] within which a place along an axis is in the outer wall.
fn slack(case: &Case, axis: usize) -> f64 {
    1e-9 * (case.domain.high_m[axis] - case.domain.low_m[axis])
}

fn is_inside(extent: &Extent, case: &Case) -> bool {
    (0..case.kind.dimensions()).all(|d| {
        extent.low_m[d] >= case.domain.low_m[d] - slack(case, d)
            && extent.high_m[d] <= case.domain.high_m[d] + slack(case, d)
    })
}

/// A screen lies flat inside the outer wall, belongs to a conductor and has a depth.
fn validate_screen(case: &Case, screen: &Screen) -> Result<(), FieldError> {
    let name = &screen.conductor;
    let fail = |text: String| Err(FieldError::Invalid(text));
    if !case.conductors.iter().any(|c| &c.name == name) {
        return fail(format!(
            "a screen belongs to {name:?}, which is no conductor"
        ));
    }
    if !(screen.depth_m.is_finite() && screen.depth_m > 0.0) {
        return fail(format!(
            "the depth of a screen of {name:?} must be positive; a solid sheet is a piece of the \
             conductor"
        ));
    }
    let (extent, domain) = (&screen.extent, &case.domain);
    let last = case.kind.dimensions() - 1;
    let spans = (0..last).all(|d| extent.high_m[d] > extent.low_m[d]);
    if !spans || extent.low_m[last] != extent.high_m[last] {
        return fail(format!(
            "a screen of {name:?} is not a rectangle normal to the last axis"
        ));
    }
    if !is_inside(extent, case) {
        return fail(format!(
            "a screen of {name:?} reaches outside the outer wall"
        ));
    }
    for (side, wall_m) in [domain.low_m[last], domain.high_m[last]]
        .into_iter()
        .enumerate()
    {
        let on_wall = (extent.low_m[last] - wall_m).abs() <= slack(case, last);
        if on_wall && case.walls[last][side] != Wall::Insulated {
            return fail(format!(
                "a screen of {name:?} lies in the outer wall, which is not insulated"
            ));
        }
    }
    Ok(())
}
