//! What the figures of a study show: lines of a grid, the tornado of a sample.

use super::drivers::Drivers;
use super::quantity::{ERROR, Quantity};
use super::sample::Design;
use super::sensitivity::Interval;
use super::space::Cell;
use super::table::Rows;
use super::{Axis, Reach, Study};
use crate::case::{Key, sentence_case};
use crate::figure::sweep::{Along, Panel, Point, Series, SweepChart, branch};
use crate::figure::tornado::{Bar, Storm, Tornado};
use crate::figure::{Size, Style};

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
pub(super) fn with_unit(key: &Key, style: Style) -> String {
    let name = sentence_case(&style.say(&plain_name(key)));
    if key.unit.is_empty() { name } else { format!("{name} ({})", key.unit.replace("N mm", "N\u{b7}mm")) }
}

/// What one frame shows: some results, each with the name of its line.
struct Group {
    /// Names of the frame, the longest first.
    names: Vec<String>,
    rule: bool,
    results: Vec<(Quantity, String)>,
}

/// Which keys a figure of lines shows, and how: along, as lines, as frames. The others stay at their first value.
struct Shown {
    along: usize,
    beside: Option<usize>,
    framed: Option<usize>,
}

impl Shown {
    /// The key with most values runs along; of the others with several values that with fewest makes frames if there are two,
    /// so that a frame holds most of them.
    fn of(study: &Study) -> Option<Self> {
        let along = main_axis(study)?;
        let mut others: Vec<usize> =
            (0..study.axes.len()).filter(|&k| k != along && count(&study.axes[k]) > 1).collect();
        others.sort_by_key(|&k| count(&study.axes[k]));
        others.truncate(2);
        others.sort_by_key(|&k| std::cmp::Reverse(count(&study.axes[k])));
        Some(Self { along, beside: others.first().copied(), framed: others.get(1).copied() })
    }

    /// Is one of the keys a part of the load?
    fn has_load(&self, study: &Study) -> bool {
        let keys = [Some(self.along), self.beside, self.framed];
        keys.into_iter().flatten().any(|k| study.axes[k].reach == Reach::Load)
    }

    /// What of the study is left out, in words; empty if nothing is.
    fn left_out(&self, study: &Study, style: Style, picks: &[(usize, &[usize])]) -> String {
        let mut parts = Vec::new();
        for (k, picked) in picks {
            let axis = &study.axes[*k];
            let all = count(axis);
            if picked.len() < all {
                let numbers = [picked.len(), all].map(|n| n.to_string());
                let name = style.say(&plain_name(axis.key));
                parts.push(style.tell("{} of {} values of {}", &[&numbers[0], &numbers[1], &name]));
            }
        }
        let shown = |k: usize| [Some(self.along), self.beside, self.framed].contains(&Some(k));
        for (k, axis) in study.axes.iter().enumerate().filter(|(k, axis)| !shown(*k) && count(axis) > 1) {
            let value = value_name(&study.axes[k], 0, style);
            parts.push(format!("{} {value}", style.say(&plain_name(axis.key))));
        }
        if parts.is_empty() { String::new() } else { style.tell("Shown for {}", &[&parts.join(", ")]) }
    }
}

/// What lines are drawn of.
pub(crate) const WANTED: &str = "lines are drawn of a grid, along a key with 2 to 400 values";

/// Can lines be drawn of a study?
pub(crate) fn has_lines(study: &Study) -> bool {
    study.design == Design::Grid && study.len() <= MOST_CASES && main_axis(study).is_some()
}

/// The lines of a grid: of the columns that are asked for, else of those that say most; none where there is nothing to draw
/// through.
pub(crate) fn lines(
    study: &Study,
    rows: &mut Rows,
    asked: &[Quantity],
    style: Style,
) -> std::io::Result<Option<SweepChart>> {
    if !has_lines(study) {
        return Ok(None);
    }
    let Some(shown) = Shown::of(study) else { return Ok(None) };
    let cells = cells(&study.axes[shown.along]);
    let takes_words = cells.iter().any(|c| c.number().is_none());
    let mut groups = groups(study, asked, &shown, takes_words, style);
    // Frames of a third key take the room of further results; where these are asked for, they keep theirs.
    if shown.framed.is_some() && asked.is_empty() {
        groups.truncate(if takes_words || style.size == Size::Slide { 1 } else { 2 });
    }
    let most_frames = match (takes_words, groups.len(), style.size) {
        (true, several, _) => (4 / several).max(1),
        (false, 1, _) => 8,
        _ => 4,
    };
    let lines = shown.beside.map(|k| picked(count(&study.axes[k]), MOST_LINES));
    let frames = shown.framed.map(|k| picked(count(&study.axes[k]), most_frames));
    let order = sorted(&cells);
    let mut poles = Vec::new();
    let mut panels = Vec::new();
    for group in &groups {
        let mut found = Vec::new();
        for (quantity, _) in &group.results {
            let column = quantity.column();
            let error = format!("{column}{ERROR}");
            found.push((rows.numbers(&[column, &error])?, quantity.quotients(rows)?));
        }
        for frame in frames.as_deref().unwrap_or(&[0]) {
            let mut series = Vec::new();
            for ((_, name), (numbers, quotients)) in group.results.iter().zip(&found) {
                for line in lines.as_deref().unwrap_or(&[0]) {
                    let name = shown
                        .beside
                        .map_or_else(|| name.clone(), |k| value_name(&study.axes[k], *line, style));
                    let point = |step: usize| {
                        let steps = [(shown.beside, *line), (shown.framed, *frame)];
                        let case = case_of(study, shown.along, step, steps);
                        Point {
                            x: cells[step].number().filter(|_| !takes_words).unwrap_or(step as f64),
                            value: numbers[0][case],
                            error: numbers[1][case],
                            quotient: quotients.as_ref().map(|all| all[case]).filter(|_| !takes_words),
                        }
                    };
                    series.push(Series { name, points: order.iter().map(|&step| point(step)).collect() });
                }
            }
            let caption = shown.framed.map_or_else(String::new, |k| {
                let axis = &study.axes[k];
                format!("{} {}", style.say(&plain_name(axis.key)), value_name(axis, *frame, style))
            });
            let has_pole = series.iter().any(|s| !branch::poles(&s.points).is_empty());
            if let Some((quantity, _)) = group.results.first().filter(|_| has_pole)
                && !poles.contains(&quantity.pole())
            {
                poles.push(quantity.pole());
            }
            let rule = group.rule.then(|| (RULE_DEG_PER_MM, style.say("rule of five")));
            panels.push(Panel { names: group.names.clone(), caption: sentence_case(&caption), rule, series });
        }
    }
    let along = if takes_words {
        let word = |cell: &Cell| sentence_case(&style.say(&cell.text().replace('_', " ")));
        Along::Words(cells.iter().map(word).collect())
    } else {
        let key = study.axes[shown.along].key;
        Along::Numbers(vec![with_unit(key, style), sentence_case(&style.say(&plain_name(key)))])
    };
    let key = shown.beside.map(|k| style.say(&plain_name(study.axes[k].key))).unwrap_or_default();
    let picks: Vec<(usize, &[usize])> = [(shown.beside, &lines), (shown.framed, &frames)]
        .into_iter()
        .filter_map(|(k, picked)| Some((k?, picked.as_deref()?)))
        .collect();
    let plane = groups.iter().flat_map(|g| &g.results).all(|(q, _)| q.is_bucco_lingual());
    let mut text = style.say(if plane {
        "Push to buccal (labial) in the bucco-lingual plane; bands: error of the mesh"
    } else {
        "Bands: error of the mesh"
    });
    if !key.is_empty() {
        text.push_str(&style.tell("; lines: {}", &[&key]));
    }
    if !poles.is_empty() {
        let poles: Vec<String> = poles.into_iter().map(|pole| style.say(pole)).collect();
        text.push_str(&style.tell("; dotted: {}", &[&poles.join(", ")]));
    }
    Ok(Some(SweepChart {
        style,
        title: study.title.clone(),
        lines: vec![text],
        left_out: shown.left_out(study, style, &picks),
        along,
        key: if key.is_empty() { key } else { format!("{}:", sentence_case(&key)) },
        panels,
    }))
}

/// What the frames show: the columns that are asked for; or under a load that varies centre of rotation, tip and travel; or else
/// the tip for each millimetre and what makes a translation, at several places if there is but one line for each.
fn groups(study: &Study, asked: &[Quantity], shown: &Shown, takes_words: bool, style: Style) -> Vec<Group> {
    let alone = |quantity: Quantity| Group {
        names: vec![quantity.title(study, style)],
        rule: quantity.is_ruled(),
        results: vec![(quantity, String::new())],
    };
    if !asked.is_empty() {
        return asked.iter().cloned().map(alone).collect();
    }
    let known = |name: &str| Quantity::known(study, &format!("bucco_lingual_{name}"));
    if shown.has_load(study) {
        let names = ["centre_of_rotation_depth_mm", "tip_deg", "travel_mm"];
        return names.into_iter().filter_map(known).map(alone).collect();
    }
    // Among many teeth there are incisors.
    let cusp = if takes_words { "at the cusp tip or incisal edge" } else { "at the cusp tip" };
    let tips = [
        ("tip_deg_per_mm_attachment", "at the attachment"),
        ("tip_deg_per_mm_cusp_tip", cusp),
        ("tip_deg_per_mm_crest", "at the crest"),
    ];
    let levers = [
        ("torque_for_translation_mm", "torque over force"),
        ("centre_of_resistance_depth_mm", "centre of resistance"),
    ];
    let one = shown.beside.is_some();
    let group = |results: &[(&str, &str)], names: [&str; 2], rule: bool| Group {
        names: names.map(|name| style.say(name)).to_vec(),
        rule,
        results: results
            .iter()
            .take(if one { 1 } else { results.len() })
            .filter_map(|(column, name)| Some((known(column)?, style.say(name))))
            .collect(),
    };
    vec![group(&tips, tip_names(one), true), group(&levers, lever_names(one), false)]
}

/// Some of a number of steps, evenly spread with both ends among them, and no more than a figure holds.
fn picked(count: usize, most: usize) -> Vec<usize> {
    if count <= most {
        return (0..count).collect();
    }
    (0..most).map(|k| (k * (count - 1) + (most - 1) / 2) / (most - 1)).collect()
}

/// Numbers of the steps in the order of their values; words stay in theirs.
fn sorted(cells: &[Cell]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..cells.len()).collect();
    let numbers: Option<Vec<f64>> = cells.iter().map(Cell::number).collect();
    if let Some(numbers) = numbers {
        order.sort_by(|&a, &b| numbers[a].total_cmp(&numbers[b]));
    }
    order
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

/// Number of the case with a step of the key along and of up to two others, the rest at their first.
fn case_of(study: &Study, along: usize, step: usize, others: [(Option<usize>, usize); 2]) -> usize {
    study.axes.iter().enumerate().fold(0, |case, (k, axis)| {
        let other = || others.iter().find(|(key, _)| *key == Some(k)).map_or(0, |(_, step)| *step);
        let at = if k == along { step } else { other() };
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
                        value: index.map_or_else(|| "\u{2212}".to_owned(), |i| style.fixed(i.value, 2)),
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
