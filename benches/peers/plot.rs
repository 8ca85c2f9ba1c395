//! Growth of the time with the unknowns, as a drawing.

use std::error::Error;
use std::path::Path;

use plotters::coord::combinators::IntoLogRange;
use plotters::prelude::*;
use plotters::style::{FontStyle, register_font};
use serde::Deserialize;

const FONT: &[u8] = include_bytes!("../../cli/assets/OpenSans-Regular.ttf");
const FAMILY: &str = "sans-serif";
const SIZE: (u32, u32) = (760, 480);
const INK: RGBColor = RGBColor(40, 44, 52);
const COLOURS: [RGBColor; 5] = [
    RGBColor(0, 95, 115),
    RGBColor(187, 62, 3),
    RGBColor(202, 138, 4),
    RGBColor(106, 76, 147),
    RGBColor(90, 110, 60),
];

/// A line of the drawing: what it is called, and unknowns with seconds.
#[derive(Debug, Deserialize)]
pub(crate) struct Line {
    name: String,
    points: Vec<(f64, f64)>,
}

/// Draws the lines in a file, in logarithmic axes, each with its name at its end.
///
/// # Errors
/// If the file cannot be written.
pub(crate) fn growth(lines: &[Line], path: &Path) -> Result<(), Box<dyn Error>> {
    register_font(FAMILY, FontStyle::Normal, FONT).map_err(|_| "the font is broken")?;
    let all = || lines.iter().flat_map(|line| &line.points);
    let (low, high) =
        all().fold((f64::INFINITY, 0.0_f64), |(low, high), point| (low.min(point.1), high.max(point.1)));
    let area = SVGBackend::new(path, SIZE).into_drawing_area();
    area.fill(&WHITE)?;
    let text = |size| (FAMILY, size).into_font().color(&INK);
    let mut chart = ChartBuilder::on(&area)
        .margin(14)
        .margin_right(24)
        .x_label_area_size(44)
        .y_label_area_size(58)
        .build_cartesian_2d((25e3..1.2e7).log_scale(), (0.7 * low..2.0 * high).log_scale())?;
    chart
        .configure_mesh()
        .light_line_style(INK.mix(0.06))
        .bold_line_style(INK.mix(0.15))
        .axis_style(INK)
        .label_style(text(14))
        .axis_desc_style(text(15))
        .x_desc("unknowns")
        .y_desc("assembly, set-up and six loads, s")
        .x_label_formatter(&|x| {
            if *x < 1e6 { format!("{:.0} thousand", x / 1e3) } else { format!("{:.0} million", x / 1e6) }
        })
        .y_label_formatter(&|y| format!("{y}"))
        .draw()?;
    for (k, (line, colour)) in lines.iter().zip(COLOURS.iter().cycle()).enumerate() {
        // Names of lines that end beside each other stand above and below their ends.
        let above = if k % 2 == 0 { -14 } else { 2 };
        chart.draw_series(LineSeries::new(line.points.iter().copied(), colour.stroke_width(2)))?;
        chart.draw_series(line.points.iter().map(|&at| Circle::new(at, 4, colour.filled())))?;
        if let Some(&at) = line.points.last() {
            let style = (FAMILY, 14).into_font().color(colour);
            chart.draw_series([EmptyElement::at(at) + Text::new(line.name.clone(), (9, above), style)])?;
        }
    }
    area.present()?;
    Ok(())
}
