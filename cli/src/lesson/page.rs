//! The file: template, style and script with the teeth put in. Everything it needs is inside it.

use std::collections::BTreeMap;
use std::fmt::Write;

use askama::Template;
use gomphosis_solver::movement::TRANSLATION_TOLERANCE_DEG_PER_MM;
use serde::Serialize;

use super::Tooth;
use crate::figure::colour::{CORTICAL, Ends, NAMED, PRESSURE, TIP, TOOTH};
use crate::figure::{Language, Theme};
use crate::study::charts::RULE_DEG_PER_MM;
use crate::summary::CAUTION_IN_FULL;

/// Largest size of the page, bytes.
const LIMIT_BYTES: usize = 2_000_000;

const STYLE: &str = include_str!("../../assets/lesson/page.css");

/// The parts of the script, in the order in which they need each other.
const SCRIPT: [&str; 13] = [
    include_str!("../../assets/lesson/mechanics.js"),
    include_str!("../../assets/lesson/teeth.js"),
    include_str!("../../assets/lesson/colour.js"),
    include_str!("../../assets/lesson/text.js"),
    include_str!("../../assets/lesson/state.js"),
    include_str!("../../assets/lesson/drawing.js"),
    include_str!("../../assets/lesson/labels.js"),
    include_str!("../../assets/lesson/section.js"),
    include_str!("../../assets/lesson/curve.js"),
    include_str!("../../assets/lesson/map.js"),
    include_str!("../../assets/lesson/view3d.js"),
    include_str!("../../assets/lesson/questions.js"),
    include_str!("../../assets/lesson/controls.js"),
];

#[derive(Template)]
#[template(path = "lesson/page.html")]
struct Page<'a> {
    language: Language,
    lang: &'a str,
    title: String,
    inks: [String; 2],
    style: &'a str,
    script: &'a str,
    data: &'a str,
    caution: String,
    version: &'a str,
}

impl Page<'_> {
    /// A text of the page in its language.
    fn say(&self, english: &str) -> String {
        self.language.say(english)
    }
}

/// What the script reads.
#[derive(Serialize)]
struct Data<'a> {
    schema: &'static str,
    version: &'static str,
    words: BTreeMap<&'static str, &'static str>,
    decimal_mark: &'static str,
    translation_tolerance_deg_per_mm: f64,
    rule_deg_per_mm: f64,
    scales: Scales,
    daylight: Daylight,
    teeth: &'a [Tooth],
}

/// Colours of the view in space on either ground.
#[derive(Serialize)]
struct Daylight {
    tooth: String,
    socket: String,
}

/// Ends of the colour scales in Oklab, light and dark.
#[derive(Serialize)]
struct Scales {
    tip: [Ends; 2],
    pressure: [Ends; 2],
}

/// The page of some teeth in a language.
///
/// # Errors
/// A sentence, if it would be larger than [`LIMIT_BYTES`].
pub(crate) fn page(teeth: &[Tooth], language: Language) -> Result<String, String> {
    let script = SCRIPT.concat();
    let themes = [Theme::Light, Theme::Dark];
    let data = Data {
        schema: "gomphosis.lesson/1",
        version: env!("CARGO_PKG_VERSION"),
        words: language.texts_of(&script),
        decimal_mark: language.decimal_mark(),
        translation_tolerance_deg_per_mm: TRANSLATION_TOLERANCE_DEG_PER_MM,
        rule_deg_per_mm: RULE_DEG_PER_MM,
        scales: Scales {
            tip: themes.map(|theme| TIP.ends(theme)),
            pressure: themes.map(|theme| PRESSURE.ends(theme)),
        },
        daylight: Daylight {
            tooth: TOOTH.on(Theme::Light).to_string(),
            socket: CORTICAL.on(Theme::Light).to_string(),
        },
        teeth,
    };
    // A `<` inside the data could end the element that holds it; JSON may write it as an escape.
    let data = serde_json::to_string(&data)
        .map_err(|e| e.to_string())?
        .replace('<', "\\u003c")
        .replace('\u{ad}', "");
    let page = Page {
        language,
        lang: language.code(),
        title: language.say("How a push moves a tooth"),
        inks: themes.map(inks),
        style: STYLE,
        script: &script,
        data: &data,
        caution: language.say(CAUTION_IN_FULL),
        version: env!("CARGO_PKG_VERSION"),
    };
    let text = page.render().map_err(|e| e.to_string())?.replace('\u{ad}', "");
    if text.len() > LIMIT_BYTES {
        return Err(format!(
            "the page would have {:.1} MB, more than the {:.0} MB it may have; give fewer teeth",
            text.len() as f64 / 1e6,
            LIMIT_BYTES as f64 / 1e6
        ));
    }
    Ok(text)
}

/// The named inks as custom properties of a style.
fn inks(theme: Theme) -> String {
    NAMED.iter().fold(String::new(), |mut text, (name, colour)| {
        let _ = write!(text, "--{name}:{};", colour.on(theme));
        text
    })
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
