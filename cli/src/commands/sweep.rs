//! `gomphosis sweep`: the cases of a study, kept as they finish.

use std::path::{Component, Path, PathBuf};

use serde_json::json;

use super::show;
use crate::args::SweepArgs;
use crate::case as cases;
use crate::exit::Failure;
use crate::output::Batch;
use crate::study::charts;
use crate::study::finish::finish;
use crate::study::journal::{self, Head, Journal, Resume};
use crate::study::plan::{Plan, Shard, for_workers};
use crate::study::quantity::Quantity;
use crate::study::table::Rows;
use crate::study::watch::Watch;
use crate::study::{Study, run as runner};
use crate::{Console, write_out};

/// Name of the copy of the study beside its results.
pub(crate) const STUDY_FILE: &str = "study.toml";

/// Runs the command.
pub(crate) fn run(args: &SweepArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let study = Study::load(&args.study)?;
    let asked = columns(&study, &args.y)?;
    let shard = args.shard.unwrap_or(Shard::WHOLE);
    let plan = Plan::new(&study);
    let parts = plan.shard(shard);
    let mine: usize = parts.iter().map(|part| part.cases.len()).sum();
    if args.dry_run {
        let text = crate::table::paragraph(&format!(
            "{}: {} on {}, varied: {}",
            study.title,
            counted(study.len(), "case"),
            counted(plan.groups.len(), "mesh"),
            study.summary()
        ));
        let part =
            if shard.of == 1 { String::new() } else { format!("shard {shard}: {}\n", counted(mine, "case")) };
        let mut whole = String::new();
        for tooth in study.teeth_meant() {
            whole.push_str(&crate::table::paragraph(&format!("tooth: {tooth}")));
        }
        whole.push_str(&text);
        whole.push_str(&part);
        for warning in study.warnings() {
            whole.push_str(&crate::table::paragraph(&format!("warning: {warning}")));
        }
        return write_out(console, &whole);
    }
    if !args.report.quiet && !args.report.json {
        for tooth in study.teeth_meant() {
            let _ = writeln!(console.err, "tooth: {tooth}");
        }
    }
    if !args.report.quiet {
        for warning in study.warnings() {
            // What is said here stands in the results too.
            let _ = writeln!(console.err, "warning: {warning}");
        }
    }
    let directory = directory(args);
    std::fs::create_dir_all(&directory).map_err(|e| Failure::io("make the directory", &directory, e))?;
    let path = directory.join(Head::file_name(shard));
    let head = Head::new(study.fingerprint(), study.len(), shard);
    let resume = match (args.resume, args.restart) {
        (true, _) => Resume::Yes,
        (_, true) => Resume::Restart,
        _ => Resume::No,
    };
    let (mut journal, finished, damaged) = Journal::open(&path, &head, resume)?;
    keep_study(&study, &directory)?;
    let mut done = vec![false; study.len()];
    for case in finished {
        done[case as usize] = true;
    }
    let before = parts.iter().flat_map(|part| &part.cases).filter(|case| done[**case as usize]).count();
    let threads = args
        .threads
        .map_or_else(|| std::thread::available_parallelism().map_or(1, std::num::NonZero::get), usize::from);
    // Where few meshes serve many cases, their systems or the places of the load are shared out.
    let parts = for_workers(&plan, parts, threads);
    let stop = console.stop;
    let ran = {
        let watch = Watch::new(show(console, &args.report), stop, before, mine);
        if before > 0 {
            watch.say(&format!("{before} of {mine} cases are there from an earlier run"));
        }
        if damaged > 0 {
            watch.say(&format!("{damaged} lines of {} are damaged; their cases run again", path.display()));
        }
        let ran = runner::run(&study, &plan, &parts, &done, &mut journal, threads, &watch);
        ran.map_err(|failure| (failure, before + watch.done()))
    };
    if let Err((failure, kept)) = ran {
        // What was reached is worth saying whatever ended the run.
        if !args.report.quiet {
            let _ = writeln!(
                console.err,
                "{kept} of {mine} cases are kept in {}; --resume goes on",
                path.display()
            );
        }
        return Err(failure);
    }
    drop(journal);
    if shard.of > 1 {
        let text = if args.report.json {
            format!(
                "{}\n",
                json!({ "shard": shard.to_string(), "cases": mine, "journal": path.display().to_string() })
            )
        } else {
            format!(
                "Shard {shard} of {}: {mine} cases are in {}.\nWhen all shards are there: gomphosis gather {}\n",
                study.title,
                path.display(),
                directory.display()
            )
        };
        return write_out(console, &text);
    }
    let found = journal::read(&path)?;
    let journals = found.map(|found| (path, found)).into_iter().collect();
    let mut rows = Rows::new(&study, journals)?;
    let finished = finish(&study, &mut rows, &directory, args.format, &asked)?;
    tell(&finished, args.report.json, console)
}

/// The columns that `--y` names for the lines of a study.
pub(super) fn columns(study: &Study, names: &[String]) -> Result<Vec<Quantity>, Failure> {
    let found = Quantity::named(study, names)?;
    if !found.is_empty() && !charts::has_lines(study) {
        let sentence = format!("of this study no lines are drawn: {}", charts::WANTED);
        return Err(cases::wrong_option("--y", &sentence).into());
    }
    Ok(found)
}

/// Prints what came out; a study in which every case failed has no result.
pub(crate) fn tell(
    finished: &crate::study::finish::Finished,
    as_json: bool,
    console: &mut Console<'_>,
) -> Result<(), Failure> {
    if as_json {
        let mut text = serde_json::to_string_pretty(&finished.json).unwrap_or_default();
        text.push('\n');
        write_out(console, &text)?;
    } else {
        write_out(console, &finished.text)?;
    }
    if finished.any {
        Ok(())
    } else {
        Err(Failure::NoResult("no case of the study has a result; the table says why for each".to_owned()))
    }
}

/// "1 mesh", "2 meshes".
fn counted(count: usize, what: &str) -> String {
    let end = match (count, what.ends_with("sh")) {
        (1, _) => "",
        (_, true) => "es",
        (_, false) => "s",
    };
    format!("{count} {what}{end}")
}

fn directory(args: &SweepArgs) -> PathBuf {
    args.out.clone().unwrap_or_else(|| {
        let stem = args.study.file_stem().filter(|_| args.study.extension().is_some()).map(Path::new);
        // `...toml` has the stem `..`, which is no name but the directory above.
        let is_name =
            |stem: &&Path| matches!(stem.components().collect::<Vec<_>>()[..], [Component::Normal(_)]);
        stem.filter(is_name).map_or_else(|| PathBuf::from("study-out"), PathBuf::from)
    })
}

/// A copy of the study stands beside its results.
fn keep_study(study: &Study, directory: &Path) -> Result<(), Failure> {
    let path = directory.join(STUDY_FILE);
    let same = std::fs::read_to_string(&path).is_ok_and(|text| text == study.source.text);
    if same {
        return Ok(());
    }
    let mut batch = Batch::default();
    batch.file(&path, |w| w.write_all(study.source.text.as_bytes()))?;
    batch.commit()
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::directory;
    use crate::args::{Cli, Command};

    #[test]
    fn a_study_writes_beside_itself_and_never_above() {
        for (study, wanted) in [
            ("loss.toml", "loss"),
            ("a/b.c.toml", "b.c"),
            ("...toml", "study-out"),
            ("x/...toml", "study-out"),
            ("..toml", "study-out"),
            (".toml", "study-out"),
            ("study", "study-out"),
        ] {
            let cli = Cli::try_parse_from(["gomphosis", "sweep", study]).expect("a command line");
            let Command::Sweep(args) = &cli.command else { panic!("not a sweep") };
            assert_eq!(directory(args), std::path::Path::new(wanted), "{study}");
        }
    }
}
