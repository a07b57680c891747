//! How a value of a TOML file is called in a sentence.

use toml::de::DeValue;

/// The kind of a value, with its article.
pub(super) fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// What somebody wrote, short enough for a sentence.
pub(super) fn shorten(text: &str) -> String {
    let short: String = text.chars().take(40).flat_map(char::escape_debug).collect();
    if text.chars().nth(40).is_some() { short + "…" } else { short }
}
