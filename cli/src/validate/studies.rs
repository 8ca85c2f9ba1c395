//! The studies, in the order of the page.

use gomphosis_mesh_gen::Observer;
use gomphosis_solver::Plane;

use super::specimen::{Solved, Specimen};
use super::{Finding, Known, Results, Study};
use crate::verify::{Row, VerifyError};

mod incisors;
mod molars;
mod movement;

/// Every study.
pub const ALL: [Study; 8] = [
    incisors::TANNE,
    incisors::SINGLE_ROOTS,
    incisors::VOLLMER,
    molars::UPPER,
    molars::LOWER,
    movement::TAUGHT,
    movement::MOBILITY,
    movement::DIRECTIONS,
];

/// Published as a single value without a scatter: a band of a tenth to both sides.
fn around(value: f64) -> (f64, f64) {
    (0.9 * value, 1.1 * value)
}

/// Mean and two standard deviations to both sides.
fn two_sigma(mean: f64, deviation: f64) -> (f64, f64) {
    (mean - 2.0 * deviation, mean + 2.0 * deviation)
}

/// A source and how well it is known.
#[derive(Debug, Clone, Copy)]
struct Source {
    by: &'static str,
    stated: &'static str,
    known: Known,
}

impl Source {
    const fn read(by: &'static str, stated: &'static str) -> Self {
        Self { by, stated, known: Known::Read }
    }

    const fn recalled(by: &'static str, stated: &'static str) -> Self {
        Self { by, stated, known: Known::FromMemory }
    }

    /// The value of a tooth beside the band of the source.
    fn finds(self, tooth: &str, quantity: &str, band: (f64, f64), got: f64, reason: &'static str) -> Finding {
        let Self { by, stated, known } = self;
        Finding { tooth: tooth.to_owned(), by, stated, known, row: Row::band(quantity, band, got), reason }
    }
}

/// A rigid-body tooth, its command noted.
fn rigid(
    tooth: &str,
    set: &[&str],
    results: &mut Results,
    observer: &dyn Observer,
) -> Result<Solved, VerifyError> {
    noted(Specimen::rigid(tooth, set, observer)?, results, observer)
}

/// A tooth with elastic bodies, its command noted.
fn elastic(
    tooth: &str,
    set: &[&str],
    results: &mut Results,
    observer: &dyn Observer,
) -> Result<Solved, VerifyError> {
    noted(Specimen::new(tooth, set, observer)?, results, observer)
}

fn noted(specimen: Specimen, results: &mut Results, observer: &dyn Observer) -> Result<Solved, VerifyError> {
    results.commands.push(specimen.command.clone());
    specimen.solve(observer)
}

/// In words.
fn plane_name(plane: Plane) -> &'static str {
    match plane {
        Plane::BuccoLingual => "bucco-lingual",
        Plane::MesioDistal => "mesio-distal",
    }
}
