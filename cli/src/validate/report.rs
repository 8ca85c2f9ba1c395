//! The table of the validation: for a terminal, as Markdown, as JSON.

use std::fmt::Write;

use serde_json::{Value, json};

use super::{Finding, Outcome};
use crate::table::Table;
use crate::verify::Target;
use crate::verify::report::digits;

/// Name of the JSON document's format.
pub const SCHEMA: &str = "gomphosis.validation/1";

/// First mark of the block in a page.
pub const BEGIN: &str = "<!-- validation -->";
/// Last mark of the block in a page.
pub const END: &str = "<!-- end of validation -->";

/// Verdict of a finding in a word.
#[must_use]
pub fn verdict(finding: &Finding) -> &'static str {
    if finding.inside() { "inside" } else { "outside" }
}

/// The band and the value, in words and three or four digits.
fn band_and_value(finding: &Finding) -> [String; 2] {
    let whole = |value: f64| value.fract() == 0.0;
    let end = |value: f64| if whole(value) { digits(value, 6, true) } else { digits(value, 3, true) };
    let band = match finding.row.target {
        Target::Band { low, high } if high == f64::INFINITY => format!("at least {}", end(low)),
        Target::Band { low, high } if high <= low => end(low),
        Target::Band { low, high } => format!("{} to {}", end(low), end(high)),
        // Findings have bands only.
        _ => String::new(),
    };
    let got = finding.row.got;
    [band, if whole(got) { digits(got, 6, true) } else { digits(got, 3, false) }]
}

/// A sentence with the counts.
#[must_use]
pub fn counts(outcomes: &[Outcome]) -> String {
    let all = || outcomes.iter().flat_map(Outcome::findings);
    counts_of(all().filter(|finding| finding.inside()).count(), all().count())
}

/// The same sentence from the counts.
#[must_use]
pub fn counts_of(inside: usize, all: usize) -> String {
    format!("{inside} of {all} values inside their band, {} outside", all - inside)
}

/// One line of a Markdown table.
#[must_use]
pub fn markdown_line(finding: &Finding) -> String {
    let what = &finding.row.quantity;
    let [band, got] = band_and_value(finding);
    let Finding { tooth, by, stated, known, .. } = finding;
    let reason = if finding.inside() { "" } else { finding.reason };
    format!(
        "| {tooth} | {what} | {by} ({}): {stated} | {band} | {got} | {} | {reason} |",
        known.words(),
        verdict(finding)
    )
}

/// All studies in Markdown.
#[must_use]
pub fn markdown(outcomes: &[Outcome]) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}.", counts(outcomes));
    for outcome in outcomes {
        let study = &outcome.study;
        let _ = writeln!(out, "\n## {}\n\n{}.\n\n{}.\n", study.title, study.source, study.rebuilt);
        match &outcome.results {
            Err(error) => {
                let _ = writeln!(out, "No result: {error}");
            }
            Ok(results) => {
                out.push_str("```sh\n");
                for command in &results.commands {
                    let _ = writeln!(out, "{command}");
                }
                out.push_str(
                    "```\n\n| tooth | quantity | published | band | here | verdict | likely reason |\n",
                );
                out.push_str("|---|---|---|--:|--:|---|---|\n");
                for finding in &results.findings {
                    let _ = writeln!(out, "{}", markdown_line(finding));
                }
            }
        }
    }
    out
}

/// All studies for a terminal: the counts first, then each value, and below one outside its band why it may be so.
#[must_use]
pub fn text(outcomes: &[Outcome]) -> String {
    let mut table = Table::new();
    table.text(format!("{}.", counts(outcomes)));
    table.text("");
    table.row("", ["published".to_owned(), "here".to_owned(), "verdict".to_owned()]);
    for outcome in outcomes {
        let seconds = outcome.elapsed.as_secs_f64();
        table.text(format!("{} ({}; {seconds:.1} s)", outcome.study.title, outcome.study.name));
        for finding in outcome.findings() {
            let what = &finding.row.quantity;
            let [band, got] = band_and_value(finding);
            let name = format!("  {}, {what} ({}, {})", finding.tooth, finding.by, finding.known.words());
            table.row(name, [band, got, verdict(finding).to_owned()]);
            if !finding.inside() && !finding.reason.is_empty() {
                table.text(format!("      Likely reason: {}.", finding.reason.trim_end_matches('.')));
            }
        }
        if let Err(error) = &outcome.results {
            table.text(format!("  no result: {error}"));
        }
    }
    table.render()
}

/// The whole as one document.
#[must_use]
pub fn json(outcomes: &[Outcome]) -> Value {
    let studies = outcomes.iter().map(|outcome| {
        let study = &outcome.study;
        let findings = outcome.findings().iter().map(|finding| {
            json!({
                "tooth": finding.tooth,
                "quantity": finding.row.quantity,
                "by": finding.by,
                "stated": finding.stated,
                "known": finding.known.words(),
                "band": finding.row.target,
                "got": finding.row.got,
                "inside": finding.inside(),
                "likely_reason": finding.reason,
            })
        });
        json!({
            "name": study.name,
            "title": study.title,
            "source": study.source,
            "rebuilt": study.rebuilt,
            "commands": outcome.results.as_ref().map(|r| r.commands.clone()).unwrap_or_default(),
            "failure": outcome.results.as_ref().err().map(ToString::to_string),
            "findings": findings.collect::<Vec<_>>(),
            "time_s": outcome.elapsed.as_secs_f64(),
        })
    });
    let all = || outcomes.iter().flat_map(Outcome::findings);
    json!({
        "schema": SCHEMA,
        "version": env!("CARGO_PKG_VERSION"),
        "values": all().count(),
        "values_inside": all().filter(|finding| finding.inside()).count(),
        "studies": studies.collect::<Vec<_>>(),
    })
}
