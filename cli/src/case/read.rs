//! From the bytes of a case file, or the words of an option, to assignments of values to dotted keys. Knows
//! TOML and nothing about which keys exist.

use std::fmt;
use std::io::Read;
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::complaint::{Complaint, Origin, SourceFile, line_number};
use crate::exit::Failure;
use crate::terminal::is_hidden;

/// Largest case file that is read, bytes.
const LARGEST_FILE: u64 = 1 << 20;
/// Longest value that is repeated in a message, characters.
const LONGEST_ECHO: usize = 40;

/// Longest reason of the TOML parser that is repeated, characters.
const LONGEST_REASON: usize = 200;

/// A value as it was written.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Given {
    /// A whole or decimal number, with its spelling.
    Number(f64, String),
    /// A string.
    Text(String),
    /// Something that no key takes: a table, an array, a date, a truth value.
    Other(&'static str),
}

impl Given {
    /// A table that holds nothing.
    pub(crate) const EMPTY_TABLE: Self = Self::Other("a table");
}

impl fmt::Display for Given {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(_, spelling) => write!(f, "{}", shorten(spelling)),
            Self::Text(text) => write!(f, "{}", quoted(text)),
            Self::Other(what) => write!(f, "{what}"),
        }
    }
}

/// A text cut to what a message can hold, on one line.
pub(crate) fn shorten(text: &str) -> String {
    cut(text, LONGEST_ECHO)
}

/// A text cut to a number of characters; what would move the cursor or turn the direction of reading is written as an
/// escape.
pub(super) fn cut(text: &str, most: usize) -> String {
    let mut short = String::new();
    for (k, c) in text.chars().enumerate() {
        if k == most {
            short.push_str("...");
            break;
        }
        if is_hidden(c) {
            short.extend(c.escape_default());
        } else {
            short.push(c);
        }
    }
    short
}

/// A text in quotes, cut to what a message can hold.
pub(crate) fn quoted(text: &str) -> String {
    format!("\"{}\"", shorten(text))
}

/// A value given for a key.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Assignment {
    /// Dotted key, for example `root.length_mm`.
    pub(crate) key: String,
    /// The value.
    pub(crate) value: Given,
    /// Where the key was written.
    pub(crate) key_origin: Origin,
    /// Where the tables around it were written, outermost first.
    pub(crate) tables: Vec<Origin>,
    /// Where the value was written.
    pub(crate) origin: Origin,
}

/// Reads a case file.
pub(crate) fn file(path: &Path) -> Result<Vec<Assignment>, Failure> {
    document(&source(path, "case")?).map_err(Failure::from)
}

/// The text of an input file; `what` it is, for messages: "case" or "study".
pub(crate) fn source(path: &Path, what: &str) -> Result<Arc<SourceFile>, Failure> {
    let name = path.display().to_string();
    let opened = std::fs::File::open(path).map_err(|e| Failure::io("read", path, e))?;
    let mut bytes = Vec::new();
    opened.take(LARGEST_FILE + 1).read_to_end(&mut bytes).map_err(|e| Failure::io("read", path, e))?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(Complaint::plain(format!(
            "{name}: a {what} file holds at most 1 MiB, this one is larger"
        ))
        .into());
    }
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Arc::new(SourceFile { name, text })),
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            let line = line_number(error.as_bytes(), at);
            Err(Complaint::plain(format!(
                "{name}:{line}: byte {at} is not UTF-8 text; a {what} file is a TOML text in UTF-8"
            ))
            .into())
        }
    }
}

/// The tables of a TOML document.
pub(crate) fn parse<'a>(text: &'a str, file: &Arc<SourceFile>) -> Result<Spanned<DeTable<'a>>, Complaint> {
    DeTable::parse(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let sentence = match (error.message(), text.get(span.clone()).map(str::trim)) {
            ("duplicate key", Some(name)) if !name.is_empty() => {
                format!("{} stands here a second time; once is enough", shorten(name))
            }
            (message, _) => format!("this is not TOML: {}", cut(&one_line(message), LONGEST_REASON)),
        };
        Complaint::new(sentence, Origin::File(Arc::clone(file), span))
    })
}

/// Assignments of a TOML document, in the order of the file.
pub(crate) fn document(file: &Arc<SourceFile>) -> Result<Vec<Assignment>, Complaint> {
    let text = file.text.clone();
    Ok(assignments(parse(&text, file)?.get_ref(), file))
}

/// Assignments of a table that holds the keys of a case, in the order of the file.
pub(crate) fn assignments(table: &DeTable<'_>, file: &Arc<SourceFile>) -> Vec<Assignment> {
    let mut found = Vec::new();
    collect("", &[], table, file, &mut found);
    found.sort_by_key(|(at, _)| *at);
    found.into_iter().map(|(_, assignment)| assignment).collect()
}

/// The assignment that an option such as `--set root.length_mm=14` makes. A value that is not TOML is taken
/// as a text, so that quotes may be left out.
pub(crate) fn option(option: &str, key: &str, value: &str) -> Assignment {
    let origin = Origin::Option(option.to_owned());
    let document = format!("value = {value}");
    let given = match DeTable::parse(&document) {
        Ok(table) if table.get_ref().len() == 1 => {
            table.get_ref().values().next().map_or(Given::Other("nothing"), |v| given(v.get_ref()))
        }
        _ => Given::Text(value.to_owned()),
    };
    Assignment { key: key.to_owned(), value: given, key_origin: origin.clone(), tables: Vec::new(), origin }
}

fn collect(
    prefix: &str,
    tables: &[Origin],
    table: &DeTable<'_>,
    file: &Arc<SourceFile>,
    found: &mut Vec<(usize, Assignment)>,
) {
    for (name, value) in table {
        let key = if prefix.is_empty() {
            name.get_ref().to_string()
        } else {
            format!("{prefix}.{}", name.get_ref())
        };
        match value.get_ref() {
            DeValue::Table(inner) if !inner.is_empty() => {
                let mut around = tables.to_vec();
                around.push(Origin::File(Arc::clone(file), name.span()));
                collect(&key, &around, inner, file, found);
            }
            other => {
                let at = |span: Range<usize>| Origin::File(Arc::clone(file), span);
                found.push((
                    name.span().start,
                    Assignment {
                        key,
                        value: given(other),
                        key_origin: at(name.span()),
                        tables: tables.to_vec(),
                        origin: at(value_span(name, value)),
                    },
                ));
            }
        }
    }
}

/// Span of a value; a table's own span can start at its header, so the key stands for it.
pub(crate) fn value_span<K>(name: &Spanned<K>, value: &Spanned<DeValue<'_>>) -> Range<usize> {
    match value.get_ref() {
        DeValue::Table(_) => name.span(),
        _ => value.span(),
    }
}

/// A value as a key takes it.
pub(crate) fn given(value: &DeValue<'_>) -> Given {
    match value {
        DeValue::String(text) => Given::Text(text.to_string()),
        DeValue::Integer(integer) => {
            let number = i128::from_str_radix(integer.as_str(), integer.radix())
                .map_or(f64::INFINITY, |whole| whole as f64);
            Given::Number(number, integer.to_string())
        }
        DeValue::Float(float) => Given::Number(float.as_str().parse().unwrap_or(f64::NAN), float.to_string()),
        DeValue::Boolean(true) => Given::Other("true"),
        DeValue::Boolean(false) => Given::Other("false"),
        DeValue::Datetime(_) => Given::Other("a date"),
        DeValue::Array(_) => Given::Other("an array"),
        DeValue::Table(inner) if inner.is_empty() => Given::EMPTY_TABLE,
        DeValue::Table(_) => Given::Other("a table with keys"),
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
