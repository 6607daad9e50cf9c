//! Screen depths of copper patterns: how much field leaks through a fine hatch or grating.
//!
//! Takes pitch and line width \[m\]; gives the [`ScreenDepth`] that a [`Screen`](crate::case::Screen)
//! asks for; fails on widths that make no pattern, or when the field engine fails.
//!
//! # What the depth is
//!
//! Take a pattern of copper at 0 V in a plane, the same field from above and from below. By symmetry
//! no field crosses the openings, whatever the permittivities above and below are, and away from the
//! plane the potential is that of a solid sheet, shifted by a length: phi = E (|z| + 2 depth). A field
//! that passes through, phi = E z/eps on either side, does not see the pattern at all. Every other far field is a sum
//! of the two, so that at the plane the potential is continuous and the normal displacement jumps by
//! `vacuum permittivity x (eps_below + eps_above)/2 / depth x phi`: exactly, with layers thicker than
//! the pitch and fields that vary little over it. The next field of the pattern falls off as
//! exp(-2 pi z/pitch).
//!
//! # Where it holds
//!
//! From half a pitch away upwards. The field engine on copper drawn line by line against the same
//! with a screen, off by at most (`crates/engine/tests/hatch.rs` prints and holds the figures):
//!
//! | | height over pitch | base of a pad | coupling through the pattern |
//! |---|---|---|---|
//! | strips, width 0.1 to 0.6 of the pitch, cross-section | 0.25 | 1.6 % | 6.2 % |
//! | | 0.5 | 0.15 % | 0.8 % |
//! | | 1 | 0.02 % | 0.4 % |
//! | | 2 | 0.04 % | 1.8 % |
//! | square hatch, width 0.1 to 0.5 of the pitch, volume | 0.25 | 0.5 % | 4.5 % |
//! | | 0.5 | 0.1 % | 2.1 % |
//! | | 0.8 | 0.1 % | 1.9 % |
//! | | 1.5 | 0.1 % | 2.1 % |
//!
//! A pad of 8 to 9 mm over 21 mm of strips with 1 mm of pitch, the plate as far behind; a pad of 6 mm
//! over 10 mm of hatch with 2 mm of pitch, the plate 1.6 mm behind. What is left at large heights is
//! the edge of the pattern, on a coupling that is a few percent of the base.
//!
//! **Edges.** A pattern that is cut half a pitch after its last line ends where a screen of the same
//! outline ends; one that ends in a line reaches beyond it. [`reach_beyond_last_line_m`] says how far. Where
//! the cut falls between two lines is not known, the outline of the copper is the best guess, within a
//! quarter of the pitch.
//!
//! **Thick copper.** The screen lies in the middle of the copper. For the same field from both
//! sides its thickness is in the depth; that a field which passes through meets copper as thick as that
//! is left out, at most half the thickness of each layer beside it.
//!
//! # Example
//!
//! ```
//! use padfield_engine::hatch::{grating_depth_m, square_hatch_depth};
//!
//! // Thin lines 0.2 mm wide every 2 mm both ways leak less than the same lines in one direction.
//! let hatch = square_hatch_depth(2e-3, 0.2e-3, 0.0)?;
//! assert!(hatch.depth_m < grating_depth_m(2e-3, 0.2e-3)?);
//! assert!((hatch.depth_m - 0.2601e-3).abs() < 0.0005e-3);
//! # Ok::<(), padfield_engine::hatch::HatchError>(())
//! ```

mod unit_cell;

use crate::field::FieldError;
use std::f64::consts::PI;

/// Screen depth of a pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScreenDepth {
    /// Depth \[m\]; 0 for a solid sheet and where thick copper all but closes its openings: then a
    /// solid piece is to be drawn, as [`Screen`](crate::case::Screen) takes no depth of 0.
    pub depth_m: f64,
    /// Estimated error of the depth \[m\].
    pub estimated_error_m: f64,
    /// Guaranteed lower and upper bound of the depth \[m\].
    pub interval_m: [f64; 2],
}

/// Why there is no screen depth.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum HatchError {
    /// Pitch, width and thickness make no pattern.
    #[error(
        "lines {width_m} m wide and {thickness_m} m thick every {pitch_m} m are no hatch: the width \
         must lie between a thousandth of the pitch and the pitch, the thickness between 0 and the pitch"
    )]
    NoPattern {
        /// Pitch \[m\].
        pitch_m: f64,
        /// Width of the lines \[m\].
        width_m: f64,
        /// Thickness of the lines \[m\].
        thickness_m: f64,
    },
    /// The unit cell was not solved.
    #[error("the unit cell of the hatch was not solved: {0}")]
    Field(#[from] FieldError),
}

/// Thinnest lines over the pitch: what no board has and no grid would resolve.
const THINNEST_SHARE: f64 = 1e-3;

/// Width and thickness over pitch, the former between a thousandth and 1, the latter from 0 to 1.
fn shares(pitch_m: f64, width_m: f64, thickness_m: f64) -> Result<[f64; 2], HatchError> {
    let (width, thickness) = (width_m / pitch_m, thickness_m / pitch_m);
    let fine = pitch_m.is_finite()
        && pitch_m > 0.0
        && (THINNEST_SHARE..=1.0).contains(&width)
        && (0.0..=1.0).contains(&thickness);
    if fine {
        // Minus 0 is the same pattern.
        Ok([width, thickness + 0.0])
    } else {
        Err(HatchError::NoPattern {
            pitch_m,
            width_m,
            thickness_m,
        })
    }
}

/// Screen depth of a square hatch: lines `width_m` wide and `thickness_m` thick every `pitch_m` along
/// both axes \[m\].
///
/// One quarter of a unit cell is solved in volume by the [field engine](crate::field), once in the life
/// of the process for each pair of ratios to the pitch; the depth is the pitch times a function of
/// these. It counts from the middle of the copper. Lines of 0.2 mm every 2 mm have 0.260 mm when thin,
/// 0.214 mm when 35 um thick.
///
/// # Errors
/// [`HatchError`]: a width that is not between a thousandth of the pitch and the pitch, a thickness
/// that is not between 0 and the pitch.
pub fn square_hatch_depth(
    pitch_m: f64,
    width_m: f64,
    thickness_m: f64,
) -> Result<ScreenDepth, HatchError> {
    let [width, thickness] = shares(pitch_m, width_m, thickness_m)?;
    let relative = unit_cell::relative_depth(width, thickness)?;
    Ok(ScreenDepth {
        depth_m: relative.depth_m * pitch_m,
        estimated_error_m: relative.estimated_error_m * pitch_m,
        interval_m: relative.interval_m.map(|end| end * pitch_m),
    })
}

/// Screen depth of parallel thin strips `width_m` wide every `pitch_m`, exact \[m\]:
/// `pitch/(2 pi) ln(1/sin(pi width/(2 pitch)))`, for fields that vary slowly over the pitch.
///
/// Source: the complex potential arcosh(cos(pi z/pitch)/sin(pi width/(2 pitch))) has no real part on
/// the strips and tends to pi |y|/pitch + ln(1/sin(pi width/(2 pitch))); conformal mapping, textbook.
///
/// # Errors
/// [`HatchError`]: a width that is not between a thousandth of the pitch and the pitch.
pub fn grating_depth_m(pitch_m: f64, width_m: f64) -> Result<f64, HatchError> {
    let [width, _] = shares(pitch_m, width_m, 0.0)?;
    Ok((0.5 * PI * width).sin().recip().ln() * pitch_m / (2.0 * PI))
}

/// How far beyond the middle of its last line a screen has to reach for a pattern whose copper goes on
/// for `overhang_m` beyond it \[m\]: a quarter of the pitch and half of the overhang.
///
/// Overhangs run from half the width of the line, when the pattern ends in it, to the pitch; with half
/// the pitch the screen ends where the copper does. Measured on square hatches of 5 and 6 lines
/// (`crates/engine/tests/hatch.rs`): the best reach is within a twentieth of the pitch of this.
pub fn reach_beyond_last_line_m(pitch_m: f64, overhang_m: f64) -> f64 {
    0.25 * pitch_m + 0.5 * overhang_m
}
