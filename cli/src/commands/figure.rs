//! `gomphosis figure`: any one figure.

use std::ffi::OsStr;
use std::path::PathBuf;

use clap::ValueEnum;
use gomphosis_mesh_gen::{Stage, ToothKind};
use gomphosis_solver::{PlanarResistance, Plane};

use super::{Computed, announce, batch, compute, judge, key, load_case, on_threads, print, redraw, show};
use crate::args::{CaseOptions, FigureArgs, ReportOptions};
use crate::case::{self as cases, Case};
use crate::exit::Failure;
use crate::figure::{self, Drawing, Entry, Format, Kind, Shown, Style, Subject};
use crate::output::{Batch, Purpose, What, is_no_file};
use crate::progress::Progress;
use crate::{Console, summary};

/// Runs the command.
pub(crate) fn run(args: &FigureArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let (path, format) = destination(args)?;
    moves(args, format)?;
    if let (Some(mm), false) = (args.for_mm, args.kind.is_enlarged()) {
        let sentence = format!(
            "the figure {} draws no movement of a tooth in its socket; the figures section and movement do",
            args.kind.name()
        );
        return Err(cases::wrong_option(&format!("--for-mm {mm}"), &sentence).into());
    }
    if !args.y.is_empty() && args.kind != Kind::Lines {
        let sentence =
            format!("columns are chosen for the figure lines; the figure {} has its own", args.kind.name());
        return Err(cases::wrong_option("--y", &sentence).into());
    }
    let style = Style { size: args.size, theme: args.theme, language: args.language };
    let form = format.form();
    let mut files = batch(args.write, &args.case);
    if matches!(args.kind, Kind::Lines | Kind::Tornado | Kind::Compensation) {
        // What it is about stands in the results that it is drawn from; nothing is computed for it.
        batch(args.write, &args.case).plan(&path, What::plain(form, Purpose::Figure))?;
    } else {
        let [subject, key] = about(args.kind, &args.case)?;
        files.plan(&path, figure::what(args.kind.name(), style, &subject, &key, form))?;
        announce(&files, args.quiet, console);
    }
    let beside = Batch::goes_to_standard_output(&path);
    let stop = console.stop;
    let failed = {
        let progress = Progress::new(show(console, &ReportOptions { json: false, quiet: args.quiet }), stop);
        on_threads(args.case.threads, || {
            let (drawing, failed) = match args.kind {
                Kind::Overview => sixteen(&args.case, style, &progress)?,
                Kind::Lines | Kind::Tornado | Kind::Compensation => {
                    let (drawing, [subject, key]) = redraw::draw(args.kind, &args.case, style, &args.y)?;
                    files.plan(&path, figure::what(args.kind.name(), style, &subject, &key, form))?;
                    (drawing, Ok(()))
                }
                _ => one(args, style, &progress)?,
            };
            let convert = || format.bytes_unless(&drawing, &|| progress.is_stopped());
            let bytes = progress.stage(Stage::Figures, convert).map_err(|reason| {
                Failure::NoResult(format!("the figure {} failed: {reason}", args.kind.name()))
            })?;
            let bytes = bytes.ok_or(Failure::Interrupted)?;
            let mut batch = files;
            batch.file(&path, |w| w.write_all(&bytes))?;
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

/// What a figure is about, and all that it depends on.
fn about(kind: Kind, options: &CaseOptions) -> Result<[String; 2], Failure> {
    if kind == Kind::Overview {
        let key = format!("{:?} {:?} {:?}", options.set, options.bodies, options.formulation);
        return Ok(["sixteen teeth".to_owned(), key]);
    }
    let case = load_case(options)?;
    Ok([summary::title(&case), key(&case)])
}

/// A drawing, and what the checks of its results say.
type Judged = (Drawing, Result<(), Failure>);

/// The figure of one case.
fn one(args: &FigureArgs, style: Style, progress: &Progress<'_>) -> Result<Judged, Failure> {
    let kind = args.kind;
    let case = load_case(&args.case)?;
    pushed(kind, &case)?;
    let done = compute(&case, false, progress)?;
    let mut subject = subject(&case, &done, style);
    if let Some(mm) = args.for_mm {
        let complain = |sentence: String| cases::wrong_option(&format!("--for-mm {mm}"), &sentence);
        subject.shown = kind.shown_for(&subject, mm, args.at).map_err(complain)?;
    }
    let drawing = progress.stage(Stage::Figures, || kind.draw(&subject))?;
    Ok((drawing, judge(&done.result)))
}

/// The overview of the sixteen teeth, all with the same options.
fn sixteen(options: &CaseOptions, style: Style, progress: &Progress<'_>) -> Result<Judged, Failure> {
    let given =
        options.case.as_ref().map(|path| path.to_string_lossy().into_owned()).or(options.tooth.clone());
    if let Some(given) = given {
        let sentence =
            "the overview shows all sixteen teeth and takes none by name; --set changes a key of every one";
        return Err(cases::wrong_option(&given, sentence).into());
    }
    let (mut entries, mut model, mut failed) = (Vec::new(), String::new(), Ok(()));
    for (k, kind) in ToothKind::ALL.into_iter().enumerate() {
        let case = load_case(&CaseOptions { tooth: Some(kind.name()), ..options.clone() })?;
        let count = [k + 1, ToothKind::ALL.len()];
        let done = progress.one_of(&kind.name(), count, |own| compute(&case, false, own))?;
        let subject = subject(&case, &done, style);
        model = subject.model_line();
        entries.push(Entry::new(kind, &subject));
        failed = failed.and(judge(&done.result));
    }
    Ok((figure::overview(style, &entries, &model), failed))
}

/// The file and its format: the one that its name ends in, or the one that is asked for, or SVG.
fn destination(args: &FigureArgs) -> Result<(PathBuf, Format), Failure> {
    let Some(path) = &args.out else {
        let format = args.format.unwrap_or(Format::Svg);
        return Ok((PathBuf::from(format!("{}.{}", args.kind.name(), format.ending())), format));
    };
    let wrong =
        |sentence: &str| Err(cases::wrong_option(&format!("--out {}", path.display()), sentence).into());
    // A device or a pipe has no format in its name.
    let ending = path.extension().filter(|_| !is_no_file(path));
    let named = ending.and_then(OsStr::to_str).and_then(|text| Format::from_str(text, true).ok());
    match (ending, named, args.format) {
        (_, Some(named), Some(asked)) if asked != named => {
            wrong(&format!("the file's name says {}, --format says {}", named.ending(), asked.ending()))
        }
        (Some(_), None, _) => wrong(&format!("the file's name ends in none of {}", endings())),
        (None, _, None) if !is_no_file(path) => wrong(&format!(
            "the file's name ends in none of {}; end it so, or say --format as well",
            endings()
        )),
        _ => Ok((path.clone(), named.or(args.format).unwrap_or(Format::Svg))),
    }
}

/// Refuses a GIF of a figure that does not move.
fn moves(args: &FigureArgs, format: Format) -> Result<(), Failure> {
    if format == Format::Gif && args.kind != Kind::Movement {
        let option = match &args.out {
            Some(path) if args.format.is_none() => format!("--out {}", path.display()),
            _ => "--format gif".to_owned(),
        };
        let sentence = format!(
            "a GIF holds what moves, the figure movement; the figure {} is written as svg, png or pdf",
            args.kind.name()
        );
        return Err(cases::wrong_option(&option, &sentence).into());
    }
    Ok(())
}

/// The endings of files that hold figures: ".svg, .png, .pdf and .gif".
fn endings() -> String {
    let all: Vec<String> = Format::value_variants().iter().map(|f| format!(".{}", f.ending())).collect();
    match all.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => all.join(""),
    }
}

/// Figures over ratios of torque to force need a push.
fn pushed(kind: Kind, case: &Case) -> Result<(), Failure> {
    if case.load.force_n == 0.0 && !matches!(kind, Kind::Section | Kind::Pressure) {
        let sentence =
            format!("load.force_n is 0; the figure {} needs a push, any force but zero", kind.name());
        return Err(case.complain("load.force_n", sentence).into());
    }
    Ok(())
}

/// What the figures of a computed case are about.
pub(crate) fn subject<'a>(case: &'a Case, done: &'a Computed, style: Style) -> Subject<'a> {
    Subject {
        style,
        case,
        resistance: PlanarResistance::new(&done.solutions.compliance, Plane::BuccoLingual),
        apex_depth_mm: done.tooth.landmarks.bony_root_mm,
        cusp_height_mm: done.tooth.landmarks.cusp_tip.z,
        mesh: &done.tooth.mesh,
        landmarks: done.tooth.landmarks,
        motion: done.solutions.compliance.motion(&done.wrench),
        shown: Shown::default(),
        root_nodes: &done.stress.root_nodes,
        ligament: done.field.clone(),
        strain_beyond: done.result.strain_beyond(),
    }
}
