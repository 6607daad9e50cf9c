use approx::assert_abs_diff_eq;

use super::super::sample::{four_keys, ground, mm, square_pad};
use super::super::{
    Connection, CopperModel, Guard, GuardPlace, LayerContent, LayerOutline, Outline,
};
use super::*;
use crate::panel::symmetry::{Mirror, images};

fn lowered(panel: &Panel) -> Lowered {
    lower(
        panel,
        &panel.pads[0].name,
        &panel.fingers[0],
        LoweringOptions::default(),
    )
    .expect("valid panel")
}

fn conductor<'a>(lowered: &'a Lowered, name: &str) -> &'a Conductor {
    let mut all = lowered.case.conductors.iter();
    all.find(|c| c.name == name).expect("conductor exists")
}

fn block(solid: &Solid) -> Extent {
    match solid {
        Solid::Block(extent) => *extent,
        other => panic!("expected a block, found {other:?}"),
    }
}

fn assert_extent(extent: Extent, low_mm: [f64; 3], high_mm: [f64; 3]) {
    for axis in 0..3 {
        assert_abs_diff_eq!(extent.low_m[axis] * 1e3, low_mm[axis], epsilon = 1e-9);
        assert_abs_diff_eq!(extent.high_m[axis] * 1e3, high_mm[axis], epsilon = 1e-9);
    }
}

/// One disc or other pad in the middle over a plane.
fn single(outline: Outline) -> Panel {
    let mut panel = four_keys();
    panel.pads = vec![square_pad("pad", 10.0, 0.0, 0.0)];
    panel.pads[0].outline = outline;
    panel
}

fn disc() -> Outline {
    Outline::Disc { diameter: mm(10.0) }
}

#[test]
fn a_layer_is_as_large_as_its_own_outline() {
    let mut panel = four_keys();
    let plain = lowered(&panel);
    let outline = |size: [Length; 2], x: f64| {
        Some(LayerOutline {
            size,
            centre: [mm(x), mm(0.0)],
        })
    };
    // The board's own outline is no outline.
    panel.layers[0].outline = outline(panel.board.value, 0.0);
    assert_eq!(lowered(&panel), plain);
    panel.layers[0].outline = outline([mm(200.0), mm(50.0)], 7.0);
    let result = lowered(&panel);
    let cover = result.case.dielectrics[0].extent;
    let top = plain.case.dielectrics[0].extent;
    assert_extent(
        cover,
        [-93.0, -25.0, 1e3 * top.low_m[2]],
        [107.0, 25.0, 1e3 * top.high_m[2]],
    );
    assert_eq!(result.case.dielectrics[1], plain.case.dielectrics[1]);
    // The outer wall keeps its distance from it, and the panel is no longer its own mirror image in x.
    let wall = panel.wall_distance.value.mm();
    assert_abs_diff_eq!(
        result.case.domain.high_m[0] * 1e3,
        107.0 + wall,
        epsilon = 1e-9
    );
    let metal = panel_metal(&panel).expect("metal");
    let image = |mirror| crate::panel::symmetry::panel_images(&panel, &metal, mirror).is_some();
    assert_eq!(
        [image(Mirror::LeftRight), image(Mirror::UpDown)],
        [false, true]
    );
    // In a cut the cover is there where the cut meets it.
    panel.model.value = Model::Section;
    let cut = lowered(&panel).case;
    assert_abs_diff_eq!(
        cut.dielectrics[0].extent.high_m[0] * 1e3,
        107.0,
        epsilon = 1e-9
    );
    panel.layers[0].outline = outline([mm(200.0), mm(2.0)], 0.0);
    assert_eq!(
        lowered(&panel).case.dielectrics.len(),
        cut.dielectrics.len() - 1
    );
}

#[test]
fn a_layer_of_zero_thickness_is_not_there() {
    let mut closed = four_keys();
    closed.layers[1].thickness = padfield_engine::units::Toleranced::exact(mm(0.0));
    let closed = lowered(&closed).case;
    let mut without = four_keys();
    without.layers.remove(1);
    for pad in &mut without.pads {
        pad.layer -= 1;
    }
    without.grounds[0].layer -= 1;
    assert_eq!(closed, lowered(&without).case);
}

#[test]
fn a_volume_of_sheets() {
    let result = lowered(&four_keys());
    let names: Vec<_> = result
        .case
        .conductors
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    assert_eq!(names, ["vent", "mist", "light", "set", GROUND, FINGER]);
    let pad = block(&conductor(&result, "vent").solids[0]);
    assert_extent(pad, [-19.0, 4.0, 0.0], [-4.0, 19.0, 0.0]);
    let plane = block(&conductor(&result, GROUND).solids[0]);
    assert_extent(plane, [-30.0, -30.0, -1.6], [30.0, 30.0, -1.6]);
    let Solid::Round(finger) = &conductor(&result, FINGER).solids[0] else {
        panic!("the finger is round");
    };
    assert_abs_diff_eq!(finger.bottom_m, 4.1e-3, epsilon = 1e-12);
    assert_abs_diff_eq!(finger.top_m, 24.1e-3, epsilon = 1e-12);
    assert_eq!(finger.centre_m, [-11.5e-3, 11.5e-3]);
    // Faces that meet are equal to the last bit: the grid must not see a sliver.
    let [overlay, bond, board] = &result.case.dielectrics[..] else {
        panic!("three dielectrics");
    };
    assert_eq!(overlay.extent.low_m[2], bond.extent.high_m[2]);
    assert_eq!(overlay.extent.high_m[2], finger.bottom_m);
    assert_eq!(bond.extent.low_m[2], 0.0);
    assert_eq!(board.extent.high_m[2], 0.0);
    assert_extent(
        result.case.domain,
        [-130.0, -130.0, -101.6],
        [130.0, 130.0, 124.1],
    );
    assert_eq!(result.case.walls, [[Wall::Open; 2]; 3]);
}

#[test]
fn thick_copper_takes_its_height_and_is_embedded_from_above() {
    let mut panel = four_keys();
    panel.copper.value = CopperModel::Thick;
    let result = lowered(&panel);
    let pad = block(&conductor(&result, "mist").solids[0]);
    assert_abs_diff_eq!(pad.low_m[2], 0.0);
    assert_abs_diff_eq!(pad.high_m[2], 35e-6, epsilon = 1e-15);
    let bond = &result.case.dielectrics[1];
    assert_eq!(bond.name, "bond");
    assert_eq!(bond.extent.low_m[2], 0.0);
    let plane = block(&conductor(&result, GROUND).solids[0]);
    assert_abs_diff_eq!(plane.low_m[2], -1.6e-3 - 35e-6, epsilon = 1e-12);
    assert_eq!(result.case.dielectrics[2].extent.low_m[2], plane.low_m[2]);
}

#[test]
fn ground_beside_pads_keeps_its_clearance() {
    let mut panel = four_keys();
    panel.grounds = vec![ground(2, 60.0, 2.0)];
    let result = lowered(&panel);
    let blocks = conductor(&result, GROUND).solids.iter().map(block);
    let area: f64 = blocks
        .map(|b| (b.high_m[0] - b.low_m[0]) * (b.high_m[1] - b.low_m[1]) * 1e6)
        .sum();
    assert_abs_diff_eq!(area, 3600.0 - 4.0 * 19.0 * 19.0, epsilon = 1e-6);

    // One disc among the pads: everything becomes polygons, the copper area follows.
    panel.pads[3].outline = disc();
    let result = lowered(&panel);
    let area: f64 = conductor(&result, GROUND)
        .solids
        .iter()
        .map(|solid| match solid {
            Solid::Prism(prism) => super::super::outline::area(&prism.outlines_m) * 1e6,
            other => panic!("expected a prism, found {other:?}"),
        })
        .sum();
    let wanted = 3600.0 - 3.0 * 361.0 - std::f64::consts::PI * 49.0;
    // 64 chords around the disc, corners kept sharp: a little more than the circle is cut out.
    assert_abs_diff_eq!(area, wanted, epsilon = 0.5);
}

#[test]
fn pads_take_the_simplest_solid() {
    let mut panel = four_keys();
    panel.pads[0].rotation_degrees = 90.0;
    panel.pads[1].outline = disc();
    panel.pads[2].rotation_degrees = 45.0;
    panel.pads[3].outline = Outline::Ring {
        outer_diameter: mm(12.0),
        inner_diameter: mm(4.0),
    };
    let result = lowered(&panel);
    let kinds: Vec<_> = ["vent", "mist", "light", "set"]
        .iter()
        .map(|name| match &conductor(&result, name).solids[0] {
            Solid::Block(_) => "block",
            Solid::Round(_) => "round",
            Solid::Prism(prism) => ["", "prism", "prism with hole"][prism.outlines_m.len()],
        })
        .collect();
    assert_eq!(kinds, ["block", "round", "prism", "prism with hole"]);
}

#[test]
fn guards_run_between_columns_and_rows() {
    let mut panel = four_keys();
    let guard = |width: f64| Guard {
        name: "guard".to_owned(),
        group: "keys".to_owned(),
        layer: 2,
        place: GuardPlace::Between { width: mm(width) },
        connection: Connection::Grounded,
    };
    panel.guards = vec![guard(1.0)];
    panel.grounds.clear();
    let result = lowered(&panel);
    let strips = &conductor(&result, GROUND).solids;
    assert_eq!(strips.len(), 2);
    assert_extent(block(&strips[0]), [-0.5, -19.0, 0.0], [0.5, 19.0, 0.0]);
    panel.guards = vec![guard(0.0)];
    let result = lowered(&panel);
    assert!(result.case.conductors.iter().all(|c| c.name != GROUND));
    panel.guards = vec![guard(9.0)];
    let error = lower(
        &panel,
        "vent",
        &panel.fingers[0],
        LoweringOptions::default(),
    );
    assert_eq!(
        error.expect_err("too wide").to_string(),
        "guard \"guard\" is 9.000 mm wide and touches pad \"vent\""
    );
}

#[test]
fn axisymmetric_needs_one_round_pad() {
    let mut panel = four_keys();
    panel.model.value = Model::Axisymmetric;
    let options = LoweringOptions::default();
    let refused = |panel: &Panel| {
        lower(panel, &panel.pads[0].name, &panel.fingers[0], options)
            .expect_err("refused")
            .to_string()
    };
    assert_eq!(
        refused(&panel),
        "model axisymmetric: needs a panel with one pad, this one has 4"
    );
    let mut square = single(panel.pads[0].outline.clone());
    square.model.value = Model::Axisymmetric;
    assert!(refused(&square).contains("pad \"pad\" is not round"));
    let disc_asked = LoweringOptions {
        equal_area_disc: true,
    };
    let result = lower(&square, "pad", &square.fingers[0], disc_asked).expect("disc asked for");
    let pad = block(&conductor(&result, "pad").solids[0]);
    let side_mm = 15.0 / std::f64::consts::PI.sqrt();
    assert_extent(pad, [0.0, 0.0, 0.0], [side_mm, 0.0, 0.0]);
    assert!(result.simplifications[1].contains("diameter 16.93 mm"));

    let mut round = single(disc());
    round.model.value = Model::Axisymmetric;
    round.grounds.push(ground(2, 40.0, 3.0));
    let result = lowered(&round);
    assert_eq!(result.case.kind, Kind::Axisymmetric);
    assert_eq!(result.case.walls[0], [Wall::Insulated, Wall::Open]);
    let grounds = &conductor(&result, GROUND).solids;
    assert_eq!(block(&grounds[0]).low_m[0], 0.0);
    assert_abs_diff_eq!(block(&grounds[1]).low_m[0], 8e-3, epsilon = 1e-12);
    round.fingers[0].offset[0] = mm(1.0);
    assert!(refused(&round).contains("off centre"));
}

#[test]
fn section_cuts_along_x_through_the_touched_pad() {
    let mut panel = four_keys();
    panel.model.value = Model::Section;
    panel.pads[1].outline = disc();
    panel.pads[1].rotation_degrees = 0.0;
    let result = lowered(&panel);
    assert_eq!(result.case.kind, Kind::Planar);
    assert_eq!(result.pads, ["vent", "mist"]);
    let pad = block(&conductor(&result, "vent").solids[0]);
    assert_extent(pad, [-19.0, 0.0, 0.0], [-4.0, 0.0, 0.0]);
    let disc = block(&conductor(&result, "mist").solids[0]);
    assert_extent(disc, [6.5, 0.0, 0.0], [16.5, 0.0, 0.0]);
    let finger = &conductor(&result, FINGER).solids;
    assert_extent(block(&finger[0]), [-16.5, 4.1, 0.0], [-6.5, 24.1, 0.0]);
    let widest = block(&finger[finger.len() - 1]);
    assert_abs_diff_eq!(widest.high_m[0] - widest.low_m[0], 16e-3, epsilon = 1e-12);
    let lengths = result.effective_lengths.expect("a section has lengths");
    assert_abs_diff_eq!(lengths.base.mm(), 15.0, epsilon = 1e-9);
    assert_abs_diff_eq!(lengths.shift.mm(), 10.0, epsilon = 1e-9);
    assert!(
        result
            .simplifications
            .iter()
            .any(|s| s.starts_with("trend only"))
    );
}

#[test]
fn stackups_that_short_are_refused() {
    let panel = four_keys();
    let refused = |panel: &Panel| {
        lower(panel, "vent", &panel.fingers[0], LoweringOptions::default()).expect_err("refused")
    };
    let mut bare = panel.clone();
    bare.layers.drain(0..2);
    bare.pads.iter_mut().for_each(|pad| pad.layer = 0);
    assert_eq!(refused(&bare), LoweringError::Uncovered("front".into()));
    let mut touching = panel.clone();
    touching.layers[3].content = LayerContent::Copper;
    assert!(matches!(
        refused(&touching),
        LoweringError::TouchingCopper { first, second } if first == "front" && second == "board"
    ));
    let mut misplaced = panel.clone();
    misplaced.grounds[0].layer = 3;
    assert_eq!(
        refused(&misplaced).to_string(),
        "\"plane\" is drawn on layer \"board\", which is not copper"
    );
    let mut renamed = panel.clone();
    renamed.pads[1].name = GROUND.into();
    assert_eq!(
        refused(&renamed),
        LoweringError::ReservedName(GROUND.into())
    );
    let unknown = lower(&panel, "fan", &panel.fingers[0], LoweringOptions::default());
    assert_eq!(
        unknown.expect_err("unknown").to_string(),
        "there is no pad \"fan\"; pads: vent, mist, light, set"
    );
}

#[test]
fn mirror_images_of_pads_are_found() {
    let panel = four_keys();
    let copper = panel_metal(&panel).expect("valid").conductors;
    assert_eq!(
        images(&copper, Mirror::LeftRight),
        Some(vec![1, 0, 3, 2, 4])
    );
    assert_eq!(images(&copper, Mirror::UpDown), Some(vec![2, 3, 0, 1, 4]));
    assert_eq!(images(&copper, Mirror::HalfTurn), Some(vec![3, 2, 1, 0, 4]));
    let mut uneven = panel.clone();
    uneven.grounds[0].centre[0] = mm(1.0);
    let copper = panel_metal(&uneven).expect("valid").conductors;
    assert_eq!(images(&copper, Mirror::LeftRight), None);
    assert!(images(&copper, Mirror::UpDown).is_some());
    let mut clearance = panel.clone();
    clearance.grounds.push(ground(2, 50.0, 1.5));
    clearance.pads[0].outline = disc();
    clearance.pads[1].outline = disc();
    let copper = panel_metal(&clearance).expect("valid").conductors;
    assert!(images(&copper, Mirror::LeftRight).is_some());
    assert_eq!(images(&copper, Mirror::UpDown), None);
}
