//! The commands, and what they share: from the words of the command line to a case, from a case to a
//! computed specimen.

pub(crate) mod case;
pub(crate) mod compensate;
pub(crate) mod figure;
pub(crate) mod gather;
pub(crate) mod lesson;
pub(crate) mod map;
pub(crate) mod mesh;
mod redraw;
pub(crate) mod report;
pub(crate) mod solve;
pub(crate) mod sweep;
pub(crate) mod teeth;
pub(crate) mod validate;
pub(crate) mod verify;

use std::time::Instant;

use gomphosis_mesh_gen::{DEFAULT_ELEMENT_SIZE_MM, MeshError, Stage, ToothMesh, mesh_tooth_within};
use gomphosis_solver::{
    Footprint, LigamentField, LigamentStress, SolveOptions, SolverError, ToothProblem, UnitSolutions, Wrench,
    solve_unit_loads,
};
use nalgebra::Vector3;

use crate::accuracy::{Accuracy, Rung};
use crate::args::{CaseOptions, ReportOptions, WriteOptions};
use crate::case::{self as cases, Case, Complaint};
use crate::exit::Failure;
use crate::output::Batch;
use crate::progress::{Progress, Show};
use crate::result::{Parts, ResultDocument, Timing};
use crate::{Console, memory, write_out};

/// The case of a command line.
pub(crate) fn load_case(options: &CaseOptions) -> Result<Case, Failure> {
    let mut given = Vec::new();
    if let Some(tooth) = &options.tooth {
        given.push(cases::option(&format!("--tooth {tooth}"), "tooth", tooth));
    }
    for text in &options.set {
        let Some((key, value)) = text.split_once('=') else {
            let sentence = "a key and a value are wanted, as in --set root.length_mm=12";
            return Err(cases::wrong_option(&format!("--set {text}"), sentence).into());
        };
        given.push(cases::option(&format!("--set {text}"), key.trim(), value.trim()));
    }
    if let Some(bodies) = &options.bodies {
        given.push(cases::option(&format!("--bodies {bodies}"), "bodies", bodies));
    }
    if let Some(formulation) = &options.formulation {
        given.push(cases::option(&format!("--formulation {formulation}"), "formulation", formulation));
    }
    cases::load(options.case.as_deref(), given)
}

/// A batch that knows what is read for a case.
pub(crate) fn batch(write: WriteOptions, options: &CaseOptions) -> Batch {
    let mut batch = Batch::new(write.force);
    if let Some(path) = &options.case {
        batch.reads(path);
    }
    batch
}

/// Says before the work what it will replace.
pub(crate) fn announce(batch: &Batch, quiet: bool, console: &mut Console<'_>) {
    if let (Some(note), false) = (batch.note(), quiet) {
        // A courtesy: a stream that takes none is no failure.
        let _ = writeln!(console.err, "note: {note}");
    }
}

/// All that the numbers of a case depend on.
pub(crate) fn key(case: &Case) -> String {
    cases::json(case).to_string()
}

/// Refuses a document on standard output beside a file that goes there too.
pub(crate) fn one_on_standard_output(batch: &Batch, json: bool) -> Result<(), Failure> {
    if json && batch.takes_standard_output() {
        let sentence = "--json prints its document on standard output, where --out writes too; two outputs want two places";
        return Err(Complaint::plain(sentence).into());
    }
    Ok(())
}

/// Prints what people read: on standard output, or on standard error where a file goes to standard output.
pub(crate) fn print(console: &mut Console<'_>, beside: bool, text: &str) -> Result<(), Failure> {
    if beside {
        let _ = console.err.write_all(text.as_bytes());
        return Ok(());
    }
    write_out(console, text)
}

/// Runs work on a pool of the wanted size.
pub(crate) fn on_threads<T: Send>(
    threads: Option<u16>,
    work: impl FnOnce() -> Result<T, Failure> + Send,
) -> Result<T, Failure> {
    let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    memory::enough(threads.map_or(processors, usize::from))?;
    let Some(threads) = threads else { return rayon::scope(|_| work()) };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(usize::from(threads))
        .build()
        .map_err(|e| Failure::NoResult(format!("cannot start {threads} threads: {e}")))?;
    pool.install(work)
}

/// The way progress is shown.
pub(crate) fn show<'a>(console: &'a mut Console<'_>, report: &ReportOptions) -> Show<'a> {
    if report.quiet || report.json {
        Show::Nothing
    } else if console.err_is_terminal {
        Show::Terminal
    } else {
        Show::Lines(&mut *console.err)
    }
}

/// Which tooth a case is about, said before the work begins.
pub(crate) fn greeting(case: &Case) -> String {
    format!("tooth: {}", case.meant())
}

/// Makes the mesh of a case.
pub(crate) fn mesh(case: &Case, progress: &Progress<'_>) -> Result<ToothMesh, Failure> {
    let limit = memory::available(rayon::current_num_threads()).map(|available| available.bytes);
    mesh_tooth_within(&case.specimen, limit, progress).map_err(|error| match &error {
        MeshError::Interrupted => Failure::Interrupted,
        MeshError::OutOfRange { .. }
        | MeshError::Impossible { .. }
        | MeshError::UnderResolved { .. }
        | MeshError::NoRoom { .. }
        | MeshError::NoMemory { .. }
        | MeshError::TooLarge { .. } => case.explain_mesh(&error).into(),
        _ => Failure::NoResult(format!("the mesher failed: {error}")),
    })
}

/// A case with its mesh, its six unit solutions and the state under its load.
pub(crate) struct Computed {
    pub(crate) tooth: ToothMesh,
    pub(crate) solutions: UnitSolutions,
    pub(crate) stress: LigamentStress,
    pub(crate) field: LigamentField,
    pub(crate) wrench: Wrench,
    pub(crate) result: ResultDocument,
}

/// Says what a solver's error means for a case.
fn explain(case: &Case, error: SolverError) -> Failure {
    match error {
        SolverError::Interrupted => Failure::Interrupted,
        SolverError::OutOfRange { .. } | SolverError::Footprint { .. } => case.explain_solver(&error).into(),
        SolverError::TooLarge { .. } => too_large(case, &error.to_string()),
        other => Failure::NoResult(format!("the solver found no result: {other}")),
    }
}

/// Refuses a case that needs more memory than there is, and says what sets the limit.
fn too_large(case: &Case, sentence: &str) -> Failure {
    let bound = memory::available(rayon::current_num_threads())
        .map(|available| format!(" (what may be used is {})", available.bound));
    let sentence = format!("{sentence}{}", bound.unwrap_or_default());
    case.complain("mesh.element_size_mm", sentence).into()
}

/// Most layers of elements through the ligament that the mesher makes.
const MOST_LAYERS: u32 = 8;

/// The headline numbers on the mesh at hand and on two finer ones: more layers through the ligament, half as many again and
/// then twice as many where the number is even, and elements smaller in the same measure, so that all lengths of the
/// ligament's elements shrink together.
fn rungs(case: &Case, first: Rung, progress: &Progress<'_>) -> Result<[Rung; 3], Failure> {
    // Above the default size the root is meshed as at the default.
    let size = case.specimen.mesh.element_size_mm.min(DEFAULT_ELEMENT_SIZE_MM);
    let layers = case.specimen.ligament.layers;
    let finer = |steps: u32| {
        let wanted = layers + steps * layers.div_ceil(2);
        let mut finer = case.clone();
        finer.specimen.mesh.element_size_mm = size * f64::from(layers) / f64::from(wanted);
        finer.specimen.ligament.layers = wanted.min(MOST_LAYERS);
        let tooth = mesh(&finer, progress)?;
        let solutions =
            solve_unit_loads(&problem(&finer, &tooth), progress).map_err(|error| explain(&finer, error))?;
        Ok::<Rung, Failure>(Rung::new(&finer, &tooth, &solutions))
    };
    Ok([first, finer(1)?, finer(2)?])
}

/// Meshes, solves and gathers the result; `verify` adds the errors that a sequence of meshes shows.
pub(crate) fn compute(case: &Case, verify: bool, progress: &Progress<'_>) -> Result<Computed, Failure> {
    progress.say(&greeting(case));
    let tooth = mesh(case, progress)?;
    let fail = |error| explain(case, error);
    let problem = problem(case, &tooth);
    let solutions = solve_unit_loads(&problem, progress).map_err(fail)?;
    let stress =
        progress.rest_of(Stage::Mechanics, || LigamentStress::new(&problem, &solutions)).map_err(fail)?;
    let load = case.load;
    let wrench = Wrench {
        point: tooth.landmarks.attachment,
        force: Vector3::new(load.force_n, 0.0, 0.0),
        moment: Vector3::new(0.0, -load.torque_nmm, 0.0),
    };
    let field = stress.under(&solutions, &wrench);
    let strain = stress.largest_strain(&solutions.weights(&wrench));
    let accuracy = progress
        .rest_of(Stage::Mechanics, || Accuracy::estimate(case, &tooth, &problem, &solutions))
        .map_err(fail)?;
    let mut result = ResultDocument::new(&Parts {
        case,
        tooth: &tooth,
        solutions: &solutions,
        ligament: &field,
        strain,
        wrench,
        accuracy,
    });
    if verify {
        let rungs = rungs(case, Rung::new(case, &tooth, &solutions), progress)?;
        result.numerical_error.discretisation.add_sequence(&rungs);
    }
    if progress.is_stopped() {
        return Err(Failure::Interrupted);
    }
    Ok(Computed { tooth, solutions, stress, field, wrench, result })
}

/// What the solver is asked.
pub(crate) fn problem<'a>(case: &Case, tooth: &'a ToothMesh) -> ToothProblem<'a> {
    let limit = memory::available(rayon::current_num_threads()).map(|available| available.for_solver());
    ToothProblem {
        mesh: &tooth.mesh,
        materials: case.materials,
        bodies: case.bodies,
        formulation: case.formulation,
        reference_point: tooth.landmarks.attachment,
        footprint: Footprint::of(&case.specimen.attachment, &tooth.landmarks),
        options: SolveOptions { memory_limit_bytes: limit, ..SolveOptions::default() },
    }
}

/// Times of the stages so far.
pub(crate) fn timing(progress: &Progress<'_>, map_s: f64, started: Instant) -> Timing {
    let seconds = |stage| progress.seconds(&[stage]);
    Timing {
        mesh: progress.seconds(&[Stage::Lattice, Stage::Improve, Stage::Ligament, Stage::Curve]),
        assembly: seconds(Stage::Assembly),
        factor: seconds(Stage::Factor),
        solve: seconds(Stage::Solve),
        mechanics: seconds(Stage::Mechanics),
        map: map_s,
        figures: seconds(Stage::Figures),
        total: started.elapsed().as_secs_f64(),
    }
}

/// Ends a command whose result is there: failed checks are a failure of their own kind.
pub(crate) fn judge(result: &ResultDocument) -> Result<(), Failure> {
    let failed = result.failed_checks();
    if failed.is_empty() { Ok(()) } else { Err(Failure::Checks(failed)) }
}
