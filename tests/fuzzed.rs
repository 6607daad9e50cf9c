//! What fuzzing kept: inputs each of which reached something that none before it did. None of them
//! may panic. One input a line, gzip in base64; how they are made is told in docs/tests.md.

#[path = "../fuzz/entries.rs"]
mod entries;

use base64::prelude::{BASE64_STANDARD, Engine};
use flate2::read::GzDecoder;
use std::io::Read;

fn replay(kept: &str, least: usize, entry: impl Fn(&[u8])) {
    let mut inputs = 0;
    for line in kept.lines() {
        let packed = BASE64_STANDARD.decode(line).expect("base64");
        let mut input = Vec::new();
        let mut unpacked = GzDecoder::new(&packed[..]);
        unpacked.read_to_end(&mut input).expect("gzip");
        entry(&input);
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

#[test]
fn stores() {
    replay(include_str!("fuzzed/store.txt"), 20, entries::store);
}

#[test]
fn shards() {
    replay(include_str!("fuzzed/shard.txt"), 20, entries::shard);
}
