//! What is wrong with an input, in one sentence, and the place in the file where it stands.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use super::read::cut;
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

/// A case file that was read.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct SourceFile {
    /// Path as the user gave it.
    pub(crate) name: String,
    /// Its whole text.
    pub(crate) text: String,
}

impl SourceFile {
    /// Line number (from 1) of a byte.
    pub(crate) fn line(&self, byte: usize) -> usize {
        line_number(self.text.as_bytes(), byte)
    }
}

/// Line number (from 1) of a byte.
pub(crate) fn line_number(bytes: &[u8], byte: usize) -> usize {
    bytes[..byte.min(bytes.len())].split(|&b| b == b'\n').count()
}

/// Where a value came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Origin {
    /// Bytes of a case file.
    File(Arc<SourceFile>, Range<usize>),
    /// An option of the command line, as typed.
    Option(String),
    /// Nowhere: a default.
    Default,
}

/// One thing that is wrong with an input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Complaint {
    sentence: String,
    origin: Origin,
}

/// Options longer than this are cut in messages, characters.
const LONGEST_OPTION: usize = 120;
/// Source lines longer than this are not shown.
const LONGEST_LINE: usize = 400;

impl Complaint {
    /// A sentence (without a full stop) about a value and where the value came from.
    pub(crate) fn new(sentence: impl Into<String>, origin: Origin) -> Self {
        Self { sentence: sentence.into(), origin }
    }

    /// A sentence that concerns no single value.
    pub(crate) fn plain(sentence: impl Into<String>) -> Self {
        Self::new(sentence, Origin::Default)
    }

    /// The sentence alone.
    pub(crate) fn sentence(&self) -> &str {
        &self.sentence
    }

    /// The sentence with the source line and a caret under the value.
    pub(crate) fn render(&self, styled: bool) -> String {
        let renderer = if styled { Renderer::styled() } else { Renderer::plain() };
        let renderer = renderer.decor_style(DecorStyle::Ascii);
        let title = Level::ERROR.primary_title(self.to_string());
        let mut snippets = Vec::new();
        if let Origin::File(file, span) = &self.origin
            && let Some((line, text, span)) = excerpt(&file.text, span.clone(), file)
        {
            snippets
                .push(Snippet::source(text).line_start(line).annotation(AnnotationKind::Primary.span(span)));
        }
        renderer.render(&[title.elements(snippets)])
    }
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.origin {
            Origin::File(file, span) => write!(f, "{}:{}: ", file.name, file.line(span.start))?,
            Origin::Option(option) => write!(f, "{}: ", cut(option, LONGEST_OPTION))?,
            Origin::Default => {}
        }
        write!(f, "{}", self.sentence)
    }
}

/// Line number, text of the line that holds the start of a span, and the span within that text.
fn excerpt(text: &str, span: Range<usize>, file: &SourceFile) -> Option<(usize, String, Range<usize>)> {
    let mut start = span.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let begin = text[..start].rfind('\n').map_or(0, |i| i + 1);
    let line = text[begin..].split('\n').next().unwrap_or_default().trim_end_matches('\r');
    if line.is_empty() || line.len() > LONGEST_LINE {
        return None;
    }
    // Control characters would move the cursor; tabs are kept.
    let clean = line.replace(|c: char| c.is_control() && c != '\t', " ");
    if clean.len() != line.len() {
        return None;
    }
    let from = (start - begin).min(clean.len());
    let mut to = span.end.saturating_sub(begin).clamp(from, clean.len());
    while !clean.is_char_boundary(to) {
        to += 1;
    }
    Some((file.line(start), clean, from..to))
}
