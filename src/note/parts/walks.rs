//! What a finger does on its way over the panel: along a line, over the face, along sliders.

use crate::note::facts::{Facts, Walks};
use crate::note::words::{counts, quoted};
use crate::panel::Origin;
use crate::questions::walk::{
    AMBIGUOUS_RATIO, Slide, Stretch, TouchMap, Walk, acting, ambiguous, map_picture,
    slide_pictures, walk_picture,
};
use crate::report::{Block, Figure, Table};
use crate::rounding::{fixed, rounded_with_error, significant};
use padfield_chart::{Chart, ChartError, Stacked};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let Some(walks) = &facts.walks else {
        return Ok(vec![Block::paragraph("Left out of this note.")]);
    };
    let mut blocks = match &walks.walk {
        Ok(walk) => of_walk(facts, walks, walk)?,
        Err(reason) => vec![not_computed(reason)],
    };
    match &walks.map {
        Some(Ok(map)) => blocks.push(Block::Figure(of_map(facts, walks, map)?)),
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

fn not_computed(reason: &str) -> Block {
    Block::paragraph(format!("Not computed: {reason}."))
}

/// The threshold that is drawn: one for all pads.
fn threshold(facts: &Facts<'_>) -> Option<(f64, &'static str)> {
    let choice = facts.decided()?.common.choice?;
    Some((choice.threshold, "threshold of window"))
}

fn stretches(stretches: &[Stretch]) -> String {
    if stretches.is_empty() {
        return "nowhere".to_owned();
    }
    let each = stretches.iter().map(|stretch| {
        format!(
            "{} to {}",
            fixed(stretch.low_mm, 1),
            fixed(stretch.high_mm, 1)
        )
    });
    each.collect::<Vec<_>>().join(", ")
}

fn of_walk(facts: &Facts<'_>, walks: &Walks, walk: &Walk) -> Result<Vec<Block>, ChartError> {
    let panel = facts.order.panel;
    let [along, other] = walk.direction.names();
    let threshold = threshold(facts);
    let mut table = Table::new(
        format!(
            "Largest count shift of every pad along {along} at {other} = {} mm",
            fixed(walk.fixed.mm(), 1)
        ),
        &[
            "finger",
            "pad",
            "largest count shift",
            "at, mm",
            "acts from .. to, mm",
        ],
        2,
    );
    table.command = facts.walk_command();
    for curve in &walk.curves {
        for (index, pad) in panel.pads.iter().enumerate() {
            let Some((place, peak)) = curve.peak(index) else {
                continue;
            };
            table.row(vec![
                curve.finger.clone(),
                pad.name.clone(),
                rounded_with_error(peak.value, peak.error),
                fixed(walk.places[place].mm(), 1),
                threshold.map_or("no threshold".to_owned(), |(counts, _)| {
                    stretches(&acting(walk, curve, index, counts))
                }),
            ]);
        }
    }
    let floor = threshold.map_or(0.0, |(counts, _)| counts);
    let each = walk.curves.iter().map(|curve| {
        format!(
            "{}: {}",
            curve.finger,
            stretches(&ambiguous(walk, curve, AMBIGUOUS_RATIO, floor))
        )
    });
    table.remark = format!(
        "{}Where the second pad has more than {:.0} % of the first (common practice, no source), mm: {}.",
        threshold.map_or(String::new(), |(threshold, _)| format!(
            "A pad acts from {} counts on, the threshold for all pads. ",
            counts(threshold)
        )),
        100.0 * AMBIGUOUS_RATIO,
        each.collect::<Vec<_>>().join("; ")
    );
    let mut blocks = Vec::new();
    for (place, curve) in walk.curves.iter().enumerate() {
        let chart = walk_picture(panel, walk, place, threshold, &walks.assumption);
        blocks.push(Block::Figure(Figure {
            name: format!("walk-{}", place + 1),
            caption: format!(
                "Counts of every pad while finger \"{}\" walks along {along} at {other} = {} mm",
                curve.finger,
                fixed(walk.fixed.mm(), 1)
            ),
            alternative: format!(
                "Line chart of the counts of every pad over the place of finger \"{}\"; the largest are in the \
                 table below.",
                curve.finger
            ),
            svg: chart.svg()?,
            command: facts.walk_command(),
        }));
    }
    blocks.push(Block::Table(table));
    Ok(blocks)
}

fn of_map(facts: &Facts<'_>, walks: &Walks, map: &TouchMap) -> Result<Figure, ChartError> {
    let chart = map_picture(facts.order.panel, map, threshold(facts), &walks.assumption);
    Ok(Figure {
        name: "touch-map".to_owned(),
        caption: format!(
            "Counts of the strongest pad for every place of finger \"{}\"",
            map.finger
        ),
        alternative: format!(
            "Map of the counts of the strongest pad over the face of the panel for finger \"{}\", pads outlined, \
             the threshold as a contour.",
            map.finger
        ),
        svg: chart.svg()?,
        command: facts.walk_command(),
    })
}

fn of_slides(
    facts: &Facts<'_>,
    walks: &Walks,
    place: usize,
    group: &str,
    slides: &[Slide],
) -> Result<Vec<Block>, ChartError> {
    let command = format!("{} --slider {}", facts.walk_command(), quoted(group));
    let mut table = Table::new(
        format!("What \"{group}\" makes of a finger along it"),
        &[
            "finger",
            "largest deviation, mm",
            "ripple of the total, %",
            "resolution, mm rms",
            "dead zones, mm",
        ],
        1,
    );
    for slide in slides {
        let error = slide.places.iter().map(|place| place.estimate_error.mm());
        table.row(vec![
            slide.finger.clone(),
            rounded_with_error(slide.linearity().mm(), error.fold(0.0, f64::max)),
            significant(100.0 * slide.ripple(), 2),
            significant(slide.resolution().mm(), 2),
            slide.dead_zone_words(),
        ]);
    }
    table.command.clone_from(&command);
    table.remark = slides.first().map_or_else(String::new, |slide| {
        let limits = slide.limits;
        format!(
            "Limits: deviation {}, ripple {}, dead zones {}. In a dead zone the told position moves less than \
             half as far as the finger.",
            limit(limits.deviation.origin, &format!("{} mm", limits.deviation.value.mm())),
            limit(limits.ripple.origin, &format!("{} %", 100.0 * limits.ripple.value)),
            limit(limits.dead_zone.origin, &format!("{} mm", limits.dead_zone.value.mm())),
        )
    });
    let charts = slide_pictures(&facts.response.title, slides, &walks.assumption);
    let stacked = Stacked::new(&charts[0].title, &charts)?;
    Ok(vec![
        Block::Figure(Figure {
            name: format!("slider-{}", place + 1),
            caption: format!(
                "Position told by \"{group}\" against the true one, and below it the difference"
            ),
            alternative: format!(
                "Two line charts over the true position of a finger on \"{group}\": the position told, and how \
                 far it is off; the largest deviation is in the table below."
            ),
            svg: stacked.svg()?,
            command,
        }),
        Block::Table(table),
    ])
}

fn limit(origin: Origin, value: &str) -> String {
    match origin {
        Origin::Given => value.to_owned(),
        Origin::Default => format!("{value} (common practice, no source)"),
    }
}
