//! How the figures of a set look: sheet, ground and language. A drawing knows its style; what draws it asks
//! for the sheet and leaves colours and letters to it.

use clap::ValueEnum;

use super::colour::Theme;
use super::svg::At;
use super::words::Language;

/// What a figure is made for. Letters have the same size in units of the sheet; the sheets differ, so that letters are
/// large on a slide and still readable in a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum Size {
    /// A page or a screen: 1200 units wide.
    #[default]
    Page,
    /// A slide of 16:9, 13.33 inches wide; the smallest letters are 14 points high.
    Slide,
    /// A column of a journal, 85 mm wide, without a title (the caption has it); the smallest letters are 7 points high.
    Column,
}

/// Width and height of a slide, units.
const SLIDE: At = [1067.0, 600.0];
/// Width of a column, units.
const COLUMN_WIDTH: f64 = 560.0;
/// Width of a column, mm.
const COLUMN_MM: f64 = 85.0;
/// Width of a slide, mm.
const SLIDE_MM: f64 = 338.67;

/// The look of a set of figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Style {
    /// What the figures are made for.
    pub(crate) size: Size,
    /// The ground they stand on.
    pub(crate) theme: Theme,
    /// The language of labels.
    pub(crate) language: Language,
}

impl Style {
    /// Width and height of the sheet of a figure that takes `page` on a page, and `column` units of height in a column.
    pub(crate) fn sheet(self, page: At, column: f64) -> At {
        match self.size {
            Size::Page => page,
            Size::Slide => SLIDE,
            Size::Column => [COLUMN_WIDTH, column],
        }
    }

    /// Has the sheet a title?
    pub(crate) fn is_titled(self) -> bool {
        self.size != Size::Column
    }

    /// Width of a sheet on paper, mm; none where the unit is the pixel.
    pub(crate) fn width_mm(self) -> Option<f64> {
        match self.size {
            Size::Page => None,
            Size::Slide => Some(SLIDE_MM),
            Size::Column => Some(COLUMN_MM),
        }
    }

    /// Pixels of a PNG for each unit: a page at twice its size, a slide of 1920 by 1080, a column at 600 dots an inch.
    pub(crate) fn pixels(self) -> f64 {
        match self.size {
            Size::Page => 2.0,
            Size::Slide => 1920.0 / SLIDE[0],
            Size::Column => 600.0 * COLUMN_MM / 25.4 / COLUMN_WIDTH,
        }
    }

    /// A label in the language of the set; see [`Language::say`].
    pub(crate) fn say(self, english: &str) -> String {
        self.language.say(english)
    }

    /// A label with gaps; see [`Language::tell`].
    pub(crate) fn tell(self, english: &str, gaps: &[&str]) -> String {
        self.language.tell(english, gaps)
    }

    /// A number as short as it is exact, with a true minus sign.
    pub(crate) fn number(self, value: f64) -> String {
        let rounded = (1e6 * value).round() / 1e6;
        self.typeset(&format!("{}", if rounded == 0.0 { 0.0 } else { rounded }))
    }

    /// A number with a fixed count of decimals and a true minus sign.
    pub(crate) fn fixed(self, value: f64, decimals: usize) -> String {
        self.typeset(&crate::table::fixed(value, decimals))
    }

    fn typeset(self, plain: &str) -> String {
        plain.replace('-', "\u{2212}").replace('.', self.language.decimal_mark())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_a_true_minus_no_negative_zero_and_the_mark_of_the_language() {
        let style = Style::default();
        assert_eq!(style.number(-2.5), "\u{2212}2.5");
        assert_eq!(style.number(-0.0), "0");
        assert_eq!(style.fixed(-0.004, 1), "0.0");
        assert_eq!(style.fixed(-0.06, 1), "\u{2212}0.1");
        let german = Style { language: Language::De, ..style };
        assert_eq!(german.number(-2.5), "\u{2212}2,5");
    }
}
