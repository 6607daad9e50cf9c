//! Broken files beside the message they must give.

use padfield::input::ScenarioError;
use std::path::Path;

/// What stands in the expected file for an error.
pub fn shown(error: &ScenarioError) -> String {
    format!("{error}\n\n{}\n", error.render(false))
}

/// The message of a file that was read, or that there was none.
pub fn message_of<T>(read: Result<T, ScenarioError>) -> String {
    match read {
        Ok(_) => "no error\n".to_owned(),
        Err(error) => shown(&error),
    }
}

/// Holds every `NAME.toml` of a folder below `tests` against its `NAME.txt`; with
/// `PADFIELD_WRITE_EXPECTED` set the messages are written first. A file without an error is wrong, and so
/// are fewer than `least` files.
pub fn hold(folder: &str, least: usize, message: impl Fn(&str, &[u8]) -> String) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests")
        .join(folder);
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
    assert!(count >= least, "{count} files");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
