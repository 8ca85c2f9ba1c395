//! `gomphosis solve`: one load.

use std::time::Instant;

use super::{compute, judge, load_case, on_threads, problem, show, timing};
use crate::args::SolveArgs;
use crate::exit::Failure;
use crate::output::Batch;
use crate::progress::Progress;
use crate::summary;
use crate::{Console, write_out};

/// Runs the command.
pub(crate) fn run(args: &SolveArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let started = Instant::now();
    let case = load_case(&args.case)?;
    let stop = console.stop;
    let done = {
        let progress = Progress::new(show(console, &args.report), stop);
        on_threads(args.case.threads, || {
            let mut done = compute(&case, args.verify, &progress)?;
            done.result.finish(timing(&progress, 0.0, started));
            let mut batch = Batch::default();
            if let Some(path) = &args.out {
                let json = done.result.to_json();
                batch.file(path, |w| w.write_all(json.as_bytes()))?;
            }
            if let Some(path) = &args.export {
                let problem = problem(&case, &done.tooth);
                batch.file(path, |w| crate::output::write_solution(w, &problem, &done.solutions))?;
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
        write_out(console, &text)?;
    }
    judge(&done.result)
}
