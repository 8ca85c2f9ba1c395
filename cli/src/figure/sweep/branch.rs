//! From computed points to lines that do not lie: a quotient such as the tip for each millimetre runs to infinity where its
//! divisor (the travel of the point) passes through zero, and comes back from the other side. Between two points the
//! dividend and the divisor are taken as straight, which they are exactly along a load; so the pole is found where the
//! divisor is zero, and the line is broken there.

/// A computed point of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    /// Place along the key, a number or a row.
    pub(crate) x: f64,
    /// Its value; not finite where there is none.
    pub(crate) value: f64,
    /// Error of the mesh; not finite where it is not known.
    pub(crate) error: f64,
    /// Dividend and divisor, where the value is a quotient.
    pub(crate) quotient: Option<[f64; 2]>,
}

impl Point {
    /// A value that is no quotient.
    #[cfg(test)]
    pub(crate) fn plain([x, value, error]: [f64; 3]) -> Self {
        Self { x, value, error, quotient: None }
    }
}

/// A line without a break, and its band.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Branch {
    /// Points of the line.
    pub(crate) line: Vec<[f64; 2]>,
    /// Lower and upper side of the band at places of the line: x, low, high. In pieces, since it may leave the range.
    pub(crate) bands: Vec<Vec<[f64; 3]>>,
}

/// Steps between two computed points of a quotient.
const STEPS: usize = 16;
/// Towards a pole each step leaves this share of the way.
const APPROACH: f64 = 0.7;
/// Steps towards a pole: what is left of the way is below a millionth.
const APPROACHES: i32 = 40;

/// Places of the poles between computed points, and of computed points that are poles themselves.
pub(crate) fn poles(points: &[Point]) -> Vec<f64> {
    let mut found: Vec<f64> = points
        .windows(2)
        .filter(|pair| pair.iter().all(is_usable))
        .filter_map(|pair| Some(pair[0].x + share_of_pole(&pair[0], &pair[1])? * (pair[1].x - pair[0].x)))
        .collect();
    // A computed point that is a pole belongs to two pairs.
    found.sort_by(f64::total_cmp);
    found.dedup();
    found
}

/// Share of the way between two points at which the divisor is zero, if it passes through zero or begins or ends there.
fn share_of_pole(a: &Point, b: &Point) -> Option<f64> {
    let ([_, from], [_, to]) = (a.quotient?, b.quotient?);
    (from * to <= 0.0 && (from - to).abs() > 0.0).then(|| from / (from - to))
}

/// Can a line run through a point or at least towards it?
fn is_usable(point: &Point) -> bool {
    let at_pole = point.quotient.is_some_and(|[dividend, divisor]| divisor == 0.0 && dividend.is_finite());
    point.value.is_finite() || at_pole
}

/// The branches of a line, unbounded: broken at poles and where there is no value.
fn whole(points: &[Point]) -> Vec<Vec<Point>> {
    let mut branches = Vec::new();
    for run in points.split(|p| !is_usable(p)) {
        let mut branch: Vec<Point> =
            run.first().filter(|p| p.value.is_finite()).copied().into_iter().collect();
        for pair in run.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            let Some(pole) = share_of_pole(a, b) else {
                let steps = if a.quotient.is_some() && b.quotient.is_some() { STEPS } else { 1 };
                branch.extend((1..steps).map(|k| between(a, b, k as f64 / steps as f64)));
                branch.push(*b);
                continue;
            };
            let left = (1..APPROACHES).map(|k| APPROACH.powi(k));
            if pole > 0.0 {
                branch.extend(left.clone().map(|share| between(a, b, pole * (1.0 - share))));
            }
            branches.push(std::mem::take(&mut branch));
            if pole < 1.0 {
                branch.extend(left.rev().map(|share| between(a, b, pole + (1.0 - pole) * share)));
                branch.push(*b);
            }
        }
        branches.push(branch);
    }
    branches.retain(|branch| !branch.is_empty());
    branches
}

/// The quotient at a share of the way between two points: dividend and divisor straight, and straight too the error times
/// the square of the divisor, which stays finite at a pole.
fn between(a: &Point, b: &Point, share: f64) -> Point {
    let mix = |a: f64, b: f64| a + share * (b - a);
    let ([na, da], [nb, db]) = (a.quotient.unwrap_or([a.value, 1.0]), b.quotient.unwrap_or([b.value, 1.0]));
    let (dividend, divisor) = (mix(na, nb), mix(da, db));
    Point {
        x: mix(a.x, b.x),
        value: dividend / divisor,
        error: mix(a.error * da * da, b.error * db * db) / (divisor * divisor),
        quotient: Some([dividend, divisor]),
    }
}

/// The branches of a line within a range of values: each ends where it leaves the range, and so do the bands.
pub(crate) fn branches(points: &[Point], [low, high]: [f64; 2]) -> Vec<Branch> {
    let mut found = Vec::new();
    for run in whole(points) {
        let mut branch = Branch::default();
        let mut was_inside = false;
        for (k, point) in run.iter().enumerate() {
            if k > 0 {
                let last = &run[k - 1];
                match clipped([last.x, last.value], [point.x, point.value], [low, high]) {
                    Some([from, to]) => {
                        if branch.line.last() != Some(&from) {
                            branch.line.push(from);
                        }
                        branch.line.push(to);
                    }
                    None if !branch.line.is_empty() => {
                        let line = std::mem::take(&mut branch.line);
                        found.push(Branch { line, bands: std::mem::take(&mut branch.bands) });
                    }
                    None => {}
                }
            } else if (low..=high).contains(&point.value) {
                branch.line.push([point.x, point.value]);
            }
            let [bottom, top] = [point.value - point.error, point.value + point.error];
            let is_inside = top >= low && bottom <= high;
            if is_inside {
                let side = [point.x, bottom.clamp(low, high), top.clamp(low, high)];
                match branch.bands.last_mut().filter(|_| was_inside) {
                    Some(band) => band.push(side),
                    None => branch.bands.push(vec![side]),
                }
            }
            was_inside = is_inside;
        }
        found.push(branch);
    }
    found.retain(|branch| !branch.line.is_empty());
    found
}

/// The part of a straight piece within a range of values.
fn clipped(a: [f64; 2], b: [f64; 2], [low, high]: [f64; 2]) -> Option<[[f64; 2]; 2]> {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    let rise = b[1] - a[1];
    for (side, sense) in [(low, 1.0), (high, -1.0)] {
        // Inside where sense * (value - side) >= 0.
        let (start, slope) = (sense * (a[1] - side), sense * rise);
        if slope == 0.0 {
            if start < 0.0 {
                return None;
            }
        } else if slope > 0.0 {
            from = from.max(-start / slope);
        } else {
            to = to.min(-start / slope);
        }
    }
    let at = |share: f64| {
        if share <= 0.0 {
            a
        } else if share >= 1.0 {
            b
        } else {
            [a[0] + share * (b[0] - a[0]), (a[1] + share * rise).clamp(low, high)]
        }
    };
    (from < to || (from <= to && rise == 0.0)).then(|| [at(from), at(to)])
}

#[cfg(test)]
#[path = "branch/tests.rs"]
mod tests;
