//! Rows that are not those that were written: found, named, and taken out so that their points are solved again.

use super::digest::{add_value, of_member, of_point, of_study};
use super::read::StudyRecord;
use super::{Store, StoreError, TABLES};
use rusqlite::{Connection, Row, Transaction};

/// What does not fit in a store.
#[derive(Debug, Default)]
struct Faults {
    /// Studies by number, with their names as far as they can be read.
    studies: Vec<(i64, String)>,
    /// Points by their place in the table.
    points: Vec<i64>,
    /// How many entries of lists of points.
    members: u64,
    /// An index that does not lead to its rows.
    indexes: bool,
}

impl Faults {
    fn are_none(&self) -> bool {
        self.studies.is_empty() && self.points.is_empty() && self.members == 0 && !self.indexes
    }
}

impl Store {
    /// Takes out what was altered since it was written; tells what that was, for people. Needs a file whose pages
    /// are in order.
    pub(super) fn mend(&mut self) -> Result<Vec<String>, StoreError> {
        let fault = self.reader.fault();
        let connection = &self.reader.connection;
        let faults = faults(connection).map_err(&fault)?;
        if faults.are_none() {
            return Ok(Vec::new());
        }
        // Lists may point to what is taken out, until they are made anew.
        connection
            .pragma_update(None, "foreign_keys", false)
            .map_err(&fault)?;
        drop(fault);
        let mut altered = Vec::new();
        let mended = self.transaction(|transaction| {
            altered = take_out(transaction, &faults)?;
            Ok(())
        });
        let reader = &self.reader;
        reader
            .connection
            .pragma_update(None, "foreign_keys", true)
            .map_err(reader.fault())?;
        mended.map_err(|error| match error {
            // Two rows under one name: nobody knows which of them is meant.
            StoreError::Database { path, source } => StoreError::Damaged {
                path,
                reason: source.to_string(),
            },
            error => error,
        })?;
        Ok(altered)
    }
}

/// The first thing in a store that is not as it was written, for people.
pub(super) fn first_fault(connection: &Connection) -> rusqlite::Result<Option<String>> {
    let faults = faults(connection)?;
    Ok(if let Some((_, name)) = faults.studies.first() {
        Some(format!("the record of study \"{name}\" was altered"))
    } else if !faults.points.is_empty() {
        Some(format!(
            "{} of its points were altered",
            faults.points.len()
        ))
    } else if faults.members > 0 {
        Some(format!(
            "{} entries of its lists were altered",
            faults.members
        ))
    } else if faults.indexes {
        Some("an index does not lead to its rows".to_owned())
    } else {
        None
    })
}

fn faults(connection: &Connection) -> rusqlite::Result<Faults> {
    let mut faults = Faults {
        studies: altered_studies(connection)?,
        indexes: !leads_to_rows(connection, "points", "hash")?
            || !leads_to_rows(connection, "studies", "scenario")?,
        ..Faults::default()
    };
    let query = format!(
        "SELECT rowid FROM points NOT INDEXED WHERE digest IS NOT {}",
        of_point("points")
    );
    let mut statement = connection.prepare(&query)?;
    faults.points = statement
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    // Not by way of the studies: a key that was altered is not where it is looked for.
    let query = format!(
        "SELECT count(*) FROM members LEFT JOIN studies ON id = study WHERE NOT coalesce({}, 0)",
        member_fits()
    );
    let members: i64 = connection.query_row(&query, [], |row| row.get(0))?;
    faults.members = members.unsigned_abs();
    Ok(faults)
}

/// An entry of a list that is as it was written, and in its plan.
fn member_fits() -> String {
    format!(
        "(members.digest IS {} AND plan_index >= 0 AND plan_index < studies.points)",
        of_member("members", "studies")
    )
}

fn altered_studies(connection: &Connection) -> rusqlite::Result<Vec<(i64, String)>> {
    let query = format!(
        "SELECT id, definition, scenario, points, engine, assumptions, name, digest IS {} \
         FROM studies NOT INDEXED",
        of_study("studies")
    );
    let mut statement = connection.prepare(&query)?;
    let mut rows = statement.query([])?;
    let mut altered = Vec::new();
    while let Some(row) = rows.next()? {
        if !(row.get::<_, bool>(7)? && StudyRecord::from_row(row).is_ok()) {
            altered.push((row.get(0)?, text(row, 6)?));
        }
    }
    Ok(altered)
}

/// A text as far as it is one.
fn text(row: &Row<'_>, column: usize) -> rusqlite::Result<String> {
    let bytes = row.get_ref(column)?;
    Ok(String::from_utf8_lossy(bytes.as_bytes().unwrap_or_default()).into_owned())
}

/// Whether the index over a column has the values of the rows, and of each the right place.
fn leads_to_rows(connection: &Connection, table: &str, column: &str) -> rusqlite::Result<bool> {
    let sum = |how: &str| -> rusqlite::Result<u128> {
        let query = format!("SELECT {column}, rowid FROM {table} {how}");
        let mut statement = connection.prepare(&query)?;
        let mut rows = statement.query([])?;
        let mut sum = 0_u128;
        while let Some(row) = rows.next()? {
            let mut hasher = blake3::Hasher::new();
            for column in 0..2 {
                add_value(&mut hasher, row.get_ref(column)?);
            }
            let mut half = [0; 16];
            half.copy_from_slice(&hasher.finalize().as_bytes()[..16]);
            // A sum does not depend on the order, which is another one here and there.
            sum = sum.wrapping_add(u128::from_le_bytes(half));
        }
        Ok(sum)
    };
    let by_index = sum(&format!(
        "INDEXED BY sqlite_autoindex_{table}_1 ORDER BY {column}"
    ))?;
    Ok(by_index == sum("NOT INDEXED")?)
}

fn take_out(transaction: &Transaction<'_>, faults: &Faults) -> rusqlite::Result<Vec<String>> {
    // First of all: rows are taken out of the indexes by their values, which have to be there.
    transaction.execute_batch("REINDEX points; REINDEX studies")?;
    let mut altered = Vec::new();
    for point in &faults.points {
        transaction.execute("DELETE FROM points WHERE rowid = ?1", [point])?;
    }
    for (study, name) in &faults.studies {
        altered.push(format!("the record of study \"{name}\""));
        transaction.execute("DELETE FROM studies WHERE id = ?1", [study])?;
    }
    // From end to end, and made anew: a key that was altered would not be found by it.
    let good = format!("{} AND hash IN (SELECT hash FROM points)", member_fits());
    let query = format!(
        "SELECT plan_index, name FROM members CROSS JOIN studies ON id = study \
         WHERE NOT coalesce({good}, 0) ORDER BY name, plan_index"
    );
    let mut statement = transaction.prepare(&query)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let number = match row.get_ref(0)?.as_i64() {
            Ok(index) => index.wrapping_add(1).to_string(),
            Err(_) => "?".to_owned(),
        };
        altered.push(format!("point {number} of study \"{}\"", text(row, 1)?));
    }
    drop(rows);
    drop(statement);
    transaction.execute_batch(&format!(
        "CREATE TEMP TABLE kept AS SELECT members.* FROM members CROSS JOIN studies ON id = study \
         WHERE {good}; \
         DROP TABLE main.members; {TABLES} \
         INSERT OR IGNORE INTO main.members SELECT * FROM temp.kept ORDER BY study, plan_index; \
         DROP TABLE temp.kept;"
    ))?;
    if altered.is_empty() {
        altered.push("entries of lists of points".to_owned());
    }
    Ok(altered)
}
