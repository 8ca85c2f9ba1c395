//! Lines of a study: results against the key that varies, with the error of the mesh as a band, broken where a quotient runs
//! to infinity; one frame a result, or one for each value of a third key; rows of dots where the key takes words.

pub(crate) mod branch;
mod frames;
mod rows;

use super::axis::Heading;
use super::colour::{Colour, LOAD, MOVED, RESISTANCE, TIP};
use super::style::Style;
use super::svg::{At, Svg};
pub(crate) use branch::Point;

/// One line, or one dot a row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Series {
    /// What it is called.
    pub(crate) name: String,
    /// Its points, along the key.
    pub(crate) points: Vec<Point>,
}

/// A frame with some lines.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Panel {
    /// Names of its values with their unit, the longest first.
    pub(crate) names: Vec<String>,
    /// Which value of a third key it shows; empty without one.
    pub(crate) caption: String,
    /// A value to draw across, with its name.
    pub(crate) rule: Option<(f64, String)>,
    /// The lines.
    pub(crate) series: Vec<Series>,
}

/// What the key takes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Along {
    /// Numbers; names of the key with its unit, the longest first.
    Numbers(Vec<String>),
    /// Words, one a row.
    Words(Vec<String>),
}

/// What the figure is about.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SweepChart {
    /// Sheet, ground and language.
    pub(crate) style: Style,
    /// Title.
    pub(crate) title: String,
    /// Lines below the title.
    pub(crate) lines: Vec<String>,
    /// What of the study is not shown, to be read on every sheet; empty if all is.
    pub(crate) left_out: String,
    /// What varies.
    pub(crate) along: Along,
    /// What tells the lines of a frame apart; empty where they are different results.
    pub(crate) key: String,
    /// Frames; those of a result stand together.
    pub(crate) panels: Vec<Panel>,
}

/// Draws the lines.
pub(crate) fn draw(chart: &SweepChart) -> Svg {
    match &chart.along {
        Along::Numbers(names) => frames::draw(chart, names),
        Along::Words(words) => rows::draw(chart, words),
    }
}

/// The title and what stands below it.
fn heading(chart: &SweepChart, width: f64) -> Heading {
    let mut lines = chart.lines.clone();
    if !chart.left_out.is_empty() {
        lines.push(chart.left_out.clone());
    }
    Heading::new(chart.style, width, &chart.title, &lines)
}

/// An empty sheet.
fn sheet(chart: &SweepChart, size: At) -> Svg {
    Svg::new(chart.style, size, &chart.title, &chart.lines.join(" "))
}

/// Colour of a line: of three each its own; of more, from one end of a scale to the other.
fn colour(k: usize, of: usize) -> Colour {
    if of <= 3 {
        return [MOVED, LOAD, RESISTANCE][k];
    }
    // The middle of the scale is too pale for a line.
    let share = k as f64 / (of - 1) as f64;
    let step = if share < 0.5 { 2.0 * share - 1.45 } else { 2.0 * share - 0.55 };
    TIP.at((step / 1.45).clamp(-1.0, 1.0))
}

/// Range of some numbers with a margin; from 0 where they are far apart and positive. Wild values, as near a pole, are left
/// outside.
fn extent(values: &[f64], has_pole: bool) -> [f64; 2] {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (sorted.first(), sorted.last()) else { return [0.0, 1.0] };
    let (mut low, mut high) = (first, last);
    let at = |share: f64| crate::study::sensitivity::percentile(&sorted, share);
    let middle = at(0.9) - at(0.1);
    if middle > 0.0 && (has_pole || last - first > 12.0 * middle) {
        let beyond = if has_pole { 0.8 * middle } else { middle };
        (low, high) = (low.max(at(0.1) - beyond), high.min(at(0.9) + beyond));
    }
    if low > 0.0 && low < 0.6 * high && !has_pole {
        return [0.0, 1.08 * high];
    }
    let pad = (0.1 * (high - low)).max(0.02 * high.abs()).max(1e-9);
    [low - pad, high + pad]
}

#[cfg(test)]
#[path = "sweep/tests.rs"]
mod tests;
