//! A case written out: as a TOML file that can be edited and run again, as JSON for results, and the table
//! of all keys for the manual.

use std::fmt::Write;

use gomphosis_mesh_gen::Range;
use gomphosis_solver::Constant;
use serde_json::{Map, Value, json};

use super::key::{KEYS, Key, Kind};
use super::{Case, form_name, one_of, place};

/// Column in which the comments of a printed case begin.
const COMMENT_COLUMN: usize = 36;

pub(super) fn value(key: &Key, case: &Case) -> Option<Value> {
    match &key.kind {
        Kind::Tooth => Some(json!(form_name(case.specimen.tooth.form))),
        Kind::Number { get, .. } => Some(json!(get(case))),
        Kind::Count { get, .. } => Some(json!(get(case))),
        Kind::Word { get, .. } => Some(json!(get(case))),
        Kind::Text { get, .. } => get(case).map(Value::String),
        Kind::Shorthand { .. } => None,
    }
}

/// The complete case as nested JSON, under the names of the case file.
pub(crate) fn json(case: &Case) -> Value {
    let mut root = Map::new();
    for key in KEYS {
        let Some(value) = value(key, case) else { continue };
        let mut at = &mut root;
        let (table, name) = key.split();
        for part in table.split('.').filter(|part| !part.is_empty()) {
            let next = at.entry(part).or_insert_with(|| Value::Object(Map::new()));
            match next {
                Value::Object(inner) => at = inner,
                // No key is both a value and a table.
                _ => return Value::Null,
            }
        }
        at.insert(name.to_owned(), value);
    }
    Value::Object(root)
}

/// The complete case as a TOML text with a comment beside each key.
pub(crate) fn toml(case: &Case) -> String {
    let mut text = format!(
        "# {}: every key with its value. All may be left out but the tooth; what is left out has the default of the tooth.\n",
        sentence_case(&case.name())
    );
    let mut open = "";
    for key in KEYS {
        let (table, name) = key.split();
        if table != open {
            let _ = write!(text, "\n[{table}]\n");
            open = table;
        }
        let comment = match (&key.kind, key.unit) {
            (Kind::Word { words, .. }, _) => format!("{}; {}", key.help, words.join(" | ")),
            (_, "") => key.help.to_owned(),
            (_, unit) => format!("{unit}; {}", key.help),
        };
        // Of the three heights of the attachment the one that was given stands, the others are there to be read.
        let is_open = place::KEYS.contains(&key.path) && case.place.key() != Some(key.path);
        let line = match value(key, case) {
            Some(value) if is_open => format!("# {name} = {value}"),
            Some(value) => format!("{name} = {value}"),
            None => format!("# {name} = \"...\""),
        };
        let comment = if matches!(key.kind, Kind::Shorthand { .. }) {
            format!("{comment} (names: gomphosis case --reference)")
        } else {
            comment
        };
        let _ = writeln!(text, "{line:<COMMENT_COLUMN$} # {comment}");
    }
    text
}

/// First letter in upper case.
pub(crate) fn sentence_case(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// The table of all keys for the manual, as Markdown: key, unit, default, what is allowed, meaning.
/// The ranges are those that the mesher and the solver check.
pub(crate) fn reference(case: &Case) -> String {
    let mut text = String::from("| key | unit | default | allowed | meaning |\n|---|---|---|---|---|\n");
    for key in KEYS {
        let default = value(key, case).map_or_else(|| "-".to_owned(), |v| format!("`{v}`"));
        let unit = if key.unit.is_empty() { "-" } else { key.unit };
        let allowed = allowed(key).replace('|', "\\|");
        let _ = writeln!(text, "| `{}` | {unit} | {default} | {allowed} | {} |", key.path, key.help);
    }
    text
}

fn allowed(key: &Key) -> String {
    match &key.kind {
        Kind::Tooth => "sixteen names, numbers in three notations, two idealised shapes".to_owned(),
        Kind::Number { low, high, .. } if low.is_finite() => format!("{low} to {high}"),
        Kind::Number { .. } => {
            let range = Range::of(key.path).map(|range| (range.low, range.high));
            let range = range.or_else(|| Constant::of(key.path).map(|range| (range.low, range.high)));
            range.map_or_else(|| "a finite number".to_owned(), |(low, high)| format!("{low} to {high}"))
        }
        Kind::Count { low, high, .. } => format!("{low} to {high}"),
        Kind::Text { longest, .. } => format!("a text of at most {longest} characters"),
        Kind::Word { words, .. } => one_of(words).replace(" is wanted", ""),
        Kind::Shorthand { words, .. } => one_of(&words()).replace(" is wanted", ""),
    }
}
