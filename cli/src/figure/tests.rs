//! The figures of an invented state: the geometry is a real mesh, the motion a rigid one chosen by hand, so
//! that layout and slicing are tested without a solve.

use gomphosis_mesh_gen::{Silent, ToothKind, ToothMesh, mesh_tooth, surface};
use gomphosis_solver::ligament::{Extreme, StressExtremes};
use gomphosis_solver::{Compliance, Plane};
use nalgebra::{Matrix6, Point3, Vector3};

use super::*;
use crate::case::{self, option};

struct State {
    case: Case,
    tooth: ToothMesh,
    root_nodes: Vec<u32>,
}

fn state(tooth: &str, settings: &[&str]) -> State {
    let mut given = vec![option("--tooth", "tooth", tooth), option("--set", "mesh.element_size_mm", "1.3")];
    given.extend(settings.iter().map(|text| {
        let (key, value) = text.split_once('=').expect("key=value");
        option(text, key, value)
    }));
    let case = case::load(None, given).expect("a valid case");
    let tooth = mesh_tooth(&case.specimen, &Silent).expect("the tooth meshes");
    let mut root_nodes: Vec<u32> = tooth.mesh.surface(surface::ROOT).iter().flatten().copied().collect();
    root_nodes.sort_unstable();
    root_nodes.dedup();
    State { case, tooth, root_nodes }
}

/// A tooth that resists at two fifths of its root with sigma squared of 12/175 h2 (Burstone's
/// two-dimensional root), 50 N/mm.
fn subject(state: &State, style: Style) -> Subject<'_> {
    let root = state.tooth.landmarks.bony_root_mm;
    let (depth, sigma2, stiffness) = (0.4 * root, 12.0 / 175.0 * root * root, 50.0);
    let turn = 1.0 / (stiffness * sigma2);
    let mut matrix = Matrix6::identity() * turn;
    for k in 0..3 {
        matrix[(k, k)] = 1.0 / stiffness;
    }
    let compliance = Compliance::new(Point3::new(0.0, 0.0, -depth), matrix).expect("positive definite");
    let resistance = PlanarResistance::new(&compliance, Plane::BuccoLingual);
    let load = state.case.load;
    let motion = resistance.motion(&PlanarLoad {
        height_mm: state.case.specimen.attachment.height_mm,
        force_n: load.force_n,
        torque_nmm: load.torque_nmm,
    });
    let mesh = &state.tooth.mesh;
    let pressure: Vec<f64> = state
        .root_nodes
        .iter()
        .map(|&n| {
            let p = mesh.nodes()[n as usize];
            240.0 * motion.travel_mm(p.z) * p.x / p.x.hypot(p.y).max(0.5)
        })
        .collect();
    let most = pressure.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
    let extreme = |kpa| Extreme { kpa, at: Point3::origin() };
    let extremes =
        StressExtremes { compression: extreme(most), tension: extreme(-most), shear: extreme(most) };
    Subject {
        style,
        case: &state.case,
        resistance,
        apex_depth_mm: root,
        cusp_height_mm: state.tooth.landmarks.cusp_tip.z,
        mesh,
        landmarks: state.tooth.landmarks,
        motion: RigidMotion {
            point: Point3::origin(),
            translation: Vector3::x() * motion.travel_mm(0.0),
            rotation: Vector3::y() * motion.tip_rad,
        },
        shown: Shown::default(),
        root_nodes: &state.root_nodes,
        ligament: LigamentField {
            cell_pressure_kpa: Vec::new(),
            cell_shear_kpa: Vec::new(),
            root_shear_kpa: pressure.clone(),
            root_pressure_kpa: pressure,
            cell_extremes: extremes,
            root_extremes: extremes,
            root_pressed: gomphosis_solver::PressedPart { mean_kpa: 1.0, area_mm2: 1.0, share: 0.5 },
        },
        // A load that is far too large for a linear model.
        strain_beyond: (load.force_n < 0.0).then_some([57.25, 0.3]),
    }
}

/// Cases of different length, roots and loads.
const CASES: &[(&str, &str, &[&str])] = &[
    ("premolar", "14", &[]),
    ("canine_torque", "13", &["load.torque_nmm=9"]),
    ("canine_translation", "23", &["load.torque_nmm=14.6"]),
    ("lower_incisor", "41", &["load.force_n=0.5", "load.torque_nmm=6"]),
    ("upper_molar", "16", &["bone.loss_mm=3"]),
    ("short_molar", "38", &["load.torque_nmm=-4"]),
    ("paraboloid", "paraboloid", &["load.force_n=-1"]),
    ("bone_loss", "13", &["bone.loss_mm=8", "load.torque_nmm=-3.123456"]),
    (
        "odd_map",
        "35",
        &[
            "map.moment_to_force_from_mm=-5",
            "map.moment_to_force_to_mm=-1.5",
            "map.height_from_mm=3",
            "map.height_to_mm=3.25",
            "load.force_n=0.123456",
        ],
    ),
    ("far_map", "15", &["map.moment_to_force_to_mm=90", "map.height_to_mm=50", "attachment.face=lingual"]),
];

/// Every sheet and language; the ground moves no text, so one of them is dark.
fn styles() -> impl Iterator<Item = Style> {
    [Size::Page, Size::Slide, Size::Column].into_iter().flat_map(|size| {
        [Language::En, Language::De].map(|language| {
            let theme =
                if (size, language) == (Size::Slide, Language::En) { Theme::Dark } else { Theme::Light };
            Style { size, theme, language }
        })
    })
}

#[test]
fn no_two_texts_of_a_figure_overlap_leave_the_sheet_or_are_smaller_than_promised() {
    let dump = std::env::var_os("GOMPHOSIS_FIGURES").map(std::path::PathBuf::from);
    let mut found = Vec::new();
    for (k, ((name, _, _), state)) in CASES.iter().zip(states()).enumerate() {
        // Every look for a few teeth; for the others the widest texts on the widest and the narrowest sheet.
        let ends =
            |s: &Style| (s.size == Size::Column) == (s.language == Language::De) && s.size != Size::Slide;
        for style in styles().filter(|s| k < 3 || ends(s)) {
            let subject = subject(state, style);
            for (kind, drawing) in [
                ("map", map::draw(&subject)),
                ("curve", curve::draw(&subject)),
                ("section", section::draw(&subject)),
                ("pressure", pressure::draw(&subject)),
                ("movement", movement::draw(&subject)),
                ("tip", tip::draw(&subject)),
            ] {
                let name = format!("{name}-{kind}-{:?}-{:?}", style.size, style.language);
                if let Some(directory) = &dump {
                    let png = drawing.finish().png().expect("the figure rasterises");
                    std::fs::write(directory.join(format!("{name}.png")), png).expect("written");
                    let svg = directory.join(format!("{name}.svg"));
                    std::fs::write(svg, drawing.document()).expect("written");
                }
                let wrong = [drawing.collisions(), drawing.too_small()].concat();
                found.extend(wrong.into_iter().map(|text| format!("{name}: {text}")));
                for (text, face) in drawing.texts() {
                    assert!(font::covers(text, face), "no glyph for a character of '{text}'");
                }
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

/// The meshes of [`CASES`], made once.
fn states() -> &'static [State] {
    static STATES: std::sync::OnceLock<Vec<State>> = std::sync::OnceLock::new();
    STATES.get_or_init(|| CASES.iter().map(|(_, tooth, settings)| state(tooth, settings)).collect())
}

#[test]
fn a_load_beyond_a_linear_model_is_said_where_its_travel_or_pressure_is_drawn() {
    // Positions do not depend on the size of the load, so what shows only them is silent.
    for (strained, state) in states().iter().map(|state| (state.case.load.force_n < 0.0, state)) {
        let subject = subject(state, Style::default());
        for (drawing, of_load) in [
            (section::draw(&subject), true),
            (pressure::draw(&subject), true),
            (movement::draw(&subject), true),
            (map::draw(&subject), false),
        ] {
            let said = drawing.document().contains("Strain of 57.25, beyond 0.30");
            assert_eq!(said, strained && of_load, "{}", state.case.name());
        }
    }
}

#[test]
fn the_overview_keeps_its_texts_apart_for_every_sheet() {
    // Short and long, slender and wide teeth under the names of all sixteen.
    let teeth: Vec<&State> = states().iter().cycle().take(ToothKind::ALL.len()).collect();
    let mut found = Vec::new();
    for style in styles() {
        let entries: Vec<Entry> = ToothKind::ALL
            .into_iter()
            .zip(&teeth)
            .map(|(kind, state)| Entry::new(kind, &subject(state, style)))
            .collect();
        let drawing = overview::draw(style, &entries, "an invented state");
        let wrong = [drawing.collisions(), drawing.too_small()].concat();
        found.extend(wrong.into_iter().map(|text| format!("{style:?}: {text}")));
    }
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn a_language_has_every_label() {
    let german = Language::De;
    let sizes = [Size::Page, Size::Slide, Size::Column];
    // One root, an incisor, three roots, a shape without a crown; the texts of the code are all looked up below.
    for k in [0, 3, 4, 6] {
        let state = &states()[k];
        for size in sizes.into_iter().take(if k == 0 { 3 } else { 1 }) {
            let subject = subject(state, Style { size, language: german, ..Style::default() });
            map::draw(&subject);
            curve::draw(&subject);
            section::draw(&subject);
            pressure::draw(&subject);
            movement::draw(&subject);
            tip::draw(&subject);
            if k == 0 {
                let entry = Entry::new(ToothKind::ALL[0], &subject);
                overview::draw(subject.style, &[entry], &subject.model_line());
            }
        }
    }
    for kind in gomphosis_mesh_gen::ToothKind::ALL {
        german.say(&kind.name());
    }
    for kind in Movement::ALL {
        german.say(kind.name());
    }
    for parameter in case::parameters(&states()[0].case) {
        let key = case::Key::find(parameter.path).expect("a key of the case");
        german.say(&crate::study::charts::plain_name(key));
    }
    let missing = words::MISSING.lock().expect("no test panicked");
    assert!(missing.is_empty(), "texts without German: {missing:#?}");
}

/// Texts that the code hands to `say` and `tell` word for word.
fn literals(code: &str) -> Vec<String> {
    let calls = code.match_indices("say(").chain(code.match_indices("tell("));
    calls
        .filter_map(|(at, call)| code[at + call.len()..].trim_start().strip_prefix('"'))
        .map(|rest| {
            let mut text = String::new();
            let mut letters = rest.chars().peekable();
            while let Some(letter) = letters.next().filter(|&c| c != '"') {
                match (letter, letters.peek()) {
                    ('\\', Some('\n')) => while letters.next_if(|c| c.is_whitespace()).is_some() {},
                    ('\\', Some('u')) => {
                        let code: String = letters.by_ref().skip(2).take_while(|&c| c != '}').collect();
                        let code = u32::from_str_radix(&code, 16).ok().and_then(char::from_u32);
                        text.push(code.expect("a code point"));
                    }
                    _ => text.push(letter),
                }
            }
            text
        })
        .collect()
}

#[test]
fn a_language_has_every_text_of_the_code_of_figures() {
    let root = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/src"));
    let mut folders = vec![root.join("figure")];
    let mut files =
        vec![root.join("figure.rs"), root.join("study/charts.rs"), root.join("compensate/report.rs")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("readable") {
            let path = entry.expect("readable").path();
            if path.is_dir() { folders.push(path) } else { files.push(path) }
        }
    }
    let texts: Vec<String> = files
        .iter()
        .filter(|path| path.file_stem().is_some_and(|name| name != "tests"))
        .flat_map(|path| literals(&std::fs::read_to_string(path).expect("readable")))
        .collect();
    assert!(texts.len() > 60, "{texts:#?}");
    let missing: Vec<&String> = texts.iter().filter(|text| !Language::De.knows(text)).collect();
    assert!(missing.is_empty(), "texts without German: {missing:#?}");
}
