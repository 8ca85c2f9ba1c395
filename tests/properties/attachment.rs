//! The place of the load on the crown when bone is lost, and the page of what choices matter against the program itself.

use std::ffi::OsString;

use gomphosis_mesh_gen::{Silent, ToothInSocket, ToothKind, mesh_tooth};
use gomphosis_solver::{
    Bodies, Footprint, Formulation, Materials, PlanarLoad, PlanarResistance, Plane, SolveOptions,
    ToothProblem, solve_unit_loads,
};
use serde_json::Value;

/// Tip per mm at the attachment (degrees per mm) and torque for translation (mm), bucco-lingual.
fn tip_and_torque(spec: &ToothInSocket) -> [f64; 2] {
    let tooth = mesh_tooth(spec, &Silent).unwrap();
    let problem = ToothProblem {
        mesh: &tooth.mesh,
        materials: Materials::default(),
        bodies: Bodies::Rigid,
        formulation: Formulation::default(),
        reference_point: tooth.landmarks.attachment,
        footprint: Footprint::of(&spec.attachment, &tooth.landmarks),
        options: SolveOptions::default(),
    };
    let solutions = solve_unit_loads(&problem, &Silent).unwrap();
    let plane = PlanarResistance::new(&solutions.compliance, Plane::BuccoLingual);
    let height_mm = spec.attachment.height_mm;
    let motion = plane.motion(&PlanarLoad { height_mm, force_n: 1.0, torque_nmm: 0.0 });
    [motion.tip_deg_per_mm(height_mm), plane.torque_for_translation_mm(height_mm)]
}

/// Source: rigid-body mechanics. With h the height of the push above the crest, d the depth of the centre of resistance and s
/// the square root of sigma squared, tip per mm at the push is 1 / (h + d + s^2 / (h + d)) and the torque for translation h + d
/// (Burstone & Pryputniewicz 1980). A lost millimetre lowers the crest by one, and d, a share of about two fifths of the root,
/// by less. At one place of the crown h grows by the whole millimetre, so h + d grows and, since h + d is larger than s, tip
/// per mm falls; with h held, h + d and s both shrink and it rises.
#[test]
fn bone_loss_lowers_tip_per_mm_at_one_place_of_the_crown_and_raises_it_at_one_height_above_the_crest() {
    for name in ["upper first premolar", "upper central incisor", "lower first molar"] {
        let mut healthy = ToothInSocket::handbook(ToothKind::parse(name).unwrap());
        healthy.mesh.element_size_mm = 2.4;
        let lost = healthy.with_bone_loss(2.0);
        let mut pinned = lost;
        pinned.attachment.height_mm = healthy.attachment.height_mm;
        let [[tip, torque], [tip_lost, torque_lost], [tip_pinned, torque_pinned]] =
            [healthy, lost, pinned].map(|spec| tip_and_torque(&spec));
        assert!(tip_lost < 0.99 * tip && torque_lost > 1.01 * torque, "{name}: {tip_lost}, {torque_lost}");
        assert!(
            tip_pinned > 1.01 * tip && torque_pinned < 0.99 * torque,
            "{name}: {tip_pinned}, {torque_pinned}"
        );
    }
}

/// Centre of resistance, sigma squared, centre of rotation and tip per mm of the upper first premolar as the command line
/// gives them.
fn on_the_command_line(options: &[&str]) -> [f64; 4] {
    let args = ["gomphosis", "solve", "upper first premolar", "--json"].iter().chain(options);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let exit = gomphosis_cli::run(args.map(OsString::from), &mut out, &mut err);
    assert_eq!(exit, gomphosis_cli::Exit::Ok, "{}", String::from_utf8_lossy(&err));
    let result: Value = serde_json::from_slice(&out).unwrap();
    let plane = &result["bucco_lingual"];
    [
        &plane["centre_of_resistance"]["depth_below_crest_mm"],
        &plane["sigma_squared_mm2"],
        &plane["centre_of_rotation"]["depth_below_crest_mm"],
        &plane["tip_deg_per_mm"]["attachment"],
    ]
    .map(|value| value.as_f64().unwrap())
}

/// The page is made by another program than the one it is about; rows of it are replayed with the options that a reader would
/// type.
#[test]
fn rows_of_the_page_of_what_matters_are_what_the_command_line_gives() {
    let page =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../cli/docs/sensitivity.md")).unwrap();
    let premolar = page.split("\n## Upper first premolar\n").nth(1).unwrap();
    let row = |text: &str| -> Vec<String> {
        let line = premolar.lines().find(|line| line.contains(text));
        let line = line.unwrap_or_else(|| panic!("the page has no row {text}"));
        line.split('|').map(|cell| cell.trim().to_owned()).collect()
    };
    let head = row("| choice |");
    let columns = ["CRes", "sigma²", "CRot", "tip/mm"]
        .map(|name| head.iter().position(|cell| cell == name).unwrap_or_else(|| panic!("no column {name}")));
    let reference = on_the_command_line(&[]);
    for (text, options) in [
        ("rigid tooth and bone", ["--bodies", "rigid"]),
        ("modulus 0.1 to 0.68 MPa", ["--set", "materials.ligament.modulus_mpa=0.68"]),
        ("| 0.5 mm lower |", ["--set", "bone.crest_below_cej_mm=2"]),
        ("| 5 % longer |", ["--set", "root.length_mm=14.7"]),
    ] {
        let cells = row(text);
        let got = on_the_command_line(&options);
        for k in 0..4 {
            let stated: f64 = cells[columns[k]].trim_matches('*').parse().unwrap();
            let found = 100.0 * (got[k] / reference[k] - 1.0);
            assert!(
                (stated - found).abs() < 0.11,
                "{text}, {}: {stated} % on the page, {found:.2} % found",
                head[columns[k]]
            );
        }
    }
}
