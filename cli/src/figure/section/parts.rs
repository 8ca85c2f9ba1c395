//! The parts of the section, each drawn with its note.

use gomphosis_mesh_gen::Region;

use super::super::band::{Band, bands};
use super::super::colour::{BONE_INK, CANCELLOUS, CORTICAL, TOOTH, TOOTH_EDGE};
use super::super::svg::Path;
use super::notes::Side;
use super::{
    Anchor, At, INK, LOAD, Label, MOVED, Notes, PAPER, PRESSURE, Paint, RESISTANCE, SMALL, SOFT, Scene, Svg,
    root_name,
};

fn ring_path(scene: &Scene<'_>, rings: &[Vec<At>]) -> Path {
    rings.iter().fold(Path::default(), |path, ring| {
        path.closed(&ring.iter().map(|&p| scene.view.at(p)).collect::<Vec<_>>())
    })
}

fn body_rings(scene: &Scene<'_>, region: Region) -> Vec<Vec<At>> {
    scene
        .section
        .outlines(region)
        .into_iter()
        .map(|ring| ring.into_iter().map(|p| scene.section.points[p as usize].at).collect())
        .collect()
}

/// Bone and tooth at rest; behind them the whole tooth where it reaches out of the plane.
pub(super) fn bodies(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes) {
    let (field, style) = (scene.field, scene.subject.style);
    svg.clipped([field[0], field[1]], [field[2], field[3]], |svg| {
        svg.path(&ring_path(scene, &body_rings(scene, Region::CancellousBone)), Paint::fill(CANCELLOUS));
        svg.path(&ring_path(scene, &body_rings(scene, Region::CorticalBone)), Paint::fill(CORTICAL));
        svg.path(&ring_path(scene, &scene.rest), Paint::fill(TOOTH).faded(0.55));
        svg.path(&ring_path(scene, &scene.rest), Paint::line(TOOTH_EDGE, 0.9).faded(0.7));
        svg.path(
            &ring_path(scene, &body_rings(scene, Region::Tooth)),
            Paint::fill(TOOTH).edge(TOOTH_EDGE, 1.4),
        );
    });
    for (region, name) in
        [(Region::CorticalBone, "cortical bone"), (Region::CancellousBone, "cancellous bone")]
    {
        if let Some(at) = place_in(scene, region) {
            notes.add(Side::Left, scene.view.at(at), BONE_INK, &[style.say(name)]);
        }
    }
}

/// A place well inside a body on the lingual side, in view.
fn place_in(scene: &Scene<'_>, region: Region) -> Option<At> {
    let rings = body_rings(scene, region);
    let inside = |p: At| rings.iter().filter(|ring| winds_around(ring, p)).count() % 2 == 1;
    let view = scene.view;
    let margin = 14.0 / view.scale;
    let mut best: Option<(f64, At)> = None;
    for j in 0..60 {
        for i in 0..60 {
            let x = view.low[0] + (view.high[0] - view.low[0]) * (f64::from(i) + 0.5) / 60.0;
            let z = view.low[1] + (view.high[1] - view.low[1]) * (f64::from(j) + 0.5) / 60.0;
            let on_sheet = view.at([x, z]);
            let seen =
                on_sheet[0] > scene.field[0] + 8.0 && on_sheet[1] < scene.field[1] + scene.field[3] - 8.0;
            if x > 0.0 || !seen || !inside([x, z]) {
                continue;
            }
            let clear = (1..=6)
                .take_while(|r| {
                    let r = margin * f64::from(*r);
                    [[r, 0.0], [-r, 0.0], [0.0, r], [0.0, -r]].iter().all(|d| inside([x + d[0], z + d[1]]))
                })
                .count() as f64;
            // Far from borders, and not too deep.
            let score =
                clear.min(3.0) + 0.02 * z + if region == Region::CancellousBone { -0.04 * z } else { 0.0 };
            if best.is_none_or(|(s, _)| score > s) {
                best = Some((score, [x, z]));
            }
        }
    }
    best.map(|(_, at)| at)
}

fn winds_around(ring: &[At], p: At) -> bool {
    let mut inside = false;
    for k in 0..ring.len() {
        let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
            inside = !inside;
        }
    }
    inside
}

/// The ligament as a band outside the root, thicker than it is, coloured by its pressure.
pub(super) fn ligament(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes) {
    let (field, style) = (scene.field, scene.subject.style);
    let thickness = scene.subject.case.specimen.ligament.thickness_mm * scene.ligament_factor;
    let mut most: Option<(f64, At, f64)> = None;
    let chains: Vec<Vec<(At, [f64; 1])>> = scene
        .section
        .border(Region::Tooth, Region::Ligament)
        .iter()
        .map(|chain| chain.iter().map(|&p| scene.section.points[p as usize]))
        .map(|points| points.map(|p| (p.at, [p.value.unwrap_or(0.0)])).collect())
        .collect();
    for run in bands(&chains, thickness) {
        let Band { inner: places, outer, values } = run;
        let kpa: Vec<f64> = values.iter().map(|v| v[0]).collect();
        // The socket ends at the crest, and so does its ligament.
        let crest = scene.view.at([0.0, 0.0])[1];
        svg.clipped([field[0], crest], [field[2], field[1] + field[3] - crest], |svg| {
            band(svg, scene, &places, &outer, &kpa);
        });
        let edge = places.iter().map(|&p| scene.view.at(p)).collect::<Vec<_>>();
        svg.polyline(&edge, Paint::line(TOOTH_EDGE, 1.4));
        for k in 0..places.len() {
            // The note points at a spot on the lingual side, a third of the way down.
            let score = -(places[k][1] + 0.3 * scene.subject.apex_depth_mm).abs()
                - if places[k][0] > 0.0 { 100.0 } else { 0.0 };
            if most.is_none_or(|(s, _, _)| score > s) {
                let middle = [0.5 * (places[k][0] + outer[k][0]), 0.5 * (places[k][1] + outer[k][1])];
                most = Some((score, middle, kpa[k]));
            }
        }
    }
    if let Some((_, at, _)) = most {
        let lines = [
            style.say("periodontal ligament"),
            style.tell("widened {} times", &[&style.number(scene.ligament_factor)]),
        ];
        notes.add(Side::Left, scene.view.at(at), BONE_INK, &lines);
    }
}

/// Pieces of a band between the root and its offset, coloured by pressure.
fn band(svg: &mut Svg, scene: &Scene<'_>, inner: &[At], outer: &[At], kpa: &[f64]) {
    for k in 1..inner.len() {
        let ring = [inner[k - 1], inner[k], outer[k], outer[k - 1]].map(|p| scene.view.at(p));
        let colour = PRESSURE.at(0.5 * (kpa[k - 1] + kpa[k]) / scene.pressure_end);
        // The thin rim in its own colour closes the seam to the next piece.
        svg.polygon(&ring, Paint::fill(colour).edge(colour, 0.6));
    }
    let edge: Vec<At> = outer.iter().map(|&p| scene.view.at(p)).collect();
    svg.polyline(&edge, Paint::line(BONE_INK, 1.0));
}

/// The tooth where the load carries it.
pub(super) fn moved_tooth(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes) {
    let style = scene.subject.style;
    let path = ring_path(scene, &scene.moved);
    svg.path(&path, Paint::line(PAPER, 5.0).faded(0.75));
    svg.path(&path, Paint::line(MOVED, 2.8));
    let top = scene
        .moved
        .iter()
        .flatten()
        .copied()
        .max_by(|a, b| (a[1] + 0.3 * a[0]).total_cmp(&(b[1] + 0.3 * b[0])));
    if let Some(at) = top {
        let lines = [style.say("tooth moved"), scene.enlargement.short(style)];
        notes.add(Side::Right, scene.view.at(at), MOVED, &lines);
    }
    let rest = scene
        .rest
        .iter()
        .flatten()
        .copied()
        .max_by(|a, b| (a[1] - 0.6 * a[0]).total_cmp(&(b[1] - 0.6 * b[0])));
    if let Some(at) = rest {
        notes.add(Side::Left, scene.view.at(at), TOOTH_EDGE, &[style.say("tooth at rest")]);
    }
}

/// Names of the roots that are cut, where a tooth has several.
pub(super) fn roots(scene: &Scene<'_>, notes: &mut Notes) {
    let style = scene.subject.style;
    for root in &scene.roots {
        let apex = root.apex();
        let side = if apex.x < 0.0 { Side::Left } else { Side::Right };
        let mut lines: Vec<String> = root_name(scene.subject, root).into_iter().collect();
        // A column has no lines above it.
        if !style.is_titled() && (side == Side::Right || scene.roots.len() == 1) {
            lines.push(style.say("section follows the root axes"));
        }
        if !lines.is_empty() {
            notes.add(side, scene.view.at([apex.x, apex.z + 0.8]), TOOTH_EDGE, &lines);
        }
    }
}

/// The line of the alveolar crest.
pub(super) fn crest(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes) {
    let left = scene.view.at([scene.view.low[0], 0.0]);
    let right = scene.view.at([scene.view.high[0], 0.0]);
    svg.polyline(&[left, right], Paint::line(INK, 1.1).dashed("10 4 2 4"));
    notes.add(Side::Left, [left[0] + 6.0, left[1]], INK, &[scene.subject.style.say("alveolar crest")]);
}

/// Force and torque at the attachment.
pub(super) fn load(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes) {
    let (load, style) = (scene.subject.case.load, scene.subject.style);
    let place = scene.subject.landmarks.attachment;
    let at = scene.view.at([place.x, place.z]);
    if load.force_n != 0.0 {
        let sense = load.force_n.signum();
        let length = if style.size == super::Size::Column { 60.0 } else { 108.0 };
        // On the far side the arrow leaves the crown, on the near side it meets it.
        let (from, to) = if sense * place.x >= 0.0 {
            ([at[0], at[1]], [at[0] + sense * length, at[1]])
        } else {
            ([at[0] - sense * length, at[1]], [at[0], at[1]])
        };
        svg.arrow(from, to, LOAD, 5.0);
        let side = if to[0] > at[0] || from[0] > at[0] { Side::Right } else { Side::Left };
        let tip = if side == Side::Right {
            [from[0].max(to[0]) - 10.0, at[1]]
        } else {
            [from[0].min(to[0]) + 10.0, at[1]]
        };
        let lines = [
            style.tell("force {} N", &[&style.number(load.force_n.abs())]),
            style.tell("{} mm above the crest", &[&style.fixed(scene.subject.height_mm(), 2)]),
        ];
        notes.add(side, tip, LOAD, &lines);
    }
    if load.torque_nmm != 0.0 {
        torque(svg, scene, notes, at);
    }
    svg.circle(at, 4.5, Paint::fill(LOAD).edge(PAPER, 1.5));
}

/// A turning arrow around the attachment. Buccal root torque turns the root to buccal: to the left above,
/// to the right below.
fn torque(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes, at: At) {
    let (torque, style) = (scene.subject.case.load.torque_nmm, scene.subject.style);
    let radius = if style.size == super::Size::Column { 32.0 } else { 46.0 };
    let sense = torque.signum();
    // Angles counter-clockwise from the right, in degrees.
    let point = |angle: f64| {
        let (sin, cos) = (sense * angle).to_radians().sin_cos();
        let (x, y) = if sense > 0.0 { (cos, sin) } else { (-cos, -sin) };
        [at[0] + radius * x, at[1] - radius * y]
    };
    let arc: Vec<At> = (0..=48).map(|k| point(40.0 + 230.0 * f64::from(k) / 48.0)).collect();
    svg.polyline(&arc, Paint::line(PAPER, 7.5).faded(0.8));
    svg.polyline(&arc, Paint::line(LOAD, 4.0));
    svg.head(point(268.0), point(292.0), 9.0, LOAD);
    let words = scene.subject.words();
    let name = style.tell("{} root torque", &[if torque > 0.0 { &words.outward } else { &words.inward }]);
    let target = point(125.0);
    notes.add(Side::Left, target, LOAD, &[name, format!("{} N\u{b7}mm", style.number(torque.abs()))]);
}

/// Centres of resistance and rotation on the long axis.
pub(super) fn centres(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes) {
    let (subject, style) = (scene.subject, scene.subject.style);
    let top = scene.view.at([0.0, subject.cusp_height_mm + 0.8]);
    let floor = scene.view.at([0.0, -subject.apex_depth_mm - 1.6]);
    svg.polyline(&[top, floor], Paint::line(SOFT, 1.0).dashed("9 4 2 4"));
    let depth = subject.resistance.centre_depth_mm();
    let at = scene.view.at([0.0, -depth]);
    svg.circle(at, 9.0, Paint::fill(PAPER).edge(RESISTANCE, 2.6));
    svg.circle(at, 3.2, Paint::fill(RESISTANCE));
    let fraction = 100.0 * depth / subject.apex_depth_mm;
    notes.add(
        Side::Right,
        [at[0] + 9.0, at[1]],
        RESISTANCE,
        &[
            style.say("centre of resistance"),
            style.tell("{} mm below the crest", &[&style.fixed(depth, 1)]),
            style.tell("({}% of the bony root)", &[&style.fixed(fraction, 0)]),
        ],
    );
    rotation_centre(svg, scene, notes);
}

fn rotation_centre(svg: &mut Svg, scene: &Scene<'_>, notes: &mut Notes) {
    let (subject, style) = (scene.subject, scene.subject.style);
    let load = subject.planar_load();
    let motion = subject.resistance.motion(&load);
    let Some(depth) = motion.centre_of_rotation_depth_mm() else {
        let at = scene.view.at([0.0, -subject.apex_depth_mm - 1.6]);
        notes.add(
            Side::Right,
            at,
            MOVED,
            &[style.say("centre of rotation"), style.say("at infinity: translation")],
        );
        return;
    };
    let name = style.say("centre of rotation");
    let place = if depth < 0.0 { "{} mm above the crest" } else { "{} mm below the crest" };
    let place = style.tell(place, &[&style.fixed(depth.abs(), 1)]);
    let movement = subject.resistance.movement(&load, subject.apex_depth_mm);
    let lines = [name, place, style.say(movement.name())];
    let (low, high) = (scene.view.low[1] + 0.5, scene.view.high[1] - 0.3);
    if (low..=high).contains(&-depth) {
        let at = scene.view.at([0.0, -depth]);
        svg.circle(at, 9.0, Paint::fill(PAPER).edge(MOVED, 2.6));
        svg.polyline(&[[at[0] - 5.0, at[1]], [at[0] + 5.0, at[1]]], Paint::line(MOVED, 2.2));
        svg.polyline(&[[at[0], at[1] - 5.0], [at[0], at[1] + 5.0]], Paint::line(MOVED, 2.2));
        notes.add(Side::Right, [at[0] + 9.0, at[1]], MOVED, &lines);
    } else {
        // Out of the picture: an arrow along the axis says which way.
        let (from, to) = if -depth < low { (low + 1.3, low + 0.1) } else { (high - 0.9, high + 0.2) };
        let (from, to) = (scene.view.at([0.0, from]), scene.view.at([0.0, to]));
        svg.arrow(from, to, MOVED, 3.4);
        notes.add(Side::Right, [to[0] + 8.0, 0.5 * (from[1] + to[1])], MOVED, &lines);
    }
}

/// Names of the directions and a bar of known length.
pub(super) fn directions(svg: &mut Svg, scene: &Scene<'_>) {
    let style = scene.subject.style;
    let [left, top, width, height] = scene.field;
    let (x0, x1, y1) = (left + 6.0, left + width - 6.0, top + height + 20.0);
    let words = scene.subject.words();
    svg.label(Label::new(words.inward, [x0, y1], SMALL).colour(SOFT));
    svg.label(Label::new(words.outward, [x1, y1], SMALL).anchor(Anchor::End).colour(SOFT));
    let middle = left + 0.5 * width;
    let above = (top - 8.0).max(scene.view.at(scene.view.high)[1] - 8.0);
    svg.label_first_clear([Label::new(words.upward, [middle, above], SMALL)
        .anchor(Anchor::Middle)
        .colour(SOFT)]);
    svg.label(Label::new(style.say("apical"), [middle, y1], SMALL).anchor(Anchor::Middle).colour(SOFT));
    let bar = 5.0 * scene.view.scale;
    let at = [left + width + 30.0, top + height + 18.0];
    svg.polyline(&[at, [at[0] + bar, at[1]]], Paint::line(INK, 2.4));
    for x in [at[0], at[0] + bar] {
        svg.polyline(&[[x, at[1] - 5.0], [x, at[1] + 5.0]], Paint::line(INK, 2.4));
    }
    svg.label(Label::new("5 mm", [at[0] + 0.5 * bar, at[1] - 15.0], SMALL).anchor(Anchor::Middle));
}
