//! What an interrupted window knows already: the events of the touches that were solved.

use super::asked::{Asked, asked};
use super::decide::ratio;
use super::gather::{count_all, is_worse, touch_events};
use crate::event::{Event, Group, InputEnds};
use crate::rounding::{significant, window_ratio};
use crate::sensitivity::PanelFamily;
use crate::touch::{
    KeptTouches, TouchError, TouchOptions, TouchPlace, WorkLimits, kept_touches, known_words,
};

/// The events of a part of the touches.
#[derive(Clone, Debug, PartialEq)]
pub struct SoFar {
    /// Touches that are solved, and all that have to be: mirror images are solved once.
    pub touches: [usize; 2],
    /// Name of every pad, and its weakest true and strongest false event.
    pub pads: Vec<(String, [Option<Event>; 2])>,
}

impl SoFar {
    /// Of the touches whose fields are kept. Layers are at nominal values.
    ///
    /// # Errors
    /// The panel does not fit its model.
    pub fn of(family: &PanelFamily, limits: &WorkLimits<'_>) -> Result<Self, TouchError> {
        let panel = &family.panel;
        let asked = asked(panel);
        let places: Vec<TouchPlace> = asked.iter().map(|one| one.place.clone()).collect();
        let KeptTouches {
            places: known,
            touches,
            problems,
        } = kept_touches(panel, &places, TouchOptions::default(), limits)?;
        let asked = asked.into_iter().enumerate();
        let asked: Vec<Asked> = asked
            .filter(|(index, _)| known.binary_search(index).is_ok())
            .map(|(_, one)| one)
            .collect();
        let shown = touches.all_pads()?;
        let mut events = touch_events(panel, &asked, &touches, &shown)?;
        count_all(
            &mut events,
            &InputEnds::new(family),
            panel.usage.noise_margin.value,
        );
        let worst = |pad: usize, group: Group| {
            let all = events.iter().map(|(event, _)| event);
            let own = all.filter(|event| event.pad == pad && event.group == group);
            let worst = own.reduce(|worst, event| match is_worse(event, worst) {
                true => event,
                false => worst,
            });
            worst.cloned()
        };
        let pads = panel.pads.iter().enumerate();
        Ok(Self {
            touches: [touches.problems(), problems],
            pads: pads
                .map(|(index, pad)| {
                    let pair = [Group::True, Group::False].map(|group| worst(index, group));
                    (pad.name.clone(), pair)
                })
                .collect(),
        })
    }

    /// The same of one pad: the one of that name, or the one whose window is narrowest by what is known.
    #[must_use]
    pub fn of_pad(mut self, name: Option<&str>) -> Self {
        let width = |pair| most_ratio(pair).unwrap_or(f64::INFINITY);
        let pads = self.pads.iter();
        let narrowest = pads.min_by(|a, b| width(&a.1).total_cmp(&width(&b.1)));
        let name = name.or(narrowest.map(|(name, _)| name.as_str()));
        let name = name.map(str::to_owned);
        self.pads.retain(|(pad, _)| Some(pad) == name.as_ref());
        self
    }

    /// In words, a line for every pad of which anything is known.
    pub fn words(&self) -> String {
        let mut text = known_words(self.touches);
        if self.touches[0] > 0 {
            text += "; with layers at nominal values and these events alone, to which the others can only add worse ones:";
        }
        for (name, pair) in &self.pads {
            let bound = |event: &Option<Event>| event.as_ref().map(|event| event.bound);
            let counts = |bound: Option<f64>| match bound {
                Some(bound) => format!("{} counts", significant(bound, 3)),
                None => "not known".to_owned(),
            };
            let [weakest, strongest] = pair.each_ref().map(bound);
            if weakest.is_none() && strongest.is_none() {
                continue;
            }
            text += &format!(
                "\n  {name}: weakest true {}, strongest false {}",
                counts(weakest),
                counts(strongest)
            );
            if let Some(ratio) = most_ratio(pair) {
                text += &format!(", W at most {}", window_ratio(ratio));
            }
        }
        text
    }
}

/// Window ratio of the weakest true and the strongest false event, where both are known.
fn most_ratio([weakest, strongest]: &[Option<Event>; 2]) -> Option<f64> {
    Some(ratio(weakest.as_ref()?.bound, strongest.as_ref()?.bound))
}
