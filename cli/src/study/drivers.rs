//! What drives the headline numbers of a sampled study: every output with every input, from the study's table.

use super::sample::Design;
use super::sensitivity::{Interval, fifths, rank_correlation, sobol};
use super::table::Rows;
use super::{Study, column_name};
use crate::case::Kind;

/// Outputs whose drivers are asked for: column, what it is called, unit.
pub(crate) const OUTPUTS: [(&str, &str, &str); 5] = [
    ("bucco_lingual_centre_of_resistance_depth_mm", "centre of resistance below the crest", "mm"),
    ("bucco_lingual_torque_for_translation_mm", "torque for translation", "N\u{b7}mm/N"),
    ("bucco_lingual_tip_deg_per_mm_attachment", "tip per mm at the attachment", "\u{b0}/mm"),
    (
        "bucco_lingual_compensation_deg_per_mm_attachment",
        "compensation per mm at the attachment",
        "\u{b0}/mm",
    ),
    ("bucco_lingual_compensation_deg_per_mm_cusp_tip", "compensation per mm at the cusp tip", "\u{b0}/mm"),
];

/// How strongly one input drives one output.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Driver {
    /// The varied key.
    pub(crate) key: &'static str,
    /// Sobol' indices, first-order and total; only from Saltelli's design.
    pub(crate) indices: Option<(Interval, Interval)>,
    /// Spearman's rank correlation.
    pub(crate) correlation: Option<Interval>,
    /// Mean of the output among the lowest and the highest fifth of the input.
    pub(crate) fifths: Option<[f64; 2]>,
}

impl Driver {
    /// How much it counts: the total index, else the strength of the correlation.
    pub(crate) fn weight(&self) -> f64 {
        let total = self.indices.map(|(_, total)| total.value);
        total.or(self.correlation.map(|c| c.value.abs())).unwrap_or(0.0)
    }
}

/// The drivers of one output, the strongest first.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Drivers {
    /// Column of the output.
    pub(crate) column: &'static str,
    /// What it is called.
    pub(crate) name: &'static str,
    /// Its unit.
    pub(crate) unit: &'static str,
    /// Mean over all cases.
    pub(crate) mean: f64,
    /// Cases with a number.
    pub(crate) cases: usize,
    /// One entry an input that is a number.
    pub(crate) inputs: Vec<Driver>,
}

/// Finds the drivers; none for a grid, whose values say nothing of how often they occur.
pub(crate) fn drivers(study: &Study, rows: &mut Rows) -> std::io::Result<Vec<Drivers>> {
    if study.design == Design::Grid {
        return Ok(Vec::new());
    }
    let (_, seed) = study.sample_key();
    let mut names: Vec<String> = OUTPUTS.iter().map(|(column, ..)| (*column).to_owned()).collect();
    names.extend(study.axes.iter().map(|axis| column_name(axis.key.path)));
    let columns = rows.numbers(&names.iter().map(String::as_str).collect::<Vec<_>>())?;
    let (outputs, inputs) = columns.split_at(OUTPUTS.len());
    let mut all = Vec::new();
    for ((column, name, unit), y) in OUTPUTS.into_iter().zip(outputs) {
        let finite: Vec<f64> = y.iter().copied().filter(|v| v.is_finite()).collect();
        if finite.is_empty() {
            continue;
        }
        let indices = saltelli(study, y, seed);
        // Saltelli's copies are no independent sample: A alone is.
        let step = if study.design == Design::Saltelli { study.axes.len() + 2 } else { 1 };
        let sample = |values: &[f64]| -> Vec<f64> { values.iter().copied().step_by(step).collect() };
        let mut found: Vec<Driver> = study
            .axes
            .iter()
            .zip(inputs)
            .enumerate()
            // Words have no order.
            .filter(|(_, (axis, _))| matches!(axis.key.kind, Kind::Number { .. } | Kind::Count { .. }))
            .map(|(k, (axis, x))| Driver {
                key: axis.key.path,
                indices: indices.as_ref().map(|found| found[k]),
                correlation: rank_correlation(&sample(x), &sample(y), seed),
                fifths: fifths(&sample(x), &sample(y)),
            })
            .collect();
        found.sort_by(|a, b| b.weight().total_cmp(&a.weight()));
        let mean = finite.iter().sum::<f64>() / finite.len() as f64;
        all.push(Drivers { column, name, unit, mean, cases: finite.len(), inputs: found });
    }
    Ok(all)
}

fn saltelli(study: &Study, y: &[f64], seed: u64) -> Option<Vec<(Interval, Interval)>> {
    if study.design != Design::Saltelli {
        return None;
    }
    let keys = study.axes.len();
    let block = |k: usize| -> Vec<f64> { y.iter().copied().skip(k).step_by(keys + 2).collect() };
    let mixed: Vec<Vec<f64>> = (0..keys).map(|key| block(key + 2)).collect();
    let found = sobol(&block(0), &block(1), &mixed, seed)?;
    Some(found.into_iter().map(|i| (i.first, i.total)).collect())
}

/// The drivers as CSV: one line an output, an input and a measure.
pub(crate) fn csv(drivers: &[Drivers]) -> std::io::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let wrap = std::io::Error::other::<csv::Error>;
    writer.write_record(["output", "input", "measure", "value", "low", "high"]).map_err(wrap)?;
    let text = super::space::number_text;
    for of in drivers {
        for driver in &of.inputs {
            let (first, total) = driver.indices.unzip();
            for (measure, found) in
                [("first_order", first), ("total", total), ("rank_correlation", driver.correlation)]
            {
                let Some(found) = found else { continue };
                let input = column_name(driver.key);
                let numbers = [found.value, found.low, found.high].map(text);
                writer
                    .write_record([of.column, &input, measure, &numbers[0], &numbers[1], &numbers[2]])
                    .map_err(wrap)?;
            }
            for (measure, value) in ["mean_of_lowest_fifth", "mean_of_highest_fifth"]
                .iter()
                .zip(driver.fifths.into_iter().flatten())
            {
                let input = column_name(driver.key);
                writer.write_record([of.column, &input, measure, &text(value), "", ""]).map_err(wrap)?;
            }
        }
    }
    writer.into_inner().map_err(|e| std::io::Error::other(e.to_string()))
}
