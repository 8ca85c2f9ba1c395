use std::sync::atomic::AtomicBool;

use super::*;
use crate::case::{load, option};
use crate::commands::compute;
use crate::progress::{Progress, Show};

/// A coarse premolar in the fast tier.
fn teeth(count: usize) -> Vec<Tooth> {
    let given = [("tooth", "14"), ("bodies", "rigid"), ("mesh.element_size_mm", "2")];
    let case = load(None, given.map(|(key, value)| option(key, key, value)).to_vec()).expect("a valid case");
    let stop = AtomicBool::new(false);
    let done = compute(&case, false, &Progress::new(Show::Nothing, &stop)).expect("computed");
    let calls = vec![case.clone(); count];
    let calls = crate::lesson::called(&calls, Language::En);
    let command = || "gomphosis solve '<14>'".to_owned();
    calls.into_iter().map(|call| Tooth::new(&case, &done, call, command(), Language::En)).collect()
}

#[test]
fn a_page_that_would_be_too_large_is_refused_with_the_way_out() {
    let sentence = page(&teeth(16), Language::En).expect_err("sixteen teeth are too many");
    assert!(sentence.ends_with("give fewer teeth"), "{sentence}");
}

#[test]
fn nothing_in_the_data_can_end_the_element_that_holds_it() {
    let page = page(&teeth(1), Language::En).expect("a page");
    let start = page.find("id=\"lesson-data\">").expect("the data") + "id=\"lesson-data\">".len();
    let data = &page[start..start + page[start..].find("</script>").expect("an end")];
    assert!(!data.contains('<'));
    let value: serde_json::Value = serde_json::from_str(data).expect("JSON");
    assert_eq!(value["teeth"][0]["command"], "gomphosis solve '<14>'");
}

#[test]
fn every_ink_of_the_style_is_defined() {
    let (light, script) = (inks(Theme::Light), SCRIPT.concat());
    for part in [STYLE, script.as_str()] {
        for name in part.split("var(--").skip(1).filter_map(|rest| rest.split(')').next()) {
            assert!(light.contains(&format!("--{name}:")), "--{name} is used and not defined");
        }
    }
    assert_ne!(light, inks(Theme::Dark));
}

/// Texts that a source hands to a call word for word.
fn texts_in(source: &str, calls: &[&str]) -> Vec<String> {
    calls
        .iter()
        .flat_map(|call| source.match_indices(call).map(|(at, call)| &source[at + call.len()..]))
        .filter_map(|rest| rest.trim_start().strip_prefix('"'))
        .filter_map(|rest| rest.split_once('"'))
        .map(|(text, _)| text.to_owned())
        .collect()
}

const TEMPLATE: &str = include_str!("../../assets/lesson/page.html");

#[test]
fn a_language_has_every_text_of_the_lesson_and_no_others() {
    let script = SCRIPT.concat();
    let mut texts = texts_in(TEMPLATE, &["self.say("]);
    texts.extend(texts_in(&script, &["say(", "tell(", "noted("]));
    assert!(texts.len() > 120, "{texts:#?}");
    let missing: Vec<&String> = texts.iter().filter(|text| !Language::De.knows(text)).collect();
    assert!(missing.is_empty(), "texts without German: {missing:#?}");
    let german = Language::De.texts_of(&script);
    for text in texts_in(&script, &["say(", "tell(", "noted("]) {
        assert!(german.contains_key(text.as_str()), "the page does not hold the German of '{text}'");
    }
    let code = [include_str!("called.rs"), include_str!("page.rs"), CAUTION_IN_FULL].concat();
    let table: toml::Table = include_str!("../../assets/words/de-lesson.toml").parse().expect("a table");
    let unused: Vec<&String> = table
        .keys()
        .filter(|text| {
            !texts.contains(text) && !code.contains(text.as_str()) && !german.contains_key(text.as_str())
        })
        .collect();
    assert!(unused.is_empty(), "texts that nothing says: {unused:#?}");
}

#[test]
fn gaps_of_a_text_are_those_of_its_german() {
    let table: toml::Table = include_str!("../../assets/words/de-lesson.toml").parse().expect("a table");
    for (english, german) in &table {
        let german = german.as_str().expect("a text");
        let gaps = |text: &str| text.matches("{}").count();
        assert!(gaps(english) == gaps(german) || german.contains("{0}"), "{english}: {german}");
    }
}

#[test]
fn a_page_in_german_says_so_and_speaks_it() {
    let page = page(&teeth(1), Language::De).expect("a page");
    assert!(page.contains("<html lang=\"de\">"));
    assert!(page.contains("Der Zahn in seiner Alveole") && !page.contains("The tooth in its socket<"));
}
