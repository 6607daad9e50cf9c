//! Links and headings of Markdown.

use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};
use std::path::Path;

/// Where a link or picture points, and the anchor behind it.
pub struct Link {
    pub to: String,
    pub anchor: Option<String>,
}

/// All links and pictures of a document.
pub fn of(markdown: &str) -> Vec<Link> {
    let events = Parser::new_ext(markdown, Options::ENABLE_TABLES);
    let targets = events.filter_map(|event| match event {
        Event::Start(Tag::Link { dest_url, .. } | Tag::Image { dest_url, .. }) => {
            Some(dest_url.into_string())
        }
        _ => None,
    });
    targets
        .map(|target| match target.split_once('#') {
            Some((to, anchor)) => Link {
                to: to.to_owned(),
                anchor: Some(anchor.to_owned()),
            },
            None => Link {
                to: target,
                anchor: None,
            },
        })
        .collect()
}

/// Anchors of the headings: small letters, blanks to hyphens, without other signs.
fn anchors(markdown: &str) -> Vec<String> {
    let (mut found, mut heading) = (Vec::new(), None::<String>);
    for event in Parser::new_ext(markdown, Options::ENABLE_TABLES) {
        match event {
            Event::Start(Tag::Heading { .. }) => heading = Some(String::new()),
            Event::End(TagEnd::Heading(_)) => found.extend(heading.take()),
            Event::Text(text) | Event::Code(text) => {
                if let Some(heading) = &mut heading {
                    heading.push_str(&text);
                }
            }
            _ => {}
        }
    }
    let kept = |sign: char| sign.is_alphanumeric() || sign == '-' || sign == '_' || sign == ' ';
    found
        .iter()
        .map(|heading| {
            heading
                .to_lowercase()
                .chars()
                .filter(|sign| kept(*sign))
                .collect()
        })
        .map(|heading: String| heading.replace(' ', "-"))
        .collect()
}

/// Links of a file that lead nowhere. Links into the net are not looked up.
pub fn dead(path: &Path) -> Vec<String> {
    let text = super::read(path);
    let folder = path.parent().expect("a folder");
    let mut dead = Vec::new();
    for link in of(&text) {
        if link.to.contains("://") {
            continue;
        }
        let target = if link.to.is_empty() {
            path.to_owned()
        } else {
            folder.join(&link.to)
        };
        if !target.exists() {
            dead.push(format!("{}: {}", path.display(), link.to));
        } else if let Some(anchor) = link.anchor
            && !anchors(&super::read(&target)).contains(&anchor)
        {
            dead.push(format!("{}: {}#{anchor}", path.display(), link.to));
        }
    }
    dead
}
