//! Contours of a function on a rectangular grid (marching squares): lines of a level, and closed borders of
//! what lies above it.

use std::collections::BTreeMap;

use super::svg::At;

/// Values on a rectangular grid, given in the coordinates of the drawing.
#[derive(Debug, Clone)]
pub(crate) struct Grid {
    xs: Vec<f64>,
    ys: Vec<f64>,
    /// Row by row: `values[j * xs.len() + i]` belongs to `(xs[i], ys[j])`.
    values: Vec<f64>,
}

/// An edge of the grid by its first point and direction (0 along x, 1 along y).
type Edge = (usize, u8);

impl Grid {
    /// Evaluates `f` at every grid point.
    pub(crate) fn new(xs: Vec<f64>, ys: Vec<f64>, f: impl Fn(usize, usize) -> f64) -> Self {
        let values =
            (0..ys.len()).flat_map(|j| (0..xs.len()).map(move |i| (i, j))).map(|(i, j)| f(i, j)).collect();
        Self { xs, ys, values }
    }

    /// Closed borders of the places where the value is at least `level`, the edge of the grid included.
    pub(crate) fn above(&self, level: f64) -> Vec<Vec<At>> {
        // A rim of no width, far below every level, closes the borders.
        let rim = |line: &[f64]| {
            let mut padded = Vec::with_capacity(line.len() + 2);
            padded.extend(line.first());
            padded.extend(line);
            padded.extend(line.last());
            padded
        };
        let (nx, ny) = (self.xs.len(), self.ys.len());
        let padded = Self::new(rim(&self.xs), rim(&self.ys), |i, j| {
            let inside = (1..=nx).contains(&i) && (1..=ny).contains(&j);
            if inside { self.values[(j - 1) * nx + i - 1] } else { -1e30 }
        });
        padded.chains(level)
    }

    /// Lines along which the value is `level`.
    pub(crate) fn lines(&self, level: f64) -> Vec<Vec<At>> {
        self.chains(level)
    }

    fn value(&self, i: usize, j: usize) -> f64 {
        self.values[j * self.xs.len() + i]
    }

    fn crossing(&self, (start, direction): Edge, level: f64) -> At {
        let nx = self.xs.len();
        let (i, j) = (start % nx, start / nx);
        let (k, l) = if direction == 0 { (i + 1, j) } else { (i, j + 1) };
        let (a, b) = (self.value(i, j), self.value(k, l));
        let t = ((level - a) / (b - a)).clamp(0.0, 1.0);
        [self.xs[i] + t * (self.xs[k] - self.xs[i]), self.ys[j] + t * (self.ys[l] - self.ys[j])]
    }

    fn chains(&self, level: f64) -> Vec<Vec<At>> {
        let nx = self.xs.len();
        let mut next: BTreeMap<Edge, Edge> = BTreeMap::new();
        for j in 0..self.ys.len() - 1 {
            for i in 0..nx - 1 {
                let (bottom, top) = ((j * nx + i, 0), ((j + 1) * nx + i, 0));
                let (left, right) = ((j * nx + i, 1), (j * nx + i + 1, 1));
                let corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)].map(|(i, j)| self.value(i, j));
                let high = corners.map(|v| v >= level);
                let code = high.iter().enumerate().map(|(k, &h)| usize::from(h) << k).sum::<usize>();
                // Directed so that the high side is on the same hand everywhere; saddles by their mean.
                let joined = corners.iter().sum::<f64>() >= 4.0 * level;
                let segments: &[(Edge, Edge)] = &match (code, joined) {
                    (1, _) => vec![(left, bottom)],
                    (2, _) => vec![(bottom, right)],
                    (3, _) => vec![(left, right)],
                    (4, _) => vec![(right, top)],
                    (5, false) => vec![(left, bottom), (right, top)],
                    (5, true) => vec![(left, top), (right, bottom)],
                    (6, _) => vec![(bottom, top)],
                    (7, _) => vec![(left, top)],
                    (8, _) => vec![(top, left)],
                    (9, _) => vec![(top, bottom)],
                    (10, false) => vec![(bottom, right), (top, left)],
                    (10, true) => vec![(bottom, left), (top, right)],
                    (11, _) => vec![(top, right)],
                    (12, _) => vec![(right, left)],
                    (13, _) => vec![(right, bottom)],
                    (14, _) => vec![(bottom, left)],
                    _ => Vec::new(),
                };
                next.extend(segments.iter().copied());
            }
        }
        let mut starts: Vec<Edge> = {
            let ends: std::collections::BTreeSet<Edge> = next.values().copied().collect();
            next.keys().copied().filter(|edge| !ends.contains(edge)).collect()
        };
        starts.extend(next.keys().copied().collect::<Vec<_>>());
        let mut found = Vec::new();
        for start in starts {
            let mut chain = Vec::new();
            let mut at = start;
            while let Some(to) = next.remove(&at) {
                chain.push(self.crossing(at, level));
                at = to;
            }
            if !chain.is_empty() {
                chain.push(self.crossing(at, level));
                found.push(chain);
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cone() -> Grid {
        let line: Vec<f64> = (0..=80).map(|k| f64::from(k) * 0.05 - 2.0).collect();
        let at = line.clone();
        Grid::new(line.clone(), line, move |i, j| 1.0 - at[i].hypot(at[j]))
    }

    fn area(ring: &[At]) -> f64 {
        let doubled: f64 = (0..ring.len())
            .map(|k| {
                let (p, q) = (ring[k], ring[(k + 1) % ring.len()]);
                p[0] * q[1] - q[0] * p[1]
            })
            .sum();
        0.5 * doubled.abs()
    }

    #[test]
    fn a_circle_is_found_as_one_closed_ring() {
        let rings = cone().above(0.0);
        assert_eq!(rings.len(), 1);
        // Area of the unit circle.
        assert!((area(&rings[0]) - std::f64::consts::PI).abs() < 5e-3);
        assert_eq!(cone().lines(0.0).len(), 1);
    }

    #[test]
    fn the_edge_of_the_grid_closes_what_it_cuts() {
        // All of the grid lies above -10; the border is the square itself.
        let rings = cone().above(-10.0);
        assert_eq!(rings.len(), 1);
        assert!((area(&rings[0]) - 16.0).abs() < 1e-9);
        assert!(cone().lines(-10.0).is_empty());
    }

    #[test]
    fn an_open_line_is_one_chain_from_edge_to_edge() {
        let line: Vec<f64> = (0..11).map(f64::from).collect();
        let grid = Grid::new(line.clone(), line, |i, _| i as f64);
        let lines = grid.lines(4.5);
        assert_eq!(lines.len(), 1);
        assert_eq!(lines[0].len(), 11);
        assert!(lines[0].iter().all(|p| (p[0] - 4.5).abs() < 1e-12));
    }
}
