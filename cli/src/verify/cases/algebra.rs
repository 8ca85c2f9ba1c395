//! The mechanics of centres: constants of the tooth, and identities of its compliance.

use gomphosis_mesh_gen::revolve::{CrestEdge, ParaboloidBodies, ParaboloidRoot, ThicknessLaw, mapped};
use gomphosis_mesh_gen::{Observer, TetMesh, surface};
use gomphosis_solver::motion::SurfaceFit;
use gomphosis_solver::{
    Bodies, Compliance, PlanarResistance, Plane, ToothProblem, UnitSolutions, Wrench, solve_unit_loads,
};
use nalgebra::{Isometry3, Point3, Rotation3, Vector3};

use crate::verify::model::{LIGAMENT, problem, rigid, with_ligament};
use crate::verify::row::furthest;
use crate::verify::{Case, Row, VerifyError};

/// Products and travels that no load changes.
pub const CONSTANTS: Case = Case {
    name: "constants",
    title: "Constants of a tooth",
    source: "Naegerl 1991, Geramy",
    reference: "a b = sigma^2 for all parallel forces in a plane (Naegerl, Burstone, Becker and Kubein-Meesenburg 1991, AJODO \
        99:337-345); the travel of the centre of resistance depends on the force alone (Geramy, Shiraz Univ J Dent)",
    goal: "from the six solutions to centres, without the closed algebra of the planes on the measured side",
    mesh: "elliptic paraboloid root 3.5 x 2.5 mm, uniform ligament 0.2 mm; moment-to-force ratios from -2 to 20 mm in steps of \
        0.5, the motion fitted to the root's displacements",
    tolerance: "a b 0.2 % (outside 0.2 mm around translation), travel 1e-6: rounding of a direct solve on a badly scaled system",
    run: constants,
};

/// Identities.
pub const COMPLIANCE: Case = Case {
    name: "compliance",
    title: "Compliance algebra",
    source: "rigid-body mechanics",
    reference: "Maxwell-Betti reciprocity; change of reference point and of frame (rigid-body mechanics); axisymmetric roots \
        have a centre of resistance (Dathe, Naegerl and Kubein-Meesenburg 2013, J Dent Biomech 4)",
    goal: "a motion depends neither on the frame nor on the point that describes it; where a centre of resistance exists, all \
        its definitions meet there; stiff bodies tend to rigid ones",
    mesh: "the elliptic root, also turned and moved in space; the stretched paraboloid; the stretched paraboloid with bone and \
        tooth of 20,000 and of 2,000,000 MPa against the rigid tier",
    tolerance: "1e-8: rounding of a direct solve; centres of the axisymmetric root 0.01 mm and coupling 1e-4: the symmetry of \
        its mesh; bodies of 2,000,000 MPa 0.1 %, falling with their flexibility",
    run: compliance,
};

fn root() -> Result<TetMesh, VerifyError> {
    let root = ParaboloidRoot {
        half_axis_x_mm: 3.5,
        half_axis_y_mm: 2.5,
        thickness_mm: 0.2,
        around: 18,
        rings: 12,
        ..ParaboloidRoot::reference(ThicknessLaw::Uniform(CrestEdge::Normal))
    };
    Ok(root.mesh()?)
}

/// Travel and turn of the root surface at the crest's centre under a wrench, and what the fit leaves over.
fn motion(fit: &SurfaceFit, solutions: &UnitSolutions, wrench: &Wrench) -> (f64, f64, f64) {
    let fitted = fit.fit(&solutions.displacement(wrench));
    (fitted.motion.translation.x, fitted.motion.rotation.y, fitted.residual)
}

fn constants(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mesh = root()?;
    let solutions = rigid(&mesh, 0.45, LIGAMENT, observer)?;
    let fit = SurfaceFit::new(mesh.nodes(), mesh.surface(surface::ROOT), Point3::origin())
        .ok_or(VerifyError::Missing("the root's surface defines no motion"))?;
    let plane = PlanarResistance::new(&solutions.compliance, Plane::BuccoLingual);
    let (depth, height) = (plane.centre_depth_mm(), 4.0);
    let (mut products, mut travels, mut residuals) = (Vec::new(), Vec::new(), Vec::new());
    let mut tips = Vec::new();
    for step in 0..=44 {
        let ratio = -2.0 + 0.5 * f64::from(step);
        let push = Wrench::force(Point3::new(3.5, 0.0, height), Vector3::x());
        let load = Wrench { moment: Vector3::y() * -ratio, ..push };
        let (u, phi, residual) = motion(&fit, &solutions, &load);
        residuals.push(residual);
        travels.push((plane.centre_compliance_mm_per_n(), u - phi * depth));
        if step == 4 {
            // Without torque the tip for each mm at the force line is 1 / (D + sigma^2 / D).
            let arm = height + depth;
            tips.push((1.0 / (arm + plane.sigma_squared_mm2() / arm), phi / (u + phi * height)));
        }
        let a = height + depth - ratio;
        if a.abs() > 0.2 {
            // The axis stands still at the depth u / phi.
            products.push((plane.sigma_squared_mm2(), a * (u / phi - depth)));
        }
    }
    let compared = products.len() as f64;
    Ok(vec![
        Row::worst("a b over sigma², worst error", products, 0.002),
        Row::band("ratios compared", (43.0, 45.0), compared),
        Row::rounding("travel of the centre of resistance, worst error", relative_error(&travels), 1e-6),
        Row::rounding("tip per mm at the force line of a push, error", relative_error(&tips), 1e-6),
        Row::rounding("what the fit of the rigid root leaves over", furthest(residuals), 1e-9),
    ])
}

/// The relative error furthest from zero.
fn relative_error(pairs: &[(f64, f64)]) -> f64 {
    furthest(pairs.iter().map(|(expected, got)| (got - expected) / expected))
}

fn compliance(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut rows = identities(observer)?;
    rows.extend(axisymmetric(observer)?);
    rows.extend(stiff_bodies(observer)?);
    Ok(rows)
}

/// Reciprocity, reference point and frame.
fn identities(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mesh = root()?;
    let at = |point: Point3<f64>| {
        let materials = with_ligament(1.0, 0.45);
        let here =
            ToothProblem { reference_point: point, ..problem(&mesh, Bodies::Rigid, materials, LIGAMENT) };
        solve_unit_loads(&here, observer)
    };
    let (origin, other) = (at(Point3::origin())?, at(Point3::new(1.0, -2.0, 5.0))?);
    let c = origin.compliance;
    let centred = c.at(c.centre_of_compliance());
    let skew = (centred.b() - centred.b().transpose()).norm();
    let scale = (c.a().norm() * c.c().norm()).sqrt();
    // The whole body, turned and moved, and then turned back.
    let move_all = Isometry3::new(Vector3::new(3.0, -7.0, 2.0), Vector3::new(0.7, -1.1, 0.4));
    let elsewhere = rigid(&mapped(&mesh, |p| move_all * p)?, 0.45, LIGAMENT, observer)?.compliance;
    let carried = c.rotated(&Rotation3::from(move_all.rotation));
    let carried = Compliance { point: carried.point + move_all.translation.vector, ..carried };
    let missing = VerifyError::Missing("no radius of resistance");
    let radii = c.radius_of_resistance().zip(elsewhere.radius_of_resistance()).ok_or(missing)?;
    let centre = move_all * c.centre_of_compliance();
    Ok(vec![
        Row::rounding("reciprocity, asymmetry, scaled", furthest([origin.asymmetry, other.asymmetry]), 1e-8),
        Row::rounding(
            "solved about another point, largest entry's difference, scaled",
            difference(&c.at(other.reference_point), &other.compliance),
            1e-8,
        ),
        Row::rounding("skew coupling at the centre of compliance, scaled", skew / scale, 1e-10),
        Row::rounding(
            "turned and moved in space, largest entry's difference, scaled",
            difference(&carried.at(Point3::origin()), &elsewhere),
            1e-8,
        ),
        Row::worst("turned, radius of resistance, error", [radii], 1e-4),
        Row::rounding(
            "turned, centre of compliance, mm",
            (centre - elsewhere.centre_of_compliance()).norm(),
            1e-6,
        ),
    ])
}

/// Largest scaled difference of two compliances at one point.
fn difference(expected: &Compliance, got: &Compliance) -> f64 {
    furthest((0..36).map(|k| {
        let (i, j) = (k / 6, k % 6);
        let scale = (expected.matrix[(i, i)] * expected.matrix[(j, j)]).sqrt();
        (expected.matrix[(i, j)] - got.matrix[(i, j)]) / scale
    }))
}

fn axisymmetric(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mesh = ParaboloidRoot::reference(ThicknessLaw::Stretched).mesh()?;
    let c = rigid(&mesh, 0.45, LIGAMENT, observer)?.compliance;
    let centre = c.centre_of_compliance();
    let centred = c.at(centre);
    let coupling = centred.b().norm() / (c.a().norm() * c.c().norm()).sqrt();
    let radius = c.radius_of_resistance().ok_or(VerifyError::Missing("no radius of resistance"))?;
    let axes = c.axes_of_resistance().ok_or(VerifyError::Missing("no axes of resistance"))?;
    let depth = PlanarResistance::new(&c, Plane::BuccoLingual).centre_depth_mm();
    let name = |what: &str| format!("axisymmetric root, {what}");
    Ok(vec![
        Row::absolute(name("coupling that is left, scaled"), 0.0, coupling, 1e-4),
        Row::absolute(name("radius of resistance, mm"), 0.0, radius, 0.01),
        Row::absolute(name("centre of compliance and of resistance, mm"), -depth, centre.z, 0.01),
        Row::absolute(
            name("axes of resistance miss each other by, mm"),
            0.0,
            furthest(axes.distances_mm),
            0.01,
        ),
    ])
}

fn stiff_bodies(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let root = ParaboloidRoot {
        around: 18,
        rings: 10,
        bodies: ParaboloidBodies::All { bone_mm: 4.0, bone_layers: 2, crown_mm: 8.0 },
        ..ParaboloidRoot::reference(ThicknessLaw::Stretched)
    };
    let mesh = root.mesh()?;
    let error = |stiff: f64| {
        let mut materials = with_ligament(0.1, 0.45);
        for body in [&mut materials.tooth, &mut materials.cancellous_bone, &mut materials.cortical_bone] {
            body.modulus_mpa = stiff;
        }
        let solve = |bodies| solve_unit_loads(&problem(&mesh, bodies, materials, LIGAMENT), observer);
        let e = solve(Bodies::Elastic)?.compliance.matrix;
        let r = solve(Bodies::Rigid)?.compliance.matrix;
        Ok::<f64, VerifyError>(furthest((0..6).map(|i| e[(i, i)] / r[(i, i)] - 1.0)).abs())
    };
    let (soft, stiff) = (error(2e4)?, error(2e6)?);
    Ok(vec![
        Row::absolute("bodies of 2,000,000 MPa against rigid ones, worst entry", 0.0, stiff, 1e-3),
        // The difference is linear in the flexibility of the bodies.
        Row::relative("that difference at 20,000 MPa over it", 100.0, soft / stiff, 0.1),
    ])
}
