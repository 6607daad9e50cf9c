//! Shards as real processes and their merge: any subset and order, twice, torn, foreign; killed, told to
//! stop, without room. Whatever happened, the merged table is that of one machine, byte for byte.

use crate::processes::{after, signalled};
use padfield::store::Store;
use padfield::study::Shard;
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::Duration;

/// A round pad about its axis: a hundredth of a second for a point. Half the points of "size" are impossible;
/// in "twins" the first and the last third are the same panels, written in other units.
const PANEL: &str = concat!(
    include_str!("panels/round_pad.toml"),
    r#"[study.size]
vary = [
  { path = "overlay.thickness", from = "1 mm", to = "4 mm", points = 10 },
  { path = "pads.key.diameter", from = "6 mm", to = "20 mm", step = "1 mm" },
  { path = "finger.adult.contact", values = ["9 mm", "17 mm"] },
]
report = ["base capacitance", "touch shift", "relative touch shift"]
accuracy = "5 %"
[study.twins]
vary = [
  { path = "pads.key.diameter", values = ["12 mm", "14 mm", "1.2 cm"] },
  { path = "overlay.thickness", from = "1 mm", to = "4 mm", points = 48 },
]
report = ["base capacitance", "touch shift"]
accuracy = "5 %"
"#
);
const POINTS: u64 = 300;
const SHARDS: u32 = 5;

/// A folder with the panel file; results go to folders in it.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(folder.path().join("disc.toml"), PANEL).expect("the panel file");
        Self(folder)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_padfield"));
        command.args(arguments).current_dir(self.0.path());
        command
    }

    fn run(&self, arguments: &[&str], code: i32) -> Value {
        let output = self.command(arguments).output().expect("the program runs");
        record(&output, code)
    }

    fn refused(&self, arguments: &[&str]) -> String {
        let output = self.command(arguments).output().expect("the program runs");
        let errors = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{errors}");
        assert!(output.stdout.is_empty());
        errors
    }

    fn whole(&self, study: &str) -> Value {
        let words = [
            "sweep",
            "disc.toml",
            "--json",
            "--out",
            "whole",
            "--threads",
            "1",
        ];
        self.run(&[&words[..], &["--study", study]].concat(), 0)
    }

    fn shard_words<'a>(study: &'a str, out: &'a str, shard: &'a str) -> [&'a str; 11] {
        [
            "sweep",
            "disc.toml",
            "--json",
            "--study",
            study,
            "--out",
            out,
            "--scratch",
            "scratch",
            "--shard",
            shard,
        ]
    }

    fn shard(&self, study: &str, out: &str, number: u32) -> Value {
        let shard = format!("{number}/{SHARDS}");
        self.run(&Self::shard_words(study, out, &shard), 0)
    }

    fn merge(&self, out: &str, code: i32) -> Value {
        let scratch = ["--scratch", "scratch", "--no-charts", "--json"];
        self.run(&[&["merge", out][..], &scratch].concat(), code)
    }

    /// A folder of results with copies of some shards of `from`.
    fn with_shards(&self, from: &str, to: &str, numbers: &[u32]) {
        let folder = self.path(to).join("size/shards");
        std::fs::create_dir_all(&folder).expect("a folder");
        for number in numbers {
            std::fs::copy(self.file(from, *number), folder.join(file_name(*number)))
                .expect("a copy");
        }
    }

    fn file(&self, out: &str, number: u32) -> PathBuf {
        self.path(out).join("size/shards").join(file_name(number))
    }

    fn table(&self, out: &str) -> Vec<u8> {
        std::fs::read(self.path(out).join("points.csv")).expect("the table")
    }
}

fn file_name(number: u32) -> String {
    format!("shard-{number}-of-{SHARDS}.sqlite")
}

fn record(output: &Output, code: i32) -> Value {
    let errors = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{errors}");
    let record: Value = serde_json::from_slice(&output.stdout).expect("one object");
    record["studies"][0].clone()
}

fn number(record: &Value, key: &str) -> u64 {
    record[key]
        .as_u64()
        .unwrap_or_else(|| panic!("{key} in {record}"))
}

/// All rows of a store but the times, as text.
fn content(store: &Path) -> Vec<String> {
    let connection = rusqlite::Connection::open(store).expect("the store");
    let verdict: String = connection
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .expect("a verdict");
    assert_eq!(verdict, "ok");
    let mut statement = connection
        .prepare(
            "SELECT json_array(name, assumptions, plan_index, coordinates, hex(hash), inputs, state, \
             failure, reason, outputs, accuracy_reached, iterations, cells, points.engine) \
             FROM members JOIN points USING (hash) JOIN studies ON study = id \
             ORDER BY study, plan_index",
        )
        .expect("the tables");
    let rows = statement.query_map([], |row| row.get(0)).expect("rows");
    rows.collect::<Result<_, _>>().expect("texts")
}

/// Two contents must be the same; tells the first rows that are not.
fn assert_same(found: &[String], expected: &[String]) {
    assert_eq!(found.len(), expected.len());
    if let Some((one, other)) = found.iter().zip(expected).find(|(one, other)| one != other) {
        panic!("{one}\nis not\n{other}");
    }
}

/// Shards that a merge wants run again.
fn wanted(merged: &Value) -> BTreeSet<String> {
    let again = merged["run_again"].as_array().expect("a list");
    let names = again
        .iter()
        .map(|entry| entry["shard"].as_str().expect("a name"));
    names.map(str::to_owned).collect()
}

fn names(numbers: &[u32]) -> BTreeSet<String> {
    numbers.iter().map(|n| format!("{n}/{SHARDS}")).collect()
}

/// Files of a folder with a given ending: names and contents.
fn files(folder: &Path, ending: &str) -> Vec<(String, Vec<u8>)> {
    let entries = std::fs::read_dir(folder).expect("a folder").flatten();
    let mut files: Vec<_> = entries
        .filter(|entry| entry.path().extension().is_some_and(|e| e == ending))
        .map(|entry| {
            let name = entry.file_name().to_string_lossy().into_owned();
            (name, std::fs::read(entry.path()).expect("a file"))
        })
        .collect();
    files.sort();
    files
}

#[test]
fn shards_in_any_order_give_the_store_table_and_charts_of_one_machine() {
    let place = Place::new();
    place.whole("size");
    let expected = (
        place.table("whole/size"),
        content(&place.path("whole/size/points.sqlite")),
    );
    let mut points = 0;
    for number in 1..=SHARDS {
        let record = place.shard("size", "all", number);
        points += record["points"].as_u64().expect("a number");
        assert_eq!(record["complete"], true);
    }
    assert_eq!(points, POINTS);
    // What a shard had on the local disk is gone once its copy is safe.
    assert_eq!(
        std::fs::read_dir(place.path("scratch"))
            .expect("a folder")
            .count(),
        0
    );
    let orders: [&[&[u32]]; 4] = [
        &[&[1, 2, 3, 4, 5]],
        &[&[5], &[2, 5], &[1, 2, 4, 5], &[1, 2, 3, 4, 5]],
        &[&[3, 4], &[1, 3, 4, 5], &[1, 2, 3, 4, 5]],
        // Taken away after they were joined: their points stay.
        &[&[2, 4], &[1], &[3, 5]],
    ];
    for (at, order) in orders.iter().enumerate() {
        let out = format!("order{at}");
        let mut joined = BTreeSet::new();
        for numbers in *order {
            let shards = place.path(&out).join("size/shards");
            let _ = std::fs::remove_dir_all(&shards);
            place.with_shards("all", &out, numbers);
            joined.extend(names(numbers));
            let missing: BTreeSet<String> = names(&[1, 2, 3, 4, 5])
                .difference(&joined)
                .cloned()
                .collect();
            let merged = place.merge(&out, if missing.is_empty() { 0 } else { 3 });
            assert_eq!(wanted(&merged), missing);
            let listed: u64 = merged["missing"]
                .as_array()
                .expect("stretches")
                .iter()
                .map(|s| s[1].as_u64().unwrap() - s[0].as_u64().unwrap() + 1)
                .sum();
            let recorded = number(&merged, "done") + number(&merged, "failed");
            assert_eq!(listed + recorded, POINTS);
        }
        let folder = format!("{out}/size");
        assert_eq!(
            place.table(&folder),
            expected.0,
            "the same table, byte for byte"
        );
        assert_same(
            &content(&place.path(&folder).join("points.sqlite")),
            &expected.1,
        );
        // Once more changes nothing.
        let merged = place.merge(&out, 0);
        assert_eq!(number(&merged, "new"), 0);
        assert_eq!(place.table(&folder), expected.0);
    }
    let merged = place.run(&["merge", "all", "--json"], 0);
    assert_eq!(merged["complete"], true);
    for ending in ["svg", "png"] {
        let charts = files(&place.path("whole/size"), ending);
        assert!(!charts.is_empty());
        assert!(
            files(&place.path("all/size"), ending) == charts,
            "other {ending} charts"
        );
    }
    // A sweep on one machine goes on from what was merged: there is nothing left to do.
    let words = [
        "sweep",
        "disc.toml",
        "--json",
        "--study",
        "size",
        "--out",
        "order1",
    ];
    let record = place.run(&words, 0);
    assert_eq!(
        (
            number(&record, "solved_now"),
            number(&record, "known_before")
        ),
        (0, POINTS)
    );
}

#[test]
fn a_shard_that_ran_twice_adds_nothing_twice() {
    let place = Place::new();
    for number in 1..=SHARDS {
        place.shard("size", "once", number);
    }
    // Run again where its copy lies: nothing is solved. Elsewhere: solved anew, with other times.
    let again = place.shard("size", "once", 2);
    assert_eq!(
        (number(&again, "solved_now"), number(&again, "known_before")),
        (0, 60)
    );
    place.shard("size", "twice", 2);
    place.merge("once", 0);
    let before = content(&place.path("once/size/points.sqlite"));
    std::fs::copy(place.file("twice", 2), place.file("once", 2)).expect("a copy");
    let merged = place.merge("once", 0);
    assert_eq!(number(&merged, "new"), 0);
    assert_same(&content(&place.path("once/size/points.sqlite")), &before);
    // Two cuts of one plan are points of one plan.
    place.run(&Place::shard_words("size", "once", "2/3"), 0);
    let merged = place.merge("once", 0);
    assert_eq!(number(&merged, "new"), 0);
    assert_same(&content(&place.path("once/size/points.sqlite")), &before);
}

#[test]
fn panels_that_are_the_same_in_two_shards_keep_the_numbers_of_one_machine() {
    let place = Place::new();
    let whole = place.whole("twins");
    assert_eq!(
        (number(&whole, "solved_now"), number(&whole, "known_before")),
        (96, 48)
    );
    let mut solved = 0;
    for at in 1..=SHARDS {
        solved += number(&place.shard("twins", "forth", at), "solved_now");
    }
    assert!(solved > 96, "some twins are in two shards: {solved}");
    place.merge("forth", 0);
    assert_eq!(place.table("forth/twins"), place.table("whole/twins"));
    // The other way round, one after the other.
    let shards = place.path("back/twins/shards");
    std::fs::create_dir_all(&shards).expect("a folder");
    for at in (1..=SHARDS).rev() {
        let from = place.path("forth/twins/shards").join(file_name(at));
        std::fs::copy(from, shards.join(file_name(at))).expect("a copy");
        place.merge("back", if at == 1 { 0 } else { 3 });
    }
    assert_eq!(place.table("back/twins"), place.table("whole/twins"));
}

#[test]
fn a_torn_copy_is_left_out_and_named() {
    let place = Place::new();
    for number in 1..=SHARDS {
        place.shard("size", "all", number);
    }
    let whole = std::fs::read(place.file("all", 3)).expect("a shard");
    let zeroed = |from: usize, to: usize| {
        let mut bytes = whole.clone();
        bytes[from..to].fill(0);
        bytes
    };
    let flipped = |at: usize| {
        let mut bytes = whole.clone();
        bytes[at] ^= 1;
        bytes
    };
    // In the middle of the file: pages at its start may have bytes that are no row's.
    let needle = b"touch_shift\":{\"value\":";
    let places: Vec<usize> = whole
        .windows(needle.len())
        .enumerate()
        .filter_map(|(at, window)| (window == needle).then_some(at + needle.len()))
        .collect();
    let text = places[places.len() / 2];
    let torn = [
        ("nothing", Vec::new()),
        ("header only", whole[..100].to_vec()),
        ("half", whole[..whole.len() / 2].to_vec()),
        ("a page less", whole[..whole.len() - 4096].to_vec()),
        ("a hole", zeroed(whole.len() / 2, whole.len() / 2 + 4096)),
        ("no end", zeroed(whole.len() - 8192, whole.len())),
        ("a digit", flipped(text)),
    ];
    for (what, bytes) in torn {
        std::fs::write(place.file("all", 3), bytes).expect("a file");
        let merged = place.merge("all", 3);
        assert_eq!(wanted(&merged), names(&[3]), "{what}");
        let file = merged["torn"][0]["file"].as_str().expect("the torn file");
        assert!(file.ends_with(&file_name(3)), "{what}: {file}");
    }
    // Run again, the shard puts the torn copy aside and solves its points.
    let again = place.shard("size", "all", 3);
    assert_eq!(number(&again, "solved_now"), 60);
    place.merge("all", 0);
    place.whole("size");
    assert_eq!(place.table("all/size"), place.table("whole/size"));
}

#[test]
fn what_does_not_belong_together_is_refused_and_nothing_is_changed() {
    let place = Place::new();
    for number in [1, 2] {
        place.shard("size", "all", number);
    }
    place.merge("all", 3);
    let state = || {
        (
            place.table("all/size"),
            content(&place.path("all/size/points.sqlite")),
        )
    };
    let before = state();
    let third = place.file("all", 3);
    let refused = |needed: &[&str]| {
        let errors = place.refused(&["merge", "all"]);
        for needed in needed {
            assert!(
                errors.contains(needed),
                "{needed:?} is missing in\n{errors}"
            );
        }
        assert_eq!(state(), before);
    };
    // Of a panel with another value.
    let words = Place::shard_words("size", "other", "3/5");
    place.run(
        &[&words[..], &["--set", "board.thickness=1 mm"]].concat(),
        0,
    );
    std::fs::copy(place.file("other", 3), &third).expect("a copy");
    refused(&[
        "are not of one study",
        "values that were set",
        "shard-3-of-5.sqlite",
        "nothing was changed",
    ]);
    // Of another accuracy.
    let words = Place::shard_words("size", "finer", "3/5");
    place.run(&[&words[..], &["--accuracy", "4%"]].concat(), 0);
    std::fs::copy(place.file("finer", 3), &third).expect("a copy");
    refused(&["are not of one study", "shard-3-of-5.sqlite"]);
    // Of another engine.
    place.shard("size", "engine", 3);
    let connection = rusqlite::Connection::open(place.file("engine", 3)).expect("the shard");
    connection
        .execute("UPDATE shard SET engine = '0.0.9+7'", [])
        .expect("another engine");
    drop(connection);
    std::fs::copy(place.file("engine", 3), &third).expect("a copy");
    refused(&["different versions", "engine 0.0.9+7: shard-3-of-5.sqlite"]);
    // The store of a whole sweep, a database of another program, no database.
    place.whole("twins");
    std::fs::copy(place.path("whole/twins/points.sqlite"), &third).expect("a copy");
    refused(&["is no shard of a padfield sweep", "move it away"]);
    std::fs::remove_file(&third).expect("the copy");
    let birds = rusqlite::Connection::open(&third).expect("a database");
    birds
        .execute_batch("CREATE TABLE birds (name TEXT)")
        .expect("a table");
    drop(birds);
    refused(&["is no shard of a padfield sweep"]);
    std::fs::write(&third, "not a database at all".repeat(100)).expect("a file");
    refused(&["is no shard of a padfield sweep", "left as it is"]);
    // Without it all is well, and other files do not matter.
    std::fs::rename(&third, third.with_extension("away")).expect("moved");
    place.merge("all", 3);
    assert_eq!(state(), before);
}

#[test]
fn a_folder_without_shards_says_what_to_do() {
    let place = Place::new();
    let errors = place.refused(&["merge", "results"]);
    assert!(
        errors.contains("run padfield sweep FILE --shard K/N first"),
        "{errors}"
    );
    for wrong in ["0/4", "5/4", "3", "a/b"] {
        let errors = place.refused(&["sweep", "disc.toml", "--shard", wrong]);
        assert!(errors.contains("such as 3/16"), "{errors}");
    }
}

#[test]
fn killed_and_without_its_disk_a_shard_goes_on_from_its_last_copy() {
    let place = Place::new();
    place.whole("size");
    let (mut solved, mut known) = (0, 0);
    for at in 1..=SHARDS {
        let shard = format!("{at}/{SHARDS}");
        let words = Place::shard_words("size", "killed", &shard);
        // A copy after every few points, so that there is one when the machine is lost.
        let words = [&words[..], &["--copy-every", "0.0005", "--threads", "1"]].concat();
        let copy = place.file("killed", at);
        signalled(&mut place.command(&words), "KILL", |_| copy.is_file());
        // Every other machine is lost with its disk; the others still have what was not copied.
        if at % 2 == 0 {
            std::fs::remove_dir_all(place.path("scratch")).expect("the local disk");
        }
        let record = place.run(&words, 0);
        solved += number(&record, "solved_now");
        known += number(&record, "known_before");
    }
    assert_eq!(solved + known, POINTS);
    assert!(known > 0, "no kill came after a copy");
    place.merge("killed", 0);
    assert_eq!(place.table("killed/size"), place.table("whole/size"));
    let left = files(&place.path("killed/size/shards"), "unfinished");
    assert!(left.is_empty(), "{} unfinished copies", left.len());
}

fn first_in(folder: &Path) -> Option<PathBuf> {
    let entry = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .next();
    entry.map(|entry| entry.path())
}

/// Whether the store of a shard knows its study.
fn has_begun(folder: &Path) -> bool {
    let only_read = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
    let store = rusqlite::Connection::open_with_flags(folder.join("points.sqlite"), only_read);
    let count = store.and_then(|store| {
        store.query_row("SELECT count(*) FROM studies", [], |row| {
            row.get::<_, i64>(0)
        })
    });
    count.is_ok_and(|count| count > 0)
}

/// Scratch folder of shard 1 of "size", killed once its study was written.
fn killed(place: &Place) -> PathBuf {
    let first = Place::shard_words("size", "home", "1/5");
    let mut command = place.command(&[&first[..], &["--threads", "1"]].concat());
    let mut folder = None;
    signalled(&mut command, "KILL", |_| {
        folder = first_in(&place.path("scratch"))
            .filter(|folder| folder.join("host").is_file() && has_begun(folder));
        folder.is_some()
    });
    let folder = folder.expect("it ended too early");
    assert!(folder.is_dir() && !place.file("home", 1).exists());
    folder
}

/// Makes a folder so many seconds old.
fn age(folder: &Path, seconds: u64) {
    let at = std::time::SystemTime::now() - Duration::from_secs(seconds);
    let opened = std::fs::File::open(folder).expect("a folder");
    opened.set_modified(at).expect("another time");
}

/// Killed before its study was written: there is nothing to bring, and its own task does not stumble over it.
#[test]
fn a_shard_that_was_killed_before_its_first_word_leaves_nothing() {
    let place = Place::new();
    let folder = killed(&place);
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.join(format!("points.sqlite{ending}")));
    }
    drop(Store::open(&folder, || false).expect("an empty store"));
    age(&folder, 3600);
    place.shard("size", "home", 5);
    assert!(!folder.exists() && !place.file("home", 1).exists());
    place.shard("size", "home", 1);
}

/// The next task of the study on the same machine copies what a killed one has left, and tidies up.
#[test]
fn what_a_killed_shard_has_left_is_brought_home_by_the_next_one() {
    let place = Place::new();
    let folder = killed(&place);
    let host = std::fs::read(folder.join("host")).expect("a machine");
    let age = |seconds: u64| age(&folder, seconds);
    // Nobody takes it from a living process, from another machine, or while it may be new.
    age(3600);
    let living = Store::open(&folder, || false).expect("a store");
    place.shard("size", "home", 2);
    drop(living);
    std::fs::write(folder.join("host"), "another").expect("a file");
    age(3600);
    place.shard("size", "home", 3);
    std::fs::write(folder.join("host"), host).expect("a file");
    age(1);
    place.shard("size", "home", 4);
    assert!(folder.is_dir() && !place.file("home", 1).exists());
    age(3600);
    let words = Place::shard_words("size", "home", "5/5");
    let output = place.command(&words).output().expect("a run");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(
        errors.contains("part 1/5 was killed on this machine"),
        "{errors}"
    );
    assert!(!folder.exists() && place.file("home", 1).is_file());
    // Its own task goes on from there.
    place.shard("size", "home", 1);
    place.whole("size");
    place.merge("home", 0);
    assert_eq!(place.table("home/size"), place.table("whole/size"));
}

#[test]
fn told_to_terminate_a_shard_copies_what_is_finished() {
    let place = Place::new();
    let words = Place::shard_words("size", "stopped", "1/2");
    let words = [&words[..], &["--threads", "1"]].concat();
    // Its local store appears before its first point.
    let mut a_moment = after(Duration::from_millis(100));
    let output = signalled(&mut place.command(&words), "TERM", |child| {
        first_in(&place.path("scratch")).is_some() && a_moment(child)
    });
    let stopped = record(&output, 130);
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(
        errors.contains("--out stopped --threads 1 --scratch scratch --shard 1/2"),
        "{errors}"
    );
    let recorded = number(&stopped, "done") + number(&stopped, "failed");
    assert!(recorded < number(&stopped, "points"), "{stopped}");
    let merged = place.merge("stopped", 3);
    assert_eq!(
        number(&merged, "done") + number(&merged, "failed"),
        recorded
    );
    let record = place.run(&words, 0);
    assert_eq!(number(&record, "known_before"), recorded);
}

#[test]
fn without_room_for_the_copy_the_points_stay_where_they_are() {
    let place = Place::new();
    let whole = place.run(&Place::shard_words("size", "room", "1/5"), 0);
    let size = std::fs::metadata(place.file("room", 1))
        .expect("a shard")
        .len();
    // A limit of the file size stands for a full disk: too little for the store.
    let script = format!(
        "trap '' XFSZ; ulimit -f {}; exec \"$0\" \"$@\"",
        size / 512 / 2
    );
    let output = Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_padfield")])
        .args(Place::shard_words("size", "full", "1/5"))
        .current_dir(place.0.path())
        .output()
        .expect("a shell");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(errors.contains("no room to write"), "{errors}");
    assert!(
        errors.contains("make room, then go on with: padfield sweep disc.toml"),
        "{errors}"
    );
    let record = place.shard("size", "full", 1);
    assert!(number(&record, "known_before") > 0, "{record}");
    assert_eq!(number(&record, "points"), number(&whole, "points"));
    // A folder that cannot be made is told before any work.
    let errors = place.refused(&Place::shard_words("size", "disc.toml", "1/5"));
    assert!(errors.contains("cannot write"), "{errors}");
}

/// A folder for temporary files that everyone may write to: whoever knows a name can put something there first.
#[cfg(unix)]
#[test]
fn a_link_in_the_place_of_the_scratch_folder_is_not_followed() {
    let place = Place::new();
    let (temporary, victim) = (place.path("tmp"), place.path("victim"));
    for folder in [&temporary, &victim] {
        std::fs::create_dir(folder).expect("a folder");
    }
    let shard = [
        "sweep",
        "disc.toml",
        "--study",
        "size",
        "--out",
        "out",
        "--shard",
        "1/5",
    ];
    let command = |words: &[&str]| {
        let mut command = place.command(words);
        command.env("TMPDIR", &temporary);
        command
    };
    let mut name = None;
    signalled(&mut command(&shard), "KILL", |_| {
        name = first_in(&temporary);
        name.is_some()
    });
    let name = name.expect("a folder in it");
    if name.exists() {
        std::fs::remove_dir_all(&name).expect("the folder");
    }
    std::os::unix::fs::symlink(&victim, &name).expect("a link");
    let output = command(&shard).output().expect("a run");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(errors.contains("is a link"), "{errors}");
    assert!(
        errors.contains("choose another folder with --scratch"),
        "{errors}"
    );
    assert_eq!(std::fs::read_dir(&victim).expect("a folder").count(), 0);
    std::fs::remove_file(&name).expect("the link");
    assert!(command(&shard).output().expect("a run").status.success());
    // What a merge that was killed has left is swept away; what is none of it stays.
    let dead = temporary.join("padfield-merge-4242");
    std::fs::create_dir(&dead).expect("a folder");
    std::fs::write(dead.join("in-use"), "").expect("a file");
    std::os::unix::fs::symlink(&victim, temporary.join("padfield-merge-link")).expect("a link");
    std::fs::write(victim.join("in-use"), "").expect("a file");
    let merged = command(&["merge", "out", "--no-charts"])
        .output()
        .expect("a run");
    assert_eq!(merged.status.code(), Some(3));
    let left = std::fs::read_dir(&temporary).expect("a folder").count();
    assert_eq!(left, 1, "only the link");
    assert!(victim.join("in-use").is_file());
}

#[test]
fn shards_share_out_every_plan_without_gaps_or_overlaps() {
    for (points, count) in [(1, 1), (7, 3), (31, 4), (32, 40), (300, 7), (1001, 16)] {
        let text = format!(
            "{}[study.s]\nvary = [{{ path = \"overlay.thickness\", from = \"1 mm\", to = \"4 mm\" }}]\n\
             combine = \"sample\"\nsamples = {points}\nsequence = \"random\"\n",
            include_str!("panels/round_pad.toml")
        );
        let document = padfield::input::Document::from_text("disc.toml", &text).expect("a panel");
        let study = document.study("s").expect("a study");
        let plan = study.plan();
        let mut owners = vec![0; points];
        for number in 1..=count {
            let shard = Shard::new(number, count).expect("a shard");
            let mut own = 0;
            let starts = (0..).map_while(|turn| shard.run_start(&plan, turn));
            for index in starts.flat_map(|s| s..(s + plan.run_length()).min(plan.len())) {
                owners[index as usize] += 1;
                own += 1;
                assert!(shard.contains(&plan, index));
            }
            assert_eq!(own, shard.len(&plan), "{shard} of {points} points");
        }
        assert!(owners.iter().all(|owners| *owners == 1), "{owners:?}");
        let mut turns: Vec<u64> = (0..plan.len()).map(|index| plan.turn(index)).collect();
        turns.sort_unstable();
        assert!(
            turns
                .iter()
                .enumerate()
                .all(|(at, turn)| at as u64 == *turn)
        );
    }
}
