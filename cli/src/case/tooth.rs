//! Which tooth a case is about: names, numbers in three notations, and what to say when a text is none of them.

use std::fmt::Write;

use gomphosis_mesh_gen::{Designation, Notation, ToothForm, ToothKind};

use super::complaint::Complaint;
use super::read::{Assignment, Given, quoted, shorten};

/// The tooth that is used when none is named.
pub(crate) const BUILT_IN: &str = "upper first premolar";

/// What is wanted of a text that is no tooth.
const WANTED: &str = "a name is wanted such as \"upper first premolar\", or a number of ISO 3950 (14), of the Universal system \
    behind its name (universal:5) or of a quadrant (UR4)";

/// The form a name or number stands for.
pub(crate) fn form_of(name: &str) -> Option<ToothForm> {
    match name.trim_matches(' ').to_lowercase().replace(['_', '-'], " ").as_str() {
        "paraboloid" => Some(ToothForm::Paraboloid),
        "elliptic paraboloid" => Some(ToothForm::EllipticParaboloid),
        _ => ToothKind::parse(name).map(ToothForm::Anatomical),
    }
}

/// The name of a form as the key `tooth` takes it.
pub(crate) fn form_name(form: ToothForm) -> String {
    match form {
        ToothForm::Anatomical(kind) => kind.name(),
        ToothForm::Paraboloid => "paraboloid".to_owned(),
        ToothForm::EllipticParaboloid => "elliptic paraboloid".to_owned(),
    }
}

/// ISO 3950 numbers of a tooth on both sides of its arch; none for the idealised shapes.
pub(crate) fn iso_numbers(form: ToothForm) -> Vec<u32> {
    match form {
        ToothForm::Anatomical(kind) => {
            Designation { kind, side: None, notation: Notation::Words }.iso_numbers()
        }
        ToothForm::Paraboloid | ToothForm::EllipticParaboloid => Vec::new(),
    }
}

/// The form that an assignment of the key `tooth` names, and the name as it was written.
pub(super) fn tooth(given: &Assignment) -> Result<(ToothForm, String), Complaint> {
    let name = match &given.value {
        Given::Text(text) => text.clone(),
        Given::Number(_, spelling) => spelling.clone(),
        Given::Other(what) => {
            let sentence =
                format!("tooth is {what}; a name such as {BUILT_IN:?} or an ISO 3950 number is wanted");
            return Err(Complaint::new(sentence, given.origin.clone()));
        }
    };
    match form_of(&name) {
        Some(form) => Ok((form, name)),
        None => Err(Complaint::new(unknown_tooth(&name), given.origin.clone())),
    }
}

/// Which tooth is meant by a name as it was written, in words and with its ISO 3950 numbers; for the first line of a command.
pub(crate) fn meant(written: &str, form: ToothForm) -> String {
    let found = match (Designation::parse(written), form) {
        (Some(found), _) => found,
        (None, ToothForm::Anatomical(kind)) => Designation { kind, side: None, notation: Notation::Words },
        (None, _) => return format!("{}, an idealised root", form_name(form)),
    };
    let mut text = described(found);
    let bare = found.notation == Notation::Iso && !written.to_lowercase().contains("iso");
    let other = written.trim_matches(' ').parse().ok().filter(|_| bare).and_then(Designation::universal);
    if let Some(other) = other {
        let number = shorten(written.trim_matches(' '));
        let _ = write!(
            text,
            "; in the Universal system {number} would be the {}, here universal:{number}",
            other.words()
        );
    }
    text
}

/// "upper right first premolar, ISO 3950 number 14".
fn described(found: Designation) -> String {
    let numbers: Vec<String> = found.iso_numbers().iter().map(u32::to_string).collect();
    let word = if numbers.len() == 1 { "number" } else { "numbers" };
    format!("{}, ISO 3950 {word} {}", found.words(), numbers.join(" and "))
}

/// What to say of a text that is no tooth, with what its writer may have meant.
pub(super) fn unknown_tooth(name: &str) -> String {
    let hint = number_hint(name).or_else(|| name_hint(name)).unwrap_or_else(|| WANTED.to_owned());
    format!("{} is no tooth that is known here; {hint} (`gomphosis teeth` lists them all)", quoted(name))
}

/// What a number or a quadrant that is out of its range may have meant, in each notation.
fn number_hint(name: &str) -> Option<String> {
    let text = name.trim_matches(' ').to_lowercase();
    let digits = text.trim_start_matches(|c: char| !c.is_ascii_digit());
    let before = text[..text.len() - digits.len()].trim_end_matches([' ', ':']);
    if digits.is_empty() || digits.len() > 3 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let number: u32 = digits.parse().ok()?;
    let mut meant = Vec::new();
    if let ("ur" | "ul" | "ll" | "lr", true) = (before, text.len() < 8) {
        let corner = before.to_uppercase();
        let last = Designation::parse(&format!("{corner}8"))?;
        return Some(format!(
            "the teeth of a quadrant are {corner}1 to {corner}8 ({corner}8 is the {})",
            last.words()
        ));
    }
    if !matches!(before, "" | "#" | "-" | "+" | "universal" | "iso") {
        return None;
    }
    if let Some(iso) = Designation::iso(number) {
        meant.push(format!("{number} is the {} in ISO 3950", iso.words()));
    }
    if let Some(universal) = Designation::universal(number) {
        let iso = universal.iso_numbers()[0];
        meant.push(format!("universal:{number} is the {} (ISO 3950 number {iso})", universal.words()));
    }
    if before.is_empty()
        && let Some(corner) = Designation::parse(&format!("UR{number}"))
    {
        meant.push(format!("UR{number} is the {}", corner.words()));
    }
    let ranges = "ISO 3950 numbers of permanent teeth are 11 to 18, 21 to 28, 31 to 38 and 41 to 48, Universal ones \
                  universal:1 to universal:32, quadrants UR1 to UR8 and UL, LL and LR alike";
    if meant.is_empty() { Some(ranges.to_owned()) } else { Some(meant.join(", ")) }
}

/// The nearest name, if any is near.
fn name_hint(name: &str) -> Option<String> {
    let wanted = name.to_lowercase();
    let mut names: Vec<String> = ToothKind::ALL.into_iter().map(ToothKind::name).collect();
    names.extend(["paraboloid".to_owned(), "elliptic paraboloid".to_owned()]);
    let nearest = names
        .into_iter()
        // `max_by` takes the last of equals; the first is wanted: upper before lower, front to back.
        .rev()
        .filter(|_| wanted.len() <= 80)
        .map(|name| (likeness(&wanted, &name), name))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(score, _)| *score > 0.4);
    nearest.map(|(_, name)| format!("the nearest name is \"{name}\""))
}

/// How like a text is to a name, 0 to 1: the words count alone and together.
fn likeness(text: &str, name: &str) -> f64 {
    let alike = strsim::normalized_damerau_levenshtein;
    let words: Vec<f64> = text
        .split_whitespace()
        .map(|word| name.split_whitespace().map(|w| alike(word, w)).fold(0.0, f64::max))
        .collect();
    let mean = if words.is_empty() { 0.0 } else { words.iter().sum::<f64>() / words.len() as f64 };
    0.7 * mean + 0.3 * alike(text, name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn first_line(written: &str) -> String {
        meant(written, form_of(written).expect("a tooth"))
    }

    #[test]
    fn a_number_is_echoed_in_words_with_its_other_reading() {
        assert_eq!(
            first_line("14"),
            "upper right first premolar, ISO 3950 number 14; in the Universal system 14 would be the upper left first molar, \
             here universal:14"
        );
        assert_eq!(first_line("iso:14"), "upper right first premolar, ISO 3950 number 14");
        assert_eq!(first_line("44"), "lower right first premolar, ISO 3950 number 44");
        assert_eq!(first_line("#14"), "upper left first molar, ISO 3950 number 26");
        assert_eq!(first_line("ur 4"), "upper right first premolar, ISO 3950 number 14");
        assert_eq!(first_line(BUILT_IN), "upper first premolar, ISO 3950 numbers 14 and 24");
        assert_eq!(first_line("paraboloid"), "paraboloid, an idealised root");
    }

    #[test]
    fn a_refused_number_is_told_in_each_notation() {
        for (name, wanted) in [
            (
                "3",
                "universal:3 is the upper right first molar (ISO 3950 number 16), UR3 is the upper right canine",
            ),
            ("9", "universal:9 is the upper left central incisor (ISO 3950 number 21)"),
            ("19", "universal:19 is the lower left first molar (ISO 3950 number 36)"),
            ("99", "ISO 3950 numbers of permanent teeth are 11 to 18"),
            ("UR9", "the teeth of a quadrant are UR1 to UR8 (UR8 is the upper right third molar)"),
            (
                "-14",
                "14 is the upper right first premolar in ISO 3950, universal:14 is the upper left first molar",
            ),
            ("#40", "ISO 3950 numbers of permanent teeth are"),
            ("universal:44", "44 is the lower right first premolar in ISO 3950"),
            ("upper frist premolar", "the nearest name is \"upper first premolar\""),
            ("xyzzy", "a name is wanted such as"),
        ] {
            assert_eq!(form_of(name), None, "{name}");
            let said = unknown_tooth(name);
            assert!(said.contains(wanted), "{name}: {said}");
        }
    }
}
