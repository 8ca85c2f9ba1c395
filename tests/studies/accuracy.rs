//! Do the stated errors cover the true ones? Paraboloid roots against an independent axisymmetric reference, and teeth
//! against values extrapolated from finer meshes, quantity by quantity, as a Markdown page.
//! `cargo run --release -p gomphosis-tests --example accuracy > accuracy.md`; names of teeth restrict the teeth, the word
//! `roots` leaves them out.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example's output is its purpose")]
#![allow(clippy::expect_used, reason = "a study that cannot run ends")]

use gomphosis_mesh_gen::{LigamentProfile, Silent, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::{
    Bodies, Compliance, Discretisation, Footprint, Formulation, Materials, PlanarLoad, PlanarResistance,
    Plane, SolveOptions, ToothProblem, solve_unit_loads,
};

/// Source: `tests/recompute/axisymmetric.py`, "walls of teeth", 300 x 12 nine-node quadrilaterals that shrink toward the
/// crest; 400 x 16 differ by under 0.003 percent at 0.45 and 0.02 percent at 0.49. Stretched socket or not, bone loss mm,
/// Poisson ratio, stiffness to sideways travel, to tip with travel, and to tip about the crest; E = 1 MPa.
const ROOTS: [(bool, f64, f64, [f64; 3]); 16] = [
    (true, 0.0, 0.3, [1001.0009, -5327.3622, 42_614.908]),
    (true, 0.0, 0.4, [1423.3037, -7421.7027, 57_639.078]),
    (true, 0.0, 0.45, [2315.2794, -11_920.654, 90_275.689]),
    (true, 0.0, 0.49, [9229.1763, -47_501.745, 346_493.76]),
    (true, 4.0, 0.3, [626.516_54, -2199.2528, 12_292.602]),
    (true, 4.0, 0.4, [886.1746, -3015.9161, 16_153.037]),
    (true, 4.0, 0.45, [1433.3071, -4780.3648, 24_647.595]),
    (true, 4.0, 0.49, [5613.5045, -18_631.671, 90_545.293]),
    (false, 0.0, 0.3, [835.712_87, -4138.4771, 32_292.161]),
    (false, 0.0, 0.4, [1187.5302, -5755.0322, 43_449.737]),
    (false, 0.0, 0.45, [1928.1135, -9219.7512, 67_637.659]),
    (false, 0.0, 0.49, [7587.2515, -36_193.353, 253_292.87]),
    (false, 4.0, 0.3, [485.5201, -1626.0177, 9019.7621]),
    (false, 4.0, 0.4, [685.2497, -2222.7206, 11_770.089]),
    (false, 4.0, 0.45, [1103.5656, -3507.7435, 17_804.079]),
    (false, 4.0, 0.49, [4215.9841, -13_346.241, 63_047.781]),
];

/// Layers of the sequence for teeth, the default first; the elements shrink in the same measure.
const LAYERS: [u32; 3] = [2, 3, 4];

/// Order of the extrapolation: that of the singular edge of the ligament at the crest, as found on the paraboloid root.
const ORDER: f64 = 1.12;

/// Factor of the grid convergence index of three meshes (Roache 1994).
const INDEX_FACTOR: f64 = 1.25;

const NAMES: [&str; 5] = ["CRes", "sigma²", "CRot", "tip/mm", "travel"];
/// Numbers of both planes.
type Numbers = [f64; 10];

fn of_plane(plane: &PlanarResistance, height: f64) -> [f64; 5] {
    let motion = plane.motion(&PlanarLoad { height_mm: height, force_n: 1.0, torque_nmm: 0.0 });
    [
        plane.centre_depth_mm(),
        plane.sigma_squared_mm2(),
        motion.centre_of_rotation_depth_mm().unwrap_or(f64::NAN),
        motion.tip_deg_per_mm(height),
        motion.travel_mm(height),
    ]
}

fn headline(compliance: &Compliance, height: f64) -> Numbers {
    let mut out = [0.0; 10];
    for (plane, out) in [Plane::BuccoLingual, Plane::MesioDistal].into_iter().zip(out.chunks_exact_mut(5)) {
        out.copy_from_slice(&of_plane(&PlanarResistance::new(compliance, plane), height));
    }
    out
}

/// The numbers of a mesh and their stated errors.
fn solve(spec: &ToothInSocket, poisson: f64, bodies: Bodies) -> (Numbers, Numbers) {
    let tooth = mesh_tooth(spec, &Silent).expect("the tooth meshes");
    let mut materials = Materials::default();
    materials.ligament.poisson_ratio = poisson;
    let problem = ToothProblem {
        mesh: &tooth.mesh,
        materials,
        bodies,
        formulation: Formulation::default(),
        reference_point: tooth.landmarks.attachment,
        footprint: Footprint::of(&spec.attachment, &tooth.landmarks),
        options: SolveOptions::default(),
    };
    let solutions = solve_unit_loads(&problem, &Silent).expect("it solves");
    let missing = Discretisation::estimate(&problem, &solutions, &tooth.thickness_shortfall)
        .expect("there is a ligament");
    let height = spec.attachment.height_mm;
    let errors = missing.errors(&solutions.compliance, |c| headline(c, height));
    (headline(&solutions.compliance, height), errors.map(|e| e.bound))
}

/// The rows of one body, and how many times as large as the true ones the stated errors are.
#[derive(Default)]
struct Coverage {
    ratios: Vec<f64>,
}

impl Coverage {
    fn row(&mut self, name: &str, (got, stated): &(Numbers, Numbers), truth: &Numbers) {
        let cells: Vec<String> = (0..10)
            .map(|k| {
                let percent = |v: f64| 100.0 * v.abs() / truth[k].abs();
                let (error, stated) = (percent(truth[k] - got[k]), percent(stated[k]));
                self.ratios.push(stated / error);
                format!("{stated:.3} / {error:.3}")
            })
            .collect();
        println!("| {name} | {} |", cells.join(" | "));
    }

    fn end(mut self) {
        let all = self.ratios.len();
        let covered = self.ratios.iter().filter(|ratio| **ratio >= 1.0).count();
        self.ratios.sort_by(f64::total_cmp);
        let (Some(least), Some(median)) = (self.ratios.first(), self.ratios.get(all / 2)) else { return };
        println!(
            "\n{covered} of {all} covered ({:.1} %); the stated error is {median:.1} times the true one in the median, {least:.2} \
             times at least.\n",
            100.0 * covered as f64 / all as f64
        );
    }
}

fn head(what: &str) {
    let columns: Vec<String> =
        ["bucco-lingual", "mesio-distal"].iter().flat_map(|p| NAMES.map(|n| format!("{n}, {p}"))).collect();
    println!("| {what} | {} |\n|---|{}", columns.join(" | "), "--:|".repeat(10));
}

fn roots() {
    println!(
        "## Paraboloid roots\n\nRigid tier, default mesh. True: against `tests/recompute/axisymmetric.py`, an independent \
         computation with scikit-fem of the same root and wall.\n"
    );
    head("socket, bone loss, Poisson ratio");
    let mut coverage = Coverage::default();
    for (stretched, loss, poisson, [kxx, kxt, ktt]) in ROOTS {
        let mut spec = ToothInSocket::paraboloid();
        spec.ligament.profile = if stretched { LigamentProfile::Stretched } else { LigamentProfile::Uniform };
        spec.attachment.height_mm += loss;
        spec.bone.loss_mm = loss;
        let modulus = Materials::default().ligament.modulus_mpa;
        let determinant = (kxx * ktt - kxt * kxt) * modulus;
        let coefficients = [ktt / determinant, -kxt / determinant, kxx / determinant];
        let plane = PlanarResistance::from_coefficients(Plane::BuccoLingual, coefficients);
        let exact = of_plane(&plane, spec.attachment.height_mm);
        let law = if stretched { "stretched" } else { "uniform" };
        coverage.row(
            &format!("{law}, {loss} mm, {poisson}"),
            &solve(&spec, poisson, Bodies::Rigid),
            &std::array::from_fn(|k| exact[k % 5]),
        );
    }
    coverage.end();
}

fn teeth(kinds: &[ToothKind], bodies: Bodies, title: &str) {
    println!(
        "## Teeth, {title}\n\nDefault mesh. True: against the value extrapolated with the order {ORDER} from the two finest of \
         three meshes of {}, {} and {} layers with elements smaller in the same measure.\n",
        LAYERS[0], LAYERS[1], LAYERS[2]
    );
    head("tooth");
    let (mut coverage, mut against_index) = (Coverage::default(), Vec::new());
    for kind in kinds {
        eprintln!("{}, {title}", kind.name());
        let poisson = Materials::default().ligament.poisson_ratio;
        let [coarse, middle, fine] = LAYERS.map(|layers| {
            let mut spec = ToothInSocket::handbook(*kind);
            spec.mesh.element_size_mm *= f64::from(LAYERS[0]) / f64::from(layers);
            spec.ligament.layers = layers;
            solve(&spec, poisson, bodies)
        });
        let gain = (f64::from(LAYERS[2]) / f64::from(LAYERS[1])).powf(ORDER) - 1.0;
        let truth: Numbers = std::array::from_fn(|k| fine.0[k] + (fine.0[k] - middle.0[k]) / gain);
        coverage.row(&kind.name(), &coarse, &truth);
        against_index.extend((0..10).map(|k| fine.1[k] / (INDEX_FACTOR * (truth[k] - fine.0[k]).abs())));
    }
    coverage.end();
    agreement(against_index);
}

/// How the stated errors of the finest meshes go with the indices of their sequences.
fn agreement(mut ratios: Vec<f64>) {
    ratios.sort_by(f64::total_cmp);
    let Some(median) = ratios.get(ratios.len() / 2) else { return };
    let near = ratios.iter().filter(|ratio| (0.5..=2.0).contains(*ratio)).count();
    println!(
        "The finest mesh's own stated error over the sequence's index ({INDEX_FACTOR} times the distance from the extrapolated \
         value): {median:.1} in the median, between a half and two for {near} of {}.\n",
        ratios.len()
    );
}

fn main() {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let kinds: Vec<ToothKind> = if asked.is_empty() {
        ToothKind::ALL.to_vec()
    } else {
        asked.iter().filter_map(|a| ToothKind::parse(a)).collect()
    };
    println!("# Do the stated errors cover the true ones?\n");
    println!(
        "Made by `cargo run --release -p gomphosis-tests --example accuracy`. Each cell: stated / true error, percent.\n"
    );
    roots();
    if !kinds.is_empty() {
        teeth(&kinds, Bodies::Rigid, "rigid tier");
        teeth(&kinds, Bodies::Elastic, "elastic tier");
    }
}
