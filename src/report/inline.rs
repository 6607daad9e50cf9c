//! One of our SVG documents inside an HTML page.

/// The element for a page that has the charts' font already: no style of its own, no title (a browser would
/// show it under the pointer), every name in it behind `prefix`, described for people who do not see it. Charts
/// inside it are parts of one picture.
///
/// Texts in our documents have their quotation marks escaped, so a name in quotation marks is an attribute.
pub(super) fn inlined(svg: &str, prefix: &str, alternative: &str) -> String {
    let svg = without(svg, "<style>", "</style>\n");
    let svg = without(&svg, "<title>", "</title>\n");
    let mut svg = svg
        .replace(" id=\"", &format!(" id=\"{prefix}"))
        .replace("=\"url(#", &format!("=\"url(#{prefix}"))
        .replace(" href=\"#", &format!(" href=\"#{prefix}"));
    let mut descriptions = Vec::new();
    for number in 1..=svg.matches("<desc>").count() {
        let name = format!("{prefix}description-{number}");
        svg = svg.replacen("<desc>", &format!("<desc id=\"{name}\">"), 1);
        descriptions.push(name);
    }
    let description = match descriptions.is_empty() {
        true => String::new(),
        false => format!(" aria-describedby=\"{}\"", descriptions.join(" ")),
    };
    let label = minijinja::HtmlEscape(alternative);
    match svg.split_once(ROLE) {
        None => svg,
        Some((before, after)) => format!(
            "{before}{ROLE} aria-label=\"{label}\"{description}{}",
            after.replace(ROLE, "")
        ),
    }
}

/// What makes an element one picture.
const ROLE: &str = " role=\"img\"";

/// Without any element of that name.
fn without(text: &str, start: &str, end: &str) -> String {
    let mut kept = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, inside)) = rest.split_once(start) {
        let Some((_, after)) = inside.split_once(end) else {
            break;
        };
        kept += before;
        rest = after;
    }
    kept + rest
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
            "<svg role=\"img\" aria-label=\"&quot;&lt;b&gt;\" aria-describedby=\"one-description-1\">\
             <desc id=\"one-description-1\">b</desc>\n\
             <clipPath id=\"one-c\"/><g clip-path=\"url(#one-c)\"><use href=\"#one-c\"/></g>\
             <text>id=&quot;c&quot; url(#c)</text></svg>"
        );
    }

    #[test]
    fn charts_in_a_stack_are_one_picture() {
        let chart = "<svg role=\"img\"><title>a</title>\n<desc>b</desc>\n<style>x</style>\n</svg>";
        let stack = format!("<svg role=\"img\">\n<title>c</title>\n{chart}{chart}</svg>");
        let inside = inlined(&stack, "p-", "both");
        assert_eq!(
            inside,
            "<svg role=\"img\" aria-label=\"both\" aria-describedby=\"p-description-1 p-description-2\">\n\
             <svg><desc id=\"p-description-1\">b</desc>\n</svg>\
             <svg><desc id=\"p-description-2\">b</desc>\n</svg></svg>"
        );
    }
}
