//! Short tables for people: rows of a name and one or more cells, aligned, with units; and text in lines. Nothing is wider
//! than a terminal of [`WIDTH`] characters.

use std::fmt::Write;

use textwrap::{Options, WordSplitter};

/// Characters of a line.
pub(crate) const WIDTH: usize = 80;
/// A column of names that is narrower is not wrapped in: a longer name takes lines of its own.
const LEAST_NAMES: usize = 30;

/// A number with fixed decimals and no negative zero.
pub(crate) fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.trim_matches(['-', '0', '.']).is_empty() { text.replace('-', "") } else { text }
}

/// A height or depth in mm as it is printed everywhere: two decimals, without the unit.
pub(crate) fn height(mm: f64) -> String {
    fixed(mm, 2)
}

/// A text in lines of at most `width` characters, which begin with `first` and then with `rest`. Words are not broken: a
/// path stays whole even if it is longer.
pub(crate) fn lines(text: &str, width: usize, first: &str, rest: &str) -> Vec<String> {
    let options = Options::new(width)
        .initial_indent(first)
        .subsequent_indent(rest)
        .break_words(false)
        .word_splitter(WordSplitter::NoHyphenation);
    textwrap::wrap(text, options).into_iter().map(std::borrow::Cow::into_owned).collect()
}

/// A paragraph in lines of [`WIDTH`], with a line end after each.
pub(crate) fn paragraph(text: &str) -> String {
    joined(lines(&text.split_whitespace().collect::<Vec<_>>().join(" "), WIDTH, "", ""))
}

/// A point of a list in lines of [`WIDTH`].
pub(crate) fn item(text: &str) -> String {
    joined(lines(&text.split_whitespace().collect::<Vec<_>>().join(" "), WIDTH, "- ", "  "))
}

fn joined(lines: Vec<String>) -> String {
    lines.into_iter().fold(String::new(), |mut text, line| {
        text.push_str(&line);
        text.push('\n');
        text
    })
}

/// A table of text.
#[derive(Debug, Default)]
pub(crate) struct Table {
    rows: Vec<Row>,
}

#[derive(Debug)]
enum Row {
    /// A line across all columns.
    Text(String),
    /// A name and its cells, aligned right.
    Cells(String, Vec<String>),
}

impl Table {
    /// An empty table.
    pub(crate) fn new() -> Self {
        Self::default()
    }

    /// Adds a line of text, or an empty line. Its leading blanks stand before each line that it takes.
    pub(crate) fn text(&mut self, text: impl Into<String>) {
        self.rows.push(Row::Text(text.into()));
    }

    /// Adds a name with its cells.
    pub(crate) fn row(&mut self, name: impl Into<String>, cells: impl Into<Vec<String>>) {
        self.rows.push(Row::Cells(name.into(), cells.into()));
    }

    /// The whole table.
    pub(crate) fn render(&self) -> String {
        let (mut names, mut columns) = (0, Vec::<usize>::new());
        for row in &self.rows {
            if let Row::Cells(name, cells) = row {
                names = names.max(characters(name));
                columns.resize(columns.len().max(cells.len()), 0);
                for (column, cell) in columns.iter_mut().zip(cells) {
                    *column = (*column).max(characters(cell));
                }
            }
        }
        let taken: usize = columns.iter().map(|column| column + 2).sum();
        names = names.min(WIDTH.saturating_sub(taken));
        let mut out = String::new();
        for row in &self.rows {
            match row {
                Row::Text(text) if text.is_empty() => out.push('\n'),
                Row::Text(text) => {
                    let blanks = leading(text);
                    out.push_str(&joined(lines(text.trim_start(), WIDTH, blanks, blanks)));
                }
                Row::Cells(name, cells) => push_row(&mut out, name, names, cells, &columns),
            }
        }
        out
    }
}

/// A row: the cells stand beside the last line of the name, or below it where the name takes the whole width.
fn push_row(out: &mut String, name: &str, names: usize, cells: &[String], columns: &[usize]) {
    let blanks = leading(name);
    let rest = format!("{blanks}  ");
    let fits = characters(name) <= names;
    let width = if fits || names >= LEAST_NAMES { names } else { WIDTH };
    let mut parts = if name.trim().is_empty() {
        vec![String::new()]
    } else {
        lines(name.trim_start(), width, blanks, &rest)
    };
    // A word that is longer than the column, or a name as wide as the page.
    if parts.last().is_some_and(|line| characters(line) > names) {
        parts.push(String::new());
    }
    let last = parts.pop().unwrap_or_default();
    out.push_str(&joined(parts));
    let _ = write!(out, "{last}{}", " ".repeat(names - characters(&last)));
    for (column, cell) in columns.iter().zip(cells) {
        let _ = write!(out, "  {}{cell}", " ".repeat(column - characters(cell)));
    }
    out.truncate(out.trim_end_matches(' ').len());
    out.push('\n');
}

fn characters(text: &str) -> usize {
    text.chars().count()
}

/// The blanks that a text begins with.
fn leading(text: &str) -> &str {
    &text[..text.len() - text.trim_start_matches(' ').len()]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn cells_are_aligned_right_and_names_left() {
        let mut table = Table::new();
        table.text("A title");
        table.row("depth", ["5.3 mm".to_owned(), "12.25 mm".to_owned()]);
        table.row("sigma²", ["12 mm²".to_owned(), "9 mm²".to_owned()]);
        assert_eq!(table.render(), "A title\ndepth   5.3 mm  12.25 mm\nsigma²  12 mm²     9 mm²\n");
    }

    #[test]
    fn a_long_name_is_wrapped_beside_its_cells_or_stands_above_them() {
        let mut table = Table::new();
        let name = "  a name that goes on and on until it does not fit beside the cells any more";
        table.row(name, ["12.25 mm ± 0.2%".to_owned(), "9.75 mm ± 0.3%".to_owned()]);
        let blanks = " ".repeat(16);
        assert_eq!(
            table.render(),
            format!(
                "  a name that goes on and on until it does not\n    fit beside the cells any more{blanks}12.25 mm ± 0.2%  \
                 9.75 mm ± 0.3%\n"
            )
        );
        let mut table = Table::new();
        let cell = "a cell that is so wide that few names have room beside it";
        table.row(name, [cell.to_owned()]);
        assert_eq!(table.render(), format!("{name}\n{cell:>WIDTH$}\n"));
    }

    proptest! {
        #[test]
        fn nothing_is_wider_than_the_page_and_nothing_is_lost(
            rows in prop::collection::vec(("( {0,4})[a-zé]{1,9}( [a-z,()]{1,12}){0,20}", prop::collection::vec("[0-9.]{0,12}", 1..5)), 1..6),
        ) {
            let mut table = Table::new();
            for (name, cells) in &rows {
                table.text(name.clone());
                table.row(name.clone(), cells.clone());
            }
            let text = table.render();
            for line in text.lines() {
                prop_assert!(line.chars().count() <= WIDTH, "{line:?} is {} wide", line.chars().count());
            }
            let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
            let mut put = Vec::new();
            for (name, cells) in &rows {
                put.extend(words(name));
                // Cells may stand beside the first lines only if there is one line: sort for the comparison.
                put.extend(words(name));
                put.extend(cells.iter().flat_map(|cell| words(cell)));
            }
            let mut got = words(&text);
            put.sort();
            got.sort();
            prop_assert_eq!(got, put);
        }
    }
}
