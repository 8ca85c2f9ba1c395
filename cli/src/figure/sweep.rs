//! Lines of a study: results against the key that varies, with the error of the mesh as a band; rows of dots where the key
//! takes words.

use super::axis::{self, Frame, SMALL, heading};
use super::colour::{Colour, FAINT, INK, LOAD, MOVED, PAPER, RESISTANCE, TIP};
use super::font::Face;
use super::layout::spread;
use super::style::{Size, Style};
use super::svg::{Anchor, At, Label, Paint, Svg};

/// One line, or one dot a row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Series {
    /// What it is called at its end.
    pub(crate) name: String,
    /// Place along the key (number or row), value, error of the mesh.
    pub(crate) points: Vec<[f64; 3]>,
}

/// A frame with some lines.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Panel {
    /// Names of its values with their unit, the longest first.
    pub(crate) names: Vec<String>,
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
    /// What varies.
    pub(crate) along: Along,
    /// Frames from left to right.
    pub(crate) panels: Vec<Panel>,
}

/// Height of a row of dots.
const ROW: f64 = 31.0;
/// Room for the names of lines to the right of a frame.
const NAMES: f64 = 152.0;

/// Draws the lines.
pub(crate) fn draw(chart: &SweepChart) -> Svg {
    match &chart.along {
        Along::Numbers(names) => draw_lines(chart, names),
        Along::Words(words) => draw_rows(chart, words),
    }
}

fn sheet(chart: &SweepChart, size: At) -> Svg {
    let mut svg = Svg::new(chart.style, size, &chart.title, &chart.lines.join(" "));
    heading(&mut svg, 40.0, &chart.title, &chart.lines);
    svg
}

/// Upper edge of the frames: below the title, where there is one.
fn top(chart: &SweepChart) -> f64 {
    if chart.style.is_titled() { 96.0 + 24.0 * chart.lines.len() as f64 } else { 24.0 }
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

fn draw_lines(chart: &SweepChart, names: &[String]) -> Svg {
    let count = chart.panels.len().max(1) as f64;
    let stacked = chart.style.size == Size::Column;
    let size = chart.style.sheet([1200.0, 700.0], 24.0 + 400.0 * count);
    let mut svg = sheet(chart, size);
    let top = top(chart);
    for (k, panel) in chart.panels.iter().enumerate() {
        let (corner, size) = if stacked {
            ([84.0, top + 400.0 * k as f64], [size[0] - 84.0 - NAMES, 300.0])
        } else {
            let each = size[0] / count;
            ([each * k as f64 + 96.0, top], [each - 96.0 - NAMES - 12.0, size[1] - top - 84.0])
        };
        let finite = || panel.series.iter().flat_map(|s| &s.points).filter(|p| p[1].is_finite());
        let x = extent(finite().map(|p| p[0]), false);
        let y = extent(finite().flat_map(|p| [p[1] - p[2], p[1] + p[2]]), true);
        lines_of(&mut svg, panel, &Frame { corner, size, x, y }, names);
    }
    svg
}

fn lines_of(svg: &mut Svg, panel: &Panel, frame: &Frame, names: &[String]) {
    for tick in axis::ticks(frame.y, frame.size[1] / 75.0) {
        let [a, b] = frame.x.map(|x| frame.at(x, tick));
        svg.polyline(&[a, b], Paint::line(FAINT, 0.8));
    }
    rule_across(svg, panel, frame);
    let count = panel.series.len();
    svg.clipped(frame.corner, frame.size, |svg| {
        for (k, series) in panel.series.iter().enumerate() {
            let colour = colour(k, count);
            for run in series.points.split(|p| !p[1].is_finite()) {
                let upper = run.iter().map(|p| frame.at(p[0], p[1] + p[2]));
                let lower = run.iter().rev().map(|p| frame.at(p[0], p[1] - p[2]));
                let band: Vec<At> = upper.chain(lower).collect();
                if run.iter().all(|p| p[2].is_finite()) {
                    svg.polygon(&band, Paint::fill(colour).faded(0.16));
                }
                let line: Vec<At> = run.iter().map(|p| frame.at(p[0], p[1])).collect();
                svg.polyline(&line, Paint::line(colour, 2.6));
                if run.len() <= 24 {
                    for at in &line {
                        svg.circle(*at, 3.4, Paint::fill(colour));
                    }
                }
            }
        }
    });
    frame.outline(svg);
    frame.bottom(svg, names);
    frame.left(svg, &panel.names, |v| v);
    end_names(svg, panel, frame);
}

/// Names at the right ends of the lines, spread so that none hides another.
fn end_names(svg: &mut Svg, panel: &Panel, frame: &Frame) {
    let mut ends: Vec<(f64, usize)> = panel
        .series
        .iter()
        .enumerate()
        .filter_map(|(k, series)| {
            let last = series.points.iter().rev().find(|p| p[1].is_finite())?;
            Some((frame.at(last[0], last[1])[1], k))
        })
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let wanted: Vec<f64> = ends.iter().map(|e| e.0).collect();
    let heights = vec![SMALL; ends.len()];
    let range = [frame.corner[1] - 8.0, frame.corner[1] + frame.size[1] + 8.0];
    let right = frame.corner[0] + frame.size[0];
    for ((end, k), y) in ends.iter().zip(spread(&wanted, &heights, 5.0, range)) {
        let colour = colour(*k, panel.series.len());
        svg.polyline(&[[right + 2.0, *end], [right + 12.0, y]], Paint::line(colour, 1.0));
        svg.label(Label::new(&panel.series[*k].name, [right + 16.0, y], SMALL).colour(colour));
    }
}

/// The value that is drawn across, where the frame holds it, named where no line runs.
fn rule_across(svg: &mut Svg, panel: &Panel, frame: &Frame) {
    let Some((value, name)) = &panel.rule else { return };
    if !(frame.y[0]..=frame.y[1]).contains(value) {
        return;
    }
    let [a, b] = frame.x.map(|x| frame.at(x, *value));
    svg.polyline(&[a, b], Paint::line(INK, 1.4).dashed("7 5"));
    let wide = Label::new(name, a, SMALL).width();
    let steps = 8;
    let room = (frame.size[0] - wide - 16.0).max(0.0);
    let places = [-12.0, 13.0].into_iter().flat_map(|dy| {
        (0..=steps).map(move |k| [a[0] + 8.0 + room * f64::from(k) / f64::from(steps), a[1] + dy])
    });
    // Distance of the nearest line to the middle height of the name, over its width.
    let clearance = |at: &At| {
        let lines = panel.series.iter().map(|s| {
            let points: Vec<At> =
                s.points.iter().filter(|p| p[1].is_finite()).map(|p| frame.at(p[0], p[1])).collect();
            let nearest = |x: f64| {
                points.windows(2).filter(move |w| (w[0][0]..=w[1][0]).contains(&x)).map(move |w| {
                    let share = if w[1][0] > w[0][0] { (x - w[0][0]) / (w[1][0] - w[0][0]) } else { 0.0 };
                    (w[0][1] + share * (w[1][1] - w[0][1]) - at[1]).abs()
                })
            };
            (0..=8).flat_map(|k| nearest(at[0] + wide * f64::from(k) / 8.0)).fold(f64::INFINITY, f64::min)
        });
        lines.fold(f64::INFINITY, f64::min).min(40.0)
    };
    // The first of the clearest places.
    let best = places.rev().max_by(|a, b| clearance(a).total_cmp(&clearance(b)));
    if let Some(at) = best {
        svg.label(Label::new(name, at, SMALL).colour(INK).halo(PAPER));
    }
}

fn draw_rows(chart: &SweepChart, words: &[String]) -> Svg {
    let count = chart.panels.len().max(1) as f64;
    let entries = |p: &Panel| p.series.len() + usize::from(p.rule.is_some());
    let most = chart.panels.iter().map(entries).max().unwrap_or(1);
    // Names of the dots stand in a line above the frame.
    let top = top(chart) + 14.0 + 22.0 * most as f64;
    let stacked = chart.style.size == Size::Column;
    let rows = ROW * words.len() as f64;
    let column = 24.0 + (rows + 108.0 + 22.0 * most as f64) * count;
    let size = chart.style.sheet([1200.0, top + rows + 88.0], column);
    let mut svg = sheet(chart, size);
    let longest = words.iter().map(|w| super::font::width(w, Face::Regular, SMALL)).fold(0.0, f64::max);
    let left = 30.0 + longest + 14.0;
    for (k, panel) in chart.panels.iter().enumerate() {
        let shown = stacked || k == 0;
        let (corner, size) = if stacked {
            let each = rows + 108.0 + 22.0 * most as f64;
            ([left, top + each * k as f64], [size[0] - left - 26.0, rows])
        } else {
            let each = (size[0] - left - 40.0) / count;
            let height = rows.min(size[1] - top - 80.0);
            ([left + each * k as f64, top], [each - 44.0, height])
        };
        let x = extent(
            panel
                .series
                .iter()
                .flat_map(|s| &s.points)
                .filter(|p| p[1].is_finite())
                .flat_map(|p| [p[1] - p[2], p[1] + p[2]]),
            true,
        );
        let frame = Frame { corner, size, x, y: [words.len() as f64, 0.0] };
        rows_of(&mut svg, panel, &frame, if shown { words } else { &[] });
    }
    svg
}

fn rows_of(svg: &mut Svg, panel: &Panel, frame: &Frame, words: &[String]) {
    let rows = frame.y[0] as usize;
    for row in 0..rows {
        let [a, b] = frame.x.map(|x| frame.at(x, row as f64 + 0.5));
        svg.polyline(&[a, b], Paint::line(FAINT, 0.8));
        if let Some(word) = words.get(row) {
            let at = [frame.corner[0] - 12.0, a[1]];
            svg.label(Label::new(word, at, SMALL).anchor(Anchor::End).colour(INK));
        }
    }
    let left = frame.corner[0] + 6.0;
    let rule = panel.rule.as_ref().filter(|(value, _)| (frame.x[0]..=frame.x[1]).contains(value));
    if let Some((value, name)) = rule {
        let (a, b) = (frame.at(*value, 0.0), frame.at(*value, rows as f64));
        svg.polyline(&[a, b], Paint::line(INK, 1.4).dashed("7 5"));
        let y = frame.corner[1] - 16.0;
        svg.polyline(&[[left - 4.0, y], [left + 20.0, y]], Paint::line(INK, 1.4).dashed("7 5"));
        svg.label(Label::new(name, [left + 28.0, y], SMALL).colour(INK));
    }
    let count = panel.series.len();
    for (k, series) in panel.series.iter().enumerate() {
        let colour = colour(k, count);
        for [row, value, error] in series.points.iter().filter(|p| p[1].is_finite()) {
            let at = frame.at(*value, row + 0.5);
            if error.is_finite() {
                let ends = [value - error, value + error].map(|v| frame.at(v, row + 0.5));
                svg.polyline(&ends, Paint::line(colour, 2.0).faded(0.6));
            }
            svg.circle(at, 5.0, Paint::fill(colour).edge(PAPER, 1.0));
        }
        let above = count - 1 - k + usize::from(rule.is_some());
        let y = frame.corner[1] - 16.0 - 22.0 * above as f64;
        svg.circle([left, y], 5.0, Paint::fill(colour));
        svg.label(Label::new(&series.name, [left + 12.0, y], SMALL).colour(colour));
    }
    frame.outline(svg);
    frame.bottom(svg, &panel.names);
}

/// Range of some numbers with a margin; from 0 where they are far apart and positive. Wild values, as near a place that does
/// not travel, are left outside.
fn extent(values: impl Iterator<Item = f64>, margin: bool) -> [f64; 2] {
    let mut sorted: Vec<f64> = values.filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (sorted.first(), sorted.last()) else { return [0.0, 1.0] };
    let (mut low, mut high) = (first, last);
    let at = |share: f64| crate::study::sensitivity::percentile(&sorted, share);
    let middle = at(0.9) - at(0.1);
    if margin && last - first > 12.0 * middle && middle > 0.0 {
        (low, high) = (at(0.1) - middle, at(0.9) + middle);
    }
    if !margin {
        return if high > low { [low, high] } else { [low - 0.5, high + 0.5] };
    }
    if low > 0.0 && low < 0.6 * high {
        return [0.0, 1.08 * high];
    }
    let pad = (0.1 * (high - low)).max(0.02 * high.abs()).max(1e-9);
    [low - pad, high + pad]
}

#[cfg(test)]
#[path = "sweep/tests.rs"]
mod tests;
