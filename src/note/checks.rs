//! Everything any answer of a note registered, and what the note itself leaves open.

use super::facts::{Environment, Facts, Walks};
use crate::checks::{Check, Findings, Kind, Severity, Source};
use crate::panel::{Origin, Panel};

/// The checks of an answer; that it was left out, or why there is none.
fn told<T: Findings>(answer: Option<&Result<T, String>>, what: &str, source: Source) -> Vec<Check> {
    match answer {
        None => vec![left_out(what, source)],
        Some(answer) => of(answer.as_ref(), what, source),
    }
}

/// The checks of an answer, or why there is none.
fn of<T: Findings>(answer: Result<&T, &String>, what: &str, source: Source) -> Vec<Check> {
    match answer {
        Ok(answer) => answer.checks(),
        Err(reason) => vec![
            Check::new(Kind::NotComputed, Severity::Undecided, source)
                .at(what)
                .found(reason.clone()),
        ],
    }
}

fn left_out(what: &str, source: Source) -> Check {
    Check::new(Kind::LeftOut, Severity::Undecided, source)
        .at(what)
        .found("not in this note")
}

impl Findings for Environment {
    fn checks(&self) -> Vec<Check> {
        // Named one by one, without "..": an answer that is added here has to be asked.
        let Self {
            drift,
            return_study,
            discharge,
        } = self;
        let mut checks = of(discharge.as_ref(), "discharge", Source::Discharge);
        checks.extend(of(drift.as_ref(), "drift", Source::Drift));
        checks.extend(of(return_study.as_ref(), "return path", Source::ReturnPath));
        checks
    }
}

impl Findings for Walks {
    fn checks(&self) -> Vec<Check> {
        let Self {
            assumption: _,
            walk,
            map,
            slides,
        } = self;
        let mut checks = of(walk.as_ref(), "walk across the panel", Source::Walk);
        if let Some(map) = map {
            checks.extend(of(map.as_ref(), "walk over the face", Source::Walk));
        }
        for (group, slid) in slides {
            match slid {
                Ok(slides) => checks.extend(slides.iter().flat_map(Findings::checks)),
                Err(reason) => checks.push(
                    Check::new(Kind::NotComputed, Severity::Undecided, Source::Walk)
                        .at(format!("position told by \"{group}\""))
                        .found(reason.clone()),
                ),
            }
        }
        checks
    }
}

impl Findings for Facts<'_> {
    /// The union of those of all answers: nothing that makes a command on this panel end with exit code 3 is
    /// missing, because a part that was left out is told as such.
    fn checks(&self) -> Vec<Check> {
        // Named one by one, without "..": an answer that is added to the facts has to be asked.
        let Self {
            order,
            response,
            farther_wall: _,
            window,
            sliders,
            levers: _,
            judgement,
            spread,
            environment,
            walks,
            section: _,
            key: _,
            inputs: _,
        } = self;
        let mut checks = told(window.as_ref(), "threshold window", Source::Window);
        match sliders {
            None => {}
            Some(Ok(decisions)) => checks.extend(decisions.iter().flat_map(Findings::checks)),
            Some(Err(reason)) => checks.push(
                Check::new(Kind::NotComputed, Severity::Undecided, Source::Window)
                    .at("thresholds of sliders")
                    .found(reason.clone()),
            ),
        }
        checks.extend(response.checks());
        match environment {
            Some(environment) => checks.extend(environment.checks()),
            None => checks.extend([
                left_out("discharge", Source::Discharge),
                left_out("drift", Source::Drift),
                left_out("return path", Source::ReturnPath),
            ]),
        }
        match judgement {
            Some(judgement) => checks.extend(judgement.checks()),
            None => checks.push(left_out("guidelines", Source::Rules)),
        }
        checks.extend(told(spread.as_ref(), "tolerances", Source::Tolerance));
        if let Some(Ok(spread)) = spread
            && spread.units.is_none()
            && spread.parameters.iter().any(|one| one.spread.is_some())
        {
            checks.push(left_out("yield over tolerances", Source::Tolerance));
        }
        match walks {
            // The strokes of sliders come with their decisions.
            Some(walks) => checks.extend(
                walks
                    .checks()
                    .into_iter()
                    .filter(|check| check.kind != Kind::Slider || !matches!(sliders, Some(Ok(_)))),
            ),
            None if order.with_walk => {}
            None => checks.push(left_out("walk across the panel", Source::Walk)),
        }
        for study in order.studies {
            let [recorded, all] = study.points;
            if recorded < all {
                checks.push(
                    Check::new(Kind::Points, Severity::Undecided, Source::Sweep)
                        .at(format!("study \"{}\"", study.name))
                        .found(format!("{recorded} of {all} points are recorded")),
                );
            }
        }
        checks.extend(defaults(order.panel));
        // Two answers that stand on the same window or circuit say the same.
        let mut once: Vec<Check> = Vec::new();
        for check in checks {
            if !once.contains(&check) {
                once.push(check);
            }
        }
        once
    }
}

/// Values of the product that nobody said.
fn defaults(panel: &Panel) -> Vec<Check> {
    let circuit = |key: &str| panel.electronics.origin(key);
    let values = [
        ("pin capacitance", panel.stray.pin.origin),
        ("trace capacitance per length", panel.stray.trace.origin),
        ("users", panel.usage.users.origin),
        ("supplies", panel.usage.supplies.origin),
        ("resistor of the circuit", circuit("circuit.resistor")),
        ("gate of the circuit", circuit("circuit.gate")),
        ("noise of the circuit", circuit("circuit.noise")),
    ];
    let open = values
        .into_iter()
        .filter(|(_, origin)| *origin == Origin::Default);
    open.map(|(what, _)| {
        Check::new(Kind::Default, Severity::Undecided, Source::Solve)
            .at(what)
            .found("not a value of this product")
    })
    .collect()
}
