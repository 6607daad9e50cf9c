//! Users, supplies and demands of the threshold: `[window]`, `[supply.NAME]`, `application`.

use super::common::*;
use super::fingers::{POPULATION, known_finger};
use crate::panel::{EarthPath, Finger, NearMiss, Supply, Usage};

words!(for NearMiss as "NearMiss":
    "must act" => MustAct, "either" => Either, "must not act" => MustNotAct);

/// `[window]`: who touches, and what the threshold shall hold.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WindowEntry {
    /// Users by name: fingers of this file or of the default population.
    pub users: Option<Vec<String>>,
    /// Supplies by name: of this file or of the built-in ones.
    pub supplies: Option<Vec<String>>,
    /// Body to earth; default 120 pF between 80 and 200 pF.
    pub body: Option<WithTolerance<Capacitance>>,
    /// Largest distance by which a user misses the middle of a pad; default 3 mm.
    pub aim_error: Option<One<Length>>,
    /// From the middle of a pad to the edge of a palm that leans on the panel; default no palm.
    pub palm_distance: Option<One<Length>>,
    /// What a pad should make of a finger that missed it, within the aim error, onto its own trace:
    /// "must act", "either", "must not act"; default either.
    pub near_miss: Option<Word<NearMiss>>,
    /// What baseline tracking leaves of the drift; default none.
    pub drift_residue: Option<WithTolerance<Capacitance>>,
    /// Standard deviations of the noise between a mean and its bound; default 3.
    pub noise_margin: Option<One<Number>>,
    /// Window ratio asked for; default 2.
    pub wanted_ratio: Option<One<Number>>,
    /// Release threshold over threshold; default 0.75.
    pub release: Option<One<Number>>,
    /// How often anyone touches any pad in a day; default 100.
    pub touches_per_day: Option<One<Number>>,
    /// False events allowed in a year; default 1.
    pub false_per_year: Option<One<Number>>,
}

/// One `[supply.NAME]`: a way the device is powered.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SupplyEntry {
    /// Device ground to earth: "earthed", or a capacitance.
    pub to_earth: Option<Earth>,
    /// Body to device ground of a device that is held in the hand, instead of `to_earth`.
    pub held: Option<WithTolerance<Capacitance>>,
    /// Voltage between device ground and earth in the band of the measurement, rms; default that of
    /// `[circuit]`.
    pub common_mode: Option<One<Voltage>>,
    /// Where the value comes from, for reports.
    pub source: Option<String>,
}

/// What of `[supply]` can be varied.
pub const SUPPLY_ROWS: Rows = Rows {
    varied: &[
        event("to_earth", Measure::Capacitance, [0.1, 10_000.0], SPREAD),
        event("held", Measure::Capacitance, [0.1, 10_000.0], SPREAD),
        event("common_mode", Measure::Voltage, [0.0, 100.0], DISTURBING),
    ],
    fixed: &[],
};

/// What of `[window]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        event("body", Measure::Capacitance, [10.0, 1000.0], SPREAD),
        event("aim_error", Measure::Length, [0.0, 30.0], NONE),
        event("palm_distance", Measure::Length, [0.0, 300.0], NONE),
        event("drift_residue", Measure::Capacitance, [0.0, 10.0], NONE),
    ],
    fixed: &[still(
        &[
            "noise_margin",
            "wanted_ratio",
            "release",
            "touches_per_day",
            "false_per_year",
        ],
        "it is a demand, no property of the panel",
    )],
};

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

pub(crate) fn usage(file: &PanelFile, fingers: &[Finger]) -> Result<Usage, Finding> {
    let nothing = WindowEntry::default();
    let window = file.window.as_ref().unwrap_or(&nothing);
    for (name, entry) in &file.supply {
        supply(name, entry)?;
    }
    let number = |given, key: &str, default: f64, range| {
        in_limits(given, key, range).map(|given| sourced(given, default))
    };
    let body = body(window)?;
    let default_body = Toleranced::of(DEFAULT_BODY_PF).map(Capacitance::from_pf);
    let drift_residue = window.drift_residue.map(|given| given.0.most);
    if let Some(residue) = drift_residue {
        capacitance_in_range(steps!["window", "drift_residue"], residue)?;
    }
    let palm_distance = if_positive(
        steps!["window", "palm_distance"],
        window.palm_distance,
        "the distance",
    )?;
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

/// Capacitance of a body to earth.
fn body(window: &WindowEntry) -> Result<Option<Toleranced<Capacitance>>, Finding> {
    let at = || steps!["window", "body"];
    let Some(body) = window.body.map(|given| given.0) else {
        return Ok(None);
    };
    capacitance_in_range(at(), body.least)?;
    if body.least.farads() <= 0.0 {
        return Err(Finding::at(
            at(),
            "a body without capacitance to earth",
            "write more than 0 pF, as in \"120 pF\"",
        ));
    }
    Ok(Some(body))
}

fn in_limits(
    given: Option<One<Number>>,
    key: &str,
    [low, high]: [f64; 2],
) -> Result<Option<f64>, Finding> {
    match given {
        Some(One(value)) if !(low..=high).contains(&value) => Err(Finding::at(
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
        Err(unknown_name(steps, "user", name, known.chain(built_in)))
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
            Err(unknown_name(
                steps,
                "supply",
                name,
                known.map(String::as_str),
            ))
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
    use super::POPULATION;
    use crate::input::Document;
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
