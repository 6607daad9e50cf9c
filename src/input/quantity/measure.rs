//! What the units of the panel file measure, and their factors.

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Length, base unit metre.
    Length,
    /// Weight of copper per square foot, base unit metre of thickness.
    CopperWeight,
    /// Capacitance, base unit farad.
    Capacitance,
    /// Capacitance per length, base unit farad per metre.
    LineCapacitance,
    /// Angle, base unit degree.
    Angle,
    /// Resistance, base unit ohm.
    Resistance,
    /// Time, base unit second.
    Time,
    /// Voltage, base unit volt.
    Voltage,
    /// Frequency, base unit hertz.
    Frequency,
    /// Current, base unit ampere.
    Current,
    /// Electric conductivity, base unit siemens per metre.
    Conductivity,
    /// Electric charge, base unit coulomb.
    Charge,
    /// Counts, base unit count.
    Counts,
    /// Share of a whole, base unit one.
    Share,
    /// Temperature, base unit degree Celsius.
    Temperature,
    /// Relative change with temperature, base unit one per kelvin.
    TemperatureCoefficient,
    /// How fast a temperature changes, base unit kelvin per second.
    TemperatureRate,
    /// Electric field strength, base unit volt per metre.
    FieldStrength,
    /// Plain number without unit.
    Number,
}

impl Measure {
    pub(crate) fn described(self) -> &'static str {
        self.words().0
    }

    /// Unit used in hints.
    pub fn usual_unit(self) -> &'static str {
        self.words().1
    }

    /// In words, and the usual unit.
    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Measure::Length => ("a length", "mm"),
            Measure::CopperWeight => ("a weight of copper per square foot", "oz"),
            Measure::Capacitance => ("a capacitance", "pF"),
            Measure::LineCapacitance => ("a capacitance per length", "pF/cm"),
            Measure::Angle => ("an angle", "deg"),
            Measure::Resistance => ("a resistance", "kohm"),
            Measure::Time => ("a time", "ms"),
            Measure::Voltage => ("a voltage", "V"),
            Measure::Frequency => ("a frequency", "MHz"),
            Measure::Current => ("a current", "uA"),
            Measure::Conductivity => ("a conductivity", "S/m"),
            Measure::Charge => ("a charge", "mAh"),
            Measure::Counts => ("a number of counts", "counts"),
            Measure::Share => ("a share", "%"),
            Measure::Temperature => ("a temperature", "degC"),
            Measure::TemperatureCoefficient => ("a temperature coefficient", "ppm/K"),
            Measure::TemperatureRate => ("a change of temperature in time", "K/min"),
            Measure::FieldStrength => ("a field strength", "kV/mm"),
            Measure::Number => ("a plain number", ""),
        }
    }

    pub(crate) fn units(self) -> impl Iterator<Item = &'static str> {
        UNITS.iter().filter(move |u| u.1 == self).map(|u| u.0)
    }

    /// Regular expression of one unit of this measure.
    pub(crate) fn unit_pattern(self) -> String {
        format!("(?:{})", self.units().collect::<Vec<_>>().join("|"))
    }
}

/// Base units in one of a unit; 1 for plain numbers and for what is no unit.
pub fn unit_factor(unit: &str) -> f64 {
    let known = UNITS.iter().find(|known| known.0 == unit);
    known.map_or(1.0, |known| known.2)
}

/// Unit, what it measures, factor to the base unit. Micro is written in three ways: with u, the micro
/// sign and the Greek letter; ohm as a word and with two signs that look the same.
pub(crate) const UNITS: &[(&str, Measure, f64)] = &[
    ("mm", Measure::Length, 1e-3),
    ("um", Measure::Length, 1e-6),
    ("\u{b5}m", Measure::Length, 1e-6),
    ("\u{3bc}m", Measure::Length, 1e-6),
    ("cm", Measure::Length, 1e-2),
    ("m", Measure::Length, 1.0),
    ("in", Measure::Length, 0.0254),
    ("mil", Measure::Length, 0.0254e-3),
    // As boards are specified: 34.8 um for 1 oz per square foot; by weight and 8.96 g/cm3 it is 34.06 um.
    ("oz", Measure::CopperWeight, 34.8e-6),
    ("pF", Measure::Capacitance, 1e-12),
    ("fF", Measure::Capacitance, 1e-15),
    ("nF", Measure::Capacitance, 1e-9),
    ("pF/cm", Measure::LineCapacitance, 1e-10),
    ("pF/m", Measure::LineCapacitance, 1e-12),
    ("pF/mm", Measure::LineCapacitance, 1e-9),
    ("pF/in", Measure::LineCapacitance, 1e-12 / 0.0254),
    ("deg", Measure::Angle, 1.0),
    ("\u{b0}", Measure::Angle, 1.0),
    ("ohm", Measure::Resistance, 1.0),
    ("kohm", Measure::Resistance, 1e3),
    ("Mohm", Measure::Resistance, 1e6),
    ("\u{3a9}", Measure::Resistance, 1.0),
    ("k\u{3a9}", Measure::Resistance, 1e3),
    ("M\u{3a9}", Measure::Resistance, 1e6),
    ("\u{2126}", Measure::Resistance, 1.0),
    ("k\u{2126}", Measure::Resistance, 1e3),
    ("M\u{2126}", Measure::Resistance, 1e6),
    ("s", Measure::Time, 1.0),
    ("ms", Measure::Time, 1e-3),
    ("us", Measure::Time, 1e-6),
    ("\u{b5}s", Measure::Time, 1e-6),
    ("\u{3bc}s", Measure::Time, 1e-6),
    ("ns", Measure::Time, 1e-9),
    ("V", Measure::Voltage, 1.0),
    ("kV", Measure::Voltage, 1e3),
    ("mV", Measure::Voltage, 1e-3),
    ("uV", Measure::Voltage, 1e-6),
    ("\u{b5}V", Measure::Voltage, 1e-6),
    ("\u{3bc}V", Measure::Voltage, 1e-6),
    ("Hz", Measure::Frequency, 1.0),
    ("kHz", Measure::Frequency, 1e3),
    ("MHz", Measure::Frequency, 1e6),
    ("A", Measure::Current, 1.0),
    ("mA", Measure::Current, 1e-3),
    ("uA", Measure::Current, 1e-6),
    ("\u{b5}A", Measure::Current, 1e-6),
    ("\u{3bc}A", Measure::Current, 1e-6),
    ("nA", Measure::Current, 1e-9),
    ("S/m", Measure::Conductivity, 1.0),
    ("mS/m", Measure::Conductivity, 1e-3),
    ("mS/cm", Measure::Conductivity, 0.1),
    ("uS/cm", Measure::Conductivity, 1e-4),
    ("mAh", Measure::Charge, 3.6),
    ("Ah", Measure::Charge, 3600.0),
    ("counts", Measure::Counts, 1.0),
    ("%", Measure::Share, 1e-2),
    ("ppm", Measure::Share, 1e-6),
    ("degC", Measure::Temperature, 1.0),
    ("\u{b0}C", Measure::Temperature, 1.0),
    ("ppm/K", Measure::TemperatureCoefficient, 1e-6),
    ("%/K", Measure::TemperatureCoefficient, 1e-2),
    ("K/min", Measure::TemperatureRate, 1.0 / 60.0),
    ("K/h", Measure::TemperatureRate, 1.0 / 3600.0),
    ("K/s", Measure::TemperatureRate, 1.0),
    ("kV/mm", Measure::FieldStrength, 1e6),
    ("V/mil", Measure::FieldStrength, 1.0 / 0.0254e-3),
];
