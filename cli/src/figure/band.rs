//! The ligament in a section as a band outside the root, thicker than it is, with values along it.

use super::svg::At;

/// Length of the pieces of a band, mm.
const STEP_MM: f64 = 0.12;

/// One run of the band along the root.
#[derive(Debug, Clone)]
pub(crate) struct Band<const N: usize> {
    /// On the root, mm.
    pub(crate) inner: Vec<At>,
    /// On the other side of the band, mm.
    pub(crate) outer: Vec<At>,
    /// Values at the root.
    pub(crate) values: Vec<[f64; N]>,
}

/// Bands along chains of places on the root (the root to the left), `thickness` wide. In a furcation the bands of two
/// walls meet half-way instead of crossing.
pub(crate) fn bands<const N: usize>(chains: &[Vec<(At, [f64; N])>], thickness: f64) -> Vec<Band<N>> {
    let chains: Vec<Vec<(At, [f64; N])>> = chains.iter().map(|chain| even_steps(chain)).collect();
    let walls: Vec<At> = chains.iter().flatten().map(|p| p.0).collect();
    chains
        .into_iter()
        .map(|chain| {
            let inner: Vec<At> = chain.iter().map(|p| p.0).collect();
            let outer = (0..inner.len())
                .map(|k| {
                    let normal = outward(&inner, k);
                    let width = thickness.min(0.97 * room_outward(&walls, inner[k], normal));
                    [inner[k][0] + width * normal[0], inner[k][1] + width * normal[1]]
                })
                .collect();
            Band { inner, outer, values: chain.into_iter().map(|p| p.1).collect() }
        })
        .collect()
}

/// Places and values along a chain in even steps: the cut leaves points of very uneven distance.
fn even_steps<const N: usize>(points: &[(At, [f64; N])]) -> Vec<(At, [f64; N])> {
    let mut along = vec![0.0];
    for pair in points.windows(2) {
        let step = (pair[1].0[0] - pair[0].0[0]).hypot(pair[1].0[1] - pair[0].0[1]);
        along.push(along[along.len() - 1] + step);
    }
    let length = along[along.len() - 1];
    let count = (length / STEP_MM).ceil().max(2.0) as usize;
    let mut k = 0;
    (0..=count)
        .map(|i| {
            let s = length * i as f64 / count as f64;
            while k + 2 < along.len() && along[k + 1] < s {
                k += 1;
            }
            let (a, b) = (points[k], points[(k + 1).min(points.len() - 1)]);
            let gap = along[(k + 1).min(along.len() - 1)] - along[k];
            let t = if gap > 0.0 { ((s - along[k]) / gap).clamp(0.0, 1.0) } else { 0.0 };
            let mix = |a: f64, b: f64| a + t * (b - a);
            ([mix(a.0[0], b.0[0]), mix(a.0[1], b.0[1])], std::array::from_fn(|n| mix(a.1[n], b.1[n])))
        })
        .collect()
}

/// Unit normal of a chain with the body to its left, pointing away from the body.
fn outward(points: &[At], k: usize) -> At {
    let last = points.len() - 1;
    // A few points to each side even out the small steps between elements.
    let (a, b) = (points[k.saturating_sub(2)], points[(k + 2).min(last)]);
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx.hypot(dy).max(1e-12);
    [dy / length, -dx / length]
}

/// Radius of the largest circle that touches the root at a place from outside and holds no other place of it.
fn room_outward(walls: &[At], place: At, normal: At) -> f64 {
    walls
        .iter()
        .map(|q| [q[0] - place[0], q[1] - place[1]])
        .filter_map(|d| {
            let (ahead, squared) = (d[0] * normal[0] + d[1] * normal[1], d[0] * d[0] + d[1] * d[1]);
            // Neighbours on the same wall are ahead by the noise of the elements only.
            (squared > 0.04 && ahead > 0.15 * squared.sqrt()).then(|| 0.5 * squared / ahead)
        })
        .fold(f64::INFINITY, f64::min)
}
