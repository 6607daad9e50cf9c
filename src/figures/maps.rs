//! Heat maps: a quantity over two numbers, with the limits of every reported quantity as contours.

use super::caption::assumption;
use super::names::{file_name, in_title, limit_line, quantity_axis, variable_axis};
use super::sheet::{Choice, Grid, Parts, Sheet, number_of, value_of};
use super::{Figure, Figures, Picture};
use padfield_chart::{HeatMap, MapLimit, MapPanel};

/// The maps of one reported quantity (by its number in the report).
pub(super) fn draw(
    sheet: &Sheet<'_>,
    grid: &Grid<'_>,
    parts: &Parts,
    number: usize,
    into: &mut Figures,
) {
    let Some(y) = parts.y else { return };
    let quantity = &sheet.study().report[number];
    let pages = grid.pages(parts);
    into.tell_pages(quantity, grid.count(&parts.pages));
    for (at, page) in pages.iter().enumerate() {
        let mut name = file_name(&format!("{quantity} map"));
        if pages.len() > 1 {
            name += &format!("-{}", at + 1);
        }
        match picture(sheet, grid, parts.x, y, parts.panels, page, number) {
            Some(picture) => into.figures.push(Figure {
                name,
                picture,
                notes: Vec::new(),
            }),
            None => into.left_out.push(format!("{name}: no point has a number")),
        }
    }
}

/// Values of a reported quantity over the two axes, row by row.
fn values(grid: &Grid<'_>, x: usize, y: usize, fixed: &Choice, number: usize) -> Vec<f64> {
    (0..grid.numbers(y).len())
        .flat_map(|row| {
            let choice = [fixed.as_slice(), &[(y, row)]].concat();
            grid.line(x, &choice, value_of(number))
        })
        .map(|reading| reading.value)
        .collect()
}

fn limits(
    sheet: &Sheet<'_>,
    number: usize,
    values_of: impl Fn(usize) -> Vec<f64>,
) -> Vec<MapLimit> {
    let study = sheet.study();
    let contour = |limit: &crate::study::Limit| {
        let other = number_of(study, &limit.quantity)?;
        let unit = limit.quantity.kind.unit();
        let mut contour = MapLimit::shown(limit_line(limit), unit);
        if other != number {
            contour.name = limit.quantity.to_string();
            contour.values = Some(values_of(other));
        }
        Some(contour)
    };
    study.limits.iter().filter_map(contour).collect()
}

fn picture(
    sheet: &Sheet<'_>,
    grid: &Grid<'_>,
    x: usize,
    y: usize,
    panels: Option<usize>,
    page: &Choice,
    number: usize,
) -> Option<Picture> {
    let quantity = &sheet.study().report[number];
    let panel_parts: Vec<usize> = panels.into_iter().collect();
    let panels: Vec<MapPanel> = grid
        .choices(&panel_parts)
        .iter()
        .map(|choice| {
            let fixed = [page.as_slice(), choice].concat();
            let values_of = |number| values(grid, x, y, &fixed, number);
            MapPanel {
                title: grid.words(choice),
                values: values_of(number),
                limits: limits(sheet, number, values_of),
            }
        })
        .filter(|panel| panel.values.iter().any(|value| value.is_finite()))
        .collect();
    if panels.is_empty() {
        return None;
    }
    let axis = |dimension: usize| {
        let numbers = grid.numbers(dimension);
        let variable = sheet.variable(grid.dimensions[dimension].variable);
        (variable_axis(variable, &numbers), numbers)
    };
    let ((x, x_values), (y, y_values)) = (axis(x), axis(y));
    let all: Vec<f64> = panels.iter().flat_map(|p| &p.values).copied().collect();
    let value = quantity_axis(quantity, &all);
    let mut title = format!(
        "{} over {} and {}",
        in_title(quantity, sheet.most_pads > 1),
        x.label,
        y.label
    );
    if !page.is_empty() {
        title += &format!(" ({})", grid.words(page));
    }
    let assumption = assumption(sheet, "");
    Some(Picture::Map(HeatMap {
        computed_every: 1,
        title,
        x,
        y,
        value,
        x_values,
        y_values,
        panels,
        assumption,
        ..HeatMap::default()
    }))
}
