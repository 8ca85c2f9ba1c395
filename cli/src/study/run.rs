//! Runs the cases of a study: meshes, systems and solutions are shared by the cases that can share them, workers take
//! groups of such cases one after the other, and every row goes to the journal as soon as it is there.
//!
//! A case's numbers do not depend on what else is run: a group's mesh is that of its first case that can be built, and so
//! is a rigid system, whether or not those cases are still to be done.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use gomphosis_mesh_gen::{MeshError, ToothMesh, attachment_place, mesh_tooth_within};
use gomphosis_solver::{
    Bodies, ElasticTooth, Footprint, SolverError, ToothProblem, UnitSolutions, solve_unit_loads,
};
use nalgebra::Point3;
use rayon::prelude::*;

use super::journal::{Journal, row_line};
use super::plan::{Part, Plan};
use super::row::{self, Derived, Station};
use super::space::Cell;
use super::watch::Watch;
use super::{Reach, Study};
use crate::case::{Case, Heights, Kind};
use crate::commands;
use crate::exit::Failure;

/// Rows that are computed before they are written.
const CHUNK: usize = 4096;
/// Longest time that a finished row waits for others before it is written.
const PATIENCE: Duration = Duration::from_millis(200);
/// Memory that one worker needs, bytes: an elastic tooth of default size takes a quarter of it.
const WORKER_BYTES: u64 = 900 << 20;

/// Why something has no result.
enum Trouble {
    /// A reason that belongs into the rows.
    Reason(String),
    /// The study ends.
    Stopped,
}

type Attempt<T> = Result<T, Trouble>;

impl From<MeshError> for Trouble {
    fn from(error: MeshError) -> Self {
        match error {
            MeshError::Interrupted => Self::Stopped,
            other => Self::Reason(other.to_string()),
        }
    }
}

impl From<SolverError> for Trouble {
    fn from(error: SolverError) -> Self {
        match error {
            SolverError::Interrupted => Self::Stopped,
            other => Self::Reason(other.to_string()),
        }
    }
}

/// Runs work whose panic, a defect of the program, must not end the study.
fn guarded<T>(work: impl FnOnce() -> Attempt<T>) -> Attempt<T> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(|panic| {
        let text = panic.downcast_ref::<String>().map(String::as_str);
        let text = text.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("no reason given");
        Err(Trouble::Reason(format!("a defect of the program: {text}")))
    })
}

/// What the workers share.
struct Shop<'a, 'w> {
    study: &'a Study,
    plan: &'a Plan,
    /// Cases that need no more work.
    done: &'a [bool],
    journal: Mutex<&'a mut Journal>,
    watch: &'a Watch<'w>,
    failure: Mutex<Option<Failure>>,
    memory: Option<u64>,
}

/// Runs the cases of some parts that are not done, and keeps their rows.
pub(crate) fn run(
    study: &Study,
    plan: &Plan,
    parts: &[Part],
    done: &[bool],
    journal: &mut Journal,
    threads: usize,
    watch: &Watch<'_>,
) -> Result<(), Failure> {
    let work: Vec<&Part> =
        parts.iter().filter(|part| part.cases.iter().any(|&case| !done[case as usize])).collect();
    crate::memory::enough(threads)?;
    let available = crate::memory::available(threads);
    let fits = available.map_or(usize::MAX, |left| (left.bytes / WORKER_BYTES).max(1) as usize);
    let workers = threads.min(work.len()).min(fits).max(1);
    let shop = Shop {
        study,
        plan,
        done,
        journal: Mutex::new(journal),
        watch,
        failure: Mutex::new(None),
        memory: available.map(|left| left.for_solver() / workers as u64),
    };
    let next = AtomicUsize::new(0);
    let start = |k: usize| {
        // Threads that are left over go to the first workers.
        let inside = threads / workers + usize::from(k < threads % workers);
        rayon::ThreadPoolBuilder::new()
            .num_threads(inside.max(1))
            .build()
            .map_err(|e| Failure::NoResult(format!("cannot start {inside} threads: {e}")))
    };
    let pools = (0..workers).map(start).collect::<Result<Vec<_>, _>>()?;
    std::thread::scope(|scope| {
        for pool in &pools {
            let (shop, work, next) = (&shop, &work, &next);
            scope.spawn(move || {
                pool.install(|| {
                    while let Some(part) = work.get(next.fetch_add(1, Ordering::Relaxed)) {
                        if shop.watch.is_over() {
                            break;
                        }
                        Bench::new(shop).part(part);
                    }
                });
            });
        }
    });
    let failure = shop.failure.lock().unwrap_or_else(PoisonError::into_inner).take();
    match failure {
        Some(failure) => Err(failure),
        None if watch.is_over() => Err(Failure::Interrupted),
        None => Ok(()),
    }
}

/// One worker's place: rows that wait to be written.
struct Bench<'a, 'w> {
    shop: &'a Shop<'a, 'w>,
    lines: String,
    rows: usize,
    failed: usize,
    since: Instant,
}

impl<'a, 'w> Bench<'a, 'w> {
    fn new(shop: &'a Shop<'a, 'w>) -> Self {
        Self { shop, lines: String::new(), rows: 0, failed: 0, since: Instant::now() }
    }

    /// Cases of a list that are still to be done.
    fn todo(&self, cases: &[u32]) -> Vec<u32> {
        cases.iter().copied().filter(|&case| !self.shop.done[case as usize]).collect()
    }

    fn part(&mut self, part: &Part) {
        let todo = self.todo(&part.cases);
        if self.group(part.group, &todo).is_err() {
            // Stopped: what is finished is kept.
            self.flush();
            return;
        }
        self.flush();
    }

    /// The cases of a group: one mesh.
    fn group(&mut self, group: usize, todo: &[u32]) -> Result<(), ()> {
        let (study, plan) = (self.shop.study, self.shop.plan);
        let all = &plan.groups[group].cases;
        let Some(lead) = first_built(study, all) else { return self.each_failed(todo, None) };
        let (watch, memory) = (self.shop.watch, self.shop.memory);
        let tooth = match guarded(|| Ok(mesh_tooth_within(&lead.specimen, memory, watch)?)) {
            Ok(tooth) => tooth,
            Err(Trouble::Reason(reason)) => return self.each_failed(todo, Some(&reason)),
            Err(Trouble::Stopped) => return Err(()),
        };
        for cases in todo.chunk_by(|a, b| plan.system(*a) == plan.system(*b)) {
            let system = plan.system(cases[0]);
            let of_system: Vec<u32> =
                all.iter().copied().filter(|&case| plan.system(case) == system).collect();
            self.system(&tooth, &of_system, cases)?;
        }
        Ok(())
    }

    /// The cases of a system: one factor.
    fn system(&mut self, tooth: &ToothMesh, all: &[u32], todo: &[u32]) -> Result<(), ()> {
        let study = self.shop.study;
        let Some(lead) = first_built(study, all) else { return self.each_failed(todo, None) };
        let memory = self.shop.memory;
        let watch = self.shop.watch;
        let place = match guarded(|| Ok(attachment_place(&lead.specimen)?)) {
            Ok(place) => place,
            Err(Trouble::Reason(reason)) => return self.each_failed(todo, Some(&reason)),
            Err(Trouble::Stopped) => return Err(()),
        };
        let problem = problem(&lead, tooth, place, memory);
        // Two ways to the solution at a place of the load: rigid bodies are solved once for all of them.
        let made = guarded(|| match lead.bodies {
            Bodies::Elastic => Ok(Ok(ElasticTooth::new(&problem, watch)?)),
            Bodies::Rigid => {
                let solutions = solve_unit_loads(&problem, watch)?;
                let derived = Derived::new(&problem, &solutions, tooth)?;
                Ok(Err((solutions, derived)))
            }
        });
        let made = match made {
            Ok(made) => made,
            Err(Trouble::Reason(reason)) => return self.each_failed(todo, Some(&reason)),
            Err(Trouble::Stopped) => return Err(()),
        };
        let plan = self.shop.plan;
        for cases in todo.chunk_by(|a, b| plan.station(*a) == plan.station(*b)) {
            self.station(tooth, &lead, &made, cases)?;
        }
        Ok(())
    }

    /// The cases with one place of the load.
    fn station(
        &mut self,
        tooth: &ToothMesh,
        lead: &Case,
        made: &Result<ElasticTooth<'_>, (UnitSolutions, Derived)>,
        todo: &[u32],
    ) -> Result<(), ()> {
        let study = self.shop.study;
        let Some(case) = first_built(study, todo) else { return self.each_failed(todo, None) };
        let (watch, memory) = (self.shop.watch, self.shop.memory);
        let own;
        let solved = guarded(|| {
            let place = attachment_place(&case.specimen)?;
            let ElasticReady { solutions, derived } = match made {
                Err(_) => return Ok((None, place)),
                Ok(elastic) => {
                    let problem = problem(&case, tooth, place, memory);
                    let solutions = elastic.solve(&problem.footprint, place, watch)?;
                    let derived = Derived::new(&problem, &solutions, tooth)?;
                    ElasticReady { solutions, derived }
                }
            };
            Ok((Some((solutions, derived)), place))
        });
        let (solutions, derived, place) = match solved {
            Ok((elastic, place)) => {
                own = elastic;
                match (&own, made) {
                    (Some((solutions, derived)), _) | (None, Err((solutions, derived))) => {
                        (solutions, derived, place)
                    }
                    (None, Ok(_)) => return Ok(()),
                }
            }
            Err(Trouble::Reason(reason)) => return self.each_failed(todo, Some(&reason)),
            Err(Trouble::Stopped) => return Err(()),
        };
        debug_assert_eq!(lead.bodies, case.bodies);
        let station = Station::new(tooth, solutions, derived, place, Heights::of(&case));
        for chunk in todo.chunks(CHUNK) {
            if self.shop.watch.is_over() {
                return Err(());
            }
            let rows: Vec<(u32, Option<String>)> =
                chunk.par_iter().map(|&number| (number, row(study, &case, &station, number))).collect();
            for (number, fields) in rows {
                match fields {
                    Some(fields) => self.keep(number, &fields, false),
                    None => self.failed(number, None),
                }
            }
            self.flush_when_due();
        }
        Ok(())
    }

    /// Rows without outputs: each case's own reason, or the one that they share.
    fn each_failed(&mut self, cases: &[u32], reason: Option<&str>) -> Result<(), ()> {
        for &case in cases {
            if self.shop.watch.is_over() {
                return Err(());
            }
            self.failed(case, reason);
        }
        Ok(())
    }

    fn failed(&mut self, number: u32, reason: Option<&str>) {
        let study = self.shop.study;
        let values = study.values(number as usize);
        // What is wrong with the case itself comes first.
        let own = study.case(&values).err().map(|complaint| complaint.sentence().to_owned());
        let reason = own.as_deref().or(reason).unwrap_or("no result");
        let inputs: Vec<String> = values.iter().map(Cell::text).collect();
        self.keep(number, &row::failed(&inputs, reason), true);
    }

    fn keep(&mut self, number: u32, fields: &str, failed: bool) {
        self.lines.push_str(&row_line(number, fields));
        self.rows += 1;
        self.failed += usize::from(failed);
    }

    fn flush_when_due(&mut self) {
        if self.rows >= CHUNK || self.since.elapsed() >= PATIENCE {
            self.flush();
        }
    }

    /// Writes what waits.
    fn flush(&mut self) {
        self.since = Instant::now();
        if self.rows == 0 {
            return;
        }
        let mut journal = self.shop.journal.lock().unwrap_or_else(PoisonError::into_inner);
        // After a failure no more is written: what stands in the file stays readable.
        let broken = self.shop.failure.lock().unwrap_or_else(PoisonError::into_inner).is_some();
        if !broken {
            match journal.append(&self.lines) {
                Ok(()) => self.shop.watch.kept(self.rows, self.failed),
                Err(failure) => {
                    *self.shop.failure.lock().unwrap_or_else(PoisonError::into_inner) = Some(failure);
                    self.shop.watch.halt();
                }
            }
        }
        drop(journal);
        self.lines.clear();
        self.rows = 0;
        self.failed = 0;
    }
}

/// Solution and what follows from it.
struct ElasticReady {
    solutions: UnitSolutions,
    derived: Derived,
}

/// The first case of a list that can be built.
fn first_built(study: &Study, cases: &[u32]) -> Option<Case> {
    cases.iter().find_map(|&case| study.case(&study.values(case as usize)).ok())
}

/// What the solver is asked, with the load at a place of the crown.
fn problem<'a>(
    case: &Case,
    tooth: &'a ToothMesh,
    place: Point3<f64>,
    memory: Option<u64>,
) -> ToothProblem<'a> {
    let mut landmarks = tooth.landmarks;
    landmarks.attachment = place;
    let mut problem = commands::problem(case, tooth);
    problem.reference_point = place;
    problem.footprint = Footprint::of(&case.specimen.attachment, &landmarks);
    problem.options.memory_limit_bytes = memory;
    problem
}

/// Fields of a case on a station; `None` if its load is wrong.
fn row(study: &Study, case: &Case, station: &Station<'_>, number: u32) -> Option<String> {
    let values = study.values(number as usize);
    let mut load = (case.load.force_n, case.load.torque_nmm);
    for (axis, cell) in study.axes.iter().zip(&values).filter(|(axis, _)| axis.reach == Reach::Load) {
        let (Kind::Number { low, high, .. }, Some(value)) = (&axis.key.kind, cell.number()) else {
            return None;
        };
        if !(*low..=*high).contains(&value) {
            return None;
        }
        match axis.key.path {
            "load.force_n" => load.0 = value,
            _ => load.1 = value,
        }
    }
    if load == (0.0, 0.0) {
        return None;
    }
    let inputs: Vec<String> = values.iter().map(Cell::text).collect();
    let checks = &station.failed_checks;
    let status = if checks.is_empty() { "ok" } else { "check failed" };
    Some(row::fields(&inputs, status, checks, &station.outputs(load.0, load.1)))
}
