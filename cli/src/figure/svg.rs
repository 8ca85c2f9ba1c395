//! A drawing: marks and texts in points, written as SVG and rasterised from that same SVG, so that both
//! files show the same picture. Every text is measured and remembered, so that a test can prove that no
//! two of them overlap.

use std::f64::consts::SQRT_2;
use std::fmt::Write;

use resvg::{tiny_skia, usvg};

use super::colour::{Colour, INK, PAPER, Rgb, Theme};
use super::font::{self, Face};
use super::gif;
use super::layout::SOFT_HYPHEN;
use super::settled::settled;
use super::style::Style;

/// A point of the drawing: x to the right, y downward.
pub(crate) type At = [f64; 2];

/// Stroke and fill of a shape.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Paint {
    fill: Option<Colour>,
    fill_opacity: f64,
    stroke: Option<Colour>,
    stroke_opacity: f64,
    width: f64,
    dash: Option<&'static str>,
}

impl Paint {
    /// A filled shape.
    pub(crate) fn fill(colour: Colour) -> Self {
        Self { fill: Some(colour), fill_opacity: 1.0, stroke_opacity: 1.0, ..Self::default() }
    }

    /// A line.
    pub(crate) fn line(colour: Colour, width: f64) -> Self {
        Self { stroke: Some(colour), width, fill_opacity: 1.0, stroke_opacity: 1.0, ..Self::default() }
    }

    /// The same with an outline.
    pub(crate) fn edge(mut self, colour: Colour, width: f64) -> Self {
        self.stroke = Some(colour);
        self.width = width;
        self
    }

    /// The same, dashed.
    pub(crate) fn dashed(mut self, pattern: &'static str) -> Self {
        self.dash = Some(pattern);
        self
    }

    /// The same, fill and stroke partly transparent.
    pub(crate) fn faded(mut self, opacity: f64) -> Self {
        self.fill_opacity = opacity;
        self.stroke_opacity = opacity;
        self
    }

    fn attributes(&self, theme: Theme) -> String {
        let mut text = match self.fill {
            Some(colour) => format!(" fill=\"{}\"", colour.on(theme)),
            None => " fill=\"none\"".to_owned(),
        };
        if self.fill.is_some() && self.fill_opacity < 1.0 {
            let _ = write!(text, " fill-opacity=\"{}\"", short(self.fill_opacity));
        }
        if let Some(colour) = self.stroke {
            let _ = write!(
                text,
                " stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\" stroke-linecap=\"round\"",
                colour.on(theme),
                short(self.width)
            );
            if self.stroke_opacity < 1.0 {
                let _ = write!(text, " stroke-opacity=\"{}\"", short(self.stroke_opacity));
            }
        }
        if let Some(pattern) = self.dash {
            let _ = write!(text, " stroke-dasharray=\"{pattern}\"");
        }
        text
    }
}

/// Where a text stands to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Anchor {
    /// To the right of it.
    #[default]
    Start,
    /// Centred.
    Middle,
    /// To the left of it.
    End,
}

/// A text of one line.
#[derive(Debug, Clone)]
pub(crate) struct Label {
    text: String,
    at: At,
    size: f64,
    face: Face,
    colour: Colour,
    anchor: Anchor,
    angle: f64,
    halo: Option<Colour>,
    gap: f64,
}

impl Label {
    /// A text whose middle height is at a point.
    pub(crate) fn new(text: impl Into<String>, at: At, size: f64) -> Self {
        Self {
            text: text.into().replace(SOFT_HYPHEN, ""),
            at,
            size,
            face: Face::Regular,
            colour: INK,
            anchor: Anchor::Start,
            angle: 0.0,
            halo: None,
            gap: 0.0,
        }
    }

    /// In another face.
    pub(crate) fn face(mut self, face: Face) -> Self {
        self.face = face;
        self
    }

    /// In another colour.
    pub(crate) fn colour(mut self, colour: Colour) -> Self {
        self.colour = colour;
        self
    }

    /// Anchored otherwise.
    pub(crate) fn anchor(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    /// Turned about its point, degrees clockwise.
    pub(crate) fn turned(mut self, angle: f64) -> Self {
        self.angle = angle;
        self
    }

    /// With a rim that sets it off from what lies below.
    pub(crate) fn halo(mut self, colour: Colour) -> Self {
        self.halo = Some(colour);
        self
    }

    /// Width of the text.
    pub(crate) fn width(&self) -> f64 {
        font::width(&self.text, self.face, self.size)
    }

    /// The same with room to the left and to the right of it.
    fn widened(&self, gap: f64) -> Self {
        Self { gap, ..self.clone() }
    }

    /// The four corners of the box the letters fill.
    pub(crate) fn corners(&self) -> [At; 4] {
        let left = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => -0.5 * self.width(),
            Anchor::End => -self.width(),
        } - self.gap;
        let width = self.width() + 2.0 * self.gap;
        let half = 0.5 * font::CAP_HEIGHT * self.size;
        let (top, bottom) = (-half - 0.04 * self.size, half + font::DESCENT * self.size);
        let (sin, cos) = self.angle.to_radians().sin_cos();
        [[left, top], [left + width, top], [left + width, bottom], [left, bottom]]
            .map(|[x, y]| [self.at[0] + x * cos - y * sin, self.at[1] + x * sin + y * cos])
    }
}

/// A drawing.
#[derive(Debug, Clone)]
pub(crate) struct Svg {
    style: Style,
    width: f64,
    height: f64,
    title: String,
    description: String,
    defs: String,
    body: String,
    labels: Vec<Label>,
    clips: usize,
}

/// A closed or open path under construction.
#[derive(Debug, Clone, Default)]
pub(crate) struct Path {
    d: String,
}

impl Path {
    /// Adds a polyline.
    pub(crate) fn open(mut self, points: &[At]) -> Self {
        for (i, p) in points.iter().enumerate() {
            let _ = write!(self.d, "{}{} {}", if i == 0 { "M" } else { "L" }, short(p[0]), short(p[1]));
        }
        self
    }

    /// Adds a closed polygon.
    pub(crate) fn closed(self, points: &[At]) -> Self {
        let mut path = self.open(points);
        if !points.is_empty() {
            path.d.push('Z');
        }
        path
    }

    /// Is there nothing in it?
    pub(crate) fn is_empty(&self) -> bool {
        self.d.is_empty()
    }
}

impl Svg {
    /// An empty sheet with a title and a description for readers who cannot see it.
    pub(crate) fn new(style: Style, [width, height]: At, title: &str, description: &str) -> Self {
        Self {
            style,
            width,
            height,
            title: title.to_owned(),
            description: description.to_owned(),
            defs: String::new(),
            body: String::new(),
            labels: Vec::new(),
            clips: 0,
        }
    }

    /// Width of the sheet.
    pub(crate) fn width(&self) -> f64 {
        self.width
    }

    /// Height of the sheet.
    pub(crate) fn height(&self) -> f64 {
        self.height
    }

    /// The look it was made for.
    pub(crate) fn style(&self) -> Style {
        self.style
    }

    fn rgb(&self, colour: Colour) -> Rgb {
        colour.on(self.style.theme)
    }

    /// Draws a path; holes by the even-odd rule.
    pub(crate) fn path(&mut self, path: &Path, paint: Paint) {
        if path.is_empty() {
            return;
        }
        let rule = if paint.fill.is_some() { " fill-rule=\"evenodd\"" } else { "" };
        let _ = writeln!(self.body, "<path d=\"{}\"{}{rule}/>", path.d, paint.attributes(self.style.theme));
    }

    /// Draws what `draw` draws around a place, moved from there by some elements of SMIL.
    pub(crate) fn moving(&mut self, at: At, animations: &str, draw: impl FnOnce(&mut Self)) {
        let (x, y) = (short(at[0]), short(at[1]));
        let _ = writeln!(self.body, "<g transform=\"translate({x} {y})\">{animations}");
        draw(self);
        self.body.push_str("</g>\n");
    }

    /// Draws what `draw` draws, turned by some degrees with the clock about the origin and then by some elements of SMIL.
    pub(crate) fn turning(&mut self, degrees: f64, animations: &str, draw: impl FnOnce(&mut Self)) {
        let _ = writeln!(self.body, "<g transform=\"rotate({degrees:.3})\">{animations}");
        draw(self);
        self.body.push_str("</g>\n");
    }

    /// Draws a polyline.
    pub(crate) fn polyline(&mut self, points: &[At], paint: Paint) {
        self.path(&Path::default().open(points), paint);
    }

    /// Draws a closed polygon.
    pub(crate) fn polygon(&mut self, points: &[At], paint: Paint) {
        self.path(&Path::default().closed(points), paint);
    }

    /// Draws a rectangle.
    pub(crate) fn rectangle(&mut self, corner: At, size: At, paint: Paint) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"{}/>",
            short(corner[0]),
            short(corner[1]),
            short(size[0]),
            short(size[1]),
            paint.attributes(self.style.theme)
        );
    }

    /// Draws a circle.
    pub(crate) fn circle(&mut self, centre: At, radius: f64, paint: Paint) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\"{}/>",
            short(centre[0]),
            short(centre[1]),
            short(radius),
            paint.attributes(self.style.theme)
        );
    }

    /// A straight arrow with a full head.
    pub(crate) fn arrow(&mut self, from: At, to: At, colour: Colour, width: f64) {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let length = dx.hypot(dy);
        if length < 1e-9 {
            return;
        }
        let (ex, ey) = (dx / length, dy / length);
        let head = (4.2 * width).min(0.7 * length);
        let neck = [to[0] - head * ex, to[1] - head * ey];
        self.polyline(
            &[from, [neck[0] + 0.3 * head * ex, neck[1] + 0.3 * head * ey]],
            Paint::line(colour, width),
        );
        self.head(neck, to, 0.42 * head, colour);
    }

    /// The head of an arrow between its base's middle and its point.
    pub(crate) fn head(&mut self, base: At, tip: At, half_width: f64, colour: Colour) {
        let (dx, dy) = (tip[0] - base[0], tip[1] - base[1]);
        let length = dx.hypot(dy).max(1e-9);
        let (nx, ny) = (-dy / length * half_width, dx / length * half_width);
        self.polygon(&[[base[0] + nx, base[1] + ny], tip, [base[0] - nx, base[1] - ny]], Paint::fill(colour));
    }

    /// Draws what `draw` draws, cut off at a rectangle.
    pub(crate) fn clipped(&mut self, corner: At, size: At, draw: impl FnOnce(&mut Self)) {
        self.clips += 1;
        let id = format!("clip{}", self.clips);
        let _ = writeln!(
            self.defs,
            "<clipPath id=\"{id}\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath>",
            short(corner[0]),
            short(corner[1]),
            short(size[0]),
            short(size[1])
        );
        let _ = writeln!(self.body, "<g clip-path=\"url(#{id})\">");
        draw(self);
        self.body.push_str("</g>\n");
    }

    /// Fills closed rings with slanting lines, `gap` apart. The lines end at the rings: rasterisers take long over
    /// patterns and clips.
    pub(crate) fn hatched(&mut self, rings: &[Vec<At>], colour: Colour, width: f64, gap: f64) {
        let step = gap * SQRT_2;
        // Along a line x + y stays the same.
        let sum = |p: &At| p[0] + p[1];
        let sums = || rings.iter().flatten().map(sum);
        let (low, high) = (sums().fold(f64::INFINITY, f64::min), sums().fold(f64::NEG_INFINITY, f64::max));
        let mut lines = Path::default();
        for line in ((low / step).ceil() as i64..=(high / step).floor() as i64).map(|k| k as f64 * step) {
            let mut crossings: Vec<f64> = rings
                .iter()
                .flat_map(|ring| ring.windows(2))
                .filter(|side| (sum(&side[0]) < line) != (sum(&side[1]) < line))
                .map(|side| {
                    let share = (line - sum(&side[0])) / (sum(&side[1]) - sum(&side[0]));
                    side[0][0] + share * (side[1][0] - side[0][0])
                })
                .collect();
            crossings.sort_by(f64::total_cmp);
            for pair in crossings.chunks_exact(2) {
                lines = lines.open(&[[pair[0], line - pair[0]], [pair[1], line - pair[1]]]);
            }
        }
        if !lines.is_empty() {
            self.path(&lines, Paint::line(colour, width));
        }
    }

    /// Writes a text.
    pub(crate) fn label(&mut self, label: Label) {
        let anchor = match label.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = match label.face {
            Face::Regular => "",
            Face::Semibold => " font-weight=\"600\"",
        };
        let baseline = 0.5 * font::CAP_HEIGHT * label.size;
        let place = format!(
            "x=\"0\" y=\"{}\" transform=\"translate({} {}){}\" font-size=\"{}\" text-anchor=\"{anchor}\"{weight}",
            short(baseline),
            short(label.at[0]),
            short(label.at[1]),
            if label.angle == 0.0 { String::new() } else { format!(" rotate({})", short(label.angle)) },
            short(label.size)
        );
        let text = escape(&label.text);
        if let Some(rim) = label.halo.map(|colour| self.rgb(colour)) {
            // A copy below, not `paint-order`: some programs that import SVG ignore that.
            let _ = writeln!(
                self.body,
                "<text {place} aria-hidden=\"true\" fill=\"{rim}\" stroke=\"{rim}\" stroke-width=\"{}\" stroke-linejoin=\"round\">{text}</text>",
                short(0.2 * label.size)
            );
        }
        let ink = self.rgb(label.colour);
        let _ = writeln!(self.body, "<text {place} fill=\"{ink}\">{text}</text>");
        self.labels.push(label);
    }

    /// Would this text lie clear of every text so far and inside the sheet?
    pub(crate) fn is_clear(&self, label: &Label) -> bool {
        self.is_apart(label, 0.0)
    }

    /// Would this text lie inside the sheet, and not run into any text so far: with a gap beside it, in the direction in
    /// which it is read?
    pub(crate) fn is_apart(&self, label: &Label, gap: f64) -> bool {
        let inside = label
            .corners()
            .iter()
            .all(|p| (2.0..=self.width - 2.0).contains(&p[0]) && (2.0..=self.height - 2.0).contains(&p[1]));
        let wide = label.widened(gap).corners();
        inside && self.labels.iter().all(|other| !overlap(&wide, &other.corners()))
    }

    /// Writes the first of some texts that lies clear; tells whether one did.
    pub(crate) fn label_first_clear(&mut self, candidates: impl IntoIterator<Item = Label>) -> bool {
        self.label_first_apart(candidates, 0.0)
    }

    /// Writes the first of some texts that runs into no other (see [`Self::is_apart`]); tells whether one did.
    pub(crate) fn label_first_apart(
        &mut self,
        candidates: impl IntoIterator<Item = Label>,
        gap: f64,
    ) -> bool {
        let found = candidates.into_iter().find(|label| self.is_apart(label, gap));
        let clear = found.is_some();
        if let Some(label) = found {
            self.label(label);
        }
        clear
    }

    /// Pairs of texts that overlap, and texts that leave the sheet: empty for a good drawing.
    #[cfg(test)]
    pub(crate) fn collisions(&self) -> Vec<String> {
        let mut found = Vec::new();
        for (i, a) in self.labels.iter().enumerate() {
            let corners = a.corners();
            if corners.iter().any(|p| p[0] < 0.0 || p[1] < 0.0 || p[0] > self.width || p[1] > self.height) {
                found.push(format!("'{}' leaves the sheet", a.text));
            }
            for b in &self.labels[..i] {
                if overlap(&corners, &b.corners()) {
                    found.push(format!("'{}' overlaps '{}'", b.text, a.text));
                }
            }
        }
        found
    }

    /// Texts that are smaller on the medium than the style promises.
    #[cfg(test)]
    pub(crate) fn too_small(&self) -> Vec<String> {
        const POINTS_PER_MM: f64 = 72.0 / 25.4;
        let least = self.style.smallest_points();
        let points = |label: &Label| label.size * self.style.mm_per_unit() * POINTS_PER_MM;
        let small = self.labels.iter().filter(|label| points(label) < least);
        small
            .map(|label| format!("'{}' is {:.1} points high, not {least}", label.text, points(label)))
            .collect()
    }

    /// All texts, in the order in which they were written.
    #[cfg(test)]
    pub(crate) fn texts(&self) -> impl Iterator<Item = (&str, Face)> {
        self.labels.iter().map(|label| (label.text.as_str(), label.face))
    }

    /// The finished drawing.
    pub(crate) fn finish(&self) -> Drawing {
        Drawing { style: self.style, size: [self.width, self.height], document: self.document() }
    }

    /// The drawing as an SVG document.
    pub(crate) fn document(&self) -> String {
        let [across, down] = outer_size(self.style, [self.width, self.height]);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{across}\" height=\"{down}\" viewBox=\"0 0 {w} {h}\" role=\"img\" \
             aria-labelledby=\"title description\" font-family=\"{}\">\n<title id=\"title\">{}</title>\n\
             <desc id=\"description\">{}</desc>\n<defs>\n{}</defs>\n<rect width=\"{w}\" height=\"{h}\" fill=\"{}\"/>\n{}</svg>\n",
            font::FAMILY,
            escape(&self.title),
            escape(&self.description),
            self.defs,
            self.rgb(PAPER),
            self.body,
            w = short(self.width),
            h = short(self.height),
        )
    }
}

/// A finished drawing.
#[derive(Debug, Clone)]
pub(crate) struct Drawing {
    style: Style,
    /// Width and height, units.
    size: At,
    document: String,
}

impl Drawing {
    /// As SVG.
    pub(crate) fn svg(&self) -> &str {
        &self.document
    }

    /// As PNG, as fine as its style asks.
    ///
    /// # Errors
    /// A sentence of the rasteriser.
    pub(crate) fn png(&self) -> Result<Vec<u8>, String> {
        let pixels = rasterise(&self.document, self.size.map(|side| side * self.style.pixels()))?;
        encode(pixels, self.style.pixels_per_metre()).map_err(|e| e.to_string())
    }

    /// As GIF, if it moves; none if it was told to stop.
    ///
    /// # Errors
    /// A sentence of the rasteriser or of the encoder.
    pub(crate) fn gif(&self, is_stopped: &dyn Fn() -> bool) -> Result<Option<Vec<u8>>, String> {
        gif::bytes(&self.document, self.size.map(|side| side * self.style.gif_pixels()), is_stopped)
    }

    /// As a page of PDF with its letters embedded; a page of the style's size, or of 96 units an inch.
    ///
    /// # Errors
    /// A sentence of the converter.
    pub(crate) fn pdf(&self) -> Result<Vec<u8>, String> {
        let options =
            svg2pdf::usvg::Options { fontdb: font::page_database(), ..svg2pdf::usvg::Options::default() };
        let tree = svg2pdf::usvg::Tree::from_str(&self.document, &options).map_err(|e| e.to_string())?;
        let page = svg2pdf::PageOptions { dpi: UNITS_PER_INCH };
        let pdf = svg2pdf::to_pdf(&tree, svg2pdf::ConversionOptions::default(), page);
        settled(&pdf.map_err(|e| e.to_string())?)
    }
}

/// Units of a document in an inch (CSS).
const UNITS_PER_INCH: f32 = 96.0;

/// Width and height of a document as attributes: on paper a figure has the size it is made for.
fn outer_size(style: Style, [width, height]: At) -> [String; 2] {
    match style.width_mm() {
        Some(mm) => [mm, mm * height / width].map(|side| format!("{}mm", short(side))),
        None => [width, height].map(short),
    }
}

/// A document as a picture of a size in pixels, with the embedded typeface only.
pub(super) fn rasterise(document: &str, size: At) -> Result<tiny_skia::Pixmap, String> {
    let options = usvg::Options { fontdb: font::database(), ..usvg::Options::default() };
    let tree = usvg::Tree::from_str(document, &options).map_err(|e| e.to_string())?;
    let mut pixels = tiny_skia::Pixmap::new(size[0].round() as u32, size[1].round() as u32)
        .ok_or("a figure without size")?;
    let scale = size[0] as f32 / tree.size().width();
    let transform = tiny_skia::Transform::from_scale(scale, scale);
    resvg::render(&tree, transform, &mut pixels.as_mut());
    Ok(pixels)
}

/// The pixels as a file with their resolution, by the encoder's fast method: writing should not take longer than solving.
fn encode(pixels: tiny_skia::Pixmap, pixels_per_metre: u32) -> Result<Vec<u8>, png::EncodingError> {
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, pixels.width(), pixels.height());
    encoder.set_color(png::ColorType::Rgba);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    encoder.set_filter(png::Filter::Up);
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: pixels_per_metre,
        yppu: pixels_per_metre,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&pixels.take_demultiplied())?;
    writer.finish()?;
    Ok(file)
}

/// Do two convex quadrilaterals overlap? (Separating axes.)
fn overlap(a: &[At; 4], b: &[At; 4]) -> bool {
    let axes =
        [a, b].into_iter().flat_map(|q| (0..2).map(move |i| [q[i + 1][0] - q[i][0], q[i + 1][1] - q[i][1]]));
    for axis in axes {
        let span = |q: &[At; 4]| {
            q.iter()
                .map(|p| p[0] * axis[0] + p[1] * axis[1])
                .fold((f64::MAX, f64::MIN), |(lo, hi), s| (lo.min(s), hi.max(s)))
        };
        let (a, b) = (span(a), span(b));
        if a.1 <= b.0 || b.1 <= a.0 {
            return false;
        }
    }
    true
}

/// A coordinate with two decimals at most.
pub(super) fn short(value: f64) -> String {
    let rounded = (100.0 * value).round() / 100.0;
    format!("{}", if rounded == 0.0 { 0.0 } else { rounded })
}

fn escape(text: &str) -> String {
    text.replace(SOFT_HYPHEN, "")
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
