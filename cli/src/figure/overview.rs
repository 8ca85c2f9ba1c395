//! The sixteen teeth side by side, as they stand in the jaws, each pushed to the cheek or lip at the place of its
//! attachment without torque: where it resists, where it turns, and how many degrees it tips for each millimetre.

use gomphosis_mesh_gen::{ToothKind, surface};
use gomphosis_solver::PlanarLoad;
use nalgebra::Vector3;

use super::axis::{self, SMALL};
use super::colour::{INK, LOAD, MOVED, PAPER, RESISTANCE, SOFT, TOOTH, TOOTH_EDGE};
use super::font::Face;
use super::style::{Size, Style};
use super::svg::{Anchor, At, Label, Paint, Path, Svg};
use super::{Subject, silhouette};

/// A tooth of the overview.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    kind: ToothKind,
    /// Outlines seen along the arch, mm.
    rings: Vec<Vec<At>>,
    attachment: At,
    resistance_depth: f64,
    rotation_depth: Option<f64>,
    tip_deg_per_mm: f64,
    /// Of the bony root, percent.
    resistance_percent: f64,
}

impl Entry {
    /// What the overview shows of a computed tooth.
    pub(crate) fn new(kind: ToothKind, subject: &Subject<'_>) -> Self {
        let surfaces = [surface::ROOT, surface::CROWN, surface::ATTACHMENT];
        let height_mm = subject.height_mm();
        let motion = subject.resistance.motion(&PlanarLoad { height_mm, force_n: 1.0, torque_nmm: 0.0 });
        Self {
            kind,
            rings: silhouette::outline(subject.mesh, &surfaces, &|_| Vector3::zeros()),
            attachment: [subject.landmarks.attachment.x, subject.landmarks.attachment.z],
            resistance_depth: subject.resistance.centre_depth_mm(),
            rotation_depth: motion.centre_of_rotation_depth_mm(),
            tip_deg_per_mm: motion.tip_deg_per_mm(height_mm),
            resistance_percent: 100.0 * subject.resistance.centre_depth_mm() / subject.apex_depth_mm,
        }
    }

    /// Upper and lower end, mm above the crest.
    fn ends(&self) -> [f64; 2] {
        let z = self.rings.iter().flatten().map(|p| p[1]);
        z.fold([f64::MIN, f64::MAX], |[high, low], z| [high.max(z), low.min(z)])
    }
}

/// Margins of the sheet: left, top, right, bottom.
fn margins(style: Style) -> [f64; 4] {
    match style.size {
        Size::Page => [40.0, 112.0, 40.0, 70.0],
        Size::Slide => [40.0, 100.0, 40.0, 60.0],
        Size::Column => [8.0, 10.0, 8.0, 122.0],
    }
}

/// Draws the overview.
pub(crate) fn draw(style: Style, entries: &[Entry], model: &str) -> Svg {
    let title = style
        .say("The sixteen teeth under a plain push: where each resists, where it turns, how much it tips");
    let size = style.sheet([1200.0, 800.0], 560.0);
    let mut svg = Svg::new(style, size, &title, &description(style, entries));
    let lower = axis::heading(&mut svg, &title, &[crate::case::sentence_case(model)]);
    let [left, top, right, bottom] = margins(style);
    let top = top + lower;
    let room = [size[0] - left - right, size[1] - top - bottom];
    let columns = 8.0;
    // Three lines of text stand beside the crowns of each row.
    let text = 3.0 * 19.0 + 10.0;
    let longest = |upper: bool| {
        let own = entries.iter().filter(|e| e.kind.is_upper() == upper);
        own.map(Entry::ends).map(|[high, low]| high - low).fold(1.0, f64::max)
    };
    let widest =
        entries.iter().flat_map(|e| e.rings.iter().flatten()).fold(4.0_f64, |w, p| w.max(p[0].abs()));
    let scale = ((room[1] - 2.0 * text - 24.0) / (longest(true) + longest(false)))
        .min(room[0] / columns / (2.0 * widest + 2.6));
    let mut named = false;
    for entry in entries {
        let column = f64::from(entry.kind.position() - 1);
        let x = left + room[0] * (column + 0.5) / columns;
        // Crowns meet in the middle: upper teeth hang with their roots above.
        let middle = top + text + 12.0 + scale * longest(true);
        let sense = if entry.kind.is_upper() { 1.0 } else { -1.0 };
        let crown = if entry.kind.is_upper() { middle - 12.0 } else { middle + 12.0 };
        let high = entry.ends()[0];
        let at = |[dx, z]: At| [x + scale * dx, crown - sense * scale * (high - z)];
        tooth(&mut svg, entry, &at);
        let tail = scale * longest(entry.kind.is_upper());
        let first = if entry.kind.is_upper() { crown - tail - text + 14.0 } else { crown + tail + 18.0 };
        words(&mut svg, entry, [x, first]);
        named |= entry.kind.position() == 1;
    }
    if named {
        key(&mut svg, bottom);
    }
    svg
}

fn description(style: Style, entries: &[Entry]) -> String {
    let list: Vec<String> = entries
        .iter()
        .map(|e| format!("{} {}", style.say(&e.kind.name()), style.fixed(e.tip_deg_per_mm, 1)))
        .collect();
    style.tell("Tip for each millimetre at the attachment, degrees: {}.", &[&list.join("; ")])
}

fn tooth(svg: &mut Svg, entry: &Entry, at: &dyn Fn(At) -> At) {
    let path = entry
        .rings
        .iter()
        .fold(Path::default(), |path, ring| path.closed(&ring.iter().map(|&p| at(p)).collect::<Vec<_>>()));
    svg.path(&path, Paint::fill(TOOTH).edge(TOOTH_EDGE, 1.2));
    let widest = entry.rings.iter().flatten().fold(1.0_f64, |w, p| w.max(p[0].abs())) + 0.8;
    svg.polyline(&[at([-widest, 0.0]), at([widest, 0.0])], Paint::line(INK, 1.0).dashed("5 3"));
    let [x, z] = entry.attachment;
    let (from, to) = (at([x, z]), at([x, z]));
    svg.arrow([from[0] - 20.0, from[1]], to, LOAD, 2.6);
    // Both centres lie close together: small marks where the teeth are small.
    let radius = if svg.style().size == Size::Page { 5.5 } else { 4.4 };
    let centre = at([0.0, -entry.resistance_depth]);
    svg.circle(centre, radius, Paint::fill(PAPER).edge(RESISTANCE, 1.8));
    svg.circle(centre, 1.4, Paint::fill(RESISTANCE));
    if let Some(depth) = entry.rotation_depth {
        let centre = at([0.0, -depth]);
        let arm = 0.55 * radius;
        svg.circle(centre, radius, Paint::fill(PAPER).edge(MOVED, 1.8));
        svg.polyline(&[[centre[0] - arm, centre[1]], [centre[0] + arm, centre[1]]], Paint::line(MOVED, 1.4));
        svg.polyline(&[[centre[0], centre[1] - arm], [centre[0], centre[1] + arm]], Paint::line(MOVED, 1.4));
    }
}

/// Number of the tooth, tip for each millimetre, place of the centre of resistance.
fn words(svg: &mut Svg, entry: &Entry, [x, y]: At) {
    let style = svg.style();
    let iso = if entry.kind.is_upper() { 10 } else { 40 } + entry.kind.position();
    // In a column there is no room for the unit; the key has it.
    let unit = if style.size == Size::Column { "{}\u{b0}" } else { "{} \u{b0}/mm" };
    let lines = [
        (iso.to_string(), Face::Semibold, INK),
        (style.tell(unit, &[&style.fixed(entry.tip_deg_per_mm, 1)]), Face::Semibold, MOVED),
        (style.tell("{}%", &[&style.fixed(entry.resistance_percent, 0)]), Face::Regular, RESISTANCE),
    ];
    for (k, (text, face, colour)) in lines.into_iter().enumerate() {
        let at = [x, y + 19.0 * k as f64];
        svg.label(Label::new(text, at, SMALL).face(face).colour(colour).anchor(Anchor::Middle));
    }
}

/// What marks and numbers mean, along the bottom.
fn key(svg: &mut Svg, bottom: f64) {
    let style = svg.style();
    let narrow = style.size == Size::Column;
    let items = [
        ("ISO 3950 number", INK),
        ("tip in \u{b0}/mm at the attachment; centre of rotation", MOVED),
        ("depth of the centre of resistance in the bony root", RESISTANCE),
        ("push to cheek or lip", LOAD),
        ("dashed line: alveolar crest", INK),
    ];
    let top = svg.height() - bottom;
    let mut at = [if narrow { 12.0 } else { 40.0 }, top + if narrow { 16.0 } else { 26.0 }];
    for (text, colour) in items {
        let label = Label::new(style.say(text), at, SMALL).colour(if colour == INK { SOFT } else { colour });
        let width = label.width();
        if at[0] + width > svg.width() - 8.0 {
            at = [if narrow { 12.0 } else { 40.0 }, at[1] + 21.0];
        }
        svg.label(Label::new(style.say(text), at, SMALL).colour(if colour == INK { SOFT } else { colour }));
        at[0] += width + 28.0;
    }
}
