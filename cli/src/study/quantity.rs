//! Results that a figure of a study can show: any column of numbers, by its name; what it is called there, and of which two
//! columns it is the quotient.

use super::row::{Column, Kept, columns};
use super::table::Rows;
use super::{Study, column_name};
use crate::case::{self as cases, Complaint, sentence_case};
use crate::figure::Style;

/// Prefixes of the columns of the two planes.
const BUCCO_LINGUAL: &str = "bucco_lingual_";
const MESIO_DISTAL: &str = "mesio_distal_";
/// Suffix of the columns of errors.
pub(crate) const ERROR: &str = "_error";
/// Most columns of one figure.
pub(crate) const MOST: usize = 4;

/// A column of numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Quantity(Column);

impl Quantity {
    /// The column of a name that is known to be there.
    pub(crate) fn known(study: &Study, name: &str) -> Option<Self> {
        numbers(study).find(|column| column.name == name).map(Self)
    }

    /// The columns that `--y` names, in its order.
    ///
    /// # Errors
    /// A name that no column of numbers has, with the nearest; more columns than a figure holds.
    pub(crate) fn named(study: &Study, names: &[String]) -> Result<Vec<Self>, Complaint> {
        if names.len() > MOST {
            let sentence = format!("a figure holds {MOST} columns at most, and {} are named", names.len());
            return Err(cases::wrong_option("--y", &sentence));
        }
        let mut found: Vec<Self> = Vec::new();
        for name in names {
            let option = format!("--y {name}");
            let quantity = Self::known(study, name).ok_or_else(|| missing(study, name, &option))?;
            if found.contains(&quantity) {
                return Err(cases::wrong_option(&option, "this column is named twice; once is enough"));
            }
            found.push(quantity);
        }
        Ok(found)
    }

    /// Its name in the table.
    pub(crate) fn column(&self) -> &str {
        &self.0.name
    }

    /// Does it belong to the bucco-lingual plane?
    pub(crate) fn is_bucco_lingual(&self) -> bool {
        self.column().starts_with(BUCCO_LINGUAL)
    }

    /// Is it in degrees for each millimetre, so that the rule of five can be drawn across?
    pub(crate) fn is_ruled(&self) -> bool {
        self.0.unit == "deg/mm" && self.is_bucco_lingual() && !self.column().ends_with(ERROR)
    }

    /// Its name with the unit, in the language of a style.
    pub(crate) fn title(&self, study: &Study, style: Style) -> String {
        let axis = study.axes.iter().find(|axis| column_name(axis.key.path) == self.0.name);
        if let Some(axis) = axis {
            return super::charts::with_unit(axis.key, style);
        }
        let unit = match self.0.unit {
            "deg/mm" => "\u{b0}/mm",
            "deg" => "\u{b0}",
            "mm2" => "mm\u{b2}",
            other => other,
        };
        // An error is that of another column.
        let of = self.column().strip_suffix(ERROR);
        let base = of.and_then(|of| columns(study).into_iter().find(|column| column.name == of));
        let own = match &base {
            Some(base) => style.tell("error of the mesh: {}", &[&style.say(words(base))]),
            None => style.say(words(&self.0)),
        };
        let own = if self.column().starts_with(MESIO_DISTAL) {
            style.tell("mesio-distal: {}", &[&own])
        } else {
            own
        };
        let own = sentence_case(&own);
        if unit.is_empty() { own } else { format!("{own} ({unit})") }
    }

    /// Dividend and divisor of its value, case by case, if it is a quotient whose divisor may pass through zero: the travel of a
    /// point, or the tip. Both are linear in the load.
    pub(crate) fn quotients(&self, rows: &mut Rows) -> std::io::Result<Option<Vec<[f64; 2]>>> {
        let Some(plane) = [BUCCO_LINGUAL, MESIO_DISTAL].into_iter().find(|p| self.column().starts_with(p))
        else {
            return Ok(None);
        };
        let of = match &self.column()[plane.len()..] {
            "tip_deg_per_mm_attachment" => Quotient::Tip(Reference::Attachment),
            "tip_deg_per_mm_cusp_tip" => Quotient::Tip(Reference::CuspTip),
            "tip_deg_per_mm_crest" => Quotient::Tip(Reference::Crest),
            "centre_of_rotation_depth_mm" => Quotient::Depth,
            "centre_of_rotation_fraction" => Quotient::Fraction,
            _ => return Ok(None),
        };
        let names = [&format!("{plane}tip_deg"), &format!("{plane}travel_mm"), "load_above_crest_mm"]
            .map(str::to_owned)
            .into_iter()
            .chain(["cusp_tip_above_crest_mm", "bony_root_mm"].map(str::to_owned))
            .collect::<Vec<_>>();
        let found = rows.numbers(&names.iter().map(String::as_str).collect::<Vec<_>>())?;
        let one = |case: usize| {
            let [tip_deg, travel, height, cusp, root] = [0, 1, 2, 3, 4].map(|k: usize| found[k][case]);
            let tip = tip_deg.to_radians();
            match of {
                Quotient::Tip(Reference::Attachment) => [tip_deg, travel],
                Quotient::Tip(Reference::CuspTip) => [tip_deg, travel + tip * (cusp - height)],
                Quotient::Tip(Reference::Crest) => [tip_deg, travel - tip * height],
                // The axis is at rest where its travel, `travel + tip (z - height)`, is zero: at the depth -z.
                Quotient::Depth => [travel - tip * height, tip],
                Quotient::Fraction => [travel - tip * height, tip * root],
            }
        };
        Ok(Some((0..rows.len()).map(one).collect()))
    }

    /// What its poles are, in English; see [`Self::quotients`].
    pub(crate) fn pole(&self) -> &'static str {
        if self.column().contains("tip_deg_per_mm") { "point at rest" } else { "translation" }
    }
}

/// A quotient among the columns.
#[derive(Debug, Clone, Copy)]
enum Quotient {
    Tip(Reference),
    Depth,
    Fraction,
}

/// Where the millimetre is measured.
#[derive(Debug, Clone, Copy)]
enum Reference {
    Attachment,
    CuspTip,
    Crest,
}

/// Columns of numbers, without the number of the case.
fn numbers(study: &Study) -> impl Iterator<Item = Column> {
    columns(study).into_iter().filter(|c| c.kept != Kept::Word && c.name != "case")
}

/// What a column of results is called in figures, in English.
pub(crate) fn words(column: &Column) -> &str {
    let name = &column.name;
    if name.ends_with("compensation_deg_per_mm_attachment") {
        return "root torque that undoes the tip, for each mm at the attachment";
    }
    if name.ends_with("compensation_deg_per_mm_cusp_tip") {
        return "root torque that undoes the tip, for each mm at the cusp tip or incisal edge";
    }
    if name.ends_with("travel_left_percent") {
        return "travel that is left with the torque that stops the tip, of that of the plain push";
    }
    // What follows explains the value, not the name.
    let own = column.help.split(';').next().unwrap_or(&column.help);
    own.split(" (idealised").next().unwrap_or(own)
}

/// The complaint about a name that no column of numbers has.
fn missing(study: &Study, name: &str, option: &str) -> Complaint {
    if columns(study).iter().any(|c| c.name == name) {
        return cases::wrong_option(option, "this column holds no numbers to draw");
    }
    let shown = name.replace('.', "_");
    let like = |other: &str| {
        // Without the plane names are as good as with it.
        let bare = other.strip_prefix(BUCCO_LINGUAL).unwrap_or(other);
        let alike = strsim::normalized_damerau_levenshtein;
        alike(other, &shown).max(alike(bare, &shown))
    };
    let near = numbers(study).map(|c| (like(&c.name), c.name)).max_by(|a, b| a.0.total_cmp(&b.0));
    let hint = match near {
        Some((score, near)) if score > 0.45 && name.len() <= 120 => format!("the nearest is {near}"),
        _ => "the columns are those of table.csv, for example bucco_lingual_tip_deg".to_owned(),
    };
    cases::wrong_option(option, &format!("the study's table has no such column; {hint}"))
}
