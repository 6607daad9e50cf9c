//! What fuzzing kept: inputs that reach every branch it found, and those that once made something fail. None of them
//! may panic. One input a line, base64; how they are made is told in DEVELOPERS.md.

#[path = "../fuzz/entries.rs"]
mod entries;

use base64::prelude::{BASE64_STANDARD, Engine};

fn replay(kept: &str, least: usize, entry: impl Fn(&[u8])) {
    let mut inputs = 0;
    for line in kept.lines() {
        entry(&BASE64_STANDARD.decode(line).expect("base64"));
        inputs += 1;
    }
    assert!(inputs >= least, "{inputs} inputs");
}

#[test]
fn panel_files() {
    replay(
        include_str!("fuzzed/panel_file.txt"),
        50,
        entries::panel_file,
    );
}

#[test]
fn case_records() {
    replay(
        include_str!("fuzzed/case_record.txt"),
        50,
        entries::case_record,
    );
}

#[test]
fn rules() {
    replay(include_str!("fuzzed/rules.txt"), 50, entries::rules);
}

#[test]
fn measured_tables() {
    replay(include_str!("fuzzed/measured.txt"), 50, entries::measured);
}

/// One after the other: both write the same file.
#[test]
fn stores() {
    replay(include_str!("fuzzed/store.txt"), 20, entries::store);
}

#[test]
fn shards() {
    replay(include_str!("fuzzed/shard.txt"), 20, entries::shard);
}
