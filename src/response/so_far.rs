//! What an interrupted question about touches of pads knows already: base and touch shift of those that are solved.

use super::compute::{Request, ResponseError, asked, find_finger};
use super::pads::estimated;
use crate::panel::Panel;
use crate::touch::{
    KeptTouches, TouchOptions, TouchPlace, WorkLimits, kept_touches, on_single_pads,
};

/// Of the touches of a request whose fields are kept, in words.
///
/// # Errors
/// See [`ResponseError`].
pub fn pads_so_far(request: &Request, limits: &WorkLimits<'_>) -> Result<String, ResponseError> {
    // Over tolerances they are solved with derivatives, or without where these do not fit.
    let [plain, differentiated] = [false, true].map(|with_derivatives| {
        let (places, options) = asked(request, with_derivatives)?;
        let kept = kept_touches(request.panel, &places, options, limits)?;
        Ok::<_, ResponseError>((places, kept))
    });
    let (plain, differentiated) = (plain?, differentiated?);
    let (places, kept) = match differentiated.1.places.len() > plain.1.places.len() {
        true => differentiated,
        false => plain,
    };
    told(request.panel, &places, &kept)
}

/// The same of a finger on every pad that is measured on its own.
///
/// # Errors
/// See [`ResponseError`].
pub fn single_pads_so_far(
    panel: &Panel,
    finger: Option<&str>,
    limits: &WorkLimits<'_>,
) -> Result<String, ResponseError> {
    let places = on_single_pads(panel, find_finger(panel, finger)?);
    let kept = kept_touches(panel, &places, TouchOptions::default(), limits)?;
    told(panel, &places, &kept)
}

/// A line for every pad whose touch is known.
fn told(panel: &Panel, places: &[TouchPlace], kept: &KeptTouches) -> Result<String, ResponseError> {
    let mut text = kept.words();
    for (index, &place) in kept.places.iter().enumerate() {
        let TouchPlace { finger, pad } = &places[place];
        let seen = kept.touches.seen(index, finger.return_path)?;
        if let (Some(base), Some(shift)) = (seen.bases[*pad], seen.shifts[*pad]) {
            text += &format!(
                "\n  {}: base {} pF, touch shift {} pF",
                panel.pads[*pad].name,
                estimated(base.estimate).shown(),
                estimated(shift).shown()
            );
        }
    }
    Ok(text)
}
