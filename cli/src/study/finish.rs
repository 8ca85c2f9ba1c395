//! The end of a study: tables from the rows, and what they say in short.

use std::fmt::Write;
use std::path::Path;

use serde_json::{Value, json};

use super::drivers::{self, Drivers, drivers};
use super::missing::{self, Lost};
use super::quantity::Quantity;
use super::sample::Design;
use super::sensitivity::Interval;
use super::table::{Rows, SCHEMA};
use super::{Study, charts, column_name};
use crate::args::Tables;
use crate::compensate::ASSUMPTION;
use crate::exit::Failure;
use crate::figure::{self, Style, write_drawing};
use crate::output::{Batch, Form, Purpose, What};
use crate::table::{Table, fixed};

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

/// What the figures of a study are about, and all that they depend on.
pub(crate) fn about(study: &Study) -> [String; 2] {
    [study.title.clone(), format!("{:016x}", study.fingerprint())]
}

/// Looks at the places of the files of [`finish`]: those that a study of its design may have.
pub(crate) fn plan(
    study: &Study,
    directory: &Path,
    format: Tables,
    batch: &mut Batch,
) -> Result<(), Failure> {
    if format != Tables::Parquet {
        batch.plan_in(directory, "table.csv", What::plain(Form::Csv, Purpose::Table))?;
    }
    if format != Tables::Csv {
        batch.plan_in(directory, "table.parquet", What::plain(Form::Parquet, Purpose::Table))?;
    }
    let stem = if study.design == Design::Grid {
        "lines"
    } else {
        batch.plan_in(directory, "sensitivity.csv", What::plain(Form::Csv, Purpose::Sensitivity))?;
        "tornado"
    };
    let [subject, key] = about(study);
    let what = |form| figure::what(stem, Style::default(), &subject, &key, form);
    figure::plan_drawing(stem, what, directory, batch)
}

/// Writes the tables into a directory, whole or not at all, and the figures: lines of the columns that are asked for.
pub(crate) fn finish(
    study: &Study,
    rows: &mut Rows,
    directory: &Path,
    format: Tables,
    asked: &[Quantity],
    mut batch: Batch,
) -> Result<Finished, Failure> {
    plan(study, directory, format, &mut batch)?;
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
    let lost = lost(study, rows, &status).map_err(journal)?;
    let unchecked = status.iter().filter(|s| *s == "check failed").count();
    let names = HEADLINE.map(|(name, _, _)| name);
    let numbers = rows.numbers(&names).map_err(journal)?;
    let drivers = drivers(study, rows).map_err(journal)?;
    if !drivers.is_empty() {
        files.push("sensitivity.csv");
        let bytes = drivers::csv(&drivers).map_err(journal)?;
        batch.file(&directory.join("sensitivity.csv"), |w| w.write_all(&bytes))?;
    }
    let style = Style::default();
    if let Some(chart) = charts::lines(study, rows, asked, style).map_err(journal)? {
        files.push("lines as SVG and PNG");
        write_drawing("lines", &figure::sweep::draw(&chart).finish(), directory, &mut batch)?;
    }
    if let Some(chart) = charts::tornado(study, &drivers, style) {
        files.push("tornado as SVG and PNG");
        write_drawing("tornado", &figure::tornado::draw(&chart).finish(), directory, &mut batch)?;
    }
    batch.commit()?;

    let mut table = Table::new();
    table.text(format!("{}: {}", study.title, counted(study.len(), failed, unchecked)));
    table.text(format!("varied: {}", study.summary()));
    for warning in study.warnings() {
        table.text(format!("Warning: {warning}."));
    }
    table.text("");
    if failed < study.len() {
        table.row("Over all cases, bucco-lingual", ["smallest", "middle", "largest"].map(str::to_owned));
    }
    let mut ranges = Vec::new();
    for ((name, words, unit), values) in HEADLINE.iter().zip(&numbers) {
        let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
        sorted.sort_by(f64::total_cmp);
        let (Some(first), Some(last)) = (sorted.first(), sorted.last()) else { continue };
        let middle = sorted[sorted.len() / 2];
        table.row(format!("  {words}"), [*first, middle, *last].map(|v| format!("{v:.2} {unit}")));
        ranges.push(json!({ "column": name, "smallest": first, "median": middle, "largest": last }));
    }
    let mut text = table.render();
    // Each with columns of its own.
    for of in &drivers {
        let mut table = Table::new();
        table.text("");
        driver_rows(of, &mut table);
        text.push_str(&table.render());
    }
    let mut table = Table::new();
    if failed > 0 {
        table.text("");
        table.text("Without a result (rows with status \"failed\"), by cause:");
        for lost in lost.iter().take(CAUSES) {
            table.text(format!("  {}", missing::sentence(lost)));
        }
        if let Some(rest) = lost.get(CAUSES..).filter(|rest| !rest.is_empty()) {
            let cases = rest.iter().map(|lost| lost.cases).sum();
            table.text(format!("  {}: other reasons, each in its row", counted(cases, 0, 0)));
        }
        if lost.iter().any(|lost| !lost.missing.is_empty()) {
            table.text("Ranges and drivers above are those of the cases that are left: what is mostly missing is not in them.");
        }
    }
    table.text("");
    if failed < study.len() {
        table.text(ASSUMPTION);
    }
    table.text(crate::summary::CAUTION);
    text.push_str(&table.render());
    text.push_str(&crate::summary::written(directory, &files.join(", ")));
    Ok(Finished {
        text,
        json: json!({
            "schema": SCHEMA,
            "version": env!("CARGO_PKG_VERSION"),
            "title": study.title,
            "warnings": study.warnings(),
            "assumption": ASSUMPTION,
            "caution": crate::summary::CAUTION,
            "cases": study.len(),
            "failed": failed,
            "checks_failed": unchecked,
            "failures": lost,
            "ranges": ranges,
            "sensitivity": drivers.iter().map(driver_json).collect::<Vec<_>>(),
            "directory": directory.display().to_string(),
            "files": files,
        }),
        any: failed < study.len(),
    })
}

/// The drivers of an output, for people.
fn driver_rows(of: &Drivers, table: &mut Table) {
    let with = of.inputs.iter().any(|d| d.indices.is_some());
    table.text(format!(
        "What drives the {}, {} (its mean in the lowest and highest fifth of each key)",
        of.name, of.unit
    ));
    let title = String::new();
    let swing = "in the fifths".to_owned();
    if with {
        table.row(title, ["alone".to_owned(), "with others".to_owned(), swing]);
    } else {
        table.row(title, ["rank correlation".to_owned(), swing]);
    }
    let number = |found: Option<Interval>| {
        found.map_or_else(
            || "-".to_owned(),
            |i| format!("{} ({} to {})", fixed(i.value, 2), fixed(i.low, 2), fixed(i.high, 2)),
        )
    };
    for driver in &of.inputs {
        let swing = driver
            .fifths
            .map_or_else(|| "-".to_owned(), |[a, b]| format!("{} to {}", fixed(a, 2), fixed(b, 2)));
        let name = format!("  {}", driver.key);
        match driver.indices {
            Some((first, total)) => table.row(name, [number(Some(first)), number(Some(total)), swing]),
            None if with => table.row(name, ["-".to_owned(), "-".to_owned(), swing]),
            None => table.row(name, [number(driver.correlation), swing]),
        }
    }
}

fn driver_json(of: &Drivers) -> Value {
    let number =
        |found: Option<Interval>| found.map(|i| json!({ "value": i.value, "low": i.low, "high": i.high }));
    let inputs: Vec<Value> = of
        .inputs
        .iter()
        .map(|driver| {
            let (first, total) = driver.indices.unzip();
            json!({
                "key": driver.key,
                "first_order": number(first),
                "total": number(total),
                "rank_correlation": number(driver.correlation),
                "mean_of_lowest_and_highest_fifth": driver.fifths,
            })
        })
        .collect();
    json!({ "output": of.column, "mean": of.mean, "cases": of.cases, "inputs": inputs })
}

/// Causes that are printed.
const CAUSES: usize = 3;

/// Failed cases by cause, with the side of the varied numbers on which they lie.
fn lost(study: &Study, rows: &mut Rows, status: &[String]) -> std::io::Result<Vec<Lost>> {
    let failed: Vec<usize> = (0..status.len()).filter(|&case| status[case] == "failed").collect();
    if failed.is_empty() {
        return Ok(Vec::new());
    }
    let reasons = rows.words("reason")?;
    let paths: Vec<&str> = study.axes.iter().map(|axis| axis.key.path).collect();
    let names: Vec<String> = paths.iter().map(|path| column_name(path)).collect();
    let values = rows.numbers(&names.iter().map(String::as_str).collect::<Vec<_>>())?;
    let places: Vec<Vec<f64>> = values.iter().map(|column| missing::places(column)).collect();
    let of = |&case: &usize| (reasons[case].as_str(), places.iter().map(|column| column[case]).collect());
    Ok(missing::by_cause(&paths, failed.iter().map(of)))
}

fn counted(cases: usize, failed: usize, unchecked: usize) -> String {
    let mut text = if cases == 1 { "1 case".to_owned() } else { format!("{cases} cases") };
    if failed > 0 {
        let _ = write!(text, ", {failed} without a result");
    }
    if unchecked > 0 {
        let _ = write!(text, ", {unchecked} with a failed check");
    }
    text
}
