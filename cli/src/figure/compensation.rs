//! Compensation against bone level, tooth by tooth, with the rule of five drawn across: one small frame a tooth, upper teeth
//! above lower ones.

use super::axis::{self, Frame, Heading, SMALL};
use super::colour::{Colour, FAINT, INK, LOAD, MOVED, PAPER, SOFT};
use super::font::Face;
use super::layout::broken;
use super::style::{Size, Style};
use super::svg::{Anchor, At, Label, Paint, Svg};

/// One tooth.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tooth {
    /// Its name.
    pub(crate) name: String,
    /// Upper jaw?
    pub(crate) upper: bool,
    /// Bone loss in mm, and degrees of root torque for each millimetre at the attachment and at the cusp tip.
    pub(crate) series: Vec<[f64; 3]>,
    /// Ends of the interval at no loss: at the attachment, at the cusp tip.
    pub(crate) intervals: [[f64; 2]; 2],
}

/// What the figure is about.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chart {
    /// Sheet, ground and language.
    pub(crate) style: Style,
    /// The rule, degrees for each millimetre.
    pub(crate) rule: f64,
    /// What the interval holds, and the assumption.
    pub(crate) lines: Vec<String>,
    /// The teeth.
    pub(crate) teeth: Vec<Tooth>,
}

/// Colours of what is measured at the attachment and at the cusp tip.
const COLOURS: [Colour; 2] = [MOVED, LOAD];

/// From a line of a name to the next.
const NAME_LINE: f64 = 18.0;
/// Height of a line of the legend.
const LEGEND_LINE: f64 = 22.0;

/// Draws the compensation.
pub(crate) fn draw(chart: &Chart) -> Svg {
    let style = chart.style;
    let rows = rows(chart);
    let across = rows.iter().map(Vec::len).max().unwrap_or(1);
    let down = rows.len() as f64;
    let title = style.say("Root torque that undoes the tip of a push, against the rule of five");
    let width = style.sheet([1200.0, 0.0], 0.0)[0];
    let heading = Heading::new(style, width, &title, &chart.lines);
    let top =
        if style.is_titled() { 134.0 + 24.0 * chart.lines.len() as f64 } else { 78.0 + 2.0 * LEGEND_LINE };
    let top = top + heading.extra();
    let (left, right) = (76.0, 20.0);
    let room = (width - left - right) / across as f64 - 8.0;
    let lines = chart.teeth.iter().map(|tooth| name_lines(&tooth.name, room).len()).max().unwrap_or(1);
    // The first row has room for two lines of a name above it.
    let further = NAME_LINE * (lines.max(2) - 2) as f64;
    let top = top + further;
    let [page, column] = [290.0, 210.0].map(|each| top + (each + further) * down);
    let size = style.sheet([1200.0, page + 26.0], column + 30.0);
    let mut svg = Svg::new(style, size, &title, &chart.lines.join(" "));
    heading.draw(&mut svg);
    legend(&mut svg, chart, top - further - 58.0);
    // Below a frame its scale, above it the name of its tooth.
    let apart = 84.0 + further;
    let each = [(size[0] - left - right) / across as f64, (size[1] - top - 26.0) / down];
    let most = chart
        .teeth
        .iter()
        .flat_map(|t| t.series.iter().flat_map(|p| [p[1], p[2]]).chain(t.intervals.into_iter().flatten()))
        .filter(|v| v.is_finite())
        .fold(chart.rule, f64::max);
    let loss = chart.teeth.iter().flat_map(|t| &t.series).map(|p| p[0]).fold(1.0, f64::max);
    for (j, row) in rows.iter().enumerate() {
        for (i, tooth) in row.iter().enumerate() {
            let corner = [left + each[0] * i as f64, top + each[1] * j as f64];
            let frame = Frame {
                corner,
                size: [room, each[1] - apart],
                x: [-0.08 * loss, 1.06 * loss],
                y: [0.0, 1.08 * most],
            };
            draw_tooth(&mut svg, chart, tooth, &frame, i == 0);
        }
        if j + 1 < rows.len() {
            continue;
        }
        let floor = top + each[1] * (j + 1) as f64 - apart;
        let middle = left + 0.5 * each[0] * row.len().max(1) as f64;
        let names = [style.say("bone lost (mm)")];
        axis::axis_name(&mut svg, &names, [middle, floor + 46.0], 0.0, size[0] - 40.0);
    }
    let names = ["root torque for each mm of travel (degrees)", "degrees per mm"].map(|name| style.say(name));
    for j in 0..rows.len() {
        let middle = top + each[1] * j as f64 + 0.5 * (each[1] - apart);
        axis::axis_name(&mut svg, &names, [20.0, middle], -90.0, each[1] - 40.0);
    }
    svg
}

/// Teeth in rows: the jaws apart where both are there, never more than fit.
fn rows(chart: &Chart) -> Vec<Vec<&Tooth>> {
    let most = if chart.style.size == Size::Column { 4 } else { 8 };
    let jaw = |upper: bool| -> Vec<&Tooth> { chart.teeth.iter().filter(|t| t.upper == upper).collect() };
    [jaw(true), jaw(false)].iter().flat_map(|jaw| jaw.chunks(most).map(<[&Tooth]>::to_vec)).collect()
}

/// What the lines are: beside each other, or in a column below each other; `y` is that of the last.
fn legend(svg: &mut Svg, chart: &Chart, y: f64) {
    let style = chart.style;
    let stacked = style.size == Size::Column;
    let rule = style.tell("rule: {} degrees per mm", &[&style.number(chart.rule)]);
    let entries = [
        (style.say("measured at the attachment"), Paint::line(COLOURS[0], 3.0), COLOURS[0]),
        (style.say("at the cusp tip or incisal edge"), Paint::line(COLOURS[1], 3.0), COLOURS[1]),
        (rule, Paint::line(INK, 1.6).dashed("7 5"), INK),
    ];
    let mut x = 76.0;
    let last = entries.len() - 1;
    for (k, (text, paint, colour)) in entries.into_iter().enumerate() {
        let y = if stacked { y - LEGEND_LINE * (last - k) as f64 } else { y };
        svg.polyline(&[[x, y], [x + 26.0, y]], paint);
        let label = Label::new(&text, [x + 34.0, y], SMALL).colour(colour);
        if !stacked {
            x += 34.0 + label.width() + 26.0;
        }
        svg.label(label);
    }
}

fn draw_tooth(svg: &mut Svg, chart: &Chart, tooth: &Tooth, frame: &Frame, first: bool) {
    let style = chart.style;
    for tick in axis::ticks(frame.y, 5.0) {
        let [a, b] = frame.x.map(|x| frame.at(x, tick));
        svg.polyline(&[a, b], Paint::line(FAINT, 0.7));
        if first {
            let at = [frame.corner[0] - 8.0, a[1]];
            svg.label(Label::new(style.number(tick), at, SMALL).anchor(Anchor::End).colour(SOFT));
        }
    }
    let [a, b] = frame.x.map(|x| frame.at(x, chart.rule));
    svg.polyline(&[a, b], Paint::line(INK, 1.6).dashed("7 5"));
    for (k, colour) in COLOURS.into_iter().enumerate() {
        let line: Vec<At> =
            tooth.series.iter().filter(|p| p[k + 1].is_finite()).map(|p| frame.at(p[0], p[k + 1])).collect();
        svg.polyline(&line, Paint::line(colour, 2.4));
        for at in &line {
            svg.circle(*at, 3.2, Paint::fill(colour));
        }
        let [low, high] = tooth.intervals[k];
        if low.is_finite() && high.is_finite() {
            // Beside each other, so that both are seen.
            let x = frame.at(0.0, 0.0)[0] - 3.0 + 6.0 * k as f64;
            let [bottom, top] = [low, high].map(|v| frame.at(0.0, v)[1]);
            svg.polyline(&[[x, bottom], [x, top]], Paint::line(colour, 4.0).faded(0.55));
        }
    }
    for tick in axis::ticks([0.0, frame.x[1]], (frame.size[0] / 42.0).min(4.0)) {
        let at = frame.at(tick, 0.0);
        svg.polyline(&[at, [at[0], at[1] + 5.0]], Paint::line(SOFT, 1.0));
        let text = style.number(tick);
        svg.label(Label::new(text, [at[0], at[1] + 19.0], SMALL).anchor(Anchor::Middle).colour(SOFT));
    }
    frame.outline(svg);
    let lines = name_lines(&tooth.name, frame.size[0]);
    for (k, line) in lines.iter().rev().enumerate() {
        let at = [frame.corner[0], frame.corner[1] - 14.0 - NAME_LINE * k as f64];
        svg.label(Label::new(line, at, SMALL).face(Face::Semibold).halo(PAPER));
    }
}

/// The name of a tooth above its frame; a long one takes several lines.
fn name_lines(name: &str, room: f64) -> Vec<String> {
    broken(name, Face::Semibold, SMALL, room)
}
