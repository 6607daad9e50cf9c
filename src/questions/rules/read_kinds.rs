//! The keys of each kind of rule: what they mean together.

use super::data::{
    Bound, Change, Effect, Expectation, Form, Kind, NeededValue, Otherwise, PowerLaw, Reference,
    RuleValue,
};
use super::read::{Reading, percent};
use super::typed::ExpectEntry;
use crate::input::{Finding, steps};
use crate::response::HAND_ESTIMATES;
use padfield_engine::units::Length;

/// Thicker air is no gap of a stack.
const LARGEST_AIR_GAP: Length = Length::from_mm(10.0);

/// Beyond this factor a rule is more careful than needed, unless it says another one.
const CAREFUL_FACTOR: f64 = 1.5;

impl Reading<'_> {
    pub fn needed_value(&self) -> Result<Kind, Finding> {
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

    pub fn effect(&self) -> Result<Kind, Finding> {
        self.only(&["change", "air_gap", "reshape", "expect", "not_needed_when"])?;
        let entry = self.entry;
        let words = Form::WORDS.map(|(word, _)| word);
        let reshape = entry.reshape.iter().flatten();
        let reshape: Vec<Form> = reshape
            .map(|text| Ok(Form::WORDS[self.word("reshape", text, &words)?].1))
            .collect::<Result<_, Finding>>()?;
        let air_gap = entry.air_gap.as_ref().map(|given| given.0);
        if let Some(air) = air_gap {
            if air.metres() <= 0.0 || air > LARGEST_AIR_GAP {
                let message = "an air gap of this size makes no sense";
                return Err(self.refused("air_gap", message, "write 0.001 mm to 10 mm"));
            }
            if !(reshape.is_empty() && entry.change.is_empty() && entry.add.is_empty()) {
                return Err(Finding::at_key(
                    self.at("air_gap"),
                    "a rule about air changes nothing else",
                    "leave out change, reshape and add, or make another rule of them",
                ));
            }
        } else if reshape.is_empty() && entry.change.is_empty() {
            return Err(Finding::at(
                steps!["rule", self.name],
                format!("rule \"{}\" changes nothing", self.name),
                "add change = [{ path = \"...\", value = \"...\" }], reshape = [\"disc\"] or air_gap = \"0.1 mm\"",
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
            air_gap,
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

    pub fn power_law(&self) -> Result<Kind, Finding> {
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

    pub fn estimate(&self) -> Result<Kind, Finding> {
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

    pub fn threshold_share(&self) -> Result<Kind, Finding> {
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

    pub fn not_described(&self) -> Result<Kind, Finding> {
        self.only(&["needs"])?;
        let needs = self.needs("needs", &self.entry.needs, "needs = \"traces\"")?;
        Ok(Kind::NotDescribed(needs.clone()))
    }

    fn share(&self, key: &str, text: &str) -> Result<f64, Finding> {
        percent(text).map_err(|hint| self.refused(key, format!("\"{text}\" is not a share"), hint))
    }
}
