#![no_main]

#[path = "../entries.rs"]
#[allow(dead_code)]
mod entries;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| entries::shard(bytes));
