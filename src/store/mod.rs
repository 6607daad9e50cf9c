//! The durable record of studies: one SQLite file per study folder, and its CSV table.
//!
//! - Every finished point is one transaction that has reached the disk before the next one starts
//!   (write-ahead log, `synchronous = FULL`): whatever ends the process, finished points stay.
//! - A point is known by its [`PointKey`], the hash of what it was computed from. Studies only list
//!   points; a changed panel file lists other points and never mixes with the old ones.
//! - Every row carries a digest over its columns: what was altered since is found, named, taken out when the store
//!   is opened for writing, and solved again.
//! - One process writes at a time; a lock file that the system releases with the process keeps the
//!   others waiting. Anyone may read meanwhile.
//!
//! | file | what |
//! |---|---|
//! | `points.sqlite` | tables `points`, `studies`, `members` |
//! | `points.csv` | the rows of the latest study, RFC 4180, UTF-8; replaced as a whole |
//! | `points.lock` | held by the process that writes; may stay behind, empty of meaning |
//! | `shards/shard-3-of-16.sqlite` | a part of the plan solved elsewhere: [`publish`] writes it, [`Store::join`] joins it |
//!
//! A write-ahead log does not work on network file systems: keep the folder on a local disk. Shards are
//! written on a local disk of their own and copied; [`Place`] does the same for the store they are joined in.

mod checks;
mod digest;
mod error;
mod inputs;
mod join;
mod lock;
mod lookup;
mod mend;
mod metal_inputs;
mod open;
mod part;
mod place;
mod read;
mod schema;
mod scratch;
mod table;
mod whole;
mod write;

pub use error::StoreError;
pub use inputs::{ENGINE, PointKey, inputs_of, unresolved_inputs};
pub use join::Joined;
pub use lookup::{Copied, Known, Lookup};
pub use part::{Label, Part, PartError, SHARDS, part_files, publish, remove_unfinished};
pub use place::Place;
pub use read::{FailureKind, Outcome, Reader, Row, StudyRecord, Tally};
pub use scratch::{Scratch, own_folder};
pub use table::{heading, write_table};
pub use whole::{open_file, try_folder, write_whole};
pub use write::{Finished, Listed, Store};

/// File name of the database.
pub const DATABASE: &str = "points.sqlite";
/// File name of the table.
pub const TABLE: &str = "points.csv";
/// File name of the lock.
const LOCK: &str = "points.lock";

/// Marks a SQLite file as ours (`application_id`): "pfld".
const APPLICATION: i32 = 0x7066_6c64;
/// Layout of the tables (`user_version`).
const LAYOUT: i32 = 2;

/// The tables; every change raises [`LAYOUT`].
const TABLES: &str = "
CREATE TABLE IF NOT EXISTS points (
    hash BLOB PRIMARY KEY NOT NULL,     -- blake3 of inputs and numerics
    inputs TEXT NOT NULL,               -- JSON: what the point was computed from
    state TEXT NOT NULL CHECK (state IN ('done', 'failed')),
    failure TEXT,                       -- kind of failure
    reason TEXT,                        -- failed: why, in words
    outputs TEXT,                       -- done: JSON, every quantity of every pad with its error
    accuracy_reached INTEGER,
    memory_cap_bytes INTEGER NOT NULL,
    iterations INTEGER,
    cells INTEGER,
    seconds REAL NOT NULL,
    engine TEXT NOT NULL,
    scenario TEXT NOT NULL,             -- hash of the scenario that first asked for it
    digest BLOB NOT NULL                -- blake3 over the other columns
);
CREATE TABLE IF NOT EXISTS studies (
    id INTEGER PRIMARY KEY,
    scenario TEXT NOT NULL UNIQUE,      -- hash of file, study and numerics
    name TEXT NOT NULL,
    definition TEXT NOT NULL,           -- JSON: variables, report, limits
    points INTEGER NOT NULL,            -- length of the plan
    engine TEXT NOT NULL,
    assumptions TEXT,                   -- JSON list: what the numbers hang on
    digest BLOB NOT NULL                -- blake3 over the other columns but the number
);
CREATE TABLE IF NOT EXISTS members (
    study INTEGER NOT NULL REFERENCES studies (id),
    plan_index INTEGER NOT NULL,
    hash BLOB NOT NULL REFERENCES points (hash),
    coordinates TEXT NOT NULL,          -- JSON list of texts, in the units of the definition
    digest BLOB NOT NULL,               -- blake3 over the scenario of the study and the other columns
    PRIMARY KEY (study, plan_index)
) WITHOUT ROWID;
";

#[cfg(test)]
mod altered_tests;
#[cfg(test)]
mod places_tests;
#[cfg(test)]
mod tests;
