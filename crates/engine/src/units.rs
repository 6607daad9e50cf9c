//! Physical quantities that know their unit: SI inside, millimetres and picofarads at the edges.

/// Vacuum permittivity [F/m], CODATA 2022.
pub const VACUUM_PERMITTIVITY: f64 = 8.854_187_818_8e-12;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $from:ident / $get:ident; $($scaled_from:ident / $scaled_get:ident = $factor:expr, $scaled_unit:literal;)*) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("From a value in ", $unit, ".")]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }
            #[doc = concat!("The value in ", $unit, ".")]
            pub const fn $get(self) -> f64 {
                self.0
            }
            $(
                #[doc = concat!("From a value in ", $scaled_unit, ".")]
                pub const fn $scaled_from(value: f64) -> Self {
                    Self(value * $factor)
                }
                #[doc = concat!("The value in ", $scaled_unit, ".")]
                pub const fn $scaled_get(self) -> f64 {
                    self.0 / $factor
                }
            )*
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl std::ops::Div<$name> for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    };
}

quantity!(
    /// A length or a coordinate.
    Length, "metres", from_metres / metres;
    from_mm / mm = 1e-3, "millimetres";
);
quantity!(
    /// A surface.
    Area, "square metres", from_square_metres / square_metres;
    from_square_mm / square_mm = 1e-6, "square millimetres";
);
quantity!(
    /// A capacitance.
    Capacitance, "farads", from_farads / farads;
    from_pf / pf = 1e-12, "picofarads";
    from_ff / ff = 1e-15, "femtofarads";
);
quantity!(
    /// A capacitance per length of conductor.
    LineCapacitance, "farads per metre", from_farads_per_metre / farads_per_metre;
    from_pf_per_cm / pf_per_cm = 1e-10, "picofarads per centimetre";
);
quantity!(
    /// A permittivity relative to vacuum.
    Permittivity, "units of the vacuum permittivity", from_relative / relative;
);
quantity!(
    /// A resistance.
    Resistance, "ohms", from_ohms / ohms;
    from_kilohms / kilohms = 1e3, "kilohms";
);
quantity!(
    /// A duration.
    Time, "seconds", from_seconds / seconds;
    from_ms / ms = 1e-3, "milliseconds";
    from_us / us = 1e-6, "microseconds";
    from_ns / ns = 1e-9, "nanoseconds";
    from_years / years = 365.0 * 86400.0, "years of 365 days";
);
quantity!(
    /// A voltage.
    Voltage, "volts", from_volts / volts;
    from_mv / mv = 1e-3, "millivolts";
);
quantity!(
    /// A frequency.
    Frequency, "hertz", from_hertz / hertz;
    from_khz / khz = 1e3, "kilohertz";
);
quantity!(
    /// An electric conductivity.
    Conductivity, "siemens per metre", from_siemens_per_metre / siemens_per_metre;
);
quantity!(
    /// An electric current.
    Current, "amperes", from_amperes / amperes;
    from_ua / ua = 1e-6, "microamperes";
);
quantity!(
    /// An electric charge, as of a battery.
    Charge, "coulombs", from_coulombs / coulombs;
    from_mah / mah = 3.6, "milliampere hours";
);

/// A nominal value with the interval its source allows: input tolerance, not numerical error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Toleranced<Q> {
    /// The value computed with.
    pub nominal: Q,
    /// Smallest value the tolerance allows.
    pub least: Q,
    /// Largest value the tolerance allows.
    pub most: Q,
}

impl<Q: Copy> Toleranced<Q> {
    /// A value without tolerance.
    pub const fn exact(nominal: Q) -> Self {
        Self {
            nominal,
            least: nominal,
            most: nominal,
        }
    }

    /// Nominal, least and most.
    pub const fn of([nominal, least, most]: [Q; 3]) -> Self {
        Self {
            nominal,
            least,
            most,
        }
    }

    /// The same of every value.
    pub fn map<R>(self, of: impl Fn(Q) -> R) -> Toleranced<R> {
        Toleranced {
            nominal: of(self.nominal),
            least: of(self.least),
            most: of(self.most),
        }
    }
}

/// Units of memory and their bytes.
pub const MEMORY_UNITS: [(&str, f64); 6] = [
    ("TiB", 1024.0 * 1024.0 * 1024.0 * 1024.0),
    ("GiB", 1024.0 * 1024.0 * 1024.0),
    ("MiB", 1024.0 * 1024.0),
    ("TB", 1e12),
    ("GB", 1e9),
    ("MB", 1e6),
];

/// The longest number with a unit of memory that somebody would have typed.
const TYPED: usize = 6;

/// The unit in which a person has said so many bytes: the one that takes the fewest digits, and no 0 in front.
fn memory_unit(bytes: u64) -> (&'static str, f64, String) {
    let said = |&(unit, size): &(&'static str, f64)| {
        let number = bytes as f64 / size;
        (unit, size, number.to_string())
    };
    MEMORY_UNITS
        .iter()
        .map(said)
        .min_by_key(|(_, _, number)| (number.len(), number.starts_with('0')))
        .filter(|(_, _, number)| number.len() <= TYPED)
        .unwrap_or_else(|| {
            let (unit, size) = MEMORY_UNITS[if bytes < 1_000_000_000 { 5 } else { 4 }];
            let number = three_digits(bytes as f64 / size, f64::floor);
            (unit, size, number)
        })
}

/// Three significant digits, or all before the point.
fn three_digits(number: f64, round: fn(f64) -> f64) -> String {
    let step = 10.0_f64.powf(number.log10().floor() - 2.0).min(1.0);
    match number > 0.0 {
        true => ((round(number / step) * step * 1e6).round() / 1e6).to_string(),
        false => "0".to_owned(),
    }
}

/// A size of memory as a person has said it, such as `8 GB` or `512 MiB`.
///
/// ```
/// assert_eq!(padfield_engine::units::memory_words(2_000_000_000), "2 GB");
/// assert_eq!(padfield_engine::units::memory_words(500_000_000), "500 MB");
/// assert_eq!(padfield_engine::units::memory_words(3 << 29), "1.5 GiB");
/// assert_eq!(padfield_engine::units::memory_words(8_000_000_000 / 3), "2.66 GB");
/// ```
pub fn memory_words(bytes: u64) -> String {
    let (unit, _, number) = memory_unit(bytes);
    format!("{number} {unit}")
}

/// A size of memory in the unit of another one that it exceeds, so much that asking for it is enough.
///
/// ```
/// assert_eq!(padfield_engine::units::memory_beside(3_456_789_012, 2_000_000_000), "3.46 GB");
/// assert_eq!(padfield_engine::units::memory_beside(1 << 31, 1 << 29), "2048 MiB");
/// ```
pub fn memory_beside(bytes: u64, other: u64) -> String {
    let (unit, size, _) = memory_unit(other);
    format!("{} {unit}", three_digits(bytes as f64 / size, f64::ceil))
}
