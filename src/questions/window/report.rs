//! The window in words: whether there is one, the thresholds, what binds them, what would widen it.

use super::{
    Event, Group, LIFT_HEADER, LeverSearch, PadWindow, ThresholdChoice, Window, lift_row,
    lift_words,
};
use crate::accuracy::reached_words;
use crate::panel::{Origin, Panel};
use crate::report::{Block, Cell, Report, Table};
use crate::rounding::{counts, counts_with_error, fixed, rate, significant, window_ratio as ratio};

/// Levers shown.
const MOST_LEVERS: usize = 8;

/// The answer in blocks, with what would widen the window where that was asked, and every event on demand.
pub fn report(
    panel: &Panel,
    window: &Window,
    levers: Option<&LeverSearch>,
    with_events: bool,
) -> Report {
    let mut report = Report::default();
    report.say(Block::verdict(verdict(panel, window)));
    report.say(thresholds(window));
    report.detail(Block::heading(format!(
        "Binding pair, as pad \"{}\" sees it",
        pad_name(window, window.binding())
    )));
    report.detail(Block::list(binding_pair(window)));
    if let Some(choice) = window.binding().choice {
        let [threshold, rates] = worth(panel, &choice);
        report.detail(Block::paragraph(threshold));
        report.detail(Block::paragraph(rates));
    }
    if window.table.field_varies {
        report.say(Block::paragraph(
            "Every tolerance at its worst end; what share of units holds: padfield tolerance.",
        ));
    }
    if with_events {
        events(panel, window, &mut report);
    }
    if let Some(levers) = levers {
        widened(levers, &mut report);
    }
    report.detail(Block::cautions(window.cautions.clone()));
    report.detail(Block::heading("Assumptions"));
    report.detail(Block::list(window.assumptions.clone()));
    report.detail(Block::paragraph(format!(
        "{} field problems, each untouched and touched, {:.1} s; accuracy {}.",
        window.field_problems + levers.map_or(0, |levers| levers.field_problems),
        window.seconds,
        reached_words(window.accuracy_reached, &window.missed)
    )));
    report
}

/// Name of a pad of the window.
pub fn pad_name<'w>(window: &'w Window, pad: &PadWindow) -> &'w str {
    pad.pad.map_or("all pads", |pad| &window.table.pads[pad])
}

/// Whether there is a window, and how wide it is.
pub fn verdict(panel: &Panel, window: &Window) -> String {
    let wanted = &panel.usage.wanted_ratio;
    let mark = match wanted.origin {
        Origin::Given => "",
        Origin::Default => " [default]",
    };
    let binding = window.binding();
    let pad = pad_name(window, binding);
    let found = ratio(binding.ratio);
    let wanted = wanted.value;
    if !window.exists() {
        format!(
            "No window: on pad \"{pad}\" the weakest true touch and the strongest false event have the \
             ratio W = {found}; above 1 a threshold exists, wanted is {wanted}{mark}."
        )
    } else if binding.ratio < wanted {
        format!(
            "A window exists, but a narrow one: W = {found} on pad \"{pad}\", wanted {wanted}{mark}."
        )
    } else {
        format!("A window exists: W = {found} on pad \"{pad}\", wanted {wanted}{mark}.")
    }
}

fn thresholds(window: &Window) -> Table {
    let mut table = Table::new(
        "Thresholds, counts towards a touch",
        &[
            "pad",
            "typical\ncount shift",
            "weakest true",
            "strongest false",
            "W",
            "W nominal",
            "threshold",
            "release",
            "of typical",
        ],
        1,
    );
    let bound = |index: Option<usize>| {
        index.map_or("-".to_owned(), |i| counts(window.table.events[i].bound))
    };
    let show = |value: Option<f64>| value.map_or("-".to_owned(), counts);
    // Segments of a slider have no events of their own.
    let judged = window
        .pads
        .iter()
        .filter(|pad| pad.weakest_true.is_some() || pad.strongest_false.is_some());
    let has_common = window.pads.len() > 1;
    for one in judged.chain(has_common.then_some(&window.common)) {
        let choice = one.choice;
        let [w, nominal] = one
            .judged_ratios()
            .map_or(["-", "-"].map(str::to_owned), |both| both.map(ratio));
        let mut references = window.table.references.iter();
        let reference = references.find(|reference| Some(reference.pad) == one.pad);
        let share = choice.and_then(|choice| choice.share_of_adult);
        table.row(vec![
            one.pad.map_or("all", |_| pad_name(window, one)).to_owned(),
            show(reference.map(|reference| reference.counts)),
            bound(one.weakest_true),
            bound(one.strongest_false),
            w,
            nominal,
            show(choice.map(|choice| choice.threshold)),
            show(choice.map(|choice| choice.release)),
            share.map_or("-".to_owned(), |share| {
                format!("{} %", fixed(100.0 * share, 0))
            }),
        ]);
    }
    let all = match has_common {
        true => "all: one threshold for all pads. ",
        false => "",
    };
    table.remark = format!(
        "True events must act: every user on every supply, at the worst place within the aim error; false events must \
         not. {all}Typical count shift: {} centred, every input as drawn. W: the weakest true over the strongest false \
         bound, over everything that may be built and used; W nominal: of one unit as drawn. The threshold stands \
         between the bounds with the same ratio to both. Bounds have numerical error and noise on their unfavourable \
         side, so W has no error bar beside it.",
        window.table.reference_user
    );
    table
}

fn input_range(event: &Event) -> String {
    event.input_range.map(counts).join(" to ")
}

fn binding_pair(window: &Window) -> Vec<String> {
    let binding = window.binding();
    let pair = [
        ("weakest true", binding.weakest_true),
        ("strongest false", binding.strongest_false),
    ];
    let lines = pair.map(|(label, index)| {
        let event = index.map(|index| &window.table.events[index]);
        let words = event.map_or("none".to_owned(), |event| {
            format!(
                "{}: {} counts (mean {} numerical, over inputs {}, noise rms {})",
                event.words(),
                counts(event.bound),
                counts_with_error(event.mean, event.numerical_error),
                input_range(event),
                event.noise_words()
            )
        });
        format!("{label}: {words}")
    });
    lines.into()
}

/// What a threshold is, and what it is worth.
pub fn worth(panel: &Panel, choice: &ThresholdChoice) -> [String; 2] {
    let release = match choice.release_is_above_false {
        true => "above every false event",
        false => "below the strongest false event: a key may be held down by a neighbour touch",
    };
    let debounce = match choice.needed_debounce {
        Some(needed) if needed <= choice.debounce => {
            let scans = match choice.debounce {
                1 => "1 scan".to_owned(),
                several => format!("{several} scans in a row"),
            };
            format!("{scans} ({needed} would do)")
        }
        Some(needed) => format!(
            "{} scans in a row are too few for {} false events a year: {needed} would do",
            choice.debounce, panel.usage.false_per_year.value
        ),
        None => format!(
            "{} scans in a row; no debounce up to 20 keeps false events below {} a year",
            choice.debounce, panel.usage.false_per_year.value
        ),
    };
    let threshold = format!(
        "Threshold {}, release {} ({release}), hysteresis {} counts. Debounce: {debounce}; a scan of all channels \
         every {} ms, response at most {} ms.",
        counts(choice.threshold),
        counts(choice.release),
        counts(choice.threshold - choice.release),
        significant(choice.cycle.ms(), 3),
        significant(choice.response.ms(), 3),
    );
    let rates = format!(
        "Missed: {} of the weakest true touches. False events a year: {} from noise alone, {} if every one of {} \
         touches a day were the strongest false one.",
        rate(choice.miss_probability),
        rate(choice.false_per_year_from_noise),
        rate(choice.false_per_year_from_neighbours),
        panel.usage.touches_per_day.value
    );
    [threshold, rates]
}

/// The events of the pad that binds, then those of the others.
fn events(panel: &Panel, window: &Window, report: &mut Report) {
    let binding = window.binding();
    let is_own = |event: &Event| binding.pad.is_none_or(|pad| event.pad == pad);
    let mut own = event_table(window, is_own, |event| event.words());
    own.caption = format!("Events of pad \"{}\" in counts", pad_name(window, binding));
    own.remark = format!(
        "Bound: the unfavourable end of return path, stray capacitance, circuit and layer tolerances, then the \
         numerical error and {} standard deviations of the noise.",
        panel.usage.noise_margin.value
    );
    report.say(own);
    let others = event_table(
        window,
        |event| !is_own(event),
        |event| format!("{}: {}", window.table.pads[event.pad], event.words()),
    );
    if !others.rows.is_empty() {
        report.detail(others);
    }
}

fn event_table(
    window: &Window,
    is_shown: impl Fn(&Event) -> bool,
    words: impl Fn(&Event) -> String,
) -> Table {
    let mut table = Table::new(
        "Events of the other pads in counts",
        &[
            "event",
            "group",
            "mean ± numerical",
            "over inputs",
            "noise rms",
            "bound",
            "binds",
        ],
        2,
    )
    .with_words_in(&[6]);
    let events = window.table.events.iter().enumerate();
    let mut shown: Vec<(usize, &Event)> = events.filter(|(_, event)| is_shown(event)).collect();
    let is_true = |event: &Event| event.group == Group::True;
    shown.sort_by(|(_, a), (_, b)| {
        let by_group = is_true(b).cmp(&is_true(a));
        let by_pad = a.pad.cmp(&b.pad);
        by_pad.then(by_group).then(b.bound.total_cmp(&a.bound))
    });
    let binding = window.binding();
    for (index, event) in shown {
        let binds = [binding.weakest_true, binding.strongest_false].contains(&Some(index));
        let cells = [
            words(event),
            event.group.words().to_owned(),
            counts_with_error(event.mean, event.numerical_error),
            input_range(event),
            event.noise_words(),
            counts(event.bound),
            if binds { "binds" } else { "" }.to_owned(),
        ];
        let cells = cells.map(|text| Cell {
            text,
            strong: binds,
        });
        table.cells(cells.into());
    }
    table
}

fn widened(search: &LeverSearch, report: &mut Report) {
    report.say(Block::heading("What would widen the window"));
    if let Some(missing) = &search.missing {
        report.say(Block::paragraph(format!("Not known: {missing}.")));
        if let Some(left) = search.left_counts {
            let mut table = Table::new("What would leave it most", &LIFT_HEADER, 1);
            table.remark = lift_words(left);
            for lift in search.lifts.iter().take(MOST_LEVERS) {
                table.row(lift_row(lift));
            }
            report.say(table);
        }
        return;
    }
    report.say(lever_table(search));
    report.say(Block::paragraph(enough(search)));
    if search.layouts.is_empty() {
        return;
    }
    let mut table = Table::new(
        "Other ways to lay a trace",
        &["layout", "W", "solved again"],
        1,
    );
    for layout in search.layouts.iter().take(MOST_LEVERS) {
        let solved = match layout.is_whole {
            true => "every event",
            false => "the pair that binds now",
        };
        table.row(vec![
            layout.words.clone(),
            ratio(layout.ratio),
            solved.to_owned(),
        ]);
    }
    report.say(table);
}

fn lever_table(search: &LeverSearch) -> Table {
    let mut table = Table::new(
        "What moves W most, binding pair",
        &[
            "value",
            "now",
            "W at +10 %",
            "change of W",
            &format!("solved again for W = {}", search.wanted),
        ],
        1,
    );
    for lever in search.levers.iter().take(MOST_LEVERS) {
        let unit = &lever.scalable.unit;
        let with_unit = |value: f64| {
            let text = format!("{} {unit}", significant(value, 3));
            text.trim().to_owned()
        };
        table.row(vec![
            lever.scalable.path.clone(),
            with_unit(lever.scalable.value),
            lever.at_ten_percent(),
            format!(
                "{} per {}",
                significant(lever.per_unit(search.ratio), 2),
                if unit.is_empty() { "1" } else { unit }
            ),
            lever.checked().map_or_else(
                || lever.untried_words().to_owned(),
                |checked| {
                    let is = if checked.is_whole { "=" } else { "at most" };
                    format!(
                        "{}: W {is} {}",
                        with_unit(checked.value),
                        ratio(checked.ratio)
                    )
                },
            ),
        ]);
    }
    table
}

fn enough(search: &LeverSearch) -> String {
    let enough = search
        .enough()
        .and_then(|lever| Some((lever, lever.checked()?)));
    match (enough, search.ratio >= search.wanted) {
        (_, true) => "The wanted W is there already.".to_owned(),
        (Some((lever, checked)), _) => format!(
            "{} from {} to {} {} brings W to {}: every event was counted again with it.",
            lever.scalable.path,
            significant(lever.scalable.value, 3),
            significant(checked.value, 3),
            lever.scalable.unit,
            ratio(checked.ratio)
        ),
        (None, _) => {
            "No single value was found that reaches the wanted W within a factor of 2.5: change the stackup, \
                      the users that are supported, or the wanted W."
                .to_owned()
        }
    }
}
