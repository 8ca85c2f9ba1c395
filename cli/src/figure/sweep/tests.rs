//! The figures of studies with invented numbers: no two texts may overlap or leave the sheet.

use super::*;
use crate::figure::{Format, Theme, compensation, tornado};

fn styles() -> impl Iterator<Item = Style> {
    [Size::Page, Size::Slide, Size::Column].into_iter().map(|size| Style {
        size,
        theme: if size == Size::Slide { Theme::Dark } else { Theme::Light },
        ..Style::default()
    })
}

/// Fails where texts collide; with `GOMPHOSIS_FIGURES` set to a directory the sheet is kept there to be looked at.
fn check(name: &str, style: Style, svg: &Svg) {
    let name = format!("{name}_{:?}", style.size).to_lowercase();
    if let Some(directory) = std::env::var_os("GOMPHOSIS_FIGURES") {
        let bytes = Format::Png.bytes(&svg.finish()).expect("pixels");
        std::fs::write(std::path::Path::new(&directory).join(format!("{name}.png")), bytes).expect("written");
    }
    let found = svg.collisions();
    assert!(found.is_empty(), "{name}: {found:#?}");
}

fn line(name: &str, points: impl IntoIterator<Item = [f64; 3]>) -> Series {
    Series { name: name.to_owned(), points: points.into_iter().collect() }
}

#[test]
fn lines_keep_their_names_apart() {
    for style in styles() {
        let along = |k: i32| f64::from(k) * 0.5;
        let chart = SweepChart {
            style,
            title: "Attachment height on an upper first molar".to_owned(),
            lines: vec![
                "Push to buccal (labial) in the bucco-lingual plane; bands: error of the mesh".to_owned(),
            ],
            along: Along::Numbers(vec!["Attachment height (mm)".to_owned()]),
            panels: vec![
                Panel {
                    names: vec!["Tip for each mm of travel (degrees)".to_owned(), "tip".to_owned()],
                    rule: Some((5.0, "rule of five".to_owned())),
                    series: vec![
                        line("at the crest", (0..9).map(|k| [along(k), 8.0, 0.1])),
                        line("at the attachment", (0..9).map(|k| [along(k), 5.6 - 0.3 * along(k), f64::NAN])),
                        line("at the cusp tip", (0..9).map(|k| [along(k), 3.5, 0.05])),
                    ],
                },
                Panel {
                    names: vec!["Torque for translation over force, at the attachment (mm)".to_owned()],
                    rule: None,
                    // Many lines that end at the same place, and a gap.
                    series: (0..9)
                        .map(|k| {
                            let value = |x: i32| if x == 4 { f64::NAN } else { 10.0 + 0.01 * f64::from(k) };
                            line(&format!("{k}.5 mm"), (0..9).map(|x| [along(x), value(x), 0.0]))
                        })
                        .collect(),
                },
            ],
        };
        check("lines", style, &draw(&chart));
    }
}

#[test]
fn rows_of_words_keep_theirs() {
    for style in styles() {
        let words: Vec<String> = (0..16).map(|k| format!("Upper second premolar {k}")).collect();
        let dots = |v: f64| (0..16).map(move |k| [f64::from(k), v + 0.05 * f64::from(k), 0.1]);
        let chart = SweepChart {
            style,
            title: "All teeth".to_owned(),
            lines: vec!["Push to buccal".to_owned()],
            along: Along::Words(words),
            panels: vec![
                Panel {
                    names: vec!["Tip for each mm of travel (degrees)".to_owned()],
                    rule: Some((5.0, "rule of five".to_owned())),
                    series: vec![
                        line("at the crest", dots(8.0)),
                        line("at the attachment", dots(4.5)),
                        line("at the cusp tip", dots(3.3)),
                    ],
                },
                Panel {
                    names: vec![
                        "Torque for translation over force; centre of resistance below the crest (mm)"
                            .to_owned(),
                        "torque over force; depth (mm)".to_owned(),
                    ],
                    rule: None,
                    series: vec![
                        line("torque over force", dots(11.0)),
                        line("centre of resistance", dots(5.0)),
                    ],
                },
            ],
        };
        check("rows", style, &draw(&chart));
    }
}

#[test]
fn a_tornado_keeps_its_names_apart() {
    for style in styles() {
        let storm = |name: &str| tornado::Storm {
            names: vec![name.to_owned(), "mm".to_owned()],
            mean: 4.4,
            index: "rank correlation".to_owned(),
            bars: (0..12)
                .map(|k| tornado::Bar {
                    name: format!("bone crest below cemento-enamel junction {k}"),
                    ends: [4.4 - 0.4 / f64::from(k + 1), 4.4 + 0.7 / f64::from(k + 1)],
                    index: "\u{2212}0.82 (\u{2212}0.90 to \u{2212}0.70)".to_owned(),
                })
                .collect(),
        };
        let chart = tornado::Tornado {
            style,
            title: "What drives the compensation of an upper first premolar".to_owned(),
            lines: vec![
                "64 cases; bars from the mean among the lowest fifth to that among the highest".to_owned(),
            ],
            storms: vec![
                storm("Centre of resistance below the crest (mm)"),
                storm("Compensation per mm at the attachment (degrees per mm)"),
            ],
        };
        check("tornado", style, &tornado::draw(&chart));
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
                    name: crate::case::sentence_case(&kind.name()),
                    upper: kind.is_upper(),
                    series: [0.0, 1.0, 2.0, 4.0, 6.0].map(|x| [x, 4.6 - 0.1 * x, 3.4 - 0.05 * x]).to_vec(),
                    intervals: [[3.9, 5.6], [3.0, 3.8]],
                })
                .collect();
            let chart = compensation::Chart {
                style,
                rule: 5.0,
                lines: vec![crate::compensate::ASSUMPTION.to_owned(), "Thick bars: middle 90 %".to_owned()],
                teeth,
            };
            check(&format!("compensation_{count}"), style, &compensation::draw(&chart));
        }
    }
}
