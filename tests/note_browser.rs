//! The note in a real browser: errors, requests, what a screen reader gets, numbers, layout on phone, tablet,
//! desk and paper. Needs Debian's chromium, so only `cargo test --test note_browser -- --ignored` runs it.

mod browser;

use assert_cmd::Command;
use browser::Browser;
use lopdf::Document;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Accuracies for time; numbers are compared at the same ones.
const ACCURACY: &str = "8%";
const WINDOW_ACCURACY: &str = "15%";

fn panel_file(name: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let path = root.join("scenarios").join(format!("{name}.toml"));
    path.display().to_string()
}

fn padfield(folder: &Path, arguments: &[&str]) -> String {
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let output = process.current_dir(folder).args(arguments).output();
    let output = output.expect("the program runs");
    // 3: wide error bars may close a window.
    assert!(
        matches!(output.status.code(), Some(0 | 3)),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("text")
}

/// The note of two pads with all its sections, made once for all tests.
fn note() -> PathBuf {
    static FOLDER: OnceLock<tempfile::TempDir> = OnceLock::new();
    let folder = FOLDER.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let panel = panel_file("two_pads");
        let mut arguments = vec!["note", panel.as_str(), "--out", "note", "--format", "html"];
        arguments.extend(["--accuracy", ACCURACY, "--window-accuracy", WINDOW_ACCURACY]);
        // Hundreds of field problems; the map is a chart like others.
        arguments.extend(["--leave-out", "touch-map"]);
        padfield(folder.path(), &arguments);
        folder
    });
    folder.path().join("note/note.html")
}

fn opened() -> Browser {
    let mut browser = Browser::start();
    browser.lay_out([1280, 800], "screen");
    browser.open(&note());
    browser
}

#[test]
#[ignore = "needs chromium: .ci/run runs it"]
fn it_opens_from_disk_without_an_error_or_a_request_to_the_network() {
    let mut browser = opened();
    // Everything is looked at, so that pictures further down would be asked for as well.
    browser.evaluate("window.scrollTo(0, document.body.scrollHeight)");
    browser.printed();
    let requests: Vec<&str> = browser
        .events("Network.requestWillBeSent")
        .map(|event| event["request"]["url"].as_str().expect("an address"))
        .collect();
    let file = format!("file://{}", note().display());
    // The file itself is among them: events do arrive.
    assert!(requests.contains(&file.as_str()), "{requests:?}");
    for request in requests {
        assert!(request == file || request.starts_with("data:"), "{request}");
    }
    for kind in [
        "Runtime.exceptionThrown",
        "Runtime.consoleAPICalled",
        "Log.entryAdded",
        "Network.loadingFailed",
    ] {
        let told: Vec<&Value> = browser.events(kind).collect();
        assert!(told.is_empty(), "{kind}: {told:?}");
    }
    // A page that does go wrong is noticed.
    browser
        .evaluate("document.body.append(Object.assign(new Image(), { src: 'http://192.0.2.1/' }))");
    browser.lay_out([1280, 801], "screen");
    assert!(browser.events("Log.entryAdded").next().is_some());
}

/// Nodes of the tree that assistive technology reads, with role and name.
fn spoken(browser: &mut Browser) -> Vec<(String, String, Value)> {
    let tree = browser.call("Accessibility.getFullAXTree", serde_json::json!({}));
    let nodes = tree["nodes"].as_array().expect("nodes").iter();
    nodes
        .filter(|node| node["ignored"] == Value::Bool(false))
        .map(|node| {
            let text = |part: &str| node[part]["value"].as_str().unwrap_or("").to_owned();
            (text("role"), text("name"), node["properties"].clone())
        })
        .collect()
}

fn count(browser: &mut Browser, selector: &str) -> usize {
    let count = browser.evaluate(&format!("document.querySelectorAll('{selector}').length"));
    count.as_u64().expect("a count") as usize
}

#[test]
#[ignore = "needs chromium: .ci/run runs it"]
fn a_screen_reader_gets_headings_pictures_and_tables() {
    let mut browser = opened();
    let nodes = spoken(&mut browser);
    let of = |role: &str| -> Vec<&(String, String, Value)> {
        nodes.iter().filter(|node| node.0 == role).collect()
    };
    let levels: Vec<u64> = of("heading")
        .iter()
        .map(|(_, name, properties)| {
            assert!(!name.is_empty());
            let mut properties = properties.as_array().expect("properties").iter();
            let level = properties.find(|one| one["name"] == "level");
            level.expect("a level")["value"]["value"]
                .as_u64()
                .expect("a number")
        })
        .collect();
    assert_eq!(levels[0], 1);
    assert_eq!(levels.iter().filter(|level| **level == 1).count(), 1);
    assert!(
        levels.iter().filter(|level| **level == 2).count() >= 15,
        "{levels:?}"
    );
    assert!(
        levels.windows(2).all(|pair| pair[1] <= pair[0] + 1),
        "{levels:?}"
    );

    let pictures: Vec<&str> = ["image", "img"]
        .iter()
        .flat_map(|role| of(role))
        .map(|node| node.1.as_str())
        .collect();
    assert_eq!(
        pictures.len(),
        count(&mut browser, "figure .note-scroll > svg")
    );
    assert!(pictures.len() >= 8, "{pictures:?}");
    for name in &pictures {
        assert!(name.len() > 25, "\"{name}\" describes nothing");
    }
    let mut different = pictures.clone();
    different.sort_unstable();
    different.dedup();
    assert_eq!(different.len(), pictures.len(), "{pictures:?}");

    let tables = of("table");
    assert_eq!(tables.len(), count(&mut browser, "table"));
    assert!(tables.len() >= 15 && tables.iter().all(|table| !table.1.is_empty()));
    assert_eq!(
        of("columnheader").len(),
        count(&mut browser, "thead th[scope=col]")
    );
    assert_eq!(
        of("columnheader").len(),
        count(&mut browser, "thead tr > *")
    );
    assert_eq!(of("rowheader").len(), count(&mut browser, "tbody tr"));
    // What scrolls can be reached and scrolled with the keyboard.
    let unreachable = browser.evaluate(
        "[...document.querySelectorAll('*')].filter(e => e.scrollWidth > e.clientWidth + 1 \
         && /auto|scroll/.test(getComputedStyle(e).overflowX) && e.tabIndex < 0).length",
    );
    assert_eq!(unreachable, 0);
}

struct Table {
    caption: String,
    rows: Vec<Vec<String>>,
}

fn tables(browser: &mut Browser) -> Vec<Table> {
    let told = browser.evaluate(include_str!("browser/tables.js"));
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    let list = |value: &Value| value.as_array().expect("a list").clone();
    list(&told)
        .iter()
        .map(|table| Table {
            caption: text(&table["caption"]),
            rows: list(&table["rows"])
                .iter()
                .map(|row| list(row).iter().map(text).collect())
                .collect(),
        })
        .collect()
}

fn table<'t>(tables: &'t [Table], caption: &str) -> &'t [Vec<String>] {
    let found = tables
        .iter()
        .find(|table| table.caption.starts_with(caption));
    &found
        .unwrap_or_else(|| panic!("no table \"{caption}\""))
        .rows
}

/// Holds when the cell starts with this value, rounded to the digits that are shown.
fn shows(cell: &str, value: &Value) {
    let value = value.as_f64().expect("a number");
    let number = cell.split_whitespace().next().unwrap_or("");
    let shown: f64 = number
        .parse()
        .unwrap_or_else(|_| panic!("\"{cell}\" for {value}"));
    let decimals = number.split_once('.').map_or(0, |(_, after)| after.len());
    let half_a_digit = 0.5 * 10f64.powi(-(decimals as i32));
    assert!(
        (shown - value).abs() <= 1.000_001 * half_a_digit,
        "\"{cell}\" for {value}"
    );
}

#[test]
#[ignore = "needs chromium: .ci/run runs it"]
fn the_tables_hold_the_numbers_of_solve() {
    let mut browser = opened();
    let tables = tables(&mut browser);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let panel = panel_file("two_pads");
    let solved = padfield(
        folder.path(),
        &["solve", &panel, "--accuracy", ACCURACY, "--json"],
    );
    let solved: Value = serde_json::from_str(&solved).expect("JSON");
    let pads = solved["pads"].as_array().expect("pads");
    let bases = table(&tables, "Base capacitance, untouched");
    let touches = table(&tables, "Touch by finger");
    let counts = table(&tables, "Counts; a touch");
    let in_pf = table(&tables, "Shifts in pF");
    let in_counts = table(&tables, "The same in counts");
    let brackets = table(&tables, "Bracket and input tolerance");
    for rows in [bases, touches, counts, in_pf, in_counts, brackets] {
        assert_eq!(rows.len(), pads.len() + 1);
    }
    for (place, pad) in pads.iter().enumerate() {
        let row = place + 1;
        let [base, touch] = [&bases[row], &touches[row]];
        for rows in [bases, touches, counts, in_pf, in_counts, brackets] {
            assert_eq!(rows[row][0], pad["pad"].as_str().expect("a name"));
        }
        shows(&base[1], &pad["base"]["value_pf"]);
        shows(&base[2], &pad["trace"]["nominal_pf"]);
        shows(&base[3], &pad["pin"]["nominal_pf"]);
        shows(&base[4], &pad["base_at_pin"]["nominal_pf"]);
        let of_counts = &counts[row];
        shows(&of_counts[3], &pad["counts"]["frequency_khz"]);
        shows(&of_counts[1], &pad["counts"]["base_count"]);
        shows(&touch[1], &pad["touch"]["shift"]["value_pf"]);
        let counted = &pad["counts"]["touch"];
        shows(&of_counts[4], &counted["count_shift"]["value"]);
        shows(&of_counts[7], &counted["signal_to_noise_rms"]);
        shows(&brackets[row][1], &pad["base"]["value_pf"]);
        shows(&brackets[row][2], &pad["base"]["bounds_pf"][0]);
        shows(&brackets[row][4], &pad["touch"]["shift"]["value_pf"]);
        shows(&in_pf[row][row], &pad["touch"]["shift"]["value_pf"]);
        shows(&in_counts[row][row], &counted["count_shift"]["value"]);
        for other in pad["touch"]["neighbours"].as_array().expect("neighbours") {
            let column = in_pf[0]
                .iter()
                .position(|head| *head == other["pad"].as_str().expect("a name"));
            shows(
                &in_pf[row][column.expect("a column")],
                &other["shift"]["value_pf"],
            );
        }
    }
}

/// Share of the pixels inside a picture that are neither white nor nearly so.
fn ink(png: &[u8]) -> f64 {
    let mut reader = png::Decoder::new(std::io::Cursor::new(png))
        .read_info()
        .expect("a picture");
    let mut pixels = vec![0; reader.output_buffer_size().expect("a size")];
    let frame = reader.next_frame(&mut pixels).expect("a picture");
    let samples = frame.color_type.samples();
    let all = pixels[..frame.buffer_size()].chunks_exact(samples);
    let dark = all
        .clone()
        .filter(|pixel| pixel[..3].iter().any(|part| *part < 235));
    dark.count() as f64 / all.len() as f64
}

/// 680 pixels are what margins of 15 mm leave of A4.
const SIZES: [([u32; 2], &str); 4] = [
    ([360, 740], "screen"),
    ([768, 1024], "screen"),
    ([1280, 800], "screen"),
    ([680, 1002], "print"),
];

fn faults_at(browser: &mut Browser, size: [u32; 2], medium: &str) -> Vec<Value> {
    browser.lay_out(size, medium);
    let faults = browser.evaluate(include_str!("browser/layout.js"));
    faults.as_array().expect("a list").clone()
}

#[test]
#[ignore = "needs chromium: .ci/run runs it"]
fn nothing_overflows_overlaps_or_is_empty_on_any_screen_or_on_paper() {
    let mut browser = opened();
    for (size, medium) in SIZES {
        let faults = faults_at(&mut browser, size, medium);
        assert!(faults.is_empty(), "{size:?}, {medium}: {faults:#?}");
    }
    browser.lay_out([1280, 800], "screen");
    let frames = browser.evaluate(
        "[...document.querySelectorAll('figure .note-scroll > svg')].map(picture => { \
         const box = picture.getBoundingClientRect(); \
         return [box.left, box.top + scrollY, box.width, box.height]; })",
    );
    for (picture, frame) in frames.as_array().expect("pictures").iter().enumerate() {
        let part = [0, 1, 2, 3].map(|place| frame[place].as_f64().expect("a number"));
        let ink = ink(&browser.picture(Some(part)));
        // Title and axes alone are below 2 %.
        assert!(
            ink > 0.02,
            "picture {picture} at {part:?}: {ink} of it is drawn"
        );
    }
    // The checks themselves notice what does not fit.
    browser.evaluate("document.querySelectorAll('p')[2].style.marginTop = '-3rem'");
    browser.evaluate("document.querySelector('h1').style.width = '2000px'");
    let faults = format!("{:?}", faults_at(&mut browser, [1280, 800], "screen"));
    assert!(
        faults.contains("overlap") && faults.contains("wide"),
        "{faults}"
    );
}

#[test]
#[ignore = "needs chromium: .ci/run runs it"]
fn nothing_overflows_in_the_notes_that_are_kept() {
    let results = Path::new(env!("CARGO_MANIFEST_DIR")).join("results");
    let panels = std::fs::read_dir(results).expect("results");
    let notes = panels.map(|panel| panel.expect("a folder").path().join("note/note.html"));
    let notes: Vec<PathBuf> = notes.filter(|note| note.is_file()).collect();
    assert!(notes.len() >= 3, "{notes:?}");
    let mut browser = Browser::start();
    for note in notes {
        browser.open(&note);
        for (size, medium) in SIZES {
            let faults = faults_at(&mut browser, size, medium);
            assert!(
                faults.is_empty(),
                "{}: {size:?}, {medium}: {faults:#?}",
                note.display()
            );
        }
    }
}

#[test]
#[ignore = "needs chromium: .ci/run runs it"]
fn it_prints_on_a4() {
    let mut browser = opened();
    let printed = browser.printed();
    let document = Document::load_mem(&printed).expect("a PDF");
    let pages = document.get_pages();
    assert!(pages.len() > 8, "{} pages", pages.len());
    for page in pages.values() {
        let page = document.get_dictionary(*page).expect("a page");
        let size = page
            .get(b"MediaBox")
            .and_then(|size| size.as_array())
            .expect("a size");
        let ends = [2, 3].map(|place| size[place].as_float().expect("a number"));
        // In points, to the pixel that the browser rounds to.
        assert!(
            (ends[0] - 595.3).abs() < 1.0 && (ends[1] - 841.9).abs() < 1.0,
            "{ends:?}"
        );
    }
}
