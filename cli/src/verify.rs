//! Verification: the program against answers that are known without it. A catalogue of cases, each with its source,
//! goal, mesh, and rows of expected and computed values with their tolerance and its reason.
//!
//! The catalogue lives beside the command that runs it on the user's machine; the project's own tests run the same one.

pub mod cases;
pub mod closed_form;
pub mod model;
pub mod report;
pub mod row;
pub mod statics;

use std::time::{Duration, Instant};

use gomphosis_mesh_gen::{MeshError, Observer};
use gomphosis_solver::SolverError;
use thiserror::Error;

pub use row::{Row, Target};

/// A case of the catalogue.
#[derive(Debug, Clone, Copy)]
pub struct Case {
    /// Short name for the command line.
    pub name: &'static str,
    /// Name in words.
    pub title: &'static str,
    /// Short source, for a table.
    pub source: &'static str,
    /// The source in full.
    pub reference: &'static str,
    /// What the case can show to be wrong.
    pub goal: &'static str,
    /// Mesh, supports and loads.
    pub mesh: &'static str,
    /// Tolerances and the reason for them.
    pub tolerance: &'static str,
    /// Does the work.
    pub run: Run,
}

/// The work of a case.
pub type Run = fn(&dyn Observer) -> Result<Vec<Row>, VerifyError>;

/// Why a case has no rows.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum VerifyError {
    /// The mesh could not be made.
    #[error("the mesh could not be made: {0}")]
    Mesh(#[from] MeshError),
    /// The solver found no result.
    #[error("the solver found no result: {0}")]
    Solver(#[from] SolverError),
    /// The case file's keys make no tooth.
    #[error("{0}")]
    Case(String),
    /// Something that the case reads off its result is not there.
    #[error("{0}")]
    Missing(&'static str),
}

impl VerifyError {
    /// Did the observer ask to stop?
    #[must_use]
    pub fn is_interrupt(&self) -> bool {
        matches!(self, Self::Mesh(MeshError::Interrupted) | Self::Solver(SolverError::Interrupted))
    }
}

/// A case that was run.
#[derive(Debug)]
pub struct Outcome {
    /// The case.
    pub case: Case,
    /// Its rows, or why there are none.
    pub rows: Result<Vec<Row>, VerifyError>,
    /// How long it took.
    pub elapsed: Duration,
}

impl Case {
    /// Runs the case.
    #[must_use]
    pub fn outcome(&self, observer: &dyn Observer) -> Outcome {
        let started = Instant::now();
        let rows = (self.run)(observer);
        Outcome { case: *self, rows, elapsed: started.elapsed() }
    }
}

impl Outcome {
    /// Rows, none if there was no result.
    #[must_use]
    pub fn rows(&self) -> &[Row] {
        self.rows.as_deref().unwrap_or_default()
    }

    /// Has the case rows, and did all of them pass?
    #[must_use]
    pub fn passed(&self) -> bool {
        !self.rows().is_empty() && self.rows().iter().all(Row::passed)
    }

    /// One sentence for each thing that failed.
    #[must_use]
    pub fn complaints(&self) -> Vec<String> {
        let name = self.case.name;
        match &self.rows {
            Err(error) => vec![format!("{name}: {error}")],
            Ok(rows) if rows.is_empty() => vec![format!("{name}: nothing was compared")],
            Ok(rows) => rows.iter().filter_map(Row::complaint).map(|c| format!("{name}: {c}")).collect(),
        }
    }
}

/// The case of a name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Case> {
    cases::ALL.iter().find(|case| case.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_case_without_rows_does_not_pass() {
        let empty = Case { run: |_| Ok(Vec::new()), ..cases::ALL[0] }.outcome(&gomphosis_mesh_gen::Silent);
        assert!(!empty.passed());
        assert_eq!(empty.complaints().len(), 1);
        let broken = Case { run: |_| Err(VerifyError::Missing("no centre")), ..cases::ALL[0] };
        let broken = broken.outcome(&gomphosis_mesh_gen::Silent);
        assert!(!broken.passed());
        assert!(broken.complaints()[0].ends_with("no centre"));
    }

    #[test]
    fn names_are_told_apart_and_statements_are_complete() {
        for (k, case) in cases::ALL.iter().enumerate() {
            assert!(cases::ALL[..k].iter().all(|other| other.name != case.name && other.title != case.title));
            assert!(case.name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'));
            for text in [case.title, case.source, case.reference, case.goal, case.mesh, case.tolerance] {
                assert!(!text.is_empty() && !text.contains('|'), "{}: {text:?}", case.name);
            }
            assert!(find(case.name).is_some());
        }
    }
}
