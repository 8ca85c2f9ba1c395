//! An animated drawing at a moment: the document that a player of SVG shows then. It knows what our drawings use of SMIL:
//! `animate` and `animateTransform` with a list of values, repeated for ever, even or in steps.

use std::ops::Range;

use resvg::usvg::roxmltree::{Document, Node};

/// A drawing that moves.
#[derive(Debug)]
pub(crate) struct Film<'a> {
    document: &'a str,
    tracks: Vec<Track>,
    seconds: f64,
}

/// One attribute that changes.
#[derive(Debug)]
struct Track {
    /// Where its element of SMIL stands.
    element: Range<usize>,
    /// Where the value of the attribute stands, or the place before which the attribute is missing.
    place: Range<usize>,
    /// What stands before the value and after it.
    around: [String; 2],
    values: Vec<String>,
    /// When each value holds or is reached, as shares of the whole.
    times: Vec<f64>,
    is_even: bool,
    seconds: f64,
}

impl<'a> Film<'a> {
    /// The film of a document; none if nothing in it moves.
    ///
    /// # Errors
    /// A sentence on what is not understood.
    pub(crate) fn new(document: &'a str) -> Result<Option<Self>, String> {
        let tree = Document::parse(document).map_err(|e| e.to_string())?;
        let moving = |node: &Node<'_, '_>| matches!(node.tag_name().name(), "animate" | "animateTransform");
        let mut tracks: Vec<Track> =
            tree.descendants().filter(moving).map(|node| track(&node)).collect::<Result<_, _>>()?;
        tracks.sort_by_key(|track| track.place.start);
        let seconds = tracks.iter().map(|track| track.seconds).fold(0.0, f64::max);
        Ok((seconds > 0.0).then_some(Self { document, tracks, seconds }))
    }

    /// Seconds until it begins anew.
    pub(crate) fn seconds(&self) -> f64 {
        self.seconds
    }

    /// The document at a moment (seconds from the beginning), without anything that moves.
    pub(crate) fn at(&self, seconds: f64) -> String {
        let mut edits: Vec<(Range<usize>, String)> = Vec::with_capacity(2 * self.tracks.len());
        for track in &self.tracks {
            let [before, after] = &track.around;
            edits.push((track.place.clone(), format!("{before}{}{after}", track.value(seconds))));
            edits.push((track.element.clone(), String::new()));
        }
        edits.sort_by_key(|(place, _)| place.start);
        let mut text = String::with_capacity(self.document.len());
        let mut from = 0;
        for (place, new) in edits {
            text.push_str(&self.document[from..place.start]);
            text.push_str(&new);
            from = place.end;
        }
        text.push_str(&self.document[from..]);
        text
    }
}

/// The track of an element of SMIL.
fn track(node: &Node<'_, '_>) -> Result<Track, String> {
    let given = |name: &str| node.attribute(name).ok_or_else(|| format!("an animation lacks {name}"));
    let parent = node.parent_element().ok_or("an animation stands alone")?;
    let name = given("attributeName")?;
    let values: Vec<String> = given("values")?.split(';').map(|v| v.trim().to_owned()).collect();
    let is_even = match node.attribute("calcMode").unwrap_or("linear") {
        "linear" => true,
        "discrete" => false,
        other => return Err(format!("an animation runs {other}")),
    };
    let number =
        |text: &str| text.trim().parse::<f64>().map_err(|e| format!("'{text}' in an animation: {e}"));
    let seconds = number(given("dur")?.trim_end_matches('s'))?;
    let count = values.len() as f64;
    let times = match node.attribute("keyTimes") {
        Some(list) => list.split(';').map(number).collect::<Result<Vec<f64>, String>>()?,
        None if is_even => (0..values.len()).map(|k| k as f64 / (count - 1.0).max(1.0)).collect(),
        None => (0..values.len()).map(|k| k as f64 / count).collect(),
    };
    if times.len() != values.len() {
        return Err(format!("an animation has {} values and {} times", values.len(), times.len()));
    }
    // Values of a transform stand in brackets after its name.
    let [open, close] = match node.attribute("type") {
        Some(kind) if node.tag_name().name() == "animateTransform" => [format!("{kind}("), ")".to_owned()],
        _ => [String::new(), String::new()],
    };
    let (place, around) = if let Some(attribute) = parent.attribute_node(name) {
        (attribute.range_value(), [open, close])
    } else {
        let end = parent.range().start + 1 + parent.tag_name().name().len();
        (end..end, [format!(" {name}=\"{open}"), format!("{close}\"")])
    };
    Ok(Track { element: node.range(), place, around, values, times, is_even, seconds })
}

impl Track {
    /// The value at a moment.
    fn value(&self, seconds: f64) -> String {
        let share = (seconds / self.seconds).rem_euclid(1.0);
        let k = self.times.iter().rposition(|time| *time <= share).unwrap_or(0);
        match (self.values.get(k + 1), self.times.get(k + 1)) {
            (Some(next), Some(end)) if self.is_even && *end > self.times[k] => {
                mixed(&self.values[k], next, (share - self.times[k]) / (end - self.times[k]))
            }
            _ => self.values[k].clone(),
        }
    }
}

/// A text between two that differ in their numbers only.
fn mixed(from: &str, to: &str, share: f64) -> String {
    let (a, b) = (tokens(from), tokens(to));
    if a.len() != b.len() {
        return from.to_owned();
    }
    let mut text = String::with_capacity(from.len());
    for (a, b) in a.iter().zip(b) {
        match (a.parse::<f64>(), b.parse::<f64>()) {
            (Ok(x), Ok(y)) => text.push_str(&super::svg::short(x + share * (y - x))),
            _ => text.push_str(a),
        }
    }
    text
}

/// Numbers and what stands between them.
fn tokens(text: &str) -> Vec<&str> {
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+');
    let mut found = Vec::new();
    let mut begin = 0;
    let mut before: Option<bool> = None;
    for (k, c) in text.char_indices() {
        let now = is_number(c);
        // A sign begins a number of its own.
        if before.is_some_and(|before| before != now || (now && matches!(c, '-' | '+'))) {
            found.push(&text[begin..k]);
            begin = k;
        }
        before = Some(now);
    }
    found.push(&text[begin..]);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    const DOCUMENT: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\"><path d=\"M0 0L1 1\" fill=\"none\"><animate \
         attributeName=\"d\" values=\"M0 0L1 1;M10 -4L1 3;M10 -4L1 3\" keyTimes=\"0;0.5;1\" dur=\"4s\" \
         calcMode=\"linear\"/></path><g><animateTransform attributeName=\"transform\" type=\"translate\" values=\"0 0;1 \
         2;3 4;5 6\" dur=\"4s\" calcMode=\"discrete\"/><circle r=\"1\"/></g></svg>";

    #[test]
    fn values_are_those_of_a_player() {
        // Semantics of SMIL (W3C Recommendation SMIL 3.0, 12.6.1): even between key times, steps hold until the next.
        let film = Film::new(DOCUMENT).expect("understood").expect("it moves");
        assert!((film.seconds() - 4.0).abs() < 1e-12);
        let one = film.at(1.0);
        assert!(one.contains("<path d=\"M5 -2L1 2\" fill=\"none\"></path>"), "{one}");
        assert!(one.contains("<g transform=\"translate(1 2)\"><circle"), "{one}");
        for (seconds, path, place) in [
            (0.0, "M0 0L1 1", "0 0"),
            (0.5, "M2.5 -1L1 1.5", "0 0"),
            (3.0, "M10 -4L1 3", "5 6"),
            (5.0, "M5 -2L1 2", "1 2"),
        ] {
            let text = film.at(seconds);
            assert!(text.contains(&format!("translate({place})")), "{seconds}: {text}");
            assert!(text.contains(path), "{seconds}: {text}");
            assert!(!text.contains("animate"), "{text}");
        }
    }

    #[test]
    fn a_still_drawing_is_no_film() {
        let still = "<svg xmlns=\"http://www.w3.org/2000/svg\"><circle r=\"1\"/></svg>";
        assert!(Film::new(still).expect("understood").is_none());
        assert!(Film::new(&DOCUMENT.replace("linear", "spline")).is_err());
    }

    #[test]
    fn numbers_are_told_from_what_stands_between() {
        assert_eq!(tokens("M10-4.5L1 3Z"), ["M", "10", "-4.5", "L", "1", " ", "3", "Z"]);
    }
}
