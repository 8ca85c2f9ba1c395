//! The table of a verification: for a terminal, as Markdown, as JSON; and its place between two marks of a page.

use std::fmt::Write;

use serde_json::{Value, json};

use super::{Outcome, Row, Target};
use crate::table::Table;

/// Name of the JSON document's format.
pub const SCHEMA: &str = "gomphosis.verification/1";

/// First mark of the block in a page.
pub const BEGIN: &str = "<!-- verification -->";
/// Last mark of the block in a page.
pub const END: &str = "<!-- end of verification -->";

/// Column heads of a row's cells.
pub const HEAD: [&str; 7] = ["what", "expected", "got", "error", "tolerance", "order", "pass"];

/// Cells of a row, in the order of [`HEAD`].
#[must_use]
pub fn cells(row: &Row) -> [String; 7] {
    let (expected, got, error, tolerance) = match row.target {
        Target::Relative { expected, tolerance } => (
            significant(expected, true),
            significant(row.got, false),
            format!("{:+.4} %", 100.0 * (row.got - expected) / expected),
            percent(tolerance),
        ),
        Target::Absolute { expected: 0.0, tolerance } => {
            ("0".to_owned(), size(row.got), size(row.got), significant(tolerance, true))
        }
        Target::Absolute { expected, tolerance } => (
            significant(expected, true),
            significant(row.got, false),
            size(row.got - expected),
            significant(tolerance, true),
        ),
        Target::Worst { tolerance } => {
            let error = format!("{:+.4} %", 100.0 * row.got);
            ("0 %".to_owned(), error.clone(), error, percent(tolerance))
        }
        Target::Rounding { tolerance } => {
            ("0".to_owned(), format!("{:.0e}", row.got.abs()), String::new(), format!("{tolerance:.0e}"))
        }
        Target::Band { low, high } if high == f64::INFINITY => (
            format!("at least {}", significant(low, true)),
            significant(row.got, false),
            String::new(),
            String::new(),
        ),
        Target::Band { low, high } => (
            format!("{} to {}", significant(low, true), significant(high, true)),
            significant(row.got, false),
            String::new(),
            String::new(),
        ),
    };
    let order = row.order.map_or_else(String::new, |order| format!("{order:.1}"));
    let pass = if row.passed() { "yes" } else { "NO" };
    [row.quantity.clone(), expected, got, error, tolerance, order, pass.to_owned()]
}

/// Six significant digits; `trimmed` of closing zeros.
fn significant(value: f64, trimmed: bool) -> String {
    digits(value, 6, trimmed)
}

/// A number of significant digits; `trimmed` of closing zeros.
pub(crate) fn digits(value: f64, count: usize, trimmed: bool) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() || !(1e-3..1e7).contains(&value.abs()) {
        let text = format!("{value:.*e}", count.saturating_sub(1));
        return match text.split_once('e') {
            Some((front, power)) if trimmed && front.contains('.') => {
                format!("{}e{power}", front.trim_end_matches('0').trim_end_matches('.'))
            }
            _ => text,
        };
    }
    let before = value.abs().log10().floor() + 1.0;
    let decimals = (count as f64 - before).max(0.0) as usize;
    let text = format!("{value:.decimals$}");
    if trimmed && text.contains('.') {
        return text.trim_end_matches('0').trim_end_matches('.').to_owned();
    }
    text
}

/// A signed error with two digits.
fn size(value: f64) -> String {
    if value == 0.0 { "0".to_owned() } else { format!("{value:+.1e}") }
}

fn percent(tolerance: f64) -> String {
    format!("{} %", significant(100.0 * tolerance, true))
}

/// How many rows there are, and how many passed.
#[must_use]
pub fn counts(outcomes: &[Outcome]) -> (usize, usize) {
    let rows = || outcomes.iter().flat_map(Outcome::rows);
    (rows().count(), rows().filter(|row| row.passed()).count())
}

/// A sentence with the counts.
#[must_use]
pub fn verdict(outcomes: &[Outcome]) -> String {
    let (rows, passed) = counts(outcomes);
    let failed = outcomes.iter().filter(|outcome| !outcome.passed()).count();
    verdict_of(rows, passed, outcomes.len(), failed)
}

/// The same sentence from the counts: rows, rows that passed, cases, cases that failed.
#[must_use]
pub fn verdict_of(rows: usize, passed: usize, cases: usize, failed: usize) -> String {
    let plural = if cases == 1 { "" } else { "s" };
    let failed = if failed == 0 { "none failed".to_owned() } else { format!("{failed} FAILED") };
    format!("{passed} of {rows} comparisons within their tolerance; {cases} case{plural}, {failed}")
}

/// The table for a terminal, a heading for each case.
#[must_use]
pub fn text(outcomes: &[Outcome]) -> String {
    let mut table = Table::new();
    table.row("", HEAD[1..].iter().map(|&h| h.to_owned()).collect::<Vec<_>>());
    for outcome in outcomes {
        let seconds = outcome.elapsed.as_secs_f64();
        table.text(format!(
            "{} ({}; {}; {seconds:.1} s)",
            outcome.case.title, outcome.case.source, outcome.case.name
        ));
        for row in outcome.rows() {
            let [what, rest @ ..] = cells(row);
            let source = row.source.map_or_else(String::new, |source| format!(" ({source})"));
            table.row(format!("  {what}{source}"), rest);
        }
        if let Err(error) = &outcome.rows {
            table.text(format!("  FAILED: {error}"));
        }
    }
    table.text("");
    table.text(verdict(outcomes));
    table.render()
}

/// One line of the Markdown table.
#[must_use]
pub fn markdown_line(outcome: &Outcome, row: &Row) -> String {
    let source = row.source.unwrap_or(outcome.case.source);
    let [what, rest @ ..] = cells(row);
    format!("| {} | {source} | {what} | {} |", outcome.case.title, rest.join(" | "))
}

/// The table in Markdown.
#[must_use]
pub fn markdown(outcomes: &[Outcome]) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}.\n", verdict(outcomes));
    let _ = writeln!(out, "| case | source | {} |", HEAD.join(" | "));
    out.push_str("|---|---|---|--:|--:|--:|--:|--:|---|\n");
    for outcome in outcomes {
        for row in outcome.rows() {
            let _ = writeln!(out, "{}", markdown_line(outcome, row));
        }
        if let Err(error) = &outcome.rows {
            let Outcome { case, .. } = outcome;
            let _ = writeln!(out, "| {} | {} | {error} | | | | | | NO |", case.title, case.source);
        }
    }
    out
}

/// The whole as one document.
#[must_use]
pub fn json(outcomes: &[Outcome]) -> Value {
    let cases = outcomes.iter().map(|outcome| {
        let case = &outcome.case;
        let rows = outcome.rows().iter().map(|row| {
            json!({
                "quantity": row.quantity,
                "source": row.source.unwrap_or(case.source),
                "target": row.target,
                "got": row.got,
                "error": row.error(),
                "order_of_convergence": row.order,
                "meshes": row.series,
                "passed": row.passed(),
            })
        });
        json!({
            "name": case.name,
            "title": case.title,
            "reference": case.reference,
            "goal": case.goal,
            "mesh": case.mesh,
            "tolerance": case.tolerance,
            "failure": outcome.rows.as_ref().err().map(ToString::to_string),
            "rows": rows.collect::<Vec<_>>(),
            "passed": outcome.passed(),
            "time_s": outcome.elapsed.as_secs_f64(),
        })
    });
    let (rows, passed) = counts(outcomes);
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "comparisons": rows,
        "comparisons_passed": passed,
        "passed": !outcomes.is_empty() && outcomes.iter().all(Outcome::passed),
        "cases": cases.collect::<Vec<_>>(),
    })
}

/// The part of a page between two marks, each of which stands there once, in order.
#[must_use]
pub fn block<'a>(page: &'a str, begin: &str, end: &str) -> Option<&'a str> {
    let once = |mark: &str| page.matches(mark).count() == 1;
    if !once(begin) || !once(end) {
        return None;
    }
    let from = page.find(begin)? + begin.len();
    page.get(from..page.find(end)?)
}

/// A page with another text between its marks; none if [`block`] finds none.
#[must_use]
pub fn with_block(page: &str, begin: &str, end: &str, text: &str) -> Option<String> {
    let old = block(page, begin, end)?;
    let from = page.find(begin)? + begin.len();
    Some(format!("{}\n{text}{}", &page[..from], &page[from + old.len()..]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_six_digits() {
        for (value, text, trimmed) in [
            (66.9, "66.9000", "66.9"),
            (-5.38, "-5.38000", "-5.38"),
            (67_012.7, "67012.7", "67012.7"),
            (0.0008, "8.00000e-4", "8e-4"),
            (1e-3, "0.00100000", "0.001"),
            (0.0, "0", "0"),
            (999_999.9, "1000000", "1000000"),
        ] {
            assert_eq!(
                (significant(value, false), significant(value, true)),
                (text.to_owned(), trimmed.to_owned())
            );
        }
        assert_eq!(significant(f64::NAN, false), "NaN");
        assert_eq!((size(-0.001_26), size(0.0)), ("-1.3e-3".to_owned(), "0".to_owned()));
    }

    #[test]
    fn a_block_is_replaced_between_its_marks_only() {
        let page = "before\n<a>\nold\n<z>\nafter\n";
        assert_eq!(
            with_block(page, "<a>", "<z>", "new\n").as_deref(),
            Some("before\n<a>\nnew\n<z>\nafter\n")
        );
        assert_eq!(block(page, "<a>", "<z>"), Some("\nold\n"));
        for wrong in ["no marks", "<a> only", "<z> turned <a>", "<a> <a> twice <z>"] {
            assert_eq!(block(wrong, "<a>", "<z>"), None, "{wrong}");
        }
    }

    #[test]
    fn a_line_has_all_cells() {
        let case = super::super::cases::ALL[0];
        let rows = vec![
            Row::relative("kx", 2.0, 2.001, 0.01).against(&[(1.0, 2.004), (0.5, 2.001)]),
            Row::rounding("skew", 3.2e-15, 1e-10).from("algebra"),
            Row::band("high", (0.1, f64::INFINITY), 0.05),
        ];
        let outcome = Outcome { case, rows: Ok(rows), elapsed: std::time::Duration::ZERO };
        let lines: Vec<String> = outcome.rows().iter().map(|row| markdown_line(&outcome, row)).collect();
        assert_eq!(
            lines,
            [
                "| Patch test | exact | kx | 2 | 2.00100 | +0.0500 % | 1 % | 2.0 | yes |",
                "| Patch test | algebra | skew | 0 | 3e-15 |  | 1e-10 |  | yes |",
                "| Patch test | exact | high | at least 0.1 | 0.0500000 |  |  |  | NO |",
            ]
        );
        assert_eq!(verdict(&[outcome]), "2 of 3 comparisons within their tolerance; 1 case, 1 FAILED");
    }
}
