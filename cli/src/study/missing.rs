//! What a sample lacks: cases without a result by cause, and the side of each input on which they lie. A sample that loses
//! one side says less about the rest.

use std::collections::BTreeMap;

use serde::Serialize;

/// Standard errors that the mean place of the lost cases must lie off the middle before a side is named: by chance once in
/// four hundred inputs.
const SURE: f64 = 3.0;

/// Cases lost for one cause.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Lost {
    /// How many.
    pub(crate) cases: usize,
    /// The reason of the first of them; those of the others differ in numbers only.
    pub(crate) reason: String,
    /// Inputs of which mostly one side is missing.
    pub(crate) missing: Vec<Side>,
}

/// An input whose lost cases lie mostly on one side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Side {
    /// The input.
    pub(crate) input: String,
    /// "low" or "high".
    #[serde(rename = "side")]
    pub(crate) end: &'static str,
    /// Mean place of the lost cases among all, 0 (lowest) to 1 (highest); chance gives a half.
    pub(crate) mean_place: f64,
}

/// Groups lost cases by their reason, whatever the numbers in it, the commonest first. Each case has a place from 0 to 1
/// in each input; what has none is not a number.
pub(crate) fn by_cause<'a>(
    inputs: &[&str],
    lost: impl IntoIterator<Item = (&'a str, Vec<f64>)>,
) -> Vec<Lost> {
    let mut groups: BTreeMap<String, (usize, &'a str, Vec<Vec<f64>>)> = BTreeMap::new();
    for (k, (reason, places)) in lost.into_iter().enumerate() {
        groups.entry(without_numbers(reason)).or_insert_with(|| (k, reason, Vec::new())).2.push(places);
    }
    let mut groups: Vec<_> = groups.into_values().collect();
    groups.sort_by(|a, b| b.2.len().cmp(&a.2.len()).then(a.0.cmp(&b.0)));
    groups
        .into_iter()
        .map(|(_, reason, places)| Lost {
            cases: places.len(),
            reason: reason.to_owned(),
            missing: inputs
                .iter()
                .enumerate()
                .filter_map(|(k, input)| {
                    side(places.iter().map(|p| p[k])).map(|(end, mean_place)| Side {
                        input: (*input).to_owned(),
                        end,
                        mean_place,
                    })
                })
                .collect(),
        })
        .collect()
}

/// The side on which places lie whose mean is too far from a half for chance: places of uniform chance have a variance of
/// a twelfth.
fn side(places: impl Iterator<Item = f64>) -> Option<(&'static str, f64)> {
    let known: Vec<f64> = places.filter(|p| p.is_finite()).collect();
    let mean = known.iter().sum::<f64>() / known.len() as f64;
    let off = (mean - 0.5) * (12.0 * known.len() as f64).sqrt();
    (off.abs() > SURE).then_some((if off < 0.0 { "low" } else { "high" }, mean))
}

/// Places of values among all of them, 0 to 1: the share of smaller ones, and half of its equals.
pub(crate) fn places(values: &[f64]) -> Vec<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let count = sorted.len() as f64;
    values
        .iter()
        .map(|value| {
            if !value.is_finite() {
                return f64::NAN;
            }
            let below = sorted.partition_point(|v| v < value);
            let upto = sorted.partition_point(|v| v <= value);
            0.5 * (below + upto) as f64 / count
        })
        .collect()
}

/// A sentence about cases that are lost for one cause.
pub(crate) fn sentence(lost: &Lost) -> String {
    let cases = if lost.cases == 1 { "1 case".to_owned() } else { format!("{} cases", lost.cases) };
    let example = if lost.cases == 1 { "" } else { "for example " };
    let missing: Vec<String> = lost.missing.iter().map(|m| format!("{} {}", m.end, m.input)).collect();
    let side = match missing.as_slice() {
        [] => String::new(),
        all => format!(" Mostly missing: {}.", all.join(", ")),
    };
    format!("{cases}: {example}{}.{side}", lost.reason.trim_end_matches('.'))
}

/// A text with a mark for each number.
fn without_numbers(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        if !c.is_ascii_digit() {
            out.push(c);
            continue;
        }
        while chars.next_if(|c| c.is_ascii_digit() || *c == '.').is_some() {}
        out.push('#');
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn causes_are_told_apart_by_words_and_not_by_numbers() {
        let reasons = [
            "the crest lies 7.31 mm down",
            "too thin",
            "the crest lies 7.5 mm down",
            "the crest lies 8 mm down",
        ];
        let lost = by_cause(&["depth"], reasons.map(|r| (r, vec![0.5])));
        assert_eq!(
            lost.iter().map(|l| (l.cases, l.reason.as_str())).collect::<Vec<_>>(),
            [(3, reasons[0]), (1, reasons[1])]
        );
        assert_eq!(sentence(&lost[0]), "3 cases: for example the crest lies 7.31 mm down.");
        assert_eq!(sentence(&lost[1]), "1 case: too thin.");
    }

    #[test]
    fn a_side_is_named_where_chance_would_hardly_put_it() {
        // Nine of sixty-four cases, all from the upper third of one input: their mean, 0.85, is 3.6 standard errors off.
        let lost = (0..9)
            .map(|k| ("deep", vec![0.7 + 0.3 * (f64::from(k) + 0.5) / 9.0, (f64::from(k) + 0.5) / 9.0]));
        let found = by_cause(&["crest", "crown"], lost);
        assert_eq!(found.len(), 1);
        let [side] = found[0].missing.as_slice() else { panic!("{found:?}") };
        assert_eq!((side.input.as_str(), side.end), ("crest", "high"));
        assert!((side.mean_place - 0.85).abs() < 1e-12);
        assert!(sentence(&found[0]).ends_with(" Mostly missing: high crest."));
        // Three cases are too few for any side: the mean can be 0.5 / sqrt(1 / 36) = 3 standard errors off at most.
        let few = by_cause(&["crest"], (0..3).map(|_| ("deep", vec![0.99])));
        assert!(few[0].missing.is_empty());
    }

    #[test]
    fn places_share_equals_and_leave_words_out() {
        assert_eq!(places(&[1.0, 3.0, 2.0, 2.0])[..3], [0.125, 0.875, 0.5]);
        let found = places(&[f64::NAN, 4.0]);
        assert!(found[0].is_nan());
        assert_eq!(found[1].to_bits(), 0.5_f64.to_bits());
    }
}
