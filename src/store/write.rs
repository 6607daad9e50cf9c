//! Writing a store: one transaction per finished point.

use super::digest;
use super::lock::Lock;
use super::lookup::{Copied, FINAL, Lookup};
use super::open::Access;
use super::read::{Outcome, Reader, StudyRecord};
use super::{APPLICATION, DATABASE, ENGINE, LAYOUT, PointKey, StoreError, TABLES};
use crate::study::{Coordinate, Study};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior, params};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// A store opened for writing: its folder is locked for others as long as this lives.
#[derive(Debug)]
pub struct Store {
    pub(super) reader: Reader,
    folder: PathBuf,
    _lock: Lock,
    /// The file that is written, whatever happens to its name.
    identity: Option<Identity>,
    altered: Vec<String>,
}

/// A point that has been worked on.
#[derive(Clone, Debug)]
pub struct Finished {
    /// Its name.
    pub key: PointKey,
    /// What it was computed from.
    pub inputs: Value,
    /// What became of it.
    pub outcome: Outcome,
    /// Memory it was allowed \[bytes\].
    pub memory_cap_bytes: u64,
    /// Time it took \[s\].
    pub seconds: f64,
}

/// A known point with its place in a study.
#[derive(Clone, Debug)]
pub struct Listed {
    /// Number in the plan.
    pub index: u64,
    /// One coordinate per variable.
    pub coordinates: Vec<Coordinate>,
    /// Its name.
    pub key: PointKey,
    /// Its row in another store, when this one does not have it.
    pub copied: Option<Copied>,
}

impl Store {
    /// Opens the store in `folder`, creating both; waits while another process writes there, asking
    /// `keep_waiting` now and then.
    ///
    /// # Errors
    /// The folder cannot be written, the store is damaged or of another version, waiting was given up.
    pub fn open(folder: &Path, mut keep_waiting: impl FnMut() -> bool) -> Result<Self, StoreError> {
        std::fs::create_dir_all(folder).map_err(|e| StoreError::from_files(folder, &e))?;
        let lock = Lock::take(folder, &mut keep_waiting)?;
        let path = folder.join(DATABASE);
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_URI
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(&path, flags)
            .map_err(|error| StoreError::from_database(&path, error))?;
        let reader = Reader::over(connection, &path, Access::Writing);
        digest::teach(&reader.connection).map_err(reader.fault())?;
        reader.wait_for_others()?;
        let mut store = Self {
            reader,
            folder: folder.to_owned(),
            _lock: lock,
            identity: identity_of(&path),
            altered: Vec::new(),
        };
        store.prepare()?;
        store.altered = store.mend()?;
        Ok(store)
    }

    fn prepare(&self) -> Result<(), StoreError> {
        let fault = self.reader.fault();
        let connection = &self.reader.connection;
        // Before anything is written: a file that is not ours stays as it is.
        let tables: i64 = connection
            .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
            .map_err(&fault)?;
        if tables > 0 {
            self.reader.check_layout()?;
            self.reader.check_tables()?;
            let verdict: String = connection
                .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
                .map_err(&fault)?;
            if verdict != "ok" {
                return Err(StoreError::Damaged {
                    path: self.reader.path.clone(),
                    reason: verdict.replace('\n', " "),
                });
            }
        }
        // The answer is the mode in force: where there can be no log, the rollback journal is as durable.
        let mode = connection
            .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0));
        mode.map_err(&fault)?;
        connection
            .pragma_update(None, "synchronous", "FULL")
            .map_err(&fault)?;
        if tables == 0 {
            // In one transaction: killed in between, the file is still an empty one.
            let script = format!(
                "BEGIN IMMEDIATE; PRAGMA application_id = {APPLICATION}; \
                 PRAGMA user_version = {LAYOUT}; {TABLES} COMMIT;"
            );
            connection.execute_batch(&script).map_err(&fault)?;
        }
        Ok(())
    }

    /// What was found altered when the store was opened, for people: it was taken out, and is solved again.
    pub fn altered(&self) -> &[String] {
        &self.altered
    }

    /// Whether what is written can be found again: the file under the name of this store is still the one that is
    /// open.
    ///
    /// # Errors
    /// Someone has removed or replaced it.
    pub fn check_place(&self) -> Result<(), StoreError> {
        match identity_of(self.path()) {
            found if found == self.identity && found.is_some() => Ok(()),
            _ => Err(StoreError::Removed(self.path().to_owned())),
        }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The path of the database file.
    pub fn path(&self) -> &Path {
        &self.reader.path
    }

    /// The reading side.
    pub fn reader(&self) -> &Reader {
        &self.reader
    }

    /// A connection of its own for one thread that asks for known points.
    ///
    /// # Errors
    /// The store cannot be read.
    pub fn lookup(&self, memory_cap_bytes: u64) -> Result<Lookup, StoreError> {
        Lookup::open(&self.folder, memory_cap_bytes)
    }

    /// The record of a study, new unless this very scenario has one.
    ///
    /// # Errors
    /// The store cannot be written.
    pub fn begin(&mut self, study: &Study, scenario: &str) -> Result<StudyRecord, StoreError> {
        let points = study.plan().len();
        let definition = serde_json::to_string(study).expect("a study is plain data");
        self.transaction(|transaction| {
            transaction
                .execute(
                    "INSERT INTO studies (scenario, name, definition, points, engine, digest) \
                     VALUES (?1, ?2, ?3, ?4, ?5, row_digest(?1, ?2, ?3, ?4, ?5, NULL)) \
                     ON CONFLICT (scenario) DO NOTHING",
                    params![scenario, study.name, definition, points as i64, ENGINE],
                )
                .map(|_| ())
        })?;
        let studies = self.reader.studies()?;
        studies
            .into_iter()
            .find(|record| record.scenario == scenario)
            .ok_or_else(|| StoreError::Damaged {
                path: self.reader.path.clone(),
                reason: "a study that was just written is missing".to_owned(),
            })
    }

    /// Keeps what the numbers of a study hang on, in place of what was kept before.
    ///
    /// # Errors
    /// The store cannot be written.
    pub fn note_assumptions(&mut self, study: i64, lines: &[String]) -> Result<(), StoreError> {
        let lines = serde_json::to_string(lines).expect("lines of text");
        self.transaction(|transaction| {
            transaction
                .execute(
                    "UPDATE studies SET assumptions = ?2, \
                     digest = row_digest(scenario, name, definition, points, engine, ?2) WHERE id = ?1",
                    params![study, lines],
                )
                .map(|_| ())
        })
    }

    /// Which points of the plan need no more work, as one flag each.
    ///
    /// # Errors
    /// A damaged store.
    pub fn settled(
        &self,
        study: &StudyRecord,
        memory_cap_bytes: u64,
    ) -> Result<Vec<bool>, StoreError> {
        let fault = self.reader.fault();
        let query = format!(
            "SELECT plan_index FROM members JOIN points USING (hash) WHERE study = ?1 AND {FINAL}"
        );
        let mut settled = vec![false; study.points as usize];
        let mut statement = self.reader.connection.prepare(&query).map_err(&fault)?;
        let cap = memory_cap_bytes.min(i64::MAX as u64) as i64;
        let mut rows = statement.query(params![study.id, cap]).map_err(&fault)?;
        while let Some(row) = rows.next().map_err(&fault)? {
            let index = study.place(row.get(0).map_err(&fault)?).map_err(&fault)?;
            settled[index as usize] = true;
        }
        Ok(settled)
    }

    /// Records a finished point and lists it in a study: one transaction, on the disk when this returns.
    ///
    /// # Errors
    /// The store cannot be written; the point is then not in it at all.
    pub fn record(
        &mut self,
        study: &StudyRecord,
        index: u64,
        coordinates: &[Coordinate],
        finished: &Finished,
    ) -> Result<(), StoreError> {
        self.transaction(|transaction| {
            insert_point(transaction, finished, &study.scenario)?;
            insert_member(transaction, study, index, coordinates, &finished.key)
        })
    }

    /// Records finished points and lists them in a study, all in one transaction, on the disk when this returns: points
    /// that are computed again sooner than each is written on its own.
    ///
    /// # Errors
    /// The store cannot be written; none of them is in it then.
    pub fn record_all<'f>(
        &mut self,
        study: &StudyRecord,
        points: impl IntoIterator<Item = (u64, &'f [Coordinate], &'f Finished)>,
    ) -> Result<(), StoreError> {
        self.transaction(|transaction| {
            for (index, coordinates, finished) in points {
                insert_point(transaction, finished, &study.scenario)?;
                insert_member(transaction, study, index, coordinates, &finished.key)?;
            }
            Ok(())
        })
    }

    /// Lists points that are known already in a study, all in one transaction; a point from another
    /// store is copied.
    ///
    /// # Errors
    /// The store cannot be written; none of them is listed then.
    pub fn list(&mut self, study: &StudyRecord, known: &[Listed]) -> Result<(), StoreError> {
        self.transaction(|transaction| {
            for listed in known {
                if let Some(copied) = &listed.copied {
                    insert_copy(transaction, copied)?;
                }
                insert_member(
                    transaction,
                    study,
                    listed.index,
                    &listed.coordinates,
                    &listed.key,
                )?;
            }
            Ok(())
        })
    }

    pub(super) fn transaction(
        &mut self,
        work: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<()>,
    ) -> Result<(), StoreError> {
        let Reader {
            connection, path, ..
        } = &mut self.reader;
        let result = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .and_then(|transaction| {
                work(&transaction)?;
                transaction.commit()
            });
        let result = result.map_err(|error| StoreError::from_database(path, error));
        // After it: what went into a file that has no name any more is lost, and what failed has failed of that.
        self.check_place()?;
        result
    }

    /// For tests of a full disk: the database may have so many pages.
    #[cfg(test)]
    pub(super) fn limit_pages(&self, pages: i64) {
        let limited =
            self.reader
                .connection
                .pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()));
        limited.expect("a limit of pages");
    }
}

/// What tells a file from another one under the same name.
#[cfg(unix)]
type Identity = (u64, u64);

/// Device and number of the file: nobody else gets that number while it is open.
#[cfg(unix)]
fn identity_of(path: &Path) -> Option<Identity> {
    use std::os::unix::fs::MetadataExt;
    let data = std::fs::metadata(path).ok()?;
    Some((data.dev(), data.ino()))
}

// An open file cannot be removed there.
#[cfg(not(unix))]
type Identity = ();

#[cfg(not(unix))]
fn identity_of(path: &Path) -> Option<Identity> {
    path.is_file().then_some(())
}

fn insert_point(
    transaction: &Transaction<'_>,
    finished: &Finished,
    scenario: &str,
) -> rusqlite::Result<()> {
    let (state, failure, reason, outputs, reached, iterations, cells) = match &finished.outcome {
        Outcome::Done {
            values,
            accuracy_reached,
            missed,
            iterations,
            cells,
        } => (
            "done",
            None,
            (!missed.is_empty()).then_some(missed.as_str()),
            Some(serde_json::to_string(values).expect("values are plain data")),
            Some(*accuracy_reached),
            Some(*iterations as i64),
            Some(*cells as i64),
        ),
        Outcome::Failed { kind, reason } => {
            let failed = (Some(kind.word()), Some(reason.as_str()));
            ("failed", failed.0, failed.1, None, None, None, None)
        }
    };
    transaction
        .prepare_cached(
            "INSERT OR REPLACE INTO points (hash, inputs, state, failure, reason, outputs, \
             accuracy_reached, memory_cap_bytes, iterations, cells, seconds, engine, scenario, digest) \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, \
             row_digest(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13))",
        )?
        .execute(params![
            finished.key.0,
            finished.inputs.to_string(),
            state,
            failure,
            reason,
            outputs,
            reached,
            finished.memory_cap_bytes.min(i64::MAX as u64) as i64,
            iterations,
            cells,
            finished.seconds,
            ENGINE,
            scenario,
        ])
        .map(|_| ())
}

fn insert_member(
    transaction: &Transaction<'_>,
    study: &StudyRecord,
    index: u64,
    coordinates: &[Coordinate],
    key: &PointKey,
) -> rusqlite::Result<()> {
    let texts: Vec<String> = coordinates.iter().map(ToString::to_string).collect();
    let texts = serde_json::to_string(&texts).expect("texts");
    transaction
        .prepare_cached(
            "INSERT OR REPLACE INTO members (study, plan_index, hash, coordinates, digest) \
             VALUES (?1, ?2, ?3, ?4, row_digest(?5, ?2, ?3, ?4))",
        )?
        .execute(params![
            study.id,
            index as i64,
            key.0,
            texts,
            study.scenario
        ])
        .map(|_| ())
}

fn insert_copy(transaction: &Transaction<'_>, copied: &Copied) -> rusqlite::Result<()> {
    transaction
        .prepare_cached(
            "INSERT OR REPLACE INTO points \
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
        )?
        .execute(rusqlite::params_from_iter(&copied.0))
        .map(|_| ())
}
