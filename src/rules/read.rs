//! From the rules file as typed to checked rules: what its keys mean together.

use super::data::{
    Added, Bound, Change, Effect, Expectation, Form, Kind, NeededValue, Otherwise, PowerLaw,
    Reference, Rule, RuleValue,
};
use super::typed::{AddEntry, ExpectEntry, RuleEntry, RulesFile, SetEntry};
use crate::materials;
use crate::response::HAND_ESTIMATES;
use crate::scenario::reading::{Measure, measure_of, read_one, split_plain};
use crate::scenario::{Finding, ScenarioError, Step, TypedFile, listed, nearest, steps, value_of};
use crate::study::{Condition, Quantity, QuantityKind, Relation};

/// The built-in rules.
pub const COMMON_PRACTICE: &str = include_str!("common_practice.toml");

/// Beyond this factor a rule is more careful than needed, unless it says another one.
const CAREFUL_FACTOR: f64 = 1.5;
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
struct Reading<'r> {
    name: &'r str,
    entry: &'r RuleEntry,
}

fn rule(name: &str, entry: &RuleEntry) -> Result<Rule, Finding> {
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
    fn at(&self, key: &str) -> Vec<Step> {
        steps!["rule", self.name, key]
    }

    fn refused(&self, key: &str, message: impl Into<String>, hint: impl Into<String>) -> Finding {
        Finding::at(self.at(key), message, hint)
    }

    /// Number of a word among those that are known.
    fn word(&self, key: &str, text: &str, known: &[&str]) -> Result<usize, Finding> {
        known.iter().position(|word| *word == text).ok_or_else(|| {
            let hint = match nearest(text, known.iter().copied()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!("write {}", listed(known.iter().copied())),
            };
            self.refused(key, format!("\"{text}\" is not known here"), hint)
        })
    }

    /// An error for the first key that is written but does not belong to this kind.
    fn only(&self, own: &[&str]) -> Result<(), Finding> {
        let entry = self.entry;
        let written = [
            ("path", entry.path.is_some()),
            ("value", entry.value.is_some()),
            ("times", entry.times.is_some()),
            ("of", entry.of.is_some()),
            ("side", entry.side.is_some()),
            ("from", entry.from.is_some()),
            ("to", entry.to.is_some()),
            ("condition", entry.condition.is_some()),
            ("compared_with", entry.compared_with.is_some()),
            ("careful_factor", entry.careful_factor.is_some()),
            ("change", !entry.change.is_empty()),
            ("reshape", entry.reshape.is_some()),
            ("expect", !entry.expect.is_empty()),
            ("not_needed_when", entry.not_needed_when.is_some()),
            ("quantity", entry.quantity.is_some()),
            ("against", entry.against.is_some()),
            ("exponent", entry.exponent.is_some()),
            ("exponent_within", entry.exponent_within.is_some()),
            ("factors", entry.factors.is_some()),
            ("estimate", entry.estimate.is_some()),
            ("within", entry.within.is_some()),
            ("shares", entry.shares.is_some()),
            ("needs", entry.needs.is_some()),
        ];
        let foreign = written
            .iter()
            .find(|(key, is_written)| *is_written && !own.contains(key));
        let Some((key, _)) = foreign else {
            return Ok(());
        };
        let hint = match nearest(key, own.iter().copied()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("its keys: {}", [own, &COMMON_KEYS[..]].concat().join(", ")),
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

    fn needs<'e, T>(&self, key: &str, value: &'e Option<T>, form: &str) -> Result<&'e T, Finding> {
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

    fn pairs(&self, key: &str, entries: &[SetEntry]) -> Result<Vec<[String; 2]>, Finding> {
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

    fn quantity(&self, at: Vec<Step>, text: &str) -> Result<QuantityKind, Finding> {
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

    fn condition(&self, key: &str, text: &str, is_share: bool) -> Result<Condition, Finding> {
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

    fn paths(&self) -> Result<Vec<String>, Finding> {
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
    fn placeholders(&self, at: Vec<Step>, text: &str) -> Result<(), Finding> {
        let mut rest = text;
        while let Some(start) = rest.find('{') {
            let inner = &rest[start + 1..];
            let word = inner.split('}').next().unwrap_or(inner);
            if !super::subject::PLACEHOLDERS.contains(&word) {
                let known = super::subject::PLACEHOLDERS;
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
    fn measure(&self, key: &str, text: &str) -> Result<Measure, Finding> {
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
    fn amount(&self, key: &str, text: &str, measure: Measure) -> Result<f64, Finding> {
        let base = read_one(text, measure).map_err(|m| self.refused(key, m.message, m.hint))?;
        Ok(twelve_digits(base / per_usual(measure)))
    }

    fn positive(&self, key: &str, value: f64, least: f64) -> Result<f64, Finding> {
        if value.is_finite() && value > least {
            return Ok(value);
        }
        Err(self.refused(
            key,
            format!("{value} is out of range"),
            format!("write more than {least}"),
        ))
    }

    fn needed_value(&self) -> Result<Kind, Finding> {
        self.only(&[
            "path",
            "value",
            "times",
            "of",
            "side",
            "from",
            "to",
            "condition",
            "compared_with",
            "careful_factor",
        ])?;
        let entry = self.entry;
        let from = self.needs("from", &entry.from, "from = \"1 mm\"")?.text();
        let to = self.needs("to", &entry.to, "to = \"20 mm\"")?.text();
        let measure = self.measure("to", &to)?;
        let unit = measure.usual_unit();
        let from = self.amount("from", &from, measure)?;
        let to = self.amount("to", &to, measure)?;
        if from >= to {
            return Err(self.refused(
                "from",
                "the range starts at or above its end",
                "write a smaller start",
            ));
        }
        let value = match (&entry.value, entry.times, &entry.of) {
            (Some(given), None, None) => {
                let value = self.amount("value", &given.text(), measure)?;
                RuleValue::Fixed(self.positive("value", value, 0.0)?, given.text())
            }
            (None, Some(factor), Some(path)) => {
                self.placeholders(self.at("of"), path)?;
                RuleValue::Times(self.positive("times", factor, 0.0)?, path.clone())
            }
            _ => {
                return Err(Finding::at(
                    steps!["rule", self.name],
                    format!("rule \"{}\" has no value, or two", self.name),
                    "write value = \"6 mm\", or times = 2 and of = \"layer.{overlay}.thickness\"",
                ));
            }
        };
        let side = self.needs("side", &entry.side, "side = \"at least\"")?;
        let side =
            [Bound::AtLeast, Bound::AtMost][self.word("side", side, &["at least", "at most"])?];
        let reference = match &entry.compared_with {
            None => None,
            Some(text) => Some(
                [Reference::AsDrawn, Reference::Best]
                    [self.word("compared_with", text, &["as drawn", "best of the range"])?],
            ),
        };
        let form = "condition = \"neighbour ratio <= 20 %\"";
        let condition = self.needs("condition", &entry.condition, form)?;
        Ok(Kind::NeededValue(NeededValue {
            paths: self.paths()?,
            value,
            unit: unit.to_owned(),
            side,
            range: [from, to],
            condition: self.condition("condition", condition, reference.is_some())?,
            reference,
            careful_factor: self.positive(
                "careful_factor",
                entry.careful_factor.unwrap_or(CAREFUL_FACTOR),
                1.0,
            )?,
        }))
    }

    fn effect(&self) -> Result<Kind, Finding> {
        self.only(&["change", "reshape", "expect", "not_needed_when"])?;
        let entry = self.entry;
        let words = Form::WORDS.map(|(word, _)| word);
        let reshape = entry.reshape.iter().flatten();
        let reshape: Vec<Form> = reshape
            .map(|text| Ok(Form::WORDS[self.word("reshape", text, &words)?].1))
            .collect::<Result<_, Finding>>()?;
        if reshape.is_empty() && entry.change.is_empty() {
            return Err(Finding::at(
                steps!["rule", self.name],
                format!("rule \"{}\" changes nothing", self.name),
                "add change = [{ path = \"...\", value = \"...\" }] or reshape = [\"disc\"]",
            ));
        }
        if entry.expect.is_empty() {
            return Err(Finding::at(
                steps!["rule", self.name],
                format!("rule \"{}\" expects nothing", self.name),
                "add expect = [{ quantity = \"touch shift\", changes_at_most = \"5 %\" }]",
            ));
        }
        let expect = entry.expect.iter().enumerate();
        Ok(Kind::Effect(Effect {
            change: self.pairs("change", &entry.change)?,
            reshape,
            expect: expect
                .map(|(index, entry)| self.expectation(index, entry))
                .collect::<Result<_, _>>()?,
            not_needed_when: entry
                .not_needed_when
                .as_ref()
                .map(|text| self.condition("not_needed_when", text, false))
                .transpose()?,
        }))
    }

    fn expectation(&self, index: usize, entry: &ExpectEntry) -> Result<Expectation, Finding> {
        let at = |key: &str| steps!["rule", self.name, "expect", index, key];
        let given = [
            (
                "falls_at_least",
                &entry.falls_at_least,
                Change::FallsAtLeast,
            ),
            ("falls_at_most", &entry.falls_at_most, Change::FallsAtMost),
            (
                "rises_at_least",
                &entry.rises_at_least,
                Change::RisesAtLeast,
            ),
            ("rises_at_most", &entry.rises_at_most, Change::RisesAtMost),
            (
                "changes_at_most",
                &entry.changes_at_most,
                Change::ChangesAtMost,
            ),
        ];
        let mut written = given
            .iter()
            .filter_map(|(key, text, change)| Some((*key, (*text).as_ref()?, *change)));
        let (Some((key, text, change)), None) = (written.next(), written.next()) else {
            return Err(Finding::at(
                steps!["rule", self.name, "expect", index],
                "this expects nothing, or several things",
                "write one of falls_at_least, falls_at_most, rises_at_least, rises_at_most, \
                 changes_at_most",
            ));
        };
        let percent = percent(text)
            .map_err(|hint| Finding::at(at(key), format!("\"{text}\" is not a share"), hint))?;
        let otherwise = match entry.otherwise.as_deref() {
            None | Some("fails here") => Otherwise::Fails,
            Some("more careful than needed") => Otherwise::MoreCareful,
            Some(other) => {
                return Err(Finding::at(
                    at("otherwise"),
                    format!("\"{other}\" is not known here"),
                    "write \"fails here\" or \"more careful than needed\"",
                ));
            }
        };
        Ok(Expectation {
            quantity: self.quantity(at("quantity"), &entry.quantity)?,
            change,
            percent,
            otherwise,
        })
    }

    fn power_law(&self) -> Result<Kind, Finding> {
        self.only(&[
            "quantity",
            "path",
            "against",
            "exponent",
            "exponent_within",
            "factors",
        ])?;
        let entry = self.entry;
        let quantity = self.needs("quantity", &entry.quantity, "quantity = \"touch shift\"")?;
        let against = self.needs("against", &entry.against, "against = \"pad area\"")?;
        let factors = *self.needs("factors", &entry.factors, "factors = [0.8, 1.25]")?;
        let [low, high] = factors;
        if !(low > 0.0 && low < high && high.is_finite()) {
            return Err(self.refused(
                "factors",
                "these are not two factors above 0, the smaller one first",
                "write factors = [0.8, 1.25]",
            ));
        }
        let exponent = *self.needs("exponent", &entry.exponent, "exponent = 1.0")?;
        let form = "exponent_within = 0.2";
        let within = *self.needs("exponent_within", &entry.exponent_within, form)?;
        if !exponent.is_finite() {
            return Err(self.refused("exponent", "this is no number", "write exponent = 1.0"));
        }
        Ok(Kind::PowerLaw(PowerLaw {
            quantity: self.quantity(self.at("quantity"), quantity)?,
            paths: self.paths()?,
            factors,
            against_area: self.word("against", against, &["pad area", "value"])? == 0,
            exponent,
            within: self.positive("exponent_within", within, 0.0)?,
        }))
    }

    fn estimate(&self) -> Result<Kind, Finding> {
        self.only(&["estimate", "within"])?;
        let form = "estimate = \"plates, contact area\"";
        let name = self.needs("estimate", &self.entry.estimate, form)?;
        let known = HAND_ESTIMATES[self.word("estimate", name, &HAND_ESTIMATES)?];
        let within = self.needs("within", &self.entry.within, "within = \"20 %\"")?;
        Ok(Kind::Estimate {
            name: known.to_owned(),
            within_percent: self.share("within", within)?,
        })
    }

    fn threshold_share(&self) -> Result<Kind, Finding> {
        self.only(&["shares"])?;
        let form = "shares = [\"40 %\", \"60 %\"]";
        let [low, high] = self.needs("shares", &self.entry.shares, form)?;
        let shares = [self.share("shares", low)?, self.share("shares", high)?];
        if shares[0] >= shares[1] {
            let message = "the smaller share comes first";
            return Err(self.refused("shares", message, format!("write {form}")));
        }
        Ok(Kind::ThresholdShare(shares))
    }

    fn not_described(&self) -> Result<Kind, Finding> {
        self.only(&["needs"])?;
        let needs = self.needs("needs", &self.entry.needs, "needs = \"traces\"")?;
        Ok(Kind::NotDescribed(needs.clone()))
    }

    fn share(&self, key: &str, text: &str) -> Result<f64, Finding> {
        percent(text).map_err(|hint| self.refused(key, format!("\"{text}\" is not a share"), hint))
    }
}

/// A share above zero in percent, or what to write.
fn percent(text: &str) -> Result<f64, String> {
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
