//! Figures of results that are there already, for another sheet, ground or format: of a study, of a compensation.

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::gather;
use super::sweep::columns;
use crate::args::CaseOptions;
use crate::case::{self as cases, Complaint};
use crate::compensate;
use crate::exit::Failure;
use crate::figure::{self, Drawing, Kind, Style};
use crate::study::drivers::drivers;
use crate::study::{charts, finish};

/// A drawing with what it is about and all that it depends on.
type About = (Drawing, [String; 2]);

/// The figure of the results in a directory.
pub(super) fn draw(kind: Kind, options: &CaseOptions, style: Style, y: &[String]) -> Result<About, Failure> {
    let directory = directory(kind, options)?;
    match kind {
        Kind::Compensation => compensation(&directory, style),
        _ => study(kind, &directory, style, y),
    }
}

/// The directory that stands in the place of a case; nothing is computed, so nothing of a case can be changed.
fn directory(kind: Kind, options: &CaseOptions) -> Result<PathBuf, Failure> {
    let command = if kind == Kind::Compensation { "compensate" } else { "sweep" };
    let wanted = format!(
        "the figure {} is drawn from finished results; name the directory of `gomphosis {command} --out`",
        kind.name()
    );
    let changes = options.tooth.is_some()
        || !options.set.is_empty()
        || options.bodies.is_some()
        || options.formulation.is_some();
    match &options.case {
        Some(path) if path.is_dir() && !changes => Ok(path.clone()),
        Some(path) if !path.is_dir() => {
            Err(cases::wrong_option(&path.display().to_string(), &format!("is no directory; {wanted}"))
                .into())
        }
        _ => Err(Complaint::plain(format!("{wanted}, and nothing of a case")).into()),
    }
}

fn study(kind: Kind, directory: &Path, style: Style, y: &[String]) -> Result<About, Failure> {
    let (study, mut rows) = gather::whole(&[directory.to_owned()])?;
    let asked = columns(&study, y)?;
    let unread = |error| Failure::io("read the journal in", directory, error);
    let drawn = if kind == Kind::Lines {
        charts::lines(&study, &mut rows, &asked, style)
            .map_err(unread)?
            .map(|chart| figure::sweep::draw(&chart))
    } else {
        let drivers = drivers(&study, &mut rows).map_err(unread)?;
        charts::tornado(&study, &drivers, style).map(|chart| figure::tornado::draw(&chart))
    };
    let about = finish::about(&study);
    drawn.map(|svg| (svg.finish(), about)).ok_or_else(|| {
        let sentence = match kind {
            Kind::Lines => charts::WANTED,
            _ => "a tornado is drawn of a sample (latin_hypercube, sobol, saltelli) with numbers among its inputs",
        };
        Complaint::plain(format!("{}: {sentence}", directory.display())).into()
    })
}

fn compensation(directory: &Path, style: Style) -> Result<About, Failure> {
    let path = directory.join("compensation.json");
    let text = std::fs::read_to_string(&path).map_err(|e| Failure::io("read", &path, e))?;
    let broken = |sentence: &str| Failure::from(Complaint::plain(format!("{}: {sentence}", path.display())));
    let document: Value = serde_json::from_str(&text).map_err(|e| broken(&e.to_string()))?;
    let chart = compensate::chart(&document, style)
        .ok_or_else(|| broken("this is not what `gomphosis compensate --out` of this version writes"))?;
    Ok((figure::compensation::draw(&chart).finish(), compensate::about(&document)))
}
