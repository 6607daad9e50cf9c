//! A study: what varies, how it is combined, what is reported and what limits it.

mod report;
mod values;

use super::common::*;
use crate::panel::Panel;
use crate::study::{
    Combine, DEFAULT_ACCURACY, MOST_POINTS, MOST_SOBOL_SAMPLES, MOST_VARIABLES, Sequence, Study,
    Values, Variable,
};
pub(crate) use report::{Refusal, quantity, value_of};
use report::{limit, percent, report};
pub(crate) use values::variable;

words!(
    /// How the variables of a study are combined; the number of samples is a key of its own.
    Combination as "Combination":
        "all" => All, "side by side" => SideBySide, "sample" => Sample
);
words!(for Sequence as "Sequence": "sobol" => Sobol, "random" => Random);
words!(
    /// Distances of the values of a range: equal differences, or equal ratios.
    Scale as "Scale": "linear" => Linear, "logarithmic" => Logarithmic
);

/// The section of the studies.
pub const STUDY: &str = "study";

/// One `[study.NAME]`: what varies, how it is combined, what is reported.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StudyEntry {
    /// What varies: one entry per path.
    pub vary: Vec<VaryEntry>,
    /// How the values are combined; default all.
    pub combine: Option<Word<Combination>>,
    /// Number of samples; for combine = "sample".
    pub samples: Option<WholeNumber>,
    /// How samples are drawn; default sobol.
    pub sequence: Option<Word<Sequence>>,
    /// Another seed gives other samples; default 1.
    pub seed: Option<WholeNumber>,
    /// Quantities by name; default base capacitance, touch shift and neighbour ratio.
    pub report: Option<Vec<String>>,
    /// Limits drawn into the charts.
    #[serde(default)]
    pub limits: Vec<LimitEntry>,
    /// Wanted estimated error of every base and touch shift; default 1 %.
    pub accuracy: Option<String>,
    /// Finger that touches; default the first of the file.
    pub finger: Option<String>,
}

/// One entry of `vary`: a path with a list of values or a range.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VaryEntry {
    /// Dotted path of the value that varies.
    pub path: String,
    /// The values, one by one.
    pub values: Option<Vec<PlainValue>>,
    /// First value of a range.
    pub from: Option<PlainValue>,
    /// Last value of a range.
    pub to: Option<PlainValue>,
    /// Exact decimal step of a range.
    pub step: Option<PlainValue>,
    /// Number of values of a range, both ends included.
    pub points: Option<WholeNumber>,
    /// Distances of the values of a range; default linear.
    pub scale: Option<Word<Scale>>,
}

/// One entry of `limits`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LimitEntry {
    /// Quantity by name.
    pub quantity: String,
    /// Upper limit.
    pub at_most: Option<String>,
    /// Lower limit.
    pub at_least: Option<String>,
    /// Where the limit comes from: house rule, requirement, standard.
    pub because: Option<String>,
}

/// A path in full and whether its value is a whole number.
pub(crate) type FullPath<'c> = Result<(&'c str, bool), Refusal>;

/// Questions to the document a study belongs to.
pub(crate) struct Checks<'c> {
    /// A path in full, and whether its value is a whole number.
    pub path: &'c dyn Fn(&str) -> FullPath<'c>,
    /// Whether a value can stand at a path.
    pub value: &'c dyn Fn(&str, &str) -> Result<(), Refusal>,
}

/// Checks a study against the panel it varies.
pub(crate) fn study(
    name: &str,
    entry: &Keyed<StudyEntry>,
    panel: &Panel,
    checks: &Checks<'_>,
) -> Result<Study, Finding> {
    // The name is that of a folder.
    if !name
        .chars()
        .all(|c| c.is_alphanumeric() || " -_".contains(c))
    {
        return Err(Finding::at_key(
            steps![STUDY, name],
            format!("\"{name}\" cannot be the name of a study"),
            "a study is also a folder: use letters, digits, spaces, - and _",
        ));
    }
    let is_sample = entry.combine.is_some_and(|c| c.0 == Combination::Sample);
    let variables = variables(name, entry, is_sample, checks)?;
    let combine = combine(name, entry, &variables)?;
    let study = Study {
        name: name.to_owned(),
        report: report(name, entry, panel)?,
        limits: entry
            .limits
            .iter()
            .enumerate()
            .map(|(index, one)| limit(steps![STUDY, name, "limits", index], one, panel))
            .collect::<Result<_, _>>()?,
        accuracy: accuracy(name, entry)?,
        finger: entry.finger.clone(),
        variables,
        combine,
    };
    if let Some(finger) = &entry.finger {
        let known = panel.fingers.iter().map(|finger| finger.name.as_str());
        find_name(steps![STUDY, name, "finger"], finger, "finger", known)?;
    }
    let points = study.plan().len();
    if points > MOST_POINTS {
        return Err(Finding::at(
            steps![STUDY, name, "vary"],
            match points {
                u64::MAX => "the study has more points than can be counted".to_owned(),
                _ => format!("the study has {points} points"),
            },
            format!("at most {MOST_POINTS}: take larger steps, or combine = \"sample\""),
        ));
    }
    Ok(study)
}

fn variables(
    name: &str,
    entry: &Keyed<StudyEntry>,
    is_sample: bool,
    checks: &Checks<'_>,
) -> Result<Vec<Variable>, Finding> {
    let at = || steps![STUDY, name, "vary"];
    if entry.vary.is_empty() {
        return Err(Finding::at(
            at(),
            "nothing varies",
            "write { path = \"layer.overlay.thickness\", values = [\"2 mm\", \"4 mm\"] }",
        ));
    }
    if entry.vary.len() > MOST_VARIABLES {
        return Err(Finding::at(
            at(),
            format!("{} values vary at once", entry.vary.len()),
            format!("at most {MOST_VARIABLES}"),
        ));
    }
    let mut variables: Vec<Variable> = Vec::new();
    for (index, vary) in entry.vary.iter().enumerate() {
        let at = steps![STUDY, name, "vary", index];
        let variable = variable(&at, vary, is_sample, checks)?;
        let overlaps = |other: &&Variable| {
            let within = |outer: &str, inner: &str| {
                inner
                    .strip_prefix(outer)
                    .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
            };
            within(&other.path, &variable.path) || within(&variable.path, &other.path)
        };
        if let Some(other) = variables.iter().find(overlaps) {
            return Err(Finding::at(
                with_step(&at, "path"),
                format!("\"{}\" varies twice", other.path),
                "write each path once, with all its values",
            ));
        }
        variables.push(variable);
    }
    Ok(variables)
}

fn combine(
    name: &str,
    entry: &Keyed<StudyEntry>,
    variables: &[Variable],
) -> Result<Combine, Finding> {
    let at = |key: &str| steps![STUDY, name, key];
    let combination = entry.combine.map_or(Combination::All, |word| word.0);
    if combination != Combination::Sample
        && let Some(key) = entry.any_of(&["samples", "sequence", "seed"])
    {
        return Err(Finding::at_key(
            at(key),
            format!("\"{key}\" is for samples only"),
            "add combine = \"sample\", or remove it",
        ));
    }
    match combination {
        Combination::All => Ok(Combine::All),
        Combination::SideBySide => side_by_side(name, variables),
        Combination::Sample => {
            let samples = entry.samples.ok_or_else(|| {
                Finding::at(
                    at("combine"),
                    "nothing says how many samples",
                    "add samples = 200",
                )
            })?;
            let sequence = sourced(entry.sequence.map(|word| word.0), Sequence::Sobol).value;
            let samples = u64::from(samples.0);
            let most = match sequence {
                Sequence::Sobol => MOST_SOBOL_SAMPLES,
                Sequence::Random => MOST_POINTS,
            };
            if !(1..=most).contains(&samples) {
                let longer = match sequence {
                    Sequence::Sobol => "; sequence = \"random\" takes more",
                    Sequence::Random => "",
                };
                return Err(Finding::at(
                    at("samples"),
                    format!("{samples} samples are out of range"),
                    format!("write 1 to {most}{longer}"),
                ));
            }
            Ok(Combine::Sample {
                samples,
                sequence,
                seed: entry.seed.map_or(1, |seed| seed.0),
            })
        }
    }
}

fn side_by_side(name: &str, variables: &[Variable]) -> Result<Combine, Finding> {
    let first = &variables[0];
    for (index, other) in variables.iter().enumerate() {
        if other.len() != first.len() {
            let count = |v: &Variable| v.len().unwrap_or(0);
            return Err(Finding::at(
                steps![STUDY, name, "vary", index],
                format!(
                    "\"{}\" has {} values, \"{}\" has {}",
                    other.path,
                    count(other),
                    first.path,
                    count(first)
                ),
                "side by side, every path needs as many values",
            ));
        }
    }
    Ok(Combine::SideBySide)
}

fn accuracy(name: &str, entry: &Keyed<StudyEntry>) -> Result<f64, Finding> {
    let Some(text) = &entry.accuracy else {
        return Ok(DEFAULT_ACCURACY);
    };
    let at = || steps![STUDY, name, "accuracy"];
    let value = percent(text).map_err(|(message, hint)| Finding::at(at(), message, hint))?;
    if !(value > 0.0 && value <= 100.0) {
        return Err(Finding::at(
            at(),
            format!("an accuracy of {value} % is out of range"),
            "write more than 0 % and at most 100 %",
        ));
    }
    // Dividing keeps 0.5 % equal to 0.005, multiplying by 0.01 does not.
    Ok(value / 100.0)
}

/// Whether a variable can only be sampled.
pub(crate) fn samples_only(values: &Values) -> bool {
    matches!(
        values,
        Values::Range {
            spread: crate::study::Spread::Anywhere { .. },
            ..
        }
    )
}
