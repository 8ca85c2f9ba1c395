//! Tip for each millimetre against the ratio of torque to push, once for each point where the millimetre may be
//! measured: why the point must be named. A plain chart, drawn with plotters.

use std::error::Error;
use std::sync::Once;

use plotters::prelude::*;
use plotters::style::Color;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::axis::ticks;
use super::colour::{Colour, FAINT, INK, LOAD, MOVED, PAPER, RESISTANCE, SOFT};
use super::font::{FACES, Face};
use super::style::{Size, Style};
use super::svg::{self, Drawing};
use super::{Subject, plane_motion};

/// Units of the drawing in a point: plotters draws on whole units.
const FINE: u32 = 4;
/// Tip per millimetre beyond which the chart ends, degrees/mm.
const MOST: f64 = 12.0;
/// The rule of thumb, degrees for each millimetre of expansion (common practice, no source).
const RULE: f64 = 5.0;
const FAMILY: &str = "Open Sans";

/// Pen and letters of a sheet.
#[derive(Clone, Copy)]
struct Pen(Style);

impl Pen {
    fn ink(self, colour: Colour) -> RGBColor {
        let rgb = colour.on(self.0.theme);
        RGBColor(rgb.0, rgb.1, rgb.2)
    }

    fn font(self, points: f64, face: FontStyle, colour: Colour) -> TextStyle<'static> {
        let mut text = TextStyle::from((FAMILY, points * f64::from(FINE)).into_font().style(face));
        text.color = self.ink(colour).to_backend_color();
        text
    }
}

/// Gives the embedded faces to plotters, once.
fn register() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // The faces are fonts (a test covers them); were they not, texts would only be measured worse.
        let _ = plotters::style::register_font(FAMILY, FontStyle::Normal, FACES[Face::Regular as usize]);
        let _ = plotters::style::register_font(FAMILY, FontStyle::Bold, FACES[Face::Semibold as usize]);
    });
}

/// Width and height of the sheet.
fn sheet_size(style: Style) -> [f64; 2] {
    style.sheet([1200.0, 800.0], 470.0)
}

/// Draws the chart.
pub(super) fn draw(subject: &Subject<'_>) -> Result<Drawing, String> {
    register();
    let mut text = String::new();
    chart(subject, &mut text).map_err(|e| e.to_string())?;
    Ok(Drawing::new(subject.style, sheet_size(subject.style), sized(&text, subject.style)))
}

/// The document with the size that its style asks for: plotters writes the numbers of its own units.
fn sized(text: &str, style: Style) -> String {
    let [width, height] = sheet_size(style);
    let own = format!(r#"width="{}" height="{}""#, width * f64::from(FINE), height * f64::from(FINE));
    let [across, down] = svg::outer_size(style, [width, height]);
    text.replacen(&own, &format!(r#"width="{across}" height="{down}""#), 1)
}

fn chart(subject: &Subject<'_>, text: &mut String) -> Result<(), Box<dyn Error>> {
    let unit = FINE.cast_signed();
    let (style, pen) = (subject.style, Pen(subject.style));
    let map = subject.case.map;
    let (from, to) = (map.moment_to_force_from_mm, map.moment_to_force_to_mm);
    let size = sheet_size(style);
    let whole = size.map(|side| side as u32 * FINE);
    let sheet = SVGBackend::with_string(text, (whole[0], whole[1])).into_drawing_area();
    sheet.fill(&pen.ink(PAPER))?;
    let narrow = style.size == Size::Column;
    if style.is_titled() {
        let title = style.tell(
            "{}: tip for each millimetre depends on where the millimetre is measured",
            &[&subject.tooth_title()],
        );
        let line = style.tell(
            "Push {} mm above the crest; {}",
            &[&style.fixed(subject.height_mm(), 2), &subject.model_line()],
        );
        let room = size[0] - 80.0;
        let fitting = |text: &str, face: Face, size: f64| {
            size * (0.94 * room / super::font::width(text, face, size)).min(1.0)
        };
        let points = fitting(&title, Face::Semibold, 24.0);
        sheet.draw(&Text::new(title, (40 * unit, 28 * unit), pen.font(points, FontStyle::Bold, INK)))?;
        let points = fitting(&line, Face::Regular, 15.0);
        sheet.draw(&Text::new(line, (40 * unit, 64 * unit), pen.font(points, FontStyle::Normal, SOFT)))?;
    }
    let mut chart = ChartBuilder::on(&sheet)
        .margin_top(if style.is_titled() { 110 } else { 20 } * unit)
        .margin_right(if narrow { 20 } else { 240 } * unit)
        .margin_bottom(20 * unit)
        .margin_left(if narrow { 10 } else { 24 } * unit)
        .x_label_area_size(64 * unit)
        .y_label_area_size(if narrow { 66 } else { 76 } * unit)
        .build_cartesian_2d(from..to, -MOST..MOST)?;
    let label = |value: &f64| style.fixed(*value, usize::from((value - value.round()).abs() >= 1e-9));
    let torque = crate::case::sentence_case(&style.tell("{} root torque", &[&subject.words().outward]));
    let name = if narrow {
        style.say("Moment-to-force ratio  (mm)")
    } else {
        style.tell(
            "{} for each newton of push: moment-to-force ratio at the attachment  (N\u{b7}mm/N = mm)",
            &[&torque],
        )
    };
    chart
        .configure_mesh()
        .disable_mesh()
        .axis_style(pen.ink(SOFT).stroke_width(FINE))
        .x_labels(ticks([from, to], size[0] / 110.0).len().max(2))
        .y_labels(7)
        .x_label_formatter(&label)
        .y_label_formatter(&label)
        .label_style(pen.font(15.0, FontStyle::Normal, SOFT))
        .x_desc(name)
        .y_desc(style.say("Tip for each millimetre of travel  (\u{b0}/mm)"))
        .axis_desc_style(pen.font(16.0, FontStyle::Normal, INK))
        .draw()?;
    // Beside the chart, or in a column inside it above the line.
    let right = |y: f64, words: String, face: TextStyle<'static>| {
        let (dx, place) = if narrow {
            (-6 * unit, Pos::new(HPos::Right, VPos::Bottom))
        } else {
            (10 * unit, Pos::new(HPos::Left, VPos::Center))
        };
        EmptyElement::at((to, y)) + Text::new(words, (dx, 0), face.pos(place))
    };
    for (y, words) in [(0.0, "translation"), (RULE, "rule of thumb, 5 \u{b0}/mm")] {
        let line = pen.ink(if y == 0.0 { SOFT } else { FAINT }).stroke_width(FINE);
        chart.draw_series(std::iter::once(PathElement::new(vec![(from, y), (to, y)], line)))?;
        let face = pen.font(15.0, FontStyle::Normal, SOFT);
        chart.draw_series(std::iter::once(right(y, style.say(words), face)))?;
    }
    let height = subject.height_mm();
    let top = match subject.case.top_name() {
        "incisal edge" => "measured at the incisal edge",
        "cusp tip" => "measured at the cusp tip",
        _ => "measured at the top of the stub",
    };
    for (reference, words, colour) in [
        (0.0, "measured at the crest", RESISTANCE),
        (height, "measured at the attachment's height", MOVED),
        (subject.cusp_height_mm, top, LOAD),
    ] {
        let line = pen.ink(colour).stroke_width(3 * FINE);
        let runs = runs(subject, from, to, reference);
        if let Some(&start) = runs.first().and_then(|run| run.first()) {
            let anchor = Pos::new(HPos::Left, VPos::Bottom);
            let face = pen.font(15.0, FontStyle::Bold, colour).pos(anchor);
            let name = Text::new(style.say(words), (8 * unit, -4 * unit), face);
            chart.draw_series(std::iter::once(EmptyElement::at(start) + name))?;
        }
        for run in runs {
            chart.draw_series(std::iter::once(PathElement::new(run, line)))?;
        }
    }
    sheet.present()?;
    Ok(())
}

/// The visible pieces of one curve: it leaves the chart where the reference point stops travelling.
fn runs(subject: &Subject<'_>, from: f64, to: f64, reference: f64) -> Vec<Vec<(f64, f64)>> {
    const STEPS: usize = 2000;
    let mut runs = vec![Vec::new()];
    for i in 0..=STEPS {
        let ratio = from + (to - from) * i as f64 / STEPS as f64;
        let motion = plane_motion(&subject.resistance, subject.height_mm(), ratio);
        let tip = motion.tip_deg_per_mm(reference);
        if tip.abs() <= MOST && motion.travel_mm(reference) > 0.0 {
            if let Some(run) = runs.last_mut() {
                run.push((ratio, tip));
            }
        } else if runs.last().is_some_and(|run| !run.is_empty()) {
            runs.push(Vec::new());
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}
