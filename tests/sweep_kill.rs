//! Sweeps as real processes: killed, interrupted, started twice, without room, without a place to write.

use crate::processes::{after, signalled};
use padfield::store::Reader;
use serde_json::Value;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

/// A round pad about its axis: a hundredth of a second for a point.
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
"#
);
/// Half of them fail: a contact of 17 mm is wider than the dome.
const POINTS: usize = 300;

/// A folder with the panel file; results go to `results` in it.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(folder.path().join("disc.toml"), PANEL).expect("the panel file");
        Self(folder)
    }

    fn study(&self) -> std::path::PathBuf {
        self.0.path().join("results/disc/size")
    }

    /// Without charts: this is about points, and a file size limit should meet the store.
    fn arguments() -> [&'static str; 4] {
        ["sweep", "disc.toml", "--json", "--no-charts"]
    }

    fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_padfield"));
        command.args(Self::arguments()).current_dir(self.0.path());
        command
    }

    fn start(&self) -> Child {
        let mut command = self.command();
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        command.spawn().expect("the program starts")
    }

    /// Runs to the end; the record of the study.
    fn finish(&self) -> Value {
        record(&self.command().output().expect("the program runs"), 0)
    }

    /// All that is in the store but the times, as text, and the table.
    fn content(&self) -> (Vec<String>, Vec<u8>) {
        let path = self.study().join("points.sqlite");
        let connection = rusqlite::Connection::open(path).expect("the store");
        let verdict: String = connection
            .query_row("PRAGMA integrity_check", [], |row| row.get(0))
            .expect("a verdict");
        assert_eq!(verdict, "ok");
        let mut statement = connection
            .prepare(
                "SELECT json_array(name, plan_index, coordinates, hex(hash), inputs, state, failure, \
                 reason, outputs, accuracy_reached, iterations, cells, points.engine) \
                 FROM members JOIN points USING (hash) JOIN studies ON study = id \
                 ORDER BY study, plan_index",
            )
            .expect("the tables");
        let rows = statement.query_map([], |row| row.get(0)).expect("rows");
        let rows: Vec<String> = rows.collect::<Result<_, _>>().expect("texts");
        let points: i64 = connection
            .query_row("SELECT count(*) FROM points", [], |row| row.get(0))
            .expect("a count");
        assert_eq!(
            points as usize,
            rows.len(),
            "no point without a place in the study"
        );
        let table = std::fs::read(self.study().join("points.csv")).expect("the table");
        (rows, table)
    }

    fn recorded(&self) -> usize {
        Reader::open(&self.study())
            .and_then(|reader| {
                let studies = reader.studies()?;
                let latest = studies.last().map(|study| reader.rows(study));
                Ok(latest.transpose()?.map_or(0, |rows| rows.len()))
            })
            .unwrap_or(0)
    }
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

/// An uninterrupted run: its content and how long it took.
fn expected() -> ((Vec<String>, Vec<u8>), Duration) {
    let whole = Place::new();
    let start = Instant::now();
    let record = whole.finish();
    let time = start.elapsed();
    assert_eq!(number(&record, "done"), POINTS as u64 / 2);
    assert_eq!(number(&record, "failed"), POINTS as u64 / 2);
    let content = whole.content();
    assert_eq!(content.0.len(), POINTS);
    (content, time)
}

/// Numbers in 0..1, the same in every run.
fn shares() -> impl Iterator<Item = f64> {
    let mut state = 20_251_125_u64;
    std::iter::repeat_with(move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    })
}

#[test]
fn killed_at_25_instants_it_ends_with_the_same_rows() {
    let (expected, whole) = expected();
    let place = Place::new();
    let (mut struck, mut recorded) = (0, 0);
    for share in shares().take(25) {
        // On average a twentieth of the whole, starting included: the last kill comes before the end.
        let time = after(whole.mul_f64(share / 10.0));
        let output = signalled(&mut place.command(), "KILL", time);
        struck += usize::from(output.status.code().is_none());
        let now = place.recorded();
        assert!(now >= recorded, "{now} rows after {recorded}");
        recorded = now;
    }
    assert!(struck >= 15, "only {struck} kills struck a running sweep");
    let record = place.finish();
    assert_eq!(number(&record, "known_before"), recorded as u64);
    assert_eq!(number(&record, "solved_now"), (POINTS - recorded) as u64);
    let found = place.content();
    assert_eq!(found.0, expected.0);
    assert_eq!(found.1, expected.1, "the same table, byte for byte");
}

#[test]
fn two_processes_at_once_share_the_work_without_doubling_it() {
    let (expected, _) = expected();
    let place = Place::new();
    let children = [place.start(), place.start()];
    let records = children.map(|child| {
        let output = child.wait_with_output().expect("its end");
        record(&output, 0)
    });
    let solved: u64 = records
        .iter()
        .map(|record| number(record, "solved_now"))
        .sum();
    assert_eq!(solved, POINTS as u64);
    assert_eq!(place.content(), expected);
}

#[test]
fn an_interrupt_finishes_points_in_hand_and_says_how_to_go_on() {
    let (expected, whole) = expected();
    let place = Place::new();
    let output = signalled(&mut place.command(), "INT", after(whole / 3));
    let record = record(&output, 130);
    let recorded = number(&record, "done") + number(&record, "failed");
    assert_eq!(record["complete"], false);
    assert_eq!(place.recorded() as u64, recorded);
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(
        errors.contains("padfield sweep disc.toml --study size"),
        "{errors}"
    );
    place.finish();
    assert_eq!(place.content(), expected);
}

#[test]
fn without_room_it_says_what_is_safe_and_goes_on_later() {
    let (expected, _) = expected();
    let place = Place::new();
    // A limit of the file size stands for a full disk; ignoring its signal turns it into an error.
    let output = Command::new("sh")
        .args(["-c", "trap '' XFSZ; ulimit -f 300; exec \"$0\" \"$@\""])
        .arg(env!("CARGO_BIN_EXE_padfield"))
        .args(Place::arguments())
        .current_dir(place.0.path())
        .output()
        .expect("a shell");
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    let errors = String::from_utf8_lossy(&output.stderr);
    for needed in [
        "points finished in this run, and all earlier ones, are in results/disc/size/points.sqlite",
        "no room to write",
        "make room, then go on with: padfield sweep disc.toml --study size",
    ] {
        assert!(
            errors.contains(needed),
            "{needed:?} is missing in\n{errors}"
        );
    }
    let recorded = place.recorded();
    assert!(recorded > 0 && recorded < POINTS, "{recorded}");
    assert!(
        errors.contains(&format!("{recorded} points finished")),
        "{errors}"
    );
    let record = place.finish();
    assert_eq!(number(&record, "known_before"), recorded as u64);
    assert_eq!(place.content(), expected);
}

/// Runs a sweep that must be refused; what it said.
fn refused(place: &Place, out: &Path) -> String {
    let output = place
        .command()
        .arg("--out")
        .arg(out)
        .output()
        .expect("a run");
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    String::from_utf8(output.stderr).expect("text")
}

#[test]
fn a_place_that_cannot_be_written_is_refused_before_any_work() {
    let place = Place::new();
    // A folder below a file cannot be made by anyone, a privileged user included.
    let errors = refused(&place, &place.0.path().join("disc.toml"));
    assert!(errors.contains("cannot write"), "{errors}");
    assert!(
        errors.contains("choose another folder with --out"),
        "{errors}"
    );
    // A read-only folder holds everyone else.
    let closed = place.0.path().join("closed");
    std::fs::create_dir(&closed).expect("a folder");
    let mut permissions = std::fs::metadata(&closed).expect("a folder").permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&closed, permissions).expect("read only");
    if std::fs::File::create(closed.join("probe")).is_err() {
        let errors = refused(&place, &closed);
        assert!(errors.contains("cannot write"), "{errors}");
    }
}

#[test]
fn a_damaged_store_is_refused_and_left_as_it_is() {
    let place = Place::new();
    std::fs::create_dir_all(place.study()).expect("a folder");
    let path = place.study().join("points.sqlite");
    std::fs::write(&path, "not a database at all".repeat(100)).expect("a file");
    let before = std::fs::read(&path).expect("the file");
    let errors = refused(&place, &place.0.path().join("results/disc"));
    assert!(errors.contains("is damaged or not a store"), "{errors}");
    assert!(errors.contains("move it away to start anew"), "{errors}");
    assert_eq!(std::fs::read(&path).expect("the file"), before);
}

#[test]
fn a_flipped_digit_is_named_and_solved_again() {
    let (expected, _) = expected();
    let place = Place::new();
    place.finish();
    let path = place.study().join("points.sqlite");
    let whole = std::fs::read(&path).expect("the store");
    let needle = b"touch_shift\":{\"value\":";
    let digits: Vec<usize> = whole
        .windows(needle.len())
        .enumerate()
        .filter_map(|(at, window)| (window == needle).then_some(at + needle.len()))
        .collect();
    // Another digit, and a byte that no text has.
    for (at, byte) in [(digits[3], whole[digits[3]] ^ 1), (digits[40], 0xff)] {
        let mut bytes = whole.clone();
        bytes[at] = byte;
        std::fs::write(&path, bytes).expect("the store");
        let drawn = Command::new(env!("CARGO_BIN_EXE_padfield"))
            .args(["chart", "results", "--out", "charts"])
            .current_dir(place.0.path())
            .output()
            .expect("a run");
        let errors = String::from_utf8_lossy(&drawn.stderr).into_owned();
        assert_eq!(drawn.status.code(), Some(2), "{errors}");
        assert!(
            errors.contains("was altered since it was written"),
            "{errors}"
        );
        let output = place.command().output().expect("a run");
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            errors.contains("results/disc/size/points.sqlite was altered"),
            "{errors}"
        );
        assert!(errors.contains("to be solved again: point "), "{errors}");
        let record = record(&output, 0);
        assert_eq!(number(&record, "solved_now"), 1);
        assert_eq!(place.content(), expected);
    }
}

#[cfg(unix)]
#[test]
fn a_folder_that_is_removed_during_a_sweep_is_noticed() {
    let place = Place::new();
    let mut child = place.start();
    while place.recorded() == 0 && child.try_wait().expect("a state").is_none() {
        std::thread::sleep(Duration::from_millis(1));
    }
    // At once: its files go one by one otherwise.
    std::fs::rename(place.0.path().join("results"), place.0.path().join("gone")).expect("moved");
    let output = child.wait_with_output().expect("its end");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(errors.contains("was removed or replaced"), "{errors}");
    assert!(
        errors.contains("start again with: padfield sweep disc.toml --study size"),
        "{errors}"
    );
    for claim in ["all points are in", "all earlier ones"] {
        assert!(!errors.contains(claim), "{errors}");
    }
    assert!(!place.0.path().join("results").exists());
}

#[test]
fn the_command_that_goes_on_has_every_option_that_matters() {
    let place = Place::new();
    let options = [
        "--threads",
        "1",
        "--memory",
        "2GiB",
        "--accuracy",
        "6%",
        "--set",
        "board.thickness=1 mm",
        "--shard",
        "1/2",
        "--scratch",
        "my scratch",
        "--copy-every",
        "0.5",
    ];
    // Its local store appears before its first point.
    let scratch = place.0.path().join("my scratch");
    let mut a_moment = after(Duration::from_millis(50));
    let output = signalled(place.command().args(options), "TERM", |child| {
        std::fs::read_dir(&scratch).is_ok_and(|mut files| files.next().is_some()) && a_moment(child)
    });
    let errors = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(130), "{errors}");
    let command = "padfield sweep disc.toml --study size --set \"board.thickness=1 mm\" \
                   --accuracy 0.06 --no-charts --threads 1 --memory 2GiB --scratch \"my scratch\" \
                   --copy-every 0.5 --shard 1/2";
    assert!(errors.contains(command), "{errors}");
}

#[test]
fn a_dry_run_writes_nothing() {
    let place = Place::new();
    let output = place.command().arg("--dry-run").output().expect("a run");
    let record = record(&output, 0);
    assert_eq!(number(&record, "points"), POINTS as u64);
    assert!(record["plan_seconds"].as_f64().expect("a time") > 0.0);
    assert!(!place.0.path().join("results").exists());
}
