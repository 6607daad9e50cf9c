//! What a study that was read from somewhere must keep to before its plan is asked for anything.

use super::{
    Combine, MOST_POINTS, MOST_SOBOL_SAMPLES, MOST_VARIABLES, Sequence, Spread, Study, Values,
    Variable,
};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

impl Study {
    /// Why the plan of this study cannot be walked; none for every study of a panel file.
    ///
    /// A study that comes from a store was checked by whoever wrote it, but nobody knows what the bytes have been
    /// through since: numbers that divide by zero or never end must not get as far as the plan.
    pub fn fault(&self) -> Option<String> {
        if !(1..=MOST_VARIABLES).contains(&self.variables.len()) {
            return Some(format!("{} variables", self.variables.len()));
        }
        if !(self.accuracy > 0.0 && self.accuracy <= 1.0) {
            return Some(format!("an accuracy of {}", self.accuracy));
        }
        let sampled = match self.combine {
            Combine::Sample {
                samples, sequence, ..
            } => {
                let most = match sequence {
                    Sequence::Sobol => MOST_SOBOL_SAMPLES,
                    Sequence::Random => MOST_POINTS,
                };
                if !(1..=most).contains(&samples) {
                    return Some(format!("{samples} samples"));
                }
                true
            }
            Combine::All | Combine::SideBySide => false,
        };
        let broken = |variable: &&Variable| !variable.can_be_walked(sampled);
        if let Some(variable) = self.variables.iter().find(broken) {
            return Some(format!("values of {} that lead nowhere", variable.path));
        }
        let points = self.plan().len();
        (!(1..=MOST_POINTS).contains(&points)).then(|| format!("{points} points"))
    }
}

impl Variable {
    /// Whether each of its values can be computed: no range that is empty, endless or too wide for decimals.
    fn can_be_walked(&self, sampled: bool) -> bool {
        let countable = |count: u64| (1..=MOST_POINTS).contains(&count);
        match &self.values {
            Values::Words(words) => countable(words.len() as u64),
            Values::Numbers(numbers) => countable(numbers.len() as u64),
            Values::Range { from, to, spread } => {
                let Some(width) = to
                    .checked_sub(*from)
                    .filter(|width| !width.is_sign_negative())
                else {
                    return false;
                };
                let above_zero = *from > Decimal::ZERO;
                match spread {
                    Spread::Step(step) => {
                        let steps = match *step > Decimal::ZERO {
                            true => width.checked_div(*step),
                            false => None,
                        };
                        let steps = steps.and_then(|steps| steps.floor().to_u64());
                        steps.is_some_and(|steps| countable(steps.saturating_add(1)))
                    }
                    Spread::Linear(points) => {
                        *points >= 2
                            && countable(u64::from(*points))
                            && width.checked_mul(Decimal::from(*points)).is_some()
                    }
                    Spread::Logarithmic(points) => {
                        *points >= 2 && countable(u64::from(*points)) && above_zero
                    }
                    Spread::Anywhere { logarithmic } => sampled && (!logarithmic || above_zero),
                }
            }
        }
    }
}
