//! What the values of the file are values of, and the few that are written in a way of their own.

use super::measure::Measure;
use super::pattern;
use super::reading::{self, Misread, read_one, read_toleranced};
use super::{FileQuantity, One, Quantity, WithTolerance, file_quantity};
use crate::panel::{DischargeKind, DischargeLevel, EarthPath, ReturnPath};
use padfield_engine::units::{
    Capacitance, Charge, Conductivity, Current, Frequency, Length, LineCapacitance, Permittivity,
    Resistance, Time, Toleranced, Voltage,
};
use std::borrow::Cow;

/// Kinds of quantities. A kind without a type in SI is its name alone, its values are plain numbers.
macro_rules! kinds {
    ($($kind:ident ($measure:ident, $name:literal) $from:path: $one:literal $(, $with:literal)?;)*) => {$(
        impl Quantity for $kind {
            type Value = Self;
            kinds!(@both $measure, $name, $from, $one $(, $with)?);
        }
    )*};
    (plain $($kind:ident ($measure:ident, $name:literal): $one:literal $(, $with:literal)?;)*) => {$(
        #[doc = concat!("Kind of a plain number: ", $one, ".")]
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub enum $kind {}
        impl Quantity for $kind {
            type Value = f64;
            kinds!(@both $measure, $name, std::convert::identity, $one $(, $with)?);
        }
    )*};
    (@both $measure:ident, $name:literal, $from:path, $one:literal $(, $with:literal)?) => {
        const NAME: &'static str = $name;
        const EXPECTED: &'static str = $one;
        $(const WITH_TOLERANCE: &'static str = $with;)?
        const MEASURE: Measure = Measure::$measure;
        fn of(base: f64) -> Self::Value {
            $from(base)
        }
    };
}

kinds! {
    Length (Length, "Length") Length::from_metres:
        "a length such as \"4 mm\"", "a length such as \"4 mm\" or \"4.0 mm ± 0.2 mm\"";
    Permittivity (Number, "Permittivity") Permittivity::from_relative:
        "a permittivity such as \"2.8\"", "a permittivity such as \"2.8\" or \"2.8 ± 0.2\"";
    Capacitance (Capacitance, "Capacitance") Capacitance::from_farads:
        "a capacitance such as \"6 pF\"", "a capacitance such as \"6 pF\" or \"6.0 pF ± 20 %\"";
    LineCapacitance (LineCapacitance, "LineCapacitance") LineCapacitance::from_farads_per_metre:
        "a capacitance per length such as \"0.45 pF/cm\"";
    Resistance (Resistance, "Resistance") Resistance::from_ohms:
        "a resistance such as \"1 kohm\"", "a resistance such as \"100 kohm ± 1 %\"";
    Current (Current, "Current") Current::from_amperes:
        "a current such as \"0.6 mA\"", "a current such as \"5 uA ± 10 %\"";
    Time (Time, "Time") Time::from_seconds: "a time such as \"8 ms\"";
    Voltage (Voltage, "Voltage") Voltage::from_volts: "a voltage such as \"3.3 V\"";
    Frequency (Frequency, "Frequency") Frequency::from_hertz: "a frequency such as \"16 MHz\"";
    Conductivity (Conductivity, "Conductivity") Conductivity::from_siemens_per_metre:
        "a conductivity such as \"0.05 S/m\"";
    Charge (Charge, "Charge") Charge::from_coulombs: "a charge such as \"2000 mAh\"";
}

kinds! { plain
    Number (Number, "PlainNumber"): "a plain number such as 2";
    Angle (Angle, "Angle"): "an angle such as \"45 deg\"";
    Counts (Counts, "Counts"): "a number of counts such as \"1.5 counts\"";
    Share (Share, "Share"):
        "a share such as \"0.03 %\"", "a share such as \"3 %\" or \"3 % ± 50 %\" (1.5 to 4.5 %)";
    Temperature (Temperature, "Temperature"): "a temperature such as \"-10 degC\"";
    TemperatureRate (TemperatureRate, "TemperatureRate"): "a change of temperature such as \"2 K/min\"";
    TemperatureCoefficient (TemperatureCoefficient, "TemperatureCoefficient"):
        "a temperature coefficient such as \"300 ppm/K\"",
        "a temperature coefficient such as \"300 ppm/K\" or \"300 ppm/K ± 100 ppm/K\"";
    FieldStrength (FieldStrength, "FieldStrength"): "a dielectric strength such as \"18 kV/mm\"";
}

/// A value that is read in a way of its own.
macro_rules! special {
    ($(#[$doc:meta])* $name:ident($inner:ty), $schema:literal, $expected:literal, $measure:ident
        $(, parts $parts:expr)?; $pattern:expr, $read:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $name(pub $inner);

        impl FileQuantity for $name {
            const EXPECTED: &'static str = $expected;
            const MEASURE: Measure = Measure::$measure;
            $(const PARTS: &'static [&'static str] = $parts;)?
            fn name() -> Cow<'static, str> {
                $schema.into()
            }
            fn pattern() -> String {
                $pattern
            }
            fn read(text: &str) -> Result<Self, Misread> {
                $read(text).map(Self)
            }
        }
        file_quantity!($name);
    };
}

special!(
    /// A share of the supply: `"1/2"`, `"50 %"`.
    Fraction(f64), "Fraction", "a share such as \"1/2\" or \"50 %\"", Share;
    pattern::fractions(false), reading::read_one_fraction
);
special!(
    /// Two shares of the supply: `"1/3, 2/3"`.
    FractionPair([f64; 2]), "FractionPair", "two shares such as \"1/3, 2/3\"", Share;
    pattern::fractions(true), reading::read_two_fractions
);
special!(
    /// A thickness of copper, or its weight per square foot as boards are ordered: `"35 um"`, `"1 oz"`,
    /// `"0.5 oz ± 10 %"`.
    CopperThickness(Toleranced<Length>), "CopperThickness",
    "a thickness such as \"35 um\" or a weight such as \"1 oz\"", Length, parts &["nominal", "tolerance"];
    [Measure::Length, Measure::CopperWeight].map(pattern::toleranced).join("|"), copper
);
special!(
    /// Return path of a finger: `"earthed"` or a capacitance such as `"120 pF"`.
    Return(ReturnPath), "ReturnPath", "\"earthed\" or a capacitance such as \"120 pF\"", Capacitance;
    earthed_or(One::<Capacitance>::pattern()),
    |text| earthed::<One<Capacitance>, _, Self>(text, ReturnPath::Earthed, |one| ReturnPath::Through(one.0))
);
special!(
    /// Device ground to earth: `"earthed"`, or a capacitance such as `"60 pF ± 40 pF"`.
    Earth(EarthPath), "EarthPath", "\"earthed\" or a capacitance such as \"60 pF ± 40 pF\"", Capacitance;
    earthed_or(WithTolerance::<Capacitance>::pattern()),
    |text| earthed::<WithTolerance<Capacitance>, _, Self>(text, EarthPath::Earthed, |one| {
        EarthPath::Capacitance(one.0)
    })
);
special!(
    /// A level of discharge: `"air 8 kV"`, `"contact 4 kV"`.
    Discharge(DischargeLevel), "DischargeLevel", "\"air 8 kV\" or \"contact 4 kV\"", Voltage;
    format!("^(?:air|contact) {}", pattern::one(Measure::Voltage).trim_start_matches('^')),
    discharge
);

/// Unit of a weight per square foot.
const OUNCE: &str = "oz";

fn copper(text: &str) -> Result<Toleranced<Length>, Misread> {
    let measure = match text.contains(OUNCE) {
        true => Measure::CopperWeight,
        false => Measure::Length,
    };
    read_toleranced(text, measure).map(|found| found.map(Length::from_metres))
}

const EARTHED: &str = "earthed";

fn earthed_or(capacitance: String) -> String {
    format!("^{EARTHED}$|{capacitance}")
}

/// The word, or a capacitance; whatever is wrong with it, the hint names both.
fn earthed<Q: FileQuantity, P, F: FileQuantity>(
    text: &str,
    path: P,
    through: impl Fn(Q) -> P,
) -> Result<P, Misread> {
    if text == EARTHED {
        return Ok(path);
    }
    let hint = || format!("write {}", F::EXPECTED);
    let read = Q::read(text).map(through);
    read.map_err(|misread| Misread::new(misread.message, hint()))
}

const DISCHARGE_KINDS: [(&str, DischargeKind); 2] = [
    ("air", DischargeKind::Air),
    ("contact", DischargeKind::Contact),
];

fn discharge(text: &str) -> Result<DischargeLevel, Misread> {
    let hint = || format!("write {}", Discharge::EXPECTED);
    let (word, voltage) = text.split_once(' ').unwrap_or((text, ""));
    let Some((_, kind)) = DISCHARGE_KINDS.iter().find(|known| known.0 == word) else {
        let message = format!("\"{text}\" does not start with \"air\" or \"contact\"");
        return Err(Misread::new(message, hint()));
    };
    let volts = read_one(voltage, Measure::Voltage)
        .and_then(|volts| reading::within_length(text).map(|()| volts))
        .map_err(|misread| Misread::new(misread.message, hint()))?;
    Ok(DischargeLevel {
        kind: *kind,
        voltage: Voltage::from_volts(volts),
    })
}
