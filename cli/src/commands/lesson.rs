//! `gomphosis lesson`: a page that computes.

use std::path::PathBuf;

use super::{announce, compute, greeting, judge, key, load_case, on_threads, print, show};
use crate::args::{CaseOptions, LessonArgs, ReportOptions};
use crate::case::{Case, Heights, Place, place};
use crate::exit::Failure;
use crate::lesson::{self, Tooth};
use crate::output::{Batch, Form, Purpose, What, ends_in};
use crate::progress::Progress;
use crate::{Console, case as cases, summary};

/// Bone that the second tooth has lost where no teeth are named, mm.
const SHOWN_LOSS_MM: f64 = 4.0;

/// Runs the command.
pub(crate) fn run(args: &LessonArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let (cases, commands): (Vec<_>, Vec<_>) = cases_of(args)?.into_iter().unzip();
    let calls = lesson::called(&cases, args.language);
    let path = args.out.clone().unwrap_or_else(|| PathBuf::from("lesson.html"));
    ends_in("--out", &path, Form::Html, "a lesson is one page of HTML, in a file whose name ends in .html")?;
    let mut files = Batch::new(args.write.force);
    args.cases.iter().for_each(|case| files.reads(case));
    let about: Vec<String> = cases.iter().map(summary::title).collect();
    let keys: String = cases.iter().map(key).collect();
    files.plan(&path, What::new(Form::Html, Purpose::Lesson, &about.join(", "), &keys))?;
    announce(&files, args.quiet, console);
    let beside = files.takes_standard_output();
    let stop = console.stop;
    let failed = {
        let report = ReportOptions { json: false, quiet: args.quiet };
        let progress = Progress::new(show(console, &report), stop);
        on_threads(args.threads, || {
            let mut teeth = Vec::new();
            let mut failed = Ok(());
            let of = cases.len();
            let mut said = String::new();
            for case in &cases {
                let greeting = greeting(case);
                if greeting != said {
                    progress.say(&greeting);
                    said = greeting;
                }
            }
            for (k, ((case, command), call)) in cases.iter().zip(commands).zip(calls).enumerate() {
                let name = summary::title(case);
                let done = progress.one_of(&name, [k + 1, of], |own| compute(case, false, own))?;
                failed = failed.and(judge(&done.result));
                teeth.push(Tooth::new(case, &done, call, command, args.language));
            }
            let page = lesson::page(&teeth, args.language)
                .map_err(|sentence| cases::wrong_option(&format!("--out {}", path.display()), &sentence))?;
            let mut batch = files;
            batch.file(&path, |w| w.write_all(page.as_bytes()))?;
            if progress.is_stopped() {
                return Err(Failure::Interrupted);
            }
            batch.commit()?;
            Ok(failed)
        })?
    };
    if !args.quiet {
        print(console, beside, &summary::written_file(&path))?;
    }
    failed
}

/// The teeth of the lesson with the commands that give their numbers.
fn cases_of(args: &LessonArgs) -> Result<Vec<(Case, String)>, Failure> {
    let named: Vec<Option<PathBuf>> =
        if args.cases.is_empty() { vec![None] } else { args.cases.iter().cloned().map(Some).collect() };
    let lost = args.bone_loss_mm.or_else(|| args.cases.is_empty().then_some(SHOWN_LOSS_MM));
    let mut found = Vec::new();
    for case in named {
        for loss in [None].into_iter().chain(lost.map(Some)) {
            let mut options = CaseOptions {
                case: case.clone(),
                tooth: None,
                set: args.set.clone(),
                bodies: args.bodies.clone(),
                formulation: None,
                threads: None,
            };
            if let Some(mm) = loss {
                // The two are compared, so the attachment stays where it is on the crown.
                let healthy = load_case(&options)?;
                if healthy.place == Place::AboveCrest {
                    let height = Heights::of(&healthy).height_from_cej_mm;
                    options.set.push(format!("{}={height}", place::FROM_JUNCTION));
                }
                options.set.push(format!("bone.loss_mm={mm}"));
            }
            found.push((load_case(&options)?, command(&options)));
        }
    }
    Ok(found)
}

/// The command that gives the numbers of a case.
fn command(options: &CaseOptions) -> String {
    let mut words = vec!["gomphosis solve".to_owned()];
    words.extend(options.case.iter().map(|path| quoted(&path.to_string_lossy())));
    words.extend(options.bodies.iter().map(|bodies| format!("--bodies {}", quoted(bodies))));
    words.extend(options.set.iter().map(|text| format!("--set {}", quoted(text))));
    words.join(" ")
}

/// A word as a shell takes it.
pub(super) fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./=".contains(c);
    if word.chars().all(plain) { word.to_owned() } else { format!("'{}'", word.replace('\'', "'\\''")) }
}
