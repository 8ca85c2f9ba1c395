//! The same estimate for the numbers of one plane of action, reduced once so that many loads cost little each: of every
//! piece only the three coefficients of [`PlanarResistance::coefficients`] count.

use nalgebra::{Matrix6, Point3};

use super::{Discretisation, ELEMENTS, ErrorEstimate, THICKNESS};
use crate::compliance::Compliance;
use crate::resistance::{PlanarResistance, Plane};

/// Pieces that are summed side by side.
const LANES: usize = 8;

/// What is estimated to be missing from the three coefficients of a plane, in pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanarDiscretisation {
    coefficients: [f64; 3],
    missing: [f64; 3],
    /// Coefficients of what the thickness changes in all.
    shift: [f64; 3],
    /// Coefficients of the pieces, eight pieces together; the last are filled up with zeros.
    elements: Vec<[[f64; LANES]; 3]>,
    thickness: Vec<[[f64; LANES]; 3]>,
}

impl PlanarDiscretisation {
    /// Reduces an estimate, made at the compliance's own point, to a plane.
    #[must_use]
    pub fn new(found: &Discretisation, compliance: &Compliance, plane: Plane) -> Self {
        let point: Point3<f64> = compliance.point;
        let reduce =
            |matrix: Matrix6<f64>| PlanarResistance::coefficients(&Compliance { point, matrix }, plane);
        let pack = |pieces: &[Matrix6<f64>]| {
            let all: Vec<[f64; 3]> = pieces.iter().map(|piece| reduce(*piece)).collect();
            all.chunks(LANES)
                .map(|chunk| {
                    std::array::from_fn(|c| {
                        std::array::from_fn(|lane| chunk.get(lane).map_or(0.0, |piece| piece[c]))
                    })
                })
                .collect()
        };
        Self {
            coefficients: PlanarResistance::coefficients(compliance, plane),
            missing: reduce(found.of_elements() + found.of_thickness()),
            shift: reduce(found.of_thickness()),
            elements: pack(&found.elements),
            thickness: pack(&found.thickness),
        }
    }

    /// The coefficients as computed, to be used as [`PlanarResistance::from_coefficients`] does.
    #[must_use]
    pub fn coefficients(&self) -> [f64; 3] {
        self.coefficients
    }

    /// Error of several numbers at once; `numbers` gives them for coefficients. The same estimates as
    /// [`Discretisation::errors`] gives, up to the rounding of its differences.
    #[must_use]
    pub fn errors<const N: usize>(
        &self,
        numbers: impl Fn([f64; 3]) -> [f64; N],
    ) -> ([f64; N], [ErrorEstimate; N]) {
        const STEP: f64 = 1e-5;
        let c = self.coefficients;
        let now = numbers(c);
        let complete = numbers(std::array::from_fn(|k| c[k] + self.missing[k]));
        // alpha and gamma are diagonal entries; beta is between them.
        let scale = [c[0], (c[0] * c[2]).sqrt(), c[2]];
        let mut slopes = [[0.0; 3]; N];
        for entry in 0..3 {
            let moved = |sign: f64| {
                let mut c = c;
                c[entry] += sign * STEP * scale[entry];
                numbers(c)
            };
            let (up, down) = (moved(1.0), moved(-1.0));
            for k in 0..N {
                slopes[k][entry] = (up[k] - down[k]) / (2.0 * STEP * scale[entry]);
            }
        }
        let errors = std::array::from_fn(|k| ErrorEstimate {
            bias: complete[k] - now[k],
            bound: self.bound(slopes[k]),
        });
        (now, errors)
    }

    /// The bound of [`ErrorEstimate`] for derivatives to the coefficients.
    fn bound(&self, slope: [f64; 3]) -> f64 {
        let [a, b, c] = slope;
        let shift = (a * self.shift[0] + b * self.shift[1] + c * self.shift[2]).abs();
        ELEMENTS * sizes(&self.elements, slope) + shift + THICKNESS * sizes(&self.thickness, slope)
    }
}

/// Sum over pieces of `|slope . piece|`.
fn sizes(pieces: &[[[f64; LANES]; 3]], [a, b, c]: [f64; 3]) -> f64 {
    let mut sums = [0.0; LANES];
    for [alpha, beta, gamma] in pieces {
        for lane in 0..LANES {
            sums[lane] += (a * alpha[lane] + b * beta[lane] + c * gamma[lane]).abs();
        }
    }
    sums.iter().sum()
}
