//! The map: tip for each millimetre of travel over attachment height and moment-to-force ratio, with the
//! borders between the kinds of movement.

use gomphosis_solver::Movement;

use super::axis::{self, Frame, NAME, SMALL, ticks};
use super::colour::{Colour, FAINT, INK, MOVED, PAPER, REVERSED, REVERSED_LINES, SOFT, TIP};
use super::contour::Grid;
use super::font::Face;
use super::style::Size;
use super::svg::{Anchor, At, Label, Paint, Path, Svg};
use super::{Subject, plane_motion};

/// Colours reach their ends here, degrees/mm.
const COLOUR_END: f64 = 8.0;
/// Between a text and one that it could be read on with.
const APART: f64 = 28.0;
/// Points of the evaluation grid.
const FINE: [usize; 2] = [221, 161];

/// Draws the map.
pub(crate) fn draw(subject: &Subject<'_>) -> Svg {
    let spec = &subject.case.map;
    let style = subject.style;
    let name = subject.tooth_title();
    let words = subject.words();
    let title = style.tell("{}: what height and root torque make of a push", &[&name]);
    let sheet = style.sheet([1200.0, 830.0], 500.0);
    let mut svg = Svg::new(
        style,
        sheet,
        &title,
        &style.tell(
            "Map of the degrees of tip for each millimetre of travel over attachment height and moment-to-force ratio. \
             Translation needs a ratio of {} mm at the height of the attachment, {} mm above the crest.",
            &[
                &style.fixed(subject.resistance.torque_for_translation_mm(subject.height_mm()), 1),
                &style.fixed(subject.height_mm(), 2),
            ],
        ),
    );
    let towards = if subject.case.load.force_n < 0.0 { &words.inward } else { &words.outward };
    let line = style.tell("Push to {} at the attachment; {}", &[towards, &subject.model_line()]);
    let lower = axis::heading(&mut svg, &title, &[line]);
    // Left, top, right and bottom margins.
    let [left, top, right, bottom] = match style.size {
        Size::Page => [112.0, 112.0, 208.0, 98.0],
        Size::Slide => [112.0, 104.0, 208.0, 88.0],
        Size::Column => [86.0, 22.0, 132.0, 84.0],
    };
    let top = top + lower;
    let frame = Frame {
        corner: [left, top],
        size: [sheet[0] - left - right, sheet[1] - top - bottom],
        x: [spec.moment_to_force_from_mm, spec.moment_to_force_to_mm],
        y: [spec.height_from_mm, spec.height_to_mm],
    };
    let step = |k: usize, of: usize, [a, b]: [f64; 2]| a + (b - a) * k as f64 / (of - 1) as f64;
    let xs: Vec<f64> = (0..FINE[0]).map(|i| step(i, FINE[0], frame.x)).collect();
    let ys: Vec<f64> = (0..FINE[1]).map(|j| step(j, FINE[1], frame.y)).collect();
    let place = |f: &dyn Fn(f64, f64) -> f64| {
        Grid::new(
            xs.iter().map(|&x| frame.at(x, ys[0])[0]).collect(),
            ys.iter().map(|&y| frame.at(xs[0], y)[1]).collect(),
            |i, j| f(ys[j], xs[i]),
        )
    };
    // The angle of (travel, tip) passes smoothly through the place where the attachment does not travel and
    // the tip for each millimetre is infinite; its contours are those of the quotient.
    let tip = place(&|height, ratio| {
        let motion = plane_motion(&subject.resistance, height, ratio);
        level_angle(motion.tip_deg(), motion.travel_mm(height))
    });
    svg.clipped(frame.corner, frame.size, |svg| {
        svg.rectangle(frame.corner, frame.size, Paint::fill(TIP.at(-1.0)));
        for band in bands() {
            let mut path = Path::default();
            for ring in tip.above(level_angle(band, 1.0)) {
                path = path.closed(&ring);
            }
            svg.path(&path, Paint::fill(TIP.at((band + 0.5) / COLOUR_END)));
        }
        reversed_area(svg, subject, &place);
        // Where the root leads the steps lie too close for lines; their colours say enough.
        for level in 1..=8 {
            for line in tip.lines(level_angle(f64::from(level), 1.0)) {
                svg.polyline(&line, Paint::line(PAPER, 1.1).faded(0.8));
            }
        }
    });
    border_lines(&mut svg, subject, &frame);
    this_case(&mut svg, subject, &frame);
    region_names(&mut svg, subject, &frame);
    level_labels(&mut svg, &frame, &tip);
    frame.outline(&mut svg);
    frame.bottom(&mut svg, &axis::torque_names(subject));
    frame.left(
        &mut svg,
        &[
            style.say("Height of the attachment above the crest  (mm)"),
            style.say("Attachment above the crest  (mm)"),
        ],
        |v| v,
    );
    colour_bar(&mut svg, &frame);
    svg
}

/// Evaluates a function of height and ratio on the fine grid.
type Place<'a> = dyn Fn(&dyn Fn(f64, f64) -> f64) -> Grid + 'a;

/// Monotone stand-in for tip / travel that has no pole.
fn level_angle(tip: f64, travel: f64) -> f64 {
    (tip / 4.0).atan2(travel)
}

/// Lower ends of the coloured bands, degrees/mm, from the lowest.
fn bands() -> impl Iterator<Item = f64> {
    (0..(2.0 * COLOUR_END) as usize).map(|k| k as f64 - COLOUR_END)
}

/// Greys and hatches the area where the attachment travels against the push.
fn reversed_area(svg: &mut Svg, subject: &Subject<'_>, place: &Place<'_>) {
    let backward =
        place(&|height, ratio| -plane_motion(&subject.resistance, height, ratio).travel_mm(height));
    let rings = backward.above(0.0);
    let path = rings.iter().fold(Path::default(), |path, ring| path.closed(ring));
    svg.path(&path, Paint::fill(REVERSED));
    svg.hatched(&rings, REVERSED_LINES, 1.6, 9.0);
}

/// A border between kinds of movement: the ratio at which the centre of rotation lies at a depth, and what
/// is written along it.
struct Border {
    /// In full, and shorter.
    texts: [&'static str; 2],
    /// Depth below the crest for an attachment height; `None` for infinity.
    depth: Box<dyn Fn(f64) -> Option<f64>>,
    strong: bool,
    /// Where the text stands across the line: -1 above it, 1 below it.
    side: f64,
}

fn borders(subject: &Subject<'_>) -> Vec<Border> {
    let apex = subject.apex_depth_mm;
    vec![
        Border {
            texts: ["translation: centre of rotation at infinity", "translation"],
            depth: Box::new(|_| None),
            strong: true,
            side: -1.0,
        },
        Border {
            texts: ["centre of rotation at the apex", "rotation at the apex"],
            depth: Box::new(move |_| Some(apex)),
            strong: false,
            side: -1.0,
        },
        Border {
            texts: ["centre of rotation at the attachment", "rotation at the attachment"],
            depth: Box::new(|height| Some(-height)),
            strong: false,
            side: 1.0,
        },
    ]
}

/// The ratio that puts the centre of rotation at a depth: `m = D - sigma^2 / b`, b from the centre of
/// resistance down to the centre of rotation.
fn ratio_for(subject: &Subject<'_>, height: f64, depth: Option<f64>) -> f64 {
    let lever = subject.resistance.torque_for_translation_mm(height);
    let below = depth.map_or(f64::INFINITY, |d| d - subject.resistance.centre_depth_mm());
    lever - subject.resistance.sigma_squared_mm2() / below
}

/// Points of a border line inside the frame, from low to high.
fn border_points(subject: &Subject<'_>, frame: &Frame, border: &Border) -> Vec<At> {
    (0..=200)
        .map(|k| frame.y[0] + (frame.y[1] - frame.y[0]) * f64::from(k) / 200.0)
        .map(|height| (ratio_for(subject, height, (border.depth)(height)), height))
        .filter(|&(ratio, height)| frame.contains(ratio, height))
        .map(|(ratio, height)| frame.at(ratio, height))
        .collect()
}

fn border_lines(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame) {
    for border in borders(subject) {
        let points = border_points(subject, frame, &border);
        if points.len() < 2 {
            continue;
        }
        let paint = if border.strong { Paint::line(INK, 3.2) } else { Paint::line(INK, 1.6).dashed("7 5") };
        svg.polyline(&points, paint);
        let face = if border.strong { Face::Semibold } else { Face::Regular };
        let shares = [0.5, 0.56, 0.44, 0.62, 0.38, 0.7, 0.3, 0.78, 0.22];
        let candidates = border
            .texts
            .into_iter()
            .flat_map(|text| shares.map(|share| (subject.style.say(text), along(&points, share))))
            .map(|(text, (at, angle))| {
                let (sin, cos) = angle.to_radians().sin_cos();
                let off = 15.0 * border.side;
                Label::new(text, [at[0] - off * sin, at[1] + off * cos], SMALL)
                    .face(face)
                    .turned(angle)
                    .anchor(Anchor::Middle)
            })
            .filter(|label| label.corners().iter().all(|c| inside(frame, *c)));
        svg.label_first_clear(candidates.collect::<Vec<_>>());
    }
}

fn inside(frame: &Frame, at: At) -> bool {
    at[0] > frame.corner[0] + 4.0
        && at[0] < frame.corner[0] + frame.size[0] - 4.0
        && at[1] > frame.corner[1] + 4.0
        && at[1] < frame.corner[1] + frame.size[1] - 4.0
}

/// Point and upright direction (degrees) at a share of a line's points.
fn along(points: &[At], share: f64) -> (At, f64) {
    let k = ((points.len() - 1) as f64 * share) as usize;
    let (a, b) = (points[k.saturating_sub(6)], points[(k + 6).min(points.len() - 1)]);
    let angle = (b[1] - a[1]).atan2(b[0] - a[0]).to_degrees();
    let upright = if angle > 90.0 {
        angle - 180.0
    } else if angle < -90.0 {
        angle + 180.0
    } else {
        angle
    };
    (points[k], upright)
}

/// Names the kinds of movement where they are: each name along the slope of the borders, at the widest clear
/// place of its area.
fn region_names(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame) {
    let slope = -(frame.scale()[1]).atan2(frame.scale()[0]).to_degrees();
    let kinds = [
        (Movement::UncontrolledTipping, "uncontrolled tipping", "crown and apex go opposite ways"),
        (Movement::ControlledTipping, "controlled tipping", ""),
        (Movement::RootMovement, "root movement", ""),
        (Movement::CrownTippingReversed, "crown tipping reversed", "the torque overpowers the push"),
    ];
    for (kind, name, remark) in kinds {
        let style = subject.style;
        let (name, remark) =
            (style.say(name), if remark.is_empty() { String::new() } else { style.say(remark) });
        let areas = kind_cells(subject, frame, kind);
        // Wide areas take an upright name with a remark, narrow ones a name along the slope.
        let narrow = matches!(kind, Movement::ControlledTipping | Movement::RootMovement);
        let name_at = |at: At| {
            Label::new(name.clone(), at, NAME)
                .face(Face::Semibold)
                .anchor(Anchor::Middle)
                .turned(if narrow { slope } else { 0.0 })
                .halo(if narrow { PAPER } else { ground(subject, frame, at) })
        };
        let remark_at = |at: At| {
            let place = [at[0], at[1] + 25.0];
            Label::new(remark.clone(), place, SMALL)
                .anchor(Anchor::Middle)
                .halo(ground(subject, frame, place))
        };
        let free = |label: &Label| svg.is_apart(label, APART) && fits(subject, frame, label, kind);
        let even = |label: &Label| {
            let [a, b, c, d] = label.corners().map(|p| ground(subject, frame, p));
            a == b && b == c && c == d
        };
        // At best the texts lie within one step of colour.
        let places = || areas.iter().map(|a| a.0);
        let place = places()
            .find(|&at| [name_at(at), remark_at(at)].iter().all(|l| !narrow && free(l) && even(l)))
            .or_else(|| places().find(|&at| free(&name_at(at))));
        let Some(at) = place else { continue };
        let remark_fits = !remark.is_empty() && free(&remark_at(at));
        svg.label(name_at(at));
        if remark_fits {
            svg.label(remark_at(at));
        }
    }
}

/// Is the whole text within the area of a kind?
fn fits(subject: &Subject<'_>, frame: &Frame, label: &Label, kind: Movement) -> bool {
    let [a, b, c, d] = label.corners();
    let middle = |p: At, q: At| [0.5 * (p[0] + q[0]), 0.5 * (p[1] + q[1])];
    [a, b, c, d, middle(a, d), middle(b, c), middle(a, b), middle(d, c)]
        .into_iter()
        .all(|p| inside(frame, p) && kind_at(subject, frame, p) == kind)
}

/// Colour of the map at a place.
fn ground(subject: &Subject<'_>, frame: &Frame, at: At) -> Colour {
    let (ratio, height) = data_at(frame, at);
    let motion = plane_motion(&subject.resistance, height, ratio);
    let travel = motion.travel_mm(height);
    if travel <= 0.0 { REVERSED } else { TIP.at(((motion.tip_deg() / travel).floor() + 0.5) / COLOUR_END) }
}

/// Ratio and height at a place of the drawing.
fn data_at(frame: &Frame, at: At) -> (f64, f64) {
    (
        frame.x[0] + (frame.x[1] - frame.x[0]) * (at[0] - frame.corner[0]) / frame.size[0],
        frame.y[1] - (frame.y[1] - frame.y[0]) * (at[1] - frame.corner[1]) / frame.size[1],
    )
}

fn kind_at(subject: &Subject<'_>, frame: &Frame, at: At) -> Movement {
    let (ratio, height) = data_at(frame, at);
    subject.movement(height, ratio)
}

/// Places inside the area of a kind, the ones farthest from its borders first.
fn kind_cells(subject: &Subject<'_>, frame: &Frame, kind: Movement) -> Vec<(At, f64)> {
    let (columns, rows) = (88, 62);
    let at = |i: usize, j: usize| {
        [
            frame.corner[0] + frame.size[0] * (i as f64 + 0.5) / columns as f64,
            frame.corner[1] + frame.size[1] * (j as f64 + 0.5) / rows as f64,
        ]
    };
    let is_kind: Vec<bool> = (0..rows)
        .flat_map(|j| (0..columns).map(move |i| (i, j)))
        .map(|(i, j)| kind_at(subject, frame, at(i, j)) == kind)
        .collect();
    // Distance to the border in cells, by growing squares.
    let depth = |i: usize, j: usize| {
        (1..rows)
            .take_while(|&r| {
                i >= r
                    && j >= r
                    && i + r < columns
                    && j + r < rows
                    && [
                        (i - r, j - r),
                        (i + r, j - r),
                        (i - r, j + r),
                        (i + r, j + r),
                        (i - r, j),
                        (i + r, j),
                        (i, j - r),
                        (i, j + r),
                    ]
                    .iter()
                    .all(|&(i, j)| is_kind[j * columns + i])
            })
            .count()
    };
    let mut cells: Vec<(At, f64)> = (0..rows)
        .flat_map(|j| (0..columns).map(move |i| (i, j)))
        .filter(|&(i, j)| is_kind[j * columns + i])
        .map(|(i, j)| (at(i, j), depth(i, j) as f64))
        .collect();
    cells.sort_by(|a, b| b.1.total_cmp(&a.1));
    cells
}

/// Values written on the contour lines, where there is room.
fn level_labels(svg: &mut Svg, frame: &Frame, tip: &Grid) {
    for level in 1..=8_i32 {
        let text = level.to_string();
        for line in tip.lines(level_angle(f64::from(level), 1.0)) {
            if line.len() < 30 {
                continue;
            }
            // Where neighbouring lines are close, a number would not say which line it belongs to.
            let next = level_angle(f64::from(level + 1), 1.0);
            let room =
                |at: At| tip.lines(next).iter().flatten().all(|p| (p[0] - at[0]).hypot(p[1] - at[1]) > 26.0);
            let candidates: Vec<Label> = [0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9]
                .into_iter()
                .map(|share| along(&line, share))
                .filter(|(at, _)| room(*at))
                .map(|(at, _)| {
                    let shade = TIP.at(f64::from(level) / COLOUR_END);
                    Label::new(text.clone(), at, SMALL).anchor(Anchor::Middle).halo(shade)
                })
                .filter(|label| label.corners().iter().all(|c| inside(frame, *c)))
                .collect();
            svg.label_first_clear(candidates);
        }
    }
}

/// Marks the load of the case itself.
fn this_case(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame) {
    let (height, Some(ratio)) = (subject.height_mm(), subject.ratio_mm()) else { return };
    if !frame.contains(ratio, height) {
        return;
    }
    let at = frame.at(ratio, height);
    svg.circle(at, 7.0, Paint::fill(MOVED).edge(PAPER, 2.0));
    let style = subject.style;
    let texts = [
        style.tell("this case: {} mm high, ratio {} mm", &[&style.fixed(height, 2), &style.fixed(ratio, 1)]),
        style.say("this case"),
    ];
    let label = |text: &String, dx: f64, dy: f64, anchor: Anchor| {
        let label = Label::new(text.clone(), [at[0] + dx, at[1] + dy], SMALL).anchor(anchor).colour(MOVED);
        let grounds = label.corners().map(|p| ground(subject, frame, p));
        let even = grounds.iter().all(|g| *g == grounds[0]);
        label.halo(if even { grounds[0] } else { PAPER })
    };
    let places = [
        (14.0, 0.0, Anchor::Start),
        (-14.0, 0.0, Anchor::End),
        (0.0, -22.0, Anchor::Middle),
        (0.0, 22.0, Anchor::Middle),
        (10.0, -22.0, Anchor::Start),
        (10.0, 22.0, Anchor::Start),
        (-10.0, -22.0, Anchor::End),
        (-10.0, 22.0, Anchor::End),
    ];
    let candidates = texts.iter().flat_map(|text| places.map(|(dx, dy, anchor)| label(text, dx, dy, anchor)));
    svg.label_first_apart(candidates.filter(|l| l.corners().iter().all(|c| inside(frame, *c))), APART);
}

/// Steps of colour with their values, and what the two ends mean.
fn colour_bar(svg: &mut Svg, frame: &Frame) {
    let style = svg.style();
    let (gap, name_gap) = if style.size == Size::Column { (18.0, 52.0) } else { (40.0, 70.0) };
    let (left, width) = (frame.corner[0] + frame.size[0] + gap, 22.0);
    let (top, height) = (frame.corner[1] + 34.0, frame.size[1] - 68.0);
    let y = |value: f64| top + height * (COLOUR_END - value) / (2.0 * COLOUR_END);
    for band in bands() {
        svg.rectangle(
            [left, y(band + 1.0)],
            [width, y(band) - y(band + 1.0) + 0.3],
            Paint::fill(TIP.at((band + 0.5) / COLOUR_END)),
        );
    }
    svg.rectangle([left, top], [width, height], Paint::line(FAINT, 1.0));
    for tick in ticks([-COLOUR_END, COLOUR_END], 8.0) {
        svg.polyline(&[[left + width, y(tick)], [left + width + 6.0, y(tick)]], Paint::line(SOFT, 1.2));
        svg.label(Label::new(style.number(tick), [left + width + 12.0, y(tick)], SMALL).colour(SOFT));
    }
    for (text, y) in [("crown leads", top - 18.0), ("root leads", top + height + 18.0)] {
        svg.label(Label::new(style.say(text), [left, y], SMALL));
    }
    let names = [
        style.say("Tip for each millimetre that the attachment travels  (\u{b0}/mm)"),
        style.say("Tip for each mm of travel  (\u{b0}/mm)"),
    ];
    axis::axis_name(svg, &names, [left + width + name_gap, top + 0.5 * height], -90.0, height - 8.0);
}
