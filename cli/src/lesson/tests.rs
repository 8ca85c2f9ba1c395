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
    (0..count).map(|_| Tooth::new(&case, &done, "gomphosis solve '<14>'".to_owned())).collect()
}

#[test]
fn a_page_that_would_be_too_large_is_refused_with_the_way_out() {
    let sentence = page(&teeth(16)).expect_err("sixteen teeth are too many");
    assert!(sentence.ends_with("give fewer teeth"), "{sentence}");
}

#[test]
fn nothing_in_the_data_can_end_the_element_that_holds_it() {
    let page = page(&teeth(1)).expect("a page");
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
