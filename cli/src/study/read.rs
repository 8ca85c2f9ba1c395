//! From the text of STUDY.toml to a study. Every complaint names the place in the file and what would be right.

use std::ops::RangeInclusive;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::charts::plain_name;
use super::sample::{Design, MOST_KEYS, MOST_SAMPLES, Sample};
use super::space::{Cell, Distribution, Values};
use super::{Axis, MOST_CASES, Reach, Study};
use crate::case::read::{assignments, given, parse, value_span};
use crate::case::{
    Assignment, Complaint, Given, Key, Kind, Origin, SourceFile, check_assignments, check_line, one_of,
    shorten, unknown_key,
};

/// Keys of the top of a study file.
const TOP: [&str; 6] = ["title", "design", "samples", "seed", "case", "vary"];
/// Keys of what a varied key runs over.
const OVER: [&str; 8] = ["from", "to", "steps", "distribution", "mean", "sd", "values", "weights"];
/// Names of the distributions, each with what it needs.
const DISTRIBUTIONS: [(&str, &[&str]); 5] = [
    ("uniform", &["from", "to"]),
    ("log_uniform", &["from", "to"]),
    ("normal", &["mean", "sd"]),
    ("truncated_normal", &["mean", "sd", "from", "to"]),
    ("discrete", &["values", "weights"]),
];
/// Most values of one list or range.
const MOST_VALUES: usize = 1_000_000;
/// Longest title, characters.
const LONGEST_TITLE: usize = 120;
/// Samples that are drawn where the file does not say.
const SAMPLES: usize = 64;

type Value<'a> = Spanned<DeValue<'a>>;

/// Reads a study.
pub(super) fn study(file: &Arc<SourceFile>) -> Result<Study, Complaint> {
    let text = file.text.clone();
    let root = parse(&text, file)?;
    let root = root.get_ref();
    let at = |span| Origin::File(Arc::clone(file), span);
    for (name, _) in root {
        if !TOP.contains(&name.get_ref().as_ref()) {
            return Err(unknown(name.get_ref(), &TOP, "a study", at(name.span()), true));
        }
    }
    let whole = |name: &str, range: RangeInclusive<usize>| whole_number(root.get(name), name, range, file);
    let seed = whole("seed", 0..=u32::MAX as usize)?.unwrap_or(1) as u64;
    let samples = whole("samples", 2..=MOST_SAMPLES)?;
    let design = match root.get("design") {
        None => Design::Grid,
        Some(value) => {
            let name = match value.get_ref() {
                DeValue::String(text) => text.to_string(),
                _ => String::new(),
            };
            Design::named(&name).ok_or_else(|| {
                let given = given(value.get_ref());
                Complaint::new(format!("design is {given}; {}", one_of(&Design::NAMES)), at(value.span()))
            })?
        }
    };
    if let (Design::Grid, Some(_), Some(value)) = (design, samples, root.get("samples")) {
        let sentence = "samples has no meaning for a grid, which holds every combination; set design = \
             \"latin_hypercube\", \"sobol\" or \"saltelli\" too, or leave samples out";
        return Err(Complaint::new(sentence, at(value.span())));
    }
    let base = match root.get("case") {
        None => Vec::new(),
        Some(value) => match value.get_ref() {
            DeValue::Table(table) => assignments(table, file),
            other => {
                let sentence = format!("case is {}; a table with keys of a case is wanted", given(other));
                return Err(Complaint::new(sentence, at(value.span())));
            }
        },
    };
    if let Some(given) = base.iter().find(|given| given.key == "name") {
        let sentence =
            "name belongs to a single case; a study has a title, title = \"...\" at the top of its file";
        return Err(Complaint::new(sentence, given.key_origin.clone()));
    }
    check_assignments(&base)?;
    let axes = axes(root, file)?;
    let title = match root.get("title") {
        // Not the file's name: a copy of the study is the same study.
        None => {
            let names: Vec<String> = axes.iter().map(|axis| plain_name(axis.key)).collect();
            format!("Study of {}", names.join(", "))
        }
        Some(value) => match value.get_ref() {
            DeValue::String(text) => {
                let text = text.trim_matches(' ');
                check_line("title", text, LONGEST_TITLE)
                    .map_err(|sentence| Complaint::new(sentence, at(value.span())))?;
                text.to_owned()
            }
            _ => return Err(Complaint::new("title is not a text; a few words are wanted", at(value.span()))),
        },
    };
    together(&base, &axes)?;
    for axis in &axes {
        if design == Design::Grid && axis.values.count().is_none() {
            let sentence = format!(
                "a grid runs over lists and ranges, but {} has a distribution; set design = \"latin_hypercube\", \"sobol\" or \
                 \"saltelli\", or give from, to and steps alone",
                axis.key.path
            );
            return Err(Complaint::new(sentence, axis.origin.clone()));
        }
    }
    let samples = samples.unwrap_or(SAMPLES);
    let sample = Sample::new(design, axes.len(), samples, seed);
    let cases = match design {
        Design::Grid => axes
            .iter()
            .map(|axis| axis.values.count().unwrap_or(1))
            .try_fold(1_usize, usize::checked_mul)
            .unwrap_or(usize::MAX),
        _ => sample.len(),
    };
    if cases > MOST_CASES {
        let sentence = format!(
            "this study has {} cases; at most {MOST_CASES} are run: fewer steps, or a sample (design = \"sobol\"), would do",
            if cases == usize::MAX { "very many".to_owned() } else { cases.to_string() }
        );
        return Err(Complaint::new(sentence, axes.first().map_or(Origin::Default, |a| a.key_origin.clone())));
    }
    Ok(Study { title, design, axes, source: Arc::clone(file), sample, base, cases })
}

/// Keys that are fixed and varied, or varied twice in effect, exclude each other.
fn together(base: &[Assignment], axes: &[Axis]) -> Result<(), Complaint> {
    for axis in axes {
        if base.iter().any(|given| given.key == axis.key.path) {
            let sentence =
                format!("{} varies here and is fixed in [case]; one of the two must go", axis.key.path);
            return Err(Complaint::new(sentence, axis.key_origin.clone()));
        }
    }
    let mut all = base.to_vec();
    for axis in axes {
        all.push(axis_assignment(axis, &axis.values.at(0.5)));
    }
    check_assignments(&all)
}

fn axis_assignment(axis: &Axis, cell: &Cell) -> Assignment {
    let value = match cell {
        Cell::Number(number) => Given::Number(*number, super::space::number_text(*number)),
        Cell::Word(word) => Given::Text(word.clone()),
    };
    Assignment {
        key: axis.key.path.to_owned(),
        value,
        key_origin: axis.key_origin.clone(),
        tables: Vec::new(),
        origin: axis.origin.clone(),
    }
}

fn axes(root: &DeTable<'_>, file: &Arc<SourceFile>) -> Result<Vec<Axis>, Complaint> {
    let wanted = "a study varies at least one key, for example\n  [vary]\n  attachment.height_mm = { from = 3, to = 6, \
                  steps = 7 }";
    let Some(value) = root.get("vary") else {
        return Err(Complaint::plain(format!("{}: there is no table [vary]; {wanted}", file.name)));
    };
    let DeValue::Table(table) = value.get_ref() else {
        let sentence = format!("vary is {}; {wanted}", given(value.get_ref()));
        return Err(Complaint::new(sentence, Origin::File(Arc::clone(file), value.span())));
    };
    let mut found = Vec::new();
    collect("", table, file, &mut found)?;
    if found.is_empty() {
        return Err(Complaint::plain(format!("{}: [vary] is empty; {wanted}", file.name)));
    }
    found.sort_by_key(|(at, _)| *at);
    let axes: Vec<Axis> = found.into_iter().map(|(_, axis)| axis).collect();
    if axes.len() > MOST_KEYS {
        let sentence = format!("{} keys vary; at most {MOST_KEYS} can", axes.len());
        return Err(Complaint::new(sentence, axes[MOST_KEYS].key_origin.clone()));
    }
    for (k, axis) in axes.iter().enumerate() {
        if axes[..k].iter().any(|other| other.key.path == axis.key.path) {
            let sentence = format!("{} varies a second time; once is enough", axis.key.path);
            return Err(Complaint::new(sentence, axis.key_origin.clone()));
        }
    }
    Ok(axes)
}

/// Finds the keys in nested tables: `[vary.bone] loss_mm = ...` and `bone.loss_mm = ...` are the same.
fn collect(
    prefix: &str,
    table: &DeTable<'_>,
    file: &Arc<SourceFile>,
    found: &mut Vec<(usize, Axis)>,
) -> Result<(), Complaint> {
    for (name, value) in table {
        let path = if prefix.is_empty() {
            name.get_ref().to_string()
        } else {
            format!("{prefix}.{}", name.get_ref())
        };
        let key_origin = Origin::File(Arc::clone(file), name.span());
        let origin = Origin::File(Arc::clone(file), value_span(name, value));
        let Some(key) = Key::find(&path) else {
            let is_table = Key::is_table(&path);
            match value.get_ref() {
                DeValue::Table(inner) if is_table => {
                    collect(&path, inner, file, found)?;
                    continue;
                }
                _ => {
                    let given = given(value.get_ref());
                    return Err(unknown_key(&Assignment {
                        key: path,
                        value: given,
                        key_origin,
                        tables: Vec::new(),
                        origin,
                    }));
                }
            }
        };
        if path == "name" {
            let sentence =
                "name does not vary: the cases of a study are told apart by their numbers and values";
            return Err(Complaint::new(sentence, key_origin));
        }
        if path.starts_with("map.") {
            let sentence = format!(
                "{path} belongs to the map that `gomphosis map` draws and changes nothing in a study"
            );
            return Err(Complaint::new(sentence, key_origin));
        }
        let values = over(key, value, &origin, file)?;
        let axis = Axis { key, values, reach: Reach::of(key.path), key_origin, origin };
        if let Values::List { cells, .. } = &axis.values {
            for cell in cells {
                check_assignments(&[axis_assignment(&axis, cell)])?;
            }
        }
        found.push((name.span().start, axis));
    }
    Ok(())
}

/// What a key runs over.
fn over(
    key: &'static Key,
    value: &Value<'_>,
    origin: &Origin,
    file: &Arc<SourceFile>,
) -> Result<Values, Complaint> {
    match value.get_ref() {
        DeValue::Array(items) => {
            let cells: Vec<Cell> =
                items.iter().map(|item| cell(key, item, file)).collect::<Result<_, _>>()?;
            if cells.is_empty() {
                let sentence = format!("{} runs over an empty list; at least one value is wanted", key.path);
                return Err(Complaint::new(sentence, origin.clone()));
            }
            Ok(Values::list(cells))
        }
        DeValue::Table(table) => from_table(key, table, origin, file),
        other => {
            let sentence = format!(
                "{} is {}; what it runs over is wanted: a list [...], a range {{ from, to, steps }} or a distribution",
                key.path,
                given(other)
            );
            Err(Complaint::new(sentence, origin.clone()))
        }
    }
}

/// One value of a list; a value that the key does not take is complained about at its own place.
fn cell(key: &Key, item: &Value<'_>, file: &Arc<SourceFile>) -> Result<Cell, Complaint> {
    let origin = Origin::File(Arc::clone(file), item.span());
    let value = given(item.get_ref());
    check_assignments(&[Assignment {
        key: key.path.to_owned(),
        value: value.clone(),
        key_origin: origin.clone(),
        tables: Vec::new(),
        origin,
    }])?;
    Ok(match value {
        // A tooth's number is a name.
        Given::Number(_, spelling) if matches!(key.kind, Kind::Tooth) => Cell::Word(spelling),
        Given::Number(number, _) => Cell::Number(number),
        Given::Text(text) => Cell::Word(text),
        Given::Other(_) => Cell::Word(String::new()),
    })
}

fn from_table(
    key: &'static Key,
    table: &DeTable<'_>,
    origin: &Origin,
    file: &Arc<SourceFile>,
) -> Result<Values, Complaint> {
    let at = |span| Origin::File(Arc::clone(file), span);
    for (name, _) in table {
        if !OVER.contains(&name.get_ref().as_ref()) {
            return Err(unknown(name.get_ref(), &OVER, "what a key runs over", at(name.span()), false));
        }
    }
    let wrong = |sentence: String| Complaint::new(sentence, origin.clone());
    let name = match table.get("distribution") {
        None => None,
        Some(value) => {
            let names = DISTRIBUTIONS.map(|(name, _)| name);
            let text = match value.get_ref() {
                DeValue::String(text) => text.to_string(),
                _ => String::new(),
            };
            let found = DISTRIBUTIONS.iter().find(|(name, _)| *name == text);
            let sentence = || format!("distribution is {}; {}", given(value.get_ref()), one_of(&names));
            Some(found.ok_or_else(|| Complaint::new(sentence(), at(value.span())))?)
        }
    };
    let (what, needs): (&str, &[&str]) = match name {
        Some((name, needs)) => (name, needs),
        None if table.get("values").is_some() => ("discrete", &["values"]),
        None => ("range", &["from", "to", "steps"]),
    };
    for need in needs.iter().filter(|need| **need != "weights") {
        if table.get(*need).is_none() {
            let hint = if what == "range" {
                "; a range has from, to and steps (a distribution has a name: distribution = \"uniform\")"
            } else {
                ""
            };
            return Err(wrong(format!("{}: {need} is missing{hint}", key.path)));
        }
    }
    if let Some((extra, _)) = table
        .iter()
        .find(|(name, _)| name.get_ref() != "distribution" && !needs.contains(&name.get_ref().as_ref()))
        .filter(|(name, _)| !(what == "discrete" && name.get_ref() == "weights"))
    {
        let sentence =
            format!("{} has no meaning for a {what}; it takes {}", extra.get_ref(), needs.join(", "));
        return Err(Complaint::new(sentence, at(extra.span())));
    }
    if what == "discrete" {
        return discrete(key, table, origin, file);
    }
    if !matches!(key.kind, Kind::Number { .. } | Kind::Count { .. }) {
        return Err(wrong(format!(
            "{} takes words; a list of them is wanted, such as [\"...\", \"...\"]",
            key.path
        )));
    }
    let number = |name: &str| -> Result<f64, Complaint> {
        let Some(value) = table.get(name) else { return Ok(f64::NAN) };
        match given(value.get_ref()) {
            Given::Number(number, _) if number.is_finite() => Ok(number),
            other => {
                Err(Complaint::new(format!("{name} is {other}; a finite number is wanted"), at(value.span())))
            }
        }
    };
    let [from, to, mean, sd] = [number("from")?, number("to")?, number("mean")?, number("sd")?];
    if from >= to {
        return Err(wrong(format!(
            "{} runs from {from} to {to}; the end must lie above the start",
            key.path
        )));
    }
    if sd <= 0.0 {
        return Err(wrong(format!(
            "the standard deviation of {} is {sd}; a positive number is wanted",
            key.path
        )));
    }
    if what == "range" {
        let steps = whole_number(table.get("steps"), "steps", 2..=MOST_VALUES, file)?.unwrap_or(2);
        return Ok(Values::range(from, to, steps));
    }
    if matches!(key.kind, Kind::Count { .. }) {
        return Err(wrong(format!("{} takes whole numbers; a list of them is wanted", key.path)));
    }
    Ok(Values::Drawn(match what {
        "uniform" => Distribution::Uniform { from, to },
        "log_uniform" if from <= 0.0 => {
            return Err(wrong(format!("from is {from}; a log-uniform distribution lies above 0")));
        }
        "log_uniform" => Distribution::LogUniform { from, to },
        "normal" => Distribution::Normal { mean, sd },
        _ => {
            // Nothing of the bell is left between ends that lie too far out.
            if (from - mean) / sd > 30.0 || (mean - to) / sd > 30.0 {
                return Err(wrong(format!(
                    "{from} to {to} lies more than 30 standard deviations from the mean {mean}"
                )));
            }
            Distribution::TruncatedNormal { mean, sd, from, to }
        }
    }))
}

fn discrete(
    key: &'static Key,
    table: &DeTable<'_>,
    origin: &Origin,
    file: &Arc<SourceFile>,
) -> Result<Values, Complaint> {
    let Some(value) = table.get("values") else { return Ok(Values::list(Vec::new())) };
    let DeValue::Array(_) = value.get_ref() else {
        let sentence = format!("values is {}; a list is wanted", given(value.get_ref()));
        return Err(Complaint::new(sentence, Origin::File(Arc::clone(file), value.span())));
    };
    let listed = over(key, value, origin, file)?;
    let (Values::List { cells, .. }, Some(weights)) = (&listed, table.get("weights")) else {
        return Ok(listed);
    };
    let at = Origin::File(Arc::clone(file), weights.span());
    let wanted = format!("as many positive numbers as there are values ({}) are wanted", cells.len());
    let DeValue::Array(items) = weights.get_ref() else {
        return Err(Complaint::new(format!("weights is {}; {wanted}", given(weights.get_ref())), at));
    };
    let numbers: Vec<f64> = items
        .iter()
        .map(|item| match given(item.get_ref()) {
            Given::Number(number, _) => number,
            _ => f64::NAN,
        })
        .collect();
    let sum: f64 = numbers.iter().sum();
    if numbers.len() != cells.len() || !sum.is_finite() || numbers.iter().any(|w| *w <= 0.0) {
        return Err(Complaint::new(format!("weights do not fit the values; {wanted}"), at));
    }
    Ok(Values::List { cells: cells.clone(), weights: numbers.iter().map(|w| w / sum).collect() })
}

fn whole_number(
    value: Option<&Value<'_>>,
    name: &str,
    range: RangeInclusive<usize>,
    file: &Arc<SourceFile>,
) -> Result<Option<usize>, Complaint> {
    let Some(value) = value else { return Ok(None) };
    let found = given(value.get_ref());
    if let Given::Number(number, _) = found
        && number.fract() == 0.0
        && number >= *range.start() as f64
        && number <= *range.end() as f64
    {
        return Ok(Some(number as usize));
    }
    let sentence =
        format!("{name} is {found}; a whole number from {} to {} is wanted", range.start(), range.end());
    Err(Complaint::new(sentence, Origin::File(Arc::clone(file), value.span())))
}

/// A key of ours that does not exist, with the nearest that does.
fn unknown(name: &str, known: &[&str], of: &str, origin: Origin, top: bool) -> Complaint {
    let nearest = known
        .iter()
        .filter(|_| name.len() <= 80)
        .map(|k| (strsim::normalized_damerau_levenshtein(name, k), *k))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(score, _)| *score > 0.5);
    let hint = match nearest {
        Some((_, near)) => format!("the nearest is {near}"),
        // A key of a case at the top of a study belongs into [case].
        None if top && (Key::find(name).is_some() || Key::is_table(name)) => {
            "keys of the case stand in [case], those that vary in [vary]".to_owned()
        }
        None => format!("it takes {}", known.join(", ")),
    };
    Complaint::new(format!("{of} has no key {}; {hint}", shorten(name)), origin)
}
