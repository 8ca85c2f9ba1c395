//! The section: tooth, ligament and bone along the axes of crown and roots, seen along the arch, at rest and moved, with the
//! ligament's pressure by colour, the load, both centres and the crest.

mod notes;
pub(super) mod parts;

use gomphosis_mesh_gen::surface;
use nalgebra::Vector3;

use super::axis::{self, NAME, SMALL};
use super::colour::{FAINT, INK, LOAD, MOVED, PAPER, PRESSURE, RESISTANCE, SOFT};
use super::enlarge::{Enlargement, Shown};
use super::slice::Section;
use super::slice::surface::{Place, Root, Surface};
use super::style::{Size, Style};
use super::svg::{Anchor, At, Label, Paint, Svg};
use super::{Subject, silhouette};
use notes::Notes;

/// Width and height of the sheet.
fn sheet(style: Style) -> At {
    style.sheet([1200.0, 1150.0], 670.0)
}

/// The area of the picture proper (left, top, width, height); notes stand left and right of it.
fn field(style: Style) -> [f64; 4] {
    match style.size {
        Size::Page => [290.0, 160.0, 620.0, 848.0],
        Size::Slide => [290.0, 154.0, 487.0, 328.0],
        Size::Column => [166.0, 26.0, 228.0, 510.0],
    }
}

/// Largest shift in the picture over the tooth's height.
const SHOWN_SHARE: f64 = 0.07;
/// Mean thickness at which the ligament is drawn, mm.
const SHOWN_LIGAMENT_MM: f64 = 0.75;

/// Everything that is drawn, in the coordinates of the tooth.
pub(crate) struct Scene<'a> {
    subject: &'a Subject<'a>,
    section: Section,
    /// Outlines of the tooth seen along the arch, at rest and moved.
    rest: Vec<Vec<At>>,
    moved: Vec<Vec<At>>,
    enlargement: Enlargement,
    /// The roots that are cut.
    roots: Vec<Root>,
    ligament_factor: f64,
    /// kPa at the end of the colours.
    pressure_end: f64,
    view: View,
    field: [f64; 4],
}

/// From the tooth's millimetres to the sheet.
#[derive(Debug, Clone, Copy)]
struct View {
    scale: f64,
    origin: At,
    low: At,
    high: At,
}

impl View {
    fn at(&self, [x, z]: At) -> At {
        [self.origin[0] + self.scale * x, self.origin[1] - self.scale * z]
    }
}

/// Draws the section.
pub(crate) fn draw(subject: &Subject<'_>) -> Svg {
    let scene = Scene::new(subject);
    let style = subject.style;
    let name = subject.tooth_title();
    let mut svg = Svg::new(
        style,
        sheet(style),
        &style.tell("{} in its socket, at rest and moved", &[&name]),
        &style.tell(
            "Section through the tooth, its ligament and the bone. The centre of resistance lies {} mm below the crest.",
            &[&style.fixed(subject.resistance.centre_depth_mm(), 1)],
        ),
    );
    axis::heading(&mut svg, &title(subject, &name), &subtitle(subject, &scene));
    let mut notes = Notes::new(scene.field);
    parts::bodies(&mut svg, &scene, &mut notes);
    parts::ligament(&mut svg, &scene, &mut notes);
    parts::moved_tooth(&mut svg, &scene, &mut notes);
    parts::roots(&scene, &mut notes);
    parts::crest(&mut svg, &scene, &mut notes);
    parts::load(&mut svg, &scene, &mut notes);
    parts::centres(&mut svg, &scene, &mut notes);
    parts::directions(&mut svg, &scene);
    notes.write(&mut svg);
    pressure_bar(&mut svg, scene.pressure_end);
    svg
}

pub(super) fn title(subject: &Subject<'_>, name: &str) -> String {
    let (load, words, style) = (subject.case.load, subject.words(), subject.style);
    let force = style.number(load.force_n.abs());
    let towards = if load.force_n < 0.0 { &words.inward } else { &words.outward };
    if load.torque_nmm == 0.0 {
        return style.tell("{} pushed with {} N to {}", &[name, &force, towards]);
    }
    let sense = if load.torque_nmm > 0.0 { &words.outward } else { &words.inward };
    let torque = style.number(load.torque_nmm.abs());
    style.tell(
        "{} pushed with {} N to {} and {} N\u{b7}mm of {} root torque",
        &[name, &force, towards, &torque, sense],
    )
}

fn subtitle(subject: &Subject<'_>, scene: &Scene<'_>) -> Vec<String> {
    let style = subject.style;
    let plane = crate::case::sentence_case(&subject.words().plane);
    let names: Vec<String> = scene.roots.iter().filter_map(|root| root_name(subject, root)).collect();
    let section = match names.as_slice() {
        [] => style.tell("{} section that follows the axis of the root", &[&plane]),
        [one] => style.tell("{} section that follows the axis of the {}", &[&plane, one]),
        [first, .., last] => {
            style.tell("{} section that follows the axes of the {} and the {}", &[&plane, last, first])
        }
    };
    let widened = style.tell("ligament widened {} times", &[&style.number(scene.ligament_factor)]);
    let drawn = format!("{}; {widened}", scene.enlargement.in_full(subject));
    let lines = [section, drawn, subject.model_line()];
    lines.iter().map(|line| crate::case::sentence_case(line)).chain(subject.beyond()).collect()
}

/// What a root is called; a single one needs no name.
fn root_name(subject: &Subject<'_>, root: &Root) -> Option<String> {
    let words = subject.case.words();
    let name = match root.place {
        Place::Only => return None,
        Place::Outward => format!("{} root", words.outward),
        Place::Inward => format!("{} root", words.inward),
        Place::Mesial => "mesial root".to_owned(),
        Place::MesialOutward => "mesio-buccal root".to_owned(),
    };
    Some(subject.style.say(&name))
}

impl<'a> Scene<'a> {
    fn new(subject: &'a Subject<'a>) -> Self {
        let pressure = |n: u32| {
            let k = subject.root_nodes.binary_search(&n).ok()?;
            subject.ligament.root_pressure_kpa.get(k).copied()
        };
        let surface = along_roots(subject.case);
        let section = Section::new(subject.mesh, &surface, &pressure);
        let surfaces = [surface::ROOT, surface::CROWN, surface::ATTACHMENT];
        let rest = silhouette::outline(subject.mesh, &surfaces, &|_| Vector3::zeros());
        let enlargement = enlargement(subject);
        let moved_to = subject.motion.carried_on(enlargement.factor);
        let moved = silhouette::outline(subject.mesh, &surfaces, &|n| {
            let p = subject.mesh.nodes()[n as usize];
            moved_to * p - p
        });
        let ligament_factor = widened(subject.case);
        let extremes = subject.ligament.root_extremes;
        let pressure_end = round_up(extremes.compression.kpa.abs().max(extremes.tension.kpa.abs()));
        let field = field(subject.style);
        let view = view_of(&rest, &moved, field);
        let roots = surface.roots().to_vec();
        Self { subject, section, rest, moved, enlargement, roots, ligament_factor, pressure_end, view, field }
    }
}

/// The surface that sections of a case follow.
pub(crate) fn along_roots(case: &crate::case::Case) -> Surface {
    Surface::along_roots(&case.specimen).expect("a case that was meshed has roots")
}

/// How far the movement under the case's load is enlarged.
fn enlargement(subject: &Subject<'_>) -> Enlargement {
    if let Shown::As(enlargement) = subject.shown {
        return enlargement;
    }
    let places = [surface::ROOT, surface::CROWN, surface::ATTACHMENT];
    let largest = places
        .iter()
        .flat_map(|name| subject.mesh.surface(name))
        .flatten()
        .map(|&n| subject.motion.displacement_at(&subject.mesh.nodes()[n as usize]))
        .map(|u| u.x.hypot(u.z))
        .fold(0.0, f64::max);
    Enlargement::of_share(SHOWN_SHARE, largest, subject.tooth_height_mm())
}

/// How many times thicker than it is the ligament of a case is drawn.
pub(crate) fn widened(case: &crate::case::Case) -> f64 {
    (SHOWN_LIGAMENT_MM / case.specimen.ligament.thickness_mm).round().max(1.0)
}

/// The next of 1, 1.5, 2, 3, 4, 5, 6, 8 times a power of ten.
pub(super) fn round_up(value: f64) -> f64 {
    if !(value > 0.0 && value.is_finite()) {
        return 1.0;
    }
    let power = 10_f64.powf(value.log10().floor());
    [1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0]
        .into_iter()
        .map(|s| s * power)
        .find(|v| *v >= value * 0.999_999)
        .unwrap_or(value)
}

/// Scale and place that show the whole tooth with some bone around it.
fn view_of(rest: &[Vec<At>], moved: &[Vec<At>], field: [f64; 4]) -> View {
    let mut low = [f64::MAX; 2];
    let mut high = [f64::MIN; 2];
    for p in rest.iter().chain(moved).flatten() {
        for k in 0..2 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    if low[0] > high[0] {
        (low, high) = ([-5.0, -15.0], [5.0, 10.0]);
    }
    // Room for the bone, the arrows and the names of the directions.
    let (low, high) = ([low[0] - 3.4, low[1] - 2.6], [high[0] + 3.4, high[1] + 1.6]);
    let scale = (field[2] / (high[0] - low[0])).min(field[3] / (high[1] - low[1]));
    let centre = [0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])];
    let middle = [field[0] + 0.5 * field[2], field[1] + 0.5 * field[3]];
    View { scale, origin: [middle[0] - scale * centre[0], middle[1] + scale * centre[1]], low, high }
}

/// Colours of the ligament's pressure, along the bottom of a sheet.
pub(super) fn pressure_bar(svg: &mut Svg, end: f64) {
    let style = svg.style();
    let (width, height) = (if style.size == Size::Column { 250.0 } else { 420.0 }, 18.0);
    let (left, top) = (0.5 * svg.width() - 0.5 * width, svg.height() - 60.0);
    let steps = 60;
    for k in 0..steps {
        let share = |k: i32| f64::from(k) / f64::from(steps);
        svg.rectangle(
            [left + width * share(k), top],
            [width / f64::from(steps) + 0.4, height],
            Paint::fill(PRESSURE.at(2.0 * share(k) - 1.0 + 1.0 / f64::from(steps))),
        );
    }
    svg.rectangle([left, top], [width, height], Paint::line(FAINT, 1.0));
    for tick in axis::ticks([-end, end], 5.0) {
        let x = left + width * (tick + end) / (2.0 * end);
        svg.polyline(&[[x, top + height], [x, top + height + 6.0]], Paint::line(SOFT, 1.2));
        svg.label(
            Label::new(style.number(tick), [x, top + height + 19.0], SMALL)
                .anchor(Anchor::Middle)
                .colour(SOFT),
        );
    }
    let y = top + 0.5 * height;
    let [tension, compression] = ["tension", "compression"].map(|word| style.say(word));
    svg.label(Label::new(tension, [left - 14.0, y], SMALL).anchor(Anchor::End).colour(PRESSURE.at(-1.0)));
    svg.label(Label::new(compression, [left + width + 14.0, y], SMALL).colour(PRESSURE.at(1.0)));
    let name = style.say("Hydrostatic pressure in the ligament  (kPa)");
    svg.label(Label::new(name, [0.5 * svg.width(), top - 18.0], NAME).anchor(Anchor::Middle));
}
