//! The figures of studies with invented numbers: no two texts may overlap or leave the sheet.

use super::*;
use crate::figure::{Format, Language, Size, Theme, compensation, tornado};

fn styles() -> impl Iterator<Item = Style> {
    [Size::Page, Size::Slide, Size::Column].into_iter().flat_map(|size| {
        [Language::En, Language::De].map(|language| Style {
            size,
            theme: if (size, language) == (Size::Slide, Language::En) { Theme::Dark } else { Theme::Light },
            language,
        })
    })
}

/// Fails where texts collide or are smaller than promised; with `GOMPHOSIS_FIGURES` set to a directory the sheet is kept there to be looked at.
fn check(name: &str, style: Style, svg: &Svg) {
    let name = format!("{name}_{:?}_{:?}", style.size, style.language).to_lowercase();
    if let Some(directory) = std::env::var_os("GOMPHOSIS_FIGURES") {
        let bytes = Format::Png.bytes(&svg.finish()).expect("pixels");
        std::fs::write(std::path::Path::new(&directory).join(format!("{name}.png")), bytes).expect("written");
    }
    let found = [svg.collisions(), svg.too_small()].concat();
    assert!(found.is_empty(), "{name}: {found:#?}");
}

fn line(name: &str, points: impl IntoIterator<Item = [f64; 3]>) -> Series {
    Series { name: name.to_owned(), points: points.into_iter().map(Point::plain).collect() }
}

fn panel(style: Style, names: &[&str], series: Vec<Series>) -> Panel {
    let names = names.iter().map(|name| style.say(name)).collect();
    Panel { names, caption: String::new(), rule: None, series }
}

fn chart(style: Style, along: Along, panels: Vec<Panel>) -> SweepChart {
    SweepChart {
        style,
        title: "Attachment height on an upper first molar".to_owned(),
        lines: vec![
            style.say("Push to buccal (labial) in the bucco-lingual plane; bands: error of the mesh"),
        ],
        left_out: String::new(),
        along,
        key: String::new(),
        panels,
    }
}

#[test]
fn lines_keep_their_names_apart() {
    for style in styles() {
        let along = |k: i32| f64::from(k) * 0.5;
        let tips = vec![
            line(&style.say("at the crest"), (0..9).map(|k| [along(k), 8.0, 0.1])),
            line(&style.say("at the attachment"), (0..9).map(|k| [along(k), 5.6 - 0.3 * along(k), f64::NAN])),
            line(&style.say("at the cusp tip"), (0..9).map(|k| [along(k), 3.5, 0.05])),
        ];
        let tips = Panel {
            rule: Some((5.0, style.say("rule of five"))),
            ..panel(style, &["Tip for each mm of travel (degrees)", "Tip (degrees per mm)"], tips)
        };
        // Many lines that end at the same place, and a gap.
        let many = (0..9)
            .map(|k| {
                let value = |x: i32| if x == 4 { f64::NAN } else { 10.0 + 0.01 * f64::from(k) };
                line(&format!("{k}.5 mm"), (0..9).map(|x| [along(x), value(x), 0.0]))
            })
            .collect();
        let many = panel(style, &["Torque for translation over force, at the attachment (mm)"], many);
        let names = vec![format!("{} (mm)", style.say("bone crest below the junction"))];
        check("lines", style, &draw(&chart(style, Along::Numbers(names), vec![tips, many])));
    }
}

/// The tip for each millimetre at a height under a growing torque: a quotient with a pole.
fn quotient(name: &str, height: f64) -> Series {
    let points = (0..=24).map(|torque| {
        let torque = f64::from(torque);
        let [tip, travel] = [11.0 - torque, 1.0 + 0.08 * (11.0 - torque) * (height + 6.0)];
        Point { x: torque, value: tip / travel, error: 0.02, quotient: Some([tip, travel]) }
    });
    Series { name: name.to_owned(), points: points.collect() }
}

#[test]
fn frames_of_a_third_key_stand_apart_and_nothing_leaves_them() {
    for style in styles() {
        for (count, results) in [(2, 2), (3, 1), (4, 2), (5, 1), (8, 1)] {
            let results = if style.size == Size::Slide { 1 } else { results };
            let names = [
                "Tip for each mm that the attachment travels (degrees)",
                "Torque for translation over force, at the attachment (mm)",
            ];
            let panels = (0..results * count).map(|k| Panel {
                caption: format!("{} {} mm", style.say("bone crest below the junction"), k % count),
                ..panel(
                    style,
                    &names[k / count..=k / count],
                    (0..7).map(|k| quotient(&format!("{k}.25 mm"), f64::from(k))).collect(),
                )
            });
            let chart = SweepChart {
                key: format!("{}:", style.say("attachment height")),
                left_out: style
                    .tell("Shown for {}", &["bone buccal plate 1.25 mm, ligament thickness 0.2 mm"]),
                ..chart(style, Along::Numbers(vec![style.say("load torque")]), panels.collect())
            };
            check(&format!("frames_{count}_{results}"), style, &draw(&chart));
        }
    }
}

#[test]
fn four_results_of_one_line_each() {
    for style in styles() {
        for count in 1..=4 {
            let names = [
                "centre of rotation below the crest",
                "travel of the axis at the attachment's height under the load",
                "root torque that undoes the tip, for each mm at the cusp tip or incisal edge",
                "smallest pressure (tension is negative) of the ligament on the root",
            ];
            let panels =
                names[..count].iter().map(|name| panel(style, &[name], vec![quotient("", 5.0)])).collect();
            let chart = chart(style, Along::Numbers(vec![style.say("load torque")]), panels);
            check(&format!("results_{count}"), style, &draw(&chart));
        }
    }
}

#[test]
fn rows_of_words_keep_theirs() {
    for style in styles() {
        let words: Vec<String> =
            gomphosis_mesh_gen::ToothKind::ALL.iter().map(|k| style.say(&k.name())).collect();
        let dots = |v: f64| (0..16).map(move |k| [f64::from(k), v + 0.05 * f64::from(k), 0.1]);
        let tips = vec![
            line(&style.say("at the crest"), dots(8.0)),
            line(&style.say("at the attachment"), dots(4.5)),
            line(&style.say("at the cusp tip or incisal edge"), dots(3.3)),
        ];
        let tips = Panel {
            rule: Some((5.0, style.say("rule of five"))),
            ..panel(style, &["Tip for each mm of travel (degrees)"], tips)
        };
        let levers = vec![
            line(&style.say("torque over force"), dots(11.0)),
            line(&style.say("centre of resistance"), dots(5.0)),
        ];
        let long = "Torque for translation over force; centre of resistance below the crest (mm)";
        let levers = panel(style, &[long, "Torque over force; depth (mm)"], levers);
        check("rows", style, &draw(&chart(style, Along::Words(words), vec![tips, levers])));
    }
}

#[test]
fn a_tornado_keeps_its_names_apart_and_uses_the_sheet() {
    for style in styles() {
        // Names of keys, the longest first.
        let mut keys: Vec<String> =
            crate::case::parameters(&crate::case::load(None, Vec::new()).expect("a case"))
                .iter()
                .filter_map(|p| crate::case::Key::find(p.path))
                .map(|key| style.say(&crate::study::charts::plain_name(key)))
                .collect();
        keys.sort_by_key(|name| std::cmp::Reverse(name.chars().count()));
        for count in [3, 8, 12] {
            let storm = |name: &str, unit: &str| tornado::Storm {
                names: vec![format!("{} ({unit})", style.say(name))],
                mean: 4.4,
                index: "rank correlation".to_owned(),
                bars: (0..count)
                    .map(|k| tornado::Bar {
                        name: keys[k].clone(),
                        ends: [4.4 - 0.4 / (k + 1) as f64, 4.4 + 0.7 / (k + 1) as f64],
                        index: style.tell("{} ({} to {})", &["\u{2212}0.82", "\u{2212}0.90", "\u{2212}0.70"]),
                        value: "\u{2212}0.82".to_owned(),
                    })
                    .collect(),
            };
            let chart = tornado::Tornado {
                style,
                title: "What drives the compensation of an upper first premolar".to_owned(),
                lines: vec![style.tell(
                    "{} cases; bars from the mean among the lowest fifth of an input to that among the highest; 95 % \
                     intervals from the bootstrap",
                    &["64"],
                )],
                storms: vec![
                    storm("centre of resistance below the crest", "mm"),
                    storm("compensation per mm at the attachment", "degrees per mm"),
                ],
            };
            let svg = tornado::draw(&chart);
            check(&format!("tornado_{count}"), style, &svg);
            // Every input has its name and its index.
            let texts: Vec<&str> = svg.texts().map(|(text, _)| text).collect();
            assert!(
                keys[..count].iter().all(|key| texts.iter().filter(|t| *t == key).count() == 2),
                "{texts:?}"
            );
            let indices = texts.iter().filter(|t| t.starts_with("\u{2212}0.82")).count();
            assert_eq!(indices, 2 * count, "{texts:?}");
        }
    }
}

#[test]
fn compensation_of_one_tooth_and_of_sixteen() {
    use gomphosis_mesh_gen::ToothKind;
    for style in styles() {
        for count in [1, 3, 16] {
            let teeth = ToothKind::ALL[..count]
                .iter()
                .map(|kind| compensation::Tooth {
                    name: crate::case::sentence_case(&style.say(&kind.name())),
                    upper: kind.is_upper(),
                    series: [0.0, 1.0, 2.0, 4.0, 6.0].map(|x| [x, 4.6 - 0.1 * x, 3.4 - 0.05 * x]).to_vec(),
                    intervals: [[3.9, 5.6], [3.0, 3.8]],
                })
                .collect();
            let chart = compensation::Chart {
                style,
                rule: 5.0,
                lines: vec![style.say("The appliance delivers the push but not the couple; the aligner's own stiffness is not in the model"), style.tell("Thick bars: middle {} % over anatomy, crest, ligament and attachment height; no treatment dose", &["90"])],
                teeth,
            };
            check(&format!("compensation_{count}"), style, &compensation::draw(&chart));
        }
    }
}
