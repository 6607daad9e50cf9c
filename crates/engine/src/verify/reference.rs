//! The published numbers: `checks.csv`, compiled in.

use std::collections::HashMap;
use std::sync::OnceLock;

use crate::units::{Capacitance, VACUUM_PERMITTIVITY};

/// What a published number is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Normalisation {
    /// C per metre over the vacuum permittivity (planar).
    Line,
    /// C over the vacuum permittivity and the unit of length (bodies).
    Length,
    /// C over 4 pi times the vacuum permittivity and the unit of length.
    Sphere,
    /// pF per metre (planar).
    PicofaradPerMetre,
}

impl Normalisation {
    /// The value of 1 in \[F\] or \[F/m\] when lengths are counted in `unit_m` \[m\].
    pub fn unit(self, unit_m: f64) -> f64 {
        match self {
            Self::Line => VACUUM_PERMITTIVITY,
            Self::Length => VACUUM_PERMITTIVITY * unit_m,
            Self::Sphere => 4.0 * std::f64::consts::PI * VACUUM_PERMITTIVITY * unit_m,
            Self::PicofaradPerMetre => Capacitance::from_pf(1.0).farads(),
        }
    }

    fn from_word(word: &str) -> Self {
        match word {
            "line" => Self::Line,
            "length" => Self::Length,
            "sphere" => Self::Sphere,
            "pF/m" => Self::PicofaradPerMetre,
            _ => panic!("checks.csv: unknown unit {word}"),
        }
    }
}

/// A number known from outside.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// Name of the check.
    pub id: String,
    /// What the number is.
    pub quantity: String,
    /// The number.
    pub value: f64,
    /// What it is counted in.
    pub normalisation: Normalisation,
    /// Its absolute uncertainty; 0 for exact values (their digits end at 1e-9 or below).
    pub uncertainty: f64,
    /// Short citation for tables.
    pub cite: String,
    /// Full source.
    pub source: String,
}

/// The reference of a check.
///
/// # Panics
/// When `checks.csv` has no such row: it is part of the program.
pub(super) fn reference(id: &str) -> Reference {
    table()
        .get(id)
        .unwrap_or_else(|| panic!("checks.csv has no row {id}"))
        .clone()
}

/// Every row of the file by its name.
pub(super) fn table() -> &'static HashMap<String, Reference> {
    static TABLE: OnceLock<HashMap<String, Reference>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut reader = csv::Reader::from_reader(include_str!("checks.csv").as_bytes());
        let rows = reader.records().map(|row| {
            let row = row.expect("checks.csv is well formed");
            let number = |column: usize| -> f64 {
                let text = &row[column];
                text.parse()
                    .unwrap_or_else(|_| panic!("checks.csv: {text} is not a number"))
            };
            Reference {
                id: row[0].to_owned(),
                quantity: row[1].to_owned(),
                value: number(2),
                normalisation: Normalisation::from_word(&row[3]),
                uncertainty: number(4),
                cite: row[5].to_owned(),
                source: row[6].to_owned(),
            }
        });
        rows.map(|row| (row.id.clone(), row)).collect()
    })
}
