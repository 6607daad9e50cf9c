//! Where plan, store and merge become the limit of a sweep over many machines.
//!
//! Run with `cargo bench --bench cluster`. One solved point is taken for all: its row is written again under
//! other names into the stores of 16 shards, which are copied, checked, joined and written as a table.
//! `PADFIELD_BENCH_POINTS=10000000` for a plan of that length (default 200000);
//! `PADFIELD_BENCH_ROW=short` leaves the inputs out of the rows, a fourth of their length, where the disk is
//! too small for whole ones. Needs twice the space of the stores; `TMPDIR` says where.

use padfield::figures::Sheet;
use padfield::input::{Document, Override};
use padfield::store::{
    ENGINE, Label, Part, Place, PointKey, Store, StoreError, inputs_of, part_files, publish,
    write_table,
};
use padfield::study::{Shard, Study};
use padfield::sweep::{Job, Limits, Use, run};
use padfield_engine::field::Stop;
use rusqlite::{Connection, params};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

const SHARDS: u32 = 16;

/// A sample of three dimensions of a round pad.
fn document(points: u64) -> Document {
    let text = format!(
        "{}\n[study.bench]\nvary = [\n  {{ path = \"layer.overlay.thickness\", from = \"1 mm\", to = \"6 mm\" }},\n  \
         {{ path = \"pads.key.diameter\", from = \"8 mm\", to = \"20 mm\" }},\n  \
         {{ path = \"layer.board.thickness\", from = \"0.8 mm\", to = \"3.2 mm\" }},\n]\n\
         combine = \"sample\"\nsamples = {points}\nsequence = \"random\"\n\
         report = [\"base capacitance\", \"touch shift\"]\n",
        include_str!("../tests/panels/round_pad.toml")
    );
    Document::from_text("bench.toml", &text).expect("the panel is valid")
}

/// A line of the table: what, how long for how many.
fn line(what: &str, points: u64, start: Instant) {
    let seconds = start.elapsed().as_secs_f64();
    println!(
        "{what:<44} {points:>10} {seconds:>9.2} {:>12.0}",
        points as f64 / seconds
    );
}

/// Largest memory this process has had [MB]; none where the system does not tell.
fn peak_memory_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1e3)
}

fn megabytes(folder: &Path) -> f64 {
    let entries = std::fs::read_dir(folder).expect("a folder").flatten();
    let bytes: u64 = entries
        .filter_map(|entry| entry.metadata().ok())
        .map(|data| data.len())
        .sum();
    bytes as f64 / 1e6
}

/// Points as the program works them out before it solves them.
fn plan(document: &Document, study: &Study) {
    let plan = study.plan();
    let start = Instant::now();
    for point in plan.points() {
        black_box(&point);
    }
    line("plan: coordinates of every point", plan.len(), start);
    let some = plan.len().min(5000);
    let start = Instant::now();
    for index in 0..some {
        let point = plan.point(index);
        let pairs = study.variables.iter().zip(&point.coordinates);
        let overrides: Vec<Override> = pairs
            .map(|(variable, coordinate)| Override {
                path: variable.path.clone(),
                value: variable.text(coordinate),
            })
            .collect();
        let panel = document.panel(&overrides).expect("a valid panel");
        black_box(PointKey::new(&inputs_of(&panel, None), study.accuracy));
    }
    line("plan: checked panel and name of a point", some, start);
}

/// One solved point: inputs and outputs as they are in a store.
fn solved_row(folder: &Path) -> (String, String) {
    let document = document(1);
    let study = document.study("bench").expect("a study");
    let mut store = Store::open(folder, || true).expect("a store");
    let job = Job {
        document: &document,
        study: &study,
    };
    let limits = Limits {
        threads: 1,
        memory_cap_bytes: 4 << 30,
        stop: Stop::NEVER,
        reduced: Use::Never,
    };
    run(&job, &mut store, &limits, &|| false, &mut |_| {}).expect("a sweep");
    let connection = Connection::open(store.path()).expect("the store");
    connection
        .query_row("SELECT inputs, outputs FROM points", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .expect("a row")
}

/// Fills the store of a shard without waiting for the disk after every point.
fn fill(store: &mut Store, study: &Study, shard: Shard, row: &(String, String)) -> u64 {
    let record = store.begin(study, "bench").expect("a study");
    let plan = study.plan();
    let mut connection = Connection::open(store.path()).expect("the store");
    let transaction = connection.transaction().expect("a transaction");
    let mut points = transaction
        .prepare(
            "INSERT INTO points VALUES (?1, ?2, 'done', NULL, NULL, ?3, 1, 1000000, 6, 9000, 0.01, ?4, 'bench')",
        )
        .expect("the table");
    let mut members = transaction
        .prepare("INSERT INTO members VALUES (?1, ?2, ?3, ?4)")
        .expect("the table");
    let mut count = 0;
    for start in (0..).map_while(|turn| shard.run_start(&plan, turn)) {
        for index in start..(start + plan.run_length()).min(plan.len()) {
            let hash = blake3::hash(&index.to_le_bytes());
            let texts: Vec<String> = plan
                .point(index)
                .coordinates
                .iter()
                .map(ToString::to_string)
                .collect();
            let texts = serde_json::to_string(&texts).expect("texts");
            points
                .execute(params![hash.as_bytes(), row.0, row.1, ENGINE])
                .expect("a row");
            members
                .execute(params![record.id, index as i64, hash.as_bytes(), texts])
                .expect("a row");
            count += 1;
        }
    }
    drop((points, members));
    transaction.commit().expect("room on the disk");
    count
}

/// Points recorded one by one, each on the disk before the next.
fn durable(folder: &Path, study: &Study) {
    use padfield::store::{FailureKind, Finished, Outcome};
    let mut store = Store::open(folder, || true).expect("a store");
    let record = store.begin(study, "durable").expect("a study");
    let some = study.plan().len().min(2000);
    let start = Instant::now();
    for index in 0..some {
        let point = study.plan().point(index);
        let finished = Finished {
            key: PointKey(*blake3::hash(&index.to_le_bytes()).as_bytes()),
            inputs: serde_json::json!("x".repeat(1100)),
            outcome: Outcome::Failed {
                kind: FailureKind::Geometry,
                reason: "y".repeat(1000),
            },
            memory_cap_bytes: 1000,
            seconds: 0.01,
        };
        store
            .record(&record, index, &point.coordinates, &finished)
            .expect("a row");
    }
    line("store: points one by one, each on the disk", some, start);
}

fn main() {
    let points = std::env::var("PADFIELD_BENCH_POINTS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(200_000);
    let document = document(points);
    let study = document.study("bench").expect("a study");
    println!(
        "{:<44} {:>10} {:>9} {:>12}",
        "what", "points", "seconds", "per second"
    );
    plan(&document, &study);
    let folder = tempfile::tempdir().expect("a temporary folder");
    durable(&folder.path().join("durable"), &study);
    let mut row = solved_row(&folder.path().join("one"));
    if std::env::var("PADFIELD_BENCH_ROW").is_ok_and(|text| text == "short") {
        row.0 = "{}".to_owned();
        // A row of the table needs values, but not those of every quantity.
        let reported = |name: &str| {
            format!(
                "\"{name}\":{{\"value\":1.25,\"error\":0.01,\"lower\":1.2,\"upper\":1.3,\"guaranteed\":true}}"
            )
        };
        let absent = [
            "relative_touch_shift",
            "neighbour_shift",
            "neighbour_ratio",
            "count_shift",
            "neighbour_count_shift",
            "signal_to_noise",
            "worst_neighbour",
        ];
        let absent: String = absent
            .iter()
            .map(|name| format!("\"{name}\":null,"))
            .collect();
        row.1 = format!(
            "{{\"pads\":[{{\"pad\":\"key\",{},{},{absent}\"hand_estimates\":[]}}]}}",
            reported("base_capacitance"),
            reported("touch_shift")
        );
    }
    let results = folder.path().join("results");
    let (mut filling, mut copying) = (0.0, 0.0);
    for number in 1..=SHARDS {
        let shard = Shard::new(number, SHARDS).expect("a shard");
        let local = folder.path().join("local");
        let mut store = Store::open(&local, || true).expect("a store");
        let start = Instant::now();
        fill(&mut store, &study, shard, &row);
        filling += start.elapsed().as_secs_f64();
        let label = Label {
            shard,
            scenario: "bench".to_owned(),
            engine: ENGINE.to_owned(),
            command: "padfield sweep bench.toml".to_owned(),
        };
        let start = Instant::now();
        publish(
            &local,
            &label,
            &results.join("shards").join(label.file_name()),
        )
        .expect("a copy");
        copying += start.elapsed().as_secs_f64();
        store.discard().expect("an empty folder");
    }
    let rate = |what: &str, seconds: f64| {
        println!(
            "{what:<44} {points:>10} {seconds:>9.2} {:>12.0}",
            points as f64 / seconds
        );
    };
    rate("shards: rows written in one transaction", filling);
    rate("shards: copied with their digest", copying);
    let size = megabytes(&results.join("shards"));
    println!(
        "shards: {size:.0} MB, {:.0} bytes per point",
        1e6 * size / points as f64
    );

    let start = Instant::now();
    let place = Place::lock(&results, || true).expect("the folder");
    let mut store = place
        .take_out(&folder.path().join("merge"))
        .expect("a store");
    let (mut checking, mut joining) = (0.0, 0.0);
    for (at, path) in part_files(&results).expect("shards").iter().enumerate() {
        let begun = Instant::now();
        let part = Part::open(path).expect("a whole shard");
        checking += begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        let joined = store.join(&part).expect("room on the disk");
        let seconds = begun.elapsed().as_secs_f64();
        joining += seconds;
        if at == 0 || at + 1 == SHARDS as usize {
            let which = if at == 0 {
                "merge: the first shard"
            } else {
                "merge: the last shard"
            };
            println!(
                "{which:<44} {:>10} {seconds:>9.2} {:>12.0}",
                joined.new,
                joined.new as f64 / seconds
            );
        }
    }
    rate("merge: shards checked against their digest", checking);
    rate("merge: shards joined", joining);
    let record = store.study_of("bench").expect("the study");
    let begun = Instant::now();
    let tally = store.reader().tally(record.id).expect("a tally");
    assert_eq!(tally.done, points);
    line("merge: what is there counted", points, begun);
    let begun = Instant::now();
    write_table(store.reader(), &record, &results).expect("a table");
    line("merge: table", points, begun);
    let memory =
        || peak_memory_mb().map_or_else(|| "unknown".to_owned(), |mb| format!("{mb:.0} MB"));
    println!("peak memory so far: {}", memory());
    let begun = Instant::now();
    let mut sheet = Sheet::new(&record);
    let read = store.reader().visit_rows::<StoreError>(&record, |row| {
        sheet.add(&row);
        Ok(())
    });
    read.expect("readable rows");
    black_box(sheet.figures());
    line("charts: rows read and figures chosen", points, begun);
    println!("peak memory with charts: {}", memory());
    let begun = Instant::now();
    place.put_back(store).expect("room on the disk");
    line("merge: store put in its place", points, begun);
    line("merge and charts: all of it", points, start);
}
