//! The surface of the root unrolled: the trunk around its centre line, and below the furcation each root around its own.
//!
//! The surface is cut at the highest level below which it falls into as many pieces as the tooth has roots. Angles are
//! seen from above, 0 to buccal and 90 degrees to mesial. Where the end of a root closes, the unrolling has a pole: there a
//! place takes the value next to it.

use std::collections::BTreeMap;

use nalgebra::Point3;

/// Half the thickness of the slices that a centre line is made of, mm.
const SLICE_MM: f64 = 0.6;
/// Steps of levels at which the surface is cut on trial, mm.
const LEVEL_MM: f64 = 0.1;
/// Pieces with fewer triangles are crumbs of the cut.
const CRUMB: usize = 12;

/// A piece of the surface with values over angle and depth.
#[derive(Debug, Clone)]
pub(crate) struct Sheet {
    /// Where the piece lies: the mean of its points, mm.
    pub(crate) middle: Point3<f64>,
    /// Upper and lower end, mm below the crest.
    pub(crate) depths: [f64; 2],
    /// Values, row by row from the upper end, angles from -180 to 180 degrees.
    pub(crate) values: Vec<f64>,
    /// Columns and rows.
    pub(crate) size: [usize; 2],
}

/// The root's surface: flat triangles over points with values.
pub(crate) struct Surface<'a> {
    pub(crate) points: &'a [Point3<f64>],
    pub(crate) values: &'a [f64],
    pub(crate) triangles: &'a [[usize; 3]],
}

impl Surface<'_> {
    /// The trunk, then the roots from buccal to lingual, or the one root alone.
    pub(crate) fn unrolled(&self, roots: usize, columns: usize, rows_per_mm: f64) -> Vec<Sheet> {
        let floor = self.points.iter().map(|p| -p.z).fold(0.0, f64::max);
        let all: Vec<usize> = (0..self.triangles.len()).collect();
        let Some((level, pieces)) = self.split(roots, floor) else {
            return vec![self.sheet(&all, [0.0, floor], columns, rows_per_mm)];
        };
        let trunk: Vec<usize> = self.those(|z| z > level - 0.5 * SLICE_MM);
        let mut sheets: Vec<Sheet> = pieces
            .iter()
            .map(|piece| {
                let end = self.depth_of(piece);
                // Triangles that the cut runs through belong to the root they reach into.
                let mut whole = piece.clone();
                whole.extend(self.neighbours(piece, level));
                self.sheet(&whole, [-level, end], columns, rows_per_mm)
            })
            .collect();
        sheets.sort_by(|a, b| b.middle.x.total_cmp(&a.middle.x));
        sheets.insert(0, self.sheet(&trunk, [0.0, -level], columns, rows_per_mm));
        sheets
    }

    /// Triangles of which a corner's height passes.
    fn those(&self, passes: impl Fn(f64) -> bool) -> Vec<usize> {
        let chosen = |t: &&usize| self.triangles[**t].iter().any(|&n| passes(self.points[n].z));
        (0..self.triangles.len()).collect::<Vec<_>>().iter().filter(chosen).copied().collect()
    }

    fn depth_of(&self, piece: &[usize]) -> f64 {
        piece.iter().flat_map(|&t| self.triangles[t]).map(|n| -self.points[n].z).fold(0.0, f64::max)
    }

    /// The highest level (as a height) below which there are as many pieces as roots, and the pieces.
    fn split(&self, roots: usize, floor: f64) -> Option<(f64, Vec<Vec<usize>>)> {
        if roots < 2 {
            return None;
        }
        let steps = (floor / LEVEL_MM) as usize;
        (1..steps).map(|k| -LEVEL_MM * k as f64).find_map(|level| {
            let pieces = self.pieces_below(level);
            (pieces.len() == roots).then_some((level, pieces))
        })
    }

    /// Connected pieces of the triangles that lie wholly below a level.
    fn pieces_below(&self, level: f64) -> Vec<Vec<usize>> {
        let below: Vec<usize> = (0..self.triangles.len())
            .filter(|&t| self.triangles[t].iter().all(|&n| self.points[n].z < level))
            .collect();
        let mut leader: BTreeMap<usize, usize> = BTreeMap::new();
        for &t in &below {
            let [a, b, c] = self.triangles[t];
            for n in [a, b, c] {
                leader.entry(n).or_insert(n);
            }
            let top = [a, b, c].map(|n| find(&leader, n)).into_iter().min().unwrap_or(a);
            for n in [a, b, c] {
                let root = find(&leader, n);
                leader.insert(root, top);
                leader.insert(n, top);
            }
        }
        let mut pieces: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &t in &below {
            pieces.entry(find(&leader, self.triangles[t][0])).or_default().push(t);
        }
        pieces.into_values().filter(|piece| piece.len() >= CRUMB).collect()
    }

    /// Triangles across a level that share a corner below it with a piece, and those that touch these above.
    fn neighbours(&self, piece: &[usize], level: f64) -> Vec<usize> {
        let corners: std::collections::BTreeSet<usize> =
            piece.iter().flat_map(|&t| self.triangles[t]).collect();
        (0..self.triangles.len())
            .filter(|&t| {
                let triangle = self.triangles[t];
                triangle.iter().any(|&n| self.points[n].z >= level)
                    && triangle.iter().any(|n| corners.contains(n))
            })
            .collect()
    }

    /// Unrolls some triangles around their centre line.
    fn sheet(&self, triangles: &[usize], depths: [f64; 2], columns: usize, rows_per_mm: f64) -> Sheet {
        let used: std::collections::BTreeSet<usize> =
            triangles.iter().flat_map(|&t| self.triangles[t]).collect();
        let places: Vec<Point3<f64>> = used.iter().map(|&n| self.points[n]).collect();
        let line = CentreLine::new(&places);
        let rows = (((depths[1] - depths[0]) * rows_per_mm).ceil() as usize).max(3);
        let size = [columns, rows];
        let mut values = vec![None; columns * rows];
        let row_of = |z: f64| (-z - depths[0]) / (depths[1] - depths[0]) * (rows - 1) as f64;
        let column_of = |angle: f64| (angle + 180.0) / 360.0 * (columns - 1) as f64;
        for &t in triangles {
            let corners = self.triangles[t].map(|n| {
                let (p, middle) = (self.points[n], line.at(self.points[n].z));
                ((p.y - middle[1]).atan2(p.x - middle[0]).to_degrees(), p.z, self.values[n])
            });
            // Angles near the first corner's.
            let first = corners[0].0;
            let near = corners.map(|(a, z, v)| (a - 360.0 * ((a - first) / 360.0).round(), z, v));
            let spread = near.iter().map(|c| (c.0 - first).abs()).fold(0.0, f64::max);
            if spread > 120.0 {
                continue;
            }
            for turn in [-360.0, 0.0, 360.0] {
                let flat = near.map(|(a, z, v)| ([column_of(a + turn), row_of(z)], v));
                fill(&flat, size, &mut values);
            }
        }
        let count = places.len().max(1) as f64;
        let middle = Point3::from(places.iter().map(|p| p.coords).sum::<nalgebra::Vector3<f64>>() / count);
        Sheet { middle, depths, values: closed(&values, size), size }
    }
}

/// The leader of a point's piece.
fn find(leader: &BTreeMap<usize, usize>, mut n: usize) -> usize {
    while let Some(&up) = leader.get(&n).filter(|&&up| up != n) {
        n = up;
    }
    n
}

/// Centres of slices from bottom to top.
struct CentreLine {
    lowest: f64,
    centres: Vec<[f64; 2]>,
}

impl CentreLine {
    fn new(places: &[Point3<f64>]) -> Self {
        let (low, high) = places.iter().fold((0.0_f64, -1e9_f64), |(a, b), p| (a.min(p.z), b.max(p.z)));
        let count = ((high - low) / LEVEL_MM).ceil().max(1.0) as usize;
        let centres = (0..=count).map(|k| centre(places, low + LEVEL_MM * k as f64)).collect();
        Self { lowest: low, centres }
    }

    fn at(&self, z: f64) -> [f64; 2] {
        let along = ((z - self.lowest) / LEVEL_MM).clamp(0.0, self.centres.len() as f64 - 1.001);
        let (k, t) = (along as usize, along.fract());
        [0, 1].map(|i| self.centres[k][i] + t * (self.centres[k + 1][i] - self.centres[k][i]))
    }
}

/// Centre of the points of a slice around a height; of the nearest points where the slice is empty.
fn centre(places: &[Point3<f64>], z: f64) -> [f64; 2] {
    let mut half = SLICE_MM;
    loop {
        let slice: Vec<&Point3<f64>> = places.iter().filter(|p| (p.z - z).abs() <= half).collect();
        if slice.len() >= 8 || half > 50.0 {
            let reach = |k: usize| {
                let (low, high) =
                    slice.iter().fold((f64::MAX, f64::MIN), |(a, b), p| (a.min(p[k]), b.max(p[k])));
                0.5 * (low + high)
            };
            return [reach(0), reach(1)];
        }
        half *= 2.0;
    }
}

/// Writes a flat triangle's values, linear between its corners, on the grid points it covers.
fn fill(corners: &[([f64; 2], f64); 3], [columns, rows]: [usize; 2], values: &mut [Option<f64>]) {
    let [(a, va), (b, vb), (c, vc)] = *corners;
    let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    if area.abs() < 1e-12 {
        return;
    }
    let range = |k: usize, count: usize| {
        let low = a[k].min(b[k]).min(c[k]).ceil().max(0.0);
        let high = a[k].max(b[k]).max(c[k]).floor().min(count as f64 - 1.0);
        if low > high { 0..0 } else { low as usize..high as usize + 1 }
    };
    for j in range(1, rows) {
        for i in range(0, columns) {
            let p = [i as f64, j as f64];
            let side = |p: [f64; 2], q: [f64; 2], s: [f64; 2]| {
                ((q[0] - p[0]) * (s[1] - p[1]) - (q[1] - p[1]) * (s[0] - p[0])) / area
            };
            let (la, lb, lc) = (side(b, c, p), side(c, a, p), side(a, b, p));
            if la >= -1e-9 && lb >= -1e-9 && lc >= -1e-9 {
                values[j * columns + i] = Some(la * va + lb * vb + lc * vc);
            }
        }
    }
}

/// Fills what no triangle covered from the nearest value of its column, or else of its row.
fn closed(values: &[Option<f64>], [columns, rows]: [usize; 2]) -> Vec<f64> {
    let nearest = |own: usize, count: usize, at: &dyn Fn(usize) -> Option<f64>| {
        (0..count).find_map(|off| {
            let down = own.checked_sub(off).and_then(at);
            down.or_else(|| (own + off < count).then(|| at(own + off)).flatten())
        })
    };
    (0..rows * columns)
        .map(|k| {
            let (i, j) = (k % columns, k / columns);
            nearest(j, rows, &|row| values[row * columns + i])
                .or_else(|| nearest(i, columns, &|column| values[j * columns + column]))
                .unwrap_or(0.0)
        })
        .collect()
}

#[cfg(test)]
#[path = "unroll/tests.rs"]
mod tests;
