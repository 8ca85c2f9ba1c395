//! Every key of the case file, once: its name, unit, meaning, what it may hold, and where it lives in a
//! [`Case`]. Reading, `--set`, the printed case, the JSON and the reference page all come from this table.

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Case;
use super::place::{self, Heights, Place};

/// One key.
#[derive(Debug)]
pub(crate) struct Key {
    /// Dotted name, for example `root.length_mm`.
    pub(crate) path: &'static str,
    /// Unit in words for messages and comments; empty for a pure number or a word.
    pub(crate) unit: &'static str,
    /// What it is, without a full stop.
    pub(crate) help: &'static str,
    /// What it may hold.
    pub(crate) kind: Kind,
}

/// What a key may hold.
#[derive(Debug)]
pub(crate) enum Kind {
    /// The tooth's name or number: handled before every other key.
    Tooth,
    /// A finite number. The range is infinite where the mesher or the solver decides.
    Number { get: fn(&Case) -> f64, set: fn(&mut Case, f64), low: f64, high: f64 },
    /// A whole number.
    Count { get: fn(&Case) -> u32, set: fn(&mut Case, u32), low: u32, high: u32 },
    /// A free text of a line; none if it was not given.
    Text { get: fn(&Case) -> Option<String>, set: fn(&mut Case, &str), longest: usize },
    /// One of a few words.
    Word { words: &'static [&'static str], get: fn(&Case) -> String, set: fn(&mut Case, &str) },
    /// A word that sets other keys and is not kept itself.
    Shorthand { words: fn() -> Vec<&'static str>, sets: &'static [&'static str], set: fn(&mut Case, &str) },
}

impl Key {
    /// The table a key stands in (`root` for `root.length_mm`, empty at the top) and its own name.
    pub(crate) fn split(&self) -> (&'static str, &'static str) {
        self.path.rsplit_once('.').unwrap_or(("", self.path))
    }

    /// Finds a key by its dotted name.
    pub(crate) fn find(path: &str) -> Option<&'static Self> {
        KEYS.iter().find(|key| key.path == path)
    }

    /// Is this the name of a table of keys?
    pub(crate) fn is_table(path: &str) -> bool {
        tables().contains(&path)
    }

    /// The table whose name is nearest to what was written, if anything is near.
    pub(crate) fn nearest_table(path: &str) -> Option<&'static str> {
        tables()
            .into_iter()
            .filter(|_| path.len() <= 80)
            .map(|table| (strsim::normalized_damerau_levenshtein(path, table), table))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|(score, _)| *score > 0.5)
            .map(|(_, table)| table)
    }

    /// The key whose name is nearest to what was written, if anything is near.
    pub(crate) fn nearest(path: &str) -> Option<&'static Self> {
        let last = |text: &str| text.rsplit('.').next().unwrap_or_default().to_owned();
        let likeness = |key: &Self| {
            let whole = strsim::normalized_damerau_levenshtein(path, key.path);
            // A key in the wrong table, or without its unit, is still nearly right.
            let own = last(path);
            let name = last(key.path);
            let part = strsim::normalized_damerau_levenshtein(&own, &name);
            let bare = name
                .rsplit_once('_')
                .map_or(0.0, |(bare, _)| strsim::normalized_damerau_levenshtein(&own, bare));
            whole.max(0.95 * part).max(0.9 * bare)
        };
        KEYS.iter()
            .filter(|_| path.len() <= 80)
            .map(|key| (likeness(key), key))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|(score, _)| *score > 0.5)
            .map(|(_, key)| key)
    }
}

/// Names of all tables, in the order of the keys.
fn tables() -> Vec<&'static str> {
    let mut tables = Vec::new();
    for key in KEYS {
        for (at, _) in key.path.match_indices('.') {
            if !tables.contains(&&key.path[..at]) {
                tables.push(&key.path[..at]);
            }
        }
    }
    tables
}

fn word<T: Serialize>(value: T) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(text)) => text,
        _ => String::new(),
    }
}

fn assign<T: DeserializeOwned>(slot: &mut T, text: &str) {
    // The words of a key are all words of its type (a test holds them together).
    if let Ok(value) = serde_json::from_value(serde_json::Value::String(text.to_owned())) {
        *slot = value;
    }
}

macro_rules! number {
    ($path:literal, $unit:literal, $($field:ident).+, $help:literal) => {
        number!($path, $unit, $($field).+, $help, f64::NEG_INFINITY, f64::INFINITY)
    };
    ($path:literal, $unit:literal, $($field:ident).+, $help:literal, $low:expr, $high:expr) => {
        Key {
            path: $path,
            unit: $unit,
            help: $help,
            kind: Kind::Number {
                get: |case| case.$($field).+,
                set: |case, value| case.$($field).+ = value,
                low: $low,
                high: $high,
            },
        }
    };
}

macro_rules! count {
    ($path:literal, $($field:ident).+, $help:literal, $low:expr, $high:expr) => {
        Key {
            path: $path,
            unit: "",
            help: $help,
            kind: Kind::Count {
                get: |case| case.$($field).+,
                set: |case, value| case.$($field).+ = value,
                low: $low,
                high: $high,
            },
        }
    };
}

macro_rules! word {
    ($path:literal, $($field:ident).+, $help:literal, $words:expr) => {
        Key {
            path: $path,
            unit: "",
            help: $help,
            kind: Kind::Word {
                words: $words,
                get: |case| word(case.$($field).+),
                set: |case, text| assign(&mut case.$($field).+, text),
            },
        }
    };
}

/// Most heights or ratios of a map.
const MOST_STEPS: u32 = 1001;

/// Longest name of a case, characters: as long as a title of a figure has room for.
const LONGEST_NAME: usize = 60;

/// The keys, in the order in which a case is written.
pub(crate) static KEYS: &[Key] = &[
    Key {
        path: "tooth",
        unit: "",
        help: "the tooth: its name, its ISO 3950 number (14), its Universal number (\"universal:5\"), its quadrant and place (\"UR4\"), \
               \"paraboloid\" or \"elliptic paraboloid\"",
        kind: Kind::Tooth,
    },
    Key {
        path: "name",
        unit: "",
        help: "a name of your own, which titles, tables and figures show instead of the tooth's",
        kind: Kind::Text {
            get: |case| case.own_name.clone(),
            set: |case, text| case.own_name = Some(text.to_owned()),
            longest: LONGEST_NAME,
        },
    },
    word!(
        "bodies",
        bodies,
        "\"elastic\": tooth, ligament and bone deform; \"rigid\": only the ligament does (fast)",
        &["elastic", "rigid"]
    ),
    word!("formulation", formulation, "element of the ligament", super::FORMULATIONS),
    number!(
        "crown.height_mm",
        "mm",
        specimen.tooth.crown.height_mm,
        "cemento-enamel junction to cusp tip or incisal edge"
    ),
    number!(
        "crown.mesiodistal_mm",
        "mm",
        specimen.tooth.crown.mesiodistal_mm,
        "largest width of the crown along the arch"
    ),
    number!(
        "crown.buccolingual_mm",
        "mm",
        specimen.tooth.crown.buccolingual_mm,
        "largest width of the crown across the arch"
    ),
    number!(
        "root.length_mm",
        "mm",
        specimen.tooth.root.length_mm,
        "cemento-enamel junction (idealised shapes: crest) to the deepest apex"
    ),
    number!(
        "root.mesiodistal_mm",
        "mm",
        specimen.tooth.root.mesiodistal_mm,
        "width at the cervix along the arch"
    ),
    number!(
        "root.buccolingual_mm",
        "mm",
        specimen.tooth.root.buccolingual_mm,
        "width at the cervix across the arch"
    ),
    word!(
        "root.plan",
        specimen.tooth.root.plan,
        "number and arrangement of the roots",
        &["single", "buccal_lingual", "mesial_distal", "three"]
    ),
    number!(
        "root.furcation_mm",
        "mm",
        specimen.tooth.root.furcation_mm,
        "furcation below the cemento-enamel junction (several roots only)"
    ),
    number!(
        "root.divergence_deg",
        "degrees",
        specimen.tooth.root.divergence_deg,
        "angle between the axes of the roots (several roots only)"
    ),
    number!("root.curvature_mm", "mm", specimen.tooth.root.curvature_mm, "how far the apex bends to distal"),
    number!(
        "root.tip_radius_mm",
        "mm",
        specimen.tooth.root.tip_radius_mm,
        "smallest radius of the rounded apex"
    ),
    number!("ligament.thickness_mm", "mm", specimen.ligament.thickness_mm, "thickness at crest and apex"),
    number!(
        "ligament.mid_thickness_mm",
        "mm",
        specimen.ligament.mid_thickness_mm,
        "thickness half-way down the root (hourglass only)"
    ),
    word!(
        "ligament.profile",
        specimen.ligament.profile,
        "thickness along the root; \"stretched\" is for the idealised shapes",
        &["uniform", "hourglass", "stretched"]
    ),
    count!("ligament.layers", specimen.ligament.layers, "layers of elements through the thickness", 1, 8),
    number!(
        "bone.crest_below_cej_mm",
        "mm",
        specimen.bone.crest_below_cej_mm,
        "healthy crest below the cemento-enamel junction"
    ),
    number!(
        "bone.loss_mm",
        "mm",
        specimen.bone.loss_mm,
        "horizontal bone loss: how much lower the crest lies"
    ),
    number!(
        "bone.buccal_plate_mm",
        "mm",
        specimen.bone.buccal_plate_mm,
        "bone between ligament and buccal face where it is thinnest"
    ),
    number!(
        "bone.lingual_plate_mm",
        "mm",
        specimen.bone.lingual_plate_mm,
        "bone between ligament and lingual face where it is thinnest"
    ),
    number!(
        "bone.interdental_mm",
        "mm",
        specimen.bone.interdental_mm,
        "bone between ligament and the mesial and distal cuts where it is thinnest"
    ),
    number!("bone.below_apex_mm", "mm", specimen.bone.below_apex_mm, "bone below the apex"),
    number!("bone.cortical_mm", "mm", specimen.bone.cortical_mm, "thickness of the cortical shell"),
    word!(
        "attachment.face",
        specimen.attachment.face,
        "face of the crown whose footprint carries the load; forces stay along x, moments about y",
        &["buccal", "lingual", "mesial", "distal"]
    ),
    Key {
        path: place::ABOVE_CREST,
        unit: "mm",
        help: "height of its centre above the crest, from where it moves along the crown when the crest does; at most one of \
               the three heights is given, none means the middle of the crown",
        kind: Kind::Number {
            get: |case| Heights::of(case).height_mm,
            set: |case, value| {
                case.specimen.attachment.height_mm = value;
                case.place = Place::AboveCrest;
            },
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
        },
    },
    Key {
        path: place::FROM_JUNCTION,
        unit: "mm",
        help: "the same above the cemento-enamel junction (idealised shapes: above the healthy crest); stays where it is on the \
               crown when bone is lost",
        kind: Kind::Number {
            get: |case| Heights::of(case).height_from_cej_mm,
            set: |case, value| case.place = Place::FromJunction(value),
            low: 0.0,
            high: 20.0,
        },
    },
    Key {
        path: place::SHARE,
        unit: "",
        help: "the same as a share of the crown: 0 at the cemento-enamel junction, 1 at cusp tip or incisal edge; stays where it \
               is on the crown when bone is lost",
        kind: Kind::Number {
            get: |case| Heights::of(case).height_share,
            set: |case, value| case.place = Place::Share(value),
            low: 0.0,
            high: 1.0,
        },
    },
    number!(
        "attachment.footprint_height_mm",
        "mm",
        specimen.attachment.footprint_height_mm,
        "size of its footprint along the crown; the load is prescribed, so that no size changes it"
    ),
    number!(
        "attachment.footprint_width_mm",
        "mm",
        specimen.attachment.footprint_width_mm,
        "size of its footprint across the crown; likewise"
    ),
    number!("load.force_n", "N", load.force_n, "push at the attachment, positive to buccal", -1000.0, 1000.0),
    number!(
        "load.torque_nmm",
        "N mm",
        load.torque_nmm,
        "buccal root torque at the attachment, positive drives the root to buccal",
        -100_000.0,
        100_000.0
    ),
    Key {
        path: "materials.ligament.published",
        unit: "",
        help: "a published pair of ligament constants, by author and year, instead of the two below",
        kind: Kind::Shorthand {
            words: || gomphosis_solver::PUBLISHED_LIGAMENTS.iter().map(|set| set.name).collect(),
            sets: &["materials.ligament.modulus_mpa", "materials.ligament.poisson_ratio"],
            set: |case, name| {
                if let Some(set) = gomphosis_solver::published_ligament(name) {
                    case.materials.ligament = set.material;
                }
            },
        },
    },
    number!(
        "materials.ligament.modulus_mpa",
        "MPa",
        materials.ligament.modulus_mpa,
        "Young's modulus of the ligament"
    ),
    number!("materials.ligament.poisson_ratio", "", materials.ligament.poisson_ratio, "its Poisson ratio"),
    number!(
        "materials.tooth.modulus_mpa",
        "MPa",
        materials.tooth.modulus_mpa,
        "Young's modulus of the tooth (dentine)"
    ),
    number!("materials.tooth.poisson_ratio", "", materials.tooth.poisson_ratio, "its Poisson ratio"),
    number!(
        "materials.cancellous_bone.modulus_mpa",
        "MPa",
        materials.cancellous_bone.modulus_mpa,
        "Young's modulus of cancellous bone"
    ),
    number!(
        "materials.cancellous_bone.poisson_ratio",
        "",
        materials.cancellous_bone.poisson_ratio,
        "its Poisson ratio"
    ),
    number!(
        "materials.cortical_bone.modulus_mpa",
        "MPa",
        materials.cortical_bone.modulus_mpa,
        "Young's modulus of cortical bone"
    ),
    number!(
        "materials.cortical_bone.poisson_ratio",
        "",
        materials.cortical_bone.poisson_ratio,
        "its Poisson ratio"
    ),
    number!(
        "mesh.element_size_mm",
        "mm",
        specimen.mesh.element_size_mm,
        "edge length of the elements on the root where it is flattest; above 1.2 only the crown becomes coarser"
    ),
    number!(
        "map.height_from_mm",
        "mm",
        map.height_from_mm,
        "lowest attachment height of the map, above the crest",
        0.0,
        50.0
    ),
    number!(
        "map.height_to_mm",
        "mm",
        map.height_to_mm,
        "highest attachment height of the map, above the crest",
        0.0,
        50.0
    ),
    count!("map.heights", map.heights, "number of heights", 2, MOST_STEPS),
    number!(
        "map.moment_to_force_from_mm",
        "mm",
        map.moment_to_force_from_mm,
        "lowest ratio of root torque to force",
        -100.0,
        100.0
    ),
    number!(
        "map.moment_to_force_to_mm",
        "mm",
        map.moment_to_force_to_mm,
        "highest ratio of root torque to force",
        -100.0,
        100.0
    ),
    count!("map.torques", map.torques, "number of torques", 2, MOST_STEPS),
];
