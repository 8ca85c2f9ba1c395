//! Validation: the model beside published positions, movements and sizes, rebuilt with each source's own parameters where
//! they are known. Bands, not targets: every source has its own teeth and constants, and a value outside a band is a
//! finding with its likely reason, not a failure.

pub mod report;
mod specimen;
pub mod studies;

use std::time::{Duration, Instant};

use gomphosis_mesh_gen::Observer;

use crate::verify::{Row, VerifyError};

/// One source, or several about the same teeth, and the model rebuilt for it.
#[derive(Debug, Clone, Copy)]
pub struct Study {
    /// Short name for the command line.
    pub name: &'static str,
    /// Name in words.
    pub title: &'static str,
    /// What is published, by whom.
    pub source: &'static str,
    /// What of the source's parameters is known and was set; what is not known.
    pub rebuilt: &'static str,
    /// Does the work.
    pub run: fn(&dyn Observer) -> Result<Results, VerifyError>,
}

/// What a study gives.
#[derive(Debug, Clone, Default)]
pub struct Results {
    /// Commands that make the teeth of the study again.
    pub commands: Vec<String>,
    /// Published beside computed.
    pub findings: Vec<Finding>,
}

/// How well a published value is known here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Read in the source or its abstract.
    Read,
    /// Recalled, not read.
    FromMemory,
    /// Nobody's in particular.
    CommonPractice,
}

impl Known {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::FromMemory => "from memory",
            Self::CommonPractice => "common practice, no source",
        }
    }
}

/// A published value beside the computed one.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The tooth.
    pub tooth: String,
    /// Who published it.
    pub by: &'static str,
    /// What was published, as stated.
    pub stated: &'static str,
    /// How well that is known here.
    pub known: Known,
    /// The quantity, the band, and what came out.
    pub row: Row,
    /// Why they disagree, where they do, as far as can be told.
    pub reason: &'static str,
}

/// A study that was run.
#[derive(Debug)]
pub struct Outcome {
    /// The study.
    pub study: Study,
    /// What it gave, or why nothing.
    pub results: Result<Results, VerifyError>,
    /// How long it took.
    pub elapsed: Duration,
}

impl Study {
    /// Runs the study.
    #[must_use]
    pub fn outcome(&self, observer: &dyn Observer) -> Outcome {
        let started = Instant::now();
        let results = (self.run)(observer);
        Outcome { study: *self, results, elapsed: started.elapsed() }
    }
}

impl Outcome {
    /// Findings, none if there was no result.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        self.results.as_ref().map_or(&[], |results| &results.findings)
    }
}

impl Finding {
    /// Does the computed value lie in the band?
    #[must_use]
    pub fn inside(&self) -> bool {
        self.row.passed()
    }
}

/// The study of a name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Study> {
    studies::ALL.iter().find(|study| study.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_told_apart_and_statements_are_complete() {
        for (k, study) in studies::ALL.iter().enumerate() {
            let others = &studies::ALL[..k];
            assert!(others.iter().all(|other| other.name != study.name && other.title != study.title));
            for text in [study.title, study.source, study.rebuilt] {
                assert!(!text.is_empty() && !text.contains('|'), "{}: {text:?}", study.name);
            }
            assert!(find(study.name).is_some());
        }
    }
}
