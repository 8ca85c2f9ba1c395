//! A triangulated unit disc: a fan of six sectors about the axis, then rings of equal count.

use nalgebra::Point3;

use crate::error::MeshError;
use crate::sweep::{Sheet, check_count};

/// Vertices of the disc in rings: the centre, ring k of the core with 6 k vertices, then rings of `around`.
#[derive(Debug, Clone)]
pub(crate) struct Rings {
    /// Vertices in a full ring, a multiple of six.
    pub(crate) around: usize,
    /// Rings of the core; the last one is full.
    pub(crate) core: usize,
    /// Radii of all rings, the last one 1; ring 0 is the centre.
    pub(crate) radii: Vec<f64>,
}

/// Refuses counts that make no disc.
pub(crate) fn check_rings(around: usize, rings: usize, grading: f64) -> Result<(), MeshError> {
    check_count("disc.around", around, 6, 100_000)?;
    if !around.is_multiple_of(6) {
        return Err(MeshError::OutOfRange {
            key: "disc.around",
            value: around as f64,
            allowed: "must be a multiple of six".into(),
        });
    }
    check_count("disc.rings", rings, around / 6 + 1, 100_000)?;
    if !(0.0..=0.95).contains(&grading) {
        return Err(MeshError::OutOfRange {
            key: "disc.grading",
            value: grading,
            allowed: "must lie between 0 and 0.95".into(),
        });
    }
    Ok(())
}

impl Rings {
    /// `count` rings, finer toward the rim by `grading` (0 even, towards 1 a sine). Arguments as checked by
    /// [`check_rings`].
    pub(crate) fn new(around: usize, count: usize, grading: f64) -> Self {
        let radii = (0..=count).map(|k| graded(k as f64 / count as f64, grading)).collect();
        Self { around, core: around / 6, radii }
    }

    /// Number of vertices in a ring.
    pub(crate) fn size(&self, ring: usize) -> usize {
        if ring == 0 { 1 } else { self.around.min(6 * ring) }
    }

    /// Number of the first vertex of a ring.
    pub(crate) fn first(&self, ring: usize) -> usize {
        if ring == 0 {
            return 0;
        }
        let fan = ring.min(self.core + 1);
        1 + 3 * fan * (fan - 1) + (ring - fan) * self.around
    }

    /// Ring of a vertex and its angle, radians.
    pub(crate) fn polar(&self, vertex: u32) -> (usize, f64) {
        let ring = (0..self.radii.len()).rfind(|&ring| self.first(ring) <= vertex as usize).unwrap_or(0);
        let place = vertex as usize - self.first(ring);
        (ring, std::f64::consts::TAU * place as f64 / self.size(ring) as f64)
    }

    /// Triangles of the core only: the disc inside ring `core`.
    pub(crate) fn core_triangles(&self) -> Vec<[u32; 3]> {
        let mut triangles = Vec::new();
        for ring in 1..=self.core {
            let (inner, outer) = (self.first(ring - 1), self.first(ring));
            let (m, n) = (self.size(ring - 1), self.size(ring));
            for sector in 0..6 {
                for i in 0..ring {
                    let a = outer + (sector * ring + i) % n;
                    let b = outer + (sector * ring + i + 1) % n;
                    let c = inner + (sector * (ring - 1) + i) % m;
                    triangles.push([a as u32, b as u32, c as u32]);
                    if i + 1 < ring {
                        let d = inner + (sector * (ring - 1) + i + 1) % m;
                        triangles.push([b as u32, d as u32, c as u32]);
                    }
                }
            }
        }
        triangles
    }

    /// The whole disc; normals along +z. In full rings mid-side points lie on circles; toward the centre they
    /// approach the middle of the chord, so that the mapping is smooth there.
    pub(crate) fn sheet(&self) -> Sheet {
        let mut triangles = self.core_triangles();
        for ring in self.core + 1..self.radii.len() {
            let (inner, outer, n) = (self.first(ring - 1), self.first(ring), self.around);
            for i in 0..n {
                // The diagonal leaves the smaller inner vertex for the larger outer one.
                let (low, high) = if i + 1 < n { (i, i + 1) } else { (0, n - 1) };
                let [a, b] = [inner + i, inner + (i + 1) % n];
                let [d, c] = [outer + i, outer + (i + 1) % n];
                let (p, q) = (inner + low, outer + high);
                for corner in [[a, d, c], [a, c, b], [a, d, b], [d, c, b]] {
                    if corner.contains(&p) && corner.contains(&q) {
                        triangles.push(corner.map(|v| v as u32));
                    }
                }
            }
        }
        let count = self.first(self.radii.len() - 1) + self.around;
        let place = (0..count as u32).map(|v| self.polar(v)).collect::<Vec<_>>();
        let point = |(ring, angle): (usize, f64)| polar_point(self.radii[ring], angle);
        let vertices = place.iter().map(|&p| point(p)).collect();
        Sheet::new(vertices, triangles, |m, n| {
            let ((ring_m, angle_m), (ring_n, angle_n)) = (place[m as usize], place[n as usize]);
            let chord = nalgebra::center(&point((ring_m, angle_m)), &point((ring_n, angle_n)));
            if ring_m == 0 || ring_n == 0 {
                return chord;
            }
            let radius = f64::midpoint(self.radii[ring_m], self.radii[ring_n]);
            let arc = polar_point(radius, middle_angle(angle_m, angle_n));
            let weight = (radius / self.radii[self.core]).min(1.0).powi(2);
            chord + (arc - chord) * weight
        })
    }
}

/// Half-way between two angles less than half a turn apart.
pub(crate) fn middle_angle(a: f64, b: f64) -> f64 {
    let middle = f64::midpoint(a, b);
    if (a - b).abs() > std::f64::consts::PI { middle + std::f64::consts::PI } else { middle }
}

fn polar_point(radius: f64, angle: f64) -> Point3<f64> {
    let (sine, cosine) = angle.sin_cos();
    Point3::new(radius * cosine, radius * sine, 0.0)
}

/// 0 to 1, odd in `x`, with steps that shrink toward 1.
fn graded(x: f64, grading: f64) -> f64 {
    (1.0 - grading) * x + grading * (std::f64::consts::FRAC_PI_2 * x).sin()
}
