//! A note as one HTML file that needs nothing else: no script, no network, pictures inside.

use super::document::{Block, Document};
use super::inline::inlined;
use super::numbers::numbered;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Error};
use padfield_chart::font_face;
use serde_json::json;

const PAGE: &str = include_str!("page.html");
const STYLE: &str = include_str!("page.css");

/// The whole file.
///
/// # Errors
/// None that a document can cause: those of the template.
pub fn html(document: &Document) -> Result<String, Error> {
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    let mut syntax = SyntaxConfig::builder();
    environment.set_syntax(syntax.trim_blocks(true).lstrip_blocks(true).build()?);
    environment.add_template("page", PAGE)?;
    let mut data = numbered(document);
    for (at, section) in document.sections.iter().enumerate() {
        for (place, block) in section.blocks.iter().enumerate() {
            if let Block::Figure(figure) = block {
                let shown = &mut data["sections"][at]["blocks"][place];
                let prefix = format!("picture-{}-", shown["number"]);
                shown["svg"] = json!(inlined(&figure.svg, &prefix, &figure.alternative));
            }
        }
    }
    data["style"] = json!(format!("{}\n{STYLE}", font_face()));
    environment.get_template("page")?.render(Serde(data))
}
