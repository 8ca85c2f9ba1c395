//! The ligament's pressure over the whole surface of the root, unrolled: angle across, depth down. What a section cannot
//! show: where around the root compression turns into tension.

use gomphosis_mesh_gen::{RootPlan, surface};
use nalgebra::Point3;

use super::Subject;
use super::axis::{self, Frame, SMALL};
use super::colour::{INK, PAPER, PRESSURE, SOFT};
use super::contour::Grid;
use super::font::{self, Face};
use super::layout::{broken, crosses};
use super::section;
use super::style::Size;
use super::svg::{Anchor, At, Label, Paint, Path, Svg};
use super::unroll::{Sheet, Surface};

/// Steps of colour on each side of zero.
const STEPS: i32 = 8;
/// From a line of a name to the next.
const NAME_LINE: f64 = 20.0;
/// Columns of the unrolled grid.
const COLUMNS: usize = 181;
/// The four flat triangles of a curved one on its own six nodes.
const QUARTERS: [[usize; 3]; 4] = [[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]];

/// Draws the unrolled surface.
pub(crate) fn draw(subject: &Subject<'_>) -> Svg {
    let style = subject.style;
    let name = subject.tooth_title();
    let title = style.tell("{}: pressure around the root", &[&name]);
    let size = style.sheet([1200.0, 900.0], 620.0);
    let sheets = sheets(subject);
    let mut svg = Svg::new(style, size, &title, &describe(subject));
    let lines = [section::title(subject, &name), legend(subject, &sheets)];
    let lines: Vec<String> = lines.into_iter().chain(subject.beyond()).collect();
    let lower = axis::heading(&mut svg, &title, &lines);
    let [left, top, right, bottom] = match style.size {
        Size::Page => [112.0, 142.0, 40.0, 130.0],
        Size::Slide => [112.0, 138.0, 40.0, 122.0],
        Size::Column => [70.0, 34.0, 12.0, 124.0],
    };
    let top = top + lower;
    let extremes = subject.ligament.root_extremes;
    let end = section::round_up(extremes.compression.kpa.abs().max(extremes.tension.kpa.abs()));
    let [width, height] = [size[0] - left - right, size[1] - top - bottom];
    let deepest = sheets.iter().map(|s| s.depths[1]).fold(0.1, f64::max);
    let between = if style.size == Size::Column { 14.0 } else { 34.0 };
    let names: Vec<Vec<String>> = sheets
        .iter()
        .enumerate()
        .map(|(k, sheet)| {
            let name = match k {
                _ if sheets.len() == 1 => return Vec::new(),
                0 => style.say("above the furcation"),
                _ => style.say(&root_name(subject, sheet)),
            };
            let count = if k == 0 { 1.0 } else { sheets.len() as f64 - 1.0 };
            broken(&name, Face::Semibold, SMALL, (width - between * (count - 1.0)) / count)
        })
        .collect();
    // Between the trunk and the roots their names need room.
    let lines = names.iter().map(Vec::len).max().unwrap_or(0);
    let gap = if lines > 0 { 34.0 + NAME_LINE * lines as f64 } else { 0.0 };
    let scale = (height - gap) / deepest;
    let frames: Vec<Frame> = (0..sheets.len())
        .map(|k| {
            let (count, at) = if k == 0 { (1.0, 0.0) } else { (sheets.len() as f64 - 1.0, k as f64 - 1.0) };
            let share = (width - between * (count - 1.0)) / count;
            let [from, to] = sheets[k].depths;
            Frame {
                corner: [left + at * (share + between), top + scale * from + if k == 0 { 0.0 } else { gap }],
                size: [share, scale * (to - from)],
                x: [-180.0, 180.0],
                y: [-to, -from],
            }
        })
        .collect();
    let mut zero = Vec::new();
    for (k, (sheet, frame)) in sheets.iter().zip(&frames).enumerate() {
        zero.extend(panel(&mut svg, sheet, frame, end));
        around(&mut svg, subject, frame, &names[k]);
        if k < 2 {
            depths(&mut svg, frame);
        }
    }
    for (sheet, frame) in sheets.iter().zip(&frames) {
        marks(&mut svg, sheet, frame, &zero);
    }
    let middle = top + 0.5 * height;
    let out = (left - 16.0).min(62.0);
    axis::axis_name(&mut svg, &[style.say("mm below the crest")], [left - out, middle], -90.0, height);
    section::pressure_bar(&mut svg, end);
    svg
}

fn describe(subject: &Subject<'_>) -> String {
    let extremes = subject.ligament.root_extremes;
    let style = subject.style;
    style.tell(
        "Pressure of the ligament over the surface of the root, unrolled. Largest compression {} kPa, {} mm below the crest; \
         largest tension {} kPa, {} mm below the crest.",
        &[
            &style.fixed(extremes.compression.kpa.max(0.0), 1),
            &style.fixed(-extremes.compression.at.z, 1),
            &style.fixed((-extremes.tension.kpa).max(0.0), 1),
            &style.fixed(-extremes.tension.at.z, 1),
        ],
    )
}

fn legend(subject: &Subject<'_>, sheets: &[Sheet]) -> String {
    subject.style.say(if sheets.len() > 1 {
        "Surface of the root unrolled around its centre line, below the furcation each root around its own; line: no pressure"
    } else {
        "Surface of the root unrolled around its centre line; line: no pressure"
    })
}

/// The pieces of the root.
fn sheets(subject: &Subject<'_>) -> Vec<Sheet> {
    let points: Vec<Point3<f64>> =
        subject.root_nodes.iter().map(|&n| subject.mesh.nodes()[n as usize]).collect();
    let number =
        |n: u32| subject.root_nodes.binary_search(&n).expect("the root's nodes are those of its faces");
    let triangles: Vec<[usize; 3]> = subject
        .mesh
        .surface(surface::ROOT)
        .iter()
        .flat_map(|face| QUARTERS.map(|part| part.map(|k| number(face[k]))))
        .collect();
    let roots = match subject.case.specimen.tooth.root.plan {
        RootPlan::Single => 1,
        RootPlan::BuccalLingual | RootPlan::MesialDistal => 2,
        RootPlan::Three => 3,
    };
    let values = &subject.ligament.root_pressure_kpa;
    Surface { points: &points, values, triangles: &triangles }.unrolled(roots, COLUMNS, 12.0)
}

/// Name of a root by where it lies.
fn root_name(subject: &Subject<'_>, sheet: &Sheet) -> String {
    let at = sheet.middle;
    match subject.case.specimen.tooth.root.plan {
        RootPlan::MesialDistal => if at.y > 0.0 { "mesial root" } else { "distal root" }.to_owned(),
        RootPlan::Three if at.x > 0.0 => {
            if at.y > 0.0 { "mesio-buccal root" } else { "disto-buccal root" }.to_owned()
        }
        _ if at.x > 0.0 => format!("{} root", subject.case.words().outward),
        _ => format!("{} root", subject.case.words().inward),
    }
}

/// Colours of one piece in steps, with a line at zero; gives the points of that line.
fn panel(svg: &mut Svg, sheet: &Sheet, frame: &Frame, end: f64) -> Vec<At> {
    let [columns, rows] = sheet.size;
    let along = |corner: f64, size: f64, count: usize| -> Vec<f64> {
        (0..count).map(|i| corner + size * i as f64 / (count - 1) as f64).collect()
    };
    let grid = Grid::new(
        along(frame.corner[0], frame.size[0], columns),
        along(frame.corner[1], frame.size[1], rows),
        |i, j| sheet.values[j * columns + i],
    );
    svg.clipped(frame.corner, frame.size, |svg| {
        let step = |k: i32| f64::from(k) / f64::from(STEPS);
        svg.rectangle(frame.corner, frame.size, Paint::fill(PRESSURE.at(-1.0)));
        for k in 1 - STEPS..STEPS {
            let mut path = Path::default();
            for ring in grid.above(end * step(k)) {
                path = path.closed(&ring);
            }
            svg.path(&path, Paint::fill(PRESSURE.at(step(k) + 0.5 / f64::from(STEPS))));
        }
        for line in grid.lines(0.0) {
            svg.polyline(&line, Paint::line(INK, 1.6));
        }
    });
    frame.outline(svg);
    grid.lines(0.0).into_iter().flatten().collect()
}

/// Directions around a piece, below it, and its name above.
fn around(svg: &mut Svg, subject: &Subject<'_>, frame: &Frame, name: &[String]) {
    let words = subject.words();
    let style = subject.style;
    let floor = frame.corner[1] + frame.size[1];
    let [mesial, distal] = ["mesial", "distal"].map(|word| style.say(word));
    let marks = [
        (-180.0, words.inward.clone(), Anchor::Start),
        (-90.0, distal, Anchor::Middle),
        (0.0, words.outward, Anchor::Middle),
        (90.0, mesial, Anchor::Middle),
        (180.0, words.inward, Anchor::End),
    ];
    let room: f64 = marks.iter().map(|m| font::width(&m.1, Face::Regular, SMALL) + 10.0).sum();
    for (angle, word, anchor) in marks {
        let x = frame.at(angle, frame.y[0])[0];
        svg.polyline(&[[x, floor], [x, floor + 6.0]], Paint::line(SOFT, 1.2));
        // In a narrow piece only the middle is named.
        if room > frame.size[0] && angle != 0.0 {
            continue;
        }
        svg.label_first_clear([Label::new(word, [x, floor + 19.0], SMALL).anchor(anchor).colour(SOFT)]);
    }
    for (k, line) in name.iter().rev().enumerate() {
        let at = [frame.corner[0] + 0.5 * frame.size[0], frame.corner[1] - 13.0 - NAME_LINE * k as f64];
        svg.label_first_clear([Label::new(line, at, SMALL).face(Face::Semibold).anchor(Anchor::Middle)]);
    }
}

/// Ticks of depth at the left.
fn depths(svg: &mut Svg, frame: &Frame) {
    for tick in axis::ticks(frame.y, frame.size[1] / 45.0) {
        let at = frame.at(frame.x[0], tick);
        let text = svg.style().number(tick.abs());
        let label = Label::new(text, [at[0] - 12.0, at[1]], SMALL).anchor(Anchor::End).colour(SOFT);
        if svg.is_clear(&label) {
            svg.polyline(&[[at[0] - 6.0, at[1]], at], Paint::line(SOFT, 1.2));
            svg.label(label);
        }
    }
}

/// Values where compression and tension are largest in a piece, beside the line of no pressure if there is a place.
fn marks(svg: &mut Svg, sheet: &Sheet, frame: &Frame, zero: &[At]) {
    let style = svg.style();
    let [columns, rows] = sheet.size;
    let ([x0, y0], [width, height]) = (frame.corner, frame.size);
    for sign in [1.0, -1.0] {
        let best = (0..sheet.values.len())
            .max_by(|&a, &b| (sign * sheet.values[a]).total_cmp(&(sign * sheet.values[b])));
        let Some(best) = best.filter(|&k| sign * sheet.values[k] > 0.0) else { continue };
        let at = [
            x0 + width * (best % columns) as f64 / (columns - 1) as f64,
            y0 + height * (best / columns) as f64 / (rows - 1) as f64,
        ];
        let text = style.tell("{} kPa", &[&style.fixed(sheet.values[best], 0)]);
        let half = 0.5 * font::width(&text, Face::Semibold, SMALL) + 2.5;
        let x = at[0].clamp(x0 + half, (x0 + width - half).max(x0 + half));
        svg.circle(at, 3.5, Paint::fill(INK).edge(PAPER, 1.2));
        let beside = half + 8.0;
        let fits = |p: &At| {
            p[0] >= x0 + half && p[0] <= x0 + width - half && p[1] > y0 + 9.0 && p[1] < y0 + height - 9.0
        };
        let mut places = vec![[x, at[1] + 16.0], [x, at[1] - 16.0]];
        places.extend([beside, -beside].map(|dx| [at[0] + dx, at[1]]));
        places.retain(fits);
        let label = |place: At| {
            Label::new(text.clone(), place, SMALL).face(Face::Semibold).anchor(Anchor::Middle).halo(PAPER)
        };
        let places: Vec<Label> = places.into_iter().map(label).collect();
        let apart = places.iter().filter(|label| !crosses(label, zero)).cloned().collect::<Vec<_>>();
        svg.label_first_clear(apart.into_iter().chain(places));
    }
}
