//! Source: `tests/recompute/axisymmetric.py` (Fourier harmonics, nine-node quadrilaterals, scikit-fem), mesh 200 x 8;
//! 100 x 5 differs by under 0.07 %. Geometry of Haack and Haft 1972 and Provatidis 2001 (from memory).
//! Goal: the idealised tooth itself through the rigid tier, both laws of thickness.
//! Mesh: root R 3.9, h 13, ligament 0.229 mm; 24 around, 16 rings finer toward the crest, 2 layers.
//! Supports: rigid root, held wall, free crest.
//! Expected: the table below; kx and kz in N/mm, torsion in N mm/rad, E = 1 MPa.
//! Tolerance: stiffness 1 %, centre of resistance 0.005 h, sigma squared 2 %: mesh error of two layers of elements.

use gomphosis_mesh_gen::revolve::{CrestEdge, ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::{LigamentProfile, Silent, ToothInSocket, mesh_tooth};
use gomphosis_solver::{Formulation, PlanarResistance, Plane};
use gomphosis_tests::compare::{absolute, relative};
use gomphosis_tests::model::rigid;

/// nu, kx, depth of the centre of resistance, sigma squared, kz, torsion.
const STRETCHED: [[f64; 6]; 6] = [
    [0.0, 882.038, 5.48881, 15.3978, 635.496, 5431.60],
    [0.3, 1001.01, 5.32196, 14.2487, 532.270, 4178.15],
    [0.4, 1423.36, 5.21417, 13.3077, 560.822, 3879.72],
    [0.45, 2315.48, 5.14817, 12.4844, 669.365, 3745.93],
    [0.49, 9231.21, 5.14569, 11.0569, 1633.94, 3645.37],
    [0.499, 67_012.7, 5.29179, 8.52036, 11_881.7, 3623.48],
];
const UNIFORM: [[f64; 6]; 6] = [
    [0.0, 734.782, 5.12524, 15.3555, 526.507, 4788.40],
    [0.3, 834.147, 4.95945, 14.1121, 438.956, 3683.39],
    [0.4, 1185.31, 4.85360, 13.0967, 459.420, 3420.29],
    [0.45, 1924.59, 4.78919, 12.2064, 542.812, 3302.35],
    [0.49, 7574.15, 4.77779, 10.6142, 1284.68, 3213.69],
    [0.499, 50_725.3, 4.83846, 7.71961, 8980.01, 3194.40],
];

fn compare(law: ThicknessLaw, table: &[[f64; 6]], formulation: Formulation) {
    let mesh = ParaboloidRoot::reference(law).mesh().unwrap();
    for &[poisson, kx, depth, sigma_squared, kz, torsion] in table {
        let compliance = rigid(&mesh, poisson, formulation).unwrap().compliance;
        let plane = PlanarResistance::new(&compliance, Plane::BuccoLingual);
        let c = compliance.matrix;
        let law = if law == ThicknessLaw::Stretched { "stretched" } else { "uniform" };
        let name = |what: &str| format!("paraboloid {law}, {what}, nu {poisson}, {}", formulation.name());
        relative(&name("kx"), kx, 1.0 / plane.centre_compliance_mm_per_n(), 0.01);
        absolute(&name("centre / h"), depth / 13.0, plane.centre_depth_mm() / 13.0, 0.005);
        relative(&name("sigma squared"), sigma_squared, plane.sigma_squared_mm2(), 0.02);
        relative(&name("kz"), kz, 1.0 / c[(2, 2)], 0.01);
        relative(&name("torsion"), torsion, 1.0 / c[(5, 5)], 0.01);
        let other = PlanarResistance::new(&compliance, Plane::MesioDistal);
        relative(&name("both planes alike"), plane.sigma_squared_mm2(), other.sigma_squared_mm2(), 0.002);
    }
}

#[test]
fn stretched_socket() {
    compare(ThicknessLaw::Stretched, &STRETCHED, Formulation::ProjectedDilatation);
}

#[test]
fn uniform_ligament() {
    compare(ThicknessLaw::Uniform(CrestEdge::Normal), &UNIFORM, Formulation::ProjectedDilatation);
}

/// The tooth mesher's own paraboloid, on its irregular mesh, against the same table.
#[test]
fn paraboloid_of_the_tooth_mesher() {
    let mut tooth = ToothInSocket::paraboloid();
    tooth.ligament.profile = LigamentProfile::Stretched;
    let meshed = mesh_tooth(&tooth, &Silent).unwrap();
    for &[poisson, kx, depth, sigma_squared, kz, torsion] in &STRETCHED {
        let compliance = rigid(&meshed.mesh, poisson, Formulation::ProjectedDilatation).unwrap().compliance;
        let name = |what: &str| format!("meshed paraboloid tooth, {what}, nu {poisson}");
        for plane in [Plane::BuccoLingual, Plane::MesioDistal] {
            let plane = PlanarResistance::new(&compliance, plane);
            relative(&name("kx"), kx, 1.0 / plane.centre_compliance_mm_per_n(), 0.01);
            absolute(&name("centre / h"), depth / 13.0, plane.centre_depth_mm() / 13.0, 0.005);
            relative(&name("sigma squared"), sigma_squared, plane.sigma_squared_mm2(), 0.02);
        }
        relative(&name("kz"), kz, 1.0 / compliance.matrix[(2, 2)], 0.01);
        relative(&name("torsion"), torsion, 1.0 / compliance.matrix[(5, 5)], 0.01);
    }
}

/// The plain element, up to the numbers it is fit for.
#[test]
fn plain_displacement() {
    compare(ThicknessLaw::Stretched, &STRETCHED[..5], Formulation::Displacement);
    compare(ThicknessLaw::Uniform(CrestEdge::Normal), &UNIFORM[..5], Formulation::Displacement);
}
