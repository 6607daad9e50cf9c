//! The design note as a real process: HTML read by a parser, Markdown by another, numbers held against
//! `solve --json` and `window --json`, texts full of markup. Accuracies are coarse here, for time.

use assert_cmd::Command;
use pulldown_cmark::{Event, Options, Parser, Tag};
use scraper::{ElementRef, Html, Selector};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Parts that take many field problems, left out.
const WITHOUT_SOLVES: [&str; 6] = [
    "--leave-out",
    "guidelines",
    "--leave-out",
    "remedies",
    "--leave-out",
    "walk",
];

const COARSE: [&str; 4] = ["--accuracy", "8%", "--window-accuracy", "15%"];

fn scenario(name: &str) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    root.join("scenarios").join(format!("{name}.toml"))
}

struct Run {
    folder: tempfile::TempDir,
    text: String,
    errors: String,
    code: Option<i32>,
}

fn padfield(folder: tempfile::TempDir, arguments: &[&str]) -> Run {
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let output = process
        .current_dir(folder.path())
        .args(arguments)
        .output()
        .expect("the program runs");
    Run {
        folder,
        text: String::from_utf8(output.stdout).expect("text"),
        errors: String::from_utf8_lossy(&output.stderr).into_owned(),
        code: output.status.code(),
    }
}

fn temporary() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

impl Run {
    fn read(&self, name: &str) -> String {
        let path = self.folder.path().join(name);
        std::fs::read_to_string(&path)
            .unwrap_or_else(|e| panic!("{}: {e}: {}", path.display(), self.errors))
    }
}

/// A note of a panel file copied to the folder it is written in.
fn note_of(panel: &str, more: &[&str]) -> Run {
    let folder = temporary();
    std::fs::write(folder.path().join("panel.toml"), panel).expect("a writable folder");
    let mut arguments = vec!["note", "panel.toml", "--out", "note"];
    arguments.extend(COARSE);
    // Hundreds of places; the walk itself is in one test.
    arguments.extend(["--leave-out", "touch-map"]);
    arguments.extend(more);
    padfield(folder, &arguments)
}

fn of_scenario(name: &str) -> String {
    std::fs::read_to_string(scenario(name)).expect("the scenario is there")
}

fn select<'h>(page: &'h Html, selector: &str) -> Vec<ElementRef<'h>> {
    page.select(&Selector::parse(selector).expect("a selector"))
        .collect()
}

fn text(element: &ElementRef<'_>) -> String {
    element
        .text()
        .collect::<String>()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

/// The rows of the first table whose caption starts so.
fn table(page: &Html, caption: &str) -> Vec<Vec<String>> {
    let tables = select(page, "table");
    let found = tables.iter().find(|table| {
        let caption_of = Selector::parse("caption").expect("a selector");
        table
            .select(&caption_of)
            .any(|one| text(&one).starts_with(caption))
    });
    let found = found.unwrap_or_else(|| panic!("no table \"{caption}\""));
    let rows = Selector::parse("tr").expect("a selector");
    let cells = Selector::parse("th, td").expect("a selector");
    found
        .select(&rows)
        .map(|row| row.select(&cells).map(|cell| text(&cell)).collect())
        .collect()
}

/// The leading number of a cell: `16.6 (15.4 to 17.8)` is 16.6.
fn leading(cell: &str) -> f64 {
    let word = cell.split_whitespace().next().unwrap_or("");
    word.parse()
        .unwrap_or_else(|_| panic!("no number in \"{cell}\""))
}

/// Rounding to three digits takes off less than this share.
const THREE_DIGITS: f64 = 0.005;
/// To two digits.
const TWO_DIGITS: f64 = 0.05;

#[test]
fn the_page_says_what_the_commands_print_and_is_the_same_every_time() {
    let panel = of_scenario("clover");
    let run = note_of(&panel, &WITHOUT_SOLVES);
    assert_eq!(run.code, Some(0), "{}", run.errors);
    let html = run.read("note/note.html");
    let again = note_of(&panel, &WITHOUT_SOLVES);
    assert_eq!(html, again.read("note/note.html"));
    assert_eq!(run.read("note/note.md"), again.read("note/note.md"));

    let page = Html::parse_document(&html);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    let solved = padfield(
        temporary(),
        &[
            "solve",
            &scenario("clover").display().to_string(),
            "--accuracy",
            "8%",
            "--json",
        ],
    );
    let solved: Value = serde_json::from_str(&solved.text).expect("JSON");
    let bases = table(&page, "Base capacitance, untouched");
    let touches = table(&page, "Touch by finger");
    let counts = table(&page, "Counts; a touch");
    let pads = solved["pads"].as_array().expect("pads");
    assert_eq!(bases.len(), pads.len() + 1);
    for (place, pad) in pads.iter().enumerate() {
        let near = |cell: &str, value: &Value, within: f64| {
            let value = value.as_f64().expect("a number");
            let shown = leading(cell);
            assert!(
                (shown - value).abs() <= within * value.abs(),
                "{cell} for {value}"
            );
        };
        let base = &bases[place + 1];
        assert_eq!(base[0], pad["pad"].as_str().expect("a name"));
        near(&base[1], &pad["base"]["value_pf"], THREE_DIGITS);
        near(&base[4], &pad["base_at_pin"]["nominal_pf"], THREE_DIGITS);
        let counted = &counts[place + 1];
        near(&counted[1], &pad["counts"]["base_count"], THREE_DIGITS);
        let touch = &touches[place + 1];
        near(&touch[1], &pad["touch"]["shift"]["value_pf"], TWO_DIGITS);
        near(
            &counted[4],
            &pad["counts"]["touch"]["count_shift"]["value"],
            TWO_DIGITS,
        );
        let worst = pad["touch"]["worst_neighbour"]
            .as_str()
            .expect("a neighbour");
        assert_eq!(touch[4], worst);
    }

    let decided = padfield(
        temporary(),
        &[
            "window",
            &scenario("clover").display().to_string(),
            "--accuracy",
            "15%",
            "--no-remedies",
            "--json",
        ],
    );
    let decided: Value = serde_json::from_str(&decided.text).expect("JSON");
    let thresholds = table(&page, "Thresholds");
    for (place, pad) in decided["pads"].as_array().expect("pads").iter().enumerate() {
        let choice = &pad["choice"];
        let row = &thresholds[place + 1];
        assert_eq!(row[0], pad["pad"].as_str().expect("a name"));
        let near = |cell: &str, value: &Value| {
            let value = value.as_f64().expect("a number");
            assert!(
                (leading(cell) - value).abs() <= TWO_DIGITS * value.abs(),
                "{cell} for {value}"
            );
        };
        near(&row[4], &pad["window_ratio"]);
        near(&row[6], &choice["threshold_counts"]);
        near(&row[7], &choice["release_counts"]);
    }
}

#[test]
fn the_page_can_be_read_by_anyone_and_asks_for_nothing() {
    let run = note_of(
        &of_scenario("two_pads"),
        &[
            "--format",
            "html",
            "--leave-out",
            "guidelines",
            "--leave-out",
            "window",
            "--leave-out",
            "walk",
        ],
    );
    // No threshold suits all users of two_pads over its tolerances, which the part about tolerances says as well as
    // the window that is left out.
    assert_eq!(run.code, Some(3), "{}", run.errors);
    let html = run.read("note/note.html");
    let page = Html::parse_document(&html);
    assert_eq!(select(&page, "h1").len(), 1);
    assert_eq!(select(&page, "html[lang=en]").len(), 1);
    // Headings never skip a level.
    let levels: Vec<u8> = select(&page, "h1, h2, h3, h4")
        .iter()
        .map(|heading| heading.value().name().as_bytes()[1] - b'0')
        .collect();
    assert!(
        levels.windows(2).all(|pair| pair[1] <= pair[0] + 1),
        "{levels:?}"
    );
    // Every cell of a head tells whether it is of a column or a row.
    assert!(select(&page, "th:not([scope])").is_empty());
    let pictures = select(&page, ".note-scroll > svg");
    assert!(pictures.len() >= 3, "{} pictures", pictures.len());
    for picture in &pictures {
        assert_eq!(picture.value().attr("role"), Some("img"));
        assert!(
            picture
                .value()
                .attr("aria-label")
                .is_some_and(|label| label.len() > 10)
        );
    }
    // Charts one below the other are parts of one picture.
    assert_eq!(select(&page, "[role=img]").len(), pictures.len());
    // Names inside one page are there once, and every link leads somewhere.
    let names: Vec<&str> = select(&page, "[id]")
        .iter()
        .filter_map(|e| e.value().attr("id"))
        .collect();
    let mut unique = names.clone();
    unique.sort_unstable();
    unique.dedup();
    assert_eq!(unique.len(), names.len());
    for link in select(&page, "a") {
        let target = link
            .value()
            .attr("href")
            .expect("a link")
            .trim_start_matches('#')
            .to_owned();
        assert!(names.contains(&target.as_str()), "{target}");
    }
    // Nothing runs and nothing is fetched: every address is inside the file.
    assert!(
        select(
            &page,
            "script, iframe, object, embed, form, link[rel=stylesheet]"
        )
        .is_empty()
    );
    for element in select(&page, "[src], [href], [srcset], [xlink\\:href]") {
        for name in ["src", "href", "srcset"] {
            let address = element.value().attr(name).unwrap_or("#");
            assert!(
                address.starts_with('#') || address.starts_with("data:"),
                "{address}"
            );
        }
    }
    for addressed in html.split("url(").skip(1) {
        assert!(
            addressed.starts_with("data:") || addressed.starts_with('#'),
            "{}",
            &addressed[..20]
        );
    }
    // Machines and moments leave no trace.
    assert!(!html.contains(env!("CARGO_MANIFEST_DIR")));
    assert!(!html.contains(&run.folder.path().display().to_string()));
}

/// Texts that mean something to HTML, Markdown, spreadsheets, templates and file systems. Names of a panel
/// file hold no dot, equals sign or quote; title and sources hold anything.
const TITLE: &str =
    "</title><script>alert(1)</script> {{ 7*7 }} #import \\\"x\\\" $a$ \\\\input{/etc/passwd}";
const NAMES: [&str; 2] = [
    "<script>alert(1)</script>",
    "@SUM(A1)|[x](http://e) `b` **c**",
];
const FINGER: &str = "/etc/passwd";
const LAYER: &str = "<b>x</b> $y$ ~~z~~ #1 {{ 7*7 }}";
const SOURCE: &str = "../../x =cmd|' /C calc'!A0 <img src=x onerror=alert(1)> http://example.com";

fn hostile() -> String {
    let names = format!("names = [\"{}\", \"{}\"]", NAMES[0], NAMES[1]);
    of_scenario("two_pads")
        .replace("names = [\"left\", \"right\"]", &names)
        .replace(
            "title = \"Two half-inch pads a quarter inch apart under 3 mm acrylic, ground plane behind\"",
            &format!("title = \"{TITLE}\""),
        )
        .replace("name = \"overlay\"", &format!("name = \"{LAYER}\""))
        .replace(
            "dome = \"16 mm\"",
            &format!("dome = \"16 mm\"\nsource = \"{SOURCE}\"\n[window]\nusers = [\"{FINGER}\"]"),
        )
        .replace("[finger.adult]", &format!("[finger.\"{FINGER}\"]"))
        .split("# Does a quarter")
        .next()
        .expect("the panel before its studies")
        .to_owned()
}

#[test]
fn markup_in_names_comes_out_as_text_and_nothing_leaves_the_folder() {
    let run = note_of(
        &hostile(),
        &["--leave-out", "guidelines", "--leave-out", "remedies"],
    );
    // The finger that walks is named like a file.
    assert!(matches!(run.code, Some(0 | 3)), "{}", run.errors);
    let html = run.read("note/note.html");
    let page = Html::parse_document(&html);
    assert!(select(&page, "script, img, [onerror]").is_empty());
    let title = TITLE.replace("\\\"", "\"").replace("\\\\", "\\");
    assert_eq!(
        text(&select(&page, "h1")[0]),
        format!("Design note. {title}")
    );
    let bases = table(&page, "Base capacitance, untouched");
    assert_eq!([&bases[1][0], &bases[2][0]], [NAMES[0], NAMES[1]]);
    assert_eq!(table(&page, "Layers")[1][0], LAYER);
    assert_eq!(table(&page, "Users")[1][6], SOURCE);

    let markdown = run.read("note/note.md");
    let options = Options::ENABLE_TABLES | Options::ENABLE_STRIKETHROUGH | Options::ENABLE_MATH;
    let mut seen = String::new();
    for event in Parser::new_ext(&markdown, options) {
        match event {
            Event::Html(html) | Event::InlineHtml(html) => panic!("markup: {html}"),
            Event::InlineMath(math) | Event::DisplayMath(math) => panic!("formula: {math}"),
            Event::Start(Tag::Link { dest_url, .. }) => panic!("link: {dest_url}"),
            Event::Start(Tag::Image { dest_url, .. }) => {
                assert!(
                    dest_url.starts_with("charts/") && !dest_url.contains(".."),
                    "{dest_url}"
                );
                assert!(
                    run.folder.path().join("note").join(&*dest_url).is_file(),
                    "{dest_url}"
                );
            }
            Event::Text(text) | Event::Code(text) => seen += &text,
            Event::SoftBreak | Event::End(_) => seen += " ",
            _ => {}
        }
    }
    for name in NAMES
        .into_iter()
        .chain([LAYER, SOURCE, FINGER, title.as_str()])
    {
        assert!(seen.contains(name), "{name} is not in {seen}");
    }
    // Readers that make links of bare addresses find none.
    assert!(!markdown.contains("http://"));

    let mut files = Vec::new();
    all_files(run.folder.path(), &mut files);
    for file in &files {
        let inside = file.strip_prefix(run.folder.path()).expect("inside");
        let is_note = inside.starts_with("note");
        assert!(
            is_note || inside == Path::new("panel.toml"),
            "{}",
            inside.display()
        );
        let name = inside.to_string_lossy();
        assert!(
            name.chars()
                .all(|c| c.is_ascii_alphanumeric() || "-_./".contains(c)),
            "{name}"
        );
        if name.ends_with(".svg") {
            let svg = std::fs::read_to_string(file).expect("a picture");
            roxmltree::Document::parse(&svg).unwrap_or_else(|e| panic!("{name}: {e}"));
        }
    }
    let pictures = files
        .iter()
        .filter(|file| file.extension().is_some_and(|e| e == "svg"));
    assert!(pictures.count() >= 4);
}

fn all_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        match path.is_dir() {
            true => all_files(&path, found),
            false => found.push(path),
        }
    }
}

#[test]
fn every_section_of_a_whole_note_is_there_with_its_decisions() {
    let panel = of_scenario("two_pads");
    let run = note_of(
        &panel,
        &[
            "--format",
            "html",
            "--leave-out",
            "remedies",
            "--leave-out",
            "walk",
        ],
    );
    // Wide error bars close the window of these pads.
    assert_eq!(run.code, Some(3), "{}", run.errors);
    let page = Html::parse_document(&run.read("note/note.html"));
    let headings: Vec<String> = select(&page, "h2").iter().map(text).collect();
    // The content of a design note in its order of use (common practice, no source).
    for (place, heading) in [
        "Decision",
        "Requirements",
        "Stackup",
        "Board and pads",
        "Base capacitance and touch",
        "Neighbours",
        "The field of a touch",
        "Hand estimates",
        "Threshold window",
        "A finger across the panel",
        "Guideline decisions",
        "Electronics and firmware constants",
        "Tolerances",
        "Climate, return path, discharge",
        "Studies",
        "How accurate is this",
        "Assumptions and solver record",
        "Cautions",
        "Open risks",
        "Verification plan",
        "Commands behind the numbers",
    ]
    .into_iter()
    .enumerate()
    {
        assert_eq!(
            headings.get(place),
            Some(&format!("{}. {heading}", place + 1))
        );
    }
    let guidelines = table(&page, "Guidelines on this panel");
    let built_in = padfield::questions::rules::built_in().len();
    assert_eq!(guidelines.len(), built_in + 1);
    // Every base count that is predicted lies inside what is accepted.
    let plan = table(&page, "What to measure");
    let counts: Vec<&Vec<String>> = plan
        .iter()
        .filter(|row| row[0].starts_with("base count of"))
        .collect();
    assert_eq!(counts.len(), 2);
    for row in counts {
        let [predicted, low, high] = [1, 2, 3].map(|cell| leading(&row[cell]));
        assert!(low < predicted && predicted < high, "{row:?}");
        // The default pin of 3 to 10 pF around 5 leaves a wide band.
        assert!(high / low > 1.3, "{row:?}");
    }
    every_number_leads_to_a_command_that_a_shell_takes(&page);
    // Nobody has swept these studies yet.
    let studies = text(&select(&page, "#studies")[0]);
    for name in ["spacing", "size"] {
        assert!(
            studies.contains(&format!("padfield sweep panel.toml --study {name}")),
            "{studies}"
        );
    }
    let all = text(&select(&page, "main")[0]);
    assert!(
        all.contains("Computed, not measured")
            || select(&page, "header")
                .iter()
                .any(|h| text(h).contains("Computed, not measured"))
    );
}

/// What nothing was computed for says so; all else links to its command, which lists it in turn. A real shell
/// reads the commands, and the program takes all their words before it is asked for help.
fn every_number_leads_to_a_command_that_a_shell_takes(page: &Html) {
    let listed = select(page, ".note-commands > li");
    assert!(listed.len() >= 6, "{} commands", listed.len());
    let within = |element: &ElementRef<'_>, selector: &str| -> Vec<String> {
        let selector = Selector::parse(selector).expect("a selector");
        let found = element.select(&selector);
        found
            .map(|one| {
                one.value()
                    .attr("href")
                    .map_or_else(|| text(&one), str::to_owned)
            })
            .collect()
    };
    let mut linked = 0;
    for source in select(page, ".note-source") {
        let link = within(&source, "a");
        let command = within(&source, "code");
        let printer = &select(page, &link[0])[0];
        assert_eq!(within(printer, "code"), command);
        linked += 1;
    }
    let typed_in = "As the panel file says it.";
    let remarks = select(page, ".note-remark")
        .iter()
        .filter(|remark| text(remark).contains(typed_in))
        .count();
    let built_in = 1;
    let counted = select(page, "table, figure").len();
    assert_eq!(linked + remarks + built_in, counted);
    assert_eq!(
        listed
            .iter()
            .map(|one| within(one, "li a").len())
            .sum::<usize>(),
        linked
    );
    for one in &listed {
        for target in within(one, "li a") {
            assert_eq!(select(page, &target).len(), 1, "{target}");
        }
        let command = &within(one, "code")[0];
        let program = assert_cmd::cargo::cargo_bin("padfield");
        let script = format!(
            "padfield() {{ '{}' \"$@\" --help; }}; {command}",
            program.display()
        );
        let run = std::process::Command::new("sh")
            .args(["-c", &script])
            .output()
            .expect("a shell");
        assert!(
            run.status.success(),
            "{command}: {}",
            String::from_utf8_lossy(&run.stderr)
        );
    }
}

#[test]
fn the_charts_of_swept_studies_are_in_the_note_of_the_same_panel_only() {
    let study = "\n[study.gap]\nvary = [{ path = \"pads.pair.gap\", values = [\"4 mm\", \"8 mm\"] }]\n\
                 report = [\"touch shift\"]\naccuracy = \"8 %\"\n";
    let panel = of_scenario("two_pads");
    let panel = panel
        .split("# Does a quarter")
        .next()
        .expect("the panel before its studies");
    let folder = temporary();
    std::fs::write(folder.path().join("panel.toml"), panel.to_owned() + study)
        .expect("a writable folder");
    let swept = padfield(folder, &["sweep", "panel.toml"]);
    assert_eq!(swept.code, Some(0), "{}", swept.errors);
    let mut quick = vec!["note", "panel.toml", "--out", "note", "--format", "html"];
    quick.extend(COARSE);
    for left in ["window", "guidelines", "tolerances", "environment", "walk"] {
        quick.extend(["--leave-out", left]);
    }
    let run = padfield(swept.folder, &quick);
    let page = Html::parse_document(&run.read("note/note.html"));
    assert!(text(&select(&page, "#studies")[0]).contains("2 of 2 points are recorded"));
    let charts = select(&page, "#studies figure svg");
    assert_eq!(charts.len(), 1);
    // The values of the table that the sweep wrote stand in the chart's own description.
    assert!(
        charts[0]
            .value()
            .attr("aria-label")
            .is_some_and(|label| label.contains("gap"))
    );

    let mut other = quick.clone();
    other.extend(["--set", "overlay.thickness=5 mm"]);
    let run = padfield(run.folder, &other);
    let page = Html::parse_document(&run.read("note/note.html"));
    assert!(select(&page, "#studies figure").is_empty());
    assert!(
        text(&select(&page, "#studies")[0]).contains("Nothing is recorded for this panel file")
    );
}

/// The command that a note prints for itself writes the same note, whatever was asked for.
#[test]
fn the_own_command_of_a_note_writes_it_again() {
    let mut arguments = vec!["--format", "html", "--units", "7", "--studies", "elsewhere"];
    arguments.extend(["--set", "overlay.thickness=5 mm", "--paper", "letter"]);
    arguments.extend(["--memory", "4GB", "--date", "2026-02-03"]);
    for left in ["window", "guidelines", "tolerances", "environment", "walk"] {
        arguments.extend(["--leave-out", left]);
    }
    let run = note_of(&of_scenario("two_pads"), &arguments);
    assert_eq!(run.code, Some(0), "{}", run.errors);
    let first = run.read("note/note.html");
    let page = Html::parse_document(&first);
    let commands = select(&page, ".note-commands > li > code, .note-commands code");
    let own = commands
        .iter()
        .map(text)
        .find(|command| command.starts_with("padfield note "))
        .expect("the command of the note");
    std::fs::remove_file(run.folder.path().join("note/note.html")).expect("a note");
    let program = assert_cmd::cargo::cargo_bin("padfield");
    let script = format!("padfield() {{ '{}' \"$@\"; }}; {own}", program.display());
    let again = std::process::Command::new("sh")
        .current_dir(run.folder.path())
        .args(["-c", &script])
        .output()
        .expect("a shell");
    let errors = String::from_utf8_lossy(&again.stderr);
    assert!(again.status.success(), "{own}: {errors}");
    assert_eq!(first, run.read("note/note.html"), "{own}");
}

#[test]
fn without_pdf_the_command_says_how_to_get_it() {
    if cfg!(feature = "pdf") {
        return;
    }
    let run = note_of(&of_scenario("two_pads"), &["--format", "pdf"]);
    assert_eq!(run.code, Some(2));
    assert!(
        run.errors.contains("--features pdf") && run.errors.contains("HTML"),
        "{}",
        run.errors
    );
    assert!(!run.folder.path().join("note").exists());
}

#[test]
fn bad_input_has_its_place_and_writes_nothing() {
    let run = note_of("title = 3\n", &[]);
    assert_eq!(run.code, Some(2));
    assert!(run.errors.contains("panel.toml:1"), "{}", run.errors);
    assert!(!run.folder.path().join("note").exists());
}
