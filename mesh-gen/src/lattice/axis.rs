//! Map from lattice units to millimetres along one axis, so that given planes fall on lattice planes.

/// Lattice units in one coarse cell.
pub(crate) const COARSE: i32 = 64;

/// Piecewise linear map through (unit, mm) knots.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    knots: Vec<(i32, f64)>,
    /// Coarse cells in all; the axis starts at unit 0.
    pub(crate) cells: i32,
}

impl Axis {
    /// Axis that covers [`from`, `to`] with coarse cells of about `coarse` mm, such that `low` and `high`
    /// fall on coarse planes and the inner planes, given as distances from `low` and `high`, on planes of
    /// half or quarter cells. Returns the axis and the units of low, high and the inner planes.
    pub(crate) fn new(
        from: f64,
        low: f64,
        high: f64,
        to: f64,
        coarse: f64,
        inner: (Option<f64>, Option<f64>),
    ) -> (Self, AxisPlanes) {
        let before = ((low - from) / coarse).ceil().max(0.0) as i32;
        let after = ((to - high) / coarse).ceil().max(0.0) as i32;
        let middle = (((high - low) / coarse).round() as i32).max(1);
        let cell = (high - low) / f64::from(middle);
        let low_unit = before * COARSE;
        let high_unit = low_unit + middle * COARSE;
        let quarter = COARSE / 4;
        let units = |distance: f64| {
            let raw = distance / cell * f64::from(COARSE);
            // Prefer the half cell unless a quarter is much nearer.
            let half = ((raw / f64::from(2 * quarter)).round() as i32).max(0) * 2 * quarter;
            if half > 0 && (f64::from(half) - raw).abs() < 0.35 * raw {
                half
            } else {
                ((raw / f64::from(quarter)).round() as i32).max(1) * quarter
            }
        };
        let mut knots = vec![
            (0, low - f64::from(before) * coarse),
            (low_unit, low),
            (high_unit, high),
            (high_unit + after * COARSE, high + f64::from(after) * coarse),
        ];
        let mut planes = AxisPlanes { low: low_unit, high: high_unit, inner: Vec::new() };
        let near = inner.0.map(|d| (low_unit + units(d), low + d));
        let far = inner.1.map(|d| (high_unit - units(d), high - d));
        let room = match (near, far) {
            (Some(a), Some(b)) => a.0 + quarter <= b.0 && a.1 < b.1,
            (Some(a), None) => a.0 < high_unit && a.1 < high,
            (None, Some(b)) => b.0 > low_unit && b.1 > low,
            (None, None) => false,
        };
        if room {
            for knot in [near, far].into_iter().flatten() {
                knots.push(knot);
                planes.inner.push(knot.0);
            }
        }
        knots.sort_by_key(|k| k.0);
        knots.dedup_by_key(|k| k.0);
        (Self { knots, cells: before + middle + after }, planes)
    }

    /// Position of a unit, mm.
    pub(crate) fn at(&self, unit: i32) -> f64 {
        let i = self.knots.partition_point(|k| k.0 <= unit).clamp(1, self.knots.len() - 1);
        let (u0, x0) = self.knots[i - 1];
        let (u1, x1) = self.knots[i];
        x0 + (x1 - x0) * f64::from(unit - u0) / f64::from(u1 - u0)
    }
}

/// Units of the planes of one axis.
#[derive(Debug, Clone)]
pub(crate) struct AxisPlanes {
    pub(crate) low: i32,
    pub(crate) high: i32,
    pub(crate) inner: Vec<i32>,
}
