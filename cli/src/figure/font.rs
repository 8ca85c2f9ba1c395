//! The embedded typeface: measuring text, and handing the faces to the rasteriser.

use std::sync::{Arc, OnceLock};

use resvg::usvg::fontdb;
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::layout::SOFT_HYPHEN;

/// Family list of every text: the embedded face, then what any machine has.
pub(crate) const FAMILY: &str = "Open Sans, Segoe UI, Helvetica, Arial, sans-serif";
/// Height of a capital letter for size 1.
pub(crate) const CAP_HEIGHT: f64 = 1462.0 / 2048.0;
/// Depth of a descender for size 1.
pub(crate) const DESCENT: f64 = 0.24;

/// A face of the family.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Face {
    /// Running text.
    #[default]
    Regular,
    /// Titles and names.
    Semibold,
}

/// The faces, in the order of [`Face`].
pub(crate) const FACES: [&[u8]; 2] = [
    include_bytes!("../../assets/OpenSans-Regular.ttf"),
    include_bytes!("../../assets/OpenSans-Semibold.ttf"),
];

/// Width of a text for a size, in the same unit as the size.
pub(crate) fn width(text: &str, face: Face, size: f64) -> f64 {
    let Ok(font) = FontRef::new(FACES[face as usize]) else { return 0.6 * size * text.len() as f64 };
    let metrics = font.glyph_metrics(Size::new(1000.0), LocationRef::default());
    let charmap = font.charmap();
    let advance =
        |c: char| charmap.map(c).and_then(|glyph| metrics.advance_width(glyph)).map_or(600.0, f64::from);
    text.chars().filter(|&c| c != SOFT_HYPHEN).map(advance).sum::<f64>() * size / 1000.0
}

/// Has the face a glyph for every character?
#[cfg(test)]
pub(crate) fn covers(text: &str, face: Face) -> bool {
    let font = FontRef::new(FACES[face as usize]).expect("the embedded face is a font");
    text.chars().all(|c| font.charmap().map(c).is_some())
}

/// The faces for the rasteriser; nothing of the machine's own fonts is looked at.
pub(crate) fn database() -> Arc<fontdb::Database> {
    static DATABASE: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    let shared = DATABASE.get_or_init(|| {
        let mut database = fontdb::Database::new();
        for face in FACES {
            database.load_font_data(face.to_vec());
        }
        database.set_sans_serif_family("Open Sans");
        Arc::new(database)
    });
    Arc::clone(shared)
}

/// The same for the converter to pages, which has a parser of its own.
pub(crate) fn page_database() -> Arc<svg2pdf::usvg::fontdb::Database> {
    let mut database = svg2pdf::usvg::fontdb::Database::new();
    for face in FACES {
        database.load_font_data(face.to_vec());
    }
    database.set_sans_serif_family("Open Sans");
    Arc::new(database)
}
