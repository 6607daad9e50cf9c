//! The return path against the series formula, the job analysis and the supplies; the command as a process.

use assert_cmd::Command;
use padfield::field::Settings;
use padfield::panel::Panel;
use padfield::return_path::{Least, Question, ReturnStudy, least_return, return_study};
use padfield::scenario::{Document, Override};
use padfield::touch::WorkLimits;
use padfield::units::Capacitance;
use serde_json::Value;

fn panel(set: &[&str]) -> Panel {
    let text = include_str!("../scenarios/two_pads.toml");
    let document = Document::from_text("two_pads.toml", text).expect("TOML");
    let overrides: Vec<Override> = set
        .iter()
        .map(|text| Override::parse(text).expect("an override"))
        .collect();
    document
        .panel(&overrides)
        .unwrap_or_else(|error| panic!("{error}"))
}

fn study(set: &[&str], counts: Option<f64>) -> ReturnStudy {
    let limits = WorkLimits {
        settings: Settings {
            accuracy: 0.03,
            ..Settings::default()
        },
        stop: &|| false,
        progress: &|_| {},
    };
    let question = Question {
        finger: None,
        share: 0.9,
        counts,
    };
    return_study(&panel(set), &question, &limits).expect("the panel is solved")
}

#[test]
fn shares_are_those_of_the_job_analysis() {
    // Job analysis 2.10, half-inch pads over ground: 150, 20, 5 pF keep 99, 93, 81 % under 3 mm acrylic and
    // 98, 87, 68 % under 3 mm glass; 63 % at 5 pF under 2 mm glass. A throwaway script, good to about 5 %
    // of a shift: 2 points here, a ratio of two shifts on one grid.
    let glass = "overlay.material=soda-lime glass";
    let cases: [(&[&str], &[(f64, f64)]); 3] = [
        (&[], &[(150.0, 0.99), (20.0, 0.93), (5.0, 0.81)]),
        (&[glass], &[(150.0, 0.98), (20.0, 0.87), (5.0, 0.68)]),
        (&[glass, "overlay.thickness=2 mm"], &[(5.0, 0.63)]),
    ];
    for (set, wanted) in cases {
        let found = study(set, None);
        let pad = &found.pads[0];
        for &(pf, share) in wanted {
            let computed = pad.at(pf);
            assert!(
                (computed - share).abs() < 0.02,
                "{set:?} {pf} pF: {computed}"
            );
            // Job analysis 6.3: the series formula dC C/(dC + C) is optimistic, as it forgets the finger's
            // own capacitance.
            let shift_pf = 1e12 * pad.earthed;
            assert!(
                computed < pf / (shift_pf + pf),
                "{set:?} {pf} pF: {computed}"
            );
        }
        let rises = pad.curve.windows(2).all(|pair| pair[0].1 <= pair[1].1);
        assert!(rises, "more return never takes shift away");
        let end = pad.curve.last().expect("points").1;
        assert!((end - 1.0).abs() < 2e-3, "{end}");
    }
}

#[test]
fn the_least_return_keeps_what_is_asked_and_no_more() {
    // Two conductors and nothing else, C C_ret/(C + C_ret): a share s is left at C_ret = C s/(1 - s).
    let series = |path: Capacitance| Some(2.0 * path.pf() / (2.0 + path.pf()));
    for share in [0.5, 0.9, 0.99] {
        let least = least_return(&series, 2.0 * share)
            .expect("there is one")
            .pf();
        let exact = 2.0 * share / (1.0 - share);
        assert!((least / exact - 1.0).abs() < 1e-9, "{share}: {least}");
    }
    assert_eq!(least_return(&series, 2.0), None);
    let found = study(&[], Some(60.0));
    for pad in &found.pads {
        let (Least::Needs(share), Some(Least::Needs(counts))) = (pad.for_share, pad.for_counts)
        else {
            panic!("{pad:?}")
        };
        // Between the points of the curve: straight over a tenth of a decade.
        assert!((pad.at(share.pf()) - 0.9).abs() < 2e-3);
        let kept = pad.at(counts.pf()) * pad.earthed_counts;
        assert!((kept / 60.0 - 1.0).abs() < 0.03, "{kept}");
    }
    let never = study(&[], Some(1e5));
    assert_eq!(never.pads[0].for_counts, Some(Least::Never));
    assert!(!never.keeps_counts());
}

#[test]
fn a_supply_brings_its_own_common_mode() {
    let set = [
        "supply.box.to_earth=8 pF",
        "supply.quiet.to_earth=2 nF",
        "supply.box.common_mode=0.5 V",
        "window.body=120 pF",
    ];
    let found = study(&set, None);
    let [weak, strong] = &found.pads[0].supplies[..] else {
        panic!("two supplies")
    };
    // 120 pF in series with 8 pF: 7.5 pF (textbook).
    assert!((weak.path.expect("a path").pf() - 7.5).abs() < 1e-9);
    assert!(weak.shift[0] < strong.shift[0]);
    // On the curve between its points.
    let share = weak.shift[0] / found.pads[0].earthed;
    assert!((share - found.pads[0].at(7.5)).abs() < 2e-3);
    assert!(weak.common_mode_is_own && !strong.common_mode_is_own);
    assert_eq!(strong.common_mode_counts, 0.0);
    assert!(weak.common_mode_counts > 0.0);
    assert!(weak.noise_counts > weak.common_mode_counts);
    // Twice the voltage, twice the noise: it is proportional.
    let mut louder = set;
    louder[2] = "supply.box.common_mode=1 V";
    let louder = study(&louder, None);
    let ratio = louder.pads[0].supplies[0].common_mode_counts / weak.common_mode_counts;
    assert!((ratio - 2.0).abs() < 1e-9, "{ratio}");
    // By hand (job analysis 2.10): coupling x voltage/swing as a capacitance. The coupling through a series
    // of finger and return is at most the return itself; at 3.3 V and thirds the pad swings 1.1 V.
    let circuit = padfield::circuit::Circuit::default();
    let touched = Capacitance::from_pf(15.0);
    let most = circuit.counts_per_farad(touched).abs() * 7.5e-12 * 0.5 / 1.1;
    assert!(weak.common_mode_counts < most);
}

fn run(arguments: &[&str], code: i32) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let output = Command::cargo_bin("padfield")
        .expect("the program is built")
        .args(arguments)
        .args(["--accuracy", "4%", "--out"])
        .arg(folder.path())
        .assert()
        .code(code)
        .get_output()
        .clone();
    if code == 0 && !arguments.contains(&"--json") {
        let svg = std::fs::read_to_string(folder.path().join("return-path.svg")).expect("a chart");
        assert!(
            svg.contains("share to keep") && svg.contains("earthed, 120 pF"),
            "{svg}"
        );
    }
    String::from_utf8([output.stdout, output.stderr].concat()).expect("text")
}

#[test]
fn the_command_tells_the_supplies_and_exits_by_the_counts() {
    let text = run(&["return-path", "scenarios/two_pads.toml"], 0);
    assert!(text.contains("Least return capacitance"), "{text}");
    assert!(text.contains("a safety decision"), "{text}");
    assert!(
        text.lines()
            .all(|line| line.trim_end().chars().count() <= 100),
        "{text}"
    );
    let text = run(
        &[
            "return-path",
            "scenarios/two_pads.toml",
            "--counts",
            "100000",
            "--json",
        ],
        3,
    );
    let record: Value = serde_json::from_str(&text).expect("one object");
    assert_eq!(record["keeps_counts"], false);
    assert_eq!(record["pads"][0]["return_for_counts"]["met"], "never");
    let text = run(
        &[
            "return-path",
            "scenarios/two_pads.toml",
            "--finger",
            "nobody",
        ],
        2,
    );
    assert!(
        text.contains("there is no finger \"nobody\"; fingers: adult"),
        "{text}"
    );
}
