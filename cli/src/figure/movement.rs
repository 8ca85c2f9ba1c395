//! The movement as torque grows, as an animated drawing: the curve of the centre of rotation with a mark that runs along it,
//! and beside it the tooth that moves about the same centre. Its first frame, which is what pixels and pages of paper show,
//! is the push without torque.

use std::fmt::Write;

use gomphosis_mesh_gen::surface;
use nalgebra::Vector3;

use super::axis::{self, Frame};
use super::colour::{MOVED, PAPER, SOFT};
use super::curve::{self, Layout};
use super::section::{parts::enlarged, round_factor};
use super::svg::{At, Paint, Path, Svg};
use super::{Subject, plane_motion, silhouette};

/// Seconds from no torque to the end of the scale, and of rest at the end.
const SECONDS: [f64; 2] = [12.0, 1.5];
/// Frames a second of what does not move evenly.
const FRAMES: f64 = 20.0;
/// Largest travel of the tooth in the picture, mm.
const SHOWN_TRAVEL_MM: f64 = 2.0;

/// Draws the animation.
pub(crate) fn draw(subject: &Subject<'_>) -> Svg {
    let style = subject.style;
    let name = subject.tooth_title();
    let title = style.tell("{}: the movement as torque grows", &[&name]);
    let layout = Layout::new(subject);
    let enlargement = enlargement(subject, &layout.frame);
    let line = style.tell(
        "Push at the attachment, {} mm above the crest; {}; the first frame is without torque",
        &[&style.fixed(subject.height_mm(), 1), &enlarged(style, enlargement)],
    );
    let mut svg = curve::sheet(subject, &layout, &title);
    axis::heading(&mut svg, 40.0, &title, &[line]);
    curve::plot(&mut svg, subject, &layout, false);
    let frame = &layout.frame;
    svg.clipped([0.0, frame.corner[1]], [svg.width(), frame.size[1]], |svg| {
        tooth(svg, subject, &layout, enlargement);
        centre(svg, subject, &layout);
    });
    svg
}

/// Ratio at a share of the time that the torque grows.
fn ratio(frame: &Frame, share: f64) -> f64 {
    frame.x[0] + share.min(1.0) * (frame.x[1] - frame.x[0])
}

/// How far the movement is enlarged.
fn enlargement(subject: &Subject<'_>, frame: &Frame) -> f64 {
    let ends = [subject.cusp_height_mm, -subject.apex_depth_mm];
    let largest = frame
        .x
        .iter()
        .flat_map(|&m| ends.map(|z| plane_motion(&subject.resistance, subject.height_mm(), m).travel_mm(z)))
        .fold(0.0, |a: f64, b| a.max(b.abs()));
    // The motion belongs to one newton; the case's own push is enlarged as much.
    round_factor(SHOWN_TRAVEL_MM / (largest * subject.case.load.force_n.abs()))
}

/// Attributes of a run from no torque to the end, repeated.
fn clock(values: &str, even: bool) -> String {
    let whole = SECONDS[0] + SECONDS[1];
    let mode = if even { "linear" } else { "discrete" };
    format!("values=\"{values}\" dur=\"{whole}s\" calcMode=\"{mode}\" repeatCount=\"indefinite\"")
}

/// The outline of the moved tooth: its points run along straight lines, evenly, since the motion is linear in the torque.
fn tooth(svg: &mut Svg, subject: &Subject<'_>, layout: &Layout, enlargement: f64) {
    let surfaces = [surface::ROOT, surface::CROWN, surface::ATTACHMENT];
    let rings = silhouette::outline(subject.mesh, &surfaces, &|_| Vector3::zeros());
    let force = subject.case.load.force_n * enlargement;
    let at = |share: f64| -> Path {
        let motion = plane_motion(&subject.resistance, subject.height_mm(), ratio(&layout.frame, share));
        rings.iter().fold(Path::default(), |path, ring| {
            let moved: Vec<At> = ring
                .iter()
                .step_by(3)
                .map(|&[x, z]| {
                    let (dx, dz) = (motion.travel_mm(z), -motion.tip_rad * x);
                    layout.place([x + force * dx, z + force * dz])
                })
                .collect();
            path.closed(&moved)
        })
    };
    let (from, to) = (at(0.0), at(1.0));
    let turn = SECONDS[0] / (SECONDS[0] + SECONDS[1]);
    let times = format!(
        "<animate attributeName=\"d\" {} keyTimes=\"0;{turn:.4};1\"/>",
        clock(&format!("{};{};{}", from.data(), to.data(), to.data()), true)
    );
    svg.moving_path(&from, Paint::line(MOVED, 2.6), &times);
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
