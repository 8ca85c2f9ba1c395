//! `gomphosis verify`: the program against answers that are known without it.

use std::fmt::Write;
use std::path::Path;

use super::{on_threads, show};
use crate::args::VerifyArgs;
use crate::case::Complaint;
use crate::exit::Failure;
use crate::output::Batch;
use crate::progress::Progress;
use crate::verify::{self, Case, Outcome, VerifyError, cases, report};
use crate::{Console, write_out};

/// Runs the command.
pub(crate) fn run(args: &VerifyArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let chosen = choose(&args.names)?;
    if args.list {
        return write_out(console, &list(&chosen));
    }
    if let Some(path) = &args.into {
        // Before a minute of work.
        page_with(path, "")?;
    }
    let stop = console.stop;
    let outcomes = {
        let progress = Progress::new(show(console, &args.report), stop);
        on_threads(args.threads, || run_all(&chosen, &progress))?
    };
    if let Some(path) = &args.into {
        let page = page_with(path, &report::markdown(&outcomes))?;
        let mut batch = Batch::default();
        batch.file(path, |w| w.write_all(page.as_bytes()))?;
        batch.commit()?;
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
    let complaints: Vec<String> = outcomes.iter().flat_map(Outcome::complaints).collect();
    if complaints.is_empty() { Ok(()) } else { Err(Failure::Checks(complaints)) }
}

/// The cases of some names, all without any.
fn choose(names: &[String]) -> Result<Vec<Case>, Failure> {
    if names.is_empty() {
        return Ok(cases::ALL.to_vec());
    }
    let find = |name: &String| {
        verify::find(name).copied().ok_or_else(|| {
            let near = cases::ALL
                .iter()
                .map(|case| case.name)
                .max_by(|a, b| strsim::jaro_winkler(a, name).total_cmp(&strsim::jaro_winkler(b, name)));
            let near = near.unwrap_or_default();
            Complaint::plain(format!("there is no verification case {name}; the nearest name is {near}"))
                .into()
        })
    };
    names.iter().map(find).collect()
}

fn run_all(chosen: &[Case], progress: &Progress<'_>) -> Result<Vec<Outcome>, Failure> {
    let mut outcomes = Vec::with_capacity(chosen.len());
    for (k, case) in chosen.iter().enumerate() {
        progress.announce(&format!("{} ({} of {})", case.title, k + 1, chosen.len()));
        let outcome = case.outcome(&progress.ear());
        if progress.is_stopped() || outcome.rows.as_ref().is_err_and(VerifyError::is_interrupt) {
            return Err(Failure::Interrupted);
        }
        let verdict = if outcome.passed() { "" } else { ": FAILED" };
        progress.done(outcome.elapsed, &format!("{}{verdict}", case.title));
        outcomes.push(outcome);
    }
    Ok(outcomes)
}

/// A page with the table between its marks.
fn page_with(path: &Path, table: &str) -> Result<String, Failure> {
    let page = std::fs::read_to_string(path).map_err(|e| Failure::io("read", path, e))?;
    report::with_block(&page, report::BEGIN, report::END, table).ok_or_else(|| {
        let marks = format!("{} and {}", report::BEGIN, report::END);
        Complaint::plain(format!("{} has no marks {marks}, each once", path.display())).into()
    })
}

fn list(chosen: &[Case]) -> String {
    let mut out = String::new();
    for case in chosen {
        let _ = writeln!(out, "{}: {}", case.name, case.title);
        for (name, text) in [
            ("source", case.reference),
            ("goal", case.goal),
            ("mesh", case.mesh),
            ("tolerance", case.tolerance),
        ] {
            let _ = writeln!(out, "  {name:<9}  {text}");
        }
    }
    out
}
