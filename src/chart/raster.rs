//! From an SVG document to a PNG picture, with the embedded font and no other.

use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb::Database};

use super::error::ChartError;
use super::font;

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

/// The picture of a chart, `scale` pixels per chart unit.
pub(super) fn png(svg: &str, scale: f64) -> Result<Vec<u8>, ChartError> {
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
