//! Source: linear elasticity and dimensional analysis. A compliance is symmetric positive definite; it turns with the
//! tooth, mirrors with it (moments are axial vectors) and moves with its reference point; moduli times e divide it by e;
//! lengths times s divide its blocks by s, s^2 and s^3; loads superpose.
//! Source of the planar identities: Burstone and Pryputniewicz 1980 (AJO 77:396-409), Naegerl et al. 1991 (AJODO
//! 99:337-345): (force line to centre of resistance) x (centre of resistance to centre of rotation) = sigma squared.
//! Goal: no hidden length, modulus, handedness, direction or origin in the program, whatever the tooth and materials.
//! Mesh: teeth drawn over every key, at coarse sizes; transformed as meshes, so that every law is exact.
//! Tolerance: 1e-7 of the larger diagonal entries, rounding of a direct solve at Poisson ratios up to 0.4999; 1e-9 for
//! algebra alone.

use gomphosis_cli::verify::model::{LIGAMENT, problem};
use gomphosis_mesh_gen::{Silent, TetMesh, ToothMesh, mesh_tooth};
use gomphosis_solver::{
    Bodies, Compliance, Constant, Footprint, Materials, PlanarLoad, PlanarResistance, Plane, ToothProblem,
    UnitSolutions, Wrench, solve_unit_loads,
};
use gomphosis_tests::draw;
use nalgebra::{Matrix6, Point3, Rotation3, Unit, Vector3, Vector6};
use proptest::prelude::*;

/// Unit loads of the ligament of a mesh between rigid bodies.
fn rigid(mesh: &TetMesh, materials: Materials, at: Point3<f64>) -> Result<UnitSolutions, TestCaseError> {
    let problem = ToothProblem { reference_point: at, ..problem(mesh, Bodies::Rigid, materials, LIGAMENT) };
    solve_unit_loads(&problem, &Silent).map_err(|e| TestCaseError::fail(e.to_string()))
}

/// Largest difference of two compliances at one point, each entry over its share of the diagonal.
fn difference(a: &Matrix6<f64>, b: &Matrix6<f64>) -> f64 {
    let mut largest: f64 = 0.0;
    for i in 0..6 {
        for j in 0..6 {
            largest = largest.max((a[(i, j)] - b[(i, j)]).abs() / (a[(i, i)] * a[(j, j)]).sqrt());
        }
    }
    largest
}

fn mapped(
    mesh: &TetMesh,
    map: impl Fn(&Point3<f64>) -> Point3<f64>,
    turned_over: bool,
) -> Result<TetMesh, TestCaseError> {
    let nodes = mesh.nodes().iter().map(map).collect();
    // A mirror image needs its elements turned over: two corners swapped, and the mid-side nodes with them.
    let cell = |c: &[u32; 10]| {
        if turned_over { [c[0], c[2], c[1], c[3], c[6], c[5], c[4], c[7], c[9], c[8]] } else { *c }
    };
    let face = |f: &[u32; 6]| if turned_over { [f[0], f[2], f[1], f[5], f[4], f[3]] } else { *f };
    let surfaces = mesh
        .surface_names()
        .map(|name| (name.to_owned(), mesh.surface(name).iter().map(face).collect()))
        .collect();
    TetMesh::new(nodes, mesh.cells().iter().map(cell).collect(), mesh.regions().to_vec(), surfaces)
        .map_err(|e| TestCaseError::fail(e.to_string()))
}

/// A tooth that meshes, or a rejected draw.
fn meshed(spec: &gomphosis_mesh_gen::ToothInSocket) -> Result<ToothMesh, TestCaseError> {
    mesh_tooth(spec, &Silent).map_err(|e| TestCaseError::reject(e.to_string()))
}

#[test]
fn rigid_compliances_obey_their_laws() {
    let axis = (-1.0..1.0_f64, -1.0..1.0_f64, -1.0..1.0_f64);
    let motion = (axis.clone(), 0.0..3.1_f64, axis);
    let drawn = (draw::tooth(2.0), draw::material(), motion, 0.2..5.0_f64, -3.0..3.0_f64);
    let laws = |(spec, ligament, (axis, angle, shift), scale, power): (_, _, (_, f64, _), f64, f64)| {
        let made = meshed(&spec)?;
        let (mesh, _) = made.mesh.extract(&[gomphosis_mesh_gen::Region::Ligament]);
        let materials = Materials { ligament, ..Materials::default() };
        let at = Point3::new(0.3, -0.7, 1.9);
        let base = rigid(&mesh, materials, at)?;
        let c = base.compliance.matrix;
        // Symmetric positive definite, the rigid tier to rounding; the root moves as a rigid body.
        prop_assert!(base.asymmetry < 1e-7, "asymmetry {:e}", base.asymmetry);
        prop_assert!(base.fit_residual.iter().all(|r| *r < 1e-9), "residuals {:?}", base.fit_residual);
        let d = c.diagonal().map(|d| d.sqrt().recip());
        let scaled = Matrix6::from_fn(|i, j| c[(i, j)] * d[i] * d[j]);
        prop_assert!(scaled.symmetric_eigenvalues().min() > 0.0);
        // Turned and moved.
        let (axis, shift): ((f64, f64, f64), (f64, f64, f64)) = (axis, shift);
        let turn = Rotation3::from_axis_angle(
            &Unit::new_normalize(Vector3::new(axis.0, axis.1, axis.2 + 1.5)),
            angle,
        );
        let shift = Vector3::new(shift.0, shift.1, shift.2) * 20.0;
        let place = |p: &Point3<f64>| turn * p + shift;
        let turned = rigid(&mapped(&mesh, place, false)?, materials, place(&at))?;
        prop_assert!(difference(&base.compliance.rotated(&turn).matrix, &turned.compliance.matrix) < 1e-7);
        // Stated elsewhere.
        let elsewhere = Point3::new(2.0, 1.0, -4.0);
        let moved = rigid(&mesh, materials, elsewhere)?;
        prop_assert!(difference(&base.compliance.at(elsewhere).matrix, &moved.compliance.matrix) < 1e-7);
        // Mirrored along the arch, and buccal for lingual.
        for (mirror, signs) in [
            (Vector3::new(1.0, -1.0, 1.0), [1.0, -1.0, 1.0, -1.0, 1.0, -1.0]),
            (Vector3::new(-1.0, 1.0, 1.0), [-1.0, 1.0, 1.0, 1.0, -1.0, -1.0]),
        ] {
            let image = |p: &Point3<f64>| Point3::from(p.coords.component_mul(&mirror));
            let other = rigid(&mapped(&mesh, image, true)?, materials, image(&at))?;
            let expected = Matrix6::from_fn(|i, j| signs[i] * signs[j] * c[(i, j)]);
            prop_assert!(difference(&expected, &other.compliance.matrix) < 1e-7, "mirror {mirror:?}");
        }
        // Larger, and stiffer.
        let large = rigid(&mapped(&mesh, |p| p * scale, false)?, materials, at * scale)?;
        let power_of = |i: usize, j: usize| 1 + i32::from(i >= 3) + i32::from(j >= 3);
        let expected = Matrix6::from_fn(|i, j| c[(i, j)] / scale.powi(power_of(i, j)));
        prop_assert!(difference(&expected, &large.compliance.matrix) < 1e-7, "lengths times {scale}");
        let range = Constant::of("materials.ligament.modulus_mpa").expect("a key of the table");
        let modulus = materials.ligament.modulus_mpa;
        let factor = (modulus * 10.0_f64.powf(power)).clamp(range.low, range.high) / modulus;
        let mut harder = materials;
        harder.ligament.modulus_mpa *= factor;
        let stiff = rigid(&mesh, harder, at)?;
        prop_assert!(difference(&(c / factor), &stiff.compliance.matrix) < 1e-7, "modulus times {factor}");
        // Superposed: the field of a wrench is the sum of the unit fields, and the root moves as the compliance says.
        let wrench = Wrench { point: elsewhere, force: shift, moment: turn * shift };
        let field = base.displacement(&wrench);
        let motion = base.compliance.motion(&wrench);
        let largest = field.iter().map(Vector3::norm).fold(0.0, f64::max);
        for &n in mesh.surface(gomphosis_mesh_gen::surface::ROOT).iter().flatten() {
            let error = (field[n as usize] - motion.displacement_at(&mesh.nodes()[n as usize])).norm();
            prop_assert!(error < 1e-7 * largest, "off by {:e}", error / largest);
        }
        Ok(())
    };
    draw::runner(4).run(&drawn, laws).unwrap();
}

/// Elastic bodies: every drawn material, a load on any face.
#[test]
fn elastic_compliances_are_nearly_symmetric_and_mirror() {
    let laws = |(spec, materials): (gomphosis_mesh_gen::ToothInSocket, Materials)| {
        let made = meshed(&spec)?;
        let elastic = |mesh: &TetMesh, footprint: Footprint, at: Point3<f64>| {
            let whole = problem(mesh, Bodies::Elastic, materials, LIGAMENT);
            solve_unit_loads(&ToothProblem { footprint, reference_point: at, ..whole }, &Silent)
        };
        let footprint = Footprint::of(&spec.attachment, &made.landmarks);
        let at = made.landmarks.attachment;
        let base = match elastic(&made.mesh, footprint, at) {
            Ok(base) => base,
            // An attachment finer than the crown's elements is told so.
            Err(gomphosis_solver::SolverError::Footprint { .. }) => return Ok(()),
            Err(error) => return Err(TestCaseError::fail(error.to_string())),
        };
        let felt = base.load_compliance;
        prop_assert!(
            difference(&felt, &felt.transpose()) < 1e-6,
            "the work of one load on another is not mutual"
        );
        let image = |p: &Point3<f64>| Point3::new(p.x, -p.y, p.z);
        let mut other = footprint;
        other.centre = image(&footprint.centre);
        other.face = match footprint.face {
            gomphosis_mesh_gen::Face::Mesial => gomphosis_mesh_gen::Face::Distal,
            gomphosis_mesh_gen::Face::Distal => gomphosis_mesh_gen::Face::Mesial,
            face => face,
        };
        let mirrored = elastic(&mapped(&made.mesh, image, true)?, other, image(&at))
            .map_err(|e| TestCaseError::fail(e.to_string()))?;
        let signs = [1.0, -1.0, 1.0, -1.0, 1.0, -1.0];
        let expected = Matrix6::from_fn(|i, j| signs[i] * signs[j] * base.compliance.matrix[(i, j)]);
        prop_assert!(difference(&expected, &mirrored.compliance.matrix) < 1e-6);
        Ok(())
    };
    draw::runner(1).run(&(draw::tooth(2.6), draw::materials()), laws).unwrap();
}

/// A compliance with any coupling: `X diag(a) X^T` for a random frame and point.
fn compliance() -> impl Strategy<Value = Compliance> {
    let entries = proptest::collection::vec(-1.0..1.0_f64, 36);
    (entries, -4.0..1.0_f64, -6.0..-2.0_f64)
        .prop_map(|(entries, travel, turn)| {
            let m = Matrix6::from_iterator(entries) + Matrix6::identity() * 1.2;
            let mut c = m * m.transpose();
            // Entries of the size that teeth have: mm/N and rad/(N mm), far apart.
            let scale = Vector6::from_fn(|i, _| 10.0_f64.powf(if i < 3 { travel } else { turn } / 2.0));
            for i in 0..6 {
                for j in 0..6 {
                    c[(i, j)] *= scale[i] * scale[j];
                }
            }
            Compliance::new(Point3::new(1.0, -2.0, 3.0), c)
        })
        .prop_filter_map("not positive definite", Result::ok)
}

#[test]
fn planar_identities_hold_for_any_compliance() {
    let load = (-30.0..30.0_f64, prop_oneof![-50.0..-0.01_f64, 0.01..50.0_f64], -500.0..500.0_f64);
    let drawn = (compliance(), load, -20.0..20.0_f64);
    let laws = |(compliance, (height_mm, force_n, torque_nmm), other): (Compliance, (f64, f64, f64), f64)| {
        for plane in [Plane::BuccoLingual, Plane::MesioDistal] {
            let r = PlanarResistance::new(&compliance, plane);
            let depth = r.centre_depth_mm();
            prop_assert!(r.sigma_squared_mm2() > 0.0);
            let load = PlanarLoad { height_mm, force_n, torque_nmm };
            let motion = r.motion(&load);
            // a b = sigma squared, with the line of the force that the couple shifts.
            let arm = height_mm + depth - torque_nmm / force_n;
            if let Some(rotation) = motion.centre_of_rotation_depth_mm() {
                let product = arm * (rotation - depth);
                prop_assert!((product / r.sigma_squared_mm2() - 1.0).abs() < 1e-9, "a b = {product}");
                // The centre of rotation does not travel, to the rounding of its place.
                let rounding = 1e-9 * (motion.centre_travel_mm.abs() + motion.tip_rad.abs() * depth.abs());
                prop_assert!(motion.travel_mm(-rotation).abs() <= rounding);
            }
            // A force through the centre of resistance does not tip; neither does one with the torque for translation.
            let still = r.motion(&PlanarLoad { height_mm: -depth, force_n, torque_nmm: 0.0 });
            prop_assert!(still.tip_rad.abs() <= 1e-12 * (r.rotation_compliance() * force_n * depth).abs());
            let ratio = r.torque_for_translation_mm(height_mm);
            let translated = r.motion(&PlanarLoad { height_mm, force_n, torque_nmm: ratio * force_n });
            let scale = r.rotation_compliance() * force_n.abs() * (height_mm.abs() + depth.abs());
            prop_assert!(translated.tip_rad.abs() <= 1e-12 * scale);
            // Moving the force along is the same as a torque, and a wrench in space says the same as the plane.
            let shifted = PlanarLoad {
                height_mm: other,
                force_n,
                torque_nmm: torque_nmm + (other - height_mm) * force_n,
            };
            let same = r.motion(&shifted);
            prop_assert!(
                (same.tip_rad - motion.tip_rad).abs()
                    <= 1e-9 * (scale + (r.rotation_compliance() * torque_nmm).abs())
                        + 1e-12 * r.rotation_compliance() * (force_n * other).abs()
            );
            let at = Point3::new(0.0, 0.0, height_mm);
            let (force, moment, turn, travel) = match plane {
                Plane::BuccoLingual => {
                    (Vector3::x() * force_n, -Vector3::y() * torque_nmm, Vector3::y(), Vector3::x())
                }
                Plane::MesioDistal => {
                    (Vector3::y() * force_n, Vector3::x() * torque_nmm, -Vector3::x(), Vector3::y())
                }
            };
            let space = compliance.motion(&Wrench { point: at, force, moment });
            let tip = space.rotation.dot(&turn);
            let u = space.displacement_at(&at).dot(&travel);
            let moments = r.rotation_compliance()
                * (torque_nmm.abs() + force_n.abs() * (height_mm.abs() + depth.abs() + 4.0));
            prop_assert!((tip - motion.tip_rad).abs() <= 1e-9 * moments, "{tip} and {}", motion.tip_rad);
            let expected = motion.travel_mm(height_mm);
            let travels = motion.centre_travel_mm.abs() + moments * (height_mm.abs() + depth.abs() + 4.0);
            prop_assert!((u - expected).abs() <= 1e-9 * travels, "{u} and {expected}");
        }
        Ok(())
    };
    draw::runner(2000).run(&drawn, laws).unwrap();
}
