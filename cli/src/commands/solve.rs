//! `gomphosis solve`: one load.

use std::time::Instant;

use gomphosis_solver::export::LoadedState;

use super::mesh::GRID;
use super::{
    announce, batch, compute, judge, key, load_case, on_threads, one_on_standard_output, print, problem,
    show, timing,
};
use crate::args::SolveArgs;
use crate::exit::Failure;
use crate::output::{Form, Purpose, What, ends_in};
use crate::progress::Progress;
use crate::summary;
use crate::{Console, write_out};

/// Runs the command.
pub(crate) fn run(args: &SolveArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let started = Instant::now();
    let case = load_case(&args.case)?;
    let mut files = batch(args.write, &args.case);
    let (subject, key) = (summary::title(&case), key(&case));
    if let Some(path) = &args.out {
        ends_in(
            "--out",
            path,
            Form::Json,
            "solve writes its result as JSON, in a file whose name ends in .json",
        )?;
        files.plan(path, What::new(Form::Json, Purpose::Result, &subject, &key))?;
    }
    if let Some(path) = &args.export {
        ends_in("--export", path, Form::Vtu, GRID)?;
        files.plan(path, What::new(Form::Vtu, Purpose::Mesh, &subject, &key))?;
    }
    one_on_standard_output(&files, args.report.json)?;
    announce(&files, args.report.quiet, console);
    let beside = files.takes_standard_output();
    let stop = console.stop;
    let done = {
        let progress = Progress::new(show(console, &args.report), stop);
        on_threads(args.case.threads, || {
            let mut done = compute(&case, args.verify, &progress)?;
            done.result.finish(timing(&progress, 0.0, started));
            let mut batch = files;
            if let Some(path) = &args.out {
                let json = done.result.to_json();
                batch.file(path, |w| w.write_all(json.as_bytes()))?;
            }
            if let Some(path) = &args.export {
                let problem = problem(&case, &done.tooth);
                let state = LoadedState { wrench: done.wrench, field: &done.field };
                batch.file(path, |w| crate::output::write_solution(w, &problem, &done.solutions, &state))?;
            }
            if progress.is_stopped() {
                return Err(Failure::Interrupted);
            }
            batch.commit()?;
            Ok(done)
        })?
    };
    if args.report.json {
        write_out(console, &done.result.to_json())?;
    } else {
        let mut text = summary::headline(&case, &done.result);
        text.push_str(&summary::detail(&done.result));
        for path in [&args.out, &args.export].into_iter().flatten() {
            text.push_str(&summary::written_file(path));
        }
        print(console, beside, &text)?;
    }
    judge(&done.result)
}
