//! What the tests of screens and hatches share.

use padfield_engine::case::{Case, Conductor, Dielectric, Extent, Kind, Screen, Solid, Wall};
use padfield_engine::field::{FieldAnswer, Settings, solve};

pub const MM: f64 = 1e-3;

/// An extent with corners in mm, given across, along and up; two-dimensional kinds have no along.
pub fn extent(kind: Kind, low: [f64; 3], high: [f64; 3]) -> Extent {
    let placed = |at: [f64; 3]| {
        let at = if kind == Kind::Volume {
            at
        } else {
            [at[0], at[2], 0.0]
        };
        at.map(|v| v * MM)
    };
    Extent {
        low_m: placed(low),
        high_m: placed(high),
    }
}

/// A conductor of blocks.
pub fn conductor(name: &str, blocks: Vec<Extent>) -> Conductor {
    Conductor {
        name: name.into(),
        solids: blocks.into_iter().map(Solid::Block).collect(),
    }
}

/// A dielectric.
pub fn layer(name: &str, relative_permittivity: f64, extent: Extent) -> Dielectric {
    Dielectric {
        name: name.into(),
        relative_permittivity,
        extent,
        comes_with: None,
    }
}

/// A screen of the conductor `hatch`.
pub fn screen(extent: Extent, depth_m: f64) -> Screen {
    Screen {
        conductor: "hatch".into(),
        extent,
        depth_m,
    }
}

/// A case with nothing in it.
pub fn empty(kind: Kind, domain: Extent, walls: [[Wall; 2]; 3]) -> Case {
    Case {
        id: "screen".into(),
        title: "screen".into(),
        kind,
        domain,
        walls,
        background_relative_permittivity: 1.0,
        dielectrics: Vec::new(),
        conductors: Vec::new(),
        screens: Vec::new(),
    }
}

/// The answer of the grid of a fineness, whatever its error.
pub fn answer(case: &Case, fineness: f64) -> FieldAnswer {
    let settings = Settings {
        accuracy: 1e9,
        start_fineness: Some(fineness),
        ..Settings::default()
    };
    solve(case, None, &settings, &|_| {}).expect("an answer")
}
