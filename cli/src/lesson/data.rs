//! What the page knows of a tooth. Numbers that results are made of (compliance, landmarks) are in double precision,
//! pressures in single, coordinates of pictures in thousandths of a millimetre.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use gomphosis_mesh_gen::{Region, surface};
use gomphosis_solver::UNIT_LOADS;
use nalgebra::Vector3;
use serde::Serialize;

use super::called::Called;
use super::solid::Solid;
use crate::case::Case;
use crate::commands::Computed;
use crate::figure::band::{Band, bands};
use crate::figure::slice::Section;
use crate::figure::svg::At;
use crate::figure::{Language, along_roots, silhouette, widened};

/// A point closer than this to the line between its neighbours is left out of an outline, mm.
const SMOOTH_MM: f64 = 0.004;

/// A tooth of the lesson.
#[derive(Debug, Serialize)]
pub(crate) struct Tooth {
    /// What the page calls it; no two teeth of a page have the same.
    title: String,
    /// "healthy bone" or the bone that is lost.
    bone: String,
    /// Teeth with the same number differ in nothing but the bone that is lost.
    family: usize,
    bone_loss_mm: f64,
    /// The command that gives the same numbers.
    command: String,
    words: Names,
    model: Model,
    compliance: ComplianceAt,
    landmarks: Places,
    load: Load,
    ranges: Ranges,
    section: Outlines,
    solid: Solid,
}

/// What directions and places are called at this tooth.
#[derive(Debug, Serialize)]
struct Names {
    outward: String,
    inward: String,
    upward: String,
    top: String,
}

/// What the numbers come from.
#[derive(Debug, Serialize)]
struct Model {
    tetrahedra: usize,
    unknowns: usize,
    rigid: bool,
    ligament_modulus_mpa: f64,
    ligament_poisson_ratio: f64,
    ligament_thickness_mm: f64,
    /// Largest distance of the loaded tooth from a rigid one, micrometres for each newton along x.
    bending_um_per_n: f64,
    /// Estimated error of the mesh in the centre of resistance and in the tip, percent.
    error_percent: [Option<f64>; 2],
    /// The ligament's largest strain under the case's load and the largest that a linear model answers for, if it is passed.
    strain_beyond: Option<[f64; 2]>,
}

#[derive(Debug, Serialize)]
struct ComplianceAt {
    point_mm: [f64; 3],
    /// Rows ux uy uz rx ry rz, columns Fx Fy Fz Mx My Mz; mm/N, 1/N, rad/(N mm).
    matrix: [[f64; 6]; 6],
}

#[derive(Debug, Serialize)]
#[expect(clippy::struct_field_names, reason = "keys carry their unit")]
struct Places {
    apex_depth_mm: f64,
    cusp_height_mm: f64,
    cej_height_mm: f64,
    attachment_mm: [f64; 3],
}

/// The load of the case, where the lesson begins.
#[derive(Debug, Serialize)]
struct Load {
    height_mm: f64,
    force_n: f64,
    torque_nmm: f64,
}

/// Ends of the controls.
#[derive(Debug, Serialize)]
struct Ranges {
    height_mm: [f64; 2],
    moment_to_force_mm: [f64; 2],
}

/// Outlines of the section: x and z of point after point, thousandths of a millimetre.
#[derive(Debug, Serialize)]
struct Outlines {
    /// The whole tooth, seen along the arch.
    silhouette: Vec<Vec<i32>>,
    tooth: Vec<Vec<i32>>,
    cancellous_bone: Vec<Vec<i32>>,
    cortical_bone: Vec<Vec<i32>>,
    ligament: Vec<Strip>,
    /// How many times the ligament is thicker in the picture.
    widened: f64,
}

/// A run of the ligament.
#[derive(Debug, Serialize)]
struct Strip {
    inner: Vec<i32>,
    outer: Vec<i32>,
    /// Pressure of the six unit loads, kPa, point after point within each load.
    kpa: Packed,
}

/// Numbers of one kind as base64 of their bytes, little-endian.
#[derive(Debug, Clone, Serialize)]
#[serde(transparent)]
pub(crate) struct Packed(String);

impl Packed {
    /// Single precision.
    pub(crate) fn single(values: impl IntoIterator<Item = f64>) -> Self {
        Self::bytes(values.into_iter().flat_map(|v| (v as f32).to_le_bytes()))
    }

    /// Bytes as they are.
    pub(crate) fn bytes(bytes: impl IntoIterator<Item = u8>) -> Self {
        Self(STANDARD.encode(bytes.into_iter().collect::<Vec<u8>>()))
    }
}

impl Tooth {
    /// Gathers what the page needs of a computed case; `command` is how to make its numbers again.
    pub(crate) fn new(
        case: &Case,
        done: &Computed,
        call: Called,
        command: String,
        language: Language,
    ) -> Self {
        let (landmarks, words) = (&done.tooth.landmarks, case.words());
        let height_mm = case.specimen.attachment.height_mm;
        let compliance = &done.solutions.compliance;
        let error = &done.result.numerical_error.discretisation;
        let plane = gomphosis_solver::Plane::BuccoLingual;
        let pressures = pressures(done);
        let (_, tetrahedra, unknowns) = done.result.counts();
        let load = case.load;
        Self {
            title: call.title,
            bone: call.bone,
            family: call.family,
            bone_loss_mm: case.specimen.bone.loss_mm,
            command,
            words: Names {
                outward: language.say(words.outward),
                inward: language.say(words.inward),
                upward: language.say(words.upward),
                top: language.say(case.top_name()),
            },
            model: Model {
                tetrahedra,
                unknowns,
                rigid: case.bodies == gomphosis_solver::Bodies::Rigid,
                ligament_modulus_mpa: case.materials.ligament.modulus_mpa,
                ligament_poisson_ratio: case.materials.ligament.poisson_ratio,
                ligament_thickness_mm: case.specimen.ligament.thickness_mm,
                bending_um_per_n: 1e3 * done.solutions.tooth_bending_mm[0],
                error_percent: ["centre_of_resistance_mm", "tip_deg"].map(|name| error.percent(plane, name)),
                strain_beyond: done.result.strain_beyond(),
            },
            compliance: ComplianceAt {
                point_mm: compliance.point.coords.into(),
                matrix: std::array::from_fn(|i| std::array::from_fn(|j| compliance.matrix[(i, j)])),
            },
            landmarks: Places {
                apex_depth_mm: landmarks.bony_root_mm,
                cusp_height_mm: landmarks.cusp_tip.z,
                cej_height_mm: landmarks.cej_z,
                attachment_mm: landmarks.attachment.coords.into(),
            },
            load: Load { height_mm, force_n: load.force_n, torque_nmm: load.torque_nmm },
            ranges: Ranges {
                height_mm: [case.map.height_from_mm, case.map.height_to_mm],
                moment_to_force_mm: [case.map.moment_to_force_from_mm, case.map.moment_to_force_to_mm],
            },
            section: outlines(case, done, &pressures),
            solid: Solid::new(done, &pressures),
        }
    }
}

/// Pressure at the nodes of the root for each unit load, kPa.
fn pressures(done: &Computed) -> [Vec<f64>; UNIT_LOADS.len()] {
    std::array::from_fn(|load| done.stress.unit_root[load].iter().map(|s| 1e3 * s.pressure()).collect())
}

fn outlines(case: &Case, done: &Computed, pressures: &[Vec<f64>; 6]) -> Outlines {
    let mesh = &done.tooth.mesh;
    let surface = along_roots(case);
    let nodes = &done.stress.root_nodes;
    // The same cut for each unit load: its points come in the same order.
    let cuts: [Section; 6] = std::array::from_fn(|load| {
        let value = |n: u32| nodes.binary_search(&n).ok().map(|k| pressures[load][k]);
        Section::new(mesh, &surface, &value)
    });
    let places = |region| -> Vec<Vec<i32>> {
        let rings = cuts[0].outlines(region).into_iter();
        rings
            .map(|ring| ring.into_iter().map(|p| cuts[0].points[p as usize].at).collect::<Vec<At>>())
            .map(|ring| thousandths(&simplified(&ring)))
            .collect()
    };
    let chains: Vec<Vec<(At, [f64; 6])>> = cuts[0]
        .border(Region::Tooth, Region::Ligament)
        .iter()
        .map(|chain| {
            let values = |p: u32| std::array::from_fn(|k| cuts[k].points[p as usize].value.unwrap_or(0.0));
            chain.iter().map(|&p| (cuts[0].points[p as usize].at, values(p))).collect()
        })
        .collect();
    let factor = widened(case);
    let ligament = bands(&chains, factor * case.specimen.ligament.thickness_mm)
        .into_iter()
        .map(|Band { inner, outer, values }| Strip {
            inner: thousandths(&inner),
            outer: thousandths(&outer),
            kpa: Packed::single((0..6).flat_map(|k| values.iter().map(move |v| v[k]).collect::<Vec<_>>())),
        })
        .collect();
    let whole = [surface::ROOT, surface::CROWN, surface::ATTACHMENT];
    let silhouette = silhouette::outline(mesh, &whole, &|_| Vector3::zeros());
    Outlines {
        silhouette: silhouette.iter().map(|ring| thousandths(&simplified(ring))).collect(),
        tooth: places(Region::Tooth),
        cancellous_bone: places(Region::CancellousBone),
        cortical_bone: places(Region::CorticalBone),
        ligament,
        widened: factor,
    }
}

fn thousandths(points: &[At]) -> Vec<i32> {
    points.iter().flatten().map(|mm| (1e3 * mm).round() as i32).collect()
}

/// A closed ring without the points that lie on the line between those that are kept (Douglas and Peucker 1973).
fn simplified(ring: &[At]) -> Vec<At> {
    if ring.len() < 4 {
        return ring.to_vec();
    }
    let mut kept = vec![false; ring.len()];
    // Two far points cut the ring into two lines.
    let far = (1..ring.len())
        .max_by(|&a, &b| distance(ring[a], ring[0]).total_cmp(&distance(ring[b], ring[0])))
        .unwrap_or(0);
    kept[0] = true;
    kept[far] = true;
    let mut stack = vec![(0, far), (far, ring.len())];
    while let Some((a, b)) = stack.pop() {
        let (from, to) = (ring[a], ring[b % ring.len()]);
        let off = |k: usize| {
            let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
            let length = dx.hypot(dy);
            let (px, py) = (ring[k][0] - from[0], ring[k][1] - from[1]);
            if length > 0.0 { (px * dy - py * dx).abs() / length } else { px.hypot(py) }
        };
        let farthest = (a + 1..b).map(|k| (off(k), k)).max_by(|x, y| x.0.total_cmp(&y.0));
        if let Some((off, k)) = farthest.filter(|f| f.0 > SMOOTH_MM) {
            debug_assert!(off > 0.0, "a kept point lies off the line");
            kept[k] = true;
            stack.push((a, k));
            stack.push((k, b));
        }
    }
    ring.iter().zip(kept).filter(|(_, kept)| *kept).map(|(p, _)| *p).collect()
}

fn distance(a: At, b: At) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}
