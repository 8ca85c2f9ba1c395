//! The way from a specification to a mesh.

use std::collections::BTreeMap;

use nalgebra::Point3;
use rayon::prelude::*;

use crate::crest;
use crate::error::MeshError;
use crate::improve::{Freedom, Smoother};
use crate::lattice::octree::{Frame, Octree};
use crate::lattice::{LinearMesh, cut, snap, tets};
use crate::layer::{self, Interface, Ligament};
use crate::mesh::{FACES, Region, TetMesh, surface};
use crate::observer::{Event, Observer, Stage};
use crate::quadratic::{Quadratic, curve};
use crate::quality;
use crate::socket::Socket;
use crate::spec::check::crest_at_furcation;
use crate::spec::{DEFAULT_ELEMENT_SIZE_MM, Face, ToothInSocket};
use crate::specimen::{Landmarks, ToothMesh};
use crate::tooth::{ToothSolid, V3, anatomy};

/// Makes the mesh of a tooth in its socket.
///
/// # Errors
/// [`MeshError::OutOfRange`] and [`MeshError::Impossible`] for a specification that makes no sense,
/// [`MeshError::UnderResolved`] if the element size cannot show the shape, [`MeshError::TooLarge`],
/// [`MeshError::Interrupted`]. A mesh with an inverted element is never returned.
pub fn mesh_tooth(spec: &ToothInSocket, observer: &dyn Observer) -> Result<ToothMesh, MeshError> {
    mesh_tooth_within(spec, None, observer)
}

/// As [`mesh_tooth`], with a bound of the memory that the mesher may use, bytes.
///
/// # Errors
/// As [`mesh_tooth`], and [`MeshError::NoMemory`] before more than that is used.
pub fn mesh_tooth_within(
    spec: &ToothInSocket,
    limit_bytes: Option<u64>,
    observer: &dyn Observer,
) -> Result<ToothMesh, MeshError> {
    // Once into the pool of threads: to enter it for each small loop would cost more than the loop.
    rayon::scope(|_| mesh_in_pool(spec, limit_bytes, observer))
}

fn mesh_in_pool(
    spec: &ToothInSocket,
    limit_bytes: Option<u64>,
    observer: &dyn Observer,
) -> Result<ToothMesh, MeshError> {
    let with_size = |spec: &ToothInSocket, size: f64, observer| with_size(spec, size, limit_bytes, observer);
    spec.check()?;
    let size = spec.mesh.element_size_mm;
    let mut failure = match with_size(spec, size, observer) {
        Err(error) if of_the_shape(&error) => error,
        other => return other,
    };
    let at_furcation = crest_at_furcation(spec, &anatomy::build(spec));
    if at_furcation.is_some() {
        for nudge in NUDGES_MM {
            let mut nudged = *spec;
            nudged.tooth.root.furcation_mm += nudge;
            if nudged.check().is_err() {
                continue;
            }
            match with_size(&nudged, size, observer) {
                Err(error) if of_the_shape(&error) => {}
                Ok(mut made) => {
                    made.quality.remarks.push(nudge_remark(nudge));
                    return Ok(made);
                }
                other => return other,
            }
        }
    }
    let mut size = size;
    for _ in 0..REFINEMENTS {
        size = FINER * size.min(DEFAULT_ELEMENT_SIZE_MM);
        match with_size(spec, size, observer) {
            Err(error) if of_the_shape(&error) => failure = error,
            other => return other,
        }
    }
    Err(match (at_furcation, failure) {
        (Some(reason), _) => reason,
        (None, MeshError::UnderResolved { detail }) => MeshError::UnderResolved { detail },
        (None, _) => MeshError::NoRoom { element_size_mm: size },
    })
}

fn with_size(
    spec: &ToothInSocket,
    size: f64,
    limit_bytes: Option<u64>,
    observer: &dyn Observer,
) -> Result<ToothMesh, MeshError> {
    let solid = anatomy::build(spec);
    let extent = Extent::of(spec, &solid)?;
    let socket = Socket::new(spec, &solid, extent.depth);
    Work { spec, solid: &solid, socket: &socket, extent: &extent, size, limit_bytes }.attempt(observer)
}

/// Failures that finer elements, or a slightly different shape, may mend.
fn of_the_shape(error: &MeshError) -> bool {
    matches!(
        error,
        MeshError::UnderResolved { .. } | MeshError::Inverted { .. } | MeshError::NotConforming { .. }
    )
}

fn nudge_remark(nudge: f64) -> String {
    let (way, by) = (if nudge > 0.0 { "deeper" } else { "higher" }, nudge.abs());
    format!(
        "the crest lies at the furcation: the roots part {by:.2} mm {way} than asked, so that a layer fits"
    )
}

/// Where the centre of the attachment's footprint lies on the crown. Of a mesh, only this and the list of faces that the
/// footprint touches depend on the attachment; nodes and elements do not.
///
/// # Errors
/// [`MeshError::OutOfRange`] and [`MeshError::Impossible`] for a specification that makes no sense.
pub fn attachment_place(spec: &ToothInSocket) -> Result<Point3<f64>, MeshError> {
    spec.check()?;
    Ok(Point3::from(attachment_point(spec, &anatomy::build(spec))))
}

/// The axis of each root from its upper end, at the furcation or in the crown, to its apex, in the tooth frame, mm; heights
/// fall along each. In the order of the plan: buccal before lingual, mesial before distal.
///
/// # Errors
/// [`MeshError::OutOfRange`] and [`MeshError::Impossible`] for a specification that makes no sense.
pub fn root_axes(spec: &ToothInSocket) -> Result<Vec<Vec<Point3<f64>>>, MeshError> {
    spec.check()?;
    let axes = anatomy::build(spec).root_axes();
    Ok(axes.into_iter().map(|axis| axis.into_iter().map(Point3::from).collect()).collect())
}

/// How often a mesh that could not show the shape is tried again with finer elements, and how much finer.
const REFINEMENTS: usize = 4;
const FINER: f64 = 0.85;

/// By how much a furcation at the crest is moved, one after the other, until the roof of the furcation is clear of the
/// plane of the crest, mm (positive is deeper). The depth of a furcation varies by 0.8 mm from tooth to tooth.
const NUDGES_MM: [f64; 12] = [0.05, -0.05, 0.1, -0.1, 0.15, -0.15, 0.2, -0.2, 0.25, -0.25, 0.3, -0.3];

/// Distance from the tooth within which nodes may leave the planes of the cortical shell, over the element size. As short
/// as the elements bear: nodes that have left bend the border of the shell.
const SHELL_CLEARANCE: f64 = 0.4;

/// Most that the tooth's volume may be off: more means that a part of the tooth is not there.
const VOLUME_ERROR: f64 = 0.04;

/// What every step needs to know.
struct Work<'a> {
    spec: &'a ToothInSocket,
    solid: &'a ToothSolid,
    socket: &'a Socket<'a>,
    extent: &'a Extent,
    /// Element size of this attempt, mm.
    size: f64,
    /// Memory that may be used, bytes.
    limit_bytes: Option<u64>,
}

impl Work<'_> {
    fn attempt(&self, observer: &dyn Observer) -> Result<ToothMesh, MeshError> {
        let layers = self.spec.ligament.layers;
        let mut linear = staged(observer, Stage::Lattice, || self.stuff())?;
        let interface = layer::interface(&linear);
        layer::check_discs(&interface)?;
        self.check_whole(&linear, &interface)?;
        let interface = staged(observer, Stage::Improve, || {
            improve_cut(&mut linear, &interface, self.solid, &[], SWEEPS);
            Ok(self.rows(&mut linear, &interface))
        })?;
        let ligament = staged(observer, Stage::Ligament, || {
            let ligament = layer::insert(&mut linear, &interface, self.socket, layers);
            improve_opened(&mut linear, &ligament, self.solid);
            Ok(ligament)
        })?;
        staged(observer, Stage::Curve, || {
            let curved = curve(&linear, &interface, &ligament, layers, self.socket);
            self.finish(&interface, &ligament, curved)
        })
    }

    /// Opens the crest for rows of low elements, and lets what is below them settle; the interface with the rows.
    fn rows(&self, linear: &mut LinearMesh, interface: &Interface) -> Interface {
        let size = self.size.min(DEFAULT_ELEMENT_SIZE_MM);
        let thickness = self.socket.crest_thickness();
        let depths = crest::depths(thickness, size, DEFAULT_ELEMENT_SIZE_MM);
        let in_rows = crest::insert_rows(linear, interface, self.solid, &depths);
        let interface = layer::interface(linear);
        improve_cut(linear, &interface, self.solid, &in_rows, SETTLING_SWEEPS);
        interface
    }

    fn stuff(&self) -> Result<LinearMesh, MeshError> {
        let extent = self.extent;
        let frame = Frame::new(self.socket, self.size, extent.crown.1.z.max(extent.top.z), extent.crown);
        let tree = Octree::build(&frame, self.socket, self.size, self.spec.mesh.growth, self.limit_bytes)?;
        let mut lattice = tets::build(&frame, &tree);
        let signs = snap::snap(&mut lattice, self.solid);
        Ok(cut::cut(&lattice, &signs, self.solid, SHELL_CLEARANCE * self.size))
    }

    /// Roots thinner than the elements can be lost: every apex must be near the surface that was found, and the tooth
    /// in one piece.
    fn check_whole(&self, linear: &LinearMesh, interface: &Interface) -> Result<(), MeshError> {
        let lost = |detail: String| Err(MeshError::UnderResolved { detail });
        for apex in self.solid.apices() {
            let reached = |n: &u32| (linear.nodes[*n as usize] - apex).norm() < self.size;
            if apex.z < 0.0 && !interface.triangles.iter().flatten().any(reached) {
                return lost(format!("the apex {:.2} mm below the crest is missing from the mesh", -apex.z));
            }
        }
        let pieces = layer::pieces(
            linear.tets.iter().zip(&linear.bodies).filter(|(_, b)| !b.is_bone()).map(|(t, _)| t),
        );
        if pieces != 1 {
            return lost(format!("the tooth falls into {pieces} pieces"));
        }
        Ok(())
    }

    fn finish(
        &self,
        interface: &Interface,
        ligament: &Ligament,
        curved: Quadratic,
    ) -> Result<ToothMesh, MeshError> {
        let Self { spec, solid, socket, extent, size, .. } = self;
        let attachment = attachment_point(spec, solid);
        let surfaces = surfaces(spec, socket, interface, ligament, &curved, attachment)?;
        let mut remarks = Vec::new();
        if *size < spec.mesh.element_size_mm {
            remarks.push(format!(
                "the element size was reduced to {size:.2} mm, because {} mm could not show the shape",
                spec.mesh.element_size_mm
            ));
        }
        if curved.relaxed_groups > 0 {
            remarks.push(format!(
                "{} edges of the root surface are less curved than the root to keep every element positive",
                curved.relaxed_groups
            ));
        }
        let Quadratic { nodes, cells, regions, .. } = curved;
        let mesh = TetMesh::new(nodes.into_iter().map(Point3::from).collect(), cells, regions, surfaces)?;
        let (quality, thickness_shortfall) = quality::report(&mesh, socket, extent.bounds(socket), remarks);
        for region in &quality.regions {
            let Some(exact) = region.exact_volume_mm3 else { continue };
            let share = region.volume_mm3 / exact;
            if !((1.0 - VOLUME_ERROR)..=(1.0 + VOLUME_ERROR)).contains(&share) {
                return Err(MeshError::UnderResolved {
                    detail: format!("the mesh holds {:.1} % of the tooth's volume", 100.0 * share),
                });
            }
        }
        let landmarks = Landmarks {
            apex: Point3::from(extent.apex),
            bony_root_mm: extent.depth,
            cej_z: solid.cej_z,
            cusp_tip: Point3::from(extent.top),
            attachment: Point3::from(attachment),
        };
        Ok(ToothMesh { mesh, landmarks, quality, thickness_shortfall })
    }
}

fn staged<T>(
    observer: &dyn Observer,
    stage: Stage,
    work: impl FnOnce() -> Result<T, MeshError>,
) -> Result<T, MeshError> {
    if observer.on_event(Event::Started(stage)).is_break() {
        return Err(MeshError::Interrupted);
    }
    let result = work()?;
    if observer.on_event(Event::Finished(stage)).is_break() {
        return Err(MeshError::Interrupted);
    }
    Ok(result)
}

/// Extreme points of the tooth.
struct Extent {
    apex: V3,
    depth: f64,
    top: V3,
    crown: (V3, V3),
}

impl Extent {
    /// A box around the whole tooth.
    fn bounds(&self, socket: &Socket) -> (V3, V3) {
        let margin = V3::repeat(0.3);
        (
            self.crown.0.inf(&socket.block.low).inf(&self.apex) - margin,
            self.crown.1.sup(&socket.block.high).sup(&self.top) + margin,
        )
    }

    fn of(spec: &ToothInSocket, solid: &ToothSolid) -> Result<Self, MeshError> {
        let apex = solid.apex();
        let depth = -apex.z;
        let height = solid.cej_z + spec.tooth.crown.height_mm;
        let top = solid.cusp_tip(height);
        let reach = 1.2 * spec.tooth.crown.buccolingual_mm.max(spec.tooth.crown.mesiodistal_mm) + 3.0;
        let crown = solid.bounds_between(0.0, top.z, reach);
        if depth.is_nan() || depth <= 1.0 {
            return Err(MeshError::Impossible {
                key: "bone.loss_mm",
                reason: format!(
                    "only {depth:.2} mm of root would be left in the bone; the crest must stay at least 1 mm \
                     above the apex"
                ),
                suggestion: None,
            });
        }
        Ok(Self { apex, depth, top, crown })
    }
}

/// Sweeps of the smoothing before the crest is opened, and after it.
const SWEEPS: usize = 10;
const SETTLING_SWEEPS: usize = 4;

/// Smooths tooth and bone while they still share the interface. Nodes marked in `held` stay.
fn improve_cut(
    mesh: &mut LinearMesh,
    interface: &Interface,
    solid: &ToothSolid,
    held: &[bool],
    sweeps: usize,
) {
    let mut triangles = interface.triangles.clone();
    triangles.extend_from_slice(&interface.crown);
    let freedom: Vec<Freedom> = mesh
        .masks
        .iter()
        .zip(&mesh.on_surface)
        .enumerate()
        .map(|(n, (&mask, &on_surface))| match (held.get(n), on_surface) {
            (Some(true), _) => Freedom::Fixed,
            (_, true) => Freedom::Surface(mask),
            (_, false) => Freedom::Free(mask),
        })
        .collect();
    let tets = mesh.tets.clone();
    let smoother = Smoother::new(solid, &freedom, &tets, &triangles);
    smoother.improve(&mut mesh.nodes, sweeps);
}

/// Smooths tooth and bone on either side of the ligament, which stays.
fn improve_opened(mesh: &mut LinearMesh, ligament: &Ligament, solid: &ToothSolid) {
    let freedom: Vec<Freedom> = (0..mesh.nodes.len())
        .map(|n| {
            if ligament.place[n].is_some() || mesh.on_surface[n] {
                Freedom::Fixed
            } else {
                Freedom::Free(mesh.masks[n])
            }
        })
        .collect();
    let tets = mesh.tets.clone();
    let smoother = Smoother::new(solid, &freedom, &tets, &[]);
    smoother.improve(&mut mesh.nodes, 6);
}

/// Centre of the footprint on the crown's surface: from the long axis, which is inside the crown there (the check of
/// the specification sees to it), out toward the face.
fn attachment_point(spec: &ToothInSocket, solid: &ToothSolid) -> V3 {
    let z = spec.attachment.height_mm;
    let direction = outward(spec.attachment.face);
    let start = V3::new(solid.crown_axis_x(z), 0.0, z);
    let (mut inside, mut outside) = (0.0, 20.0);
    for _ in 0..60 {
        let middle = 0.5 * (inside + outside);
        if solid.value(&(start + direction * middle)) < 0.0 {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    start + direction * inside
}

fn outward(face: Face) -> V3 {
    match face {
        Face::Buccal => V3::x(),
        Face::Lingual => -V3::x(),
        Face::Mesial => V3::y(),
        Face::Distal => -V3::y(),
    }
}

fn surfaces(
    spec: &ToothInSocket,
    socket: &Socket,
    interface: &Interface,
    ligament: &Ligament,
    curved: &Quadratic,
    attachment: V3,
) -> Result<BTreeMap<String, Vec<[u32; 6]>>, MeshError> {
    let quadratic = |t: [u32; 3]| {
        curved.triangle(t).ok_or_else(|| MeshError::NotConforming {
            detail: format!("a surface triangle {t:?} has no mid-side nodes"),
        })
    };
    let mut out: BTreeMap<String, Vec<[u32; 6]>> = BTreeMap::new();
    for t in &ligament.triangles {
        let root = t.map(|c| ligament.columns[c as usize][0]);
        let wall = t.map(|c| *ligament.columns[c as usize].last().expect("a column ends at the wall"));
        out.entry(surface::ROOT.into()).or_default().push(quadratic(root)?);
        out.entry(surface::SOCKET_WALL.into()).or_default().push(quadratic(wall)?);
    }
    let direction = outward(spec.attachment.face);
    let mut nearest: Option<(f64, [u32; 6])> = None;
    for &t in &interface.crown {
        let six = quadratic(t)?;
        out.entry(surface::CROWN.into()).or_default().push(six);
        let corners = t.map(|n| curved.nodes[n as usize]);
        let normal = (corners[1] - corners[0]).cross(&(corners[2] - corners[0]));
        if normal.dot(&direction) <= 0.0 {
            continue;
        }
        if six.iter().any(|&n| in_footprint(spec, &curved.nodes[n as usize], &attachment)) {
            out.entry(surface::ATTACHMENT.into()).or_default().push(six);
        }
        let away = six.iter().map(|&n| (curved.nodes[n as usize] - attachment).norm()).sum::<f64>();
        if nearest.is_none_or(|(least, _)| away < least) {
            nearest = Some((away, six));
        }
    }
    // A footprint between the nodes still touches the face it is on.
    if let (None, Some((_, six))) = (out.get(surface::ATTACHMENT), nearest) {
        out.insert(surface::ATTACHMENT.into(), vec![six]);
    }
    // Outer faces of bone and ligament, told apart by the plane they lie in.
    let mut faces = Vec::new();
    for (cell, &region) in curved.cells.iter().zip(&curved.regions) {
        for local in FACES {
            let tri = [cell[local[0]], cell[local[1]], cell[local[2]]];
            let mut key = tri;
            key.sort_unstable();
            faces.push((key, tri, region));
        }
    }
    faces.par_sort_unstable();
    let block = &socket.block;
    for group in faces.chunk_by(|a, b| a.0 == b.0) {
        let &[(_, tri, region)] = group else { continue };
        if region == Region::Tooth {
            continue;
        }
        let p = tri.map(|n| curved.nodes[n as usize]);
        let all = |axis: usize, at: f64| p.iter().all(|q| (q[axis] - at).abs() < 1e-6);
        let name = if all(2, 0.0) {
            if region == Region::Ligament { surface::LIGAMENT_CREST } else { surface::BONE_CREST }
        } else if all(2, block.low.z) || all(1, block.low.y) || all(1, block.high.y) {
            surface::FIXED
        } else if all(0, block.high.x) {
            surface::BUCCAL_PLATE
        } else if all(0, block.low.x) {
            surface::LINGUAL_PLATE
        } else {
            return Err(unbounded(region, &p[0]));
        };
        if (region == Region::Ligament) != (name == surface::LIGAMENT_CREST) {
            return Err(unbounded(region, &p[0]));
        }
        out.entry(name.into()).or_default().push(quadratic(tri)?);
    }
    Ok(out)
}

/// Every free face below the crown lies in a face of the block; one that does not is a crack.
fn unbounded(region: Region, at: &V3) -> MeshError {
    MeshError::NotConforming {
        detail: format!(
            "a face of the {region:?} at ({:.2}, {:.2}, {:.2}) mm bounds nothing",
            at.x, at.y, at.z
        ),
    }
}

fn in_footprint(spec: &ToothInSocket, p: &V3, centre: &V3) -> bool {
    let a = &spec.attachment;
    let across = match a.face {
        Face::Buccal | Face::Lingual => p.y - centre.y,
        Face::Mesial | Face::Distal => p.x - centre.x,
    };
    (p.z - centre.z).abs() <= 0.5 * a.footprint_height_mm && across.abs() <= 0.5 * a.footprint_width_mm
}
