//! From the rules file as typed to checked rules: what its keys mean together.

use super::data::{Added, Rule};
use super::subject::PLACEHOLDERS;
use super::typed::{AddEntry, RuleEntry, RulesFile, SetEntry};
use crate::input::materials;
use crate::input::quantity::reading::{Measure, measure_of, read_one, split_plain};
use crate::input::{
    Finding, Keyed, ScenarioError, Step, TypedFile, listed, nearest, steps, value_of,
};
use crate::study::{Condition, Quantity, QuantityKind, Relation};

/// The built-in rules.
pub const COMMON_PRACTICE: &str = include_str!("common_practice.toml");

const UNSAID_SOURCE: &str = "house rule, no source given";

/// The built-in rules, checked.
pub fn built_in() -> Vec<Rule> {
    rules_of("common_practice.toml", COMMON_PRACTICE.as_bytes())
        .unwrap_or_else(|error| panic!("the built-in rules are valid: {error}"))
}

/// The rules of a file; `file` is its name for messages.
///
/// # Errors
/// The first thing wrong with it, at its place.
pub fn rules_of(file: &str, bytes: &[u8]) -> Result<Vec<Rule>, ScenarioError> {
    let typed: TypedFile<RulesFile> = TypedFile::from_bytes(file, "rules file", bytes)?;
    let rules = typed.value.rule.iter();
    rules
        .map(|(name, entry)| rule(name, entry).map_err(|finding| typed.placed(&finding)))
        .collect()
}

/// Adds rules to others: one of a known name takes its place.
pub fn add_or_replace(rules: &mut Vec<Rule>, more: Vec<Rule>) {
    for rule in more {
        match rules.iter_mut().find(|known| known.name == rule.name) {
            Some(known) => *known = rule,
            None => rules.push(rule),
        }
    }
}

const KINDS: [&str; 6] = [
    "needed value",
    "effect",
    "power law",
    "estimate",
    "threshold share",
    "not described",
];

/// A rule in hand: where it is in the file.
pub(super) struct Reading<'r> {
    pub name: &'r str,
    pub entry: &'r Keyed<RuleEntry>,
}

fn rule(name: &str, entry: &Keyed<RuleEntry>) -> Result<Rule, Finding> {
    let reading = Reading { name, entry };
    let kind = match reading.word("kind", &entry.kind, &KINDS)? {
        0 => reading.needed_value()?,
        1 => reading.effect()?,
        2 => reading.power_law()?,
        3 => reading.estimate()?,
        4 => reading.threshold_share()?,
        _ => reading.not_described()?,
    };
    let aim_error_m = match &entry.aim_error {
        Some(given) if given.0.metres() <= 0.0 || given.0.metres() > 0.1 => {
            let message = "an aim error of this size makes no sense";
            return Err(reading.refused("aim_error", message, "write 0.1 mm to 100 mm"));
        }
        given => given.as_ref().map(|given| given.0.metres()),
    };
    Ok(Rule {
        name: name.to_owned(),
        says: entry.says.clone(),
        source: entry
            .source
            .clone()
            .unwrap_or_else(|| UNSAID_SOURCE.to_owned()),
        because: entry.because.clone().unwrap_or_default(),
        overlay: reading.overlay()?,
        set: reading.pairs("set", &entry.set)?,
        add: reading.additions()?,
        aim_error_m,
        kind,
    })
}

/// Keys every kind takes.
const COMMON_KEYS: [&str; 8] = [
    "says",
    "source",
    "kind",
    "because",
    "overlay",
    "set",
    "add",
    "aim_error",
];

impl Reading<'_> {
    pub fn at(&self, key: &str) -> Vec<Step> {
        steps!["rule", self.name, key]
    }

    pub fn refused(
        &self,
        key: &str,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Finding {
        Finding::at(self.at(key), message, hint)
    }

    /// Number of a word among those that are known.
    pub fn word(&self, key: &str, text: &str, known: &[&str]) -> Result<usize, Finding> {
        known.iter().position(|word| *word == text).ok_or_else(|| {
            let hint = match nearest(text, known.iter().copied()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("write {}", listed(known.iter().copied())),
            };
            self.refused(key, format!("\"{text}\" is not known here"), hint)
        })
    }

    /// An error for the first key that is written but does not belong to this kind.
    pub fn only(&self, own: &[&str]) -> Result<(), Finding> {
        let is_empty = |key| match key {
            "change" => self.entry.change.is_empty(),
            "expect" => self.entry.expect.is_empty(),
            _ => false,
        };
        let known = [own, &COMMON_KEYS].concat();
        let mut foreign = self.entry.written().filter(|key| !known.contains(key));
        let Some(key) = foreign.find(|key| !is_empty(key)) else {
            return Ok(());
        };
        let hint = match nearest(key, own.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("its keys: {}", known.join(", ")),
        };
        Err(Finding::at_key(
            self.at(key),
            format!(
                "a rule of kind \"{}\" has no key \"{key}\"",
                self.entry.kind
            ),
            hint,
        ))
    }

    pub fn needs<'e, T>(
        &self,
        key: &str,
        value: &'e Option<T>,
        form: &str,
    ) -> Result<&'e T, Finding> {
        value.as_ref().ok_or_else(|| {
            Finding::at(
                steps!["rule", self.name],
                format!("rule \"{}\" has no \"{key}\"", self.name),
                format!("add a line {form}"),
            )
        })
    }

    fn overlay(&self) -> Result<Vec<String>, Finding> {
        let names = self.entry.overlay.iter().flatten().enumerate();
        names
            .map(|(index, name)| match materials::find(name) {
                Ok(material) => Ok(material.name.clone()),
                Err(unknown) => {
                    let hint = match &unknown.nearest {
                        Some(near) => format!("did you mean \"{near}\"?"),
                        None => "padfield materials lists those there are".to_owned(),
                    };
                    let at = steps!["rule", self.name, "overlay", index];
                    Err(Finding::at(at, unknown.to_string(), hint))
                }
            })
            .collect()
    }

    pub fn pairs(&self, key: &str, entries: &[SetEntry]) -> Result<Vec<[String; 2]>, Finding> {
        let pair = |(index, entry): (usize, &SetEntry)| {
            let at = |part: &str| steps!["rule", self.name, key, index, part];
            self.placeholders(at("path"), &entry.path)?;
            self.placeholders(at("value"), &entry.value)?;
            Ok([entry.path.clone(), entry.value.clone()])
        };
        entries.iter().enumerate().map(pair).collect()
    }

    fn additions(&self) -> Result<Vec<Added>, Finding> {
        for (index, entry) in self.entry.add.iter().enumerate() {
            let names = [
                ("guard", &entry.guard),
                ("layer", &entry.layer),
                ("behind", &entry.behind),
            ];
            for (part, name) in names {
                let at = steps!["rule", self.name, "add", index, part];
                self.placeholders(at, name.as_deref().unwrap_or(""))?;
            }
        }
        let entries = self.entry.add.iter().enumerate();
        entries
            .map(|(index, entry)| match entry {
                AddEntry {
                    guard: Some(name),
                    layer: None,
                    behind: None,
                } => Ok(Added::Guard(name.clone())),
                AddEntry {
                    guard: None,
                    layer: Some(name),
                    behind: Some(behind),
                } => Ok(Added::Layer {
                    name: name.clone(),
                    behind: behind.clone(),
                }),
                _ => Err(Finding::at(
                    steps!["rule", self.name, "add", index],
                    "this is neither a ground trace nor a layer behind another one",
                    "write { guard = \"NAME\" } or { layer = \"NAME\", behind = \"{overlay}\" }",
                )),
            })
            .collect()
    }

    pub fn quantity(&self, at: Vec<Step>, text: &str) -> Result<QuantityKind, Finding> {
        let words = || QuantityKind::ALL.into_iter().map(QuantityKind::words);
        match text.parse::<Quantity>() {
            Ok(Quantity { kind, pad: None }) => Ok(kind),
            Ok(Quantity { pad: Some(_), .. }) => Err(Finding::at(
                at,
                "a rule is about any panel, not about one pad",
                "leave \"of PAD\" out",
            )),
            Err(unknown) => {
                let hint = match nearest(text, words()) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => format!("write {}", listed(words())),
                };
                Err(Finding::at(at, unknown.to_string(), hint))
            }
        }
    }

    pub fn condition(&self, key: &str, text: &str, is_share: bool) -> Result<Condition, Finding> {
        let signs = Relation::SIGNS
            .into_iter()
            .filter(|(_, relation)| *relation != Relation::Equal)
            .filter_map(|(sign, relation)| Some((text.find(sign)?, sign, relation)))
            .min_by_key(|(at, ..)| *at);
        let Some((at, sign, relation)) = signs else {
            return Err(self.refused(
                key,
                "nothing is compared here",
                "write QUANTITY <= VALUE or >=, such as \"neighbour ratio <= 20 %\"",
            ));
        };
        let kind = self.quantity(self.at(key), text[..at].trim())?;
        let value = text[at + sign.len()..].trim();
        let read = match is_share {
            // Of a share: any quantity in percent of its reference.
            true => percent(value).map_err(|hint| (format!("\"{value}\" is not a share"), hint)),
            false => value_of(kind, value),
        };
        let value = read.map_err(|(message, hint)| self.refused(key, message, hint))?;
        Ok(Condition {
            quantity: Quantity::of_panel(kind),
            relation,
            value: twelve_digits(value),
        })
    }

    pub fn paths(&self) -> Result<Vec<String>, Finding> {
        let form = "path = [\"pads.{pads}.gap\"]";
        let paths = self.needs("path", &self.entry.path, form)?;
        if paths.is_empty() {
            return Err(self.refused("path", "the list is empty", format!("write {form}")));
        }
        for (index, path) in paths.iter().enumerate() {
            self.placeholders(steps!["rule", self.name, "path", index], path)?;
        }
        Ok(paths.clone())
    }

    /// Braces hold one of the words that are known.
    pub fn placeholders(&self, at: Vec<Step>, text: &str) -> Result<(), Finding> {
        let mut rest = text;
        while let Some(start) = rest.find('{') {
            let inner = &rest[start + 1..];
            let word = inner.split('}').next().unwrap_or(inner);
            let known = PLACEHOLDERS.map(|(word, _)| word);
            if !known.contains(&word) {
                let hint = match nearest(word, known) {
                    Some(near) => format!("did you mean {{{near}}}?"),
                    None => format!("known: {{{}}}", known.join("}, {")),
                };
                let message = format!("nothing stands for {{{word}}}");
                return Err(Finding::at(at, message, hint));
            }
            rest = &inner[word.len()..];
        }
        Ok(())
    }

    /// What the unit of a value measures.
    pub fn measure(&self, key: &str, text: &str) -> Result<Measure, Finding> {
        let unit = split_plain(text).map(|(_, unit)| unit);
        unit.and_then(measure_of).ok_or_else(|| {
            self.refused(
                key,
                format!("\"{text}\" is not a plain number with its unit"),
                "write one value such as \"4 mm\"",
            )
        })
    }

    /// A value in the usual unit of its measure.
    pub fn amount(&self, key: &str, text: &str, measure: Measure) -> Result<f64, Finding> {
        let base = read_one(text, measure).map_err(|m| self.refused(key, m.message, m.hint))?;
        Ok(twelve_digits(base / per_usual(measure)))
    }

    pub fn positive(&self, key: &str, value: f64, least: f64) -> Result<f64, Finding> {
        if value.is_finite() && value > least {
            return Ok(value);
        }
        Err(self.refused(
            key,
            format!("{value} is out of range"),
            format!("write more than {least}"),
        ))
    }
}

/// A share above zero in percent, or what to write.
pub(super) fn percent(text: &str) -> Result<f64, String> {
    let number = text.trim().strip_suffix('%').map(str::trim_end);
    match number.map(str::parse::<f64>) {
        Some(Ok(value)) if value.is_finite() && value > 0.0 => Ok(value),
        _ => Err("write a share above 0 such as \"20 %\"".to_owned()),
    }
}

/// Base units per usual unit.
pub(super) fn per_usual(measure: Measure) -> f64 {
    let one = format!("1 {}", measure.usual_unit());
    read_one(one.trim(), measure).unwrap_or(1.0)
}

/// Takes away what the factor between units has added to the last bits.
pub(super) fn twelve_digits(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}
