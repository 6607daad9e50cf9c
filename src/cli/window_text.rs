//! The window as text for a terminal.

use crate::accuracy::reached_words;
use crate::panel::{Origin, Panel};
use crate::questions::window::{
    Event, Group, LIFT_HEADER, LeverSearch, PadWindow, ThresholdChoice, Window, lift_row,
    lift_words,
};
use crate::report::terminal::{table, wrap, wrap_indented};
use crate::rounding::{counts, counts_with_error, fixed, significant, window_ratio as ratio};

/// Levers shown.
const MOST_LEVERS: usize = 8;

/// Everything, most important first.
pub(super) fn to_text(
    panel: &Panel,
    window: &Window,
    levers: Option<&LeverSearch>,
    all_events: bool,
) -> String {
    let verdict = wrap(&verdict(panel, window));
    let mut text = format!("{}\n\n{verdict}\n\n", panel.title);
    text += &format!("{}\n\n", pad_table(window));
    text += &format!(
        "{}\n\n",
        wrap(&format!(
            "Typical count shift: {} centred, every input as drawn. W: the weakest true over the strongest false \
             bound, over everything that may be built and used; W nominal: of one unit as drawn. Bounds have \
             numerical error and noise on their unfavourable side, so W has no error bar beside it.",
            window.table.reference_user
        ))
    );
    text += &binding_pair(window);
    if let Some(choice) = window.binding().choice {
        text += &threshold_lines(panel, &choice);
    }
    text += &common_line(window);
    if window.table.field_varies {
        text +=
            "Every tolerance at its worst end; what share of units holds: padfield tolerance.\n";
    }
    if let Some(levers) = levers {
        text += &format!("\n{}", lever_text(levers));
    }
    if all_events {
        text += &format!("\nEvents in counts\n{}\n", event_table(window));
    }
    text += "\nCautions\n";
    for line in &window.cautions {
        text += &format!("{}\n", wrap_indented(line, "  ", "  "));
    }
    text += "\nAssumptions\n";
    for line in &window.assumptions {
        text += &format!("{}\n", wrap_indented(line, "  ", "  "));
    }
    text += &format!(
        "\n{} field problems, each untouched and touched, {:.1} s; accuracy {}.\n",
        window.field_problems + levers.map_or(0, |levers| levers.field_problems),
        window.seconds,
        reached_words(window.accuracy_reached, &window.missed)
    );
    text
}

fn verdict(panel: &Panel, window: &Window) -> String {
    let wanted = &panel.usage.wanted_ratio;
    let mark = match wanted.origin {
        Origin::Given => "",
        Origin::Default => " [default]",
    };
    let binding = window.binding();
    let pad = binding
        .pad
        .map_or("all pads", |pad| &window.table.pads[pad]);
    let found = ratio(binding.ratio);
    if !window.exists() {
        format!(
            "No window: on pad \"{pad}\" the weakest true touch and the strongest false event have the \
             ratio W = {found}; above 1 a threshold exists, wanted is {}{mark}.",
            wanted.value
        )
    } else if binding.ratio < wanted.value {
        format!(
            "A window exists, but a narrow one: W = {found} on pad \"{pad}\", wanted {}{mark}.",
            wanted.value
        )
    } else {
        format!(
            "A window exists: W = {found} on pad \"{pad}\", wanted {}{mark}.",
            wanted.value
        )
    }
}

fn pad_table(window: &Window) -> String {
    let bound = |index: Option<usize>| {
        index.map_or("-".to_owned(), |i| counts(window.table.events[i].bound))
    };
    let rows = window
        .pads
        .iter()
        // Segments of a slider have no events of their own.
        .filter(|pad| pad.weakest_true.is_some() || pad.strongest_false.is_some())
        .map(|one| {
            let choice = one.choice;
            let ratios = one
                .judged_ratios()
                .map_or(["-", "-"].map(str::to_owned), |both| both.map(ratio));
            let show = |value: Option<f64>| value.map_or("-".to_owned(), counts);
            let pad = one.pad.unwrap_or_default();
            let reference = window.table.references.iter().find(|r| r.pad == pad);
            vec![
                window.table.pads[pad].clone(),
                show(reference.map(|reference| reference.counts)),
                bound(one.weakest_true),
                bound(one.strongest_false),
                ratios[0].clone(),
                ratios[1].clone(),
                show(choice.map(|choice| choice.threshold)),
                show(choice.map(|choice| choice.release)),
                choice
                    .and_then(|choice| choice.share_of_adult)
                    .map_or("-".to_owned(), |share| {
                        format!("{} %", fixed(100.0 * share, 0))
                    }),
            ]
        })
        .collect();
    let header = [
        "pad",
        "typical\ncount shift",
        "weakest true",
        "strongest false",
        "W",
        "W nominal",
        "threshold",
        "release",
        "of typical",
    ];
    format!("Counts towards a touch\n{}", table(&header, 1, rows))
}

fn event_line(event: &Event) -> String {
    format!(
        "{}: {} counts (mean {} numerical, over inputs {} to {}, noise rms {})",
        event.words(),
        counts(event.bound),
        counts_with_error(event.mean, event.numerical_error),
        counts(event.input_range[0]),
        counts(event.input_range[1]),
        event.noise_words()
    )
}

fn binding_pair(window: &Window) -> String {
    let binding = window.binding();
    let line = |label: &str, index: Option<usize>| {
        let event = index.map(|index| &window.table.events[index]);
        let words = event.map_or("none".to_owned(), event_line);
        format!(
            "{}\n",
            wrap_indented(&format!("{label}: {words}"), "  ", "    ")
        )
    };
    let pad = binding
        .pad
        .map_or("all pads", |pad| &window.table.pads[pad]);
    format!(
        "Binding pair, as pad \"{pad}\" sees it\n{}{}\n",
        line("weakest true", binding.weakest_true),
        line("strongest false", binding.strongest_false)
    )
}

fn threshold_lines(panel: &Panel, choice: &ThresholdChoice) -> String {
    let release = if choice.release_is_above_false {
        "above every false event"
    } else {
        "below the strongest false event: a key may be held down by a neighbour touch"
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
    format!(
        "Threshold {}, release {} ({release}), hysteresis {} counts. Debounce: {debounce}; a scan of all \
         channels every {} ms, response at most {} ms.\nMissed: {} of the weakest true touches. False events a year: {} from noise \
         alone, {} if every one of {} touches a day were the strongest false one.\n",
        counts(choice.threshold),
        counts(choice.release),
        counts(choice.threshold - choice.release),
        significant(choice.cycle.ms(), 3),
        significant(choice.response.ms(), 3),
        probability(choice.miss_probability),
        probability(choice.false_per_year_from_noise),
        probability(choice.false_per_year_from_neighbours),
        panel.usage.touches_per_day.value
    )
    .lines()
    .map(|line| format!("{}\n", wrap_indented(line, "", "  ")))
    .collect()
}

fn probability(value: f64) -> String {
    if value < 1e-12 {
        "less than 1e-12".to_owned()
    } else if value < 0.01 {
        format!("{value:.1e}")
    } else {
        significant(value, 2)
    }
}

fn common_line(window: &Window) -> String {
    if window.pads.len() < 2 {
        return String::new();
    }
    let PadWindow {
        ratio: w, choice, ..
    } = &window.common;
    match choice {
        Some(choice) => format!(
            "One threshold for all pads: {} counts, W = {}.\n",
            counts(choice.threshold),
            ratio(*w)
        ),
        None => format!("One threshold for all pads: none, W = {}.\n", ratio(*w)),
    }
}

fn lever_text(search: &LeverSearch) -> String {
    if let Some(missing) = &search.missing {
        return format!(
            "What would widen the window: not known, {missing}.\n{}",
            lift_text(search)
        );
    }
    let rows = search
        .levers
        .iter()
        .take(MOST_LEVERS)
        .map(|lever| {
            let unit = &lever.scalable.unit;
            let with_unit = |value: f64| {
                format!("{} {unit}", significant(value, 3))
                    .trim()
                    .to_owned()
            };
            vec![
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
                    |checked| format!("{}: W = {}", with_unit(checked.value), ratio(checked.ratio)),
                ),
            ]
        })
        .collect();
    let solved = format!("solved again for W = {}", search.wanted);
    let header = ["value", "now", "W at +10 %", "change of W", &solved];
    let mut text = format!(
        "What moves W most, binding pair\n{}\n",
        table(&header, 1, rows)
    );
    text += &lever_sentence(search);
    if !search.layouts.is_empty() {
        text += &format!("Other ways to lay a trace\n{}\n", layout_table(search));
    }
    text
}

fn lift_text(search: &LeverSearch) -> String {
    let Some(left) = search.left_counts else {
        return String::new();
    };
    let rows = search.lifts.iter().take(MOST_LEVERS).map(lift_row);
    format!(
        "What would leave it most\n{}\n{}\n",
        table(&LIFT_HEADER, 1, rows.collect()),
        wrap_indented(&lift_words(left), "", "  ")
    )
}

fn layout_table(search: &LeverSearch) -> comfy_table::Table {
    let rows = search.layouts.iter().take(MOST_LEVERS).map(|layout| {
        let solved = match layout.is_whole {
            true => "every event",
            false => "the pair that binds now",
        };
        vec![layout.words.clone(), ratio(layout.ratio), solved.to_owned()]
    });
    table(&["layout", "W", "solved again"], 1, rows.collect())
}

fn lever_sentence(search: &LeverSearch) -> String {
    let enough = search
        .enough()
        .and_then(|lever| Some((lever, lever.checked()?)));
    let sentence = match (enough, search.ratio >= search.wanted) {
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
    };
    format!("{}\n", wrap_indented(&sentence, "", "  "))
}

fn event_table(window: &Window) -> String {
    let rows = window
        .table
        .events
        .iter()
        .map(|event| {
            vec![
                match event.group {
                    Group::True => "true",
                    Group::False => "false",
                    Group::Either => "either",
                }
                .to_owned(),
                window.table.pads[event.pad].clone(),
                event.words(),
                counts_with_error(event.mean, event.numerical_error),
                format!(
                    "{} to {}",
                    counts(event.input_range[0]),
                    counts(event.input_range[1])
                ),
                event.noise_words(),
                counts(event.bound),
            ]
        })
        .collect();
    let header = [
        "group",
        "pad",
        "event",
        "mean ± numerical",
        "over inputs",
        "noise rms",
        "bound",
    ];
    table(&header, 3, rows).to_string()
}
