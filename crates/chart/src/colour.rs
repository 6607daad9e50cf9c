//! Colours that survive grey-scale print and colour blindness.

use std::fmt;

/// Red, green and blue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(red, green, blue) = self;
        write!(f, "#{red:02X}{green:02X}{blue:02X}")
    }
}

/// Text and limit lines.
pub const INK: Colour = Colour(26, 26, 26);
/// Secondary text.
pub const GREY: Colour = Colour(90, 90, 90);
/// Frames and bars of intervals.
pub const LIGHT: Colour = Colour(190, 190, 190);
/// Grid lines.
pub const FAINT: Colour = Colour(228, 228, 228);
/// Paper.
pub const PAPER: Colour = Colour(255, 255, 255);

/// Series colours by Okabe and Ito (2008), "Color Universal Design", without the yellow that
/// vanishes on white; ordered so that neighbours differ in lightness.
const SERIES: [Colour; 7] = [
    Colour(0, 114, 178),
    Colour(230, 159, 0),
    Colour(0, 158, 115),
    Colour(86, 180, 233),
    Colour(213, 94, 0),
    Colour(204, 121, 167),
    Colour(70, 70, 70),
];

/// Colour of the series with this number; they repeat after seven.
pub fn series(number: usize) -> Colour {
    SERIES[number % SERIES.len()]
}

/// Every eighth of the viridis map by van der Walt and Smith (2015, CC0), dark to light.
const VIRIDIS: [[f64; 3]; 9] = [
    [68.0, 1.0, 84.0],
    [71.0, 44.0, 122.0],
    [59.0, 81.0, 139.0],
    [44.0, 113.0, 142.0],
    [33.0, 144.0, 141.0],
    [39.0, 173.0, 129.0],
    [92.0, 200.0, 99.0],
    [170.0, 220.0, 50.0],
    [253.0, 231.0, 37.0],
];

/// Colour of a value at `fraction` of a map's range: dark is low, light is high.
pub fn viridis(fraction: f64) -> [u8; 3] {
    let at = fraction.clamp(0.0, 1.0) * (VIRIDIS.len() - 1) as f64;
    let lower = (at as usize).min(VIRIDIS.len() - 2);
    let t = at - lower as f64;
    std::array::from_fn(|channel| {
        let (a, b) = (VIRIDIS[lower][channel], VIRIDIS[lower + 1][channel]);
        (a + t * (b - a)).round() as u8
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance of Rec. 709, without the display curve: enough to order colours.
    fn lightness([r, g, b]: [u8; 3]) -> f64 {
        let linear = |c: u8| (f64::from(c) / 255.0).powf(2.2);
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    }

    #[test]
    fn the_map_gets_lighter_all_the_way() {
        let mut last = -1.0;
        for step in 0..=64 {
            let here = lightness(viridis(f64::from(step) / 64.0));
            assert!(here > last, "step {step}");
            last = here;
        }
    }

    #[test]
    fn neighbouring_series_differ_in_grey_scale() {
        for number in 0..6 {
            let grey = |c: Colour| lightness([c.0, c.1, c.2]);
            let (a, b) = (grey(series(number)), grey(series(number + 1)));
            let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
            assert!(contrast > 1.15, "series {number}: {contrast}");
        }
    }
}
