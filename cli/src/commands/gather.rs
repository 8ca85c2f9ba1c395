//! `gomphosis gather`: the shards of a study joined, if none is missing.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use super::sweep::{STUDY_FILE, columns, tell};
use crate::Console;
use crate::args::GatherArgs;
use crate::case::Complaint;
use crate::exit::Failure;
use crate::output::Batch;
use crate::study::Study;
use crate::study::finish::finish;
use crate::study::journal::{self, Head};
use crate::study::plan::{Plan, Shard};
use crate::study::table::{Gathering, Rows};

/// Runs the command.
pub(crate) fn run(args: &GatherArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    // Clap sees to it that there is one.
    let Some(first) = args.directories.first() else { return Ok(()) };
    let (study, mut rows) = whole(&args.directories)?;
    let asked = columns(&study, &args.y)?;
    let mut files = Batch::new(args.write.force);
    files.reads(&first.join(STUDY_FILE));
    let finished = finish(&study, &mut rows, first, args.format, &asked, files)?;
    tell(&finished, args.report.json, console)
}

/// The rows of a study that is complete, from directories of which the first holds the study.
pub(super) fn whole(directories: &[PathBuf]) -> Result<(Study, Rows), Failure> {
    let first = directories.first().map_or_else(|| Path::new("."), PathBuf::as_path);
    let study = Study::load(&first.join(STUDY_FILE))?;
    let mut gathering = Gathering::new(&study, first)?;
    let mut shards = Vec::new();
    for directory in directories {
        for path in files(directory)? {
            let Some(found) = journal::read(&path)? else { continue };
            let fits = match &found.head {
                Some(head) => *head == Head::new(study.fingerprint(), study.len(), head.shard),
                None => found.fits(&path, &study).map_err(|e| Failure::io("read", &path, e))?,
            };
            if !fits {
                let sentence = format!(
                    "{} belongs to another study or another version of the program than {}",
                    path.display(),
                    first.join(STUDY_FILE).display()
                );
                return Err(Complaint::plain(sentence).into());
            }
            shards.extend(found.head.as_ref().map(|head| head.shard).or_else(|| Head::shard_of(&path)));
            gathering.take(path, &found)?;
        }
    }
    if shards.is_empty() {
        let sentence = format!(
            "{}: there is no journal of a study here (`gomphosis sweep` writes them)",
            first.display()
        );
        return Err(Complaint::plain(sentence).into());
    }
    let rows = gathering.rows();
    let missing = rows.missing();
    if !missing.is_empty() {
        return Err(Failure::Checks(vec![incomplete(&study, &shards, &missing, first)]));
    }
    Ok((study, rows))
}

/// Journals of a directory, by name.
fn files(directory: &Path) -> Result<Vec<PathBuf>, Failure> {
    let fail = |e| Failure::io("read the directory", directory, e);
    let mut found = Vec::new();
    for entry in std::fs::read_dir(directory).map_err(fail)? {
        let path = entry.map_err(fail)?.path();
        if path.extension().is_some_and(|e| e == "journal") {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// Which cases are missing, and which shards owe them.
fn incomplete(study: &Study, shards: &[Shard], missing: &[usize], directory: &Path) -> String {
    let mut text = format!(
        "{} of {} cases are missing ({}); no table was written",
        missing.len(),
        study.len(),
        spans(missing)
    );
    let Some(of) = shards.iter().map(|shard| shard.of).max() else { return text };
    let owing: Vec<String> = Plan::new(study)
        .owing(of, missing)
        .into_iter()
        .map(
            |number| {
                if of == 1 { "the study".to_owned() } else { format!("shard {}", Shard { number, of }) }
            },
        )
        .collect();
    let shown = owing.len().min(12);
    let _ = write!(text, "\nunfinished: {}", owing[..shown].join(", "));
    if shown < owing.len() {
        let _ = write!(text, " and {} more", owing.len() - shown);
    }
    let shard = if of == 1 { "" } else { " --shard K/N" };
    let _ = write!(
        text,
        "\nto go on: gomphosis sweep {}{shard} --out {} --resume",
        directory.join(STUDY_FILE).display(),
        directory.display()
    );
    text
}

/// "1 to 4, 9 and 12 to 15", from 0-based numbers.
fn spans(cases: &[usize]) -> String {
    let mut parts: Vec<(usize, usize)> = Vec::new();
    for &case in cases {
        match parts.last_mut() {
            Some((_, last)) if *last + 1 == case => *last = case,
            _ => parts.push((case, case)),
        }
    }
    let most = 8;
    let mut texts: Vec<String> = parts
        .iter()
        .take(most)
        .map(|(a, b)| if a == b { format!("{}", a + 1) } else { format!("{} to {}", a + 1, b + 1) })
        .collect();
    if parts.len() > most {
        texts.push("...".to_owned());
    }
    texts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_short() {
        assert_eq!(spans(&[0, 1, 2, 3, 8, 11, 12]), "1 to 4, 9, 12 to 13");
        assert!(spans(&(0..40).step_by(2).collect::<Vec<_>>()).ends_with("15, ..."));
    }
}
