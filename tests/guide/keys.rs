//! The chapter of every key of the panel file, from its schema.

use serde_json::Value;
use std::fmt::Write;

const HEAD: &str = "# Every key

Written from the schema that `padfield schema` prints; what the sections mean and how they go together is told in
[the panel file](panel-file.md). Keys in brackets may be left out.
";

/// The whole chapter.
pub fn chapter(schema: &Value) -> String {
    let mut text = HEAD.to_owned();
    let (mut plain, mut sections) = (Vec::new(), Vec::new());
    for (name, value) in schema["properties"].as_object().expect("properties") {
        match section(schema, name, value) {
            Some(section) => sections.push((section, value)),
            None => plain.push((name, value)),
        }
    }
    text.push_str("\n## Top of the file\n");
    table(&mut text, schema, schema, &plain);
    for ((heading, entry), value) in sections {
        write!(text, "\n## `{heading}`\n\n{}\n", sentence(value)).expect("a text");
        let keys: Vec<_> = entry["properties"]
            .as_object()
            .expect("properties")
            .iter()
            .collect();
        table(&mut text, schema, entry, &keys);
        for (key, value) in keys {
            if let Some(inner) = definition(schema, &value["items"])
                .filter(|inner| inner.get("properties").is_some())
            {
                write!(text, "\nOne entry of `{key}`:\n").expect("a text");
                let keys: Vec<_> = inner["properties"]
                    .as_object()
                    .expect("properties")
                    .iter()
                    .collect();
                table(&mut text, schema, inner, &keys);
            }
        }
    }
    text
}

/// What a `$ref` stands for.
fn definition<'a>(schema: &'a Value, value: &Value) -> Option<&'a Value> {
    let name = value["$ref"].as_str()?.strip_prefix("#/$defs/")?;
    schema["$defs"].get(name)
}

/// How a section is written in a file, and its keys; nothing for a plain key.
fn section<'a>(schema: &'a Value, name: &str, value: &Value) -> Option<(String, &'a Value)> {
    let ways = [
        (value, format!("[{name}]")),
        (&value["items"], format!("[[{name}]]")),
        (&value["additionalProperties"], format!("[{name}.NAME]")),
    ];
    ways.into_iter().find_map(|(value, heading)| {
        let entry = definition(schema, value)?;
        entry.get("properties").map(|_| (heading, entry))
    })
}

fn table(text: &mut String, schema: &Value, entry: &Value, keys: &[(&String, &Value)]) {
    text.push_str("\n| key | value | what it is |\n|---|---|---|\n");
    let needed: Vec<&str> = entry["required"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .collect();
    for (key, value) in keys {
        let key = if needed.contains(&key.as_str()) {
            format!("`{key}`")
        } else {
            format!("[`{key}`]")
        };
        writeln!(
            text,
            "| {key} | {} | {} |",
            kind(schema, value),
            sentence(value)
        )
        .expect("a text");
    }
}

/// What stands behind the equals sign.
fn kind(schema: &Value, value: &Value) -> String {
    if let Some(inner) = definition(schema, value) {
        return kind(schema, inner);
    }
    if let Some(words) = value["enum"].as_array() {
        let words: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
        return words.join(", ");
    }
    if let Some(ways) = value["anyOf"].as_array() {
        let mut ways: Vec<String> = ways.iter().map(|way| kind(schema, way)).collect();
        ways.dedup();
        return ways.join(", or ");
    }
    if let Some(items) = value.get("items") {
        let one = definition(schema, items).filter(|inner| inner.get("properties").is_some());
        return if one.is_some() {
            "a list, see below".to_owned()
        } else {
            format!("a list: {}", kind(schema, items))
        };
    }
    if value["type"] == "string"
        && let Some(what) = value["description"]
            .as_str()
            .filter(|_| value.get("pattern").is_some())
    {
        return code(what);
    }
    let plain = |kind: &str| match kind {
        "integer" => "a whole number",
        "number" => "a number",
        "string" => "text",
        other => panic!("a key of type {other}"),
    };
    match &value["type"] {
        Value::String(kind) => plain(kind).to_owned(),
        Value::Array(kinds) => kinds
            .iter()
            .filter_map(Value::as_str)
            .map(plain)
            .collect::<Vec<_>>()
            .join(" or "),
        other => panic!("a key of type {other}"),
    }
}

/// A description with what is quoted in it as code.
fn code(text: &str) -> String {
    let mut pieces = text.split('"');
    let mut out = pieces.next().unwrap_or_default().to_owned();
    while let (Some(quoted), Some(plain)) = (pieces.next(), pieces.next()) {
        write!(out, "`\"{quoted}\"`{plain}").expect("a text");
    }
    out
}

/// The description of a key, in one line.
fn sentence(value: &Value) -> String {
    let text = value["description"]
        .as_str()
        .expect("every key is described");
    text.split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
        .replace('|', "\\|")
}
