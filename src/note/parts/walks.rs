//! What a finger does on its way over the panel: along a line, over the face, along sliders.

use super::{figure, left_out, not_computed};
use crate::note::facts::{Facts, Walks};
use crate::note::words::quoted;
use crate::questions::walk::{
    Slide, TouchMap, Walk, map_picture, report, slide_pictures, slide_report, walk_picture,
};
use crate::report::Block;
use crate::rounding::fixed;
use padfield_chart::{ChartError, Stacked};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let Some(walks) = &facts.walks else {
        return Ok(left_out());
    };
    let mut blocks = match &walks.walk {
        Ok(walk) => of_walk(facts, walks, walk)?,
        Err(reason) => vec![not_computed(reason)],
    };
    match &walks.map {
        Some(Ok(map)) => blocks.push(of_map(facts, walks, map)?),
        Some(Err(reason)) => blocks.push(not_computed(reason)),
        None => {}
    }
    for (place, (group, slides)) in walks.slides.iter().enumerate() {
        blocks.push(Block::heading(format!("Position told by \"{group}\"")));
        match slides {
            Ok(slides) => blocks.extend(of_slides(facts, walks, place, group, slides)?),
            Err(reason) => blocks.push(not_computed(reason)),
        }
    }
    Ok(blocks)
}

/// Name of the supply of all walks.
fn supply<'f>(facts: &'f Facts<'_>) -> &'f str {
    let supplies = &facts.order.panel.usage.supplies.value;
    supplies.first().map_or("", |supply| &supply.name)
}

/// The threshold that is drawn: one for all pads.
fn threshold(facts: &Facts<'_>) -> Option<(f64, &'static str)> {
    let choice = facts.decided()?.common.choice?;
    Some((choice.threshold, "threshold of window"))
}

fn of_walk(facts: &Facts<'_>, walks: &Walks, walk: &Walk) -> Result<Vec<Block>, ChartError> {
    let panel = facts.order.panel;
    let [along, other] = walk.direction.names();
    let threshold = threshold(facts);
    let mut blocks = Vec::new();
    for (place, curve) in walk.curves.iter().enumerate() {
        let chart = walk_picture(panel, walk, place, threshold, &walks.assumption);
        let words = [
            &format!("walk-{}", place + 1),
            &format!(
                "Counts of every pad while finger \"{}\" walks along {along} at {other} = {} mm",
                curve.finger,
                fixed(walk.fixed.mm(), 1)
            ),
            &format!(
                "Line chart of the counts of every pad over the place of finger \"{}\"; the largest are in the table \
                 below.",
                curve.finger
            ),
        ];
        blocks.push(figure(
            &chart,
            words.map(String::as_str),
            &facts.walk_command(),
        )?);
    }
    let answer = report(
        panel,
        walk,
        None,
        supply(facts),
        threshold,
        &walks.assumption,
    );
    blocks.extend(answer.extract(&facts.walk_command()));
    Ok(blocks)
}

fn of_map(facts: &Facts<'_>, walks: &Walks, map: &TouchMap) -> Result<Block, ChartError> {
    let chart = map_picture(facts.order.panel, map, threshold(facts), &walks.assumption);
    let words = [
        "touch-map",
        &format!(
            "Counts of the strongest pad for every place of finger \"{}\"",
            map.finger
        ),
        &format!(
            "Map of the counts of the strongest pad over the face of the panel for finger \"{}\", pads outlined, the \
             threshold as a contour.",
            map.finger
        ),
    ];
    figure(&chart, words, &facts.walk_command())
}

fn of_slides(
    facts: &Facts<'_>,
    walks: &Walks,
    place: usize,
    group: &str,
    slides: &[Slide],
) -> Result<Vec<Block>, ChartError> {
    let command = format!("{} --slider {}", facts.walk_command(), quoted(group));
    let charts = slide_pictures(&facts.response.title, slides, &walks.assumption);
    let stacked = Stacked::new(&charts[0].title, &charts)?;
    let words = [
        &format!("slider-{}", place + 1),
        &format!("Position told by \"{group}\" against the true one, and below it the difference"),
        &format!(
            "Two line charts over the true position of a finger on \"{group}\": the position told, and how far it is \
             off; the largest deviation is in the table below."
        ),
    ];
    let mut blocks = vec![figure(&stacked, words.map(String::as_str), &command)?];
    blocks.extend(slide_report(slides, supply(facts)).extract(&command));
    Ok(blocks)
}
