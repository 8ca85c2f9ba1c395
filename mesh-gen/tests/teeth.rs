//! The mesh of a tooth in its socket: against closed forms for the paraboloid, and valid over the promised
//! range for every kind of tooth.

use approx::assert_relative_eq;
use gomphosis_mesh_gen::mesh::surface;
use gomphosis_mesh_gen::triangle;
use gomphosis_mesh_gen::{
    LigamentProfile, MeshError, Region, Silent, ToothInSocket, ToothKind, ToothMesh, mesh_tooth,
    mesh_tooth_within,
};
use nalgebra::{Point3, Vector3};

fn make(spec: &ToothInSocket) -> ToothMesh {
    match mesh_tooth(spec, &Silent) {
        Ok(made) => made,
        Err(error) => panic!("{error}: {spec:?}"),
    }
}

/// Area of a curved surface, and the flux of (0, 0, z) through it, by centroids of sixteen sub-triangles.
fn area_and_flux(made: &ToothMesh, name: &str) -> (f64, f64) {
    let (mut area, mut flux) = (0.0, 0.0);
    let n = 4;
    let h = 1.0 / f64::from(n);
    for t in made.mesh.surface(name) {
        let nodes = t.map(|n| made.mesh.nodes()[n as usize]);
        let mut add = |b: f64, c: f64| {
            let q = triangle::point_at(&nodes, [1.0 - (b + c) * h, b * h, c * h], h * h);
            area += q.weight;
            flux += q.weight * q.position.z * q.normal.z;
        };
        for i in 0..n {
            for j in 0..n - i {
                let (b, c) = (f64::from(i), f64::from(j));
                add(b + 1.0 / 3.0, c + 1.0 / 3.0);
                if i + j + 1 < n {
                    add(b + 2.0 / 3.0, c + 2.0 / 3.0);
                }
            }
        }
    }
    (area, flux)
}

/// Source: closed forms of the paraboloid of revolution, R 3.9, h 13 mm: lateral area
/// (pi R / 6 h^2) ((R^2 + 4 h^2)^(3/2) - R^3) = 218.9 mm2, volume pi R^2 h / 2 = 310.6 mm3. The stretched
/// ligament fills the volume between two paraboloids.
#[test]
fn paraboloid_root_has_the_closed_form_area_and_volume() {
    let mut spec = ToothInSocket::paraboloid();
    spec.ligament.profile = LigamentProfile::Stretched;
    spec.mesh.element_size_mm = 0.8;
    let made = make(&spec);
    let (r, h, t) = (3.9_f64, 13.0_f64, 0.229_f64);
    let pi = std::f64::consts::PI;
    let lateral = pi * r / (6.0 * h * h) * ((r * r + 4.0 * h * h).powf(1.5) - r.powi(3));
    assert_relative_eq!(lateral, 218.9, epsilon = 0.05);
    let (area, flux) = area_and_flux(&made, surface::ROOT);
    assert_relative_eq!(area, lateral, max_relative = 5e-4);
    // The flat crest section at z = 0 adds nothing to the flux, so it is the volume below the crest.
    assert_relative_eq!(flux, 0.5 * pi * r * r * h, max_relative = 5e-4);
    let layer = 0.5 * pi * ((r + t) * (r + t) * (h + t) - r * r * h);
    let ligament = made.quality.regions.iter().find(|q| q.region == Region::Ligament).map(|q| q.volume_mm3);
    assert_relative_eq!(ligament.unwrap_or(0.0), layer, max_relative = 2e-3);
    assert_relative_eq!(made.landmarks.bony_root_mm, 13.0, epsilon = 1e-9);
}

/// The free surfaces close: by the divergence theorem the outward areas of all bodies' boundaries cancel.
#[test]
fn named_surfaces_bound_the_ligament_completely() {
    let made = make(&ToothInSocket::handbook(ToothKind::ALL[3]));
    let flat = |name: &str| {
        made.mesh
            .surface(name)
            .iter()
            .map(|t| {
                let p: [Point3<f64>; 3] = [0, 1, 2].map(|k| made.mesh.nodes()[t[k] as usize]);
                (p[1] - p[0]).cross(&(p[2] - p[0])) * 0.5
            })
            .sum::<Vector3<f64>>()
    };
    let total = flat(surface::SOCKET_WALL) - flat(surface::ROOT) + flat(surface::LIGAMENT_CREST);
    assert!(total.norm() < 1e-9, "{total}");
    assert!(!made.mesh.surface(surface::ATTACHMENT).is_empty());
    assert!(!made.mesh.surface(surface::FIXED).is_empty());
}

#[test]
fn a_premolar_is_meshed_close_to_its_shape() {
    let made = make(&ToothInSocket::handbook(ToothKind::ALL[3]));
    let q = &made.quality;
    let tooth = &q.regions[0];
    let exact = tooth.exact_volume_mm3.expect("the tooth's volume is known");
    assert_relative_eq!(tooth.volume_mm3, exact, max_relative = 0.01);
    assert!(q.ligament_thickness.mean_error_percent < 1.0, "{:?}", q.ligament_thickness);
    assert!(q.regions.iter().all(|r| r.smallest_scaled_jacobian > 0.05), "{:?}", q.regions);
}

#[test]
fn the_mesh_is_the_same_for_any_number_of_threads() {
    let spec = ToothInSocket::handbook(ToothKind::ALL[10]);
    let one = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool of threads")
            .install(|| make(&spec).mesh)
    };
    let reference = one(1);
    assert!(reference == one(2));
    assert!(reference == one(4));
}

fn range(sizes: &[f64], losses: &[f64], thicknesses: &[f64]) {
    for kind in ToothKind::ALL {
        for &size in sizes {
            for &loss in losses {
                for &thickness in thicknesses {
                    let healthy = ToothInSocket::handbook(kind);
                    let mut spec = healthy.with_bone_loss(loss * healthy.bony_root_mm());
                    spec.mesh.element_size_mm = size;
                    spec.ligament.thickness_mm = thickness;
                    let made = make(&spec);
                    assert!(
                        made.quality.ligament_thickness.mean_error_percent < 8.0,
                        "{} size {size} loss {loss} t {thickness}: {:?}",
                        kind.name(),
                        made.quality.ligament_thickness
                    );
                }
            }
        }
    }
}

#[test]
fn all_teeth_mesh_at_the_default_size() {
    range(&[1.2], &[0.0, 0.3, 0.6], &[0.2]);
}

#[test]
fn all_teeth_mesh_at_double_the_size_with_thin_and_thick_ligaments() {
    range(&[2.4], &[0.0, 0.4], &[0.15, 0.4]);
}

#[test]
fn all_teeth_mesh_at_half_the_size() {
    range(&[0.6], &[0.0], &[0.2]);
}

#[test]
fn impossible_specifications_say_what_is_wrong() {
    let premolar = || ToothInSocket::handbook(ToothKind::ALL[3]);
    let molar = || ToothInSocket::handbook(ToothKind::ALL[5]);
    let refuse = |spec: ToothInSocket| match mesh_tooth(&spec, &Silent) {
        Err(MeshError::OutOfRange { key, .. } | MeshError::Impossible { key, .. }) => key,
        Err(other) => panic!("{other}"),
        Ok(made) => panic!("meshed {} elements", made.quality.tetrahedra),
    };
    let mut spec = premolar();
    spec.ligament.thickness_mm = f64::NAN;
    assert_eq!(refuse(spec), "ligament.thickness_mm");
    let mut spec = premolar();
    spec.bone.loss_mm = 11.5;
    assert_eq!(refuse(spec), "bone.loss_mm");
    let mut spec = premolar();
    spec.attachment.height_mm = 30.0;
    assert_eq!(refuse(spec), "attachment.height_mm");
    let mut spec = premolar();
    spec.bone.buccal_plate_mm = -0.5;
    assert_eq!(refuse(spec), "bone.buccal_plate_mm");
    let mut spec = molar();
    spec.tooth.root.divergence_deg = 0.0;
    spec.tooth.root.mesiodistal_mm = 3.6;
    spec.tooth.root.buccolingual_mm = 4.6;
    spec.ligament.thickness_mm = 0.6;
    assert_eq!(refuse(spec), "root.divergence_deg");
    let mut spec = molar();
    spec.tooth.root.furcation_mm = 12.0;
    assert_eq!(refuse(spec), "root.furcation_mm");
}

#[test]
fn a_mesh_that_would_not_fit_the_memory_is_refused_before_it_is_made() {
    let spec = ToothInSocket::handbook(ToothKind::parse("14").expect("a tooth"));
    let refused = mesh_tooth_within(&spec, Some(5_000_000), &Silent);
    assert!(matches!(refused, Err(MeshError::NoMemory { left_mb: 5, .. })), "{refused:?}");
    assert!(mesh_tooth_within(&spec, Some(200_000_000), &Silent).is_ok());
}

/// `gomphosis mesh 11 --set mesh.element_size_mm=0.4` ends so, after attempts that are too long for a test.
#[test]
fn elements_without_room_beside_thin_bone_are_refused_with_advice_that_works() {
    let mut spec = ToothInSocket::handbook(ToothKind::parse("11").expect("a tooth"));
    spec.mesh.element_size_mm = 0.4;
    let error = MeshError::NoRoom { element_size_mm: 0.21 };
    let advice = spec.advice(&error).expect("a value that would do");
    assert!(spec.take(&advice), "{advice:?}");
    assert!(mesh_tooth(&spec, &Silent).is_ok(), "{error}; {advice:?}");
    assert!(spec.advice(&error).is_none(), "the default is not advised twice");
}
