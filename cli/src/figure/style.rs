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
    /// A page or a screen: 1200 units, 12.5 inches wide; the smallest letters are 12 points high.
    #[default]
    Page,
    /// A slide of 16:9, 13.33 inches wide; the smallest letters are 14 points high.
    Slide,
    /// A column of a journal, 85 mm wide, without a title (the caption has it); the smallest letters are 7 points high.
    Column,
}

/// Width and height of a slide, units.
const SLIDE: At = [1067.0, 600.0];
/// Width of a column, units: letters of 16 units are 7 points high.
const COLUMN_WIDTH: f64 = 550.0;
/// Width of a column, mm.
const COLUMN_MM: f64 = 85.0;
/// Width of a slide, mm: 13 1/3 inches.
const SLIDE_MM: f64 = 40.0 / 3.0 * MM_PER_INCH;
const MM_PER_INCH: f64 = 25.4;
/// Units of a page in an inch, those of CSS.
const PAGE_UNITS_PER_INCH: f64 = 96.0;

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
            Size::Column => 600.0 * COLUMN_MM / MM_PER_INCH / COLUMN_WIDTH,
        }
    }

    /// Pixels of a GIF for each unit: a slide of 1280 by 720, a column at 300 dots an inch.
    pub(crate) fn gif_pixels(self) -> f64 {
        match self.size {
            Size::Page => 1.0,
            Size::Slide => 1280.0 / SLIDE[0],
            Size::Column => 0.5 * self.pixels(),
        }
    }

    /// Millimetres of the medium for each unit of the sheet.
    pub(crate) fn mm_per_unit(self) -> f64 {
        match self.size {
            Size::Page => MM_PER_INCH / PAGE_UNITS_PER_INCH,
            Size::Slide => SLIDE_MM / SLIDE[0],
            Size::Column => COLUMN_MM / COLUMN_WIDTH,
        }
    }

    /// Pixels of a PNG in a metre of the medium: with them a program gives a pasted picture its true size.
    pub(crate) fn pixels_per_metre(self) -> u32 {
        (1000.0 * self.pixels() / self.mm_per_unit()).round() as u32
    }

    /// Height of the smallest letters on the medium, points.
    #[cfg(test)]
    pub(crate) fn smallest_points(self) -> f64 {
        match self.size {
            Size::Page => 12.0,
            Size::Slide => 14.0,
            Size::Column => 7.0,
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
    fn pixels_and_units_give_each_sheet_its_width() {
        for (size, width_mm) in [(Size::Page, 317.5), (Size::Slide, 338.667), (Size::Column, 85.0)] {
            let style = Style { size, ..Style::default() };
            let [units, _] = style.sheet([1200.0, 800.0], 400.0);
            let pixels = (units * style.pixels()).round();
            assert!((units * style.mm_per_unit() - width_mm).abs() < 1e-2, "{size:?}");
            // Whole pixels and whole pixels a metre: within a twentieth of a millimetre.
            let pasted_mm = 1000.0 * pixels / f64::from(style.pixels_per_metre());
            assert!((pasted_mm - width_mm).abs() < 0.05, "{size:?}: {pasted_mm} mm");
        }
    }

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
