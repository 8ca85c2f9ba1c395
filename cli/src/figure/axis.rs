//! Axes: round tick values, and a frame that places data in the drawing.

use super::Subject;
use super::colour::{INK, SOFT};
use super::font::{self, Face};
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

/// A name of an axis with its unit: the first of some, or the last, that is as long as there is room.
pub(crate) fn axis_name(svg: &mut Svg, names: &[String], at: At, angle: f64, room: f64) {
    let fits = |name: &&String| font::width(name, Face::Regular, NAME) <= room;
    let Some(name) = names.iter().find(fits).or(names.last()) else { return };
    let size = NAME * (room / font::width(name, Face::Regular, NAME)).min(1.0);
    svg.label(Label::new(name, at, size).anchor(Anchor::Middle).colour(INK).turned(angle));
}

/// Title and the lines below it, a little smaller if they are long; nothing where the sheet has no title.
pub(crate) fn heading(svg: &mut Svg, left: f64, title: &str, lines: &[String]) {
    if !svg.style().is_titled() {
        return;
    }
    let room = svg.width() - 2.0 * left;
    let fitting = |text: &str, face: Face, size: f64| size * (room / font::width(text, face, size)).min(1.0);
    svg.label(Label::new(title, [left, 40.0], fitting(title, Face::Semibold, TITLE)).face(Face::Semibold));
    for (k, line) in lines.iter().enumerate() {
        let size = fitting(line, Face::Regular, SUBTITLE);
        svg.label(Label::new(line, [left, 72.0 + 24.0 * k as f64], size).colour(SOFT));
    }
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
