//! The movement as torque grows, as an animated drawing: the curve of the centre of rotation with a mark that runs along it,
//! and beside it the tooth that moves about the same centre. Its first frame, which is what pixels and pages of paper show,
//! is the push without torque.

use std::fmt::Write;

use gomphosis_mesh_gen::surface;
use gomphosis_solver::RigidMotion;
use nalgebra::{Point3, Vector3};

use super::axis::{Frame, Heading};
use super::colour::{MOVED, PAPER, SOFT};
use super::curve::{self, Layout};
use super::enlarge::{Enlargement, Shown};
use super::svg::{At, Paint, Path, Svg};
use super::{Subject, plane_motion, silhouette};

/// Seconds from no torque to the end of the scale, and of rest at the end.
const SECONDS: [f64; 2] = [12.0, 1.5];
/// Frames a second of what does not move evenly.
const FRAMES: f64 = 20.0;
/// Places of the tooth along its way, between which it moves evenly.
const PLACES: usize = 60;
/// Largest shift in the whole run over the tooth's height.
const SHOWN_SHARE: f64 = 0.1;

/// Draws the animation.
pub(crate) fn draw(subject: &Subject<'_>) -> Svg {
    let style = subject.style;
    let name = subject.tooth_title();
    let title = style.tell("{}: the movement as torque grows", &[&name]);
    let enlargement = enlargement(subject);
    let line = style.tell(
        "Push {} mm above the crest; {}",
        &[&style.fixed(subject.height_mm(), 2), &enlargement.in_full(subject)],
    );
    let lines: Vec<String> = [line].into_iter().chain(subject.beyond()).collect();
    let layout = Layout::new(subject, |width| Heading::new(style, width, &title, &lines));
    let mut svg = curve::sheet(subject, &layout, &title);
    curve::plot(&mut svg, subject, &layout, false);
    let frame = &layout.frame;
    svg.clipped([0.0, frame.corner[1]], [svg.width(), frame.size[1]], |svg| {
        tooth(svg, subject, &layout, enlargement.factor);
        centre(svg, subject, &layout);
    });
    svg
}

/// Ratio at a share of the time that the torque grows.
fn ratio(frame: &Frame, share: f64) -> f64 {
    frame.x[0] + share.min(1.0) * (frame.x[1] - frame.x[0])
}

/// How far the movement is enlarged.
fn enlargement(subject: &Subject<'_>) -> Enlargement {
    if let Shown::As(enlargement) = subject.shown {
        return enlargement;
    }
    let ends = [subject.cusp_height_mm, -subject.apex_depth_mm];
    let largest = ratios(subject)
        .into_iter()
        .flat_map(|m| ends.map(|z| plane_motion(&subject.resistance, subject.height_mm(), m).travel_mm(z)))
        .fold(0.0, |a: f64, b| a.max(b.abs()));
    // The motion belongs to one newton; the case's own push is enlarged as much.
    let largest = largest * subject.case.load.force_n.abs();
    Enlargement::of_share(SHOWN_SHARE, largest, subject.tooth_height_mm())
}

/// Ratios of torque to push between which the movement runs.
pub(crate) fn ratios(subject: &Subject<'_>) -> [f64; 2] {
    [0.0, curve::axis_end(subject)]
}

/// Where the tooth stands: shift of its centre of resistance on the sheet, and its turn about it with the clock, degrees.
#[derive(Debug, Clone, Copy)]
struct Pose {
    shift: At,
    turn_deg: f64,
}

/// Where the tooth stands at a share of the time that the torque grows.
fn pose(subject: &Subject<'_>, layout: &Layout, factor: f64, share: f64) -> Pose {
    let motion = plane_motion(&subject.resistance, subject.height_mm(), ratio(&layout.frame, share));
    let centre = Point3::new(0.0, 0.0, -subject.resistance.centre_depth_mm());
    let small = RigidMotion {
        point: centre,
        translation: Vector3::x() * motion.travel_mm(centre.z),
        rotation: Vector3::y() * motion.tip_rad,
    };
    let force = subject.case.load.force_n * factor;
    let shift = small.carried_on(force) * centre - centre;
    let scale = layout.frame.scale()[1];
    Pose { shift: [scale * shift.x, -scale * shift.z], turn_deg: (force * motion.tip_rad).to_degrees() }
}

/// Attributes of a run from no torque to the end, repeated.
fn clock(values: &str, even: bool) -> String {
    let whole = SECONDS[0] + SECONDS[1];
    let mode = if even { "linear" } else { "discrete" };
    format!("values=\"{values}\" dur=\"{whole}s\" calcMode=\"{mode}\" repeatCount=\"indefinite\"")
}

/// The outline of the moved tooth: it is carried by its centre of resistance and turns about it, so that it keeps its shape.
fn tooth(svg: &mut Svg, subject: &Subject<'_>, layout: &Layout, factor: f64) {
    let surfaces = [surface::ROOT, surface::CROWN, surface::ATTACHMENT];
    let rings = silhouette::outline(subject.mesh, &surfaces, &|_| Vector3::zeros());
    let centre = layout.place([0.0, -subject.resistance.centre_depth_mm()]);
    let path = rings.iter().fold(Path::default(), |path, ring| {
        let places = ring.iter().step_by(3).map(|&p| layout.place(p));
        path.closed(&places.map(|p| [p[0] - centre[0], p[1] - centre[1]]).collect::<Vec<_>>())
    });
    let poses: Vec<Pose> =
        (0..=PLACES).map(|k| pose(subject, layout, factor, k as f64 / PLACES as f64)).collect();
    let run = SECONDS[0] / (SECONDS[0] + SECONDS[1]);
    let times: Vec<String> = (0..=PLACES)
        .map(|k| format!("{:.4}", run * k as f64 / PLACES as f64))
        .chain(["1".to_owned()])
        .collect();
    let animate = |kind: &str, text: &dyn Fn(&Pose) -> String| {
        // At the end it rests.
        let values: Vec<String> = poses.iter().chain(poses.last()).map(text).collect();
        let clock = clock(&values.join(";"), true);
        format!(
            "<animateTransform attributeName=\"transform\" type=\"{kind}\" {clock} keyTimes=\"{}\"/>",
            times.join(";")
        )
    };
    let at = |pose: &Pose| [centre[0] + pose.shift[0], centre[1] + pose.shift[1]];
    let shift = animate("translate", &|pose| format!("{:.2} {:.2}", at(pose)[0], at(pose)[1]));
    let turn = animate("rotate", &|pose| format!("{:.3}", pose.turn_deg));
    svg.moving(at(&poses[0]), &shift, |svg| {
        svg.turning(poses[0].turn_deg, &turn, |svg| svg.path(&path, Paint::line(MOVED, 2.6)));
    });
}

/// The centre of rotation on the tooth and on the curve, joined by a level line. Far away it is out of the frame.
fn centre(svg: &mut Svg, subject: &Subject<'_>, layout: &Layout) {
    let frame = &layout.frame;
    let count = (FRAMES * (SECONDS[0] + SECONDS[1])) as usize;
    let spot = |k: usize| -> At {
        let ratio = ratio(frame, k as f64 / (FRAMES * SECONDS[0]));
        let depth =
            plane_motion(&subject.resistance, subject.height_mm(), ratio).centre_of_rotation_depth_mm();
        let depth = depth.unwrap_or(f64::INFINITY).clamp(-500.0, 500.0);
        frame.at(ratio, -depth)
    };
    let spots: Vec<At> = (0..count).map(spot).collect();
    let list = |text: &dyn Fn(&At) -> String| {
        spots.iter().enumerate().fold(String::new(), |mut all, (k, at)| {
            let _ = write!(all, "{}{}", if k == 0 { "" } else { ";" }, text(at));
            all
        })
    };
    let move_to = |values: &str| {
        format!("<animateTransform attributeName=\"transform\" type=\"translate\" {}/>", clock(values, false))
    };
    let level = move_to(&list(&|at| format!("0 {:.1}", at[1])));
    let on_curve = move_to(&list(&|at| format!("{:.1} {:.1}", at[0], at[1])));
    let on_tooth = move_to(&list(&|at| format!("{:.1} {:.1}", layout.axis_x, at[1])));
    let first = spots[0];
    svg.moving([0.0, first[1]], &level, |svg| {
        svg.polyline(
            &[[layout.axis_x, 0.0], [frame.corner[0] + frame.size[0], 0.0]],
            Paint::line(SOFT, 1.0).dashed("3 5"),
        );
    });
    svg.moving(first, &on_curve, |svg| svg.circle([0.0, 0.0], 8.0, Paint::fill(MOVED).edge(PAPER, 2.0)));
    svg.moving([layout.axis_x, first[1]], &on_tooth, |svg| {
        svg.circle([0.0, 0.0], 9.0, Paint::fill(PAPER).edge(MOVED, 2.6));
        svg.polyline(&[[-5.0, 0.0], [5.0, 0.0]], Paint::line(MOVED, 2.2));
        svg.polyline(&[[0.0, -5.0], [0.0, 5.0]], Paint::line(MOVED, 2.2));
    });
}
