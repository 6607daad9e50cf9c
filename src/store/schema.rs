//! The tables of a store are the ones that this program makes: nothing in a file decides what a query does.

use super::TABLES;
use super::part::LABEL;
use rusqlite::Connection;

/// Type, name and definition of a table or index.
type Entry = (String, String, Option<String>);

/// Whether a file holds the tables of a store, or of a shard, and nothing else; what is wrong with it.
pub(super) fn check(connection: &Connection) -> rusqlite::Result<Result<(), String>> {
    let model = Connection::open_in_memory()?;
    model.execute_batch(TABLES)?;
    let mut expected = entries(&model)?;
    let mut found = entries(connection)?;
    model.execute_batch(LABEL)?;
    let label = entries(&model)?;
    let label = label.iter().filter(|entry| !expected.contains(entry));
    // Only shards have it.
    for entry in label {
        found.retain(|other| other != entry);
    }
    for entry in &found {
        match expected.iter().position(|other| other == entry) {
            Some(at) => {
                expected.remove(at);
            }
            None => {
                return Ok(Err(format!(
                    "its {} {:?} is not that of a store",
                    entry.0, entry.1
                )));
            }
        }
    }
    Ok(match expected.first() {
        Some((kind, name, _)) => Err(format!("its {kind} {name:?} is missing")),
        None => Ok(()),
    })
}

fn entries(connection: &Connection) -> rusqlite::Result<Vec<Entry>> {
    // Not the tables of statistics that SQLite itself may add.
    let mut statement = connection
        .prepare("SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_stat%'")?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    rows.collect()
}
