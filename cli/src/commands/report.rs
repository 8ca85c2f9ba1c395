//! `gomphosis report`: one case in one file.

use std::path::PathBuf;

use gomphosis_mesh_gen::Stage;

use super::figure::subject;
use super::lesson::quoted;
use super::{announce, batch, compute, judge, key, load_case, on_threads, print, show};
use crate::args::{CaseOptions, ReportArgs, ReportOptions};
use crate::case::Case;
use crate::exit::Failure;
use crate::figure::{Kind, Style, Subject};
use crate::output::{Form, Purpose, What, ends_in};
use crate::progress::Progress;
use crate::report::{self, Captioned};
use crate::{Console, summary};

/// Runs the command.
pub(crate) fn run(args: &ReportArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let case = load_case(&args.case)?;
    let path = args.out.clone().unwrap_or_else(|| PathBuf::from("report.html"));
    ends_in("--out", &path, Form::Html, "a report is one page of HTML, in a file whose name ends in .html")?;
    let mut files = batch(args.write, &args.case);
    files.plan(&path, What::new(Form::Html, Purpose::Report, &summary::title(&case), &key(&case)))?;
    announce(&files, args.quiet, console);
    let beside = files.takes_standard_output();
    let stop = console.stop;
    let done = {
        let progress = Progress::new(show(console, &ReportOptions { json: false, quiet: args.quiet }), stop);
        on_threads(args.case.threads, || {
            let done = compute(&case, args.verify, &progress)?;
            let page = progress.stage(Stage::Figures, || {
                let figures = figures(&case, &subject(&case, &done, Style::default()))?;
                report::page(&case, &done, figures, command(args))
                    .map_err(|reason| Failure::NoResult(format!("the report failed: {reason}")))
            })?;
            let mut batch = files;
            batch.file(&path, |w| w.write_all(page.as_bytes()))?;
            if progress.is_stopped() {
                return Err(Failure::Interrupted);
            }
            batch.commit()?;
            Ok(done)
        })?
    };
    if !args.quiet {
        print(console, beside, &summary::written_file(&path))?;
    }
    judge(&done.result)
}

/// The figures; those over ratios of torque to force need a push.
fn figures(case: &Case, subject: &Subject<'_>) -> Result<Vec<Captioned>, Failure> {
    let all = [
        (
            Kind::Section,
            "The tooth in its socket under the load of the case, at rest and moved, with the ligament's pressure.",
        ),
        (Kind::Pressure, "Pressure of the ligament over the surface of the root, unrolled."),
        (
            Kind::Curve,
            "Centre of rotation against the moment-to-force ratio, beside the tooth at the same scale of depth.",
        ),
        (
            Kind::Map,
            "Tip for each millimetre over attachment height and moment-to-force ratio, with the kinds of movement.",
        ),
        (Kind::Tip, "Tip for each millimetre of travel, measured at three points."),
    ];
    all.into_iter()
        .filter(|(kind, _)| case.load.force_n != 0.0 || matches!(kind, Kind::Section | Kind::Pressure))
        .map(|(kind, caption)| Ok(Captioned { drawing: kind.draw(subject)?, caption: caption.to_owned() }))
        .collect()
}

/// The command that makes the report again.
fn command(args: &ReportArgs) -> String {
    let CaseOptions { case, tooth, set, bodies, formulation, .. } = &args.case;
    let mut words = vec!["gomphosis report".to_owned()];
    words.extend(case.iter().map(|path| quoted(&path.to_string_lossy())));
    for (name, value) in [("tooth", tooth), ("bodies", bodies), ("formulation", formulation)] {
        words.extend(value.iter().map(|value| format!("--{name} {}", quoted(value))));
    }
    words.extend(set.iter().map(|text| format!("--set {}", quoted(text))));
    words.extend(args.verify.then(|| "--verify".to_owned()));
    words.join(" ")
}
