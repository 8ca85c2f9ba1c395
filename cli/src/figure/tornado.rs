//! The tornado: how far a result swings between the lowest and the highest fifth of each input, the strongest input on
//! top: its name and its index above its bar, so that the bar has the whole width.

use super::axis::{self, Frame, Heading, NAME, SMALL};
use super::colour::{Colour, FAINT, INK, LOAD, MOVED, PAPER, SOFT, TIP};
use super::font::{self, Face};
use super::layout::broken;
use super::style::{Size, Style};
use super::svg::{Anchor, At, Label, Paint, Svg};

/// One input.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Bar {
    /// Its name.
    pub(crate) name: String,
    /// Mean of the result among the lowest and the highest fifth of the input.
    pub(crate) ends: [f64; 2],
    /// Its index with the interval, in words.
    pub(crate) index: String,
    /// Its index alone, where there is no room for more.
    pub(crate) value: String,
}

/// One result.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Storm {
    /// Names of the result with its unit, the longest first.
    pub(crate) names: Vec<String>,
    /// Its mean over the study.
    pub(crate) mean: f64,
    /// What the index is.
    pub(crate) index: String,
    /// The inputs, the strongest first.
    pub(crate) bars: Vec<Bar>,
}

/// What the figure is about.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Tornado {
    /// Sheet, ground and language.
    pub(crate) style: Style,
    /// Title.
    pub(crate) title: String,
    /// Lines below the title.
    pub(crate) lines: Vec<String>,
    /// The results.
    pub(crate) storms: Vec<Storm>,
}

/// Inputs that are shown.
const MOST: usize = 12;
/// Height of an input: its name with its index, and its bar below.
const ROW: f64 = 46.0;
/// Bars grow no higher where there is room.
const HIGHEST_BAR: f64 = 30.0;
/// Colours of the lowest and the highest fifth.
const ENDS: [Colour; 2] = [MOVED, TIP_HIGH];
const TIP_HIGH: Colour = Colour::Step(TIP, 0.85);
/// From one line of text to the next.
const LINE: f64 = 22.0;
/// Numbers of the scale below a storm.
const SCALE: f64 = 46.0;

/// Draws the tornado.
pub(crate) fn draw(tornado: &Tornado) -> Svg {
    let style = tornado.style;
    let count = tornado.storms.len().max(1) as f64;
    let stacked = style.size == Size::Column;
    let width = style.sheet([1200.0, 0.0], 0.0)[0];
    let margin = if stacked { 16.0 } else { 40.0 };
    let gap = 48.0;
    let each =
        if stacked { width - 2.0 * margin } else { (width - 2.0 * margin - gap * (count - 1.0)) / count };
    let names: Vec<Vec<String>> = tornado.storms.iter().map(|storm| title(storm, each)).collect();
    let heading = Heading::new(style, width, &tornado.title, &tornado.lines);
    let top =
        if style.is_titled() { 76.0 + 24.0 * tornado.lines.len() as f64 + heading.extra() } else { 12.0 };
    // The name of the result, and what the colours and the index are.
    let above = LINE * (names.iter().map(Vec::len).max().unwrap_or(1) + 1) as f64 + 14.0;
    let rows = tornado.storms.iter().map(|s| s.bars.len().min(MOST)).max().unwrap_or(0).max(1) as f64;
    let each_down = above + ROW * rows + SCALE;
    let size = style.sheet([1200.0, top + each_down], top + each_down * count);
    let mut svg = Svg::new(style, size, &tornado.title, &tornado.lines.join(" "));
    heading.draw(&mut svg);
    for (k, (storm, names)) in tornado.storms.iter().zip(&names).enumerate() {
        let [right, down] = if stacked { [0.0, k as f64] } else { [k as f64, 0.0] };
        let corner = [margin + (each + gap) * right, top + above + each_down * down];
        let height = if stacked { ROW * rows } else { size[1] - top - above - SCALE };
        draw_storm(&mut svg, storm, names, corner, [each, height]);
    }
    svg
}

/// The name of a result, in lines.
fn title(storm: &Storm, room: f64) -> Vec<String> {
    let name = storm.names.first().map_or("", String::as_str);
    broken(name, Face::Semibold, NAME, room)
}

fn draw_storm(svg: &mut Svg, storm: &Storm, names: &[String], corner: At, [width, height]: At) {
    let bars: Vec<&Bar> = storm.bars.iter().take(MOST).collect();
    let [left, top] = corner;
    let mut values: Vec<f64> = bars.iter().flat_map(|b| b.ends).chain([storm.mean]).collect();
    values.sort_by(f64::total_cmp);
    let (low, high) = (values.first().copied().unwrap_or(0.0), values.last().copied().unwrap_or(1.0));
    let pad = (0.08 * (high - low)).max(1e-3 * high.abs()).max(1e-9);
    let rows = bars.len().max(1) as f64;
    let frame = Frame { corner, size: [width, height], x: [low - pad, high + pad], y: [rows, 0.0] };
    for tick in axis::ticks(frame.x, (frame.size[0] / 70.0).max(3.0)) {
        let (a, b) = (frame.at(tick, 0.0), frame.at(tick, frame.y[0]));
        svg.polyline(&[a, b], Paint::line(FAINT, 0.8));
        svg.polyline(&[b, [b[0], b[1] + 7.0]], Paint::line(SOFT, 1.2));
        let text = svg.style().number(tick);
        // Numbers of a narrow frame may have no room beside each other.
        let label = Label::new(text, [b[0], b[1] + 22.0], SMALL).anchor(Anchor::Middle).colour(SOFT);
        svg.label_first_clear([label]);
    }
    let foot = frame.at(storm.mean, frame.y[0]);
    svg.polyline(&[[foot[0], top], foot], Paint::line(LOAD, 1.6));
    // A row has its text in the upper part, its bar in the lower.
    let row_height = height / rows;
    let text = 0.5 * LINE + 1.0;
    let thick = (row_height - LINE - 8.0).clamp(5.0, HIGHEST_BAR);
    let lower = 0.5 * (row_height - LINE - 6.0 - thick).max(0.0);
    for (row, bar) in bars.iter().enumerate() {
        let y = top + row_height * row as f64 + lower;
        for (end, colour) in bar.ends.into_iter().zip(ENDS) {
            let x = frame.at(end, 0.0)[0];
            let from = [x.min(foot[0]), y + LINE + 1.0];
            svg.rectangle(from, [(x - foot[0]).abs(), thick], Paint::fill(colour).faded(0.9));
        }
        svg.label(Label::new(&bar.name, [left + 8.0, y + text], SMALL).colour(INK).halo(PAPER));
        // With its interval, if there is room beside the name.
        let at = [left + width - 8.0, y + text];
        let index = |text: &str| Label::new(text, at, SMALL).anchor(Anchor::End).colour(SOFT).halo(PAPER);
        let candidates = [index(&bar.index), index(&bar.value)];
        if let Some(label) = candidates.into_iter().find(|label| svg.is_apart(label, 12.0)) {
            svg.label(label);
        }
    }
    frame.outline(svg);
    // What the storm, its colours and the column at the right are.
    let y = top - 18.0;
    for (k, line) in names.iter().rev().enumerate() {
        let at = [left, y - LINE * (k + 1) as f64];
        svg.label(Label::new(line, at, NAME).face(Face::Semibold));
    }
    let mut x = left;
    for (text, colour) in ["lowest fifth", "highest fifth"].map(|text| svg.style().say(text)).iter().zip(ENDS)
    {
        svg.rectangle([x, y - 6.0], [12.0, 12.0], Paint::fill(colour).faded(0.9));
        svg.label(Label::new(text, [x + 18.0, y], SMALL).colour(INK));
        x += 18.0 + font::width(text, Face::Regular, SMALL) + 18.0;
    }
    let index = svg.style().say(&storm.index);
    svg.label(Label::new(index, [left + width - 8.0, y], SMALL).anchor(Anchor::End).colour(SOFT));
}
