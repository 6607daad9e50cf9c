//! Broken rules files beside the message they must give.
//!
//! `tests/bad_rules/NAME.toml` must give exactly `NAME.txt`. Run with `PADFIELD_WRITE_EXPECTED=1` to
//! write the messages anew after a deliberate change, and read the difference.

use padfield::rules::{COMMON_PRACTICE, rules_of};
use padfield::scenario::ScenarioError;
use proptest::prelude::*;
use std::path::Path;

fn shown(error: &ScenarioError) -> String {
    format!("{error}\n\n{}\n", error.render(false))
}

fn message(file: &str, bytes: &[u8]) -> String {
    match rules_of(file, bytes) {
        Ok(_) => "no error\n".to_owned(),
        Err(error) => shown(&error),
    }
}

#[test]
fn broken_rules_give_their_messages() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad_rules");
    let write = std::env::var_os("PADFIELD_WRITE_EXPECTED").is_some();
    let mut wrong = Vec::new();
    let mut count = 0;
    for entry in std::fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "toml") {
            continue;
        }
        count += 1;
        let file = path.file_name().unwrap().to_string_lossy().into_owned();
        let found = message(&file, &std::fs::read(&path).unwrap());
        let expected_path = path.with_extension("txt");
        if write {
            std::fs::write(&expected_path, &found).unwrap();
        }
        let expected = std::fs::read_to_string(&expected_path).unwrap_or_default();
        if found != expected || found == "no error\n" {
            wrong.push(format!("{file}\nexpected: {expected}\nfound: {found}"));
        }
    }
    assert!(count >= 30, "{count} files");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_file_that_is_too_large_or_no_text_is_refused_by_its_kind() {
    let found = message("large.toml", &vec![b'#'; (1 << 20) + 1]);
    assert!(
        found.starts_with("large.toml:1:1: the file has 1.0 MB; a rules file has at most 1 MB"),
        "{found}"
    );
    let found = message("bytes.toml", b"[rule.a]\nsays = \"\xff\"\n");
    assert!(
        found.starts_with("bytes.toml:2:9: byte 17 is not UTF-8 text"),
        "{found}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// The built-in rules with a piece replaced by something a slip of the keyboard gives: a message
    /// with a place in the file, or rules; never a panic.
    #[test]
    fn broken_built_in_rules_never_panic(
        at in 0..COMMON_PRACTICE.len(),
        length in 0_usize..12,
        piece in prop::sample::select(vec![
            "", "\"", "[", "{", "}", "=", "0", "-1", "nan", "inf", "1e99", "\u{b5}m", "%", "\n",
        ]),
    ) {
        let boundary = |mut at: usize| {
            at = at.min(COMMON_PRACTICE.len());
            while !COMMON_PRACTICE.is_char_boundary(at) {
                at -= 1;
            }
            at
        };
        let (from, to) = (boundary(at), boundary(at + length));
        let text = format!("{}{piece}{}", &COMMON_PRACTICE[..from], &COMMON_PRACTICE[to..]);
        if let Err(error) = rules_of("slip.toml", text.as_bytes()) {
            prop_assert!(error.to_string().starts_with("slip.toml:"), "{error}");
        }
    }
}
