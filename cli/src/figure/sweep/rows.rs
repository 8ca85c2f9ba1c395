//! Rows of dots, one a word.

use super::{Panel, SweepChart, colour, extent, heading, sheet};
use crate::figure::axis::{Frame, NAME, SMALL};
use crate::figure::colour::{FAINT, INK, PAPER};
use crate::figure::font::{self, Face};
use crate::figure::layout::broken;
use crate::figure::style::Size;
use crate::figure::svg::{Anchor, Label, Paint, Svg};

/// Height of a row of dots.
const ROW: f64 = 31.0;
/// From one line of text to the next.
const LINE: f64 = 22.0;
/// Numbers of the scale below a frame.
const SCALE: f64 = 48.0;

/// Draws the chart.
pub(super) fn draw(chart: &SweepChart, words: &[String]) -> Svg {
    let style = chart.style;
    let width = style.sheet([1200.0, 0.0], 0.0)[0];
    let count = chart.panels.len().max(1) as f64;
    let stacked = style.size == Size::Column;
    let longest = words.iter().map(|w| font::width(w, Face::Regular, SMALL)).fold(0.0, f64::max);
    let left = 24.0 + longest + 12.0;
    let each =
        if stacked { width - left - 24.0 } else { (width - left - 24.0 - 40.0 * (count - 1.0)) / count };
    let titles: Vec<Vec<String>> = chart.panels.iter().map(|panel| title(panel, each)).collect();
    let named = |p: &Panel| p.series.iter().filter(|s| !s.name.is_empty()).count();
    let entries = |p: &Panel| named(p) + usize::from(p.rule.is_some());
    // What the frame shows and the names of its dots stand above it.
    let lines = chart.panels.iter().zip(&titles).map(|(panel, title)| title.len() + entries(panel));
    let above = LINE * lines.max().unwrap_or(1) as f64 + 10.0;
    let heading = heading(chart, width);
    let notes = if style.is_titled() {
        Vec::new()
    } else {
        broken(&chart.left_out, Face::Regular, SMALL, width - 24.0)
    };
    let top = if style.is_titled() {
        72.0 + 24.0 * (chart.lines.len() + usize::from(!chart.left_out.is_empty())) as f64 + heading.extra()
    } else {
        14.0 + LINE * notes.len() as f64
    };
    let rows = ROW * words.len() as f64;
    let size = style.sheet([1200.0, top + above + rows + SCALE], top + (above + rows + SCALE) * count);
    let height = if stacked { rows } else { size[1] - top - above - SCALE };
    let mut svg = sheet(chart, size);
    heading.draw(&mut svg);
    for (k, line) in notes.iter().enumerate() {
        svg.label(Label::new(line, [12.0, 20.0 + LINE * k as f64], SMALL));
    }
    for (k, (panel, title)) in chart.panels.iter().zip(&titles).enumerate() {
        let [right, down] = if stacked { [0.0, k as f64] } else { [k as f64, 0.0] };
        let corner = [left + (each + 40.0) * right, top + above + (above + rows + SCALE) * down];
        let with_bands = panel.series.iter().flat_map(|s| &s.points).flat_map(|p| {
            let error = if p.error.is_finite() { p.error } else { 0.0 };
            [p.value - error, p.value + error]
        });
        let x = extent(&with_bands.collect::<Vec<_>>(), false);
        let frame = Frame { corner, size: [each, height], x, y: [words.len() as f64, 0.0] };
        frame_of(&mut svg, panel, &frame, if stacked || k == 0 { words } else { &[] });
        let first = corner[1] - 14.0 - LINE * (title.len() + entries(panel) - 1) as f64;
        for (k, line) in title.iter().enumerate() {
            let at = [corner[0], first + LINE * k as f64];
            svg.label(Label::new(line, at, NAME).face(Face::Semibold));
        }
    }
    svg
}

/// What a frame shows, in lines.
fn title(panel: &Panel, room: f64) -> Vec<String> {
    let mut lines = panel
        .names
        .iter()
        .map(|name| broken(name, Face::Semibold, NAME, room))
        .min_by_key(|lines| lines.len().max(2))
        .unwrap_or_default();
    if !panel.caption.is_empty() {
        lines.extend(broken(&panel.caption, Face::Semibold, NAME, room));
    }
    lines
}

fn frame_of(svg: &mut Svg, panel: &Panel, frame: &Frame, words: &[String]) {
    let rows = frame.y[0] as usize;
    for row in 0..rows {
        let [a, b] = frame.x.map(|x| frame.at(x, row as f64 + 0.5));
        svg.polyline(&[a, b], Paint::line(FAINT, 0.8));
        if let Some(word) = words.get(row) {
            let at = [frame.corner[0] - 12.0, a[1]];
            svg.label(Label::new(word, at, SMALL).anchor(Anchor::End).colour(INK));
        }
    }
    // Names that are wider than the frame begin left of it.
    let names = panel.series.iter().map(|s| font::width(&s.name, Face::Regular, SMALL)).fold(0.0, f64::max);
    let left = (frame.corner[0] + 6.0).min(svg.width() - 20.0 - names);
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
        for point in series.points.iter().filter(|p| p.value.is_finite()) {
            let inside = (frame.x[0]..=frame.x[1]).contains(&point.value);
            let at = frame.at(point.value.clamp(frame.x[0], frame.x[1]), point.x + 0.5);
            if !inside {
                // Beyond the frame: a head at its side points there.
                let back = if point.value > frame.x[1] { -11.0 } else { 11.0 };
                svg.head([at[0] + back, at[1]], at, 5.0, colour);
                continue;
            }
            if point.error.is_finite() {
                let ends = [point.value - point.error, point.value + point.error]
                    .map(|v| frame.at(v.clamp(frame.x[0], frame.x[1]), point.x + 0.5));
                svg.polyline(&ends, Paint::line(colour, 2.0).faded(0.6));
            }
            svg.circle(at, 5.0, Paint::fill(colour).edge(PAPER, 1.0));
        }
        if series.name.is_empty() {
            continue;
        }
        let below = count - 1 - k + usize::from(rule.is_some());
        let y = frame.corner[1] - 16.0 - LINE * below as f64;
        svg.circle([left, y], 5.0, Paint::fill(colour));
        svg.label(Label::new(&series.name, [left + 12.0, y], SMALL).colour(colour));
    }
    frame.outline(svg);
    frame.bottom(svg, &[]);
}
