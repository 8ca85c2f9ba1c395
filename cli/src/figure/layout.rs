//! Placing texts: broken into lines, spread along a line so that they do not touch, and off the curves.

use super::font::{self, Face};
use super::svg::{At, Label};

/// Where a long word may be broken (soft hyphen); nothing is seen of it elsewhere.
pub(crate) const SOFT_HYPHEN: char = '\u{ad}';

/// A text in lines that are no wider than some room: broken between words, and at soft hyphens within words that are too
/// wide for a line of their own.
pub(crate) fn broken(text: &str, face: Face, size: f64, room: f64) -> Vec<String> {
    let fits = |line: &str| font::width(line, face, size) <= room;
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        if let Some(last) = lines.last_mut()
            && fits(&format!("{last} {word}"))
        {
            last.push(' ');
            last.push_str(word);
            continue;
        }
        lines.push(String::new());
        let mut parts = word.split(SOFT_HYPHEN).peekable();
        while let Some(part) = parts.next() {
            let Some(last) = lines.last_mut() else { break };
            let hyphen = if parts.peek().is_some() { "-" } else { "" };
            if last.is_empty() || fits(word) || fits(&format!("{last}{part}{hyphen}")) {
                last.push_str(part);
            } else {
                last.push('-');
                lines.push(part.to_owned());
            }
        }
    }
    lines
}

/// Middles of things along a line, near where they are wanted (in order), at least `gap` apart between their
/// extents, and inside a range while there is room.
pub(crate) fn spread(wanted: &[f64], extents: &[f64], gap: f64, [low, high]: [f64; 2]) -> Vec<f64> {
    let mut at: Vec<f64> = wanted.to_vec();
    for _ in 0..400 {
        let mut moved = false;
        for k in 1..at.len() {
            let need = 0.5 * (extents[k - 1] + extents[k]) + gap;
            let lack = need - (at[k] - at[k - 1]);
            if lack > 1e-3 {
                at[k - 1] -= 0.5 * lack;
                at[k] += 0.5 * lack;
                moved = true;
            }
        }
        for k in 0..at.len() {
            let least = low + 0.5 * extents[k];
            let kept = at[k].clamp(least, (high - 0.5 * extents[k]).max(least));
            moved |= (kept - at[k]).abs() > 1e-3;
            at[k] = kept;
        }
        if !moved {
            break;
        }
    }
    at
}

/// Does a curve run through a text?
pub(crate) fn crosses(label: &Label, line: &[At]) -> bool {
    let corners = label.corners();
    let reach = |k: usize| corners.iter().fold((f64::MAX, f64::MIN), |(a, b), p| (p[k].min(a), p[k].max(b)));
    let (x, y) = (reach(0), reach(1));
    line.iter().any(|p| p[0] > x.0 - 4.0 && p[0] < x.1 + 4.0 && p[1] > y.0 - 3.0 && p[1] < y.1 + 3.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_broken_between_words_and_long_words_at_their_soft_hyphens() {
        let broken = |room| broken("the Wider\u{ad}stands\u{ad}zentrum", Face::Regular, 16.0, room);
        assert_eq!(broken(400.0), ["the Wider\u{ad}stands\u{ad}zentrum"]);
        assert_eq!(broken(160.0), ["the", "Widerstandszentrum"]);
        assert_eq!(broken(120.0), ["the", "Widerstands-", "zentrum"]);
        assert_eq!(broken(70.0), ["the", "Wider-", "stands-", "zentrum"]);
        // What cannot be broken is wider than the room.
        assert_eq!(broken(20.0), ["the", "Wider-", "stands-", "zentrum"]);
    }

    #[test]
    fn crowded_things_are_spread_and_kept_inside() {
        let at = spread(&[100.0, 101.0, 102.0], &[40.0, 20.0, 20.0], 16.0, [90.0, 400.0]);
        assert!(at[0] >= 110.0 - 1e-3);
        assert!(at[1] - at[0] >= 30.0 + 16.0 - 1e-2);
        assert!(at[2] - at[1] >= 20.0 + 16.0 - 1e-2);
    }

    #[test]
    fn things_with_room_stay_where_they_are_wanted() {
        assert_eq!(spread(&[100.0, 300.0], &[20.0, 20.0], 16.0, [0.0, 400.0]), [100.0, 300.0]);
    }
}
