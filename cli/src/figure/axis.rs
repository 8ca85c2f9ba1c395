//! Axes: round tick values, and a frame that places data in the drawing.

use super::Subject;
use super::colour::{INK, SOFT};
use super::font::{self, Face};
use super::layout::broken;
use super::style::Style;
use super::svg::{Anchor, At, Label, Paint, Svg};

/// Sizes of text, in units of the sheet.
pub(crate) const TITLE: f64 = 27.0;
/// Line below the title.
pub(crate) const SUBTITLE: f64 = 17.0;
/// Names of axes and regions.
pub(crate) const NAME: f64 = 18.0;
/// Numbers and remarks.
pub(crate) const SMALL: f64 = 16.0;

/// A rectangle of the drawing with data coordinates.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    /// Upper left corner.
    pub(crate) corner: At,
    /// Width and height.
    pub(crate) size: At,
    /// Data at the left and right sides.
    pub(crate) x: [f64; 2],
    /// Data at the bottom and top sides.
    pub(crate) y: [f64; 2],
}

impl Frame {
    /// The place of a data point.
    pub(crate) fn at(&self, x: f64, y: f64) -> At {
        [
            self.corner[0] + self.size[0] * (x - self.x[0]) / (self.x[1] - self.x[0]),
            self.corner[1] + self.size[1] * (self.y[1] - y) / (self.y[1] - self.y[0]),
        ]
    }

    /// Points for each unit of data along both axes.
    pub(crate) fn scale(&self) -> At {
        [self.size[0] / (self.x[1] - self.x[0]).abs(), self.size[1] / (self.y[1] - self.y[0]).abs()]
    }

    /// Is a data point inside?
    pub(crate) fn contains(&self, x: f64, y: f64) -> bool {
        let within = |v: f64, [a, b]: [f64; 2]| v >= a.min(b) && v <= a.max(b);
        within(x, self.x) && within(y, self.y)
    }

    /// Ticks and numbers along the bottom, with the axis' name below: the first of some names that fits.
    pub(crate) fn bottom(&self, svg: &mut Svg, names: &[String]) {
        let floor = self.corner[1] + self.size[1];
        for tick in ticks(self.x, self.size[0] / 90.0) {
            let x = self.at(tick, self.y[0])[0];
            svg.polyline(&[[x, floor], [x, floor + 7.0]], Paint::line(SOFT, 1.2));
            let text = svg.style().number(tick);
            svg.label(Label::new(text, [x, floor + 22.0], SMALL).anchor(Anchor::Middle).colour(SOFT));
        }
        let [middle, right] = [0.5, 1.0].map(|share| self.corner[0] + share * self.size[0]);
        // The name may reach as far beyond the frame as the narrower margin allows.
        let room = 2.0 * (middle - 6.0).min(svg.width() - 6.0 - right + 0.5 * self.size[0]);
        axis_name(svg, names, [middle, floor + 52.0], 0.0, room);
    }

    /// Ticks and numbers along the left, with the axis' name beside: the first of some names that fits.
    pub(crate) fn left(&self, svg: &mut Svg, names: &[String], show: impl Fn(f64) -> f64) {
        for tick in ticks(self.y, self.size[1] / 75.0) {
            let y = self.at(self.x[0], tick)[1];
            svg.polyline(&[[self.corner[0] - 7.0, y], [self.corner[0], y]], Paint::line(SOFT, 1.2));
            let text = svg.style().number(show(tick));
            svg.label(Label::new(text, [self.corner[0] - 13.0, y], SMALL).anchor(Anchor::End).colour(SOFT));
        }
        let middle = self.corner[1] + 0.5 * self.size[1];
        let out = (self.corner[0] - 16.0).min(62.0);
        axis_name(svg, names, [self.corner[0] - out, middle], -90.0, self.size[1] + 60.0);
    }

    /// The outline.
    pub(crate) fn outline(&self, svg: &mut Svg) {
        svg.rectangle(self.corner, self.size, Paint::line(SOFT, 1.2));
    }
}

/// A name of an axis with its unit: the first of some that is as long as there is room, or the last in lines.
pub(crate) fn axis_name(svg: &mut Svg, names: &[String], at: At, angle: f64, room: f64) {
    let wide = |name: &String| font::width(name, Face::Regular, NAME);
    // A little smaller rather than shorter.
    let fits = |name: &&String| wide(name) * SMALL / NAME <= room;
    let Some(name) = names.iter().find(fits).or(names.last()) else { return };
    let size = (NAME * room / wide(name)).clamp(SMALL, NAME);
    let lines = broken(name, Face::Regular, size, room);
    let (sin, cos) = angle.to_radians().sin_cos();
    // Lines of a level name grow downward; those of an upright one away from the frame, while the sheet has room.
    let line_height = 1.2 * size;
    let behind = line_height * (lines.len() - 1) as f64;
    let first = if angle == 0.0 || at[0] - behind < 12.0 { 0.0 } else { -behind };
    for (k, line) in lines.iter().enumerate() {
        let at =
            [at[0] - (first + line_height * k as f64) * sin, at[1] + (first + line_height * k as f64) * cos];
        svg.label(Label::new(line, at, size).anchor(Anchor::Middle).colour(INK).turned(angle));
    }
}

/// From the left side of a sheet to its title.
const LEFT: f64 = 40.0;
/// Title of two lines.
const TITLE_OF_TWO: f64 = 22.0;
/// From a line of a title to the next.
const TITLE_LINE: f64 = 29.0;
/// From a line below the title to the next.
const LINE: f64 = 24.0;

/// Title and the lines below it, broken where they are longer than the sheet is wide; nothing where the sheet has no title.
pub(crate) struct Heading {
    title: Vec<String>,
    title_size: f64,
    lines: Vec<String>,
    /// How many lines there were before they were broken.
    given: usize,
}

impl Heading {
    /// The heading of a sheet of some width.
    pub(crate) fn new(style: Style, width: f64, title: &str, lines: &[String]) -> Self {
        if !style.is_titled() {
            return Self { title: Vec::new(), title_size: TITLE, lines: Vec::new(), given: 0 };
        }
        let room = width - 2.0 * LEFT;
        let fitting = TITLE * room / font::width(title, Face::Semibold, TITLE);
        let title_size = if fitting < TITLE_OF_TWO { TITLE_OF_TWO } else { fitting.min(TITLE) };
        Self {
            title: broken(title, Face::Semibold, title_size, room),
            title_size,
            lines: lines.iter().flat_map(|line| broken(line, Face::Regular, SUBTITLE, room)).collect(),
            given: lines.len(),
        }
    }

    /// How much lower than otherwise it ends because of what was broken.
    pub(crate) fn extra(&self) -> f64 {
        TITLE_LINE * self.title.len().saturating_sub(1) as f64 + LINE * (self.lines.len() - self.given) as f64
    }

    /// Writes it.
    pub(crate) fn draw(&self, svg: &mut Svg) {
        for (k, line) in self.title.iter().enumerate() {
            let at = [LEFT, 40.0 + TITLE_LINE * k as f64];
            svg.label(Label::new(line, at, self.title_size).face(Face::Semibold));
        }
        let first = 72.0 + TITLE_LINE * self.title.len().saturating_sub(1) as f64;
        for (k, line) in self.lines.iter().enumerate() {
            svg.label(Label::new(line, [LEFT, first + LINE * k as f64], SUBTITLE).colour(SOFT));
        }
    }
}

/// Writes title and the lines below it; gives how much lower than otherwise they end because of what was broken.
pub(crate) fn heading(svg: &mut Svg, title: &str, lines: &[String]) -> f64 {
    let heading = Heading::new(svg.style(), svg.width(), title, lines);
    heading.draw(svg);
    heading.extra()
}

/// Round values (1, 2 or 5 times a power of ten apart) within a range, about `count` of them.
pub(crate) fn ticks([a, b]: [f64; 2], count: f64) -> Vec<f64> {
    let (low, high) = (a.min(b), a.max(b));
    let rough = (high - low) / count.max(1.0);
    if !(rough > 0.0 && rough.is_finite()) {
        return Vec::new();
    }
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().find(|s| s * power >= 0.999 * rough).unwrap_or(10.0) * power;
    let first = (low / step - 1e-9).ceil();
    let last = (high / step + 1e-9).floor();
    (0..=(last - first).max(0.0) as usize).map(|k| (first + k as f64) * step).collect()
}

/// Names of the axis of the moment-to-force ratio, the longest first.
pub(crate) fn torque_names(subject: &Subject<'_>) -> [String; 3] {
    let style = subject.style;
    let torque = crate::case::sentence_case(&style.tell("{} root torque", &[&subject.words().outward]));
    [
        style.tell(
            "{} for each newton of push: moment-to-force ratio at the attachment  (N\u{b7}mm/N = mm)",
            &[&torque],
        ),
        style.tell("{} for each newton of push  (N\u{b7}mm/N = mm)", &[&torque]),
        style.say("Moment-to-force ratio  (mm)"),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks([0.0, 10.0], 5.0), [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        let fine = ticks([0.3, 1.1], 4.0);
        assert!(fine.len() == 4 && fine.iter().zip([0.4, 0.6, 0.8, 1.0]).all(|(a, b)| (a - b).abs() < 1e-12));
        assert_eq!(ticks([5.0, 1.0], 4.0), [1.0, 2.0, 3.0, 4.0, 5.0]);
        assert!(ticks([1.0, 1.0], 4.0).is_empty());
    }
}
