//! Marks: how a file says that this program made it, for what, and of what. A mark travels with a copy of the file and is
//! no part of what the file shows.
//!
//! Pictures, pages and grids carry a comment of their format. Cases and copies of studies carry a first line with a sum of
//! the rest: once edited, they are their editor's. Documents of JSON are known by their schema, tables by their columns.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use serde_json::Value;

/// Begins a mark.
const BEGIN: &str = "Made by gomphosis [";
/// How much of the beginning and of the end of a file is searched for a mark, bytes.
const SEARCHED: u64 = 16 << 10;
/// Largest document that is read to learn what it is about, bytes.
const LARGEST_READ: u64 = 16 << 20;

/// A format of files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    Svg,
    Png,
    Pdf,
    Gif,
    Html,
    Vtu,
    Json,
    Csv,
    Parquet,
    Toml,
    Markdown,
}

impl Form {
    const ALL: [(&'static str, Self); 12] = [
        ("svg", Self::Svg),
        ("png", Self::Png),
        ("pdf", Self::Pdf),
        ("gif", Self::Gif),
        ("html", Self::Html),
        ("htm", Self::Html),
        ("vtu", Self::Vtu),
        ("json", Self::Json),
        ("csv", Self::Csv),
        ("parquet", Self::Parquet),
        ("toml", Self::Toml),
        ("md", Self::Markdown),
    ];

    /// The format that a file's name ends in.
    pub(crate) fn named(path: &Path) -> Option<Self> {
        Self::by_ending(path.extension()?.to_str()?)
    }

    /// The format with an ending, without its dot.
    pub(crate) fn by_ending(ending: &str) -> Option<Self> {
        Self::ALL.iter().find(|(known, _)| ending.eq_ignore_ascii_case(known)).map(|(_, form)| *form)
    }
}

/// What a file is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Purpose {
    Figure,
    Mesh,
    Report,
    Lesson,
    /// A result, as JSON.
    Result,
    /// The table of a map.
    Map,
    /// The case beside its results.
    Case,
    /// The table of a study.
    Table,
    Sensitivity,
    /// The copy of a study beside its results.
    Study,
    Compensation,
    /// A page of somebody's, of which a marked part is made anew.
    Page,
}

impl Purpose {
    const ALL: [Self; 12] = [
        Self::Figure,
        Self::Mesh,
        Self::Report,
        Self::Lesson,
        Self::Result,
        Self::Map,
        Self::Case,
        Self::Table,
        Self::Sensitivity,
        Self::Study,
        Self::Compensation,
        Self::Page,
    ];

    /// With its article.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Figure => "a figure",
            Self::Mesh => "a mesh",
            Self::Report => "a report",
            Self::Lesson => "a lesson",
            Self::Result => "a result",
            Self::Map => "the table of a map",
            Self::Case => "a case",
            Self::Table => "the table of a study",
            Self::Sensitivity => "the sensitivities of a study",
            Self::Study => "a study",
            Self::Compensation => "a compensation",
            Self::Page => "a page",
        }
    }

    /// How its document of JSON begins to name its schema.
    const fn schema(self) -> Option<&'static str> {
        match self {
            Self::Result => Some("gomphosis.result/"),
            Self::Compensation => Some("gomphosis.compensation/"),
            _ => None,
        }
    }

    /// How its table begins.
    const fn columns(self) -> Option<&'static str> {
        match self {
            Self::Map => Some("attachment_height_mm,force_n,torque_nmm,"),
            Self::Table => Some("case,"),
            Self::Sensitivity => Some("output,input,measure,value,"),
            Self::Compensation => Some("tooth,bone_loss_mm,"),
            _ => None,
        }
    }
}

/// What a file is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct What {
    pub(crate) form: Form,
    pub(crate) purpose: Purpose,
    /// What it is about, in words.
    subject: String,
    /// A sum of all that it depends on; none where only the finished file could tell.
    sum: Option<u32>,
}

impl What {
    /// A file about something; `key` is all that it depends on.
    pub(crate) fn new(form: Form, purpose: Purpose, subject: &str, key: &str) -> Self {
        Self { form, purpose, subject: clean(subject), sum: Some(crc32fast::hash(key.as_bytes())) }
    }

    /// A file that says itself what it is about, or does not.
    pub(crate) fn plain(form: Form, purpose: Purpose) -> Self {
        Self { form, purpose, subject: String::new(), sum: None }
    }

    /// What a file seems to be by its name.
    pub(super) fn guess(path: &Path) -> Self {
        let form = Form::named(path).unwrap_or(Form::Markdown);
        let purpose = match form {
            Form::Svg | Form::Png | Form::Pdf | Form::Gif => Purpose::Figure,
            Form::Html => Purpose::Report,
            Form::Vtu => Purpose::Mesh,
            Form::Json => Purpose::Result,
            Form::Csv | Form::Parquet => Purpose::Table,
            Form::Toml => Purpose::Case,
            Form::Markdown => Purpose::Page,
        };
        Self::plain(form, purpose)
    }

    fn text(&self, sum: u32) -> String {
        format!("{BEGIN}{}; {}; {sum:08x}]", self.purpose.name(), self.subject)
    }

    /// Puts the mark into the bytes of a file; what has no place for one stays as it is.
    pub(super) fn stamp(&self, mut bytes: Vec<u8>) -> Vec<u8> {
        let text = self.text(self.sum.unwrap_or(0));
        match self.form {
            Form::Svg => insert(&mut bytes, b"<title", &format!("<!-- {text} -->\n")),
            Form::Html => insert(&mut bytes, b"<html", &format!("<!-- {text} -->\n")),
            // After the end of the objects and before the number that says where their table begins.
            Form::Pdf => insert_last(&mut bytes, b"startxref", format!("% {text}\n").as_bytes()),
            Form::Png => insert_last(&mut bytes, b"\0\0\0\0IEND", &text_chunk(&text)),
            Form::Gif => {
                if bytes.last() == Some(&0x3b) {
                    let end = bytes.len() - 1;
                    bytes.splice(end..end, comment_block(text.as_bytes()));
                }
            }
            Form::Toml => {
                let line = format!("# {}\n", self.text(crc32fast::hash(&bytes)));
                bytes.splice(0..0, line.into_bytes());
            }
            Form::Vtu | Form::Json | Form::Csv | Form::Parquet | Form::Markdown => {}
        }
        bytes
    }

    /// Is the mark put in after the file is complete?
    pub(super) fn is_stamped_at_the_end(&self) -> bool {
        !matches!(self.form, Form::Vtu | Form::Json | Form::Csv | Form::Parquet | Form::Markdown)
    }

    /// The comment that goes behind the first line of a file too large to be held.
    pub(super) fn comment(&self) -> Option<String> {
        (self.form == Form::Vtu).then(|| format!("<!-- {} -->\n", self.text(self.sum.unwrap_or(0))))
    }
}

/// What a file that is there turns out to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Seen {
    /// Made for the same, and what it is about if that is something else.
    Ours { other: Option<String> },
    /// Made by this program for something else.
    Else(Purpose),
    /// Somebody else's.
    Foreign,
}

/// Looks at a file in the light of what is to take its place.
pub(super) fn look(path: &Path, what: &What) -> std::io::Result<Seen> {
    let mut file = File::open(path)?;
    let length = file.metadata()?.len();
    let head = part(&mut file, 0, length.min(SEARCHED))?;
    let ours = |subject: &str, sum: Option<u32>| {
        let differs = sum.is_some() && what.sum.is_some() && sum != what.sum;
        Seen::Ours { other: differs.then(|| subject.to_owned()) }
    };
    let line =
        || String::from_utf8_lossy(head.split(|b| *b == b'\n').next().unwrap_or_default()).into_owned();
    match what.form {
        Form::Json => {
            let Some(schema) = what.purpose.schema() else { return Ok(Seen::Foreign) };
            let text = String::from_utf8_lossy(&head);
            let compact: String = text.chars().filter(|c| !c.is_whitespace()).take(200).collect();
            if !compact.starts_with(&format!("{{\"schema\":\"{schema}")) {
                return Ok(Seen::Foreign);
            }
            let case = (length <= LARGEST_READ).then(|| case_of(&mut file)).flatten();
            Ok(case.map_or(ours("", None), |(subject, sum)| ours(&subject, Some(sum))))
        }
        Form::Csv => {
            let line = line();
            let same = what.purpose.columns().is_some_and(|columns| line.starts_with(columns))
                && (what.purpose != Purpose::Table || line.contains(",status,reason,"));
            Ok(if same { ours("", None) } else { Seen::Foreign })
        }
        Form::Parquet => {
            let tail = part(&mut file, length.saturating_sub(4 * SEARCHED), length)?;
            let same = head.starts_with(b"PAR1") && find(&tail, b"gomphosis.study/").is_some();
            Ok(if same { ours("", None) } else { Seen::Foreign })
        }
        Form::Toml => {
            let Some((purpose, subject, sum)) = parse(line().as_bytes()) else { return Ok(Seen::Foreign) };
            let whole = part(&mut file, 0, length.min(LARGEST_READ))?;
            let rest = whole.iter().position(|b| *b == b'\n').map_or(&[][..], |at| &whole[at + 1..]);
            if crc32fast::hash(rest) != sum {
                return Ok(Seen::Foreign);
            }
            Ok(if purpose == what.purpose { ours(&subject, Some(sum)) } else { Seen::Else(purpose) })
        }
        _ => {
            let tail = part(&mut file, length.saturating_sub(SEARCHED), length)?;
            Ok(match parse(&head).or_else(|| parse(&tail)) {
                Some((purpose, subject, sum)) if purpose == what.purpose => ours(&subject, Some(sum)),
                Some((purpose, ..)) => Seen::Else(purpose),
                None => Seen::Foreign,
            })
        }
    }
}

/// The text of a copy without the line that marks it.
pub(crate) fn unsealed(text: &str) -> &str {
    match text.split_once('\n') {
        Some((first, rest)) if first.starts_with(&format!("# {BEGIN}")) => rest,
        _ => text,
    }
}

/// The sum of a text that a sealed file would carry; see [`What::stamp`].
pub(crate) fn sealed(form: Purpose, subject: &str, text: &str) -> What {
    What::new(Form::Toml, form, subject, text)
}

fn part(file: &mut File, from: u64, to: u64) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    file.seek(SeekFrom::Start(from))?;
    file.take(to - from).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Tooth of a result's case, and the sum of the case.
fn case_of(file: &mut File) -> Option<(String, u32)> {
    file.seek(SeekFrom::Start(0)).ok()?;
    let document: Value = serde_json::from_reader(std::io::BufReader::new(file)).ok()?;
    let case = document.get("case")?;
    let tooth = case.get("tooth").and_then(Value::as_str).unwrap_or_default();
    Some((clean(&crate::case::sentence_case(tooth)), crc32fast::hash(case.to_string().as_bytes())))
}

/// The first mark in some bytes: purpose, subject, sum.
fn parse(bytes: &[u8]) -> Option<(Purpose, String, u32)> {
    let start = find(bytes, BEGIN.as_bytes())? + BEGIN.len();
    let end = start + bytes[start..].iter().position(|b| *b == b']')?;
    let text = std::str::from_utf8(&bytes[start..end]).ok()?;
    let mut parts = text.split("; ");
    let (name, subject, sum) = (parts.next()?, parts.next()?, parts.next()?);
    let purpose = Purpose::ALL.into_iter().find(|purpose| purpose.name() == name)?;
    Some((purpose, subject.to_owned(), u32::from_str_radix(sum, 16).ok()?))
}

/// Words that harm no format: without the signs that end a comment or a mark.
fn clean(text: &str) -> String {
    let kept = |c: char| if c.is_alphanumeric() || " ,.()/".contains(c) { c } else { ' ' };
    let words: String = text.chars().take(120).map(kept).collect();
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn find(bytes: &[u8], what: &[u8]) -> Option<usize> {
    bytes.windows(what.len()).position(|window| window == what)
}

/// Puts a text before the first place where some bytes stand.
fn insert(bytes: &mut Vec<u8>, before: &[u8], text: &str) {
    if let Some(at) = find(bytes, before) {
        bytes.splice(at..at, text.bytes());
    }
}

/// Puts some bytes before the last place where others stand.
fn insert_last(bytes: &mut Vec<u8>, before: &[u8], added: &[u8]) {
    if let Some(at) = bytes.windows(before.len()).rposition(|window| window == before) {
        bytes.splice(at..at, added.iter().copied());
    }
}

/// A chunk of international text (`iTXt`, PNG specification, section 11.3.3.4): keyword, no compression, no language, no
/// translated keyword, text.
fn text_chunk(text: &str) -> Vec<u8> {
    let mut body = b"iTXtSoftware\0\0\0\0\0".to_vec();
    body.extend_from_slice(text.as_bytes());
    let mut chunk = (body.len() as u32 - 4).to_be_bytes().to_vec();
    let sum = crc32fast::hash(&body);
    chunk.extend_from_slice(&body);
    chunk.extend_from_slice(&sum.to_be_bytes());
    chunk
}

/// A comment extension (GIF 89a, section 24): sub-blocks of at most 255 bytes.
fn comment_block(text: &[u8]) -> Vec<u8> {
    let mut block = vec![0x21, 0xfe];
    for part in text.chunks(255) {
        block.push(part.len() as u8);
        block.extend_from_slice(part);
    }
    block.push(0);
    block
}

#[cfg(test)]
#[path = "mark/tests.rs"]
mod tests;
