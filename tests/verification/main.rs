//! The catalogue of `gomphosis verify`: every comparison is inside its tolerance, and the README's table is what the
//! command prints. And the published values of `gomphosis validate`, in bands.

#![allow(clippy::unwrap_used, reason = "a check that cannot be set up has failed")]

mod readme;
mod validation;

use gomphosis_cli::verify::{Target, cases, find, report};
use gomphosis_mesh_gen::Silent;
use gomphosis_tests::table::same_line;

/// The cell with the computed value: behind case, source, what and expected.
const GOT: usize = 4;

/// Lines of the README's table, behind its head.
fn readme() -> Vec<&'static str> {
    let block = report::block(include_str!("../../README.md"), report::BEGIN, report::END);
    let block = block.expect("the README has the marks of the table");
    block.lines().filter(|line| line.starts_with('|')).skip(2).collect()
}

/// Runs a case: all its rows must pass, and they must be those of the README.
fn check(name: &str) {
    let outcome = find(name).unwrap().outcome(&Silent);
    assert!(outcome.passed(), "{}", outcome.complaints().join("\n"));
    let begin = format!("| {} |", outcome.case.title);
    let told = readme().into_iter().filter(|line| line.starts_with(&begin)).collect::<Vec<_>>();
    let hint = "`cargo run --release -- verify --into README.md` makes the table anew";
    assert_eq!(told.len(), outcome.rows().len(), "{name}: lines in the README and rows of the case; {hint}");
    for (row, line) in outcome.rows().iter().zip(told) {
        let free = matches!(row.target, Target::Rounding { .. }).then_some(GOT);
        if let Err(difference) = same_line(&report::markdown_line(&outcome, row), line, free) {
            panic!("{difference}\n{hint}");
        }
    }
}

macro_rules! catalogue {
    ($($test:ident: $name:literal,)*) => {
        $(
            #[test]
            fn $test() {
                check($name);
            }
        )*

        #[test]
        fn every_case_has_its_test() {
            assert_eq!([$($name),*], cases::ALL.map(|case| case.name));
        }
    };
}

catalogue! {
    patch_test: "patch-test",
    rigid_motions: "rigid-motions",
    manufactured_solution: "manufactured",
    lame_sphere: "lame-sphere",
    lame_cylinder: "lame-cylinder",
    le10_thick_elliptic_plate: "le10",
    le11_cylinder_taper_and_sphere: "le11",
    cook_membrane: "cook",
    bonded_ring: "bonded-ring",
    bonded_sphere: "bonded-sphere",
    bonded_disc: "bonded-disc",
    paraboloid_stretched: "paraboloid-stretched",
    paraboloid_uniform: "paraboloid-uniform",
    paraboloid_of_the_tooth_mesher: "paraboloid-meshed",
    bone_loss: "bone-loss",
    slender_root: "slender-root",
    parallel_roots: "parallel-roots",
    constants_of_a_tooth: "constants",
    compliance_algebra: "compliance",
}

/// The head and the counts of the README's table; its lines belong to cases of the catalogue.
#[test]
fn readme_counts_what_it_shows() {
    let lines = readme();
    for line in &lines {
        let known = cases::ALL.iter().any(|case| line.starts_with(&format!("| {} |", case.title)));
        assert!(known, "no case has this line: {line}");
        assert!(line.ends_with("| yes |"), "{line}");
    }
    let counts = report::verdict_of(lines.len(), lines.len(), cases::ALL.len(), 0);
    let block = report::block(include_str!("../../README.md"), report::BEGIN, report::END).unwrap();
    assert!(block.contains(&counts), "the README does not say: {counts}");
}
