//! `gomphosis map`: one computation, then every height and torque by superposition, with the figures.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

use gomphosis_mesh_gen::Stage;
use gomphosis_solver::{Movement, PlanarLoad, PlanarResistance, Plane};
use serde::Serialize;

use super::figure::subject;
use super::{Computed, announce, batch, compute, judge, key, load_case, on_threads, show, timing};
use crate::args::MapArgs;
use crate::case::{self as cases, Case};
use crate::exit::Failure;
use crate::figure::{self, Style};
use crate::output::{Batch, Form, Purpose, What, sealed};
use crate::progress::Progress;
use crate::summary;
use crate::{Console, write_out};

/// Directory that is used when none is named.
const DEFAULT_DIRECTORY: &str = "gomphosis-out";

/// One row of `map.csv`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(crate) struct MapRow {
    attachment_height_mm: f64,
    force_n: f64,
    torque_nmm: f64,
    moment_to_force_mm: f64,
    centre_of_rotation_depth_mm: Option<f64>,
    centre_of_rotation_fraction: Option<f64>,
    tip_deg: f64,
    crown_travel_mm: f64,
    tip_deg_per_mm: f64,
    movement: Movement,
    /// Travel with this torque, of that under the same push at this height without torque.
    travel_percent_of_plain_push: f64,
}

/// Runs the command.
pub(crate) fn run(args: &MapArgs, console: &mut Console<'_>) -> Result<(), Failure> {
    let started = Instant::now();
    let case = load_case(&args.case)?;
    if case.load.force_n == 0.0 {
        let sentence = "load.force_n is 0; a map needs a push, any force but zero".to_owned();
        return Err(case.complain("load.force_n", sentence).into());
    }
    let directory =
        args.out.clone().or_else(|| (!args.report.json).then(|| PathBuf::from(DEFAULT_DIRECTORY)));
    let mut files = batch(args.write, &args.case);
    if let Some(directory) = &directory {
        plan(&mut files, &case, directory)?;
        announce(&files, args.report.quiet, console);
    }
    let stop = console.stop;
    let done = {
        let progress = Progress::new(show(console, &args.report), stop);
        on_threads(args.case.threads, || {
            produce(&case, directory.as_deref(), files, args.verify, &progress, started)
        })?
    };
    if args.report.json {
        write_out(console, &done.result.to_json())?;
    } else {
        let mut text = summary::headline(&case, &done.result);
        if let Some(directory) = &directory {
            text.push_str(&summary::written(directory, MAP_FILES));
        }
        write_out(console, &text)?;
    }
    judge(&done.result)
}

/// The files of a map.
const MAP_FILES: &str = "map.csv, result.json, case.toml, and map, curve, section and tip as SVG and PNG";

/// Looks at the places of these files before the work.
fn plan(files: &mut Batch, case: &Case, directory: &Path) -> Result<(), Failure> {
    Batch::plan_directory("--out", "map", directory)?;
    let (subject, key) = (summary::title(case), key(case));
    for (name, what) in figure::files_of_a_map(&subject, &key) {
        files.plan_in(directory, &name, what)?;
    }
    files.plan_in(directory, "map.csv", What::plain(Form::Csv, Purpose::Map))?;
    files.plan_in(directory, "case.toml", sealed(Purpose::Case, &subject, &cases::toml(case)))?;
    files.plan_in(directory, "result.json", What::new(Form::Json, Purpose::Result, &subject, &key))
}

fn produce(
    case: &Case,
    directory: Option<&Path>,
    mut batch: Batch,
    verify: bool,
    progress: &Progress<'_>,
    started: Instant,
) -> Result<Computed, Failure> {
    let mut done = compute(case, verify, progress)?;
    let resistance = PlanarResistance::new(&done.solutions.compliance, Plane::BuccoLingual);
    let apex = done.tooth.landmarks.bony_root_mm;
    let clock = Instant::now();
    let rows = rows(case, &resistance, apex);
    let map_s = clock.elapsed().as_secs_f64();
    if let Some(directory) = directory {
        batch.directory(directory)?;
        let subject = subject(case, &done, Style::default());
        progress.stage(Stage::Figures, || figure::write_all(&subject, directory, &mut batch))?;
        batch.file(&directory.join("map.csv"), |w| write_csv(w, &rows))?;
        batch.file(&directory.join("case.toml"), |w| w.write_all(cases::toml(case).as_bytes()))?;
    }
    done.result.finish(timing(progress, map_s, started));
    if let Some(directory) = directory {
        let json = done.result.to_json();
        batch.file(&directory.join("result.json"), |w| w.write_all(json.as_bytes()))?;
    }
    if progress.is_stopped() {
        return Err(Failure::Interrupted);
    }
    batch.commit()?;
    Ok(done)
}

/// Every height with every torque, heights outermost.
pub(crate) fn rows(case: &Case, resistance: &PlanarResistance, apex_depth_mm: f64) -> Vec<MapRow> {
    let (map, force_n) = (case.map, case.load.force_n);
    let step = |from: f64, to: f64, k: u32, of: u32| from + (to - from) * f64::from(k) / f64::from(of - 1);
    let mut rows = Vec::with_capacity((map.heights * map.torques) as usize);
    for j in 0..map.heights {
        let height_mm = step(map.height_from_mm, map.height_to_mm, j, map.heights);
        for i in 0..map.torques {
            let ratio = step(map.moment_to_force_from_mm, map.moment_to_force_to_mm, i, map.torques);
            let load = PlanarLoad { height_mm, force_n, torque_nmm: ratio * force_n };
            let motion = resistance.motion(&load);
            let depth = motion.centre_of_rotation_depth_mm();
            rows.push(MapRow {
                attachment_height_mm: height_mm,
                force_n,
                torque_nmm: load.torque_nmm,
                moment_to_force_mm: ratio,
                centre_of_rotation_depth_mm: depth,
                centre_of_rotation_fraction: depth.map(|d| d / apex_depth_mm),
                tip_deg: motion.tip_deg(),
                crown_travel_mm: motion.travel_mm(height_mm),
                tip_deg_per_mm: motion.tip_deg_per_mm(height_mm),
                movement: resistance.movement(&load, apex_depth_mm),
                travel_percent_of_plain_push: 100.0 * resistance.share_of_plain_push(height_mm, ratio),
            });
        }
    }
    rows
}

fn write_csv(out: &mut dyn Write, rows: &[MapRow]) -> std::io::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    for row in rows {
        writer.serialize(row).map_err(std::io::Error::other)?;
    }
    writer.flush()
}
