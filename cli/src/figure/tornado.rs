//! The tornado: how far a result swings between the lowest and the highest fifth of each input, the strongest input on
//! top, with its index beside.

use super::axis::{self, Frame, SMALL, heading};
use super::colour::{Colour, FAINT, INK, LOAD, MOVED, SOFT, TIP};
use super::font::{self, Face};
use super::style::{Size, Style};
use super::svg::{Anchor, Label, Paint, Svg};

/// One input.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Bar {
    /// Its name.
    pub(crate) name: String,
    /// Mean of the result among the lowest and the highest fifth of the input.
    pub(crate) ends: [f64; 2],
    /// Its index with the interval, in words.
    pub(crate) index: String,
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
/// Height of a bar's row.
const ROW: f64 = 34.0;
/// Colours of the lowest and the highest fifth.
const ENDS: [Colour; 2] = [MOVED, TIP_HIGH];
const TIP_HIGH: Colour = Colour::Step(TIP, 0.85);

/// Draws the tornado.
pub(crate) fn draw(tornado: &Tornado) -> Svg {
    let count = tornado.storms.len().max(1) as f64;
    let rows = tornado.storms.iter().map(|s| s.bars.len().min(MOST)).max().unwrap_or(0) as f64 * ROW;
    let stacked = tornado.style.size == Size::Column;
    let top = if tornado.style.is_titled() { 122.0 + 24.0 * tornado.lines.len() as f64 } else { 56.0 };
    let each_down = rows + 130.0;
    let size = tornado.style.sheet([1200.0, top + rows + 88.0], 30.0 + each_down * count);
    let mut svg = Svg::new(tornado.style, size, &tornado.title, &tornado.lines.join(" "));
    heading(&mut svg, 40.0, &tornado.title, &tornado.lines);
    for (k, storm) in tornado.storms.iter().enumerate() {
        let each = if stacked { size[0] } else { size[0] / count };
        let corner = if stacked { [0.0, top + each_down * k as f64] } else { [each * k as f64, top] };
        let height = if stacked { rows } else { rows.min(size[1] - top - 84.0) };
        draw_storm(&mut svg, storm, corner, [each, height]);
    }
    svg
}

fn draw_storm(svg: &mut Svg, storm: &Storm, corner: [f64; 2], [width, height]: [f64; 2]) {
    let bars: Vec<&Bar> = storm.bars.iter().take(MOST).collect();
    let wide = |text: &str, size: f64| font::width(text, Face::Regular, size);
    let names = bars.iter().map(|b| wide(&b.name, SMALL)).fold(0.0, f64::max).min(0.36 * width);
    let index = bars.iter().map(|b| wide(&b.index, SMALL)).fold(0.0, f64::max).max(40.0);
    let left = corner[0] + 30.0 + names + 12.0;
    let right = corner[0] + width - 24.0 - index - 12.0;
    let mut values: Vec<f64> = bars.iter().flat_map(|b| b.ends).chain([storm.mean]).collect();
    values.sort_by(f64::total_cmp);
    let (low, high) = (values.first().copied().unwrap_or(0.0), values.last().copied().unwrap_or(1.0));
    let pad = (0.08 * (high - low)).max(1e-3 * high.abs()).max(1e-9);
    let frame = Frame {
        corner: [left, corner[1]],
        size: [(right - left).max(60.0), height],
        x: [low - pad, high + pad],
        y: [bars.len().max(1) as f64, 0.0],
    };
    for tick in axis::ticks(frame.x, (frame.size[0] / 60.0).max(3.0)) {
        let (a, b) = (frame.at(tick, 0.0), frame.at(tick, frame.y[0]));
        svg.polyline(&[a, b], Paint::line(FAINT, 0.8));
        svg.polyline(&[b, [b[0], b[1] + 7.0]], Paint::line(SOFT, 1.2));
        let text = svg.style().number(tick);
        // Numbers of a narrow frame may have no room beside each other.
        let label = Label::new(text, [b[0], b[1] + 22.0], SMALL).anchor(Anchor::Middle).colour(SOFT);
        svg.label_first_clear([label]);
    }
    let middle = frame.at(storm.mean, 0.0)[0];
    for (row, bar) in bars.iter().enumerate() {
        let y = frame.at(0.0, row as f64 + 0.5)[1];
        let half = (0.31 * height / frame.y[0]).min(12.0);
        for (end, colour) in bar.ends.into_iter().zip(ENDS) {
            let x = frame.at(end, 0.0)[0];
            svg.rectangle(
                [x.min(middle), y - half],
                [(x - middle).abs(), 2.0 * half],
                Paint::fill(colour).faded(0.9),
            );
        }
        let fitting = SMALL * (names / wide(&bar.name, SMALL)).min(1.0);
        svg.label(Label::new(&bar.name, [left - 12.0, y], fitting).anchor(Anchor::End).colour(INK));
        svg.label(Label::new(&bar.index, [right + 12.0, y], SMALL).colour(SOFT));
    }
    let foot = frame.at(storm.mean, frame.y[0]);
    svg.polyline(&[[middle, corner[1]], foot], Paint::line(LOAD, 1.6));
    frame.outline(svg);
    let at = [0.5 * (left + right), corner[1] + height + 52.0];
    axis::axis_name(
        svg,
        &storm.names,
        at,
        0.0,
        2.0 * (corner[0] + width - 6.0 - at[0]).min(at[0] - corner[0] - 6.0),
    );
    // What the colours and the column are.
    let y = corner[1] - 18.0;
    let texts = ["lowest fifth", "highest fifth"].map(|text| svg.style().say(text));
    let mut x = left;
    for (text, colour) in texts.iter().zip(ENDS) {
        svg.rectangle([x, y - 6.0], [12.0, 12.0], Paint::fill(colour).faded(0.9));
        svg.label(Label::new(text, [x + 18.0, y], SMALL).colour(INK));
        x += 18.0 + wide(text, SMALL) + 18.0;
    }
    let index = svg.style().say(&storm.index);
    let at = [corner[0] + width - 24.0, y];
    svg.label_first_clear([
        Label::new(&index, at, SMALL).anchor(Anchor::End).colour(SOFT),
        Label::new(&index, [at[0], y - 24.0], SMALL).anchor(Anchor::End).colour(SOFT),
    ]);
}
