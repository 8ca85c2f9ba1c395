//! What the figures of a study show: lines of a grid, the tornado of a sample.

use super::drivers::Drivers;
use super::sample::Design;
use super::sensitivity::Interval;
use super::space::Cell;
use super::table::Rows;
use super::{Axis, Study};
use crate::case::{Key, sentence_case};
use crate::figure::Style;
use crate::figure::sweep::{Along, Panel, Series, SweepChart};
use crate::figure::tornado::{Bar, Storm, Tornado};

/// Most values of a key that lines are drawn through, and most lines of a frame.
const MOST_POINTS: usize = 400;
const MOST_LINES: usize = 9;
/// Most cases of a study with lines.
const MOST_CASES: usize = 200_000;
/// The rule of thumb: degrees of root torque for each millimetre of expansion (common practice, no source).
pub(crate) const RULE_DEG_PER_MM: f64 = 5.0;

/// The name of a key in plain words, without its unit: `bone.loss_mm` is "bone loss".
pub(crate) fn plain_name(key: &Key) -> String {
    let path = key.path.strip_prefix("materials.").unwrap_or(key.path);
    let words: Vec<&str> = path
        .split(['.', '_'])
        .filter(|word| !matches!(*word, "mm" | "n" | "nmm" | "mpa" | "deg"))
        .map(|word| match word {
            "cej" => "the junction",
            "mesiodistal" => "mesio-distal width",
            "buccolingual" => "bucco-lingual width",
            "poisson" => "Poisson",
            other => other,
        })
        .collect();
    words.join(" ")
}

/// The same with the unit, in the language of a style.
fn with_unit(key: &Key, style: Style) -> String {
    let name = sentence_case(&style.say(&plain_name(key)));
    if key.unit.is_empty() { name } else { format!("{name} ({})", key.unit.replace("N mm", "N\u{b7}mm")) }
}

/// The lines of a grid; none where there is nothing to draw through.
pub(crate) fn lines(study: &Study, rows: &mut Rows, style: Style) -> std::io::Result<Option<SweepChart>> {
    if study.design != Design::Grid || study.len() > MOST_CASES {
        return Ok(None);
    }
    let Some(along) = main_axis(study) else { return Ok(None) };
    let beside = study
        .axes
        .iter()
        .enumerate()
        .filter(|(k, axis)| *k != along && (2..=MOST_LINES).contains(&count(axis)))
        .map(|(k, _)| k)
        .next();
    let cells = cells(&study.axes[along]);
    let words: Vec<String> = cells.iter().map(Cell::text).collect();
    let numbers: Vec<f64> = cells.iter().enumerate().map(|(k, c)| c.number().unwrap_or(k as f64)).collect();
    let takes_words = cells.iter().any(|c| c.number().is_none());
    // Columns: three places where the millimetre is measured, or one of them for each value of the second key.
    let tips = [
        ("bucco_lingual_tip_deg_per_mm_attachment", "at the attachment"),
        ("bucco_lingual_tip_deg_per_mm_cusp_tip", "at the cusp tip"),
        ("bucco_lingual_tip_deg_per_mm_crest", "at the crest"),
    ];
    let levers = [
        ("bucco_lingual_torque_for_translation_mm", "torque over force"),
        ("bucco_lingual_centre_of_resistance_depth_mm", "centre of resistance"),
    ];
    // Among many teeth there are incisors.
    let tips =
        if takes_words { [tips[0], (tips[1].0, "at the cusp tip or incisal edge"), tips[2]] } else { tips };
    let one = beside.is_some();
    let (tips, levers) = if one { (&tips[..1], &levers[..1]) } else { (&tips[..], &levers[..]) };
    let mut panels = Vec::new();
    for (columns, names, rule) in [
        (tips, tip_names(one), Some((RULE_DEG_PER_MM, style.say("rule of five")))),
        (levers, lever_names(one), None),
    ] {
        let mut series = Vec::new();
        for (column, name) in columns {
            let error = format!("{column}_error");
            let found = rows.numbers(&[column, &error])?;
            let lines = beside.map_or(1, |k| count(&study.axes[k]));
            for line in 0..lines {
                let name =
                    beside.map_or_else(|| style.say(name), |k| value_name(&study.axes[k], line, style));
                let points = (0..cells.len())
                    .map(|k| {
                        let case = case_of(study, along, k, beside.map(|b| (b, line)));
                        [if takes_words { k as f64 } else { numbers[k] }, found[0][case], found[1][case]]
                    })
                    .collect();
                series.push(Series { name, points });
            }
        }
        let names = names.iter().map(|name| style.say(name)).collect();
        panels.push(Panel { names, rule, series });
    }
    let along_names = if takes_words {
        Along::Words(words.iter().map(|w| sentence_case(&style.say(&w.replace('_', " ")))).collect())
    } else {
        let key = study.axes[along].key;
        Along::Numbers(vec![with_unit(key, style)])
    };
    let mut text =
        vec![style.say("Push to buccal (labial) in the bucco-lingual plane; bands: error of the mesh")];
    if let Some(k) = beside {
        text[0].push_str(&style.tell("; lines: {}", &[&style.say(&plain_name(study.axes[k].key))]));
    }
    let fixed: Vec<String> = study
        .axes
        .iter()
        .enumerate()
        .filter(|(k, axis)| *k != along && Some(*k) != beside && count(axis) > 1)
        .map(|(k, axis)| {
            format!("{} {}", style.say(&plain_name(axis.key)), value_name(&study.axes[k], 0, style))
        })
        .collect();
    if !fixed.is_empty() {
        text.push(style.tell("Shown for {}", &[&fixed.join(", ")]));
    }
    Ok(Some(SweepChart { style, title: study.title.clone(), lines: text, along: along_names, panels }))
}

fn tip_names(one: bool) -> [&'static str; 2] {
    let long = if one {
        "Tip for each mm that the attachment travels (degrees)"
    } else {
        "Tip for each mm of travel (degrees)"
    };
    [long, "Tip (degrees per mm)"]
}

fn lever_names(one: bool) -> [&'static str; 2] {
    if one {
        ["Torque for translation over force, at the attachment (mm)", "Torque over force (mm)"]
    } else {
        [
            "Torque for translation over force; centre of resistance below the crest (mm)",
            "Torque over force; depth (mm)",
        ]
    }
}

/// The key that lines run along: the one with most values, numbers before words.
fn main_axis(study: &Study) -> Option<usize> {
    let numeric = |axis: &Axis| cells(axis).iter().all(|c| c.number().is_some());
    let rank = |k: &usize| (numeric(&study.axes[*k]), count(&study.axes[*k]));
    let fits = |k: &usize| (2..=MOST_POINTS).contains(&count(&study.axes[*k]));
    // The first of equals.
    (0..study.axes.len()).filter(fits).rev().max_by_key(rank)
}

fn cells(axis: &Axis) -> Vec<Cell> {
    (0..count(axis)).filter_map(|k| axis.values.step(k).cloned()).collect()
}

fn count(axis: &Axis) -> usize {
    axis.values.count().unwrap_or(0)
}

/// "2 mm" or a word.
fn value_name(axis: &Axis, k: usize, style: Style) -> String {
    match axis.values.step(k) {
        Some(Cell::Number(value)) if axis.key.unit.is_empty() => style.number(*value),
        Some(Cell::Number(value)) => {
            format!("{} {}", style.number(*value), axis.key.unit.replace("N mm", "N\u{b7}mm"))
        }
        Some(Cell::Word(word)) => style.say(&word.replace('_', " ")),
        None => String::new(),
    }
}

/// Number of the case with some steps of one or two keys, the others at their first.
fn case_of(study: &Study, along: usize, step: usize, beside: Option<(usize, usize)>) -> usize {
    study.axes.iter().enumerate().fold(0, |case, (k, axis)| {
        let at = if k == along { step } else { beside.filter(|(b, _)| *b == k).map_or(0, |(_, line)| line) };
        case * count(axis).max(1) + at
    })
}

/// The tornado of a sample; none without drivers.
pub(crate) fn tornado(study: &Study, drivers: &[Drivers], style: Style) -> Option<Tornado> {
    let wanted =
        ["bucco_lingual_centre_of_resistance_depth_mm", "bucco_lingual_compensation_deg_per_mm_attachment"];
    let storms: Vec<Storm> = wanted
        .iter()
        .filter_map(|column| drivers.iter().find(|d| d.column == *column && !d.inputs.is_empty()))
        .map(|of| {
            let saltelli = of.inputs.iter().any(|d| d.indices.is_some());
            let bars = of
                .inputs
                .iter()
                .filter_map(|driver| {
                    let index: Option<Interval> =
                        driver.indices.map(|(_, total)| total).or(driver.correlation.filter(|_| !saltelli));
                    let key = study.axes.iter().find(|axis| axis.key.path == driver.key)?.key;
                    let shown = |i: Interval| {
                        let numbers = [i.value, i.low, i.high].map(|v| style.fixed(v, 2));
                        style.tell("{} ({} to {})", &numbers.each_ref().map(String::as_str))
                    };
                    Some(Bar {
                        name: style.say(&plain_name(key)),
                        ends: driver.fifths?,
                        index: index.map_or_else(|| "\u{2212}".to_owned(), shown),
                    })
                })
                .collect();
            let unit = if of.unit == "mm" { "mm".to_owned() } else { style.say("degrees per mm") };
            let name = sentence_case(&style.say(of.name));
            Storm {
                names: vec![format!("{name} ({unit})"), format!("{name}, {unit}")],
                mean: of.mean,
                index: if saltelli { "total index" } else { "rank correlation" }.to_owned(),
                bars,
            }
        })
        .collect();
    if storms.is_empty() {
        return None;
    }
    let cases = drivers.first().map_or(0, |d| d.cases);
    Some(Tornado {
        style,
        title: study.title.clone(),
        lines: vec![style.tell(
            "{} cases; bars from the mean among the lowest fifth of an input to that among the highest; 95 % intervals from \
             the bootstrap",
            &[&cases.to_string()],
        )],
        storms,
    })
}
