//! A study: one case of which some keys vary. Reads STUDY.toml and says which cases it holds; how they are run, kept,
//! split and joined is in the modules beside it.

pub(crate) mod charts;
pub(crate) mod drivers;
pub(crate) mod finish;
pub(crate) mod journal;
pub(crate) mod missing;
pub(crate) mod plan;
pub(crate) mod quantity;
mod read;
pub(crate) mod row;
pub(crate) mod run;
pub(crate) mod sample;
pub(crate) mod sensitivity;
pub(crate) mod space;
pub(crate) mod table;
pub(crate) mod watch;
pub(crate) mod workers;

use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

use crate::case::{self as cases, Assignment, Case, Complaint, Given, Key, Origin, SourceFile, place};
use crate::exit::Failure;
use sample::{Design, Sample};
use space::{Cell, Values};

/// Most cases of a study.
pub(crate) const MOST_CASES: usize = 10_000_000;

/// A key that varies, and over what.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    pub(crate) key: &'static Key,
    pub(crate) values: Values,
    /// What of a computation a change of this key leaves as it is.
    pub(crate) reach: Reach,
    key_origin: Origin,
    origin: Origin,
}

/// How far a change of a key reaches: each kind includes those before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Reach {
    /// The load: superposition of what is solved.
    Load,
    /// The place of the load on the crown: the system stays.
    Attachment,
    /// Materials and tiers: the mesh stays.
    System,
    /// The shape: nothing stays.
    Mesh,
}

impl Reach {
    fn of(path: &str) -> Self {
        match path.split('.').next().unwrap_or_default() {
            "load" => Self::Load,
            // Bodies are turned, so that the load's face decides in which plane a footprint bends the crown.
            "attachment" if path != "attachment.face" => Self::Attachment,
            "attachment" | "materials" | "bodies" | "formulation" => Self::System,
            _ => Self::Mesh,
        }
    }
}

/// A study that was read and checked.
#[derive(Debug, Clone)]
pub(crate) struct Study {
    /// What it is about; the names of its keys if it does not say.
    pub(crate) title: String,
    /// How combinations are chosen.
    pub(crate) design: Design,
    /// The keys that vary, in the order of the file.
    pub(crate) axes: Vec<Axis>,
    /// The text of the file.
    pub(crate) source: Arc<SourceFile>,
    sample: Sample,
    base: Vec<Assignment>,
    cases: usize,
}

impl Study {
    /// Reads a study file.
    pub(crate) fn load(path: &Path) -> Result<Self, Failure> {
        let source = cases::read::source(path, "study")?;
        Ok(read::study(&source)?)
    }

    /// Number of cases.
    pub(crate) fn len(&self) -> usize {
        self.cases
    }

    /// The values of the varied keys in a case (from 0).
    pub(crate) fn values(&self, case: usize) -> Vec<Cell> {
        if self.design != Design::Grid {
            return self
                .axes
                .iter()
                .enumerate()
                .map(|(key, axis)| axis.values.at(self.sample.share(case, key)))
                .collect();
        }
        let mut rest = case;
        let mut values = Vec::with_capacity(self.axes.len());
        // The last key runs fastest.
        for axis in self.axes.iter().rev() {
            let count = axis.values.count().unwrap_or(1);
            // A grid holds lists only.
            values.extend(axis.values.step(rest % count).cloned());
            rest /= count;
        }
        values.reverse();
        values
    }

    /// The assignments that make a case.
    fn assignments(&self, values: &[Cell]) -> Vec<Assignment> {
        let mut all = self.base.clone();
        for (axis, value) in self.axes.iter().zip(values) {
            let given = match value {
                Cell::Number(number) => Given::Number(*number, space::number_text(*number)),
                Cell::Word(word) => Given::Text(word.clone()),
            };
            all.push(Assignment {
                key: axis.key.path.to_owned(),
                value: given,
                key_origin: axis.key_origin.clone(),
                tables: Vec::new(),
                origin: axis.origin.clone(),
            });
        }
        all
    }

    /// A case, complete and checked.
    pub(crate) fn case(&self, values: &[Cell]) -> Result<Case, Complaint> {
        cases::build(&self.assignments(values))
    }

    /// Which teeth are meant, where the study names them by numbers.
    pub(crate) fn teeth_meant(&self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for axis in self.axes.iter().filter(|axis| axis.key.path == "tooth") {
            names.extend((0..).map_while(|k| axis.values.step(k)).map(Cell::text));
        }
        let fixed = self.base.iter().rev().find(|given| given.key == "tooth");
        names.extend(fixed.and_then(|given| match &given.value {
            Given::Number(_, text) | Given::Text(text) => Some(text.clone()),
            Given::Other(_) => None,
        }));
        let meant = |name: &String| cases::form_of(name).map(|form| cases::meant(name, form));
        let by_number = |name: &&String| name.chars().any(|c| c.is_ascii_digit());
        names.iter().filter(by_number).filter_map(meant).collect()
    }

    /// What the reader of the results must know, one sentence each.
    pub(crate) fn warnings(&self) -> Vec<String> {
        const CREST: [&str; 2] = ["bone.loss_mm", "bone.crest_below_cej_mm"];
        let [above_crest, junction, share] = place::KEYS;
        let varies =
            |path: &str| self.axes.iter().any(|axis| axis.key.path == path && axis.values.count() != Some(1));
        let moving: Vec<&str> = CREST.into_iter().filter(|path| varies(path)).collect();
        let pinned = self.base.iter().any(|given| given.key == above_crest)
            || self.axes.iter().any(|axis| axis.key.path == above_crest);
        if moving.is_empty() || !pinned {
            return Vec::new();
        }
        let verb = if moving.len() == 1 { "moves" } else { "move" };
        vec![format!(
            "{} {verb} the crest while {above_crest} counts from it, so that cases with different crests are pushed at different \
             places of the crown, which can turn the sign of a trend; {share} or {junction} stays at one place",
            moving.join(" and ")
        )]
    }

    /// A number that tells studies apart: two studies with the same one hold the same cases in the same order.
    pub(crate) fn fingerprint(&self) -> u64 {
        let mut text = format!("{} {} {:?}\n", self.design.name(), self.cases, self.sample_key());
        for given in &self.base {
            let _ = writeln!(text, "{} = {:?}", given.key, given.value);
        }
        for axis in &self.axes {
            let _ = writeln!(text, "{} over {:?}", axis.key.path, axis.values);
        }
        // FNV-1a (Fowler, Noll and Vo).
        text.bytes()
            .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
    }

    /// Number of samples and seed.
    pub(crate) fn sample_key(&self) -> (usize, u64) {
        self.sample.key()
    }

    /// Names of the keys, with how many values each takes in the cases; for messages.
    pub(crate) fn summary(&self) -> String {
        let parts: Vec<String> = self
            .axes
            .iter()
            .map(|axis| match axis.values.count() {
                Some(count) if self.design == Design::Grid => format!("{} ({count} values)", axis.key.path),
                _ => axis.key.path.to_owned(),
            })
            .collect();
        parts.join(", ")
    }
}

/// The name of a column for a key: `bone.loss_mm` becomes `bone_loss_mm`.
pub(crate) fn column_name(path: &str) -> String {
    path.replace('.', "_")
}

#[cfg(test)]
#[path = "study/tests.rs"]
mod tests;
