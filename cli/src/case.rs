//! A case: one tooth in its socket, its materials, its load and the map to draw. Complete (every default is
//! filled in) and checked. Reads TOML and options; knows nothing of meshing and solving but their checks.

mod complaint;
mod direction;
pub(crate) mod key;
pub(crate) mod place;
pub(crate) mod read;
mod source;
mod tooth;
mod write;

use std::collections::BTreeMap;
use std::path::Path;

use gomphosis_mesh_gen::{MeshError, SuggestedValue, ToothForm, ToothInSocket};
use gomphosis_solver::{Bodies, Formulation, Materials, SolverError};

use crate::exit::Failure;
use crate::terminal::is_hidden;
pub(crate) use complaint::{Complaint, Origin, SourceFile};
pub(crate) use key::{Key, Kind};
pub(crate) use place::{Heights, Place};
pub(crate) use read::{Assignment, Given, option, shorten};
pub(crate) use source::{Parameter, parameters};
pub(crate) use tooth::{BUILT_IN, form_name, form_of, iso_numbers, meant};
use tooth::{tooth, unknown_tooth};
pub(crate) use write::{json, reference, sentence_case, toml};

/// Words of the key `formulation`.
const FORMULATIONS: &[&str] = &["projected_dilatation", "displacement"];

/// The load of a single solve, applied at the attachment in the bucco-lingual plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LoadSpec {
    /// Push, N; positive to buccal.
    pub(crate) force_n: f64,
    /// Torque, N mm; positive drives the root to buccal.
    pub(crate) torque_nmm: f64,
}

/// The grid of a map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MapSpec {
    /// Lowest attachment height above the crest, mm.
    pub(crate) height_from_mm: f64,
    /// Highest attachment height above the crest, mm.
    pub(crate) height_to_mm: f64,
    /// Number of heights.
    pub(crate) heights: u32,
    /// Lowest ratio of torque to force, mm.
    pub(crate) moment_to_force_from_mm: f64,
    /// Highest ratio of torque to force, mm.
    pub(crate) moment_to_force_to_mm: f64,
    /// Number of ratios.
    pub(crate) torques: u32,
}

/// A complete, checked case.
#[derive(Debug, Clone)]
pub(crate) struct Case {
    /// Tooth, ligament, bone, attachment, resolution.
    pub(crate) specimen: ToothInSocket,
    /// Which bodies deform.
    pub(crate) bodies: Bodies,
    /// Element of the ligament.
    pub(crate) formulation: Formulation,
    /// The load of a single solve.
    pub(crate) load: LoadSpec,
    /// Elastic constants.
    pub(crate) materials: Materials,
    /// Grid of the map.
    pub(crate) map: MapSpec,
    /// A name that the user gave it.
    pub(crate) own_name: Option<String>,
    /// The tooth's name as it was written.
    written: String,
    /// Which key says where the attachment is.
    pub(crate) place: Place,
    /// Where the given values came from.
    origins: BTreeMap<&'static str, Origin>,
}

/// Reads a case file (or takes a tooth's name when there is no such file) and applies options on top.
pub(crate) fn load(argument: Option<&Path>, options: Vec<Assignment>) -> Result<Case, Failure> {
    let mut assignments = match argument {
        None => Vec::new(),
        Some(path) => match form_of(&path.to_string_lossy()) {
            Some(_) if !path.exists() => {
                vec![option(&path.to_string_lossy(), "tooth", &path.to_string_lossy())]
            }
            None if !path.exists() && !looks_like_a_path(path) => {
                let sentence = unknown_tooth(&path.to_string_lossy());
                return Err(Complaint::plain(format!("there is no file of that name, and {sentence}")).into());
            }
            _ => read::file(path)?,
        },
    };
    assignments.extend(options);
    Ok(build(&assignments)?)
}

/// A complaint about an option as it was typed.
pub(crate) fn wrong_option(option: &str, sentence: &str) -> Complaint {
    Complaint::new(sentence, Origin::Option(option.to_owned()))
}

/// A text with a separator or an extension means a file.
fn looks_like_a_path(path: &Path) -> bool {
    path.components().count() > 1 || path.extension().is_some()
}

/// The case of a tooth with nothing changed.
pub(crate) fn defaults(form: ToothForm) -> Case {
    let specimen = match form {
        ToothForm::Anatomical(kind) => ToothInSocket::handbook(kind),
        ToothForm::Paraboloid => ToothInSocket::paraboloid(),
        ToothForm::EllipticParaboloid => ToothInSocket::elliptic_paraboloid(),
    };
    let mut case = Case {
        specimen,
        bodies: Bodies::Elastic,
        formulation: Formulation::default(),
        load: LoadSpec { force_n: 1.0, torque_nmm: 0.0 },
        materials: Materials::default(),
        map: MapSpec {
            height_from_mm: 0.0,
            height_to_mm: 0.0,
            heights: 41,
            moment_to_force_from_mm: 0.0,
            moment_to_force_to_mm: 0.0,
            torques: 41,
        },
        own_name: None,
        written: form_name(form),
        place: Place::default(),
        origins: BTreeMap::new(),
    };
    case.follow(&specimen);
    case
}

/// Makes a case from assignments; later ones win.
pub(crate) fn build(assignments: &[Assignment]) -> Result<Case, Complaint> {
    let (mut form, mut written) =
        (form_of(BUILT_IN).expect("the built-in tooth is one of the sixteen"), BUILT_IN.to_owned());
    let mut tooth_origin = None;
    for given in assignments.iter().filter(|a| a.key == "tooth") {
        (form, written) = tooth(given)?;
        tooth_origin = Some(given.origin.clone());
    }
    let mut case = defaults(form);
    let handbook = case.specimen;
    case.written = written;
    case.origins.extend(tooth_origin.map(|origin| ("tooth", origin)));
    for (k, given) in assignments.iter().enumerate().filter(|(_, a)| a.key != "tooth") {
        contradictions(given, &assignments[..k])?;
        case.assign(given)?;
    }
    case.follow(&handbook);
    case.check()?;
    Ok(case)
}

/// Checks assignments one by one, without the shape that they make together.
pub(crate) fn check_assignments(assignments: &[Assignment]) -> Result<(), Complaint> {
    let mut case = defaults(ToothForm::Paraboloid);
    for (k, given) in assignments.iter().enumerate() {
        if given.key == "tooth" {
            tooth(given)?;
        } else {
            contradictions(given, &assignments[..k])?;
            case.assign(given)?;
        }
    }
    Ok(())
}

/// In one file a key stands once, a shorthand and the keys it stands for exclude each other, and so do the three heights of
/// the attachment. Options come after the file and each other, and what comes later wins.
fn contradictions(given: &Assignment, before: &[Assignment]) -> Result<(), Complaint> {
    let in_files =
        |other: &&Assignment| matches!((&given.origin, &other.origin), (Origin::File(..), Origin::File(..)));
    let height = |a: &Assignment| place::KEYS.contains(&a.key.as_str());
    for other in before.iter().filter(in_files) {
        // A name in quotes holds its dots, so that TOML itself takes the two for different.
        if other.key == given.key {
            let sentence = format!("{} stands here a second time; once is enough", shorten(&given.key));
            return Err(Complaint::new(sentence, given.key_origin.clone()));
        }
        if height(given) && height(other) {
            let [crest, junction, share] = place::KEYS;
            let sentence = format!(
                "{} already says where the attachment is; one of {crest}, {junction} and {share} is enough",
                other.key
            );
            return Err(Complaint::new(sentence, given.key_origin.clone()));
        }
    }
    let shorthand = |a: &Assignment| match Key::find(&a.key).map(|key| &key.kind) {
        Some(Kind::Shorthand { sets, .. }) => *sets,
        _ => &[],
    };
    let other = before.iter().filter(in_files).find(|other| {
        shorthand(other).contains(&given.key.as_str()) || shorthand(given).contains(&other.key.as_str())
    });
    match other {
        None => Ok(()),
        Some(other) => {
            let (short, single) = if shorthand(given).is_empty() { (other, given) } else { (given, other) };
            let sentence =
                format!("{} already says what {} is; one of the two must go", short.key, single.key);
            Err(Complaint::new(sentence, given.key_origin.clone()))
        }
    }
}

/// Names of directions: front teeth have lips before them, upper ones the palate behind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Words {
    /// +x: "buccal" or "labial".
    pub(crate) outward: &'static str,
    /// -x: "lingual" or "palatal".
    pub(crate) inward: &'static str,
    /// +z: "occlusal" or "incisal".
    pub(crate) upward: &'static str,
    /// The plane of x and z.
    pub(crate) plane: &'static str,
}

impl Case {
    /// Which tooth is meant, in words and with its numbers; the first line of a command.
    pub(crate) fn meant(&self) -> String {
        meant(&self.written, self.specimen.tooth.form)
    }

    /// What the case is called: its own name, or the tooth's with the bone that is lost.
    pub(crate) fn title(&self) -> String {
        let loss = self.specimen.bone.loss_mm;
        match &self.own_name {
            Some(name) => name.clone(),
            None if loss > 0.0 => format!("{}, {loss} mm of bone loss", sentence_case(&self.name())),
            None => sentence_case(&self.name()),
        }
    }

    /// Name of the tooth.
    pub(crate) fn name(&self) -> String {
        form_name(self.specimen.tooth.form)
    }

    /// What the highest point of the crown is called.
    pub(crate) fn top_name(&self) -> &'static str {
        match self.specimen.tooth.form {
            ToothForm::Anatomical(kind) if kind.position() <= 2 => "incisal edge",
            ToothForm::Anatomical(_) => "cusp tip",
            ToothForm::Paraboloid | ToothForm::EllipticParaboloid => "top of the stub",
        }
    }

    /// What the directions are called at this tooth.
    pub(crate) fn words(&self) -> Words {
        let (front, upper) = match self.specimen.tooth.form {
            ToothForm::Anatomical(kind) => (kind.position() <= 3, kind.is_upper()),
            ToothForm::Paraboloid | ToothForm::EllipticParaboloid => (false, false),
        };
        Words {
            outward: if front { "labial" } else { "buccal" },
            inward: if upper { "palatal" } else { "lingual" },
            upward: if front { "incisal" } else { "occlusal" },
            plane: if front { "labio-lingual" } else { "bucco-lingual" },
        }
    }

    /// Was this key given, or is it a default?
    fn is_given(&self, path: &str) -> bool {
        self.origins.contains_key(path)
    }

    /// Puts one given value in its place.
    fn assign(&mut self, given: &Assignment) -> Result<(), Complaint> {
        let Some(key) = Key::find(&given.key) else {
            let is_table = key::KEYS.iter().any(|k| k.path.starts_with(&format!("{}.", given.key)));
            // A table that is opened and left empty changes nothing.
            return if is_table && given.value == Given::EMPTY_TABLE {
                Ok(())
            } else {
                Err(unknown_key(given))
            };
        };
        let wrong = |wanted: String| {
            Complaint::new(format!("{} is {}; {wanted}", key.path, given.value), given.origin.clone())
        };
        let unit = if key.unit.is_empty() { String::new() } else { format!(", in {}", key.unit) };
        match (&key.kind, &given.value) {
            (Kind::Number { set, low, high, .. }, Given::Number(value, _)) => {
                if !value.is_finite() {
                    return Err(wrong(format!("a finite number is wanted{unit}")));
                }
                if !(*low..=*high).contains(value) {
                    return Err(wrong(format!("a number from {low} to {high} is wanted{unit}")));
                }
                set(self, *value);
            }
            (Kind::Number { .. }, _) => return Err(wrong(format!("a number is wanted{unit}"))),
            (Kind::Count { set, low, high, .. }, Given::Number(value, _))
                if value.fract() == 0.0 && (f64::from(*low)..=f64::from(*high)).contains(value) =>
            {
                set(self, *value as u32);
            }
            (Kind::Count { low, high, .. }, _) => {
                return Err(wrong(format!("a whole number from {low} to {high} is wanted")));
            }
            (Kind::Word { words, set, .. }, Given::Text(text)) if words.contains(&text.as_str()) => {
                set(self, text);
            }
            (Kind::Word { words, .. }, _) => return Err(wrong(one_of(words))),
            (Kind::Shorthand { words, set, .. }, Given::Text(text)) if words().contains(&text.as_str()) => {
                set(self, text);
            }
            (Kind::Shorthand { words, .. }, _) => return Err(wrong(one_of(&words()))),
            (Kind::Text { set, longest, .. }, Given::Text(text)) => {
                let text = text.trim_matches(' ');
                check_line(key.path, text, *longest)
                    .map_err(|sentence| Complaint::new(sentence, given.origin.clone()))?;
                set(self, text);
            }
            // A number that was meant as a name, on the command line above all.
            (Kind::Text { set, .. }, Given::Number(_, spelling)) => set(self, spelling),
            (Kind::Text { .. }, _) => return Err(wrong("a text in quotes is wanted".to_owned())),
            (Kind::Tooth, _) => {}
        }
        if place::KEYS.contains(&key.path) {
            self.origins.retain(|path, _| !place::KEYS.contains(path));
        }
        self.origins.insert(key.path, given.origin.clone());
        Ok(())
    }

    /// Gives the defaults that depend on other values: the attachment keeps its place on the crown when
    /// crown or crest change, the furcation its share of the root, and the map covers crest to cusp tip and
    /// every kind of movement.
    fn follow(&mut self, handbook: &ToothInSocket) {
        let spec = &mut self.specimen;
        *spec = self.place.on(spec).unwrap_or_else(|| {
            let mut placed = spec.with_attachment_share(handbook.attachment_share());
            placed.attachment.height_mm = rounded(placed.attachment.height_mm);
            placed
        });
        let cusp = spec.tooth.crown.height_mm - spec.crest_z_from_cej_mm();
        if !self.origins.contains_key("root.furcation_mm") {
            let with_root = handbook.with_root_length(spec.tooth.root.length_mm);
            spec.tooth.root.furcation_mm = rounded(with_root.tooth.root.furcation_mm);
        }
        // A centre of resistance at two fifths of the root (Burstone's two-dimensional root) is near enough
        // to place the borders of a picture.
        let lever = cusp + 0.4 * spec.bony_root_mm();
        if !self.is_given("map.height_from_mm") {
            self.map.height_from_mm = 0.5;
        }
        if !self.is_given("map.height_to_mm") {
            self.map.height_to_mm = rounded(cusp).max(1.0);
        }
        if !self.is_given("map.moment_to_force_from_mm") {
            self.map.moment_to_force_from_mm = 0.0;
        }
        if !self.is_given("map.moment_to_force_to_mm") {
            self.map.moment_to_force_to_mm = (1.1 * lever).ceil().max(1.0);
        }
    }

    /// Checks what single keys cannot.
    fn check(&self) -> Result<(), Complaint> {
        self.specimen.check().map_err(|error| self.explain_mesh(&error))?;
        self.materials.check().map_err(|error| self.explain_solver(&error))?;
        if self.load.force_n == 0.0 && self.load.torque_nmm == 0.0 {
            let key = if self.is_given("load.force_n") { "load.force_n" } else { "load.torque_nmm" };
            return Err(self.complain(
                key,
                "load.force_n and load.torque_nmm are both 0; one of them must push or turn the tooth"
                    .to_owned(),
            ));
        }
        let map = &self.map;
        let rising = [
            ("map.height_to_mm", map.height_from_mm, map.height_to_mm, "map.height_from_mm"),
            (
                "map.moment_to_force_to_mm",
                map.moment_to_force_from_mm,
                map.moment_to_force_to_mm,
                "map.moment_to_force_from_mm",
            ),
        ];
        for (key, low, high, below) in rising {
            if low >= high {
                let key = if self.is_given(key) { key } else { below };
                return Err(self.complain(
                    key,
                    format!("the map runs from {low} to {high} mm; the end must lie above the start"),
                ));
            }
        }
        Ok(())
    }

    /// Complains about a key, at the place where its value was given. The place of a default is the place of what else
    /// the sentence names, or of the tooth.
    pub(crate) fn complain(&self, key: &str, sentence: String) -> Complaint {
        if let Some(origin) = self.origins.get(key) {
            return Complaint::new(sentence, origin.clone());
        }
        let named = key::KEYS.iter().filter(|k| sentence.contains(k.path)).map(|k| k.path);
        let origin = named.chain(["tooth"]).find_map(|path| self.origins.get(path));
        let origin = origin.or_else(|| self.origins.values().next()).cloned().unwrap_or(Origin::Default);
        let sentence = if Key::find(key).is_some() {
            format!("{sentence} ({key} is the default of this case)")
        } else {
            sentence
        };
        Complaint::new(sentence, origin)
    }

    /// Complains about the place of the attachment, under the key that was given. The sentence counts from the crest.
    /// `advised` is a height above the crest that would do.
    fn complain_of_place(&self, sentence: &str, advised: Option<f64>) -> Complaint {
        let Some(key) = self.place.key().filter(|key| *key != place::ABOVE_CREST) else {
            return self.complain(place::ABOVE_CREST, sentence.to_owned());
        };
        let spec = &self.specimen;
        let hint = advised
            .map_or_else(String::new, |mm| format!("; {key} {} would do", self.place.advised(spec, mm)));
        let given = match self.place {
            Place::FromJunction(mm) => format!("{mm} mm"),
            Place::Share(share) => format!("{share} of the {} mm crown", spec.tooth.crown.height_mm),
            Place::Handbook | Place::AboveCrest => String::new(),
        };
        let sentence = format!(
            "{key} is {given}, and the crest lies {:.2} mm below the junction: {sentence}{hint}",
            -spec.crest_z_from_cej_mm()
        );
        self.complain(key, sentence)
    }

    /// Turns an error of the mesher that concerns the input into a complaint about its key.
    pub(crate) fn explain_mesh(&self, error: &MeshError) -> Complaint {
        match error {
            MeshError::OutOfRange { key: place::ABOVE_CREST, .. }
            | MeshError::Impossible { key: place::ABOVE_CREST, .. } => {
                let advised = self.specimen.advice(error).and_then(|advice| match advice.value {
                    SuggestedValue::Number(mm) if advice.key == place::ABOVE_CREST => Some(mm),
                    _ => None,
                });
                self.complain_of_place(&error.to_string(), advised)
            }
            MeshError::OutOfRange { key, .. } | MeshError::Impossible { key, .. } => {
                self.complain(key, error.to_string())
            }
            MeshError::UnderResolved { .. }
            | MeshError::NoRoom { .. }
            | MeshError::NoMemory { .. }
            | MeshError::TooLarge { .. } => self.complain("mesh.element_size_mm", error.to_string()),
            other => Complaint::plain(other.to_string()),
        }
    }

    /// The same for the solver.
    pub(crate) fn explain_solver(&self, error: &SolverError) -> Complaint {
        match error {
            SolverError::OutOfRange { key, .. } => self.complain(key, error.to_string()),
            SolverError::Footprint { .. } => self.complain_of_place(&error.to_string(), None),
            SolverError::TooLarge { .. } => self.complain("mesh.element_size_mm", error.to_string()),
            other => Complaint::plain(other.to_string()),
        }
    }
}

/// Checks a free text of one line, such as a name or a title.
///
/// # Errors
/// A sentence that says what is wrong with it.
pub(crate) fn check_line(what: &str, text: &str, longest: usize) -> Result<(), String> {
    if text.trim().is_empty() {
        return Err(format!("{what} is empty; a few words are wanted"));
    }
    if let Some(c) = text.chars().find(|c| is_hidden(*c)) {
        return Err(format!(
            "{what} holds the character U+{:04X}, which cannot be seen; letters, digits, signs and spaces are wanted",
            u32::from(c)
        ));
    }
    let count = text.chars().count();
    if count > longest {
        return Err(format!("{what} has {count} characters; at most {longest} have room"));
    }
    Ok(())
}

/// A hundredth of a millimetre is fine enough for a default, and keeps printed cases readable.
fn rounded(mm: f64) -> f64 {
    (100.0 * mm).round() / 100.0
}

pub(crate) fn one_of(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("{word:?}")).collect();
    match quoted.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last} is wanted", rest.join(", ")),
        _ => format!("{} is wanted", quoted.join("")),
    }
}

/// Complains about a key that does not exist and names the nearest.
pub(crate) fn unknown_key(given: &Assignment) -> Complaint {
    // The outermost table that does not exist is what is wrong.
    let parts: Vec<&str> = given.key.split('.').collect();
    for (k, origin) in given.tables.iter().enumerate() {
        let table = parts.get(..=k).unwrap_or(&parts).join(".");
        let known = key::KEYS.iter().any(|key| key.path.starts_with(&format!("{table}.")));
        if !known && Key::find(&table).is_none() {
            let hint = match Key::nearest_table(&table) {
                Some(near) => format!("the nearest table is {near}"),
                None => "`gomphosis case` prints every table with its keys".to_owned(),
            };
            return Complaint::new(format!("there is no table {}; {hint}", shorten(&table)), origin.clone());
        }
    }
    let hint = match Key::nearest(&given.key) {
        Some(key) => format!("the nearest key is {}", key.path),
        None => "`gomphosis case` prints every key".to_owned(),
    };
    let is_table = key::KEYS.iter().any(|k| k.path.starts_with(&format!("{}.", given.key)));
    let sentence = if is_table {
        format!("{} is a table of keys, not a value ({})", given.key, given.value)
    } else {
        format!("there is no key {}; {hint}", shorten(&given.key))
    };
    Complaint::new(sentence, given.key_origin.clone())
}

#[cfg(test)]
#[path = "case/tests.rs"]
mod tests;
