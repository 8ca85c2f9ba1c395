//! `gomphosis verify`: the program against answers that are known without it.

use std::fmt::Write;
use std::path::Path;

use super::{on_threads, show};
use crate::args::VerifyArgs;
use crate::case::Complaint;
use crate::exit::Failure;
use crate::output::{Batch, Form, Purpose, What};
use crate::progress::Progress;
use crate::verify::{self, Case, Outcome, VerifyError, cases, report};
use crate::{Console, table, write_out};

const MARKS: [&str; 2] = [report::BEGIN, report::END];

/// Runs the command.
pub(crate) fn run(args: &VerifyArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let chosen = choose(&args.names)?;
    if args.list {
        return write_out(console, &list(&chosen));
    }
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
    judge(&outcomes)
}

/// Comparisons outside their tolerance, and cases without any, are failed checks.
fn judge(outcomes: &[Outcome]) -> Result<(), Failure> {
    let complaints: Vec<String> = outcomes.iter().flat_map(Outcome::complaints).collect();
    if complaints.is_empty() { Ok(()) } else { Err(Failure::Checks(complaints)) }
}

/// The cases of some names, all without any.
fn choose(names: &[String]) -> Result<Vec<Case>, Failure> {
    if names.is_empty() {
        return Ok(cases::ALL.to_vec());
    }
    let known = cases::ALL.map(|case| case.name);
    let find =
        |name: &String| verify::find(name).copied().ok_or_else(|| unknown("verification case", name, &known));
    names.iter().map(find).collect()
}

/// The complaint about a name that is none of the known ones.
pub(super) fn unknown(what: &str, name: &str, known: &[&str]) -> Failure {
    let like = |other: &str| strsim::jaro_winkler(other, name);
    let near = known.iter().max_by(|a, b| like(a).total_cmp(&like(b))).copied().unwrap_or_default();
    Complaint::plain(format!("there is no {what} {name}; the nearest name is {near}")).into()
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

/// A page with a text between two marks.
pub(super) fn page_with(path: &Path, [begin, end]: [&str; 2], text: &str) -> Result<String, Failure> {
    let page = std::fs::read_to_string(path).map_err(|e| Failure::io("read", path, e))?;
    report::with_block(&page, begin, end, text).ok_or_else(|| {
        Complaint::plain(format!("{} has no marks {begin} and {end}, each once", path.display())).into()
    })
}

/// Puts a text between two marks of a page.
pub(super) fn put_into(path: &Path, marks: [&str; 2], text: &str) -> Result<(), Failure> {
    let page = page_with(path, marks, text)?;
    // What stands between the marks is this program's, and the rest stays.
    let mut batch = Batch::new(true);
    batch.plan(path, What::plain(Form::Markdown, Purpose::Page))?;
    batch.file(path, |w| w.write_all(page.as_bytes()))?;
    batch.commit()
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
            for line in table::lines(text, table::WIDTH, &format!("  {name:<9}  "), &" ".repeat(13)) {
                out.push_str(&line);
                out.push('\n');
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use gomphosis_mesh_gen::Silent;

    use super::*;
    use crate::exit::Exit;
    use crate::verify::Row;

    #[test]
    fn a_failed_comparison_a_broken_case_and_an_empty_one_give_the_status_of_failed_checks() {
        let sound = Case { run: |_| Ok(vec![Row::relative("a", 1.0, 1.001, 0.01)]), ..cases::ALL[0] };
        assert!(judge(&[sound.outcome(&Silent)]).is_ok());
        let runs: [verify::Run; 4] = [
            |_| Ok(vec![Row::relative("a", 1.0, 1.1, 0.01)]),
            |_| Ok(vec![Row::relative("a", 1.0, f64::NAN, 0.01)]),
            |_| Err(VerifyError::Missing("no centre")),
            |_| Ok(Vec::new()),
        ];
        for run in runs {
            let outcomes = [sound.outcome(&Silent), Case { run, ..cases::ALL[1] }.outcome(&Silent)];
            let failure = judge(&outcomes).expect_err("one of the cases failed");
            assert_eq!(failure.exit(), Exit::CheckFailed, "{failure}");
            assert!(failure.to_string().contains(cases::ALL[1].name), "{failure}");
            assert!(
                report::text(&outcomes).contains("FAILED") && report::markdown(&outcomes).contains("FAILED")
            );
            assert_eq!(report::json(&outcomes)["passed"], false);
        }
    }
}
