//! Names in a file: what they may be like, and which known one was meant.

/// The candidate spelled most like `word`, if one is near enough to be meant.
pub(crate) fn nearest<'c>(
    word: &str,
    candidates: impl IntoIterator<Item = &'c str>,
) -> Option<&'c str> {
    let word = word.to_lowercase();
    candidates
        .into_iter()
        .map(|candidate| {
            let distance = strsim::damerau_levenshtein(&word, &candidate.to_lowercase());
            (distance, candidate)
        })
        .filter(|(distance, candidate)| *distance <= 1 + candidate.chars().count() / 4)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// `"a", "b" or "c"`.
pub(crate) fn listed<'c>(words: impl IntoIterator<Item = &'c str>) -> String {
    let quoted: Vec<String> = words.into_iter().map(|w| format!("\"{w}\"")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
        None => "nothing".to_owned(),
    }
}

/// At most 60 characters of a name.
pub(crate) fn shortened(name: &str) -> String {
    const LONGEST: usize = 60;
    match name.char_indices().nth(LONGEST) {
        Some((at, _)) => format!("{}...", &name[..at]),
        None => name.to_owned(),
    }
}

/// What a name must be like.
pub(crate) const NAME_RULE: &str =
    "a name has 1 to 40 letters, digits, spaces or signs, but no dot, equals sign or quote";

/// Whether a name can be a part of a dotted path and be printed in a table.
pub(crate) fn check_name(name: &str) -> Result<(), String> {
    const LONGEST: usize = 40;
    let forbidden = |c: char| c.is_control() || matches!(c, '.' | '=' | '"' | '\'');
    if name.is_empty() {
        Err("the name is empty".to_owned())
    } else if name.chars().count() > LONGEST || name.contains(forbidden) || name.trim() != name {
        let name: String = shortened(name).escape_debug().collect();
        Err(format!("\"{name}\" cannot be used as a name"))
    } else {
        Ok(())
    }
}
