//! A note as one HTML file that needs nothing else: no script, no network, pictures inside.

use super::document::{Block, Document};
use super::inline::inlined;
use crate::chart::font_face;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Error};
use serde_json::{Value, json};

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
    let mut picture = 0;
    let sections: Vec<Value> = document
        .sections
        .iter()
        .map(|section| {
            let blocks = section.blocks.iter().map(|block| {
                let mut shown = json!(block);
                if let Block::Figure(figure) = block {
                    picture += 1;
                    let prefix = format!("picture-{picture}-");
                    shown["svg"] = json!(inlined(&figure.svg, &prefix, &figure.alternative));
                }
                shown
            });
            json!({
                "id": section.id,
                "heading": section.heading,
                "blocks": blocks.collect::<Vec<_>>(),
            })
        })
        .collect();
    environment.get_template("page")?.render(Serde(json!({
        "title": document.title,
        "made_from": document.made_from,
        "sections": sections,
        "style": format!("{}\n{STYLE}", font_face()),
    })))
}
