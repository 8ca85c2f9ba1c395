use approx::assert_relative_eq;

use super::canal::Canal;
use super::{Sample, V3, anatomy, intersect, unite};
use crate::spec::{ToothInSocket, ToothKind};

/// 1 - cosine of the angle between the gradient and central differences of the value, smallest first.
fn gradient_errors(sample: impl Fn(&V3) -> Sample, points: &[V3]) -> Vec<f64> {
    let step = 1e-5;
    let mut errors: Vec<f64> = points
        .iter()
        .map(|p| {
            let mut numeric = V3::zeros();
            for axis in 0..3 {
                let shift = V3::ith(axis, step);
                numeric[axis] = (sample(&(p + shift)).value - sample(&(p - shift)).value) / (2.0 * step);
            }
            let gradient = sample(p).gradient;
            1.0 - numeric.normalize().dot(&gradient.normalize())
        })
        .collect();
    errors.sort_by(f64::total_cmp);
    errors
}

/// Points close to the surface of a tooth, from projecting a spread of starting points.
fn surface_points(spec: &ToothInSocket) -> Vec<V3> {
    let solid = anatomy::build(spec);
    let mut points = Vec::new();
    for k in 0..60 {
        let angle = f64::from(k) * 2.4;
        let z = -11.0 + 0.35 * f64::from(k);
        let start = V3::new(3.0 * angle.cos(), 3.0 * angle.sin(), z);
        let p = solid.project(&start, [false; 3]);
        if solid.value(&p).abs() < 1e-8 {
            points.push(p);
        }
    }
    points
}

#[test]
fn a_straight_canal_of_constant_radius_is_a_capsule() {
    let canal = Canal {
        axis: [V3::zeros(), V3::new(0.0, 0.0, -5.0), V3::new(0.0, 0.0, -10.0)],
        scale: V3::repeat(1.0),
        start: 2.0,
        tip: 2.0,
        bulge: 1.0,
    };
    for (p, distance) in [
        (V3::new(3.0, 0.0, -4.0), 1.0),
        (V3::new(0.0, 1.0, -7.0), -1.0),
        (V3::new(0.0, 0.0, -14.0), 2.0),
        (V3::new(3.0, 0.0, 4.0), 3.0),
    ] {
        assert_relative_eq!(canal.sample(&p).value, distance, epsilon = 1e-9);
    }
    assert_relative_eq!(canal.apex().z, -12.0);
}

#[test]
fn smooth_union_and_intersection_equal_the_sharp_ones_away_from_the_edge() {
    let at = |value| Sample { value, gradient: V3::x() };
    assert_relative_eq!(unite(at(-1.0), at(3.0), 0.5).value, -1.0);
    assert_relative_eq!(intersect(at(-1.0), at(3.0), 0.5).value, 3.0);
    // On the edge the fillet takes away a quarter of its radius.
    assert_relative_eq!(unite(at(0.0), at(0.0), 0.8).value, -0.2);
}

#[test]
fn every_tooth_has_a_gradient_that_points_along_the_change_of_its_value() {
    for kind in ToothKind::ALL {
        let spec = ToothInSocket::handbook(kind);
        let solid = anatomy::build(&spec);
        let points = surface_points(&spec);
        assert!(points.len() > 30, "{}: {} points", kind.name(), points.len());
        // In the fillets the blended gradient is an approximation; elsewhere it is exact.
        let errors = gradient_errors(|p| solid.sample(p), &points);
        assert!(errors[errors.len() / 2] < 1e-6, "{}: {errors:?}", kind.name());
        assert!(errors[errors.len() - 1] < 0.1, "{}: {errors:?}", kind.name());
    }
}

#[test]
fn teeth_have_the_dimensions_of_the_handbook() {
    for kind in ToothKind::ALL {
        let spec = ToothInSocket::handbook(kind);
        let solid = anatomy::build(&spec);
        let cej = solid.cej_z;
        assert_relative_eq!(solid.apex().z, cej - spec.tooth.root.length_mm, epsilon = 1e-6);
        let top = solid.cusp_tip(cej + spec.tooth.crown.height_mm);
        assert_relative_eq!(top.z, cej + spec.tooth.crown.height_mm, epsilon = 0.35);
        // Widest places of the crown.
        let (low, high) = solid.bounds_between(cej + 0.5, top.z, 9.0);
        assert_relative_eq!(high.x - low.x, spec.tooth.crown.buccolingual_mm, epsilon = 0.45);
        assert_relative_eq!(high.y - low.y, spec.tooth.crown.mesiodistal_mm, epsilon = 0.45);
        // Cervix, a millimetre below the junction.
        let (low, high) = solid.bounds_between(cej - 1.05, cej - 0.95, 9.0);
        assert_relative_eq!(high.x - low.x, spec.tooth.root.buccolingual_mm, epsilon = 0.4);
        assert_relative_eq!(high.y - low.y, spec.tooth.root.mesiodistal_mm, epsilon = 0.4);
    }
}

#[test]
fn a_projected_point_keeps_its_fixed_coordinates() {
    let solid = anatomy::build(&ToothInSocket::handbook(ToothKind::ALL[3]));
    let p = solid.project(&V3::new(3.0, 1.0, 0.0), [false, false, true]);
    assert_relative_eq!(p.z, 0.0);
    assert!(solid.value(&p).abs() < 1e-9);
}
