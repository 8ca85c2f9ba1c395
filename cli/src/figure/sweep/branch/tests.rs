//! Torque sweeps against closed forms. With `c` the travel of the centre of resistance for force, `g` the tip for moment, `D`
//! the centre's depth and `s = c / g` sigma squared, the axis at height `r` under a push at `h` with the torque `m` per newton
//! travels `c + g (h + D - m)(r + D)` (mechanics of a rigid body on springs; Burstone and Pryputniewicz 1980, AJO 77:396-409,
//! from memory): it is at rest for `m = h + D + s / (r + D)`, and the tip is zero for `m = h + D`.

use approx::assert_relative_eq;
use gomphosis_solver::{PlanarLoad, PlanarResistance, Plane};

use super::*;

/// Two-dimensional root of 13 mm (Burstone): depth 0.4 of it, sigma squared 12/175 of its square.
const DEPTH: f64 = 5.2;
const SIGMA2: f64 = 12.0 / 175.0 * 169.0;
const HEIGHT: f64 = 5.0;

fn resistance() -> PlanarResistance {
    let c = 0.02;
    let g = c / SIGMA2;
    PlanarResistance::from_coefficients(Plane::BuccoLingual, [c + g * DEPTH * DEPTH, g * DEPTH, g])
}

/// Tip per millimetre at a height for some torques.
fn tips(reference: f64, torques: impl IntoIterator<Item = f64>) -> Vec<Point> {
    torques
        .into_iter()
        .map(|torque_nmm| {
            let motion = resistance().motion(&PlanarLoad { height_mm: HEIGHT, force_n: 1.0, torque_nmm });
            let quotient = [motion.tip_deg(), motion.travel_mm(reference)];
            Point {
                x: torque_nmm,
                value: motion.tip_deg_per_mm(reference),
                error: 0.01 * motion.tip_deg_per_mm(reference).abs(),
                quotient: Some(quotient),
            }
        })
        .collect()
}

#[test]
fn lines_break_where_the_point_is_at_rest() {
    for reference in [0.0, HEIGHT, 8.5] {
        let exact = HEIGHT + DEPTH + SIGMA2 / (reference + DEPTH);
        for step in [0.5, 3.0] {
            let points = tips(reference, (0..=(24.0 / step) as i32).map(|k| step * f64::from(k)));
            let found = poles(&points);
            assert_eq!(found.len(), 1, "at {reference} mm");
            assert_relative_eq!(found[0], exact, max_relative = 1e-9);
            let range = [-12.0, 14.0];
            let branches = branches(&points, range);
            assert_eq!(branches.len(), 2, "at {reference} mm");
            // One ends at the lower side of the frame before the pole, the other begins at the upper side behind it.
            let (left, right) = (branches[0].line.last().expect("points"), branches[1].line[0]);
            assert!(left[0] < exact && right[0] > exact, "{left:?} {right:?}");
            assert_relative_eq!(left[1], range[0]);
            assert_relative_eq!(right[1], range[1]);
        }
    }
}

#[test]
fn between_the_points_of_a_load_the_line_is_exact() {
    // Five points only; the line between them is the closed form.
    let points = tips(HEIGHT, [0.0, 6.0, 12.0, 18.0, 24.0]);
    let drawn = branches(&points, [-1e3, 1e3]);
    let drawn: Vec<[f64; 2]> =
        drawn.into_iter().flat_map(|b| b.line).filter(|p| p[1].abs() < 100.0).collect();
    assert!(drawn.len() > 60);
    for [torque, value] in drawn {
        let c_over_g = SIGMA2;
        let (lever, below) = (HEIGHT + DEPTH, HEIGHT + DEPTH - torque);
        let exact = (below / (c_over_g + below * lever)).to_degrees();
        assert_relative_eq!(value, exact, max_relative = 1e-6, epsilon = 1e-9);
    }
}

#[test]
fn the_centre_of_rotation_breaks_at_the_translation() {
    let points: Vec<Point> = (0..=10)
        .map(|k| {
            let load = PlanarLoad { height_mm: HEIGHT, force_n: 1.0, torque_nmm: 2.0 * f64::from(k) };
            let motion = resistance().motion(&load);
            let dividend = motion.travel_mm(HEIGHT) - motion.tip_rad * HEIGHT;
            Point {
                x: load.torque_nmm,
                value: motion.centre_of_rotation_depth_mm().expect("none of these translates"),
                error: f64::NAN,
                quotient: Some([dividend, motion.tip_rad]),
            }
        })
        .collect();
    assert_relative_eq!(poles(&points)[..], [HEIGHT + DEPTH][..], max_relative = 1e-9);
    let found = branches(&points, [-20.0, 30.0]);
    assert_eq!(found.len(), 2);
    // Without torque it lies sigma squared over the lever below the centre of resistance.
    assert_relative_eq!(found[0].line[0][1], DEPTH + SIGMA2 / (HEIGHT + DEPTH), max_relative = 1e-9);
}

#[test]
fn lines_and_bands_stay_in_the_frame() {
    let range = [-3.0, 6.0];
    for branch in branches(&tips(HEIGHT, (0..=40).map(|k| 0.6 * f64::from(k))), range) {
        let values =
            branch.line.iter().map(|p| p[1]).chain(branch.bands.iter().flatten().flat_map(|b| [b[1], b[2]]));
        for value in values {
            assert!((range[0]..=range[1]).contains(&value), "{value}");
        }
        assert!(branch.bands.iter().flatten().all(|b| b[1] <= b[2]));
    }
}

#[test]
fn a_value_that_passes_through_zero_is_no_pole() {
    // The tip itself changes its sign at the translation.
    let points: Vec<Point> = [[0.0, 4.0, 0.1], [1.0, 1.0, 0.1], [2.0, -2.0, 0.1]].map(Point::plain).to_vec();
    assert!(poles(&points).is_empty());
    assert_eq!(branches(&points, [-5.0, 5.0]).len(), 1);
    let gap: Vec<Point> =
        [[0.0, 4.0, 0.1], [1.0, f64::NAN, 0.1], [2.0, -2.0, 0.1]].map(Point::plain).to_vec();
    assert_eq!(branches(&gap, [-5.0, 5.0]).len(), 2);
    // A point that is at rest exactly is a pole itself.
    let mut at_rest = tips(HEIGHT, [8.0, 10.0]);
    at_rest.push(Point { x: 12.0, value: f64::INFINITY, error: f64::NAN, quotient: Some([-1.0, 0.0]) });
    assert_eq!(poles(&at_rest), [12.0]);
}
