//! Whether a threshold exists, which one, and what it rests on.

use super::{figure, left_out, told};
use crate::note::facts::Facts;
use crate::questions::slider;
use crate::questions::window::{pad_name, picture, report, verdict};
use crate::report::Block;
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let window = match &facts.window {
        None => return Ok(left_out()),
        Some(Err(reason)) => {
            return Ok(vec![Block::paragraph(format!("Not decided: {reason}."))]);
        }
        Some(Ok(window)) => window,
    };
    let panel = facts.order.panel;
    let binding = window.binding();
    let binds = binding.weakest_true.is_some();
    let answer = report(panel, window, facts.levers.as_ref(), binds);
    let mut blocks = answer.extract(&match binds {
        true => format!("{} --events", facts.window_command()),
        false => facts.window_command(),
    });
    if binds {
        let pad = pad_name(window, binding);
        let words = [
            "window",
            &format!("Events that pad \"{pad}\", the narrowest, must and must not act on."),
            &format!(
                "Threshold window of pad \"{pad}\": {} Numbers in the table of events below.",
                verdict(panel, window)
            ),
        ];
        let chart = picture(&facts.response.title, window, binding);
        let figure = figure(&chart, words, &facts.window_command())?;
        // After the verdict and the thresholds.
        blocks.insert(2, figure);
    }
    if let Some(sliders) = &facts.sliders {
        let answer = sliders.as_ref().map(|sliders| slider::report(sliders));
        blocks.extend(told(answer, &facts.window_command()));
    }
    Ok(blocks)
}
