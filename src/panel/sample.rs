//! A panel for tests: four square pads behind 4 mm of acrylic over a solid ground (invented).

use super::*;

pub(crate) fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

pub(crate) fn default<T>(value: T) -> Sourced<T> {
    Sourced {
        value,
        origin: Origin::Default,
    }
}

fn dielectric(name: &str, material: &str, thickness: f64, permittivity: f64) -> Layer {
    Layer {
        name: name.to_owned(),
        thickness: Toleranced::exact(mm(thickness)),
        content: LayerContent::Dielectric {
            material: material.to_owned(),
            permittivity: Toleranced::exact(Permittivity::from_relative(permittivity)),
            source: "from memory".to_owned(),
        },
        outline: None,
    }
}

fn copper(name: &str) -> Layer {
    Layer {
        name: name.to_owned(),
        thickness: Toleranced::exact(Length::from_metres(35e-6)),
        content: LayerContent::Copper,
        outline: None,
    }
}

pub(crate) fn square_pad(name: &str, side: f64, x: f64, y: f64) -> Pad {
    Pad {
        name: name.to_owned(),
        group: "keys".to_owned(),
        layer: 2,
        outline: Outline::Rectangle {
            width: mm(side),
            height: mm(side),
        },
        rotation_degrees: 0.0,
        centre: [mm(x), mm(y)],
        hole: None,
        feature: Length::from_metres(f64::INFINITY),
        trace_length: Sourced {
            value: mm(40.0),
            origin: Origin::Given,
        },
    }
}

pub(crate) fn ground(layer: usize, size: f64, clearance: f64) -> GroundArea {
    GroundArea {
        name: "plane".to_owned(),
        layer,
        size: [mm(size); 2],
        centre: [mm(0.0); 2],
        clearance: mm(clearance),
        fill: Fill::Solid,
        connection: Connection::Grounded,
    }
}

/// Layers: overlay 0, bond 1, front copper 2, board 3, back copper 4.
pub(crate) fn four_keys() -> Panel {
    Panel {
        title: "four keys".to_owned(),
        revision: None,
        board: default([mm(60.0); 2]),
        layers: vec![
            dielectric("overlay", "acrylic", 4.0, 2.8),
            dielectric("bond", "acrylic tape", 0.1, 3.2),
            copper("front"),
            dielectric("board", "FR-4", 1.6, 4.4),
            copper("back"),
        ],
        pads: vec![
            square_pad("vent", 15.0, -11.5, 11.5),
            square_pad("mist", 15.0, 11.5, 11.5),
            square_pad("light", 15.0, -11.5, -11.5),
            square_pad("set", 15.0, 11.5, -11.5),
        ],
        groups: vec![PadGroup {
            name: "keys".to_owned(),
            members: 0..4,
            layout: GroupLayout::Grid {
                columns: 2,
                rows: 2,
                gap: [mm(8.0); 2],
            },
            centre: [mm(0.0); 2],
            pad_box: [[mm(-7.5); 2], [mm(7.5); 2]],
        }],
        sliders: Vec::new(),
        grounds: vec![ground(4, 60.0, 0.0)],
        guards: Vec::new(),
        traces: Vec::new(),
        bezels: Vec::new(),
        objects: Vec::new(),
        slots: Vec::new(),
        films: Vec::new(),
        fingers: vec![Finger {
            name: "adult".to_owned(),
            contact: mm(10.0),
            dome: mm(16.0),
            length: default(mm(20.0)),
            on: None,
            offset: [mm(0.0); 2],
            distance: mm(0.0),
            return_path: ReturnPath::Earthed,
            glove: None,
            aim_error: default(mm(3.0)),
            source: "invented".to_owned(),
        }],
        idle: default(IdleState::Grounded),
        stray: Stray {
            pin: Sourced {
                value: Toleranced {
                    nominal: Capacitance::from_pf(6.0),
                    least: Capacitance::from_pf(4.8),
                    most: Capacitance::from_pf(7.2),
                },
                origin: Origin::Given,
            },
            trace: default(Toleranced::exact(LineCapacitance::from_pf_per_cm(0.45))),
        },
        electronics: Electronics::default(),
        model: default(Model::Volume),
        copper: default(CopperModel::Sheet),
        wall_distance: default(mm(100.0)),
        usage: Usage {
            users: default(Vec::new()),
            supplies: default(Vec::new()),
            body: default(Toleranced::exact(Capacitance::from_pf(120.0))),
            palm: None,
            palm_distance: None,
            near_miss: default(NearMiss::Either),
            drift_residue: None,
            noise_margin: default(3.0),
            wanted_ratio: default(2.0),
            release_share: default(0.75),
            touches_per_day: default(100.0),
            false_per_year: default(1.0),
            applications: Vec::new(),
        },
        environment: Environment::default(),
    }
}
