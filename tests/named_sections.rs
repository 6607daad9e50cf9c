//! Overrides that create sections of a panel file, take them away and add layers: the same panels as files
//! that say so, and the text of every message.

use assert_cmd::Command;
use padfield::input::{Document, Override, ScenarioError};
use padfield::panel::Panel;
use proptest::prelude::*;
use std::path::Path;

const PAIR: &str = include_str!("../scenarios/two_pads.toml");
const FERN: &str = include_str!("../scenarios/fern.toml");

fn document(text: &str) -> Document {
    Document::from_text("panel.toml", text).unwrap_or_else(|e| panic!("{}", e.render(false)))
}

fn overrides(text: &str) -> Vec<Override> {
    Override::several(text).unwrap_or_else(|e| panic!("{e}"))
}

fn panel(text: &str, set: &str) -> Result<Panel, ScenarioError> {
    document(text).panel(&overrides(set))
}

fn good(text: &str, set: &str) -> Panel {
    panel(text, set).unwrap_or_else(|e| panic!("{set}: {}", e.render(false)))
}

/// The panel of a file that says the same.
fn written(text: &str) -> Panel {
    let whole = document(text).panel(&[]);
    whole.unwrap_or_else(|e| panic!("{}", e.render(false)))
}

#[test]
fn a_section_that_overrides_create_is_the_section_in_the_file() {
    let cases = [
        (
            "guard.cross.between=pair; guard.cross.width=2 mm; guard.cross.state=grounded",
            "[guard.cross]\nbetween = \"pair\"\nwidth = \"2 mm\"\nstate = \"grounded\"\n",
        ),
        (
            "ground.rim.layer=front; ground.rim.clearance=1 mm; ground.rim.outline=70 mm x 40 mm",
            "[ground.rim]\nlayer = \"front\"\nclearance = \"1 mm\"\noutline = \"70 mm x 40 mm\"\n",
        ),
        (
            "slot.gap.layer=overlay; slot.gap.between=pair; slot.gap.width=2 mm; \
             slot.gap.depth=1 mm",
            "[slot.gap]\nlayer = \"overlay\"\nbetween = \"pair\"\nwidth = \"2 mm\"\ndepth = \"1 mm\"\n",
        ),
        (
            "film.drop.diameter=12 mm; film.drop.thickness=1 mm; film.drop.treat_as=floating",
            "[film.drop]\ndiameter = \"12 mm\"\nthickness = \"1 mm\"\ntreat_as = \"floating\"\n",
        ),
        (
            "finger.child.contact=7 mm; finger.child.dome=12 mm; finger.child.offset.x=3 mm",
            "[finger.child]\ncontact = \"7 mm\"\ndome = \"12 mm\"\noffset = \"3 mm, 0 mm\"\n",
        ),
        (
            "supply.battery.to_earth=5 pF",
            "[supply.battery]\nto_earth = \"5 pF\"\n",
        ),
        (
            "material.felt.permittivity=1.4; overlay.material=felt",
            "[material.felt]\npermittivity = 1.4\n",
        ),
        (
            "pads.dial.layer=front; pads.dial.shape=disc; pads.dial.diameter=5 mm; \
             pads.dial.centre=0 mm, 18 mm; pads.dial.columns=2; pads.dial.gap=4 mm",
            "[pads.dial]\nlayer = \"front\"\nshape = \"disc\"\ndiameter = \"5 mm\"\n\
             centre = \"0 mm, 18 mm\"\ncolumns = 2\ngap = \"4 mm\"\n",
        ),
    ];
    for (set, section) in cases {
        let text = format!("{PAIR}\n{section}");
        let text = if set.contains("overlay.material") {
            text.replace("material = \"acrylic\"", "material = \"felt\"")
        } else {
            text
        };
        assert_eq!(good(PAIR, set), written(&text), "{set}");
        assert_ne!(good(PAIR, set), written(PAIR), "{set}");
    }
}

#[test]
fn a_section_that_is_taken_away_is_not_in_the_file() {
    let without = |from: &str, to: &str| {
        let (start, end) = (PAIR.find(from).unwrap(), PAIR.find(to).unwrap());
        format!("{}{}", &PAIR[..start], &PAIR[end..])
    };
    let cases = [
        (
            "ground.plane=none",
            without("[ground.plane]", "[finger.adult]"),
        ),
        (
            "finger.adult=none",
            without("[finger.adult]", "# Does a quarter"),
        ),
    ];
    for (set, text) in cases {
        assert_eq!(good(PAIR, set), written(&text), "{set}");
        assert_ne!(good(PAIR, set), written(PAIR), "{set}");
    }
    // One after the other: created and gone, gone and created in another form.
    assert_eq!(
        good(
            PAIR,
            "guard.g.between=pair; guard.g.width=1 mm; guard.g.state=grounded; guard.g=none"
        ),
        written(PAIR)
    );
    let discs = good(
        PAIR,
        "pads.pair=none; pads.pair.layer=front; pads.pair.shape=disc; pads.pair.diameter=14 mm; \
         pads.pair.columns=2; pads.pair.gap=5 mm; pads.pair.names=[\"left\", \"right\"]",
    );
    let text = PAIR
        .replace("shape = \"rectangle\"", "shape = \"disc\"")
        .replace("size = \"0.5 in x 0.5 in\"", "diameter = \"14 mm\"")
        .replace("gap = \"0.25 in\"", "gap = \"5 mm\"");
    assert_eq!(discs, written(&text));
}

#[test]
fn layers_are_added_behind_another_and_taken_away() {
    let air = "[[layer]]\nname = \"air\"\npermittivity = 1\nthickness = \"0.1 mm\"\n\n";
    let before = "[[layer]]\nname = \"front\"";
    assert!(PAIR.contains(before));
    let with_air = PAIR.replace(before, &format!("{air}{before}"));
    let set = "layer.air.behind=overlay; layer.air.permittivity=1; air.thickness=0.1 mm";
    assert_eq!(good(PAIR, set), written(&with_air));
    assert_eq!(good(&with_air, "layer.air=none"), written(PAIR));
    // To another place: paths follow the layers.
    let moved = good(
        &with_air,
        "layer.air=none; layer.air.behind=board; layer.air.permittivity=1; \
         layer.air.thickness=2 mm; layer.board.thickness=1 mm",
    );
    let names: Vec<&str> = moved.layers.iter().map(|l| l.name.as_str()).collect();
    assert_eq!(names, ["overlay", "front", "board", "air", "back"]);
    let mm = |index: usize| (moved.layers[index].thickness.nominal.mm() * 1e6).round() / 1e6;
    assert_eq!([mm(2), mm(3)], [1.0, 2.0]);
}

#[test]
fn what_is_set_for_good_is_what_is_set_at_once() {
    let set = overrides(
        "guard.cross.between=pair; guard.cross.width=2 mm; guard.cross.state=grounded; ground.plane=none; overlay.thickness=5 mm",
    );
    let (pair, more) = (
        document(PAIR),
        overrides("guard.cross.width=1 mm; idle=floating"),
    );
    let changed = pair.overridden(&set).unwrap();
    let all = [&set[..], &more[..]].concat();
    assert_eq!(changed.panel(&[]).unwrap(), pair.panel(&set).unwrap());
    assert_eq!(changed.panel(&more).unwrap(), pair.panel(&all).unwrap());
    // A path is known, a value is the one that was set, a design can turn it.
    assert_eq!(
        changed.value_at("guard.cross.width").unwrap().as_deref(),
        Some("2 mm")
    );
    assert!(
        changed
            .paths()
            .all(|path| !path.starts_with("ground.plane"))
    );
    let panel = changed.panel(&[]).unwrap();
    let scalables = changed.scalables(&panel);
    let value = |path: &str| {
        let one = scalables.iter().find(|one| one.path == path);
        one.unwrap_or_else(|| panic!("no {path}")).value
    };
    assert_eq!(value("layer.overlay.thickness"), 5.0);
    assert_eq!(value("guard.cross.width"), 2.0);
    assert!(changed.range("guard.cross.width=1mm..4mm").is_ok());
    // Another panel, another identity of its studies.
    assert_ne!(changed.identity("spacing"), pair.identity("spacing"));
    // What was set is told as --set, whatever fails later.
    let shorted = changed
        .panel(&overrides("pads.pair.gap=1.5 mm"))
        .unwrap_err();
    assert!(
        shorted
            .to_string()
            .starts_with("--set guard.cross.width=2 mm: a guard of 2 mm touches pad"),
        "{shorted}"
    );
}

/// The ground of [`PAIR`] as a hatch.
fn hatched(lines: &str) -> String {
    let solid = "[ground.plane]\n";
    assert!(PAIR.contains(solid));
    PAIR.replace(solid, &format!("{solid}fill = \"hatch\"\n{lines}"))
}

#[test]
fn a_hatch_becomes_solid_with_all_that_only_a_hatch_has() {
    let lines = "line = \"0.2 mm\"\npitch = \"2 mm\"\nangle = \"45 deg\"\ntreat_as = \"lines\"\n";
    let hatch = hatched(lines);
    assert_ne!(written(&hatch), written(PAIR));
    for set in [
        "ground.plane.fill=solid",
        "plane.fill=solid",
        "ground.plane.fill=\"solid\"",
        "ground.plane.fill=none",
        "ground.plane.line=0.3 mm; ground.plane.fill=solid",
    ] {
        assert_eq!(good(&hatch, set), written(PAIR), "{set}");
    }
    // And another hatch after that.
    let again = "ground.plane.fill=solid; ground.plane.fill=hatch; ground.plane.line=0.2 mm; \
                 ground.plane.pitch=2 mm";
    let plain = hatched("line = \"0.2 mm\"\npitch = \"2 mm\"\n");
    assert_eq!(good(&hatch, again), written(&plain));
    // What is said of a solid area afterwards is still refused, and so is a word that is not known.
    for (set, expected) in [
        (
            "ground.plane.fill=solid; ground.plane.line=0.2 mm",
            "--set ground.plane.line=0.2 mm: a solid area has no \"line\"; add fill = \"hatch\"",
        ),
        (
            "ground.plane.fill=solit",
            "--set ground.plane.fill=solit: ground.plane.fill: \"solit\" is not known here; did you mean \
             \"solid\"? one of \"solid\" or \"hatch\"",
        ),
    ] {
        assert_eq!(panel(&hatch, set).unwrap_err().to_string(), expected);
    }
}

#[test]
fn a_single_value_goes_back_to_its_default() {
    let plain = "line = \"0.2 mm\"\npitch = \"2 mm\"\n";
    let diagonal = hatched(&format!("{plain}angle = \"45 deg\"\n"));
    let floating = format!("idle = \"floating\"\n{PAIR}");
    let stray = format!("{PAIR}\n[stray]\npin = \"8 pF\"\n");
    let offset = PAIR.replace(
        "[finger.adult]\n",
        "[finger.adult]\noffset = \"2 mm, 1 mm\"\n",
    );
    let voids = PAIR.replace(
        "name = \"overlay\"\n",
        "name = \"overlay\"\nvoids = \"10 %\"\n",
    );
    for (text, set, same) in [
        (&diagonal, "ground.plane.angle=none", &hatched(plain)),
        (&floating, "idle=none", &PAIR.to_owned()),
        (&stray, "stray.pin=none", &PAIR.to_owned()),
        // A section without a name of its own, as a whole.
        (&stray, "stray=none", &PAIR.to_owned()),
        (&offset, "finger.adult.offset=none", &PAIR.to_owned()),
        (&voids, "layer.overlay.voids=none", &PAIR.to_owned()),
        // Back, then set again.
        (&voids, "overlay.voids=none; overlay.voids=10 %", &voids),
        // What is not written is at its default already.
        (
            &PAIR.to_owned(),
            "ground.plane.centre=none",
            &PAIR.to_owned(),
        ),
    ] {
        assert_eq!(good(text, set), written(same), "{set}");
        let kept = document(text).overridden(&overrides(set)).unwrap();
        assert_eq!(kept.panel(&[]).unwrap(), written(same), "{set}");
        if text != same {
            assert_ne!(written(text), written(same), "{set}");
        }
    }
}

#[test]
fn messages_name_what_is_missing_and_what_is_near() {
    let guarded = format!(
        "{PAIR}\n[guard.cross]\nbetween = \"pair\"\nwidth = \"2 mm\"\nstate = \"grounded\"\n"
    );
    let cases = [
        (
            PAIR,
            "guard.cross.width=2 mm",
            "--set guard.cross.width=2 mm: the new section [guard.cross] has no \"state\"; give \
             guard.cross.state as well; add state = \"grounded\" (at 0 V: takes the field between pads, and \
             some of the touch), \"floating\" (connected to nothing: carries the field from pad to pad) or \
             \"driven\" (follows the measured pad: takes little of the touch, and needs a driver)",
        ),
        (
            PAIR,
            "guard.cross.width=2 mm; guard.cross.state=grounded",
            "--set guard.cross.width=2 mm: nothing says where guard \"cross\" runs; add between = \"keys\" or \
             around = \"keys\", the name of a pad group",
        ),
        (
            PAIR,
            "guard.cross.width=2 mm; guard.cross.between=pairs; guard.cross.state=grounded",
            "--set guard.cross.between=pairs: there is no pad group \"pairs\"; did you mean \"pair\"?",
        ),
        (
            PAIR,
            "guard.cross.between=pair; guard.cross.width=9 mm; guard.cross.state=grounded",
            "--set guard.cross.width=9 mm: a guard of 9 mm touches pad \"left\": they are shorted; write \
             less than the gap between the pads",
        ),
        (
            PAIR,
            "guard.cross.widht=2 mm",
            "--set guard.cross.widht=2 mm: [guard.cross] has no key \"widht\"; did you mean \
             \"guard.cross.width\"?",
        ),
        (
            PAIR,
            "guard.cross.colour=red",
            "--set guard.cross.colour=red: [guard.cross] has no key \"colour\"; keys of [guard.cross]: \
             between, around, width, clearance, layer, state, gain",
        ),
        (
            &guarded,
            "guard.cros.width=1 mm",
            "--set guard.cros.width=1 mm: there is no value at \"guard.cros.width\"; did you mean \
             \"guard.cross.width\"? the name of a new section must be less like \"cross\"",
        ),
        (
            PAIR,
            "pads.button.gap=5 mm",
            "--set pads.button.gap=5 mm: the new section [pads.button] has no \"layer\" and no \"shape\"; \
             give pads.button.layer, pads.button.shape as well; this file has [pads.pair]",
        ),
        (
            PAIR,
            "guard.a=b.width=1 mm",
            "--set guard.a=b.width=1 mm: there is no value at \"guard.a\"; a path goes by names, such as \
             layer.overlay.thickness",
        ),
        (
            PAIR,
            "guard..width=1 mm",
            "--set guard..width=1 mm: the name is empty; a name has 1 to 40 letters, digits, spaces or \
             signs, but no dot, equals sign or quote",
        ),
        (
            PAIR,
            "film.drop.thickness=1 mm; film.drop.treat_as=floating",
            "--set film.drop.thickness=1 mm: film \"drop\" has no size; add size = \"40 mm x 20 mm\" or \
             diameter = \"6 mm\"",
        ),
        (
            PAIR,
            "finger.adult.contct=9 mm",
            "--set finger.adult.contct=9 mm: there is no value at \"finger.adult.contct\"; did you mean \
             \"finger.adult.contact\"?",
        ),
        (
            PAIR,
            "ground.plan=none",
            "--set ground.plan=none: there is no [ground.plan] to take away; did you mean \"ground.plane\"?",
        ),
        (
            PAIR,
            "guard.cross=none",
            "--set guard.cross=none: there is no [guard.cross] to take away; this file has no [guard.NAME]",
        ),
        (
            PAIR,
            "plane=none",
            "--set plane=none: \"plane\" is not the whole path of a section; write \"ground.plane\"",
        ),
        (
            PAIR,
            "guard.cross.width=none",
            "--set guard.cross.width=none: there is no [guard.cross] to take away; this file has no \
             [guard.NAME]",
        ),
        (
            PAIR,
            "pads.pair.shape=none",
            "--set pads.pair.shape=none: \"pads.pair.shape\" has no default; give it a value, or take the \
             whole section away with pads.pair=none",
        ),
        (
            &guarded,
            "guard.cross.state=none",
            "--set guard.cross.state=none: \"guard.cross.state\" has no default; give it a value, or take \
             the whole section away with guard.cross=none",
        ),
        (
            &guarded,
            "guard.cross.between=none",
            "--set guard.cross.between=none: nothing says where guard \"cross\" runs; add between = \"keys\" \
             or around = \"keys\", the name of a pad group; or take the whole section away with \
             guard.cross=none",
        ),
        (
            PAIR,
            "board.thickness=none",
            "--set board.thickness=none: layer \"board\" has no thickness; add thickness = \"4 mm\"; or take \
             the whole section away with layer.board=none",
        ),
        (
            PAIR,
            "pads.pair.size.width=none",
            "--set pads.pair.size.width=none: \"pads.pair.size.width\" is a part of a value: it has no \
             default of its own; give it a value, or write pads.pair.size=none",
        ),
        (
            PAIR,
            "climate=none",
            "--set climate=none: there is no [climate] to take away; leave it out: its defaults count",
        ),
        (
            PAIR,
            "layer.bond=none",
            "--set layer.bond=none: there is no layer \"bond\" to take away; did you mean \"layer.board\"?",
        ),
        (
            PAIR,
            "layer.tape=none",
            "--set layer.tape=none: there is no layer \"tape\" to take away; write \"layer.overlay\", \
             \"layer.front\", \"layer.board\" or \"layer.back\"",
        ),
        (
            PAIR,
            "layer.front=none",
            "--set layer.front=none: there is no copper layer \"front\"; write \"back\"",
        ),
        (
            PAIR,
            "pads.pair=none",
            "--set pads.pair=none: there is no [pads.NAME]; add at least one [pads.NAME]",
        ),
        (
            PAIR,
            "layer.air.thickness=0.1 mm",
            "--set layer.air.thickness=0.1 mm: there is no value at \"layer.air.thickness\"; a new layer \
             starts with layer.air.behind=overlay, the layer before it",
        ),
        (
            PAIR,
            "layer.air.behind=overlai",
            "--set layer.air.behind=overlai: there is no layer \"overlai\"; did you mean \"overlay\"?",
        ),
        (
            PAIR,
            "layer.front.behind=overlay",
            "--set layer.front.behind=overlay: the layer \"front\" is there already; give the new layer a \
             name of its own",
        ),
        (
            PAIR,
            "layer.air.behind=overlay; layer.air.permittivity=1",
            "--set layer.air.behind=overlay: layer \"air\" has no thickness; add thickness = \"4 mm\"",
        ),
        (
            PAIR,
            "study.spacing=none",
            "--set study.spacing=none: there is no value at \"study.spacing\"; a path goes by names, such as \
             layer.overlay.thickness",
        ),
        (
            FERN,
            "layer.overlai.thickness=5 mm",
            "--set layer.overlai.thickness=5 mm: there is no value at \"layer.overlai.thickness\"; did you \
             mean \"layer.overlay.thickness\"?",
        ),
    ];
    let mut wrong = Vec::new();
    for (text, set, expected) in cases {
        let found = match panel(text, set) {
            Ok(_) => "no error".to_owned(),
            Err(error) => {
                assert!(!error.render(false).is_empty());
                error.to_string()
            }
        };
        if found != expected {
            wrong.push(format!("{set}\nexpected: {expected}\nfound:    {found}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn odd_paths_never_panic(
        each in prop::collection::vec((
            "(pads|layer|guard|ground|film|finger|supply|study|idle|board|x|)",
            "(\\.(pair|overlay|front|cross|cros|plane|adult|spacing|a b|\\[|)){0,2}",
            "(\\.(width|between|behind|layer|contact|names|size|x|y)){0,2}",
            "(none|2 mm|pair|overlay|\\[1, 2\\]|\\[|\"|0|)",
        ), 1..5)
    ) {
        let given: Vec<Override> = each
            .into_iter()
            .map(|(section, name, key, value)| Override { path: section + &name + &key, value })
            .collect();
        let pair = document(PAIR);
        match pair.panel(&given) {
            Err(error) => prop_assert!(error.to_string().len() < 2000),
            Ok(panel) => {
                let changed = pair.overridden(&given).unwrap();
                prop_assert_eq!(changed.panel(&[]).unwrap(), panel);
            }
        }
        if let Ok(changed) = pair.overridden(&given) {
            for path in changed.paths() {
                prop_assert!(changed.value_at(path).is_ok());
            }
            let _ = changed.identity("spacing");
        }
    }
}

#[test]
fn every_shipped_panel_loses_and_regains_its_sections() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "toml") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let whole = document(&text);
        let original = whole.panel(&[]).unwrap();
        // The names of all sections that have one, from the paths of their values.
        let mut names: Vec<(String, String)> = Vec::new();
        for path in whole.paths() {
            if let [section, name, _] = path.split('.').collect::<Vec<_>>()[..]
                && ["ground", "guard", "slot", "film", "finger", "supply"].contains(&section)
                && !names.contains(&(section.to_owned(), name.to_owned()))
            {
                names.push((section.to_owned(), name.to_owned()));
            }
        }
        for (section, name) in names {
            let front = format!("{section}.{name}.");
            let gone = overrides(&format!("{section}.{name}=none"));
            let Ok(changed) = whole.panel(&gone) else {
                // A section that others need by name.
                continue;
            };
            assert_ne!(changed, original, "{}: {section}.{name}", path.display());
            let mut back = gone;
            for path in whole.paths().filter(|path| path.starts_with(&front)) {
                let value = whole.value_at(path).unwrap().filter(|v| !v.is_empty());
                let is_whole = path[front.len()..].split('.').count() == 1;
                if let Some(value) = value.filter(|_| is_whole) {
                    back.push(Override {
                        path: path.to_owned(),
                        value,
                    });
                }
            }
            let again = whole.panel(&back);
            // Sections of one kind are in another order when one of several comes last; the first
            // finger is the default one.
            let again = again.unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            assert_eq!(again.pads, original.pads);
            let sorted = |panel: &Panel| {
                let fingers = panel.fingers.iter().map(|f| format!("{f:?}"));
                let grounds = panel.grounds.iter().map(|g| format!("{g:?}"));
                let guards = panel.guards.iter().map(|g| format!("{g:?}"));
                let slots = panel.slots.iter().map(|r| format!("{r:?}"));
                let films = panel.films.iter().map(|f| format!("{f:?}"));
                let all = fingers
                    .chain(grounds)
                    .chain(guards)
                    .chain(slots)
                    .chain(films);
                let mut all: Vec<String> = all.collect();
                all.sort();
                all
            };
            assert_eq!(sorted(&again), sorted(&original), "{section}.{name}");
            seen += 1;
        }
    }
    assert!(seen >= 15, "{seen}");
}

/// The program in a folder of its own with `panel.toml` in it; its exit code, output and table of points.
fn run(text: &str, arguments: &[&str]) -> (Option<i32>, String, String) {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("panel.toml"), text).expect("the panel file");
    let mut command = Command::cargo_bin("padfield").expect("the program is built");
    let output = command
        .current_dir(folder.path())
        .args(arguments)
        .output()
        .expect("the program runs");
    // What is set on the command line has a folder of its own.
    let results = folder.path().join("results/panel");
    let below = std::fs::read_dir(&results).into_iter().flatten().flatten();
    let own = below.map(|entry| entry.path().join("size/points.csv"));
    let mut all = own.chain([results.join("size/points.csv")]);
    let table = all.find(|path| path.is_file()).unwrap_or(results);
    let shown = [output.stdout, output.stderr].concat();
    (
        output.status.code(),
        String::from_utf8(shown).expect("text"),
        std::fs::read_to_string(table).unwrap_or_default(),
    )
}

#[test]
fn commands_see_the_panel_as_it_was_set() {
    // A ground trace that only --set draws is varied; a wider one can only take more neighbour shift.
    let arguments = [
        "find",
        "panel.toml",
        "--set",
        "model=section",
        "--set",
        "guard.cross.between=pair",
        "--set",
        "guard.cross.width=1 mm",
        "--set",
        "guard.cross.state=grounded",
        "--vary",
        "guard.cross.width=0.5mm..4mm",
        "--until",
        "neighbour shift <= 1 pF",
        "--accuracy",
        "4%",
    ];
    let (code, text, _) = run(PAIR, &arguments);
    assert_eq!(code, Some(0), "{text}");
    assert!(text.contains("guard.cross.width"), "{text}");

    // A sweep with a value set is the sweep of the file that says so.
    let study = "\n[study.size]\nvary = [{ path = \"pads.key.diameter\", values = [\"8 mm\", \"12 mm\"] }]\n\
                 accuracy = \"5 %\"\n";
    let written = |to: &str| {
        let text = include_str!("panels/round_pad.toml");
        let drawn = "thickness = \"2 mm\"";
        assert!(text.contains(drawn), "{text}");
        text.replacen(drawn, &format!("thickness = \"{to}\""), 1) + study
    };
    let sweep = ["sweep", "panel.toml", "--no-charts"];
    let (code, text, drawn) = run(&written("5 mm"), &sweep);
    assert_eq!(code, Some(0), "{text}");
    let set = [&sweep[..], &["--set", "overlay.thickness=5 mm"]].concat();
    let (code, text, changed) = run(&written("2 mm"), &set);
    assert_eq!(code, Some(0), "{text}");
    let (_, _, plain) = run(&written("2 mm"), &sweep);
    assert_eq!(drawn.lines().count(), 3, "{drawn}");
    assert_eq!(drawn, changed);
    assert_ne!(plain, changed);
    let (code, text, _) = run(
        &written("2 mm"),
        &["sweep", "panel.toml", "--set", "overlay=none"],
    );
    assert_eq!(code, Some(2), "{text}");
    assert!(text.contains("write \"layer.overlay\""), "{text}");
}
