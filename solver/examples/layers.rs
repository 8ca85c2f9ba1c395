//! Compares the ligament's elements on thin bonded layers with exact solutions: the annulus in plane strain and
//! the sphere in a shell (both with a rigid core moved sideways), at sizes like those of a ligament.
#![allow(clippy::print_stdout, reason = "an example's output is its purpose")]

use gomphosis_mesh_gen::revolve::{Annulus, LOWER_END, SphereShell, UPPER_END};
use gomphosis_mesh_gen::{Region, Silent, TetMesh, surface};
use gomphosis_solver::assembly::Elements;
use gomphosis_solver::element::Quadrature;
use gomphosis_solver::{Formulation, Material, Materials, Statics};
use nalgebra::Vector3;

fn main() {
    println!("percent off the exact stiffness; E 1, inner radius 3, outer 3.25");
    for nu in [0.3, 0.45, 0.49, 0.499] {
        let material = Material { modulus_mpa: 1.0, poisson_ratio: nu };
        let (ring, ball) = (annulus(material, 3.0, 3.25), sphere(material, 3.0, 3.25));
        println!("nu {nu}: exact annulus {ring:.4}, sphere {ball:.4}");
        for around in [12, 24, 48] {
            for layers in [1, 2, 3] {
                let mesh = Annulus {
                    inner_mm: 3.0,
                    outer_mm: 3.25,
                    height_mm: 1.6,
                    around,
                    along: (around / 12).max(1),
                    layers,
                }
                .mesh()
                .expect("a ring");
                let shell = SphereShell { inner_mm: 3.0, outer_mm: 3.25, divisions: around / 6, layers }
                    .mesh()
                    .expect("a shell");
                print!("  around {around:3} layers {layers}");
                for formulation in [Formulation::Displacement, Formulation::ProjectedDilatation] {
                    for points in [4, 15] {
                        let a = push(&mesh, material, formulation, points) / 1.6 / ring - 1.0;
                        let s = push(&shell, material, formulation, points) / ball - 1.0;
                        print!(" | {} {points}: {:+.3} {:+.3}", formulation.name(), 100.0 * a, 100.0 * s);
                    }
                }
                println!();
            }
        }
    }
}

/// Force along x that moves the core by 1.
fn push(mesh: &TetMesh, ligament: Material, formulation: Formulation, points: usize) -> f64 {
    let materials = Materials { ligament, ..Materials::default() };
    let rule = Quadrature::with_points(points).expect("offered");
    let mut statics = Statics::new(Elements::new(mesh, &Region::ALL, &materials, formulation, rule));
    statics.hold(mesh.surface(surface::ROOT), [true; 3]);
    statics.hold(mesh.surface(surface::SOCKET_WALL), [true; 3]);
    statics.hold(mesh.surface(LOWER_END), [false, false, true]);
    statics.hold(mesh.surface(UPPER_END), [false, false, true]);
    let nodes = mesh.nodes().len();
    let mut fields = vec![vec![Vector3::zeros(); nodes]];
    for &n in mesh.surface(surface::ROOT).iter().flatten() {
        fields[0][n as usize] = Vector3::x();
    }
    statics.solve(&[vec![Vector3::zeros(); nodes]], &mut fields, None, &Silent).expect("solvable");
    let forces = statics.elements.internal_forces(&fields).expect("valid elements");
    fields[0].iter().zip(&forces[0]).map(|(u, f)| u.dot(f)).sum()
}

/// Lateral stiffness of a bonded annulus for each length, plane strain (exact; Adkins and Gent 1954 give the
/// incompressible limit).
fn annulus(material: Material, a: f64, b: f64) -> f64 {
    let (_, g) = material.lame();
    let kappa = 3.0 - 4.0 * material.poisson_ratio;
    let (a2, b2) = (a * a, b * b);
    std::f64::consts::TAU * g * (1.0 + kappa) / (kappa * (b / a).ln() - (b2 - a2) / (kappa * (a2 + b2)))
}

/// Stiffness of a rigid sphere in a concentric bonded shell (exact): `u = z-hat (A + B/r^3 + C (3 - 4 nu)/r +
/// D (3 - 2 nu) r^2) + r-hat cos(theta) (-3B/r^3 + C/r - D (4 - 6 nu) r^2)`, `K = 16 pi G (1 - nu) C`.
fn sphere(material: Material, a: f64, b: f64) -> f64 {
    let nu = material.poisson_ratio;
    let (_, g) = material.lame();
    let row = |r: f64| {
        [
            [1.0, r.powi(-3), (3.0 - 4.0 * nu) / r, (3.0 - 2.0 * nu) * r * r],
            [0.0, -3.0 * r.powi(-3), 1.0 / r, -(4.0 - 6.0 * nu) * r * r],
        ]
    };
    let rows = [row(a)[0], row(a)[1], row(b)[0], row(b)[1]];
    let matrix = nalgebra::Matrix4::from_fn(|i, j| rows[i][j]);
    let constants = matrix.lu().solve(&nalgebra::Vector4::new(1.0, 0.0, 0.0, 0.0)).expect("regular");
    16.0 * std::f64::consts::PI * g * (1.0 - nu) * constants[2]
}
