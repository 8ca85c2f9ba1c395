//! Tip for each millimetre against the ratio of torque to push, once for each point where the millimetre may be
//! measured: why the point must be named. A plain chart, drawn with plotters.

use std::error::Error;
use std::sync::Once;

use plotters::prelude::*;
use plotters::style::Color;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::axis::{fixed, ticks};
use super::colour::{Colour, FAINT, INK, LOAD, MOVED, PAPER, RESISTANCE, SOFT};
use super::font::{FACES, Face};
use super::{Subject, plane_motion, svg};

/// Size of the drawing, points.
const SIZE: (u32, u32) = (1200, 800);
/// Units of the drawing in a point: plotters draws on whole units.
const FINE: u32 = 4;
/// Tip per millimetre beyond which the chart ends, degrees/mm.
const MOST: f64 = 12.0;
/// The rule of thumb, degrees for each millimetre of expansion (common practice, no source).
const RULE: f64 = 5.0;
const FAMILY: &str = "Open Sans";

fn ink(colour: Colour) -> RGBColor {
    RGBColor(colour.0, colour.1, colour.2)
}

fn font(points: f64, style: FontStyle, colour: Colour) -> TextStyle<'static> {
    let mut text = TextStyle::from((FAMILY, points * f64::from(FINE)).into_font().style(style));
    text.color = ink(colour).to_backend_color();
    text
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

/// The drawing as SVG, and its pixels as PNG.
pub(super) fn draw(subject: &Subject<'_>, scale: f64) -> Result<(String, Vec<u8>), String> {
    register();
    let mut text = String::new();
    chart(subject, &mut text).map_err(|e| e.to_string())?;
    let pixels = svg::rasterise(&text, [f64::from(SIZE.0) * scale, f64::from(SIZE.1) * scale])?;
    Ok((text, pixels))
}

fn chart(subject: &Subject<'_>, text: &mut String) -> Result<(), Box<dyn Error>> {
    let unit = FINE.cast_signed();
    let map = subject.case.map;
    let (from, to) = (map.moment_to_force_from_mm, map.moment_to_force_to_mm);
    let sheet = SVGBackend::with_string(text, (SIZE.0 * FINE, SIZE.1 * FINE)).into_drawing_area();
    sheet.fill(&ink(PAPER))?;
    let (title, line) = (
        format!(
            "{}: tip for each millimetre depends on where the millimetre is measured",
            subject.tooth_title()
        ),
        format!("Push {} mm above the crest; {}", fixed(subject.height_mm(), 2), subject.model_line()),
    );
    sheet.draw(&Text::new(title, (40 * unit, 28 * unit), font(24.0, FontStyle::Bold, INK)))?;
    sheet.draw(&Text::new(line, (40 * unit, 64 * unit), font(15.0, FontStyle::Normal, SOFT)))?;

    let mut chart = ChartBuilder::on(&sheet)
        .margin_top(110 * unit)
        .margin_right(240 * unit)
        .margin_bottom(24 * unit)
        .margin_left(24 * unit)
        .x_label_area_size(64 * unit)
        .y_label_area_size(76 * unit)
        .build_cartesian_2d(from..to, -MOST..MOST)?;
    let label = |value: &f64| fixed(*value, usize::from((value - value.round()).abs() >= 1e-9));
    chart
        .configure_mesh()
        .disable_mesh()
        .axis_style(ink(SOFT).stroke_width(FINE))
        .x_labels(ticks([from, to], f64::from(SIZE.0) / 110.0).len().max(2))
        .y_labels(7)
        .x_label_formatter(&label)
        .y_label_formatter(&label)
        .label_style(font(15.0, FontStyle::Normal, SOFT))
        .x_desc(crate::case::sentence_case(&format!(
            "{} root torque for each newton of push: moment-to-force ratio (N·mm/N = mm)",
            subject.case.words().outward
        )))
        .y_desc("Tip for each millimetre of travel (°/mm)")
        .axis_desc_style(font(16.0, FontStyle::Normal, INK))
        .draw()?;
    let right = |y: f64, words: String, style: TextStyle<'static>| {
        EmptyElement::at((to, y))
            + Text::new(words, (10 * unit, 0), style.pos(Pos::new(HPos::Left, VPos::Center)))
    };
    for (y, words) in [(0.0, "translation"), (RULE, "rule of thumb, 5 °/mm")] {
        chart.draw_series(std::iter::once(PathElement::new(
            vec![(from, y), (to, y)],
            ink(if y == 0.0 { SOFT } else { FAINT }).stroke_width(FINE),
        )))?;
        chart.draw_series(std::iter::once(right(
            y,
            words.to_owned(),
            font(15.0, FontStyle::Normal, SOFT),
        )))?;
    }
    let top = subject.case.top_name();
    let height = subject.height_mm();
    for (reference, words, colour) in [
        (0.0, "at the crest".to_owned(), RESISTANCE),
        (height, "at the attachment's height".to_owned(), MOVED),
        (subject.cusp_height_mm, format!("at the {top}"), LOAD),
    ] {
        let style = ink(colour).stroke_width(3 * FINE);
        let runs = runs(subject, from, to, reference);
        if let Some(&start) = runs.first().and_then(|run| run.first()) {
            let words = format!("measured {words}");
            let anchor = Pos::new(HPos::Left, VPos::Bottom);
            chart.draw_series(std::iter::once(
                EmptyElement::at(start)
                    + Text::new(
                        words,
                        (8 * unit, -4 * unit),
                        font(15.0, FontStyle::Bold, colour).pos(anchor),
                    ),
            ))?;
        }
        for run in runs {
            chart.draw_series(std::iter::once(PathElement::new(run, style)))?;
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
