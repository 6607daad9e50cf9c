//! Rows that were altered since they were written, by whatever: found, named, solved again; never used.

use super::tests::{filled, study};
use super::*;
use rusqlite::Connection;
use std::path::Path;

/// Alters a store that is closed with a statement of SQL, as a disk would: without a new digest.
fn alter(folder: &Path, sql: &str) {
    let connection = Connection::open(folder.join(DATABASE)).unwrap();
    connection
        .pragma_update(None, "foreign_keys", false)
        .unwrap();
    connection
        .pragma_update(None, "ignore_check_constraints", true)
        .unwrap();
    connection.execute_batch(sql).unwrap();
}

/// What a reader says of a store, if anything.
fn said(folder: &Path) -> Option<String> {
    let read = || {
        let reader = Reader::open(folder)?;
        for record in reader.studies()? {
            reader.rows(&record)?;
            reader.visit_recorded(&record, |_| {})?;
        }
        Ok::<_, StoreError>(())
    };
    read().err().map(|error| error.to_string())
}

fn integrity(store: &Store) -> String {
    let connection = &store.reader.connection;
    let ask = connection.query_row("PRAGMA integrity_check", [], |row| row.get(0));
    ask.unwrap()
}

/// Waits a moment for the lock: a program that another test starts may hold it until it runs.
fn soon() -> impl FnMut() -> bool {
    let mut attempts = 0;
    move || {
        attempts += 1;
        attempts < 100
    }
}

#[test]
fn whatever_was_altered_is_named_and_taken_out() {
    // The statement, what is named, how many of the three rows stay.
    let cases = [
        (
            "UPDATE points SET outputs = replace(outputs, '0.3000', '0.3001')",
            "point 1 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE points SET outputs = CAST(x'7bff7d' AS TEXT) WHERE rowid = 3",
            "point 3 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE points SET accuracy_reached = 1 WHERE rowid = 3",
            "point 3 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE points SET state = 'done' WHERE rowid = 2",
            "point 2 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE points SET memory_cap_bytes = 1 << 40 WHERE rowid = 1",
            "point 1 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE points SET hash = x'01020304' WHERE rowid = 1",
            "point 1 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE points SET digest = x'00' WHERE rowid = 1",
            "point 1 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE members SET coordinates = replace(coordinates, '1', '2') WHERE plan_index = 0",
            "point 1 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE members SET plan_index = 5 WHERE plan_index = 0",
            "point 6 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE members SET plan_index = -1 WHERE plan_index = 0",
            "point 0 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE members SET plan_index = 1 << 60 WHERE plan_index = 0",
            "of study \"thickness\"",
            2,
        ),
        (
            "UPDATE members SET hash = (SELECT hash FROM points WHERE rowid = 2) WHERE plan_index = 0",
            "point 1 of study \"thickness\"",
            2,
        ),
        (
            "UPDATE studies SET points = 1 << 50",
            "the record of study \"thickness\"",
            0,
        ),
        (
            "UPDATE studies SET name = CAST(x'ff' AS TEXT)",
            "the record of study",
            0,
        ),
        (
            "UPDATE studies SET scenario = 'scenario 2'",
            "the record of study \"thickness\"",
            0,
        ),
    ];
    for (sql, named, left) in cases {
        let folder = tempfile::tempdir().unwrap();
        drop(filled(folder.path()));
        assert_eq!(said(folder.path()), None);
        alter(folder.path(), sql);
        let refused = said(folder.path());
        // A row under another name is not missed by a reader, who cannot know of it.
        if !sql.contains("SET hash = x") {
            let refused = refused.unwrap_or_else(|| panic!("read in spite of {sql}"));
            assert!(refused.contains("is damaged"), "{sql}: {refused}");
        }
        let mut store = Store::open(folder.path(), soon()).unwrap();
        let altered = store.altered().join(", ");
        assert!(altered.contains(named), "{sql}: {altered}");
        assert_eq!(integrity(&store), "ok", "{sql}");
        let record = store.begin(&study(), "scenario 1").unwrap();
        let rows = store.reader().rows(&record).unwrap();
        assert_eq!(rows.len(), left, "{sql}");
        let settled = store.settled(&record, 1000).unwrap();
        assert_eq!(settled.iter().filter(|s| **s).count(), left, "{sql}");
        drop(store);
        let store = Store::open(folder.path(), soon()).unwrap();
        assert!(store.altered().is_empty(), "{sql}: named once");
    }
}

#[test]
fn an_index_that_leads_elsewhere_is_made_anew() {
    let folder = tempfile::tempdir().unwrap();
    drop(filled(folder.path()));
    let path = folder.path().join(DATABASE);
    // The key of the first point lies in its row and in the index, each once with its length before it; only the
    // row has text behind it.
    let mut bytes = std::fs::read(&path).unwrap();
    let keys: Vec<usize> = (0..bytes.len() - 32)
        .filter(|at| bytes[*at..*at + 32] == [1; 32])
        .collect();
    let in_index = |at: &&usize| !bytes[**at + 32..**at + 40].starts_with(b"{\"made");
    let in_index: Vec<usize> = keys.iter().filter(in_index).copied().collect();
    for at in &in_index {
        // Those of the members are followed by their coordinates.
        if bytes[at + 32] != b'[' {
            bytes[at + 5] ^= 4;
        }
    }
    std::fs::write(&path, &bytes).unwrap();
    let store = Store::open(folder.path(), soon()).unwrap();
    assert_eq!(integrity(&store), "ok");
    let known = store.lookup(1000).unwrap().known(&PointKey([1; 32]));
    assert_eq!(known.unwrap(), Known::Here);
    let record = store.study_of("scenario 1").unwrap();
    assert_eq!(store.reader().rows(&record).unwrap().len(), 3);
}

#[test]
fn text_that_is_none_is_damage_even_with_a_digest() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    let forged = format!(
        "UPDATE points SET outputs = CAST(x'7bff7d' AS TEXT) WHERE rowid = 3; \
         UPDATE points SET digest = {}",
        digest::of_point("points")
    );
    store.reader.connection.execute_batch(&forged).unwrap();
    let error = store.reader().rows(&record).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
    let error = write_table(store.reader(), &record, folder.path()).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
    assert!(!folder.path().join(TABLE).exists());
}

#[test]
fn numbers_of_a_forged_store_are_checked_before_they_are_used() {
    for sql in [
        // A plan that never ends, or begins nowhere.
        "UPDATE studies SET points = 9223372036854775807",
        "UPDATE studies SET points = -1",
        "UPDATE studies SET definition = replace(definition, '[\"1\",\"2\",\"3\"]', '[]')",
        "UPDATE studies SET definition = replace(definition, '\"All\"', \
         '{\"Sample\":{\"samples\":99999999999,\"sequence\":\"Random\",\"seed\":1}}')",
        "UPDATE members SET plan_index = 9223372036854775807 WHERE plan_index = 2",
        "UPDATE members SET plan_index = -9223372036854775808 WHERE plan_index = 2",
        "UPDATE members SET plan_index = 6 WHERE plan_index = 2",
    ] {
        let folder = tempfile::tempdir().unwrap();
        let (store, _) = filled(folder.path());
        let before: String = texts(&store);
        let forged = format!(
            "{sql}; UPDATE studies SET digest = {}; UPDATE members SET digest = \
             (SELECT {} FROM studies WHERE id = study)",
            digest::of_study("studies"),
            digest::of_member("members", "studies")
        );
        store.reader.connection.execute_batch(&forged).unwrap();
        assert_ne!(texts(&store), before, "{sql}");
        drop(store);
        let refused = said(folder.path()).unwrap_or_else(|| panic!("read in spite of {sql}"));
        assert!(refused.contains("is damaged"), "{sql}: {refused}");
        let mut store = Store::open(folder.path(), soon()).unwrap();
        assert!(!store.altered().is_empty(), "{sql}");
        let record = store.begin(&study(), "scenario 1").unwrap();
        assert!(store.reader().rows(&record).unwrap().len() < 3);
    }
}

/// What the tables of studies and members hold.
fn texts(store: &Store) -> String {
    let query = "SELECT group_concat(points || definition || plan_index) FROM members JOIN studies \
                 ON study = id";
    let ask = store
        .reader
        .connection
        .query_row(query, [], |row| row.get(0));
    ask.unwrap()
}

#[test]
fn tables_of_another_making_are_refused() {
    for sql in [
        "CREATE TRIGGER t AFTER INSERT ON members BEGIN DELETE FROM points; END",
        "CREATE VIEW v AS SELECT * FROM points",
        "DROP TABLE members",
        "ALTER TABLE points RENAME COLUMN cells TO cell",
    ] {
        let folder = tempfile::tempdir().unwrap();
        drop(filled(folder.path()));
        alter(folder.path(), sql);
        for error in [
            Reader::open(folder.path()).unwrap_err(),
            Store::open(folder.path(), soon()).unwrap_err(),
        ] {
            assert!(
                matches!(error, StoreError::Damaged { .. }),
                "{sql}: {error}"
            );
        }
    }
}
