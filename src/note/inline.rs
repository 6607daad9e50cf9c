//! One of our SVG documents inside an HTML page.

/// The element for a page that has the charts' font already: no style of its own, no title (a browser would
/// show it under the pointer), every name in it behind `prefix`, described for people who do not see it.
///
/// Texts in our documents have their quotation marks escaped, so a name in quotation marks is an attribute.
pub(super) fn inlined(svg: &str, prefix: &str, alternative: &str) -> String {
    let svg = without(svg, "<style>", "</style>\n");
    let svg = without(&svg, "<title>", "</title>\n");
    let svg = svg
        .replace(" id=\"", &format!(" id=\"{prefix}"))
        .replace("=\"url(#", &format!("=\"url(#{prefix}"))
        .replace(" href=\"#", &format!(" href=\"#{prefix}"));
    let described = format!("<desc id=\"{prefix}description\">");
    let svg = svg.replacen("<desc>", &described, 1);
    let description = match svg.contains(&described) {
        true => format!(" aria-describedby=\"{prefix}description\""),
        false => String::new(),
    };
    let label = minijinja::HtmlEscape(alternative);
    svg.replacen(
        " role=\"img\"",
        &format!(" role=\"img\" aria-label=\"{label}\"{description}"),
        1,
    )
}

/// Without the first element of that name.
fn without(text: &str, start: &str, end: &str) -> String {
    let Some((before, rest)) = text.split_once(start) else {
        return text.to_owned();
    };
    match rest.split_once(end) {
        Some((_, after)) => format!("{before}{after}"),
        None => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_two_documents_do_not_meet() {
        let svg = "<svg role=\"img\"><title>a</title>\n<desc>b</desc>\n<style>x</style>\n\
                   <clipPath id=\"c\"/><g clip-path=\"url(#c)\"><use href=\"#c\"/></g>\
                   <text>id=&quot;c&quot; url(#c)</text></svg>";
        let inside = inlined(svg, "one-", "\"<b>");
        assert_eq!(
            inside,
            "<svg role=\"img\" aria-label=\"&quot;&lt;b&gt;\" aria-describedby=\"one-description\">\
             <desc id=\"one-description\">b</desc>\n\
             <clipPath id=\"one-c\"/><g clip-path=\"url(#one-c)\"><use href=\"#one-c\"/></g>\
             <text>id=&quot;c&quot; url(#c)</text></svg>"
        );
    }
}
