//! `gomphosis mesh`: the mesh and its quality.

use std::time::Instant;

use serde::Serialize;
use serde_json::Value;

use super::{
    announce, batch, greeting, key, load_case, mesh, on_threads, one_on_standard_output, print, show,
};
use crate::args::MeshArgs;
use crate::case::{self as cases};
use crate::exit::Failure;
use crate::output::{Form, Purpose, What, ends_in};
use crate::progress::Progress;
use crate::summary;
use crate::{Console, write_out};

/// What the exported file is.
pub(super) const GRID: &str =
    "a mesh is written as a VTK XML unstructured grid, in a file whose name ends in .vtu";

/// The document of `mesh --json`.
#[derive(Debug, Serialize)]
struct MeshDocument<'a> {
    schema: &'static str,
    version: &'static str,
    case: Value,
    landmarks: &'a gomphosis_mesh_gen::Landmarks,
    quality: &'a gomphosis_mesh_gen::QualityReport,
    timing_s: f64,
}

/// Runs the command.
pub(crate) fn run(args: &MeshArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let started = Instant::now();
    let case = load_case(&args.case)?;
    let mut files = batch(args.write, &args.case);
    if let Some(path) = &args.out {
        ends_in("--out", path, Form::Vtu, GRID)?;
        files.plan(path, What::new(Form::Vtu, Purpose::Mesh, &summary::title(&case), &key(&case)))?;
    }
    one_on_standard_output(&files, args.report.json)?;
    announce(&files, args.report.quiet, console);
    let beside = files.takes_standard_output();
    let stop = console.stop;
    let tooth = {
        let progress = Progress::new(show(console, &args.report), stop);
        on_threads(args.case.threads, || {
            progress.say(&greeting(&case));
            let tooth = mesh(&case, &progress)?;
            let mut batch = files;
            if let Some(path) = &args.out {
                batch.file(path, |w| crate::output::write_mesh(w, &tooth, &case.materials))?;
            }
            if progress.is_stopped() {
                return Err(Failure::Interrupted);
            }
            batch.commit()?;
            Ok(tooth)
        })?
    };
    if args.report.json {
        let document = MeshDocument {
            schema: "gomphosis.mesh/1",
            version: env!("CARGO_PKG_VERSION"),
            case: cases::json(&case),
            landmarks: &tooth.landmarks,
            quality: &tooth.quality,
            timing_s: started.elapsed().as_secs_f64(),
        };
        let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
        text.push('\n');
        return write_out(console, &text);
    }
    let mut text = summary::quality(&case, &tooth.quality);
    if let Some(path) = &args.out {
        text.push_str(&summary::written_file(path));
    }
    print(console, beside, &text)
}
