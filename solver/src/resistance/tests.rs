//! Planar mechanics against the published relations. Sources beside each check.

use approx::assert_relative_eq;
use nalgebra::{Matrix6, Vector3};

use super::*;
use crate::motion::Wrench;

const DEPTH: f64 = 5.2;
const APEX: f64 = 13.0;

/// A body with a centre of resistance 5.2 mm below the crest; sigma squared 13 (bucco-lingual) and 8.
fn tooth() -> Compliance {
    let mut m = Matrix6::zeros();
    for (k, v) in [0.013, 0.008, 0.02, 0.001, 0.001, 0.004].into_iter().enumerate() {
        m[(k, k)] = v;
    }
    Compliance::new(Point3::new(0.0, 0.0, -DEPTH), m)
        .expect("positive diagonal")
        .at(Point3::new(3.0, 0.5, 4.0))
}

fn push(height_mm: f64, force_n: f64, torque_nmm: f64) -> PlanarLoad {
    PlanarLoad { height_mm, force_n, torque_nmm }
}

#[test]
fn centre_and_sigma_squared_come_back() {
    let bl = PlanarResistance::new(&tooth(), Plane::BuccoLingual);
    let md = PlanarResistance::new(&tooth(), Plane::MesioDistal);
    assert_relative_eq!(bl.centre_depth_mm(), DEPTH, max_relative = 1e-12);
    assert_relative_eq!(md.centre_depth_mm(), DEPTH, max_relative = 1e-12);
    assert_relative_eq!(bl.sigma_squared_mm2(), 13.0, max_relative = 1e-12);
    assert_relative_eq!(md.sigma_squared_mm2(), 8.0, max_relative = 1e-12);
}

#[test]
fn planar_motion_is_the_spatial_motion() {
    // The same load as a wrench on the whole compliance: the signs of both planes.
    let (h, force, torque) = (4.0, 1.5, 6.0);
    let point = Point3::new(0.0, 0.0, h);
    for (plane, direction, axis) in
        [(Plane::BuccoLingual, Vector3::x(), Vector3::y()), (Plane::MesioDistal, Vector3::y(), -Vector3::x())]
    {
        let whole = tooth().motion(&Wrench { point, force: direction * force, moment: -axis * torque });
        let planar = PlanarResistance::new(&tooth(), plane).motion(&push(h, force, torque));
        assert_relative_eq!(planar.tip_rad, whole.rotation.dot(&axis), max_relative = 1e-12);
        for z in [-13.0, 0.0, 8.0] {
            let u = whole.displacement_at(&Point3::new(0.0, 0.0, z)).dot(&direction);
            assert_relative_eq!(planar.travel_mm(z), u, max_relative = 1e-11);
        }
    }
}

#[test]
fn distances_to_force_and_rotation_multiply_to_sigma_squared() {
    // a b = sigma^2 for any height of a single force (Naegerl et al. 1991).
    let r = PlanarResistance::new(&tooth(), Plane::BuccoLingual);
    for height in [-4.0, -2.0, 0.0, 3.0, 10.0] {
        let depth = r.motion(&push(height, 1.0, 0.0)).centre_of_rotation_depth_mm().expect("it tips");
        assert_relative_eq!((height + DEPTH) * (depth - DEPTH), 13.0, max_relative = 1e-12);
    }
}

#[test]
fn travel_of_the_centre_of_resistance_does_not_depend_on_the_torque() {
    // Geramy (Shiraz Univ. J Dent.): constant force, any M/F, the same displacement at the centre of resistance.
    let r = PlanarResistance::new(&tooth(), Plane::BuccoLingual);
    for torque in [-10.0, 0.0, 9.2, 30.0] {
        let motion = r.motion(&push(4.0, 1.0, torque));
        assert_relative_eq!(motion.travel_mm(-DEPTH), 0.013, max_relative = 1e-12);
    }
}

#[test]
fn moment_to_force_ratios_of_the_named_centres() {
    // D = attachment to centre of resistance; M/F = D - s/(h - zc) turns about the apex, D translates,
    // D + s/(D + e) turns about a point e above the attachment, D + s/D about the attachment itself (from a b = s).
    let r = PlanarResistance::new(&tooth(), Plane::BuccoLingual);
    let (height, e) = (4.0, 3.0);
    let d = height + DEPTH;
    let depth = |m: f64| r.motion(&push(height, 1.0, m)).centre_of_rotation_depth_mm();
    assert_relative_eq!(depth(d - 13.0 / (APEX - DEPTH)).expect("tips"), APEX, max_relative = 1e-12);
    assert_relative_eq!(depth(d + 13.0 / (d + e)).expect("tips"), -(height + e), max_relative = 1e-12);
    assert_relative_eq!(depth(d + 13.0 / d).expect("tips"), -height, max_relative = 1e-12);
    assert_eq!(depth(r.torque_for_translation_mm(height)), None);
    assert!(r.tip_deg_per_mm(height, r.torque_for_translation_mm(height), height).abs() < 1e-12);
}

#[test]
fn tip_for_each_millimetre_of_a_push_without_torque() {
    // A tooth that turns about a point L from the force line tips 57.3 / L degrees for each mm (geometry).
    let r = PlanarResistance::new(&tooth(), Plane::BuccoLingual);
    let d = 4.0 + DEPTH;
    let l = d + 13.0 / d;
    assert_relative_eq!(r.compensation_deg_per_mm(4.0, 4.0), 1.0_f64.to_degrees() / l, max_relative = 1e-12);
}

#[test]
fn kinds_of_movement_follow_each_other_and_cover_everything() {
    let r = PlanarResistance::new(&tooth(), Plane::BuccoLingual);
    let d = 4.0 + DEPTH;
    let to_apex = d - 13.0 / (APEX - DEPTH);
    let to_load = d + 13.0 / d;
    let kind = |m: f64| r.movement(&push(4.0, 1.0, m), APEX);
    assert_eq!(kind(-50.0), Movement::UncontrolledTipping);
    assert_eq!(kind(to_apex - 1e-6), Movement::UncontrolledTipping);
    assert_eq!(kind(to_apex + 1e-6), Movement::ControlledTipping);
    assert_eq!(kind(d), Movement::Translation);
    assert_eq!(kind(to_load - 1e-6), Movement::RootMovement);
    assert_eq!(kind(to_load + 1e-6), Movement::CrownTippingReversed);
    assert_eq!(kind(500.0), Movement::CrownTippingReversed);

    // Growing torque never goes back to an earlier kind, and the mirrored load has the same kind.
    let mut last = Movement::UncontrolledTipping;
    for k in -200..600 {
        let m = f64::from(k) * 0.05;
        let now = kind(m);
        assert!(now >= last, "{last} then {now} at M/F {m}");
        assert_eq!(now, r.movement(&push(4.0, -2.0, -2.0 * m), APEX));
        last = now;
    }
}

#[test]
fn translation_band_ends_at_the_stated_tolerance() {
    let r = PlanarResistance::new(&tooth(), Plane::BuccoLingual);
    let kind_at_tip = |tip_deg_per_mm: f64| {
        // tip / u = t at the load: gamma (d - m) = t (centre + gamma (d - m) d).
        let t = tip_deg_per_mm.to_radians();
        let d = 4.0 + DEPTH;
        let ratio = d - t * 0.013 / (0.001 * (1.0 - t * d));
        r.movement(&push(4.0, 1.0, ratio), APEX)
    };
    assert_eq!(kind_at_tip(0.501), Movement::ControlledTipping);
    assert_eq!(kind_at_tip(0.499), Movement::Translation);
    assert_eq!(kind_at_tip(-0.499), Movement::Translation);
    assert_eq!(kind_at_tip(-0.501), Movement::RootMovement);
}

#[test]
fn stopping_the_tip_leaves_sigma_squared_over_the_square_of_the_distances() {
    // Against the six-by-six compliance of the whole body, whatever the planar formulas say: travel of the axis at the push,
    // with the moment found by solving for zero rotation, over that of the push alone.
    let whole = tooth();
    for (plane, direction, axis, sigma2) in [
        (Plane::BuccoLingual, Vector3::x(), Vector3::y(), 13.0),
        (Plane::MesioDistal, Vector3::y(), -Vector3::x(), 8.0),
    ] {
        let planar = PlanarResistance::new(&whole, plane);
        for height in [-DEPTH, 0.0, 4.0, 9.5] {
            let point = Point3::new(0.0, 0.0, height);
            let under = |torque: f64| {
                let wrench = Wrench { point, force: direction, moment: -axis * torque };
                let motion = whole.motion(&wrench);
                (motion.displacement_at(&point).dot(&direction), motion.rotation.dot(&axis))
            };
            let (plain, tip) = under(0.0);
            let (_, tip_of_one) = under(1.0);
            let stop = tip / (tip - tip_of_one);
            let (left, rest) = under(stop);
            assert_relative_eq!(rest, 0.0, epsilon = 1e-15);
            assert_relative_eq!(planar.travel_left(height), left / plain, max_relative = 1e-10);
            let lever = height + DEPTH;
            assert_relative_eq!(left / plain, sigma2 / (sigma2 + lever * lever), max_relative = 1e-10);
            for torque in [-3.0, 5.0, 20.0] {
                assert_relative_eq!(
                    planar.share_of_plain_push(height, torque),
                    under(torque).0 / plain,
                    max_relative = 1e-9
                );
            }
        }
        // A push through the centre of resistance does not tip: nothing has to be stopped and nothing is lost.
        assert_relative_eq!(planar.travel_left(-DEPTH), 1.0);
    }
}
