//! The end of a study: tables from the rows, and what they say in short.

use std::path::Path;

use serde_json::{Value, json};

use super::Study;
use super::table::{Rows, SCHEMA};
use crate::args::Tables;
use crate::exit::Failure;
use crate::output::Batch;
use crate::table::Table;

/// Numbers that are summed up on the screen: column and what it is called there.
const HEADLINE: [(&str, &str, &str); 5] = [
    ("bucco_lingual_centre_of_resistance_depth_mm", "centre of resistance, below the crest", "mm"),
    ("bucco_lingual_torque_for_translation_mm", "torque for translation", "N·mm/N"),
    ("bucco_lingual_tip_deg_per_mm_attachment", "tip per mm of travel, attachment's height", "°/mm"),
    (
        "bucco_lingual_compensation_deg_per_mm_attachment",
        "root torque to undo the tip, per mm at the attachment",
        "°/mm",
    ),
    (
        "bucco_lingual_compensation_deg_per_mm_cusp_tip",
        "root torque to undo the tip, per mm at the cusp tip",
        "°/mm",
    ),
];

/// What came out of a study.
pub(crate) struct Finished {
    /// For people.
    pub(crate) text: String,
    /// For programs.
    pub(crate) json: Value,
    /// Has any case a result?
    pub(crate) any: bool,
}

/// Writes the tables into a directory, whole or not at all.
pub(crate) fn finish(
    study: &Study,
    rows: &mut Rows,
    directory: &Path,
    format: Tables,
) -> Result<Finished, Failure> {
    let mut batch = Batch::default();
    let mut files = Vec::new();
    let journal = |error| Failure::io("read the journal in", directory, error);
    if format != Tables::Parquet {
        files.push("table.csv");
        batch.file(&directory.join("table.csv"), |w| rows.write_csv(w))?;
    }
    if format != Tables::Csv {
        files.push("table.parquet");
        batch.file(&directory.join("table.parquet"), |w| rows.write_parquet(&study.title, w))?;
    }
    let status = rows.words("status").map_err(journal)?;
    let failed = status.iter().filter(|s| *s == "failed").count();
    let unchecked = status.iter().filter(|s| *s == "check failed").count();
    let names = HEADLINE.map(|(name, _, _)| name);
    let numbers = rows.numbers(&names).map_err(journal)?;
    batch.commit()?;

    let mut table = Table::new();
    table.text(format!("{}: {}", study.title, counted(study.len(), failed, unchecked)));
    table.text(format!("varied: {}", study.summary()));
    table.text("");
    table.row("Over all cases, bucco-lingual", ["smallest", "middle", "largest"].map(str::to_owned));
    let mut ranges = Vec::new();
    for ((name, words, unit), values) in HEADLINE.iter().zip(&numbers) {
        let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
        sorted.sort_by(f64::total_cmp);
        let (Some(first), Some(last)) = (sorted.first(), sorted.last()) else { continue };
        let middle = sorted[sorted.len() / 2];
        table.row(format!("  {words}"), [*first, middle, *last].map(|v| format!("{v:.2} {unit}")));
        ranges.push(json!({ "column": name, "smallest": first, "median": middle, "largest": last }));
    }
    if failed > 0 {
        table.text("");
        table.text("Cases that failed are rows with status \"failed\" and the reason beside it.");
    }
    table.text("");
    table.text(crate::summary::CAUTION);
    let mut text = table.render();
    text.push_str(&crate::summary::written(directory, &files.join(", ")));
    Ok(Finished {
        text,
        json: json!({
            "schema": SCHEMA,
            "version": env!("CARGO_PKG_VERSION"),
            "title": study.title,
            "cases": study.len(),
            "failed": failed,
            "checks_failed": unchecked,
            "ranges": ranges,
            "directory": directory.display().to_string(),
            "files": files,
        }),
        any: failed < study.len(),
    })
}

fn counted(cases: usize, failed: usize, unchecked: usize) -> String {
    let mut text = if cases == 1 { "1 case".to_owned() } else { format!("{cases} cases") };
    if failed > 0 {
        text.push_str(&format!(", {failed} without a result"));
    }
    if unchecked > 0 {
        text.push_str(&format!(", {unchecked} with a failed check"));
    }
    text
}
