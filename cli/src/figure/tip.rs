//! Tip for each millimetre against the ratio of torque to push, once for each point where the millimetre may be
//! measured: why the point must be named.

use super::axis::{self, Frame, SMALL};
use super::colour::{Colour, FAINT, LOAD, MOVED, PAPER, RESISTANCE, SOFT};
use super::font::Face;
use super::layout::crosses;
use super::style::Size;
use super::svg::{Anchor, At, Label, Paint, Svg};
use super::{Subject, plane_motion};

/// Tip per millimetre beyond which the chart ends, degrees/mm.
const MOST: f64 = 12.0;
/// The rule of thumb, degrees for each millimetre of expansion (common practice, no source).
const RULE: f64 = 5.0;

/// One curve: the visible pieces, with the name of the point.
struct Curve {
    runs: Vec<Vec<At>>,
    name: &'static str,
    colour: Colour,
}

/// Draws the chart.
pub(crate) fn draw(subject: &Subject<'_>) -> Svg {
    let style = subject.style;
    let size = style.sheet([1200.0, 800.0], 470.0);
    let [left, top, right, bottom] = match style.size {
        Size::Page => [104.0, 110.0, 40.0, 96.0],
        Size::Slide => [104.0, 104.0, 40.0, 88.0],
        Size::Column => [78.0, 20.0, 16.0, 84.0],
    };
    let title = style.tell(
        "{}: tip for each millimetre depends on where the millimetre is measured",
        &[&subject.tooth_title()],
    );
    let line = style.tell(
        "Push {} mm above the crest; {}",
        &[&style.fixed(subject.height_mm(), 2), &subject.model_line()],
    );
    let heading = axis::Heading::new(style, size[0], &title, &[line]);
    let top = top + heading.extra();
    let map = subject.case.map;
    let frame = Frame {
        corner: [left, top],
        size: [size[0] - left - right, size[1] - top - bottom],
        x: [map.moment_to_force_from_mm, map.moment_to_force_to_mm],
        y: [-MOST, MOST],
    };
    let curves = curves(subject, &frame);
    let mut svg = Svg::new(style, size, &title, &describe(subject));
    heading.draw(&mut svg);
    let drawn: Vec<At> = curves.iter().flat_map(|c| c.runs.iter().flatten()).copied().collect();
    for (y, words, colour) in [(0.0, "translation", SOFT), (RULE, "rule of thumb, 5 \u{b0}/mm", FAINT)] {
        across(&mut svg, &frame, &drawn, (y, words, colour));
    }
    for curve in &curves {
        for run in &curve.runs {
            svg.polyline(run, Paint::line(curve.colour, 3.2));
        }
    }
    let levels = (0..=frame.size[0] as usize / 4)
        .flat_map(|k| [0.0, RULE].map(|y| [frame.corner[0] + 4.0 * k as f64, frame.at(0.0, y)[1]]));
    let taken: Vec<At> = drawn.iter().copied().chain(levels).collect();
    for curve in &curves {
        name(&mut svg, &frame, curve, [&taken, &drawn]);
    }
    frame.outline(&mut svg);
    frame.bottom(&mut svg, &axis::torque_names(subject));
    let names = ["Tip for each millimetre of travel  (\u{b0}/mm)", "Tip for each mm of travel  (\u{b0}/mm)"]
        .map(|n| style.say(n));
    frame.left(&mut svg, &names, |v| v);
    svg
}

fn describe(subject: &Subject<'_>) -> String {
    let style = subject.style;
    let plain = plane_motion(&subject.resistance, subject.height_mm(), 0.0);
    let [crest, attachment, top] = [0.0, subject.height_mm(), subject.cusp_height_mm]
        .map(|height| style.fixed(plain.tip_deg_per_mm(height), 1));
    style.tell(
        "Without torque the tooth tips {} degrees for each millimetre measured at the crest, {} at the attachment, {} at the top \
         of the crown.",
        &[&crest, &attachment, &top],
    )
}

/// A level line with its name, where no curve runs through it.
fn across(svg: &mut Svg, frame: &Frame, drawn: &[At], (y, words, colour): (f64, &str, Colour)) {
    let ends = frame.x.map(|x| frame.at(x, y));
    svg.polyline(&ends, Paint::line(colour, 1.3));
    let text = svg.style().say(words);
    let places = [(-8.0, Anchor::End, 1), (8.0, Anchor::Start, 0)]
        .into_iter()
        .flat_map(|(dx, anchor, k)| [-13.0, 13.0].map(|dy| ([ends[k][0] + dx, ends[k][1] + dy], anchor)));
    let labels: Vec<Label> = places
        .map(|(at, anchor)| Label::new(text.clone(), at, SMALL).anchor(anchor).colour(SOFT).halo(PAPER))
        .collect();
    let clear: Vec<Label> = labels.iter().filter(|label| !crosses(label, drawn)).cloned().collect();
    svg.label_first_clear(clear.into_iter().chain(labels));
}

fn curves(subject: &Subject<'_>, frame: &Frame) -> [Curve; 3] {
    let top = match subject.case.top_name() {
        "incisal edge" => "measured at the incisal edge",
        "cusp tip" => "measured at the cusp tip",
        _ => "measured at the top of the stub",
    };
    [
        (0.0, "measured at the crest", RESISTANCE),
        (subject.height_mm(), "measured at the attachment's height", MOVED),
        (subject.cusp_height_mm, top, LOAD),
    ]
    .map(|(height, name, colour)| Curve { runs: runs(subject, frame, height), name, colour })
}

/// Writes the name of a curve beside it, as far to the left as none of the lines runs through it, or at least none of the
/// second.
fn name(svg: &mut Svg, frame: &Frame, curve: &Curve, taken: [&[At]; 2]) {
    let Some(run) = curve.runs.iter().max_by_key(|run| run.len()) else { return };
    let text = svg.style().say(curve.name);
    let label = |at: At, dx: f64, dy: f64, anchor: Anchor| {
        Label::new(text.clone(), [at[0] + dx, at[1] + dy], SMALL)
            .face(Face::Semibold)
            .colour(curve.colour)
            .anchor(anchor)
            .halo(PAPER)
    };
    let inside = |label: &Label| {
        let [x0, y0] = frame.corner;
        label.corners().iter().all(|p| {
            p[0] > x0 + 3.0
                && p[0] < x0 + frame.size[0] - 3.0
                && p[1] > y0 + 2.0
                && p[1] < y0 + frame.size[1] - 2.0
        })
    };
    let labels: Vec<Label> = run
        .iter()
        .step_by((run.len() / 60).max(1))
        .flat_map(|&at| {
            [
                label(at, 8.0, -15.0, Anchor::Start),
                label(at, 8.0, 15.0, Anchor::Start),
                label(at, 14.0, 0.0, Anchor::Start),
                label(at, -14.0, 0.0, Anchor::End),
            ]
        })
        .filter(inside)
        .collect();
    let apart =
        taken.map(|lines| labels.iter().filter(|label| !crosses(label, lines)).cloned().collect::<Vec<_>>());
    svg.label_first_clear(apart.into_iter().flatten().chain(labels));
}

/// The visible pieces of one curve: it leaves the chart where the reference point stops travelling.
fn runs(subject: &Subject<'_>, frame: &Frame, reference: f64) -> Vec<Vec<At>> {
    const STEPS: usize = 2000;
    let [from, to] = frame.x;
    let mut runs = vec![Vec::new()];
    for i in 0..=STEPS {
        let ratio = from + (to - from) * i as f64 / STEPS as f64;
        let motion = plane_motion(&subject.resistance, subject.height_mm(), ratio);
        let tip = motion.tip_deg_per_mm(reference);
        if tip.abs() <= MOST && motion.travel_mm(reference) > 0.0 {
            if let Some(run) = runs.last_mut() {
                run.push(frame.at(ratio, tip));
            }
        } else if runs.last().is_some_and(|run| !run.is_empty()) {
            runs.push(Vec::new());
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}
