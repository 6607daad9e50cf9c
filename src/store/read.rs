//! Reading a store: which points are known, the rows of a study.

use super::StoreError;
use super::digest::{of_member, of_point, of_study};
use super::open::Access;
use crate::study::{Coordinate, PointValues, Study};
use rusqlite::Connection;
use rusqlite::types::Type;
use std::path::PathBuf;

/// Why a point has no numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FailureKind {
    /// The values do not make a panel, or one that does not fit its model.
    Geometry,
    /// The solver stopped short.
    NotConverged,
    /// The grid did not fit the memory cap.
    Memory,
    /// A fault of the program.
    Internal,
}

impl FailureKind {
    const ALL: [Self; 4] = [
        Self::Geometry,
        Self::NotConverged,
        Self::Memory,
        Self::Internal,
    ];

    /// The word in the store and in summaries.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Geometry => "geometry",
            Self::NotConverged => "not converged",
            Self::Memory => "memory",
            Self::Internal => "internal",
        }
    }
}

/// What became of a point.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// It has numbers.
    Done {
        /// Every quantity of every pad.
        values: PointValues,
        /// Whether the accuracy asked for was reached.
        accuracy_reached: bool,
        /// What missed it with value and error, in words; empty where nothing did.
        missed: String,
        /// Most iterations of any system.
        iterations: u64,
        /// Cells of the largest grid.
        cells: u64,
    },
    /// It has none.
    Failed {
        /// What kind of failure.
        kind: FailureKind,
        reason: String,
    },
}

impl Outcome {
    /// The numbers, if there are any.
    pub fn values(&self) -> Option<&PointValues> {
        match self {
            Self::Done { values, .. } => Some(values),
            Self::Failed { .. } => None,
        }
    }
}

/// One point of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Number in the plan, from 0.
    pub index: u64,
    /// One coordinate per variable of the study.
    pub coordinates: Vec<Coordinate>,
    /// What became of it.
    pub outcome: Outcome,
}

/// A study as the store knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct StudyRecord {
    /// Number in this store; later ones are newer.
    pub id: i64,
    /// The study.
    pub study: Study,
    /// Hash of panel file, study and numerics.
    pub scenario: String,
    /// Length of the plan.
    pub points: u64,
    /// Engine it was solved with.
    pub engine: String,
    /// What the numbers hang on, one line each; from one of the points.
    pub assumptions: Vec<String>,
}

/// How many points of a study are recorded.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// With numbers.
    pub done: u64,
    /// Of these, without the accuracy asked for.
    pub short_of_accuracy: u64,
    /// Without numbers.
    pub failed: u64,
    /// Reasons of failures with their kinds and counts, most frequent first.
    pub reasons: Vec<(String, String, u64)>,
}

/// A store opened for reading.
#[derive(Debug)]
pub struct Reader {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    pub(super) access: Access,
}

impl Reader {
    /// All studies, oldest first; the last is the latest state of the panel file.
    ///
    /// # Errors
    /// A damaged store.
    pub fn studies(&self) -> Result<Vec<StudyRecord>, StoreError> {
        let query = format!(
            "SELECT id, definition, scenario, points, engine, assumptions, digest IS {} FROM studies \
             ORDER BY id",
            of_study("studies")
        );
        let mut statement = self.connection.prepare(&query).map_err(self.fault())?;
        let mut rows = statement.query([]).map_err(self.fault())?;
        let mut records = Vec::new();
        while let Some(row) = rows.next().map_err(self.fault())? {
            if !row.get(6).map_err(self.fault())? {
                return Err(self.altered(format!("the record of study {}", records.len() + 1)));
            }
            records.push(StudyRecord::from_row(row).map_err(self.fault())?);
        }
        Ok(records)
    }

    fn altered(&self, what: String) -> StoreError {
        StoreError::Altered {
            path: self.path.clone(),
            what,
        }
    }

    /// The recorded rows of a study in plan order, handed to `visit` one by one.
    ///
    /// # Errors
    /// A damaged store, or whatever `visit` fails with.
    pub fn visit_rows<E: From<StoreError>>(
        &self,
        study: &StudyRecord,
        mut visit: impl FnMut(Row) -> Result<(), E>,
    ) -> Result<(), E> {
        let query = format!(
            "SELECT plan_index, coordinates, state, failure, reason, outputs, accuracy_reached, \
             iterations, cells, points.digest IS {} AND members.digest IS {} FROM members \
             JOIN points USING (hash) JOIN studies ON id = study WHERE study = ?1 ORDER BY plan_index",
            of_point("points"),
            of_member("members", "studies")
        );
        let mut statement = self.connection.prepare(&query).map_err(self.fault())?;
        let mut rows = statement.query([study.id]).map_err(self.fault())?;
        while let Some(row) = rows.next().map_err(self.fault())? {
            let index = study.place(row.get(0).map_err(self.fault())?);
            let index = index.map_err(self.fault())?;
            if !row.get(9).map_err(self.fault())? {
                let (number, name) = (index + 1, &study.study.name);
                return Err(self
                    .altered(format!("point {number} of study \"{name}\""))
                    .into());
            }
            visit(read_row(&study.study, index, row).map_err(self.fault())?)?;
        }
        Ok(self.check_rest()?)
    }

    /// The recorded rows of a study in plan order.
    ///
    /// # Errors
    /// A damaged store.
    #[cfg(any(test, feature = "rooms"))]
    pub fn rows(&self, study: &StudyRecord) -> Result<Vec<Row>, StoreError> {
        let mut rows = Vec::new();
        self.visit_rows::<StoreError>(study, |row| {
            rows.push(row);
            Ok(())
        })?;
        Ok(rows)
    }

    /// How many points of a study are recorded, and why some have no numbers.
    ///
    /// # Errors
    /// A damaged store.
    pub fn tally(&self, study: i64) -> Result<Tally, StoreError> {
        let mut statement = self
            .connection
            .prepare(
                "SELECT state, failure, CASE state WHEN 'failed' THEN reason END AS why, count(*), \
                 total(accuracy_reached = 0) FROM members JOIN points USING (hash) WHERE study = ?1 \
                 GROUP BY state, failure, why ORDER BY count(*) DESC, why",
            )
            .map_err(self.fault())?;
        let mut tally = Tally::default();
        let mut rows = statement.query([study]).map_err(self.fault())?;
        while let Some(row) = rows.next().map_err(self.fault())? {
            let mut add = || -> rusqlite::Result<()> {
                let count = row.get::<_, i64>(3)? as u64;
                if row.get::<_, String>(0)? == "done" {
                    tally.done += count;
                    tally.short_of_accuracy += row.get::<_, f64>(4)? as u64;
                } else {
                    tally.failed += count;
                    tally.reasons.push((row.get(1)?, row.get(2)?, count));
                }
                Ok(())
            };
            add().map_err(self.fault())?;
        }
        Ok(tally)
    }
}

/// A number of a plan that has so many points.
pub(super) fn place_in(points: u64, index: i64) -> rusqlite::Result<u64> {
    match u64::try_from(index) {
        Ok(place) if place < points => Ok(place),
        _ => Err(rusqlite::Error::IntegralValueOutOfRange(0, index)),
    }
}

fn from_json<T: serde::de::DeserializeOwned>(column: usize, text: &str) -> rusqlite::Result<T> {
    serde_json::from_str(text).map_err(|error| unreadable_text(column, error.to_string()))
}

fn unreadable_text(column: usize, what: String) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, Type::Text, what.into())
}

fn read_row(study: &Study, index: u64, row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
    let texts: Vec<String> = from_json(1, &row.get::<_, String>(1)?)?;
    let pairs = study.variables.iter().zip(&texts);
    let coordinates: Option<Vec<Coordinate>> = pairs.map(|(v, text)| v.coordinate(text)).collect();
    let coordinates = coordinates
        .filter(|all| all.len() == study.variables.len())
        .ok_or_else(|| unreadable_text(1, format!("coordinates {texts:?} do not fit the study")))?;
    let outcome = if row.get::<_, String>(2)? == "done" {
        Outcome::Done {
            values: from_json(5, &row.get::<_, String>(5)?)?,
            accuracy_reached: row.get(6)?,
            missed: row.get::<_, Option<String>>(4)?.unwrap_or_default(),
            iterations: row.get::<_, i64>(7)? as u64,
            cells: row.get::<_, i64>(8)? as u64,
        }
    } else {
        let word: String = row.get(3)?;
        let kind = FailureKind::ALL.into_iter().find(|k| k.word() == word);
        Outcome::Failed {
            kind: kind.ok_or_else(|| unreadable_text(3, format!("failure {word:?}")))?,
            reason: row.get(4)?,
        }
    };
    Ok(Row {
        index,
        coordinates,
        outcome,
    })
}

impl StudyRecord {
    /// From the columns id, definition, scenario, points, engine, assumptions.
    pub(super) fn from_row(row: &rusqlite::Row<'_>) -> rusqlite::Result<Self> {
        let study: Study = from_json(1, &row.get::<_, String>(1)?)?;
        if let Some(fault) = study.fault() {
            return Err(unreadable_text(1, format!("a study of {fault}")));
        }
        let points = row.get::<_, i64>(3)?;
        if u64::try_from(points) != Ok(study.plan().len()) {
            return Err(rusqlite::Error::IntegralValueOutOfRange(3, points));
        }
        let assumptions: Option<String> = row.get(5)?;
        Ok(Self {
            id: row.get(0)?,
            points: study.plan().len(),
            study,
            scenario: row.get(2)?,
            engine: row.get(4)?,
            assumptions: match assumptions {
                Some(text) => from_json(5, &text)?,
                None => Vec::new(),
            },
        })
    }

    /// A number of its plan, from a store.
    pub(super) fn place(&self, index: i64) -> rusqlite::Result<u64> {
        place_in(self.points, index)
    }
}
