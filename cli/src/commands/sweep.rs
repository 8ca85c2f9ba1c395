//! `gomphosis sweep`: the cases of a study, kept as they finish.

use std::path::{Component, Path, PathBuf};

use serde_json::json;

use super::{announce, show};
use crate::args::SweepArgs;
use crate::case::{self as cases, Complaint};
use crate::exit::Failure;
use crate::output::{Batch, Purpose, sealed, unsealed};
use crate::study::charts;
use crate::study::finish;
use crate::study::journal::{self, Head, Journal, Opened, Resume};
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
    let resume = match (args.resume, args.restart) {
        (true, _) => Resume::Yes,
        (_, true) => Resume::Restart,
        _ => Resume::No,
    };
    let mut planned = files(args);
    Batch::plan_directory("--out", "sweep", &directory)?;
    if shard.of == 1 {
        finish::plan(&study, &directory, args.format, &mut planned)?;
        announce(&planned, args.report.quiet, console);
    }
    let keep = study_to_keep(args, &study, &directory, resume)?;
    std::fs::create_dir_all(&directory).map_err(|e| Failure::io("make the directory", &directory, e))?;
    let path = directory.join(Head::file_name(shard));
    let head = Head::new(study.fingerprint(), study.len(), shard);
    let Opened { mut journal, done: finished, damaged } = Journal::open(&path, &head, resume, &study)?;
    if let Some(copy) = keep {
        copy.put()?;
    }
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
    let mut rows = Rows::new(&study, found.map(|found| (path, found)), &directory)?;
    let finished = finish::finish(&study, &mut rows, &directory, args.format, &asked, files(args))?;
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

/// The files of a sweep, which reads its study.
fn files(args: &SweepArgs) -> Batch {
    let mut files = Batch::new(args.write.force);
    files.reads(&args.study);
    files
}

/// The copy of the study that is to stand beside its results.
struct Copy {
    path: PathBuf,
    text: String,
    batch: Batch,
}

/// The copy of a study for a directory, if it is not there yet. Refuses to put it in the place of somebody's own file, or,
/// unless all begins anew, of another study whose rows may stand beside it.
fn study_to_keep(
    args: &SweepArgs,
    study: &Study,
    directory: &Path,
    resume: Resume,
) -> Result<Option<Copy>, Failure> {
    let path = directory.join(STUDY_FILE);
    let text = unsealed(&study.source.text).to_owned();
    if holds(&path, &text) {
        return Ok(None);
    }
    let mut batch = files(args);
    batch.plan_in(directory, STUDY_FILE, sealed(Purpose::Study, &study.title, &text))?;
    let other =
        path.is_file() && Study::load(&path).map_or(true, |there| there.fingerprint() != study.fingerprint());
    if other && resume != Resume::Restart && !args.write.force {
        let sentence = format!(
            "{} is the copy of another study, or of this one before it was changed; another --out, or --restart, would do",
            path.display()
        );
        return Err(Complaint::plain(sentence).into());
    }
    Ok(Some(Copy { path, text, batch }))
}

/// Does a file hold a text, with or without the line that marks a copy?
fn holds(path: &Path, text: &str) -> bool {
    path.is_file() && std::fs::read_to_string(path).is_ok_and(|there| unsealed(&there) == text)
}

impl Copy {
    /// Puts the copy in place; another shard of the study may have been faster.
    fn put(mut self) -> Result<(), Failure> {
        let written = self
            .batch
            .file(&self.path, |w| w.write_all(self.text.as_bytes()))
            .and_then(|()| self.batch.commit());
        if holds(&self.path, &self.text) { Ok(()) } else { written }
    }
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
