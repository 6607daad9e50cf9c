//! The chart font: its data, how wide a text is, where it breaks.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use std::sync::OnceLock;

use ttf_parser::Face;

/// Family name of the embedded font.
pub const FAMILY: &str = "Inter";

/// The font for measuring and rasterising: the bytes of a TrueType file.
pub const TRUE_TYPE: &[u8] = include_bytes!("../fonts/inter-subset.ttf");

/// The same font compressed for embedding in SVG.
pub const WOFF2: &[u8] = include_bytes!("../fonts/inter-subset.woff2");

/// Size of captions along axes.
pub const CAPTION_SIZE: f64 = 13.5;
/// Size of labels inside a plot.
pub const LABEL_SIZE: f64 = 12.0;
/// Size of the numbers along the axes.
pub const TICK_SIZE: f64 = 12.0;

/// Height of a capital letter over the font size.
pub const CAPITAL_HEIGHT: f64 = 0.73;

/// Width of a character the font does not have, over the font size: the viewer takes another font.
const UNKNOWN_WIDTH: f64 = 0.7;

/// The style-sheet rule that brings the font of the charts into a document.
pub fn font_face() -> String {
    format!(
        "@font-face{{font-family:\"{FAMILY}\";src:url(data:font/woff2;base64,{}) format(\"woff2\")}}",
        STANDARD.encode(WOFF2)
    )
}

fn face() -> &'static Face<'static> {
    static FACE: OnceLock<Face<'static>> = OnceLock::new();
    FACE.get_or_init(|| Face::parse(TRUE_TYPE, 0).expect("the embedded font is a valid font"))
}

/// Width of a text at a font size, in the unit of the size. The font carries no kerning, so this is
/// what every renderer draws.
pub fn width(text: &str, size: f64) -> f64 {
    let face = face();
    let per_em = f64::from(face.units_per_em());
    text.chars()
        .map(|c| {
            face.glyph_index(c)
                .and_then(|glyph| face.glyph_hor_advance(glyph))
                .map_or(UNKNOWN_WIDTH, |advance| f64::from(advance) / per_em)
        })
        .sum::<f64>()
        * size
}

/// The text in lines no wider than `limit`; a single longer word is broken.
pub fn wrapped(text: &str, size: f64, limit: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        for piece in pieces(word, size, limit) {
            match lines.last_mut() {
                Some(line) if width(&format!("{line} {piece}"), size) <= limit => {
                    line.push(' ');
                    line.push_str(&piece);
                }
                _ => lines.push(piece),
            }
        }
    }
    lines
}

/// A word in pieces that each fit.
fn pieces(word: &str, size: f64, limit: f64) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for c in word.chars() {
        let last = pieces.last_mut().expect("never empty");
        if !last.is_empty() && width(&format!("{last}{c}"), size) > limit {
            pieces.push(c.to_string());
        } else {
            last.push(c);
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_font_has_every_sign_the_charts_write() {
        for c in "AZaz09 −±×·≤≥µΩεκΔ°²³⁻⁰⁹₀–—‘’“”…\u{202f}\u{a0}äéñß%".chars()
        {
            assert!(face().glyph_index(c).is_some(), "{c:?} is missing");
        }
    }

    #[test]
    fn capitals_are_as_high_as_stated() {
        let height = f64::from(face().capital_height().expect("a capital height"));
        let stated = CAPITAL_HEIGHT * f64::from(face().units_per_em());
        assert!((height - stated).abs() < 0.01 * height);
    }

    #[test]
    fn lines_keep_every_word_and_fit() {
        let text =
            "A finger of 10 mm contact touches one pad at a time; all other pads are grounded.";
        let lines = wrapped(text, 12.0, 150.0);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|line| width(line, 12.0) <= 150.0));
        assert_eq!(lines.join(" "), text);
        assert_eq!(
            wrapped("incomprehensibly", 12.0, 40.0).concat(),
            "incomprehensibly"
        );
        assert!(wrapped("   ", 12.0, 40.0).is_empty());
        assert_eq!(wrapped("ab", 12.0, 1.0), ["a", "b"]);
    }
}
