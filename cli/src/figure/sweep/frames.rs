//! Frames of lines along numbers.

use super::branch::{Branch, branches, poles};
use super::{Panel, SweepChart, colour, extent, heading, sheet};
use crate::figure::axis::{self, Frame, NAME, SMALL};
use crate::figure::colour::{FAINT, INK, PAPER};
use crate::figure::font::{self, Face};
use crate::figure::layout::{broken, crosses, spread};
use crate::figure::style::Size;
use crate::figure::svg::{At, Label, Paint, Svg};

/// Room for the numbers of the scale to the left of a frame, and between frames.
const NUMBERS: f64 = 66.0;
const BETWEEN: f64 = 22.0;
/// From the right end of a line to its name.
const TO_NAME: f64 = 16.0;
/// Most room for the names of lines to the right of a frame; longer ones stand above the frames.
const MOST_NAMES: f64 = 168.0;
/// From one line of text to the next.
const LINE: f64 = 22.0;
/// Numbers of the scale below the frames, and below them the name of the key.
const FOOT: f64 = 74.0;
const SCALE: f64 = 38.0;

/// How the frames of a chart stand on its sheet.
struct Plan {
    /// Frames side by side.
    across: usize,
    /// Frames that begin in a row of their own: those of one result, or all.
    together: usize,
    /// Rows of frames.
    down: usize,
    /// Room for the names of lines to the right of every frame; none where they stand above all.
    names: Option<f64>,
    /// Do all frames of a result share their scale? Then its name stands once, above the first.
    shared: bool,
    /// Lines of the captions, and lines of text in all above the frames of a row.
    captions: usize,
    above: usize,
}

impl Plan {
    fn new(chart: &SweepChart, width: f64) -> Self {
        let count = chart.panels.len().max(1);
        let shared = chart.panels.iter().any(|p| !p.caption.is_empty());
        let lines = chart.panels.iter().map(|p| p.series.len()).max().unwrap_or(1);
        let names = || chart.panels.iter().flat_map(|p| &p.series).map(|s| s.name.as_str());
        let widest = names().map(|name| font::width(name, Face::Regular, SMALL)).fold(0.0, f64::max);
        // Frames of one result in one row, if they fit.
        let of_one = chart.panels.iter().take_while(|p| p.names == chart.panels[0].names).count();
        let across = match chart.style.size {
            Size::Column if shared && of_one > 1 => 2,
            Size::Column => 1,
            _ if shared => [4, 3, 2].into_iter().find(|n| of_one % n == 0).unwrap_or(of_one.min(4)),
            _ if count == 4 => 2,
            _ => count.min(3),
        };
        let beside = lines > 1 && widest <= MOST_NAMES && !shared && across <= 2;
        let names = if lines == 1 { Some(0.0) } else { beside.then_some(widest + TO_NAME) };
        let together = if shared { of_one } else { count };
        let down = count / together * together.div_ceil(across);
        let mut plan = Self { across, together, down, names, shared, captions: 0, above: 0 };
        let room = plan.frame_width(width);
        let title_lines = |p: &Panel| title(p, if shared { width - 2.0 * NUMBERS } else { room }).len();
        let titles = chart.panels.iter().map(title_lines).max().unwrap_or(1);
        let captions = chart.panels.iter().map(|p| caption(p, room).len()).max().unwrap_or(0);
        plan.captions = captions;
        plan.above = titles + captions;
        plan
    }

    /// Row and column of a frame.
    fn place(&self, k: usize) -> [usize; 2] {
        let (result, own) = (k / self.together, k % self.together);
        [result * self.together.div_ceil(self.across) + own / self.across, own % self.across]
    }

    /// Width of a frame on a sheet.
    fn frame_width(&self, width: f64) -> f64 {
        let across = self.across as f64;
        let beside = self.names.unwrap_or(0.0);
        let (first, further) =
            if self.shared { (NUMBERS, BETWEEN) } else { (NUMBERS + beside, NUMBERS + beside + BETWEEN) };
        // A number at the right end of a scale reaches beyond it.
        (width - 24.0 - first - further * (across - 1.0)) / across
    }

    /// Left side of a frame.
    fn left(&self, column: usize, width: f64) -> f64 {
        let gap = if self.shared { BETWEEN } else { NUMBERS + self.names.unwrap_or(0.0) + BETWEEN };
        NUMBERS + column as f64 * (self.frame_width(width) + gap)
    }
}

/// The name of a frame's result, in lines.
fn title(panel: &Panel, room: f64) -> Vec<String> {
    let longest =
        panel.names.first().map(|name| broken(name, Face::Semibold, NAME, room)).unwrap_or_default();
    // Rather a shorter name than three lines.
    match panel.names.iter().map(|name| broken(name, Face::Semibold, NAME, room)).find(|l| l.len() <= 2) {
        Some(lines) => lines,
        None => longest,
    }
}

/// The value of a third key that a frame shows, in lines.
fn caption(panel: &Panel, room: f64) -> Vec<String> {
    if panel.caption.is_empty() {
        return Vec::new();
    }
    broken(&panel.caption, Face::Semibold, SMALL, room)
}

/// Draws the chart; `names` are those of the key.
pub(super) fn draw(chart: &SweepChart, names: &[String]) -> Svg {
    let style = chart.style;
    let width = style.sheet([1200.0, 0.0], 0.0)[0];
    let plan = Plan::new(chart, width);
    let legend = legend(chart, &plan, width);
    let heading = heading(chart, width);
    let notes = if style.is_titled() {
        Vec::new()
    } else {
        broken(&chart.left_out, Face::Regular, SMALL, width - 24.0)
    };
    let heading_end = if style.is_titled() {
        76.0 + 24.0 * (chart.lines.len() + usize::from(!chart.left_out.is_empty())) as f64 + heading.extra()
    } else {
        14.0 + LINE * notes.len() as f64
    };
    let top = heading_end + LINE * legend.len() as f64 + if legend.is_empty() { 0.0 } else { 8.0 };
    let above = LINE * plan.above as f64 + 10.0;
    let down = plan.down as f64;
    let between = if plan.shared { SCALE + 14.0 } else { SCALE + 16.0 };
    let tall = |frame: f64| top + down * (above + frame) + between * (down - 1.0) + FOOT;
    let page = tall(if plan.down == 1 { 480.0 } else { 300.0 });
    let size = style.sheet([1200.0, page], tall(if plan.across > 1 { 190.0 } else { 280.0 }));
    let each = (size[1] - top - FOOT - between * (down - 1.0)) / down - above;
    let mut svg = sheet(chart, size);
    heading.draw(&mut svg);
    for (k, line) in notes.iter().enumerate() {
        svg.label(Label::new(line, [12.0, 20.0 + LINE * k as f64], SMALL));
    }
    draw_legend(&mut svg, chart, &legend, heading_end);
    let xs = || chart.panels.iter().flat_map(|p| &p.series).flat_map(|s| &s.points).map(|p| p.x);
    let x = along(xs());
    for (k, panel) in chart.panels.iter().enumerate() {
        let [row, column] = plan.place(k);
        let corner = [plan.left(column, width), top + above + row as f64 * (each + above + between)];
        let alike: Vec<&Panel> = if plan.shared {
            chart.panels.iter().filter(|p| p.names == panel.names).collect()
        } else {
            vec![panel]
        };
        let frame = Frame { corner, size: [plan.frame_width(width), each], x, y: values(&alike) };
        lines_of(&mut svg, panel, &frame);
        scales(&mut svg, panel, &frame, !plan.shared || column == 0);
        titles(&mut svg, panel, &frame, &plan, !plan.shared || k % plan.together == 0);
        if plan.names.is_some_and(|room| room > 0.0) {
            end_names(&mut svg, panel, &frame);
        }
    }
    let [left, right] = [plan.left(0, width), plan.left(plan.across - 1, width) + plan.frame_width(width)];
    let foot = top + down * (above + each) + between * (down - 1.0) + 54.0;
    axis::axis_name(&mut svg, names, [0.5 * (left + right), foot], 0.0, right - left);
    svg
}

/// Range of the key, with room for whole marks at both ends.
fn along(xs: impl Iterator<Item = f64>) -> [f64; 2] {
    let [low, high] = xs
        .filter(|x| x.is_finite())
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], x| [low.min(x), high.max(x)]);
    if low > high {
        return [0.0, 1.0];
    }
    let pad = if high > low { 0.025 * (high - low) } else { 0.5 };
    [low - pad, high + pad]
}

/// Range of the values of some frames: of all, with their bands; where there is a pole, of most.
fn values(panels: &[&Panel]) -> [f64; 2] {
    let points = || panels.iter().flat_map(|p| &p.series).flat_map(|s| &s.points);
    let has_pole = panels.iter().flat_map(|p| &p.series).any(|s| !poles(&s.points).is_empty());
    let with_bands = points().flat_map(|p| {
        let error = if p.error.is_finite() && !has_pole { p.error } else { 0.0 };
        [p.value - error, p.value + error]
    });
    extent(&with_bands.collect::<Vec<_>>(), has_pole)
}

fn lines_of(svg: &mut Svg, panel: &Panel, frame: &Frame) {
    for tick in axis::ticks(frame.y, frame.size[1] / 60.0) {
        let [a, b] = frame.x.map(|x| frame.at(x, tick));
        svg.polyline(&[a, b], Paint::line(FAINT, 0.8));
    }
    let count = panel.series.len();
    let drawn: Vec<Vec<Branch>> = panel.series.iter().map(|s| branches(&s.points, frame.y)).collect();
    for (k, (series, branches)) in panel.series.iter().zip(&drawn).enumerate() {
        let colour = colour(k, count);
        for pole in poles(&series.points) {
            let ends = frame.y.map(|y| frame.at(pole, y));
            svg.polyline(&ends, Paint::line(colour, 1.2).dashed("2 5"));
        }
        for branch in branches {
            for band in &branch.bands {
                let upper = band.iter().map(|b| frame.at(b[0], b[2]));
                let lower = band.iter().rev().map(|b| frame.at(b[0], b[1]));
                let ring: Vec<At> = upper.chain(lower).collect();
                if ring.len() > 2 {
                    svg.polygon(&ring, Paint::fill(colour).faded(0.16));
                }
            }
            let line: Vec<At> = branch.line.iter().map(|p| frame.at(p[0], p[1])).collect();
            svg.polyline(&line, Paint::line(colour, 2.6));
        }
    }
    rule_across(svg, panel, frame, &drawn);
    for (k, series) in panel.series.iter().enumerate() {
        let colour = colour(k, count);
        let marked = series.points.len() <= 24;
        for point in series.points.iter().filter(|p| p.value.is_finite()) {
            let at = frame.at(point.x, point.value.clamp(frame.y[0], frame.y[1]));
            if (frame.y[0]..=frame.y[1]).contains(&point.value) {
                if marked {
                    svg.circle(at, 3.4, Paint::fill(colour));
                }
            } else {
                // Beyond the frame: a head at its side points there.
                let down = if point.value > frame.y[1] { 11.0 } else { -11.0 };
                svg.head([at[0], at[1] + down], at, 5.0, colour);
            }
        }
    }
    frame.outline(svg);
}

/// Numbers along the bottom, and along the left if they are not those of the frame beside.
fn scales(svg: &mut Svg, panel: &Panel, frame: &Frame, left: bool) {
    frame.bottom(svg, &[]);
    if left && !panel.series.is_empty() {
        frame.left(svg, &[], |v| v);
    }
}

/// What the frame shows, above it.
fn titles(svg: &mut Svg, panel: &Panel, frame: &Frame, plan: &Plan, first: bool) {
    let [left, top] = frame.corner;
    for (k, line) in caption(panel, frame.size[0]).iter().rev().enumerate() {
        let at = [left, top - 14.0 - LINE * k as f64];
        svg.label(Label::new(line, at, SMALL).face(Face::Semibold));
    }
    if !first {
        return;
    }
    let room = if plan.shared { svg.width() - 2.0 * NUMBERS } else { frame.size[0] };
    let lines = title(panel, room);
    let last = top - 14.0 - LINE * plan.captions as f64;
    for (k, line) in lines.iter().rev().enumerate() {
        svg.label(Label::new(line, [left, last - LINE * k as f64], NAME).face(Face::Semibold));
    }
}

/// An entry of the legend: number of the line, where it begins, its name.
type Entry = (usize, f64, String);

/// Lines of the legend above the frames; none where the lines are named at their ends or where there is but one.
fn legend(chart: &SweepChart, plan: &Plan, width: f64) -> Vec<Vec<Entry>> {
    if plan.names.is_some() {
        return Vec::new();
    }
    let Some(panel) = chart.panels.iter().max_by_key(|p| p.series.len()) else { return Vec::new() };
    let mut at = legend_left(chart) + font::width(&chart.key, Face::Regular, SMALL) + 18.0;
    let mut lines: Vec<Vec<Entry>> = vec![Vec::new()];
    for (k, series) in panel.series.iter().enumerate() {
        let wide = 34.0 + font::width(&series.name, Face::Regular, SMALL);
        if at + wide > width - 12.0 {
            at = legend_left(chart);
            lines.push(Vec::new());
        }
        if let Some(line) = lines.last_mut() {
            line.push((k, at, series.name.clone()));
        }
        at += wide + 20.0;
    }
    lines
}

fn legend_left(chart: &SweepChart) -> f64 {
    if chart.style.is_titled() { 40.0 } else { 12.0 }
}

fn draw_legend(svg: &mut Svg, chart: &SweepChart, legend: &[Vec<Entry>], top: f64) {
    if legend.is_empty() {
        return;
    }
    let count = chart.panels.iter().map(|p| p.series.len()).max().unwrap_or(1);
    svg.label(Label::new(&chart.key, [legend_left(chart), top + 10.0], SMALL));
    for (row, line) in legend.iter().enumerate() {
        let y = top + 10.0 + LINE * row as f64;
        for (k, x, name) in line {
            let colour = colour(*k, count);
            svg.polyline(&[[*x, y], [x + 26.0, y]], Paint::line(colour, 3.0));
            svg.label(Label::new(name, [x + 34.0, y], SMALL).colour(colour));
        }
    }
}

/// Names at the right ends of the lines, spread so that none hides another.
fn end_names(svg: &mut Svg, panel: &Panel, frame: &Frame) {
    let mut ends: Vec<(At, usize)> = panel
        .series
        .iter()
        .enumerate()
        .filter_map(|(k, series)| {
            let last = series.points.iter().rev().find(|p| p.value.is_finite())?;
            Some((frame.at(last.x, last.value.clamp(frame.y[0], frame.y[1])), k))
        })
        .collect();
    ends.sort_by(|a, b| a.0[1].total_cmp(&b.0[1]));
    let wanted: Vec<f64> = ends.iter().map(|e| e.0[1]).collect();
    let heights = vec![SMALL; ends.len()];
    let range = [frame.corner[1] - 8.0, frame.corner[1] + frame.size[1] + 8.0];
    let right = frame.corner[0] + frame.size[0];
    for ((end, k), y) in ends.iter().zip(spread(&wanted, &heights, 5.0, range)) {
        let colour = colour(*k, panel.series.len());
        svg.polyline(
            &[[end[0] + 6.0, end[1]], [right + 2.0, end[1]], [right + 12.0, y]],
            Paint::line(colour, 1.0),
        );
        svg.label(Label::new(&panel.series[*k].name, [right + TO_NAME, y], SMALL).colour(colour));
    }
}

/// The value that is drawn across, where the frame holds it, named where no line runs.
fn rule_across(svg: &mut Svg, panel: &Panel, frame: &Frame, drawn: &[Vec<Branch>]) {
    let Some((value, name)) = &panel.rule else { return };
    if !(frame.y[0]..=frame.y[1]).contains(value) {
        return;
    }
    let [a, b] = frame.x.map(|x| frame.at(x, *value));
    svg.polyline(&[a, b], Paint::line(INK, 1.4).dashed("7 5"));
    let wide = font::width(name, Face::Regular, SMALL);
    let steps = 12;
    let room = (frame.size[0] - wide - 16.0).max(0.0);
    let inside = |y: f64| y > frame.corner[1] + 10.0 && y < frame.corner[1] + frame.size[1] - 10.0;
    let labels: Vec<Label> = [-12.0, 13.0]
        .into_iter()
        .filter(|dy| inside(a[1] + dy))
        .flat_map(|dy| {
            (0..=steps).map(move |k| [a[0] + 8.0 + room * f64::from(k) / f64::from(steps), a[1] + dy])
        })
        .map(|at| Label::new(name, at, SMALL).colour(INK).halo(PAPER))
        .collect();
    let points: Vec<At> = drawn
        .iter()
        .flatten()
        .flat_map(|branch| branch.line.windows(2))
        .flat_map(|pair| {
            let [a, b] = [frame.at(pair[0][0], pair[0][1]), frame.at(pair[1][0], pair[1][1])];
            let parts = ((b[0] - a[0]).hypot(b[1] - a[1]) / 6.0).ceil().clamp(1.0, 200.0) as usize;
            (0..=parts).map(move |k| {
                let share = k as f64 / parts as f64;
                [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]
            })
        })
        .collect();
    let clear: Vec<Label> = labels.iter().filter(|label| !crosses(label, &points)).cloned().collect();
    svg.label_first_clear(clear.into_iter().chain(labels));
}
