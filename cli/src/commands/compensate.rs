//! `gomphosis compensate`: degrees for each millimetre, tooth by tooth, against the rule of five.

use std::path::{Path, PathBuf};

use gomphosis_mesh_gen::{ToothForm, ToothKind};

use super::{announce, greeting, load_case, show};
use crate::args::{CaseOptions, CompensateArgs};
use crate::case::Case;
use crate::compensate::{self, Options, Work};
use crate::exit::Failure;
use crate::figure::{self, Style, write_drawing};
use crate::output::{Batch, Form, Purpose, What};
use crate::study::watch::Watch;
use crate::{Console, summary, write_out};

/// The files of `--out`.
const FILES: &str = "compensation.csv, compensation.json, compensation as SVG and PNG";

/// Runs the command.
pub(crate) fn run(args: &CompensateArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let cases = teeth(args)?;
    let threads = args
        .threads
        .map_or_else(|| std::thread::available_parallelism().map_or(1, std::num::NonZero::get), usize::from);
    let options = Options { samples: usize::from(args.samples), seed: u64::from(args.seed), threads };
    let work = Work::new(&cases, &options);
    let style = Style { size: args.size, theme: args.theme, ..Style::default() };
    let mut files = Batch::new(args.write.force);
    args.cases.iter().for_each(|case| files.reads(case));
    if let Some(directory) = &args.out {
        plan(&mut files, directory, style, &cases)?;
        announce(&files, args.report.quiet, console);
    }
    let stop = console.stop;
    let findings = {
        let watch = Watch::new(show(console, &args.report), stop, 0, work.len());
        if !args.all {
            for case in &cases {
                watch.say(&greeting(case));
            }
        }
        work.run(&watch)?
    };
    let document = compensate::json(&findings);
    let mut json = serde_json::to_string_pretty(&document).unwrap_or_default();
    json.push('\n');
    if let Some(directory) = &args.out {
        let mut batch = files;
        batch.directory(directory)?;
        let csv = compensate::csv(&findings)
            .map_err(|e| Failure::io("write", &directory.join("compensation.csv"), e))?;
        batch.file(&directory.join("compensation.csv"), |w| w.write_all(&csv))?;
        batch.file(&directory.join("compensation.json"), |w| w.write_all(json.as_bytes()))?;
        if let Some(chart) = compensate::chart(&document, style) {
            write_drawing(
                "compensation",
                &figure::compensation::draw(&chart).finish(),
                directory,
                &mut batch,
            )?;
        }
        batch.commit()?;
    }
    if args.report.json {
        return write_out(console, &json);
    }
    let mut text = compensate::text(&findings);
    if let Some(directory) = &args.out {
        text.push_str(&summary::written(directory, FILES));
    }
    write_out(console, &text)
}

/// Looks at the places of these files before the work.
fn plan(files: &mut Batch, directory: &Path, style: Style, cases: &[Case]) -> Result<(), Failure> {
    Batch::plan_directory("--out", "compensate", directory)?;
    files.plan_in(directory, "compensation.csv", What::plain(Form::Csv, Purpose::Compensation))?;
    files.plan_in(directory, "compensation.json", What::plain(Form::Json, Purpose::Compensation))?;
    let names: Vec<String> = cases.iter().map(Case::name).collect();
    let [subject, key] = compensate::about_teeth(names.iter().map(String::as_str));
    let what = |form| figure::what("compensation", style, &subject, &key, form);
    figure::plan_drawing("compensation", what, directory, files)
}

/// The cases of the command line: those named, all sixteen teeth, or the built-in one.
fn teeth(args: &CompensateArgs) -> Result<Vec<Case>, Failure> {
    let load = |case: Option<PathBuf>| {
        load_case(&CaseOptions {
            case,
            tooth: None,
            set: args.set.clone(),
            bodies: None,
            formulation: None,
            threads: None,
        })
    };
    if args.all {
        let names = ToothKind::ALL.map(|kind| crate::case::form_name(ToothForm::Anatomical(kind)));
        return names.into_iter().map(|name| load(Some(PathBuf::from(name)))).collect();
    }
    if args.cases.is_empty() {
        return Ok(vec![load(None)?]);
    }
    args.cases.iter().cloned().map(|case| load(Some(case))).collect()
}
