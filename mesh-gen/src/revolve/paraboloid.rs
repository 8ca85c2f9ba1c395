//! The idealised root of the literature: a paraboloid, its ligament in layers, and the bone around it.

use std::collections::BTreeMap;

use nalgebra::{Point3, Vector3};

use super::disc::{Rings, check_rings};
use super::{between, check_count, check_length, check_size};
use crate::error::MeshError;
use crate::mesh::{Region, TetMesh, surface};
use crate::sweep::Swept;

mod solid;

/// How the ligament's thickness runs from crest to apex.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ThicknessLaw {
    /// The socket is the root stretched about the centre of its rim: half axes and length grow by the thickness.
    Stretched,
    /// The same thickness along the normal of the root everywhere.
    Uniform(CrestEdge),
}

/// Shape of the free ring of a uniform ligament at the crest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CrestEdge {
    /// Along the root's normal, so a little lower on the bone's side.
    Normal,
    /// In the plane of the crest.
    Flush,
}

/// Bodies that are meshed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ParaboloidBodies {
    /// The ligament alone, for rigid tooth and bone. Surfaces: `root`, `socket_wall`, `ligament_crest`.
    Ligament,
    /// Ligament and a bowl of cancellous bone. Surfaces also: `bone_crest`, `fixed` (outer face of the bowl).
    LigamentAndBone {
        /// Thickness of the bowl, mm.
        bone_mm: f64,
        /// Elements through it; they grow outward.
        bone_layers: usize,
    },
    /// Ligament, bone and the tooth: the root, and a crown that is a straight stub on its rim. Surfaces also:
    /// `crown` (all of the tooth's free surface).
    All {
        /// Thickness of the bowl, mm.
        bone_mm: f64,
        /// Elements through it; they grow outward.
        bone_layers: usize,
        /// Height of the crown above the rim, mm.
        crown_mm: f64,
    },
}

impl ParaboloidBodies {
    /// Thickness of the bone and elements through it.
    fn bone(&self) -> Option<(f64, usize)> {
        match *self {
            Self::Ligament => None,
            Self::LigamentAndBone { bone_mm, bone_layers } | Self::All { bone_mm, bone_layers, .. } => {
                Some((bone_mm, bone_layers))
            }
        }
    }
}

/// Paraboloid root, x^2/a^2 + y^2/b^2 = s^2, z = -h (1 - s^2), in its ligament.
///
/// The rim of the whole root (s = 1) lies in the plane z = 0, the apex at z = -h. Bone loss lowers the crest to
/// z = -loss: the ligament ends there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParaboloidRoot {
    /// Half axis a of the rim along x, mm.
    pub half_axis_x_mm: f64,
    /// Half axis b of the rim along y, mm.
    pub half_axis_y_mm: f64,
    /// Length h from rim to apex, mm.
    pub length_mm: f64,
    /// Ligament thickness, mm.
    pub thickness_mm: f64,
    /// Law of the thickness.
    pub law: ThicknessLaw,
    /// How far the crest lies below the rim, mm.
    pub bone_loss_mm: f64,
    /// What is meshed.
    pub bodies: ParaboloidBodies,
    /// Elements around, a multiple of six.
    pub around: usize,
    /// Rings of elements from apex to crest, more than `around / 6`.
    pub rings: usize,
    /// Ligament elements through the thickness.
    pub layers: usize,
    /// How much finer the rings are near the crest: 0 (even) to 0.95.
    pub crest_grading: f64,
}

impl ParaboloidRoot {
    /// The root of Haack and Haft 1972 and Provatidis 2001 (from memory): half axis 3.9 mm, length 13 mm,
    /// ligament 0.229 mm, here the ligament alone.
    #[must_use]
    pub fn reference(law: ThicknessLaw) -> Self {
        Self {
            half_axis_x_mm: 3.9,
            half_axis_y_mm: 3.9,
            length_mm: 13.0,
            thickness_mm: 0.229,
            law,
            bone_loss_mm: 0.0,
            bodies: ParaboloidBodies::Ligament,
            around: 24,
            rings: 16,
            layers: 2,
            crest_grading: 0.6,
        }
    }

    /// The mesh.
    ///
    /// # Errors
    /// [`MeshError::OutOfRange`] for numbers that make no root; [`MeshError::Inverted`] if the elements are too
    /// coarse for the shape.
    pub fn mesh(&self) -> Result<TetMesh, MeshError> {
        let bone_layers = self.check()?;
        let rings = Rings::new(self.around, self.rings, self.crest_grading);
        // Levels go outward, so downward at the apex.
        let sheet = rings.sheet().flipped();
        let swept = Swept::new(&sheet, self.layers + bone_layers);
        let meridian = Meridian::new(self);
        let mut nodes = swept.positions(|p, half| self.position(&meridian, p, half));
        let region =
            |layer: usize| if layer < self.layers { Region::Ligament } else { Region::CancellousBone };
        let mut regions = swept.layer_of.iter().map(|&layer| region(layer)).collect::<Vec<_>>();
        let mut surfaces = BTreeMap::from([
            (surface::ROOT.to_owned(), swept.level(0, false)),
            (surface::SOCKET_WALL.to_owned(), swept.level(self.layers, false)),
            (surface::LIGAMENT_CREST.to_owned(), swept.side(0..self.layers, |_| true)),
        ]);
        if bone_layers > 0 {
            let last = self.layers + bone_layers;
            surfaces.insert(surface::FIXED.to_owned(), swept.level(last, false));
            surfaces.insert(surface::BONE_CREST.to_owned(), swept.side(self.layers..last, |_| true));
        }
        let mut cells = swept.cells;
        if let ParaboloidBodies::All { crown_mm, .. } = self.bodies {
            let solid = solid::fill(self, &rings, &sheet, nodes.clone(), crown_mm);
            nodes.extend(solid.nodes);
            regions.resize(cells.len() + solid.cells.len(), Region::Tooth);
            cells.extend(solid.cells);
            surfaces.insert(surface::CROWN.to_owned(), solid.crown);
        }
        TetMesh::new(nodes, cells, regions, surfaces)
    }

    fn check(&self) -> Result<usize, MeshError> {
        check_length("paraboloid.half_axis_x_mm", self.half_axis_x_mm)?;
        check_length("paraboloid.half_axis_y_mm", self.half_axis_y_mm)?;
        check_length("paraboloid.length_mm", self.length_mm)?;
        check_length("paraboloid.thickness_mm", self.thickness_mm)?;
        let most = 0.9 * self.length_mm;
        if !(0.0..=most).contains(&self.bone_loss_mm) {
            return Err(MeshError::OutOfRange {
                key: "paraboloid.bone_loss_mm",
                value: self.bone_loss_mm,
                allowed: format!("must lie between 0 and {most}"),
            });
        }
        check_rings(self.around, self.rings, self.crest_grading)?;
        check_count("paraboloid.layers", self.layers, 1, 1000)?;
        let bone_layers = self.bodies.bone().map_or(0, |bone| bone.1);
        if let Some((bone_mm, bone_layers)) = self.bodies.bone() {
            check_length("paraboloid.bone_mm", bone_mm)?;
            check_count("paraboloid.bone_layers", bone_layers, 1, 1000)?;
        }
        if let ParaboloidBodies::All { crown_mm, .. } = self.bodies {
            check_length("paraboloid.crown_mm", crown_mm)?;
            // Discs of the tooth, at most 2000 of them on the crown.
            check_size("paraboloid.around", &[self.around, self.around, self.rings + 2000])?;
        }
        check_size(
            "paraboloid.rings",
            &[2 * self.around, 2 * self.rings + 1, 2 * (self.layers + bone_layers) + 1],
        )?;
        Ok(bone_layers)
    }

    /// Position of a sheet point on a half-level. The radius of `p` is the fraction of the root's meridian.
    fn position(&self, meridian: &Meridian, p: Point3<f64>, half: usize) -> Point3<f64> {
        let u = p.coords.xy().norm();
        let s = meridian.rim_fraction(u);
        let direction = if u > 0.0 { p.coords / u } else { Vector3::x() };
        let root = self.root_point(direction, s);
        let reach = s / meridian.crest;
        let (wall_rim, wall_rim_z) = self.wall_rim(meridian, direction);
        let wall = self.wall_point(direction, reach * wall_rim);
        let ligament = 2 * self.layers;
        if half <= ligament {
            return between(root, wall, half as f64 / ligament as f64);
        }
        let Some((bone_mm, bone_layers)) = self.bodies.bone() else {
            return wall;
        };
        let extra = self.thickness_mm + bone_mm;
        let outer_rim = (1.0 + wall_rim_z / (self.length_mm + extra)).max(0.0).sqrt();
        let outer = self.stretched_point(direction, reach * outer_rim, extra);
        let x = (half - ligament) as f64 / (2 * bone_layers) as f64;
        // Quadratic growth: the first bone element has about the size that the last layers of ligament ask for.
        between(wall, outer, 0.3 * x + 0.7 * x * x)
    }

    fn root_point(&self, direction: Vector3<f64>, s: f64) -> Point3<f64> {
        self.stretched_point(direction, s, 0.0)
    }

    /// Point of the root stretched by `extra`.
    fn stretched_point(&self, direction: Vector3<f64>, s: f64, extra: f64) -> Point3<f64> {
        Point3::new(
            (self.half_axis_x_mm + extra) * s * direction.x,
            (self.half_axis_y_mm + extra) * s * direction.y,
            -(self.length_mm + extra) * (1.0 - s * s),
        )
    }

    /// Fraction of the half axes that the tooth has at a height, root and crown.
    fn outline(&self, z: f64) -> f64 {
        (1.0 + z.min(0.0) / self.length_mm).max(0.0).sqrt()
    }

    fn wall_point(&self, direction: Vector3<f64>, s: f64) -> Point3<f64> {
        match self.law {
            ThicknessLaw::Stretched => self.stretched_point(direction, s, self.thickness_mm),
            ThicknessLaw::Uniform(_) => {
                // Gradient of h (x^2/a^2 + y^2/b^2 - 1) - z.
                let slope = 2.0 * self.length_mm * s;
                let (a, b) = (self.half_axis_x_mm, self.half_axis_y_mm);
                let normal = Vector3::new(slope * direction.x / a, slope * direction.y / b, -1.0).normalize();
                self.root_point(direction, s) + normal * self.thickness_mm
            }
        }
    }

    /// Where the socket wall ends at the crest: its s and its height.
    fn wall_rim(&self, meridian: &Meridian, direction: Vector3<f64>) -> (f64, f64) {
        let crest = -self.bone_loss_mm;
        match self.law {
            ThicknessLaw::Stretched => {
                ((1.0 - self.bone_loss_mm / (self.length_mm + self.thickness_mm)).sqrt(), crest)
            }
            ThicknessLaw::Uniform(CrestEdge::Normal) => {
                (meridian.crest, self.wall_point(direction, meridian.crest).z)
            }
            ThicknessLaw::Uniform(CrestEdge::Flush) => {
                // The wall rises with s and ends below the crest at the root's own s: bisect above it.
                let below = meridian.crest;
                let above = (below * below + self.thickness_mm / self.length_mm).sqrt();
                (bisect(below, above, |s| self.wall_point(direction, s).z - crest), crest)
            }
        }
    }
}

/// Arc length along the meridian of the mean paraboloid, from the apex to the crest.
struct Meridian {
    /// Mean half axis, mm.
    half_axis: f64,
    /// Length, mm.
    length: f64,
    /// s at the crest.
    crest: f64,
}

impl Meridian {
    fn new(root: &ParaboloidRoot) -> Self {
        Self {
            half_axis: f64::midpoint(root.half_axis_x_mm, root.half_axis_y_mm),
            length: root.length_mm,
            crest: (1.0 - root.bone_loss_mm / root.length_mm).sqrt(),
        }
    }

    /// Integral of sqrt(R^2 + 4 h^2 s^2) from 0 to s, mm.
    fn arc(&self, s: f64) -> f64 {
        let (r, h) = (self.half_axis, self.length);
        s / 2.0 * (2.0 * h * s).hypot(r) + r * r / (4.0 * h) * (2.0 * h * s / r).asinh()
    }

    /// s at a fraction of the arc from apex to crest.
    fn rim_fraction(&self, fraction: f64) -> f64 {
        if fraction >= 1.0 {
            return self.crest;
        }
        let wanted = fraction * self.arc(self.crest);
        bisect(0.0, self.crest, |s| self.arc(s) - wanted)
    }
}

/// Zero of a rising function.
fn bisect(mut low: f64, mut high: f64, rising: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if rising(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}
