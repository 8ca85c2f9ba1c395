//! The curve: where the centre of rotation lies for each ratio of moment to force, beside the tooth at the
//! same scale of depth.

use gomphosis_mesh_gen::surface;
use gomphosis_solver::Movement;
use nalgebra::Vector3;

use super::axis::{self, Frame, Heading, SMALL};
use super::colour::{Colour, INK, MOVED, PAPER, RESISTANCE, SOFT, TOOTH, TOOTH_EDGE, ink};
use super::font::{self, Face};
use super::layout::{broken, crosses, spread};
use super::style::Size;
use super::svg::{Anchor, At, Label, Paint, Path, Svg};
use super::{Subject, plane_motion, silhouette};

/// How far the curve is shown above the cusp tip and below the apex, as a share of the tooth's length.
const BEYOND: f64 = 0.34;

/// Room for a line of a kind's name whose column is narrow.
const NARROW_NAME: f64 = 130.0;

/// Where things stand on the sheet.
pub(crate) struct Layout {
    size: At,
    heading: Heading,
    /// The plot; its scale of depth is that of the tooth too.
    pub(crate) frame: Frame,
    /// Where the scale of depth stands.
    scale_x: f64,
    /// The long axis of the tooth.
    pub(crate) axis_x: f64,
}

impl Layout {
    /// The layout for a subject.
    pub(crate) fn new(subject: &Subject<'_>, heading: impl FnOnce(f64) -> Heading) -> Self {
        let style = subject.style;
        let size = style.sheet([1200.0, 860.0], 520.0);
        let heading = heading(size[0]);
        // Left (where the tooth stands), top, right and bottom margins.
        let [left, top, right, bottom] = match style.size {
            Size::Page => [330.0, 136.0, 40.0, 104.0],
            Size::Slide => [330.0, 138.0, 40.0, 88.0],
            Size::Column => [208.0, 24.0, 14.0, 84.0],
        };
        let top = top + heading.extra();
        let length = subject.cusp_height_mm + subject.apex_depth_mm;
        let mut frame = Frame {
            corner: [left, top],
            size: [size[0] - left - right, size[1] - top - bottom],
            x: [0.0, axis_end(subject)],
            y: [-subject.apex_depth_mm - BEYOND * length, subject.cusp_height_mm + BEYOND * length],
        };
        let scale_x = if style.size == Size::Column { 84.0 } else { 110.0 };
        // A wide tooth moves the plot to the right.
        let [inward, outward] = breadth(subject).map(|mm| frame.scale()[1] * mm + 12.0);
        let wanted = scale_x + inward + outward;
        frame.corner[0] = frame.corner[0].max(wanted);
        frame.size[0] -= frame.corner[0] - left;
        let axis_x = scale_x + inward + 0.5 * (frame.corner[0] - wanted);
        Self { size, heading, frame, scale_x, axis_x }
    }

    /// The place of a point of the tooth, mm.
    pub(crate) fn place(&self, [x, z]: At) -> At {
        [self.axis_x + self.frame.scale()[1] * x, self.frame.at(0.0, z)[1]]
    }
}

/// Draws the curve.
pub(crate) fn draw(subject: &Subject<'_>) -> Svg {
    let style = subject.style;
    let title = style.tell("{}: torque moves the centre of rotation", &[&subject.tooth_title()]);
    let line = style.tell(
        "Push at the attachment, {} mm above the crest; {}",
        &[&style.fixed(subject.height_mm(), 2), &subject.model_line()],
    );
    let layout = Layout::new(subject, |width| Heading::new(style, width, &title, &[line]));
    let mut svg = sheet(subject, &layout, &title);
    plot(&mut svg, subject, &layout, true);
    svg
}

/// The sheet with its heading.
pub(crate) fn sheet(subject: &Subject<'_>, layout: &Layout, title: &str) -> Svg {
    let style = subject.style;
    let translation = subject.resistance.torque_for_translation_mm(subject.height_mm());
    let description = style.tell(
        "The centre of rotation moves from {} mm below the crest without torque down the root to infinity at a ratio of {} mm, \
         and comes back from above the crown.",
        &[&style.fixed(depth(subject, 0.0).unwrap_or(f64::INFINITY), 1), &style.fixed(translation, 1)],
    );
    let mut svg = Svg::new(style, layout.size, title, &description);
    layout.heading.draw(&mut svg);
    svg
}

/// Tooth, curve, names and axes; with or without the marks of loads.
pub(crate) fn plot(svg: &mut Svg, subject: &Subject<'_>, layout: &Layout, marked: bool) {
    let style = subject.style;
    let Layout { frame, scale_x, .. } = layout;
    let columns = columns(subject, frame);
    shade(svg, frame, &columns);
    tooth(svg, subject, layout);
    levels(svg, subject, frame, *scale_x);
    asymptote(svg, frame, subject.resistance.torque_for_translation_mm(subject.height_mm()));
    draw_branches(svg, subject, frame);
    kind_names(svg, frame, &columns, &branches(subject, frame).concat());
    level_names(svg, subject, frame);
    if marked {
        marks(svg, subject, frame);
    }
    frame.outline(svg);
    let torque = style.tell("{} root torque", &[&subject.words().outward]);
    frame.bottom(
        svg,
        &[
            style.tell(
                "Moment-to-force ratio at the attachment: {} for each newton of push  (mm)",
                &[&torque],
            ),
            style.say("Moment-to-force ratio at the attachment  (mm)"),
            style.say("Moment-to-force ratio  (mm)"),
        ],
    );
    let crest = frame.at(0.0, 0.0)[1];
    let floor = frame.corner[1] + frame.size[1];
    for (text, high, low) in
        [("mm above the crest", frame.corner[1], crest), ("mm below the crest", crest, floor)]
    {
        let at = [(scale_x - 80.0).max(14.0), 0.5 * (high + low)];
        axis::axis_name(svg, &[style.say(text)], at, -90.0, low - high);
    }
}

/// How far the tooth reaches from its long axis inward and outward, mm.
fn breadth(subject: &Subject<'_>) -> [f64; 2] {
    let nodes =
        [surface::ROOT, surface::CROWN].into_iter().flat_map(|name| subject.mesh.surface(name)).flatten();
    nodes
        .map(|&n| subject.mesh.nodes()[n as usize].x)
        .fold([0.0; 2], |[i, o], x| [f64::max(i, -x), f64::max(o, x)])
}

/// Depth of the centre of rotation below the crest for a ratio.
fn depth(subject: &Subject<'_>, ratio: f64) -> Option<f64> {
    plane_motion(&subject.resistance, subject.height_mm(), ratio).centre_of_rotation_depth_mm()
}

/// Ratio at which the curve has come back down to a place between the attachment and the crest.
pub(crate) fn axis_end(subject: &Subject<'_>) -> f64 {
    let lever = subject.resistance.torque_for_translation_mm(subject.height_mm());
    let sigma2 = subject.resistance.sigma_squared_mm2();
    (lever + 2.2 * sigma2 / lever).max(1.25 * lever).ceil()
}

/// Ranges of the ratio by kind of movement, from left to right.
fn columns(subject: &Subject<'_>, frame: &Frame) -> Vec<(Movement, f64, f64)> {
    let count = 2000;
    let ratio = |k: usize| frame.x[0] + (frame.x[1] - frame.x[0]) * k as f64 / count as f64;
    let mut found: Vec<(Movement, f64, f64)> = Vec::new();
    for k in 0..=count {
        let kind = subject.movement(subject.height_mm(), ratio(k));
        match found.last_mut() {
            Some((last, _, end)) if *last == kind => *end = ratio(k),
            _ => found.push((kind, found.last().map_or(ratio(k), |l| l.2), ratio(k))),
        }
    }
    found
}

/// Tint of a kind's column.
fn tint(kind: Movement) -> Colour {
    match kind {
        Movement::UncontrolledTipping => ink(0x00fb_f3e6, 0x0024_1f18),
        Movement::ControlledTipping => ink(0x00fd_faf3, 0x001a_1a19),
        Movement::Translation => PAPER,
        Movement::RootMovement => ink(0x00ee_f4f6, 0x0014_2026),
        Movement::CrownTippingReversed => super::colour::REVERSED,
    }
}

fn shade(svg: &mut Svg, frame: &Frame, columns: &[(Movement, f64, f64)]) {
    for &(kind, from, to) in columns {
        let (left, right) = (frame.at(from, 0.0)[0], frame.at(to, 0.0)[0]);
        svg.rectangle([left, frame.corner[1]], [right - left, frame.size[1]], Paint::fill(tint(kind)));
    }
}

/// Names of the kinds above their columns, spread where columns are narrow, each joined to its column; turned inside
/// the columns where they do not fit side by side.
fn kind_names(svg: &mut Svg, frame: &Frame, columns: &[(Movement, f64, f64)], curve: &[At]) {
    let style = svg.style();
    let top = frame.corner[1];
    // The translation is named at its line; its column is a hair.
    let named: Vec<_> = columns.iter().filter(|c| c.0 != Movement::Translation).collect();
    let width_of = |text: &str| font::width(text, Face::Semibold, SMALL);
    if style.size == Size::Column {
        for &&(kind, from, to) in &named {
            let x = frame.at(0.5 * (from + to), 0.0)[0];
            let name = style.say(kind.name());
            let half = 0.5 * width_of(&name) + 10.0;
            let room = frame.size[1] - 2.0 * half;
            let places = (0..=8).map(|k| [x, top + half + room * f64::from(k) / 8.0]).map(|at| {
                Label::new(name.clone(), at, SMALL)
                    .face(Face::Semibold)
                    .anchor(Anchor::Middle)
                    .turned(-90.0)
                    .halo(tint(kind))
            });
            svg.label_first_clear(places.filter(|label| !crosses(label, curve)).collect::<Vec<_>>());
        }
        return;
    }
    let names: Vec<Vec<String>> = named
        .iter()
        .map(|&&(kind, from, to)| {
            let room = frame.at(to, 0.0)[0] - frame.at(from, 0.0)[0];
            let name = style.say(kind.name());
            if width_of(&name) < room - 8.0 {
                vec![name]
            } else {
                broken(&name, Face::Semibold, SMALL, NARROW_NAME)
            }
        })
        .collect();
    let widths: Vec<f64> =
        names.iter().map(|lines| lines.iter().map(|l| width_of(l)).fold(0.0, f64::max)).collect();
    let wanted: Vec<f64> =
        named.iter().map(|&&(_, from, to)| 0.5 * (frame.at(from, 0.0)[0] + frame.at(to, 0.0)[0])).collect();
    let middles = spread(&wanted, &widths, 24.0, [frame.corner[0], frame.corner[0] + frame.size[0] + 24.0]);
    for ((lines, middle), column) in names.iter().zip(&middles).zip(&wanted) {
        for (k, line) in lines.iter().enumerate() {
            let y = top - 20.0 - 19.0 * (lines.len() - 1 - k) as f64;
            svg.label(
                Label::new(line.clone(), [*middle, y], SMALL).face(Face::Semibold).anchor(Anchor::Middle),
            );
        }
        svg.polyline(&[[*middle, top - 9.0], [*column, top]], Paint::line(SOFT, 1.0));
    }
}

/// The tooth to the left, at the scale of the depth axis.
fn tooth(svg: &mut Svg, subject: &Subject<'_>, layout: &Layout) {
    let frame = &layout.frame;
    let (axis_x, scale) = (layout.axis_x, frame.scale()[1]);
    let surfaces = [surface::ROOT, surface::CROWN, surface::ATTACHMENT];
    let rings = silhouette::outline(subject.mesh, &surfaces, &|_| Vector3::zeros());
    let path = rings.iter().fold(Path::default(), |path, ring| {
        path.closed(&ring.iter().map(|&p| layout.place(p)).collect::<Vec<_>>())
    });
    svg.path(&path, Paint::fill(TOOTH).edge(TOOTH_EDGE, 1.6));
    let x = |mm: f64| axis_x + scale * mm;
    let y = |mm: f64| frame.at(0.0, mm)[1];
    svg.polyline(
        &[[axis_x, y(subject.cusp_height_mm) - 20.0], [axis_x, y(-subject.apex_depth_mm) + 20.0]],
        Paint::line(TOOTH_EDGE, 0.9).dashed("9 4 2 4"),
    );
    // The push.
    let at = subject.landmarks.attachment;
    let sense = if subject.case.load.force_n < 0.0 { -1.0 } else { 1.0 };
    let arrow = if subject.style.size == Size::Column { 44.0 } else { 62.0 };
    svg.arrow([x(at.x) - sense * arrow, y(at.z)], [x(at.x), y(at.z)], super::colour::LOAD, 4.0);
    let text = Label::new(subject.style.say("push"), [x(at.x) - sense * 31.0, y(at.z) - 15.0], SMALL)
        .anchor(Anchor::Middle)
        .colour(super::colour::LOAD)
        .halo(PAPER);
    svg.label_first_clear([text]);
    let words = subject.words();
    let floor = frame.corner[1] + frame.size[1] + 22.0;
    for (text, anchor, dx) in [(words.inward, Anchor::End, -6.0), (words.outward, Anchor::Start, 6.0)] {
        svg.label(Label::new(text, [x(0.0) + dx, floor], SMALL).anchor(anchor).colour(SOFT));
    }
}

/// Heights with a name: cusp tip, crest, centre of resistance, apex.
fn named_levels(subject: &Subject<'_>) -> [(f64, &'static str, Colour, &'static str); 4] {
    [
        (subject.cusp_height_mm, subject.case.top_name(), SOFT, "2 5"),
        (0.0, "alveolar crest", INK, ""),
        (-subject.resistance.centre_depth_mm(), "centre of resistance", RESISTANCE, "8 4"),
        (-subject.apex_depth_mm, "apex", SOFT, "2 5"),
    ]
}

/// Lines across tooth and plot at the named heights, and the scale of depth.
fn levels(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame, scale_x: f64) {
    let style = subject.style;
    let marks = named_levels(subject);
    let right = frame.corner[0] + frame.size[0];
    for (height, _, colour, dash) in marks {
        let y = frame.at(0.0, height)[1];
        let paint = Paint::line(colour, 1.3);
        svg.polyline(&[[scale_x, y], [right, y]], if dash.is_empty() { paint } else { paint.dashed(dash) });
        let label = Label::new(style.fixed(height.abs(), 1), [scale_x - 6.0, y], SMALL);
        svg.label_first_clear([label.anchor(Anchor::End).colour(colour)]);
    }
    for tick in axis::ticks(frame.y, 8.0) {
        let y = frame.at(0.0, tick)[1];
        let label = Label::new(style.number(tick.abs()), [scale_x - 6.0, y], SMALL);
        let label = label.anchor(Anchor::End).colour(SOFT);
        if svg.is_clear(&label) {
            svg.polyline(&[[scale_x, y], [scale_x + 6.0, y]], Paint::line(SOFT, 1.2));
            svg.label(label);
        }
    }
}

fn level_names(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame) {
    let curve = branches(subject, frame).concat();
    for (height, name, colour, _) in named_levels(subject) {
        let y = frame.at(0.0, height)[1];
        let candidates = [12.0, 240.0, 430.0].into_iter().flat_map(|dx| [-13.0, 13.0].map(|dy| (dx, dy)));
        let places = candidates.map(|(dx, dy)| {
            Label::new(subject.style.say(name), [frame.corner[0] + dx, y + dy], SMALL).colour(colour)
        });
        svg.label_first_clear(places.filter(|label| !crosses(label, &curve)));
    }
}

fn asymptote(svg: &mut Svg, frame: &Frame, translation: f64) {
    if !frame.contains(translation, 0.0) {
        return;
    }
    let x = frame.at(translation, 0.0)[0];
    svg.polyline(
        &[[x, frame.corner[1]], [x, frame.corner[1] + frame.size[1]]],
        Paint::line(INK, 1.6).dashed("7 5"),
    );
    let style = svg.style();
    let texts =
        [style.tell("translation at {} mm", &[&style.fixed(translation, 1)]), style.say("translation")];
    // Between the crest and the top or the bottom, so that the line of the crest never runs through it.
    let crest = frame.at(translation, 0.0)[1];
    let (top, bottom) = (frame.corner[1], frame.corner[1] + frame.size[1]);
    let places =
        [0.5 * (top + crest), 0.4 * top + 0.6 * crest, 0.6 * top + 0.4 * crest, 0.5 * (crest + bottom)];
    let labels = texts.iter().flat_map(|text| {
        places.map(|y| {
            Label::new(text, [x - 14.0, y], SMALL)
                .face(Face::Semibold)
                .anchor(Anchor::Middle)
                .turned(-90.0)
                .halo(PAPER)
        })
    });
    // Within the plot, and not across the crest if it can be.
    let inside = |label: &Label, [low, high]: [f64; 2]| {
        label.corners().iter().all(|p| p[1] > low + 6.0 && p[1] < high - 6.0)
    };
    let labels: Vec<Label> = labels.filter(|label| inside(label, [top, bottom])).collect();
    let apart = |label: &&Label| inside(label, [top, crest]) || inside(label, [crest, bottom]);
    let best: Vec<Label> = labels.iter().filter(apart).cloned().collect();
    svg.label_first_clear(best.into_iter().chain(labels));
}

/// Points of both branches of the curve.
fn branches(subject: &Subject<'_>, frame: &Frame) -> [Vec<At>; 2] {
    let lever = subject.resistance.torque_for_translation_mm(subject.height_mm());
    let sigma2 = subject.resistance.sigma_squared_mm2();
    let centre = subject.resistance.centre_depth_mm();
    // Points evenly spread along the axis would be few where the curve is steep: even steps of an angle.
    let branch = |from: f64, to: f64| -> Vec<At> {
        (0..=400)
            .map(|k| (from + (to - from) * f64::from(k) / 400.0).tan())
            .map(|below| (lever - sigma2 / below, -(centre + below)))
            .map(|(ratio, height)| frame.at(ratio, height))
            .collect()
    };
    let half = std::f64::consts::FRAC_PI_2;
    [branch(1e-3, half - 1e-3), branch(-half + 1e-3, -1e-3)]
}

/// Draws both branches.
fn draw_branches(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame) {
    let lever = subject.resistance.torque_for_translation_mm(subject.height_mm());
    let sigma2 = subject.resistance.sigma_squared_mm2();
    let centre = subject.resistance.centre_depth_mm();
    svg.clipped(frame.corner, frame.size, |svg| {
        for line in branches(subject, frame) {
            svg.polyline(&line, Paint::line(MOVED, 4.0));
        }
    });
    // Heads show the way with growing torque, where the curve leaves the picture and where it comes back.
    let ends = [
        (frame.y[0], 14.0, "to infinity", [(-14.0, Anchor::End), (14.0, Anchor::Start)]),
        (frame.y[1], 30.0, "back from infinity", [(14.0, Anchor::Start), (-14.0, Anchor::End)]),
    ];
    for (height, down, text, places) in ends {
        let ratio = lever + sigma2 / (height + centre);
        if !frame.contains(ratio, height) {
            continue;
        }
        let at = frame.at(ratio, height);
        let tip = [at[0] + 1.0, at[1] + down];
        svg.head([at[0], tip[1] - 20.0], tip, 9.0, MOVED);
        let y = if down > 20.0 { at[1] + 18.0 } else { at[1] - 22.0 };
        svg.label_first_clear(places.map(|(dx, anchor)| {
            Label::new(subject.style.say(text), [at[0] + dx, y], SMALL)
                .anchor(anchor)
                .colour(MOVED)
                .halo(PAPER)
        }));
    }
}

/// The load of the case, and a few places on the curve that have names.
fn marks(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame) {
    let style = subject.style;
    let mut named = vec![(0.0, "no torque")];
    if let Some(ratio) = subject.ratio_mm().filter(|&r| r != 0.0) {
        named.push((ratio, "this case"));
    }
    let line: Vec<At> = branches(subject, frame).concat();
    let columns = (0..=frame.size[0] as usize / 4).map(|k| frame.corner[0] + 4.0 * k as f64);
    let levels: Vec<At> =
        columns.flat_map(|x| named_levels(subject).map(|l| [x, frame.at(0.0, l.0)[1]])).collect();
    for (ratio, name) in named {
        let Some(depth) = depth(subject, ratio) else { continue };
        if !frame.contains(ratio, -depth) {
            continue;
        }
        let at = frame.at(ratio, -depth);
        svg.circle(at, 7.0, Paint::fill(MOVED).edge(PAPER, 2.0));
        let name = style.say(name);
        let place = if depth < 0.0 { "{}: {} mm above the crest" } else { "{}: {} mm below the crest" };
        let text = style.tell(place, &[&name, &style.fixed(depth.abs(), 1)]);
        let places = [22.0, -20.0, 34.0, 46.0, 58.0, -34.0, -48.0, -64.0]
            .into_iter()
            .flat_map(|dy| [(14.0, dy, Anchor::Start), (-14.0, dy, Anchor::End)]);
        let candidates: Vec<Label> = [text.as_str(), name.as_str()]
            .into_iter()
            .flat_map(|text| {
                places.clone().map(move |(dx, dy, anchor)| {
                    Label::new(text, [at[0] + dx, at[1] + dy], SMALL).anchor(anchor).colour(MOVED).halo(PAPER)
                })
            })
            .filter(|label| !crosses(label, &line))
            .collect();
        // In the plot and beside the lines of the levels, if there is such a place.
        let apart = |label: &&Label| {
            label.corners().iter().all(|p| p[0] > frame.corner[0] + 3.0) && !crosses(label, &levels)
        };
        let best: Vec<Label> = candidates.iter().filter(apart).cloned().collect();
        svg.label_first_clear(best.into_iter().chain(candidates));
    }
}
