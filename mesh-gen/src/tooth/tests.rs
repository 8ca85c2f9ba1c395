use approx::assert_relative_eq;

use super::canal::Canal;
use super::{Sample, ToothSolid, V3, anatomy, intersect, unite};
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

/// Widths across and along the arch between the outermost points of a tooth at a height, mm, on rows 0.5 mm apart.
fn extremes(solid: &ToothSolid, z: f64) -> [[f64; 2]; 2] {
    const REACH: f64 = 9.0;
    let outermost = |axis: usize, sign: f64, aside: f64| {
        let at = |t: f64| if axis == 0 { V3::new(sign * t, aside, z) } else { V3::new(aside, sign * t, z) };
        let (mut outside, mut inside) = (REACH, REACH);
        loop {
            let value = solid.value(&at(inside));
            if value <= 0.0 {
                break;
            }
            outside = inside;
            inside -= value.max(0.1);
            if inside < -REACH {
                return -REACH;
            }
        }
        for _ in 0..12 {
            let middle = 0.5 * (inside + outside);
            if solid.value(&at(middle)) > 0.0 {
                outside = middle;
            } else {
                inside = middle;
            }
        }
        inside
    };
    [0, 1].map(|axis| {
        [-1.0, 1.0].map(|sign| {
            (-8..=8).map(|k| outermost(axis, sign, 0.5 * f64::from(k))).fold(f64::NEG_INFINITY, f64::max)
        })
    })
}

/// Source: the handbook's table of measurements (see `handbook.rs`), for all sixteen teeth.
/// Measured on the solid: height of the crown and length of the root, widths of the cervix at the junction, largest widths
/// of the crown between the crests of curvature on either side.
/// Tolerance: 0.1 mm on each, the step of the table being 0.5 mm; the root's length to rounding.
#[test]
fn teeth_have_the_dimensions_of_the_handbook() {
    for kind in ToothKind::ALL {
        let spec = ToothInSocket::handbook(kind);
        let (crown, root) = (&spec.tooth.crown, &spec.tooth.root);
        let solid = anatomy::build(&spec);
        let cej = solid.cej_z;
        assert_relative_eq!(solid.apex().z, cej - root.length_mm, epsilon = 1e-6);
        let near = |measured: f64, asked: f64, what: &str| {
            assert!((measured - asked).abs() < 0.1, "{}: {what} {measured:.3}, not {asked}", kind.name());
        };
        let top = solid.cusp_tip(cej + crown.height_mm);
        near(top.z - cej, crown.height_mm, "height");
        let above = solid.bounds_between(top.z, top.z + 1.0, 9.0);
        assert!(above.1.z < top.z + 0.1, "{}: the crown is {:.3} higher", kind.name(), above.1.z - top.z);
        let width = |sides: [f64; 2]| sides[0] + sides[1];
        let [across, along] = extremes(&solid, cej).map(width);
        near(across, root.buccolingual_mm, "cervix across");
        near(along, root.mesiodistal_mm, "cervix along");
        let mut widest = [[0.0_f64; 2]; 2];
        for k in 1..=(4.0 * crown.height_mm) as i32 {
            let level = extremes(&solid, cej + 0.25 * f64::from(k));
            widest = [0, 1].map(|axis| [0, 1].map(|side| level[axis][side].max(widest[axis][side])));
        }
        let [across, along] = widest.map(width);
        near(across, crown.buccolingual_mm, "crown across");
        near(along, crown.mesiodistal_mm, "crown along");
    }
}

/// Source: statements on outlines in the handbooks named in `outlines.rs`.
#[test]
fn crowns_have_the_outlines_that_tell_them_apart() {
    for kind in ToothKind::ALL {
        let spec = ToothInSocket::handbook(kind);
        let solid = anatomy::build(&spec);
        let height = spec.tooth.crown.height_mm;
        let [lingual, buccal, distal, mesial] = {
            let at = |t: f64| extremes(&solid, solid.cej_z + t * height);
            let levels: Vec<_> = (1..20).map(|k| (f64::from(k) * 0.05, at(f64::from(k) * 0.05))).collect();
            [(0, 0), (0, 1), (1, 0), (1, 1)].map(|(axis, side)| {
                levels.iter().map(|(t, level)| (*t, level[axis][side])).collect::<Vec<_>>()
            })
        };
        let crest = |outline: &[(f64, f64)]| {
            outline.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0.0, |widest| widest.0)
        };
        let name = kind.name();
        assert!(crest(&buccal) < 0.36, "{name}: buccal crest of curvature at {}", crest(&buccal));
        if kind.position() > 3 {
            assert!((0.33..0.67).contains(&crest(&lingual)), "{name}: lingual at {}", crest(&lingual));
        } else {
            assert!(crest(&lingual) < 0.34, "{name}: lingual crest of curvature at {}", crest(&lingual));
            // A chisel: near the edge less than a third as thick as at the crests.
            let thickness = |k: usize| buccal[k].1 + lingual[k].1;
            let thickest = (0..19).map(thickness).fold(0.0, f64::max);
            assert!(thickness(18) < 0.4 * thickest, "{name}: {} of {thickest} mm", thickness(18));
            // The middle of the edge: labial of the root's axis in upper, lingual in lower teeth.
            let middle = buccal[18].1 - lingual[18].1;
            assert!(middle * if kind.is_upper() { 1.0 } else { -1.0 } > 0.0, "{name}: edge at {middle}");
        }
        if kind.position() <= 2 {
            // Widest in the incisal third, mesially at least as near to the edge as distally; nearly straight to the end.
            assert!(crest(&mesial) > 0.74 && crest(&distal) > 0.6, "{name}");
            assert!(crest(&mesial) >= crest(&distal), "{name}");
            let width = |k: usize| mesial[k].1 + distal[k].1;
            assert!(width(18) > 0.8 * spec.tooth.crown.mesiodistal_mm, "{name}: edge {}", width(18));
        }
    }
}

#[test]
fn a_projected_point_keeps_its_fixed_coordinates() {
    let solid = anatomy::build(&ToothInSocket::handbook(ToothKind::ALL[3]));
    let p = solid.project(&V3::new(3.0, 1.0, 0.0), [false, false, true]);
    assert_relative_eq!(p.z, 0.0);
    assert!(solid.value(&p).abs() < 1e-9);
}
