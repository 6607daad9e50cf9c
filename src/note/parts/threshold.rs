//! Whether a threshold exists, which one, and what it rests on.

use crate::note::facts::Facts;
use crate::note::words::{counts, rate};
use crate::panel::Origin;
use crate::questions::window::{
    Event, Group, LIFT_HEADER, LeverSearch, PadWindow, Window, lift_row, lift_words, picture,
};
use crate::report::{Block, Cell, Figure, Table};
use crate::rounding::{counts_with_error, fixed, significant, window_ratio as ratio};
use padfield_chart::{Chart, ChartError};

/// Levers shown.
const MOST_LEVERS: usize = 8;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let window = match &facts.window {
        None => return Ok(vec![Block::paragraph("Left out of this note.")]),
        Some(Err(reason)) => {
            return Ok(vec![Block::paragraph(format!("Not decided: {reason}."))]);
        }
        Some(Ok(window)) => window,
    };
    let binding = window.binding();
    let mut blocks = vec![
        Block::verdict(verdict(facts, window)),
        Block::paragraph(format!(
            "True events must act: every user on every supply, at the worst place within the aim error. False \
             events must not. W: lowest bound of the true ones over highest bound of the false ones; the \
             threshold stands between them with the same ratio to both. Typical count shift: {} centred, every input as \
             drawn. Numerical error and noise are in the bounds on their unfavourable side, so W has no error bar \
             beside it.",
            window.table.reference_user
        )),
        Block::Table(thresholds(facts, window)),
    ];
    if binding.weakest_true.is_some() {
        blocks.push(Block::Figure(chart(facts, window, binding)?));
        blocks.push(Block::Table(budget(facts, window, binding)));
    }
    blocks.extend(super::sliders::blocks(facts));
    if let Some(levers) = &facts.levers {
        blocks.extend(lever_blocks(facts, levers));
    }
    Ok(blocks)
}

pub(super) fn pad_name<'w>(window: &'w Window, pad: &PadWindow) -> &'w str {
    pad.pad.map_or("all pads", |pad| &window.table.pads[pad])
}

pub(super) fn verdict(facts: &Facts<'_>, window: &Window) -> String {
    let wanted = &facts.order.panel.usage.wanted_ratio;
    let binding = window.binding();
    let mark = match wanted.origin {
        Origin::Given => "",
        Origin::Default => " (default)",
    };
    let found = format!(
        "W = {} on pad \"{}\", wanted {}{mark}.",
        ratio(binding.ratio),
        pad_name(window, binding),
        wanted.value
    );
    if !window.exists() {
        format!("No window: no threshold separates true and false events. {found}")
    } else if binding.ratio < wanted.value {
        format!("A window exists, but a narrow one. {found}")
    } else {
        format!("A window exists. {found}")
    }
}

fn thresholds(facts: &Facts<'_>, window: &Window) -> Table {
    let mut table = Table::new(
        "Thresholds, counts towards a touch",
        &[
            "pad",
            "typical count shift",
            "weakest true",
            "strongest false",
            "W",
            "W as drawn",
            "threshold",
            "release",
            "of typical",
        ],
        1,
    );
    table.command = facts.window_command();
    let bound = |index: Option<usize>| {
        index.map_or("-".to_owned(), |i| counts(window.table.events[i].bound))
    };
    let judged = window
        .pads
        .iter()
        .filter(|pad| pad.weakest_true.is_some() || pad.strongest_false.is_some());
    for pad in judged.chain((window.pads.len() > 1).then_some(&window.common)) {
        let choice = pad.choice;
        let ratios = pad
            .judged_ratios()
            .map_or(["-", "-"].map(str::to_owned), |both| both.map(ratio));
        let show = |value: Option<f64>| value.map_or("-".to_owned(), counts);
        let reference = window
            .table
            .references
            .iter()
            .find(|r| Some(r.pad) == pad.pad);
        table.row(vec![
            match pad.pad {
                Some(_) => pad_name(window, pad).to_owned(),
                None => "one threshold for all".to_owned(),
            },
            show(reference.map(|reference| reference.counts)),
            bound(pad.weakest_true),
            bound(pad.strongest_false),
            ratios[0].clone(),
            ratios[1].clone(),
            show(choice.map(|choice| choice.threshold)),
            show(choice.map(|choice| choice.release)),
            choice
                .and_then(|choice| choice.share_of_adult)
                .map_or("-".to_owned(), |share| {
                    format!("{} %", fixed(100.0 * share, 0))
                }),
        ]);
    }
    table.remark =
        "W holds over everything that may be built and used; W as drawn with every input at its \
                    nominal value."
            .to_owned();
    table
}

fn chart(facts: &Facts<'_>, window: &Window, binding: &PadWindow) -> Result<Figure, ChartError> {
    Ok(Figure {
        name: "window".to_owned(),
        caption: format!(
            "Events that pad \"{}\", the narrowest, must and must not act on.",
            pad_name(window, binding)
        ),
        alternative: format!(
            "Threshold window of pad \"{}\": {} Numbers in the table of events below.",
            pad_name(window, binding),
            verdict(facts, window)
        ),
        svg: picture(&facts.response.title, window, binding).svg()?,
        command: facts.window_command(),
    })
}

fn budget(facts: &Facts<'_>, window: &Window, binding: &PadWindow) -> Table {
    let mut table = Table::new(
        format!("Events of pad \"{}\" in counts", pad_name(window, binding)),
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
    table.command = format!("{} --events", facts.window_command());
    let events = window.table.events.iter().enumerate();
    let mut of_pad: Vec<(usize, &Event)> = events
        .filter(|(_, event)| binding.pad.is_none_or(|pad| event.pad == pad))
        .collect();
    let is_true = |event: &Event| event.group == Group::True;
    of_pad.sort_by(|(_, a), (_, b)| {
        let by_group = is_true(b).cmp(&is_true(a));
        by_group.then(b.bound.total_cmp(&a.bound))
    });
    for (index, event) in of_pad {
        let binds = [binding.weakest_true, binding.strongest_false].contains(&Some(index));
        table.cells(
            vec![
                event.words(),
                event.group.words().to_owned(),
                counts_with_error(event.mean, event.numerical_error),
                event.input_range.map(counts).join(" to "),
                event.noise_words(),
                counts(event.bound),
                if binds { "binds" } else { "" }.to_owned(),
            ]
            .into_iter()
            .map(|text| Cell {
                text,
                strong: binds,
            })
            .collect(),
        );
    }
    table.remark = format!(
        "Bound: the unfavourable end of return path, stray capacitance, circuit and layer tolerances, then the \
         numerical error and {} standard deviations of the noise.",
        facts.order.panel.usage.noise_margin.value
    );
    table
}

fn lever_blocks(facts: &Facts<'_>, search: &LeverSearch) -> Vec<Block> {
    let mut blocks = vec![Block::heading("What would widen it")];
    if let Some(missing) = &search.missing {
        blocks.push(Block::paragraph(format!("Not known: {missing}.")));
        if let Some(left) = search.left_counts {
            let mut table = Table::new("What would leave it most", &LIFT_HEADER, 1);
            table.command = facts.window_command();
            table.remark = lift_words(left);
            for lift in search.lifts.iter().take(MOST_LEVERS) {
                table.row(lift_row(lift));
            }
            blocks.push(Block::Table(table));
        }
        return blocks;
    }
    let mut table = Table::new(
        "What moves W most, for the pair that binds",
        &[
            "value",
            "now",
            "W at +10 %",
            &format!("solved again for W = {}", search.wanted),
        ],
        1,
    );
    table.command = facts.window_command();
    for lever in search.levers.iter().take(MOST_LEVERS) {
        let unit = &lever.scalable.unit;
        let with_unit = |value: f64| {
            format!("{} {unit}", significant(value, 3))
                .trim()
                .to_owned()
        };
        table.row(vec![
            lever.scalable.path.clone(),
            with_unit(lever.scalable.value),
            lever.at_ten_percent(),
            lever.checked().map_or_else(
                || lever.untried_words().to_owned(),
                |checked| format!("{}: W = {}", with_unit(checked.value), ratio(checked.ratio)),
            ),
        ]);
    }
    blocks.push(Block::Table(table));
    if !search.layouts.is_empty() {
        let mut layouts = Table::new(
            "Other ways to lay a trace",
            &["layout", "W", "solved again"],
            1,
        );
        layouts.command = facts.window_command();
        for layout in search.layouts.iter().take(MOST_LEVERS) {
            let solved = match layout.is_whole {
                true => "every event",
                false => "the pair that binds now",
            };
            layouts.row(vec![
                layout.words.clone(),
                ratio(layout.ratio),
                solved.to_owned(),
            ]);
        }
        blocks.push(Block::Table(layouts));
    }
    blocks
}

/// What a threshold is worth, for the constants of the firmware.
pub(super) fn worth(facts: &Facts<'_>, window: &Window) -> Option<String> {
    let binding = window.binding();
    let choice = binding.choice?;
    let release = match choice.release_is_above_false {
        true => "above every false event",
        false => {
            "below the strongest false event, so a key may be held down by a neighbour's touch"
        }
    };
    let debounce = match choice.needed_debounce {
        Some(needed) => format!("{needed} scans in a row would keep false events rare enough"),
        None => "no debounce up to 20 scans keeps false events rare enough".to_owned(),
    };
    Some(format!(
        "On pad \"{}\": release at {} counts is {release}. Debounce {} scans ({debounce}); a scan of all \
         channels every {} ms, response at most {} ms. Missed: {} of the weakest true touches. False events a year: {} from noise alone, {} if each \
         of {} touches a day were the strongest false one.",
        pad_name(window, binding),
        counts(choice.release),
        choice.debounce,
        significant(choice.cycle.ms(), 3),
        significant(choice.response.ms(), 3),
        rate(choice.miss_probability),
        rate(choice.false_per_year_from_noise),
        rate(choice.false_per_year_from_neighbours),
        facts.order.panel.usage.touches_per_day.value
    ))
}
