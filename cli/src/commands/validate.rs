//! `gomphosis validate`: the model beside published values.

use super::verify::{page_with, put_into, unknown};
use super::{on_threads, show};
use crate::args::ValidateArgs;
use crate::exit::Failure;
use crate::progress::Progress;
use crate::validate::{self, Outcome, Study, report, studies};
use crate::verify::VerifyError;
use crate::{Console, write_out};

const MARKS: [&str; 2] = [report::BEGIN, report::END];

/// Runs the command.
pub(crate) fn run(args: &ValidateArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let chosen = choose(&args.names)?;
    if let Some(path) = &args.into {
        // Before a minute of work.
        page_with(path, MARKS, "")?;
    }
    let stop = console.stop;
    let outcomes = {
        let progress = Progress::new(show(console, &args.report), stop);
        on_threads(args.threads, || run_all(&chosen, &progress))?
    };
    if let Some(path) = &args.into {
        put_into(path, MARKS, &report::markdown(&outcomes))?;
    }
    let text = if args.report.json {
        let mut text = serde_json::to_string_pretty(&report::json(&outcomes)).unwrap_or_default();
        text.push('\n');
        text
    } else if args.markdown {
        report::markdown(&outcomes)
    } else {
        report::text(&outcomes)
    };
    write_out(console, &text)?;
    let failed = outcomes.iter().filter_map(|outcome| {
        outcome.results.as_ref().err().map(|error| format!("{}: {error}", outcome.study.name))
    });
    let failed: Vec<String> = failed.collect();
    if failed.is_empty() { Ok(()) } else { Err(Failure::NoResult(failed.join("\n"))) }
}

/// The studies of some names, all without any.
fn choose(names: &[String]) -> Result<Vec<Study>, Failure> {
    if names.is_empty() {
        return Ok(studies::ALL.to_vec());
    }
    let known = studies::ALL.map(|study| study.name);
    let find = |name: &String| validate::find(name).copied().ok_or_else(|| unknown("study", name, &known));
    names.iter().map(find).collect()
}

fn run_all(chosen: &[Study], progress: &Progress<'_>) -> Result<Vec<Outcome>, Failure> {
    let mut outcomes = Vec::with_capacity(chosen.len());
    for (k, study) in chosen.iter().enumerate() {
        progress.announce(&format!("{} ({} of {})", study.title, k + 1, chosen.len()));
        let outcome = study.outcome(&progress.ear());
        if progress.is_stopped() || outcome.results.as_ref().is_err_and(VerifyError::is_interrupt) {
            return Err(Failure::Interrupted);
        }
        progress.done(outcome.elapsed, study.title);
        outcomes.push(outcome);
    }
    Ok(outcomes)
}
