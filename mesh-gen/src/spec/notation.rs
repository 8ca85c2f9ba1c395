//! The ways in which people name a tooth: words, ISO 3950 numbers, the Universal numbers 1 to 32, and a quadrant with the
//! tooth's place in it. A bare number is always ISO 3950, because numbers such as 14 mean different teeth in the two systems;
//! the Universal system must be named.

use super::ToothKind;

/// A side of the mouth, as the patient has it. One side is modelled; the other is its mirror image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Right.
    Right,
    /// Left.
    Left,
}

/// How a tooth was named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Notation {
    /// In words: `upper first premolar`, `upper right first premolar`.
    Words,
    /// Two digits, quadrant and place: `14`, `iso:14`.
    Iso,
    /// 1 to 32, around both arches: `universal:5`, `#5`.
    Universal,
    /// A quadrant in letters and the place in it: `UR4`, `upper right 4`.
    Quadrant,
}

/// A tooth as somebody named it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Designation {
    /// Which tooth.
    pub kind: ToothKind,
    /// On which side, if the name says so.
    pub side: Option<Side>,
    /// How it was named.
    pub notation: Notation,
}

impl Designation {
    /// Reads a name (any case; words apart by spaces, hyphens or underscores): words with or without a side, an ISO 3950
    /// number, a Universal number behind `universal:` or `#`, or a quadrant such as `UR4`. `None` for everything else, also
    /// for a sign before a number and for characters that cannot be seen.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim_matches(' ').to_lowercase();
        if text.chars().any(char::is_control) || text.starts_with(['-', '+']) {
            return None;
        }
        if let Some(number) = universal_text(&text) {
            return Self::universal(whole(number)?);
        }
        if let Some(number) = after_word(&text, "iso") {
            return Self::iso(whole(number)?);
        }
        if let Some(number) = whole(&text) {
            return if text.len() == 2 { Self::iso(number) } else { None };
        }
        let words: Vec<&str> = text.split([' ', '-', '_']).filter(|w| !w.is_empty()).collect();
        quadrant(&words).or_else(|| named(&words))
    }

    /// A tooth by its ISO 3950 number (permanent teeth): the first digit is the quadrant (1 upper right, 2 upper left, 3
    /// lower left, 4 lower right), the second the place from the midline.
    #[must_use]
    pub fn iso(number: u32) -> Option<Self> {
        let side = match number / 10 {
            1 | 4 => Side::Right,
            2 | 3 => Side::Left,
            _ => return None,
        };
        let kind = ToothKind::at(number / 10 <= 2, number % 10)?;
        Some(Self { kind, side: Some(side), notation: Notation::Iso })
    }

    /// A tooth by its Universal number: 1 to 16 along the upper arch from the patient's right to the left, 17 to 32 back along
    /// the lower one.
    #[must_use]
    pub fn universal(number: u32) -> Option<Self> {
        let (upper, side, place) = match number {
            1..=8 => (true, Side::Right, 9 - number),
            9..=16 => (true, Side::Left, number - 8),
            17..=24 => (false, Side::Left, 25 - number),
            25..=32 => (false, Side::Right, number - 24),
            _ => return None,
        };
        let kind = ToothKind::at(upper, place)?;
        Some(Self { kind, side: Some(side), notation: Notation::Universal })
    }

    /// Name in words, with the side if it is known: `upper right first premolar`.
    #[must_use]
    pub fn words(&self) -> String {
        let name = self.kind.name();
        let side = match self.side {
            None => return name,
            Some(Side::Right) => "right",
            Some(Side::Left) => "left",
        };
        let (jaw, rest) = name.split_once(' ').unwrap_or((&name, ""));
        format!("{jaw} {side} {rest}")
    }

    /// ISO 3950 numbers: one if the side is known, else that of the right side and that of the left.
    #[must_use]
    pub fn iso_numbers(&self) -> Vec<u32> {
        let place = u32::from(self.kind.position());
        let [right, left] = if self.kind.is_upper() { [10, 20] } else { [40, 30] };
        match self.side {
            Some(Side::Right) => vec![right + place],
            Some(Side::Left) => vec![left + place],
            None if self.kind.is_upper() => vec![right + place, left + place],
            None => vec![left + place, right + place],
        }
    }
}

impl ToothKind {
    /// The kind at a place from the midline, 1 to 8, of an arch.
    pub(super) fn at(upper: bool, place: u32) -> Option<Self> {
        (1..=8).contains(&place).then_some(Self { upper, position: place as u8 })
    }
}

/// A number in plain digits.
fn whole(text: &str) -> Option<u32> {
    let digits = !text.is_empty() && text.len() <= 3 && text.bytes().all(|b| b.is_ascii_digit());
    if digits { text.parse().ok() } else { None }
}

/// What stands behind `#` or the word `universal`.
fn universal_text(text: &str) -> Option<&str> {
    match text.strip_prefix('#') {
        Some(rest) => Some(rest.trim_start_matches(' ')),
        None => after_word(text, "universal"),
    }
}

/// What stands behind a word and a colon or a space.
fn after_word<'a>(text: &'a str, word: &str) -> Option<&'a str> {
    let rest = text.strip_prefix(word)?;
    let inner = rest.trim_start_matches([':', ' ']);
    (inner.len() < rest.len()).then_some(inner)
}

/// `ur4`, `ur 4`, `upper right 4`.
fn quadrant(words: &[&str]) -> Option<Designation> {
    let joined: String = match words {
        ["upper", side @ ("right" | "left"), place] => format!("u{}{place}", &side[..1]),
        ["lower", side @ ("right" | "left"), place] => format!("l{}{place}", &side[..1]),
        [one] => (*one).to_owned(),
        [corner, place] => format!("{corner}{place}"),
        _ => return None,
    };
    let (corner, place) = joined.split_at_checked(2)?;
    let (upper, side) = match corner {
        "ur" => (true, Side::Right),
        "ul" => (true, Side::Left),
        "ll" => (false, Side::Left),
        "lr" => (false, Side::Right),
        _ => return None,
    };
    let place = if place.len() == 1 { whole(place)? } else { return None };
    Some(Designation { kind: ToothKind::at(upper, place)?, side: Some(side), notation: Notation::Quadrant })
}

/// `upper first premolar`, `upper right first premolar`, `right upper first premolar`.
fn named(words: &[&str]) -> Option<Designation> {
    let side_of = |word: &str| match word {
        "right" => Some(Side::Right),
        "left" => Some(Side::Left),
        _ => None,
    };
    let at = words.iter().take(2).position(|word| side_of(word).is_some());
    let side = at.and_then(|at| side_of(words[at]));
    let rest: Vec<&str> =
        words.iter().enumerate().filter(|(k, _)| Some(*k) != at).map(|(_, word)| *word).collect();
    let name = rest.join(" ");
    let kind = ToothKind::ALL.into_iter().find(|kind| kind.name() == name)?;
    Some(Designation { kind, side, notation: Notation::Words })
}

#[cfg(test)]
mod tests {
    use super::{Designation, Notation};
    use crate::spec::ToothKind;

    /// ISO 3950 and Universal numbers of the permanent teeth side by side, as dental charts print them: the upper arch from
    /// the patient's right to the left, then the lower arch back (from memory).
    const CHART: [(u32, [u32; 16]); 2] = [
        (1, [18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28]),
        (17, [38, 37, 36, 35, 34, 33, 32, 31, 41, 42, 43, 44, 45, 46, 47, 48]),
    ];

    #[test]
    fn universal_numbers_are_those_of_the_chart() {
        for (first, row) in CHART {
            for (universal, iso) in (first..).zip(row) {
                let found = Designation::parse(&format!("universal:{universal}")).expect("a tooth");
                assert_eq!(found.iso_numbers(), [iso]);
                assert_eq!(found.notation, Notation::Universal);
                assert_eq!(Designation::parse(&format!("#{universal}")), Some(found));
                let by_iso = Designation::parse(&iso.to_string()).expect("a tooth");
                assert_eq!((by_iso.kind, by_iso.side), (found.kind, found.side));
                assert_eq!(by_iso.notation, Notation::Iso);
            }
        }
    }

    #[test]
    fn a_quadrant_and_a_place_are_a_tooth() {
        for (corner, quadrant) in [("UR", 10), ("UL", 20), ("LL", 30), ("LR", 40)] {
            for place in 1..=8 {
                let wanted = vec![quadrant + place];
                for text in [
                    format!("{corner}{place}"),
                    format!("{} {place}", corner.to_lowercase()),
                    format!("{corner}-{place}"),
                ] {
                    let found = Designation::parse(&text).unwrap_or_else(|| panic!("{text} is a tooth"));
                    assert_eq!(found.iso_numbers(), wanted, "{text}");
                }
            }
        }
        let spoken = Designation::parse("upper right 4").expect("a tooth");
        assert_eq!(spoken.words(), "upper right first premolar");
    }

    #[test]
    fn names_may_say_the_side() {
        let both = Designation::parse("Upper_first-premolar").expect("a tooth");
        assert_eq!((both.words().as_str(), both.iso_numbers()), ("upper first premolar", vec![14, 24]));
        let both = Designation::parse("lower first molar").expect("a tooth");
        assert_eq!(both.iso_numbers(), [36, 46]);
        for text in ["upper left first premolar", "left upper first premolar", "UL4", "24", "iso:24", "#12"] {
            let found = Designation::parse(text).expect("a tooth");
            assert_eq!(
                (found.words().as_str(), found.iso_numbers()),
                ("upper left first premolar", vec![24])
            );
        }
    }

    #[test]
    fn what_is_no_tooth_is_none() {
        for text in [
            "",
            " ",
            "-14",
            "+14",
            "1",
            "3",
            "9",
            "10",
            "19",
            "20",
            "014",
            "49",
            "50",
            "99",
            "14.0",
            "1 4",
            "UR0",
            "UR9",
            "UR44",
            "#0",
            "#33",
            "#40",
            "#",
            "#-5",
            "universal5",
            "universal:",
            "universal",
            "iso:5",
            "14\n",
            "14\t",
            "\u{7}14",
            "right",
            "upper right",
            "upper right left first premolar",
            "U R 4",
            "Ü4",
            "４4",
        ] {
            assert_eq!(Designation::parse(text), None, "{text:?}");
            assert_eq!(ToothKind::parse(text), None, "{text:?}");
        }
    }
}
