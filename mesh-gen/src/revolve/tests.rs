//! Volumes and areas against closed forms, nodes on exact surfaces, and refusal of bad numbers.

use std::f64::consts::PI;

use approx::assert_relative_eq;
use nalgebra::{Point3, Vector3};

use super::*;
use crate::triangle;

/// Volume of the curved elements by the divergence theorem over their faces would need the same shape functions,
/// so: 4-point Gauss rule a cell (exact for the cubic det J up to degree 2, ample here).
fn volume(mesh: &TetMesh) -> f64 {
    let (a, b) = ((5.0 + 3.0 * 5f64.sqrt()) / 20.0, (5.0 - 5f64.sqrt()) / 20.0);
    let mut sum = 0.0;
    for cell in 0..mesh.cells().len() {
        let nodes = mesh.cell_nodes(cell);
        for point in 0..4 {
            let mut l = [b; 4];
            l[point] = a;
            let g = crate::mesh::shape_gradients(l);
            let mut jacobian = nalgebra::Matrix3::zeros();
            for (x, dn) in nodes.iter().zip(&g) {
                jacobian += x.coords * dn.transpose();
            }
            sum += jacobian.determinant() / 24.0;
        }
    }
    sum
}

/// Integral of the outward normal times a vector field over a surface, three-point rule.
fn flux(mesh: &TetMesh, name: &str, field: impl Fn(Point3<f64>) -> Vector3<f64>) -> f64 {
    let mut sum = 0.0;
    for face in mesh.surface(name) {
        let x = face.map(|n| mesh.nodes()[n as usize]);
        for l in [[2.0, 0.5, 0.5], [0.5, 2.0, 0.5], [0.5, 0.5, 2.0]].map(|l| l.map(|v: f64| v / 3.0)) {
            let q = triangle::point_at(&x, l, 1.0 / 3.0);
            sum += field(q.position).dot(&q.normal) * q.weight;
        }
    }
    sum
}

/// Volume under the named closed surfaces by the divergence theorem, x/3 as field.
fn enclosed(mesh: &TetMesh, name: &str) -> f64 {
    flux(mesh, name, |p| p.coords / 3.0)
}

#[test]
fn annulus_has_the_volume_of_a_ring() {
    let ring = Annulus { inner_mm: 3.0, outer_mm: 3.25, height_mm: 0.5, around: 24, along: 2, layers: 2 };
    let mesh = ring.mesh().unwrap();
    let exact = PI * (3.25f64.powi(2) - 9.0) * 0.5;
    assert_relative_eq!(volume(&mesh), exact, max_relative = 2e-4);
    for n in mesh.surface(surface::ROOT).iter().flatten() {
        let p = mesh.nodes()[*n as usize];
        assert_relative_eq!(p.x.hypot(p.y), 3.0, max_relative = 1e-14);
    }
    let side = |p: Point3<f64>| Vector3::new(p.x, p.y, 0.0) / 2.0;
    assert_relative_eq!(
        flux(&mesh, surface::SOCKET_WALL, side),
        PI * 3.25f64.powi(2) / 2.0,
        max_relative = 1e-4
    );
    assert_relative_eq!(flux(&mesh, surface::ROOT, side), PI * 4.5, max_relative = 1e-4);
    assert_relative_eq!(flux(&mesh, UPPER_END, |_| Vector3::z()), exact / 0.5, max_relative = 2e-4);
    assert_relative_eq!(flux(&mesh, LOWER_END, |_| Vector3::z()), -exact / 0.5, max_relative = 2e-4);
}

#[test]
fn sphere_shell_has_the_volume_of_a_shell() {
    let mesh = SphereShell { inner_mm: 3.0, outer_mm: 3.25, divisions: 5, layers: 2 }.mesh().unwrap();
    let ball = |r: f64| 4.0 / 3.0 * PI * r.powi(3);
    assert_relative_eq!(volume(&mesh), ball(3.25) - ball(3.0), max_relative = 1e-4);
    assert_relative_eq!(enclosed(&mesh, surface::SOCKET_WALL), ball(3.25), max_relative = 1e-4);
    assert_relative_eq!(enclosed(&mesh, surface::ROOT), ball(3.0), max_relative = 1e-4);
    for n in mesh.surface(surface::ROOT).iter().flatten() {
        assert_relative_eq!(mesh.nodes()[*n as usize].coords.norm(), 3.0, max_relative = 1e-14);
    }
}

#[test]
fn disc_has_the_volume_of_a_cylinder() {
    let disc =
        BondedDisc { radius_mm: 2.0, thickness_mm: 0.4, around: 18, rings: 8, layers: 2, rim_grading: 0.5 };
    let mesh = disc.mesh().unwrap();
    assert_relative_eq!(volume(&mesh), PI * 4.0 * 0.4, max_relative = 1e-4);
    let rim = flux(&mesh, surface::LIGAMENT_CREST, |p| Vector3::new(p.x, p.y, 0.0) / 2.0);
    assert_relative_eq!(rim, PI * 4.0 * 0.4, max_relative = 1e-4);
    assert_relative_eq!(flux(&mesh, surface::ROOT, |_| Vector3::z()), -PI * 4.0, max_relative = 1e-4);
    assert_relative_eq!(flux(&mesh, surface::SOCKET_WALL, |_| Vector3::z()), -PI * 4.0, max_relative = 1e-4);
}

/// Volumes by closed form: a paraboloid holds half its cylinder.
#[test]
fn stretched_paraboloid_has_the_volume_between_two_paraboloids() {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh().unwrap();
    let solid = |a: f64, h: f64| PI * a * a * h / 2.0;
    assert_relative_eq!(volume(&mesh), solid(4.129, 13.229) - solid(3.9, 13.0), max_relative = 1e-4);
    // Both surfaces are open at z = 0, where x.n of the missing lid is zero.
    assert_relative_eq!(enclosed(&mesh, surface::ROOT), solid(3.9, 13.0), max_relative = 1e-4);
    assert_relative_eq!(enclosed(&mesh, surface::SOCKET_WALL), solid(4.129, 13.229), max_relative = 1e-4);
}

/// Lateral area of the paraboloid by closed form: pi R / (6 h^2) ((R^2 + 4 h^2)^(3/2) - R^3).
#[test]
fn uniform_paraboloid_is_its_area_times_its_thickness() {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Uniform(CrestEdge::Normal)).mesh().unwrap();
    let (r, h, t) = (3.9f64, 13.0f64, 0.229);
    let area = PI * r / (6.0 * h * h) * ((r * r + 4.0 * h * h).powf(1.5) - r.powi(3));
    assert_relative_eq!(area, 218.9, max_relative = 5e-4);
    // Steiner: V = A t + M t^2 + K t^3 / 3 with M the integral of the mean curvature, about A / (2 * 2.9) here:
    // bounds suffice.
    let v = volume(&mesh);
    assert!(v > area * t && v < area * t * (1.0 + t / 3.0), "{v}");
    for n in mesh.surface(surface::SOCKET_WALL).iter().flatten().map(|n| mesh.nodes()[*n as usize]) {
        // Distance from the root's surface, by a fine search along the meridian.
        let rho = n.x.hypot(n.y);
        let nearest = (0..=20_000)
            .map(|i| f64::from(i) / 20_000.0)
            .map(|s| (rho - r * s).hypot(n.z + h * (1.0 - s * s)))
            .fold(f64::INFINITY, f64::min);
        assert!((nearest - t).abs() < 1e-5, "{nearest}");
    }
}

#[test]
fn flush_crest_lies_in_the_plane_of_the_crest() {
    for law in [ThicknessLaw::Uniform(CrestEdge::Flush), ThicknessLaw::Stretched] {
        for loss in [0.0, 6.0] {
            let root = ParaboloidRoot {
                half_axis_y_mm: 3.0,
                bone_loss_mm: loss,
                bodies: ParaboloidBodies::LigamentAndBone { bone_mm: 4.0, bone_layers: 3 },
                ..ParaboloidRoot::reference(law)
            };
            let mesh = root.mesh().unwrap();
            for name in [surface::LIGAMENT_CREST, surface::BONE_CREST] {
                assert!(!mesh.surface(name).is_empty());
                for n in mesh.surface(name).iter().flatten() {
                    assert!((mesh.nodes()[*n as usize].z + loss).abs() < 1e-9);
                }
            }
        }
    }
}

/// All bodies: tooth (paraboloid and cylinder), ligament and bowl fill their closed-form volumes together.
#[test]
fn whole_paraboloid_tooth_fills_its_shape() {
    let all = ParaboloidBodies::All { bone_mm: 5.0, bone_layers: 3, crown_mm: 8.0 };
    for (loss, y) in [(0.0, 3.9), (4.0, 3.0)] {
        let law = ThicknessLaw::Stretched;
        let root = ParaboloidRoot {
            bodies: all,
            bone_loss_mm: loss,
            half_axis_y_mm: y,
            ..ParaboloidRoot::reference(law)
        };
        let mesh = root.mesh().unwrap();
        // Volume of a paraboloid of rim half axes a, b and length h below z = -loss.
        let solid = |a: f64, b: f64, h: f64| PI * a * b * (h - loss).powi(2) / (2.0 * h);
        let crown = PI * 3.9 * y * (13.0 / 2.0 + 8.0) - solid(3.9, y, 13.0);
        assert_relative_eq!(
            enclosed(&mesh, surface::ROOT) + loss / 3.0 * lid(&mesh, surface::ROOT),
            solid(3.9, y, 13.0),
            max_relative = 1e-4
        );
        let tooth = mesh.extract(&[Region::Tooth]).0;
        assert_relative_eq!(volume(&tooth), solid(3.9, y, 13.0) + crown, max_relative = 2e-4);
        assert_relative_eq!(volume(&mesh), solid(9.129, y + 5.229, 18.229) + crown, max_relative = 5e-4);
        // The free surface and the root close the tooth: no net area vector, and the volume again.
        let closed =
            flux(&mesh, surface::CROWN, |_| Vector3::z()) + flux(&mesh, surface::ROOT, |_| Vector3::z());
        assert!(closed.abs() < 1e-10, "{closed}");
        let both = enclosed(&mesh, surface::CROWN) + enclosed(&mesh, surface::ROOT);
        assert_relative_eq!(both, volume(&tooth), max_relative = 1e-4);
    }
}

/// Area of the missing lid of an open bowl: minus the flux of a constant field through it.
fn lid(mesh: &TetMesh, name: &str) -> f64 {
    flux(mesh, name, |_| Vector3::z())
}

#[test]
fn two_bodies_side_by_side_keep_their_volume_and_names() {
    let one = SphereShell { inner_mm: 1.0, outer_mm: 1.5, divisions: 2, layers: 1 }.mesh().unwrap();
    let two = side_by_side(&[(&one, Vector3::x() * 3.0), (&one, -Vector3::x() * 3.0)]).unwrap();
    assert_relative_eq!(volume(&two), 2.0 * volume(&one), max_relative = 1e-12);
    assert_eq!(two.surface(surface::ROOT).len(), 2 * one.surface(surface::ROOT).len());
    assert!(mapped(&one, |p| Point3::from(-p.coords)).is_err());
}

#[test]
fn impossible_numbers_are_refused_with_their_key() {
    let good = ParaboloidRoot::reference(ThicknessLaw::Stretched);
    let bad = [
        ParaboloidRoot { half_axis_x_mm: -1.0, ..good },
        ParaboloidRoot { half_axis_y_mm: f64::NAN, ..good },
        ParaboloidRoot { length_mm: f64::INFINITY, ..good },
        ParaboloidRoot { thickness_mm: 0.0, ..good },
        ParaboloidRoot { bone_loss_mm: 13.0, ..good },
        ParaboloidRoot { around: 25, ..good },
        ParaboloidRoot { around: 0, ..good },
        ParaboloidRoot { rings: 4, ..good },
        ParaboloidRoot { layers: 0, ..good },
        ParaboloidRoot { crest_grading: 1.0, ..good },
        ParaboloidRoot { around: 99_996, rings: 100_000, ..good },
    ];
    for root in bad {
        assert!(matches!(root.mesh(), Err(MeshError::OutOfRange { .. })), "{root:?}");
    }
    let ring = Annulus { inner_mm: 3.0, outer_mm: 2.0, height_mm: 0.5, around: 24, along: 2, layers: 2 };
    assert!(matches!(ring.mesh(), Err(MeshError::OutOfRange { key: "annulus.outer_mm", .. })));
}

mod any_input {
    use proptest::prelude::*;

    use super::*;

    /// Lengths from the sensible to the absurd.
    fn length() -> impl Strategy<Value = f64> {
        prop_oneof![
            4 => 0.05..20.0f64,
            1 => proptest::num::f64::ANY,
            1 => prop::sample::select(vec![0.0, -1.0, f64::NAN, f64::INFINITY, f64::MIN_POSITIVE, 1e-9, 1e300]),
        ]
    }

    fn count() -> impl Strategy<Value = usize> {
        prop_oneof![8 => 0..12usize, 1 => Just(usize::MAX), 1 => Just(1_000_000)]
    }

    fn law() -> impl Strategy<Value = ThicknessLaw> {
        prop::sample::select(vec![
            ThicknessLaw::Stretched,
            ThicknessLaw::Uniform(CrestEdge::Normal),
            ThicknessLaw::Uniform(CrestEdge::Flush),
        ])
    }

    fn bodies() -> impl Strategy<Value = ParaboloidBodies> {
        prop_oneof![
            Just(ParaboloidBodies::Ligament),
            (length(), count()).prop_map(|(bone_mm, bone_layers)| ParaboloidBodies::LigamentAndBone {
                bone_mm,
                bone_layers
            }),
            (length(), count(), length()).prop_map(|(bone_mm, bone_layers, crown_mm)| {
                ParaboloidBodies::All { bone_mm, bone_layers, crown_mm }
            }),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

        /// A mesh or a reason, never a panic; and a mesh has passed the audit of its constructor.
        #[test]
        fn gives_a_mesh_or_a_reason(
            (a, b, h, t, loss) in (length(), length(), length(), length(), length()),
            law in law(),
            bodies in bodies(),
            (around, rings, layers) in ((0..5usize).prop_map(|k| 6 * k), count(), count()),
            crest_grading in length(),
        ) {
            let root = ParaboloidRoot {
                half_axis_x_mm: a, half_axis_y_mm: b, length_mm: h, thickness_mm: t, law, bone_loss_mm: loss,
                bodies, around, rings, layers, crest_grading: crest_grading / 20.0,
            };
            let _ = root.mesh();
            let _ = Annulus { inner_mm: a, outer_mm: b, height_mm: h, around, along: rings, layers }.mesh();
            let _ = SphereShell { inner_mm: a, outer_mm: b, divisions: rings, layers }.mesh();
            let disc = BondedDisc { radius_mm: a, thickness_mm: t, around, rings, layers, rim_grading: crest_grading };
            let _ = disc.mesh();
        }
    }
}
