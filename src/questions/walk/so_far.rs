//! What an interrupted walk knows already: the counts at the places that are solved.

use super::slide::slid;
use super::{
    Counted, Direction, PlaceCounts, Stroke, counted, of_strongest, on_pad, rastered, read_beside,
    segments, slide_along, stroke, walked,
};
use crate::panel::{Finger, Pad, Panel, Slider, Supply};
use crate::rounding::{fixed, rounded_with_error};
use crate::touch::{TouchError, TouchOptions, TouchPlace, WorkLimits, kept_touches};

/// Of a walk along a line, in words.
///
/// # Errors
/// The panel does not fit its model.
pub fn walk_so_far(
    panel: &Panel,
    fingers: &[Finger],
    supply: &Supply,
    through: usize,
    direction: Direction,
    limits: &WorkLimits<'_>,
) -> Result<String, TouchError> {
    let asked = walked(panel, fingers, through, direction);
    let asked = (&asked[..], TouchOptions::default());
    Ok(format!("walk: {}", peaks(panel, supply, asked, limits)?))
}

/// Of a map over the face, in words; none where there is no map.
///
/// # Errors
/// The panel does not fit its model.
pub fn map_so_far(
    panel: &Panel,
    finger: &Finger,
    supply: &Supply,
    limits: &WorkLimits<'_>,
) -> Result<Option<String>, TouchError> {
    let told = rastered(panel, finger, limits.settings.accuracy).map(|(_, asked)| {
        let first = kept_touches(panel, &on_pad(panel, &asked), of_strongest(), limits)?;
        let options = read_beside(panel, supply, &first.touches)?;
        let peaks = peaks(panel, supply, (&asked, options), limits)?;
        Ok(format!("map: {peaks}"))
    });
    told.transpose()
}

/// Of fingers along a slider or around a wheel, in words.
///
/// # Errors
/// The panel does not fit its model.
pub fn slides_so_far(
    panel: &Panel,
    slider: &Slider,
    fingers: &[Finger],
    supply: &Supply,
    limits: &WorkLimits<'_>,
) -> Result<String, TouchError> {
    let whole = stroke(panel, slider);
    let each = fingers.iter().map(|finger| {
        let asked = slid(panel, slider, finger, &whole);
        let options = TouchOptions {
            only: Some(&segments(panel, slider)),
            ..TouchOptions::default()
        };
        let kept = kept_touches(panel, &asked, options, limits)?;
        let known = || kept.places.iter();
        let part = Stroke {
            positions: known().map(|&place| whole.positions[place]).collect(),
            places: known().map(|&place| whole.places[place]).collect(),
        };
        let slide = slide_along(panel, slider, finger, supply, &part, &kept.touches, 0)?;
        let off = |place: &&super::SlidePlace| place.deviation().mm().abs();
        let worst = slide.live().max_by(|a, b| off(a).total_cmp(&off(b)));
        let worst = worst.map_or_else(String::new, |place| {
            format!(
                "; largest deviation among them {} mm, at {} mm",
                rounded_with_error(off(&place), place.estimate_error.mm()),
                fixed(place.position.mm(), 1)
            )
        });
        Ok(format!("{}: {}{worst}", finger.name, kept.words()))
    });
    Ok(each.collect::<Result<Vec<_>, TouchError>>()?.join("\n"))
}

/// Per finger the pads that have shown least and most, each at its best place.
fn peaks(
    panel: &Panel,
    supply: &Supply,
    (asked, options): (&[TouchPlace], TouchOptions<'_>),
    limits: &WorkLimits<'_>,
) -> Result<String, TouchError> {
    let kept = kept_touches(panel, asked, options, limits)?;
    let Counted { by_pad, .. } = counted(panel, supply, &kept.touches, 0..kept.places.len())?;
    let mut text = kept.words();
    let mut fingers: Vec<&str> = asked.iter().map(|place| &*place.finger.name).collect();
    fingers.dedup();
    for finger in fingers {
        let peak = |counts: &Vec<Option<PlaceCounts>>| {
            let places = kept.places.iter().map(|&index| &asked[index]);
            let own = places
                .zip(counts)
                .filter(|(place, _)| place.finger.name == finger);
            let known = own.filter_map(|(place, counts)| Some((place, (*counts)?)));
            known.max_by(|a, b| a.1.value.total_cmp(&b.1.value))
        };
        let mut peaks: Vec<_> = by_pad
            .iter()
            .zip(&panel.pads)
            .filter_map(|(counts, pad)| Some((pad, peak(counts)?)))
            .collect();
        peaks.sort_by(|a, b| a.1.1.value.total_cmp(&b.1.1.value));
        let words = |(pad, (place, counts)): &(&Pad, (&TouchPlace, PlaceCounts))| {
            let at = [0, 1].map(|axis| {
                let at = panel.pads[place.pad].centre[axis] + place.finger.offset[axis];
                fixed(at.mm(), 1)
            });
            format!(
                "{} on \"{}\" at {} mm",
                rounded_with_error(counts.value, counts.error),
                pad.name,
                at.join(", ")
            )
        };
        if let (Some(least), Some(most)) = (peaks.first(), peaks.last()) {
            text += &format!(
                "\n  {finger}: largest count shift among them {}; smallest of a pad at its best place {}",
                words(most),
                words(least)
            );
        }
    }
    Ok(text)
}
