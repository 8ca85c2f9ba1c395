//! The idealised tooth itself: a rigid paraboloid root in its ligament, two laws of thickness.

use gomphosis_mesh_gen::revolve::{CrestEdge, ParaboloidRoot, ThicknessLaw};
use gomphosis_mesh_gen::{LigamentProfile, Observer, TetMesh, ToothInSocket, mesh_tooth};
use gomphosis_solver::{Compliance, Formulation, PlanarResistance, Plane};

use crate::verify::model::{LIGAMENT, rigid};
use crate::verify::{Case, Row, VerifyError};

const REFERENCE: &str = "tests/recompute/axisymmetric.py (Fourier harmonics, nine-node quadrilaterals, scikit-fem), mesh \
    200 x 8; 100 x 5 and 400 x 14 differ by under 0.07 and 0.03 %. Geometry of Haack and Haft 1972 and Provatidis 2001 (from memory)";
const MESH: &str = "root of half axis 3.9 mm and length 13 mm, ligament 0.229 mm; 24 elements around, 16, 24 and 32 rings \
    much finer toward the crest, with 2, 3 and 4 layers; for the other rows 16 rings less so and 2 layers; rigid root, held \
    wall, free crest; E = 1 MPa";
const TOLERANCE: &str = "on the finest mesh stiffness and sigma squared 0.1 %, centre of resistance 0.001 of the length: the \
    reference moves by 0.02 % on a finer mesh of its own, the rest is the singular edge where root and wall end at the free \
    crest. Two layers: 1 %, 0.005 and 2 %. The error of the layers and that of the edge have opposite signs, so that \
    stiffness and sigma squared show no order";

const MESHED_TOLERANCE: &str = "stiffness 1 %, centre of resistance 0.005 of the length, sigma squared 2 %: the error of two \
    layers of elements at the singular edge of the free crest";

/// The socket is the root stretched.
pub const STRETCHED: Case = Case {
    name: "paraboloid-stretched",
    title: "Paraboloid root, stretched socket",
    source: "axisymmetric FE",
    reference: REFERENCE,
    goal: "stiffness, centre of resistance and sigma squared of the idealised tooth, ligament thinner half-way",
    mesh: MESH,
    tolerance: TOLERANCE,
    run: |observer| compare(ThicknessLaw::Stretched, &STRETCHED_TABLE, observer),
};

/// The same thickness everywhere.
pub const UNIFORM: Case = Case {
    name: "paraboloid-uniform",
    title: "Paraboloid root, uniform ligament",
    source: "axisymmetric FE",
    reference: REFERENCE,
    goal: "the same for the other law of thickness",
    mesh: MESH,
    tolerance: TOLERANCE,
    run: |observer| compare(ThicknessLaw::Uniform(CrestEdge::Normal), &UNIFORM_TABLE, observer),
};

/// The tooth mesher's own paraboloid.
pub const MESHED: Case = Case {
    name: "paraboloid-meshed",
    title: "Paraboloid root, tooth mesher",
    source: "axisymmetric FE",
    reference: REFERENCE,
    goal: "the irregular mesh that teeth get, against the same table",
    mesh: "the paraboloid of the tooth mesher with its default sizes, stretched socket, rigid bodies",
    tolerance: MESHED_TOLERANCE,
    run: meshed,
};

/// nu, kx, depth of the centre of resistance, sigma squared, kz, torsion; N/mm, mm, mm2, N/mm, N mm/rad.
const STRETCHED_TABLE: [[f64; 6]; 6] = [
    [0.0, 882.038, 5.48881, 15.3978, 635.496, 5431.60],
    [0.3, 1001.01, 5.32196, 14.2487, 532.270, 4178.15],
    [0.4, 1423.36, 5.21417, 13.3077, 560.822, 3879.72],
    [0.45, 2315.48, 5.14817, 12.4844, 669.365, 3745.93],
    [0.49, 9231.21, 5.14569, 11.0569, 1633.94, 3645.37],
    [0.499, 67_012.7, 5.29179, 8.52036, 11_881.7, 3623.48],
];
const UNIFORM_TABLE: [[f64; 6]; 6] = [
    [0.0, 734.782, 5.12524, 15.3555, 526.507, 4788.40],
    [0.3, 834.147, 4.95945, 14.1121, 438.956, 3683.39],
    [0.4, 1185.31, 4.85360, 13.0967, 459.420, 3420.29],
    [0.45, 1924.59, 4.78919, 12.2064, 542.812, 3302.35],
    [0.49, 7574.15, 4.77779, 10.6142, 1284.68, 3213.69],
    [0.499, 50_725.3, 4.83846, 7.71961, 8980.01, 3194.40],
];

/// kx, depth over length, sigma squared, kz, torsion of a plane of action.
fn read(compliance: &Compliance, plane: Plane) -> [f64; 5] {
    let c = compliance.matrix;
    let plane = PlanarResistance::new(compliance, plane);
    [
        1.0 / plane.centre_compliance_mm_per_n(),
        plane.centre_depth_mm() / 13.0,
        plane.sigma_squared_mm2(),
        1.0 / c[(2, 2)],
        1.0 / c[(5, 5)],
    ]
}

/// A mesh of the series: layers through the ligament.
fn fine(law: ThicknessLaw, layers: usize) -> Result<TetMesh, VerifyError> {
    let root = ParaboloidRoot::reference(law);
    Ok(ParaboloidRoot { rings: 8 * layers, layers, crest_grading: 0.9, ..root }.mesh()?)
}

fn compare(law: ThicknessLaw, table: &[[f64; 6]], observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let two_layers = ParaboloidRoot::reference(law).mesh()?;
    let meshes = [fine(law, 2)?, fine(law, 3)?, fine(law, 4)?];
    let solve = |mesh: &TetMesh, poisson: f64, formulation: Formulation| {
        let compliance = rigid(mesh, poisson, formulation, observer)?.compliance;
        let planes = [Plane::BuccoLingual, Plane::MesioDistal].map(|plane| read(&compliance, plane));
        Ok::<_, VerifyError>(planes)
    };
    let mut rows = Vec::new();
    let (mut rest, mut plain) = (Errors::default(), Errors::default());
    let mut planes = Vec::new();
    for line in table {
        let poisson = line[0];
        let [got, other] = solve(&two_layers, poisson, LIGAMENT)?;
        rest.add(line, got);
        planes.push((got[2], other[2]));
        // The plain element, up to the numbers it is fit for.
        if poisson < 0.495 {
            plain.add(line, solve(&two_layers, poisson, Formulation::Displacement)?[0]);
        }
        if [0.3, 0.45, 0.49].contains(&poisson) {
            let mut series = Vec::new();
            for (layers, mesh) in [2.0, 3.0, 4.0].into_iter().zip(&meshes) {
                series.push((1.0 / layers, solve(mesh, poisson, LIGAMENT)?[0]));
            }
            let of = |k: usize| [0, 1, 2].map(|level| (series[level].0, series[level].1[k]));
            let [kx, centre, sigma_squared, ..] = series[2].1;
            let name = |what: &str| format!("{what}, nu {poisson}");
            rows.push(Row::relative(name("kx, N/mm"), line[1], kx, 0.001).over(&of(0)));
            let row = Row::absolute(name("centre / length"), line[2] / 13.0, centre, 0.001);
            rows.push(row.against(&of(1)));
            rows.push(Row::relative(name("sigma², mm²"), line[3], sigma_squared, 0.001).over(&of(2)));
        }
    }
    rows.extend(rest.rows("two layers, nu 0 to 0.499"));
    rows.push(Row::worst("two layers, sigma² in both planes, worst difference", planes, 0.002));
    rows.extend(plain.rows("two layers, plain element, nu 0 to 0.49"));
    Ok(rows)
}

fn meshed(observer: &dyn Observer) -> Result<Vec<Row>, VerifyError> {
    let mut tooth = ToothInSocket::paraboloid();
    tooth.ligament.profile = LigamentProfile::Stretched;
    let meshed = mesh_tooth(&tooth, observer)?;
    let mut errors = Errors::default();
    for line in &STRETCHED_TABLE {
        let compliance = rigid(&meshed.mesh, line[0], LIGAMENT, observer)?.compliance;
        for plane in [Plane::BuccoLingual, Plane::MesioDistal] {
            let got = read(&compliance, plane);
            errors.add(line, got);
        }
    }
    Ok(errors.rows("nu 0 to 0.499, both planes"))
}

/// Pairs (expected, got) gathered for the rows of worst errors; `centre` is the largest difference so far.
#[derive(Debug, Default)]
struct Errors {
    lateral: Vec<(f64, f64)>,
    centre: f64,
    sigma_squared: Vec<(f64, f64)>,
    axial: Vec<(f64, f64)>,
    torsion: Vec<(f64, f64)>,
}

impl Errors {
    /// Adds what was found for a line of the table.
    fn add(&mut self, line: &[f64; 6], got: [f64; 5]) {
        self.lateral.push((line[1], got[0]));
        self.centre = crate::verify::row::furthest([self.centre, got[1] - line[2] / 13.0]);
        self.sigma_squared.push((line[3], got[2]));
        self.axial.push((line[4], got[3]));
        self.torsion.push((line[5], got[4]));
    }

    /// The worst of each.
    fn rows(self, of: &str) -> Vec<Row> {
        let name = |what: &str| format!("{of}, {what}, worst error");
        vec![
            Row::worst(name("kx"), self.lateral, 0.01),
            Row::absolute(name("centre / length"), 0.0, self.centre, 0.005),
            Row::worst(name("sigma²"), self.sigma_squared, 0.02),
            Row::worst(name("kz"), self.axial, 0.01),
            Row::worst(name("torsion"), self.torsion, 0.01),
        ]
    }
}
