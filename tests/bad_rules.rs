//! Broken rules files beside the message they must give.
//!
//! `tests/bad_rules/NAME.toml` must give exactly `NAME.txt`. Run with `PADFIELD_WRITE_EXPECTED=1` to
//! write the messages anew after a deliberate change, and read the difference.

use crate::messages::{self, message_of};
use padfield::questions::rules::{COMMON_PRACTICE, rules_of};
use proptest::prelude::*;

fn message(file: &str, bytes: &[u8]) -> String {
    message_of(rules_of(file, bytes))
}

#[test]
fn broken_rules_give_their_messages() {
    messages::hold("bad_rules", 30, message);
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
