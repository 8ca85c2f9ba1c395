//! Source: published positions and movements, each named beside its band. Bands, not targets: every source has its own
//! geometry and constants.
//! Goal: the average teeth of the handbook behave as teeth are reported to.
//! Mesh: average teeth, default size; rigid tooth and bone (which change tip per millimetre by under 1 %).
//! Materials: the default ligament, 0.10 MPa and nu 0.45.

use gomphosis_cli::verify::model::LIGAMENT;
use gomphosis_mesh_gen::{Silent, ToothInSocket, ToothKind, ToothMesh, mesh_tooth};
use gomphosis_solver::{
    Bodies, Compliance, Footprint, Materials, PlanarLoad, PlanarResistance, Plane, SolveOptions,
    ToothProblem, solve_unit_loads,
};
use gomphosis_tests::compare::{band, relative};
use nalgebra::Point3;

struct Tooth {
    name: String,
    spec: ToothInSocket,
    meshed: ToothMesh,
    compliance: Compliance,
}

impl Tooth {
    fn new(name: &str) -> Self {
        Self::with(name, |_| ())
    }

    fn with(name: &str, change: impl Fn(&mut ToothInSocket)) -> Self {
        let mut spec = ToothInSocket::handbook(ToothKind::parse(name).unwrap());
        change(&mut spec);
        let meshed = mesh_tooth(&spec, &Silent).unwrap();
        let problem = ToothProblem {
            mesh: &meshed.mesh,
            materials: Materials::default(),
            bodies: Bodies::Rigid,
            formulation: LIGAMENT,
            reference_point: Point3::origin(),
            footprint: Footprint::of(&spec.attachment, &meshed.landmarks),
            options: SolveOptions::default(),
        };
        let compliance = solve_unit_loads(&problem, &Silent).unwrap().compliance;
        Self { name: name.to_owned(), spec, meshed, compliance }
    }

    fn plane(&self) -> PlanarResistance {
        PlanarResistance::new(&self.compliance, Plane::BuccoLingual)
    }

    fn fraction(&self) -> f64 {
        self.plane().centre_depth_mm() / self.meshed.landmarks.bony_root_mm
    }

    fn tip_per_mm(&self, torque_to_force: f64) -> f64 {
        let height = self.spec.attachment.height_mm;
        self.plane().tip_deg_per_mm(height, torque_to_force, height)
    }
}

/// Papageorgiou 2005 (Hellenic Orthod Rev 8): 0.33 to 0.42 of the root; Tanne, Koenig and Burstone 1988: 0.24 (from
/// memory); textbook premolars 0.35 to 0.45 (from memory).
#[test]
fn single_roots_resist_at_a_third_to_two_fifths() {
    for name in ["upper central incisor", "upper canine", "lower lateral incisor", "lower first premolar"] {
        let tooth = Tooth::new(name);
        band(&format!("{name}, centre of resistance / bony root"), (0.30, 0.45), tooth.fraction());
        // M/F for translation at the bracket: 8 to 10 mm taught, 10 usual (from memory).
        let torque = tooth.plane().torque_for_translation_mm(tooth.spec.attachment.height_mm);
        band(&format!("{name}, M/F for translation, mm"), (8.0, 13.0), torque);
    }
}

/// Gandhi et al. (AJODO, 50 upper first molars): centre of resistance 0.19 +- 1.75 mm from the height of the trifurcation,
/// and 7.86 +- 1.66 mm gingival of the centre of the buccal surface; textbooks: 1 to 2 mm apical of the furcation (from
/// memory). Bands of two standard deviations: the average tooth here lies 1.5 of them to the apex. Molars in
/// general: 1/3 to 1/2 of the root's length below the crest (ISRN Dent 2012, PMC3424837), here with 0.03 to spare. The one
/// figure for a lower first molar alone, 0.48 (AJODO 156:365-374, 2019), is not reached: the model gives 0.34 to 0.36.
#[test]
fn molars_resist_near_the_furcation() {
    let upper = Tooth::new("upper first molar");
    let furcation = upper.spec.tooth.root.furcation_mm - upper.meshed.landmarks.cej_z;
    let depth = upper.plane().centre_depth_mm();
    band("upper first molar, centre of resistance below the furcation, mm", (-3.3, 3.7), depth - furcation);
    let height = upper.spec.attachment.height_mm;
    band("upper first molar, centre of resistance below mid-crown, mm", (4.5, 11.2), depth + height);
    let lower = Tooth::new("lower first molar");
    band("lower first molar, centre of resistance / bony root", (0.30, 0.53), lower.fraction());
}

/// Jones et al. 2001 (J Orthod 28:29-38): 0.39 N moved the crowns of ten volunteers' upper incisors by 0.012 to 0.133 mm.
#[test]
fn a_light_push_moves_an_incisor_as_measured_in_the_mouth() {
    let tooth = Tooth::new("upper central incisor");
    let height_mm = tooth.spec.attachment.height_mm;
    let load = PlanarLoad { height_mm, force_n: 0.39, torque_nmm: 0.0 };
    band(
        "upper central incisor, 0.39 N, travel at mid-crown, mm",
        (0.012, 0.133),
        tooth.plane().motion(&load).travel_mm(height_mm),
    );
}

/// The rule of 5 degrees for each millimetre is that of an uncompensated push: EJO 2005 (doi 10.1093/ejo/cjh092) reports
/// 1 mm of expansion with 5 degrees of tipping (regression) and 1.9 (means, total width). Geometry: 57.3 / L with
/// L = D + sigma^2 / D.
#[test]
fn an_uncompensated_push_tips_by_the_rule_of_thumb() {
    for name in ["upper first premolar", "upper second premolar", "upper first molar", "lower first molar"] {
        let tooth = Tooth::new(name);
        let plane = tooth.plane();
        let arm = tooth.spec.attachment.height_mm + plane.centre_depth_mm();
        let length = arm + plane.sigma_squared_mm2() / arm;
        let tip = tooth.tip_per_mm(0.0);
        relative(
            &format!("{name}, tip at the force line, degrees/mm"),
            1f64.to_degrees() / length,
            tip,
            0.02,
        );
        band(&format!("{name}, tip at the force line, degrees/mm"), (3.5, 6.5), tip);
        // Root torque lowers the tip, and what the same force moves the crown, step by step.
        let travel = |ratio: f64| {
            let height_mm = tooth.spec.attachment.height_mm;
            plane.motion(&PlanarLoad { height_mm, force_n: 1.0, torque_nmm: ratio }).travel_mm(height_mm)
        };
        for ratio in [0.0, 2.0, 4.0, 6.0] {
            assert!(tooth.tip_per_mm(ratio + 2.0) < tooth.tip_per_mm(ratio), "{name}");
            assert!(travel(ratio + 2.0) < travel(ratio), "{name}");
        }
    }
}

/// Geramy 2000 (AJODO 117:399-405): with bone loss the centre moves to the apex but nearer to the crest, displacements
/// and the moment for bodily movement grow.
#[test]
fn bone_loss_on_an_incisor_goes_the_reported_way() {
    let teeth =
        [0.0, 2.0, 4.0].map(|loss| Tooth::with("upper central incisor", |spec| spec.bone.loss_mm = loss));
    for pair in teeth.windows(2) {
        let loss = pair[1].spec.bone.loss_mm - pair[0].spec.bone.loss_mm;
        let (before, after) = (pair[0].plane(), pair[1].plane());
        assert!(after.centre_depth_mm() < before.centre_depth_mm(), "{}: nearer to the crest", pair[0].name);
        assert!(after.centre_depth_mm() + loss > before.centre_depth_mm(), "nearer to the apex");
        assert!(after.centre_compliance_mm_per_n() > before.centre_compliance_mm_per_n(), "moves more");
        assert!(after.sigma_squared_mm2() < before.sigma_squared_mm2(), "tips more");
    }
}
