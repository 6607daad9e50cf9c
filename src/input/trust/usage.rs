//! Users, supplies and demands of the threshold: `[window]`, `[supply.NAME]`, `application`.

use super::super::error::Finding;
use super::super::keys::{Step, steps};
use super::super::quantity::PlainNumber;
use super::super::typed::{PanelFile, SupplyEntry, WindowEntry};
use super::super::words::{listed, nearest};
use super::fingers::{POPULATION, known_finger};
use super::{capacitance_in_range, positive, sourced};
use crate::panel::{EarthPath, Finger, NearMiss, Supply, Usage};
use padfield_engine::units::{Capacitance, Toleranced};

/// Users of a file that names none (common practice, no source): the built-in population without thick
/// gloves.
const DEFAULT_USERS: [&str; 6] = [
    "small child",
    "light touch",
    "adult",
    "thumb",
    "slanted finger",
    "nitrile glove",
];
const DEFAULT_SUPPLIES: [&str; 1] = ["earthed"];
/// Nominal, least, most: N. Jonassen, Human body capacitance: static or dynamic concept? (abstract),
/// alternating current, widened (common practice, no source).
const DEFAULT_BODY_PF: [f64; 3] = [120.0, 80.0, 200.0];
/// Common practice, no source; so are the following ones.
const DEFAULT_NOISE_MARGIN: f64 = 3.0;
const DEFAULT_WANTED_RATIO: f64 = 2.0;
const DEFAULT_RELEASE_SHARE: f64 = 0.75;
const DEFAULT_TOUCHES_PER_DAY: f64 = 100.0;
const DEFAULT_FALSE_PER_YEAR: f64 = 1.0;

pub(super) fn usage(file: &PanelFile, fingers: &[Finger]) -> Result<Usage, Finding> {
    let nothing = WindowEntry::default();
    let window = file.window.as_ref().unwrap_or(&nothing);
    for (name, entry) in &file.supply {
        supply(name, entry)?;
    }
    let number = |given: Option<PlainNumber>, key: &str, default: f64, range: [f64; 2]| {
        in_limits(given, key, range).map(|given| sourced(given, default))
    };
    let body = window.body.map(|given| given.0);
    if let Some(body) = body {
        capacitance_in_range(steps!["window", "body"], body.least)?;
        if body.least.farads() <= 0.0 {
            return Err(Finding::at(
                steps!["window", "body"],
                "a body without capacitance to earth",
                "write more than 0 pF, as in \"120 pF\"",
            ));
        }
    }
    let [nominal, least, most] = DEFAULT_BODY_PF.map(Capacitance::from_pf);
    let default_body = Toleranced {
        nominal,
        least,
        most,
    };
    let drift_residue = window.drift_residue.map(|given| given.0.most);
    if let Some(residue) = drift_residue {
        capacitance_in_range(steps!["window", "drift_residue"], residue)?;
    }
    let palm_distance = window
        .palm_distance
        .map(|given| positive(steps!["window", "palm_distance"], given.0, "the distance"))
        .transpose()?;
    Ok(Usage {
        users: sourced(
            named(&window.users, "users", |steps, name| {
                user(file, fingers, steps, name)
            })?,
            default_users(file)?,
        ),
        supplies: sourced(
            named(&window.supplies, "supplies", |steps, name| {
                known_supply(file, steps, name)
            })?
            .or(own_supplies(file)?),
            default_supplies(file)?,
        ),
        body: sourced(body, default_body),
        palm: Some(user(file, fingers, Vec::new(), "palm")?),
        palm_distance,
        near_miss: sourced(window.near_miss.map(|word| word.0), NearMiss::Either),
        drift_residue,
        noise_margin: number(
            window.noise_margin,
            "noise_margin",
            DEFAULT_NOISE_MARGIN,
            [0.0, 20.0],
        )?,
        wanted_ratio: number(
            window.wanted_ratio,
            "wanted_ratio",
            DEFAULT_WANTED_RATIO,
            [1.0, 100.0],
        )?,
        release_share: number(
            window.release,
            "release",
            DEFAULT_RELEASE_SHARE,
            [0.1, 0.99],
        )?,
        touches_per_day: number(
            window.touches_per_day,
            "touches_per_day",
            DEFAULT_TOUCHES_PER_DAY,
            [0.001, 1e6],
        )?,
        false_per_year: number(
            window.false_per_year,
            "false_per_year",
            DEFAULT_FALSE_PER_YEAR,
            [1e-9, 1e6],
        )?,
        applications: file
            .application
            .iter()
            .flatten()
            .map(|word| word.0)
            .collect(),
    })
}

fn in_limits(
    given: Option<PlainNumber>,
    key: &str,
    [low, high]: [f64; 2],
) -> Result<Option<f64>, Finding> {
    match given {
        Some(PlainNumber(value)) if !(low..=high).contains(&value) => Err(Finding::at(
            steps!["window", key],
            format!("{value} is out of range"),
            format!("write a number from {low} to {high}"),
        )),
        given => Ok(given.map(|number| number.0)),
    }
}

/// What the names of a list stand for; an empty list is as good as none.
fn named<T>(
    names: &Option<Vec<String>>,
    key: &str,
    find: impl Fn(Vec<Step>, &str) -> Result<T, Finding>,
) -> Result<Option<Vec<T>>, Finding> {
    let Some(names) = names else { return Ok(None) };
    if names.is_empty() {
        return Err(Finding::at(
            steps!["window", key],
            format!("there are no {key}"),
            "name at least one, or leave the line out",
        ));
    }
    let each = names.iter().enumerate();
    each.map(|(index, name)| find(steps!["window", key, index], name))
        .collect::<Result<Vec<T>, Finding>>()
        .map(Some)
}

fn unknown<'k>(
    steps: Vec<Step>,
    kind: &str,
    name: &str,
    known: impl Iterator<Item = &'k str> + Clone,
) -> Finding {
    let hint = match nearest(name, known.clone()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => format!("write {}", listed(known)),
    };
    Finding::at(steps, format!("there is no {kind} \"{name}\""), hint)
}

fn user(
    file: &PanelFile,
    fingers: &[Finger],
    steps: Vec<Step>,
    name: &str,
) -> Result<Finger, Finding> {
    if let Some(own) = fingers.iter().find(|finger| finger.name == name) {
        return Ok(own.clone());
    }
    known_finger(file, name).unwrap_or_else(|| {
        let known = fingers.iter().map(|finger| finger.name.as_str());
        let built_in = POPULATION.finger.keys().map(String::as_str);
        Err(unknown(steps, "user", name, known.chain(built_in)))
    })
}

/// The built-in users; one of the file comes before its namesake.
fn default_users(file: &PanelFile) -> Result<Vec<Finger>, Finding> {
    DEFAULT_USERS
        .iter()
        .map(|name| user(file, &[], Vec::new(), name))
        .collect()
}

fn known_supply(file: &PanelFile, steps: Vec<Step>, name: &str) -> Result<Supply, Finding> {
    match file
        .supply
        .get(name)
        .or_else(|| POPULATION.supply.get(name))
    {
        Some(entry) => supply(name, entry),
        None => {
            let known = file.supply.keys().chain(POPULATION.supply.keys());
            Err(unknown(steps, "supply", name, known.map(String::as_str)))
        }
    }
}

/// All supplies of the file, when there are any.
fn own_supplies(file: &PanelFile) -> Result<Option<Vec<Supply>>, Finding> {
    let own = file.supply.iter().map(|(name, entry)| supply(name, entry));
    let own: Vec<Supply> = own.collect::<Result<_, _>>()?;
    Ok((!own.is_empty()).then_some(own))
}

fn default_supplies(file: &PanelFile) -> Result<Vec<Supply>, Finding> {
    DEFAULT_SUPPLIES
        .iter()
        .map(|name| known_supply(file, Vec::new(), name))
        .collect()
}

fn supply(name: &str, entry: &SupplyEntry) -> Result<Supply, Finding> {
    let at = |key: &str| steps!["supply", name, key];
    let (key, to_earth) = match (entry.to_earth, entry.held) {
        (Some(_), Some(_)) => {
            return Err(Finding::at(
                at("held"),
                "a supply is either tied to earth or held in the hand",
                "leave to_earth or held out, or write two supplies",
            ));
        }
        (Some(earth), None) => ("to_earth", earth.0),
        (None, Some(held)) => ("held", EarthPath::Held(held.0)),
        (None, None) => {
            return Err(Finding::at(
                steps!["supply", name],
                format!("the supply \"{name}\" has no path to earth"),
                "add to_earth = \"earthed\", to_earth = \"40 pF\" or held = \"60 pF\"",
            ));
        }
    };
    if let EarthPath::Capacitance(given) | EarthPath::Held(given) = to_earth {
        capacitance_in_range(at(key), given.least)?;
        capacitance_in_range(at(key), given.most)?;
    }
    let common_mode = entry.common_mode.map(|given| given.0);
    if let Some(voltage) = common_mode
        && !(0.0..=1000.0).contains(&voltage.volts())
    {
        return Err(Finding::at(
            at("common_mode"),
            "a common-mode voltage of this size makes no sense here",
            "write 0 V to 1000 V, as in \"0.5 V\"",
        ));
    }
    Ok(Supply {
        name: name.to_owned(),
        to_earth,
        common_mode,
        source: entry
            .source
            .clone()
            .unwrap_or_else(|| "given, no source".to_owned()),
    })
}

#[cfg(test)]
mod tests {
    use super::super::super::Document;
    use super::super::fingers::POPULATION;
    use crate::panel::{Origin, Panel};

    fn panel(more: &str) -> Panel {
        let text = format!(
            "{}\n{more}",
            include_str!("../../../tests/panels/round_pad.toml")
        );
        let document = Document::from_text("pad.toml", &text).expect("TOML");
        document
            .panel(&[])
            .unwrap_or_else(|error| panic!("{error}"))
    }

    #[test]
    fn every_built_in_user_and_supply_can_be_named_and_has_a_source() {
        let quoted = |names: Vec<&String>| format!("{names:?}");
        let users = quoted(POPULATION.finger.keys().collect());
        let supplies = quoted(POPULATION.supply.keys().collect());
        let usage = panel(&format!(
            "[window]\nusers = {users}\nsupplies = {supplies}\n"
        ))
        .usage;
        assert_eq!(usage.users.value.len(), POPULATION.finger.len());
        assert_eq!(usage.supplies.value.len(), POPULATION.supply.len());
        let no_source = "given, no source";
        // The adult is the finger of the file.
        let mut users = usage.users.value.iter().filter(|user| user.name != "adult");
        assert!(users.all(|user| user.source != no_source));
        assert!(usage.supplies.value.iter().all(|s| s.source != no_source));
    }

    #[test]
    fn defaults_are_marked_and_a_finger_of_the_file_comes_first() {
        let usage = panel("").usage;
        assert_eq!(usage.users.origin, Origin::Default);
        assert_eq!(usage.supplies.value[0].name, "earthed");
        let usage = panel("[window]\nusers = [\"adult\"]\naim_error = \"2 mm\"\n").usage;
        // The adult of the file, whose aim error is the general one of the file.
        assert_eq!(usage.users.value[0].source, "given, no source");
        assert_eq!(usage.users.value[0].aim_error.value.mm().round(), 2.0);
    }

    #[test]
    fn capacitances_in_series_make_the_return() {
        // 120 pF in series with 40 pF: 30 pF (textbook).
        let usage =
            panel("[supply.box]\nto_earth = \"40 pF\"\n[window]\nbody = \"120 pF\"\n").usage;
        let range = usage.supplies.value[0].return_range(&usage.body.value);
        let nominal = range.nominal.expect("a capacitance").pf();
        assert!((nominal - 30.0).abs() < 1e-9, "{nominal}");
    }
}
