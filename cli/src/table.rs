//! Short tables for people: rows of a name and one or more cells, aligned, with units.

use std::fmt::Write;

/// A number with fixed decimals and no negative zero.
pub(crate) fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.trim_matches(['-', '0', '.']).is_empty() { text.replace('-', "") } else { text }
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

    /// Adds a line of text, or an empty line.
    pub(crate) fn text(&mut self, text: impl Into<String>) {
        self.rows.push(Row::Text(text.into()));
    }

    /// Adds a name with its cells.
    pub(crate) fn row(&mut self, name: impl Into<String>, cells: impl Into<Vec<String>>) {
        self.rows.push(Row::Cells(name.into(), cells.into()));
    }

    /// The whole table.
    pub(crate) fn render(&self) -> String {
        let width = |text: &str| text.chars().count();
        let mut names = 0;
        let mut columns: Vec<usize> = Vec::new();
        for row in &self.rows {
            if let Row::Cells(name, cells) = row {
                names = names.max(width(name));
                columns.resize(columns.len().max(cells.len()), 0);
                for (column, cell) in columns.iter_mut().zip(cells) {
                    *column = (*column).max(width(cell));
                }
            }
        }
        let mut out = String::new();
        for row in &self.rows {
            match row {
                Row::Text(text) => out.push_str(text),
                Row::Cells(name, cells) => {
                    let _ = write!(out, "{name}{}", " ".repeat(names - width(name)));
                    for (column, cell) in columns.iter().zip(cells) {
                        let _ = write!(out, "  {}{cell}", " ".repeat(column - width(cell)));
                    }
                    out.truncate(out.trim_end_matches(' ').len());
                }
            }
            out.push('\n');
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_aligned_right_and_names_left() {
        let mut table = Table::new();
        table.text("A title");
        table.row("depth", ["5.3 mm".to_owned(), "12.25 mm".to_owned()]);
        table.row("sigma²", ["12 mm²".to_owned(), "9 mm²".to_owned()]);
        assert_eq!(table.render(), "A title\ndepth   5.3 mm  12.25 mm\nsigma²  12 mm²     9 mm²\n");
    }
}
