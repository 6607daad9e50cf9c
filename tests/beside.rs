//! Rates to values that no grid line carries against panels that are solved again with more of them.
//!
//! The panel is invented; what is checked is a property: fields carried along powers to 10 % more are those of the
//! panel that has 10 % more, within what its grid errs by apart and the power law's second order leave.

use padfield::input::Document;
use padfield::sensitivity::{PanelFamily, PlaceModel, Way};
use padfield::touch::{TouchPlace, WorkLimits};
use padfield_engine::field::Settings;

/// Of base and shift, at 10 % more of a value.
const APART: f64 = 0.012;

#[test]
fn values_that_no_line_carries_are_followed_all_the_same() {
    let text = include_str!("panels/four_pads.toml");
    let document = Document::from_text("four_pads.toml", text).expect("TOML");
    let panel = document.panel(&[]).expect("a valid panel");
    let scalables = document.scalables(&panel);
    let family = PanelFamily::turning(&document, &panel, &scalables);
    let finger = panel.fingers[0].clone();
    let limits = WorkLimits::of(Settings {
        accuracy: 0.05,
        ..Settings::default()
    });
    let place = TouchPlace { finger, pad: 0 };
    let all = |_: &_| true;
    let mut model = PlaceModel::new(&family, &place, (0, Some(&[0])), None, &all, &limits)
        .expect("the touch is solved");
    let beside: Vec<usize> = (0..scalables.len())
        .filter(|&index| model.ways[index] == Way::Difference)
        .collect();
    let paths = |indices: &[usize]| -> Vec<String> {
        let paths = indices.iter().map(|&index| scalables[index].path.clone());
        paths.collect()
    };
    // Four traces with a width and a keepout each are two kinds of four: more values than field problems.
    assert!(beside.len() >= 8, "{:?}", paths(&beside));
    assert!(
        model.problems < 1 + beside.len(),
        "{} field problems for {:?}",
        model.problems,
        paths(&beside)
    );
    let still = |index: usize| model.rates[index].iter().all(|&rate| rate == 0.0);
    let standing: Vec<usize> = beside.iter().copied().filter(|&i| still(i)).collect();
    assert!(standing.len() >= 4, "{:?}", paths(&standing));
    let mut largest = 0.0_f64;
    for index in beside {
        let more = [(index, 1.1)];
        let carried = model.carried(&more);
        let again = model
            .solved_again(&family, &more, &limits)
            .unwrap_or_else(|error| panic!("{}: {error}", scalables[index].path))[0]
            .expect("the pad is in the model");
        for (what, carried, again, now) in [
            ("base", carried.base, again.base, model.nominal.base),
            (
                "shift",
                carried.earthed_shift,
                again.earthed_shift,
                model.nominal.earthed_shift,
            ),
        ] {
            largest = largest.max((again / now - 1.0).abs());
            assert!(
                (carried / again - 1.0).abs() < APART,
                "{what} with 10 % more of {}: {carried:e} carried, {again:e} solved, {now:e} now",
                scalables[index].path
            );
        }
    }
    // Something moves by far more than that.
    assert!(largest > 3.0 * APART, "{largest}");
}
