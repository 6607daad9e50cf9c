//! Whatever has a picture as an SVG document has it as PNG too, with the embedded font and no other.

use crate::font;
use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb::Database};

use crate::error::ChartError;

/// Largest scale: a chart then has some tens of millions of pixels.
const LARGEST_SCALE: f64 = 8.0;

fn fonts() -> Arc<Database> {
    static FONTS: OnceLock<Arc<Database>> = OnceLock::new();
    FONTS
        .get_or_init(|| {
            let mut fonts = Database::new();
            fonts.load_font_data(font::TRUE_TYPE.to_vec());
            Arc::new(fonts)
        })
        .clone()
}

/// What has a picture.
pub trait Chart {
    /// The picture as the text of an SVG document.
    ///
    /// # Errors
    /// Data that have no picture; what these are stands with every chart.
    fn svg(&self) -> Result<String, ChartError>;

    /// The same picture as the bytes of a PNG file, `scale` pixels per chart unit.
    ///
    /// # Errors
    /// As for [`Chart::svg`], and for a scale that is not above 0 and at most 8.
    fn png(&self, scale: f64) -> Result<Vec<u8>, ChartError> {
        png(&self.svg()?, scale)
    }
}

/// The picture of a chart, `scale` pixels per chart unit.
fn png(svg: &str, scale: f64) -> Result<Vec<u8>, ChartError> {
    if !(scale > 0.0 && scale <= LARGEST_SCALE) {
        return Err(ChartError::BadScale { scale });
    }
    let options = Options {
        font_family: font::FAMILY.to_owned(),
        fontdb: fonts(),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(ChartError::drawing)?;
    let size = tree.size();
    let pixels = |length: f32| ((f64::from(length) * scale).round() as u32).max(1);
    let mut picture = Pixmap::new(pixels(size.width()), pixels(size.height()))
        .ok_or(ChartError::BadScale { scale })?;
    let transform = Transform::from_scale(
        picture.width() as f32 / size.width(),
        picture.height() as f32 / size.height(),
    );
    resvg::render(&tree, transform, &mut picture.as_mut());
    picture.encode_png().map_err(ChartError::drawing)
}
