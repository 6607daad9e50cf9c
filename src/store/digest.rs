//! A digest in every row: what a disk, a copy or a hand has altered since is found before it is used.
//!
//! SQLite's own check finds damaged pages, not a digit that has become another digit.

use rusqlite::Connection;
use rusqlite::functions::FunctionFlags;
use rusqlite::types::ValueRef;

/// Columns that tell two results of one point apart.
pub(super) const RESULT: [&str; 9] = [
    "state",
    "failure",
    "reason",
    "outputs",
    "accuracy_reached",
    "memory_cap_bytes",
    "iterations",
    "cells",
    "seconds",
];

/// Columns of the table of points that its digest is over, in their order in the table.
const POINT: [&[&str]; 3] = [&["hash", "inputs"], &RESULT, &["engine", "scenario"]];

/// The same of the table of studies; its numbering is a matter of each store.
const STUDY: [&str; 6] = [
    "scenario",
    "name",
    "definition",
    "points",
    "engine",
    "assumptions",
];

/// Makes `row_digest(...)` known to a connection.
pub(super) fn teach(connection: &Connection) -> rusqlite::Result<()> {
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DETERMINISTIC;
    connection.create_scalar_function("row_digest", -1, flags, |context| {
        let mut hasher = blake3::Hasher::new();
        for at in 0..context.len() {
            add_value(&mut hasher, context.get_raw(at));
        }
        Ok(hasher.finalize().as_bytes().to_vec())
    })
}

/// The digest of a row of points as an expression; `of` is what the table is called in the query.
pub(super) fn of_point(of: &str) -> String {
    over(of, &POINT.concat())
}

/// The digest of a row of studies.
pub(super) fn of_study(of: &str) -> String {
    over(of, &STUDY)
}

/// The digest of a row of members: of its study by name, which stays when the row goes to another store.
pub(super) fn of_member(of: &str, studies: &str) -> String {
    format!("row_digest({studies}.scenario, {of}.plan_index, {of}.hash, {of}.coordinates)")
}

fn over(of: &str, columns: &[&str]) -> String {
    let columns: Vec<String> = columns.iter().map(|c| format!("{of}.{c}")).collect();
    format!("row_digest({})", columns.join(", "))
}

/// A value with its kind and length: no two rows are the same text in other columns.
pub(super) fn add_value(hasher: &mut blake3::Hasher, value: ValueRef<'_>) {
    let mut add = |kind: u8, bytes: &[u8]| {
        hasher.update(&[kind]);
        hasher.update(&(bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    };
    match value {
        ValueRef::Null => add(0, &[]),
        ValueRef::Integer(number) => add(1, &number.to_le_bytes()),
        ValueRef::Real(number) => add(2, &number.to_bits().to_le_bytes()),
        ValueRef::Text(text) => add(3, text),
        ValueRef::Blob(bytes) => add(4, bytes),
    }
}
