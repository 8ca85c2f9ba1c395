//! Which choices of the model matter: each is changed alone, on a premolar and a molar, elastic tier, and the change of
//! the headline numbers is printed as the Markdown page of the manual.
//! `cargo run --release -p gomphosis-tests --example sensitivity > cli/docs/sensitivity.md`
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example's output is its purpose")]
#![allow(clippy::expect_used, reason = "a study that cannot run ends")]

use std::collections::BTreeMap;

use gomphosis_mesh_gen::{
    Face, LigamentProfile, Silent, TetMesh, ToothInSocket, ToothKind, ToothMesh, mesh_tooth, surface,
};
use gomphosis_solver::motion::SurfaceFit;
use gomphosis_solver::{
    Bodies, Compliance, Discretisation, Footprint, Formulation, LigamentStress, Materials, PlanarLoad,
    PlanarResistance, Plane, SolveOptions, ToothProblem, UnitSolutions, Wrench, solve_unit_loads,
};
use nalgebra::{Matrix6, Vector3};

const TEETH: [&str; 2] = ["upper first premolar", "upper first molar"];
const COLUMNS: [&str; 9] = [
    "CRes",
    "sigma²",
    "CRot",
    "tip/mm",
    "travel",
    "CRes, mesio-distal",
    "travel, mesio-distal",
    "largest pressure",
    "mean pressure",
];
/// Columns whose error is estimated: those that follow from the compliance.
const ESTIMATED: usize = 7;

/// Everything that a run depends on.
#[derive(Clone)]
struct Setup {
    spec: ToothInSocket,
    materials: Materials,
    bodies: Bodies,
    formulation: Formulation,
    quadrature_points: usize,
    held: Held,
    read: Read,
}

/// Faces of the block that are held.
#[derive(Clone, Copy, PartialEq)]
enum Held {
    BaseAndCuts,
    Base,
    All,
}

/// Surface that the motion is read on.
#[derive(Clone, Copy, PartialEq)]
enum Read {
    Root,
    Crown,
    Tooth,
}

/// One choice changed.
type Change = (&'static str, &'static str, fn(&mut Setup));

const CHANGES: [Change; 33] = [
    ("bodies", "rigid tooth and bone", |s| s.bodies = Bodies::Rigid),
    ("stiffness of the bodies", "tooth 18 600 to 80 000 MPa (enamel throughout)", |s| {
        s.materials.tooth.modulus_mpa = 8e4;
    }),
    ("", "cancellous bone 1370 to 500 MPa", |s| s.materials.cancellous_bone.modulus_mpa = 500.0),
    ("", "cortical bone 13 700 to 10 000 MPa", |s| s.materials.cortical_bone.modulus_mpa = 1e4),
    ("ligament", "modulus 0.1 to 0.05 MPa", |s| s.materials.ligament.modulus_mpa = 0.05),
    ("", "modulus 0.1 to 0.68 MPa", |s| s.materials.ligament.modulus_mpa = 0.68),
    ("", "Poisson ratio 0.45 to 0.30", |s| s.materials.ligament.poisson_ratio = 0.30),
    ("", "Poisson ratio 0.45 to 0.49", |s| s.materials.ligament.poisson_ratio = 0.49),
    ("", "thickness 0.20 to 0.25 mm", |s| s.spec.ligament.thickness_mm = 0.25),
    ("", "thin half-way: 0.20 at crest and apex, 0.15 mm between", |s| {
        s.spec.ligament.profile = LigamentProfile::Hourglass;
        s.spec.ligament.mid_thickness_mm = 0.15;
    }),
    ("layers of elements in the ligament", "1", |s| s.spec.ligament.layers = 1),
    ("", "3", |s| s.spec.ligament.layers = 3),
    ("", "4", |s| s.spec.ligament.layers = 4),
    ("element of the ligament", "plain displacement", |s| s.formulation = Formulation::Displacement),
    ("quadrature", "11 points", |s| s.quadrature_points = 11),
    ("", "15 points", |s| s.quadrature_points = 15),
    ("element size", "1.2 to 0.9 mm", |s| s.spec.mesh.element_size_mm = 0.9),
    ("block of bone", "interdental bone half as thick", |s| s.spec.bone.interdental_mm *= 0.5),
    ("", "interdental bone twice as thick", |s| s.spec.bone.interdental_mm *= 2.0),
    ("", "bone below the apex half as deep", |s| s.spec.bone.below_apex_mm *= 0.5),
    ("", "bone below the apex twice as deep", |s| s.spec.bone.below_apex_mm *= 2.0),
    ("held faces", "base alone", |s| s.held = Held::Base),
    ("", "buccal and lingual faces too", |s| s.held = Held::All),
    ("cortical shell", "1.5 to 0.8 mm", |s| s.spec.bone.cortical_mm = 0.8),
    ("", "1.5 to 2.5 mm", |s| s.spec.bone.cortical_mm = 2.5),
    ("buccal plate", "half as thick", |s| s.spec.bone.buccal_plate_mm *= 0.5),
    ("footprint of the attachment", "half as high and wide", |s| footprint(s, 0.5)),
    ("", "twice as wide", |s| s.spec.attachment.footprint_width_mm *= 2.0),
    ("face of the attachment", "lingual", |s| s.spec.attachment.face = Face::Lingual),
    ("motion read on", "the crown", |s| s.read = Read::Crown),
    ("", "the whole tooth", |s| s.read = Read::Tooth),
    ("healthy crest", "0.5 mm lower", |s| s.spec = s.spec.with_bone_loss(0.5)),
    ("root", "5 % longer", |s| s.spec = s.spec.with_root_length(1.05 * s.spec.tooth.root.length_mm)),
];

fn footprint(s: &mut Setup, factor: f64) {
    s.spec.attachment.footprint_height_mm *= factor;
    s.spec.attachment.footprint_width_mm *= factor;
}

/// The mesh with other faces held.
fn held(tooth: &ToothMesh, which: Held) -> TetMesh {
    let mesh = &tooth.mesh;
    if which == Held::BaseAndCuts {
        return mesh.clone();
    }
    let mut surfaces: BTreeMap<String, Vec<[u32; 6]>> =
        mesh.surface_names().map(|name| (name.to_owned(), mesh.surface(name).to_vec())).collect();
    let lowest = mesh.nodes().iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
    let mut faces = mesh.surface(surface::FIXED).to_vec();
    if which == Held::Base {
        faces.retain(|face| face.iter().all(|&n| mesh.nodes()[n as usize].z < lowest + 1e-6));
    } else {
        faces.extend_from_slice(mesh.surface(surface::BUCCAL_PLATE));
        faces.extend_from_slice(mesh.surface(surface::LINGUAL_PLATE));
    }
    surfaces.insert(surface::FIXED.to_owned(), faces);
    TetMesh::new(mesh.nodes().to_vec(), mesh.cells().to_vec(), mesh.regions().to_vec(), surfaces)
        .expect("the same mesh with other names")
}

/// The compliance as read on another surface than the root's.
fn read(mesh: &TetMesh, solutions: &UnitSolutions, on: Read) -> Compliance {
    let mut faces = mesh.surface(surface::CROWN).to_vec();
    match on {
        Read::Root => return solutions.compliance,
        Read::Crown => {}
        Read::Tooth => faces.extend_from_slice(mesh.surface(surface::ROOT)),
    }
    let point = solutions.reference_point;
    let fit = SurfaceFit::new(mesh.nodes(), &faces, point).expect("a surface");
    let columns = solutions.motions.each_ref().map(|field| fit.fit(field).motion.as_vector());
    let matrix = Matrix6::from_columns(&columns);
    Compliance { point, matrix: (matrix + matrix.transpose()) * 0.5 }
}

/// The headline numbers, and the errors estimated for them.
fn run(setup: &Setup) -> ([f64; 9], [f64; ESTIMATED]) {
    let tooth = mesh_tooth(&setup.spec, &Silent).expect("it meshes");
    let mesh = held(&tooth, setup.held);
    let problem = ToothProblem {
        mesh: &mesh,
        materials: setup.materials,
        bodies: setup.bodies,
        formulation: setup.formulation,
        reference_point: tooth.landmarks.attachment,
        footprint: Footprint::of(&setup.spec.attachment, &tooth.landmarks),
        options: SolveOptions { quadrature_points: setup.quadrature_points, ..SolveOptions::default() },
    };
    let solutions = solve_unit_loads(&problem, &Silent).expect("it solves");
    let missing = Discretisation::estimate(&problem, &solutions, &tooth.thickness_shortfall)
        .expect("there is a ligament");
    let compliance = read(&mesh, &solutions, setup.read);
    let height = setup.spec.attachment.height_mm;
    let numbers = |c: &Compliance| {
        let [bl, md] = [Plane::BuccoLingual, Plane::MesioDistal].map(|plane| PlanarResistance::new(c, plane));
        let load = PlanarLoad { height_mm: height, force_n: 1.0, torque_nmm: 0.0 };
        let motion = bl.motion(&load);
        [
            bl.centre_depth_mm(),
            bl.sigma_squared_mm2(),
            motion.centre_of_rotation_depth_mm().unwrap_or(f64::NAN),
            motion.tip_deg_per_mm(height),
            motion.travel_mm(height),
            md.centre_depth_mm(),
            md.motion(&load).travel_mm(height),
        ]
    };
    let errors = missing.errors(&compliance, numbers).map(|e| e.bound);
    let wrench = Wrench::force(tooth.landmarks.attachment, Vector3::x());
    let stress = LigamentStress::new(&problem, &solutions).expect("there is a ligament");
    let (extremes, pressed) = stress.on_the_root(&solutions.weights(&wrench));
    let [a, b, c, d, e, f, g] = numbers(&compliance);
    ([a, b, c, d, e, f, g, extremes.compression.kpa, pressed.mean_kpa], errors)
}

/// Lists the choices by what they change at most.
fn summary(largest: &[f64; CHANGES.len()]) {
    let mut choice = "";
    let mut lines: Vec<(f64, String)> = Vec::new();
    for ((name, value, _), &percent) in CHANGES.iter().zip(largest) {
        if !name.is_empty() {
            choice = name;
        }
        lines.push((percent, format!("{choice}, {value} ({percent:.1} %)")));
    }
    lines.sort_by(|a, b| b.0.total_cmp(&a.0));
    let list = |matters: bool| {
        let parts: Vec<&str> =
            lines.iter().filter(|l| (l.0 > 1.0) == matters).map(|l| l.1.as_str()).collect();
        parts.join("; ")
    };
    println!("\n## Reading\n");
    println!(
        "More than 1 % in some number of either tooth, the largest change in brackets: {}.\n",
        list(true)
    );
    println!("At most 1 %: {}.", list(false));
}

fn main() {
    println!("# Which choices of the model matter\n");
    println!(
        "Made by `cargo run --release -p gomphosis-tests --example sensitivity > cli/docs/sensitivity.md`.\n\n\
         Each row changes one choice of the default case and nothing else: change of the number in percent, elastic bodies, \
         push of 1 N without torque at the attachment. **Bold**: more than 1 %. Travel and tip per millimetre are at the \
         attachment's height; CRes and CRot are depths below the crest (centre of resistance, centre of rotation). Pressures are \
         those of the ligament on the root under the buccal push: the largest, at one place, and the mean over the pressed part of \
         the root. Where the crest moves, the attachment stays at its place on the crown, and a longer root keeps the furcation at \
         its share, as `gomphosis solve --set` does.\n\n\
         Under a given force the ligament's modulus scales the travel and leaves the pressures; Poisson's ratio moves both. The size \
         of the attachment's footprint changes nothing because the load is prescribed: the same force and torque act whatever carries \
         them. It does not follow that the size of an attachment does not matter, since size decides which force and torque an \
         aligner delivers, and the aligner is not in the model.\n\n\
         It is a model for research and teaching, not a medical device; differences between rows are differences of models, \
         not of patients."
    );
    let mut largest = [0.0_f64; CHANGES.len()];
    for name in TEETH {
        let kind = ToothKind::parse(name).expect("a tooth");
        let base = Setup {
            spec: ToothInSocket::handbook(kind),
            materials: Materials::default(),
            bodies: Bodies::Elastic,
            formulation: Formulation::default(),
            quadrature_points: SolveOptions::default().quadrature_points,
            held: Held::BaseAndCuts,
            read: Read::Root,
        };
        let (reference, errors) = run(&base);
        println!("\n## {}{}\n", name[..1].to_uppercase(), &name[1..]);
        println!("| choice | changed to | {} |", COLUMNS.join(" | "));
        println!("|---|---|{}", "---:|".repeat(COLUMNS.len()));
        let units = ["mm", "mm²", "mm", "°/mm", "µm", "mm", "µm", "kPa", "kPa"];
        let cells: Vec<String> = reference
            .iter()
            .zip(units)
            .map(
                |(v, unit)| {
                    if unit == "µm" { format!("{:.1} µm", 1e3 * v) } else { format!("{v:.2} {unit}") }
                },
            )
            .collect();
        println!("| default | | {} |", cells.join(" | "));
        let mut cells: Vec<String> =
            errors.iter().zip(reference).map(|(e, v)| format!("± {:.1}", 100.0 * e / v)).collect();
        cells.resize(COLUMNS.len(), "-".to_owned());
        println!("| estimated error of the mesh, % | | {} |", cells.join(" | "));
        for ((choice, value, change), largest) in CHANGES.into_iter().zip(&mut largest) {
            eprintln!("{name}: {choice} {value}");
            let mut setup = base.clone();
            change(&mut setup);
            let (numbers, _) = run(&setup);
            let cells: Vec<String> = numbers
                .iter()
                .zip(reference)
                .map(|(v, r)| {
                    let percent = 100.0 * (v / r - 1.0);
                    *largest = largest.max(percent.abs());
                    let text = format!("{percent:+.1}");
                    if percent.abs() > 1.0 { format!("**{text}**") } else { text }
                })
                .collect();
            println!("| {choice} | {value} | {} |", cells.join(" | "));
        }
    }
    summary(&largest);
}
