//! Reading a store: which points are known, the rows of a study.

use super::{APPLICATION, DATABASE, ENGINE, LAYOUT, StoreError};
use crate::study::{Coordinate, PointValues, Study};
use rusqlite::types::Type;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

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
        /// Most iterations of any system.
        iterations: u64,
        /// Cells of the largest grid.
        cells: u64,
    },
    /// It has none.
    Failed {
        /// What kind of failure.
        kind: FailureKind,
        /// Why, in words.
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
}

impl Reader {
    /// Opens the store of a study folder.
    ///
    /// # Errors
    /// No store, a damaged one, one of another version.
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        let path = folder.join(DATABASE);
        if !path.is_file() {
            return Err(StoreError::Missing(path));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(&path, flags)
            .map_err(|error| StoreError::from_database(&path, error))?;
        let reader = Self { connection, path };
        reader.wait_for_others()?;
        reader.check_layout()?;
        Ok(reader)
    }

    pub(super) fn fault(&self) -> impl Fn(rusqlite::Error) -> StoreError {
        |error| StoreError::from_database(&self.path, error)
    }

    pub(super) fn wait_for_others(&self) -> Result<(), StoreError> {
        let result = self.connection.busy_timeout(Duration::from_secs(60));
        result.map_err(self.fault())
    }

    pub(super) fn pragma(&self, name: &str) -> Result<i32, StoreError> {
        self.connection
            .pragma_query_value(None, name, |row| row.get(0))
            .map_err(self.fault())
    }

    pub(super) fn check_layout(&self) -> Result<(), StoreError> {
        if self.pragma("application_id")? != APPLICATION {
            return Err(StoreError::Damaged {
                path: self.path.clone(),
                reason: "it holds something else".to_owned(),
            });
        }
        match self.pragma("user_version")? {
            LAYOUT => Ok(()),
            found => Err(StoreError::OtherLayout {
                path: self.path.clone(),
                found,
            }),
        }
    }

    /// All studies, oldest first; the last is the latest state of the panel file.
    ///
    /// # Errors
    /// A damaged store.
    pub fn studies(&self) -> Result<Vec<StudyRecord>, StoreError> {
        let mut statement = self
            .connection
            .prepare("SELECT id, definition, scenario, points, engine, assumptions FROM studies ORDER BY id")
            .map_err(self.fault())?;
        let records = statement
            .query_map([], |row| {
                let assumptions: Option<String> = row.get(5)?;
                Ok(StudyRecord {
                    id: row.get(0)?,
                    study: from_json(1, &row.get::<_, String>(1)?)?,
                    scenario: row.get(2)?,
                    points: row.get::<_, i64>(3)? as u64,
                    engine: row.get(4)?,
                    assumptions: match assumptions {
                        Some(text) => from_json(5, &text)?,
                        None => Vec::new(),
                    },
                })
            })
            .and_then(Iterator::collect);
        records.map_err(self.fault())
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
        let mut statement = self
            .connection
            .prepare(
                "SELECT plan_index, coordinates, state, failure, reason, outputs, accuracy_reached, \
                 iterations, cells FROM members JOIN points USING (hash) WHERE study = ?1 \
                 ORDER BY plan_index",
            )
            .map_err(self.fault())?;
        let mut rows = statement.query([study.id]).map_err(self.fault())?;
        while let Some(row) = rows.next().map_err(self.fault())? {
            visit(read_row(&study.study, row).map_err(self.fault())?)?;
        }
        Ok(())
    }

    /// The recorded rows of a study in plan order.
    ///
    /// # Errors
    /// A damaged store.
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
                "SELECT state, failure, reason, count(*), total(accuracy_reached = 0) \
                 FROM members JOIN points USING (hash) WHERE study = ?1 \
                 GROUP BY state, failure, reason ORDER BY count(*) DESC, reason",
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

fn from_json<T: serde::de::DeserializeOwned>(column: usize, text: &str) -> rusqlite::Result<T> {
    serde_json::from_str(text).map_err(|error| unreadable(column, error.to_string()))
}

fn unreadable(column: usize, what: String) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, Type::Text, what.into())
}

fn read_row(study: &Study, row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
    let texts: Vec<String> = from_json(1, &row.get::<_, String>(1)?)?;
    let pairs = study.variables.iter().zip(&texts);
    let coordinates: Option<Vec<Coordinate>> = pairs.map(|(v, text)| v.coordinate(text)).collect();
    let coordinates = coordinates
        .filter(|all| all.len() == study.variables.len())
        .ok_or_else(|| unreadable(1, format!("coordinates {texts:?} do not fit the study")))?;
    let outcome = if row.get::<_, String>(2)? == "done" {
        Outcome::Done {
            values: from_json(5, &row.get::<_, String>(5)?)?,
            accuracy_reached: row.get(6)?,
            iterations: row.get::<_, i64>(7)? as u64,
            cells: row.get::<_, i64>(8)? as u64,
        }
    } else {
        let word: String = row.get(3)?;
        let kind = FailureKind::ALL.into_iter().find(|k| k.word() == word);
        Outcome::Failed {
            kind: kind.ok_or_else(|| unreadable(3, format!("failure {word:?}")))?,
            reason: row.get(4)?,
        }
    };
    Ok(Row {
        index: row.get::<_, i64>(0)? as u64,
        coordinates,
        outcome,
    })
}

impl StudyRecord {
    /// Whether its numbers come from the engine that is running.
    pub fn is_of_this_engine(&self) -> bool {
        self.engine == ENGINE
    }
}
