//! The pictures inside a heat map: the map itself and its colour scale, as PNG with a palette.

use crate::canvas::Rect;
use crate::colour;
use crate::contour::ValueGrid;

/// Palette entry of an absent value: fully transparent.
const ABSENT: u8 = 255;
/// Palette entries that carry colours.
const SHADES: usize = 255;

/// The map: fractions of the colour scale, interpolated bilinearly between the places of the grid, at
/// one pixel per chart unit. A cell with an absent corner is left out.
pub fn map(grid: &ValueGrid, frame: Rect) -> Vec<u8> {
    let pixels = |length: f64| (length.round() as usize).max(1);
    let (width, height) = (pixels(frame.width()), pixels(frame.height()));
    let centre = |pixel: usize, count: usize| (pixel as f64 + 0.5) / count as f64;
    let columns: Vec<Option<(usize, f64)>> = (0..width)
        .map(|i| cell(grid.x, frame.left + frame.width() * centre(i, width)))
        .collect();
    let mut shades = Vec::with_capacity(width * height);
    for j in 0..height {
        let row = cell(grid.y, frame.top + frame.height() * centre(j, height));
        for column in &columns {
            shades.push(match (column, row) {
                (Some(column), Some(row)) => shade(between(grid, *column, row)),
                _ => ABSENT,
            });
        }
    }
    encoded(width, height, &shades)
}

/// The colour scale: one pixel wide, low values at the bottom.
pub fn scale() -> Vec<u8> {
    let shades: Vec<u8> = (0..SHADES as u8).rev().collect();
    encoded(1, SHADES, &shades)
}

/// The interval of rising or falling places that holds `at`, and how far into it.
fn cell(places: &[f64], at: f64) -> Option<(usize, f64)> {
    places.windows(2).enumerate().find_map(|(number, pair)| {
        let t = (at - pair[0]) / (pair[1] - pair[0]);
        (0.0..=1.0).contains(&t).then_some((number, t))
    })
}

fn between(grid: &ValueGrid, (column, s): (usize, f64), (row, t): (usize, f64)) -> f64 {
    let at = |i: usize, j: usize| grid.values[j * grid.x.len() + i];
    let low = (1.0 - s) * at(column, row) + s * at(column + 1, row);
    let high = (1.0 - s) * at(column, row + 1) + s * at(column + 1, row + 1);
    (1.0 - t) * low + t * high
}

fn shade(fraction: f64) -> u8 {
    if fraction.is_finite() {
        (fraction.clamp(0.0, 1.0) * (SHADES - 1) as f64).round() as u8
    } else {
        ABSENT
    }
}

fn encoded(width: usize, height: usize, shades: &[u8]) -> Vec<u8> {
    let palette: Vec<u8> = (0..=SHADES)
        .flat_map(|entry| colour::viridis(entry as f64 / (SHADES - 1) as f64))
        .collect();
    let mut opacity = vec![255; SHADES];
    opacity.push(0);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width as u32, height as u32);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_palette(palette);
    encoder.set_trns(opacity);
    encoder
        .write_header()
        .and_then(|mut writer| {
            writer.write_image_data(shades)?;
            writer.finish()
        })
        .expect("a picture in memory has room, and as many shades as pixels");
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixels_follow_the_values() {
        let frame = Rect {
            left: 0.0,
            top: 0.0,
            right: 100.0,
            bottom: 50.0,
        };
        // Low on the left, high on the right, nothing known at the upper right corner.
        let grid = ValueGrid {
            x: &[0.0, 50.0, 100.0],
            y: &[50.0, 25.0, 0.0],
            values: &[0.0, 0.5, 1.0, 0.0, 0.5, 1.0, 0.0, 0.5, f64::NAN],
        };
        let bytes = map(&grid, frame);
        let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
            .read_info()
            .expect("a PNG header");
        let mut shades = vec![0; 100 * 50];
        reader.next_frame(&mut shades).expect("pixels");
        let at = |x: usize, y: usize| shades[y * 100 + x];
        assert_eq!(at(0, 49), shade(0.005));
        assert_eq!(at(99, 49), shade(0.995));
        assert_eq!(at(40, 10), shade(0.405));
        assert_eq!(at(75, 10), ABSENT);
    }
}
