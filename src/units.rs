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
}
