//! Figures: the map, the curve of the centre of rotation, the tip per millimetre, and the section. A
//! figure is drawn once, as SVG; its PNG is that SVG rasterised (with the embedded typeface only), so both
//! show the same and no picture depends on the machine.

mod axis;
pub(crate) mod band;
pub(crate) mod colour;
pub(crate) mod compensation;
mod contour;
mod curve;
pub(crate) mod enlarge;
mod film;
mod font;
mod gif;
mod layout;
mod map;
mod movement;
mod overview;
mod pressure;
mod section;
mod settled;
pub(crate) mod silhouette;
pub(crate) mod slice;
mod style;
pub(crate) mod svg;
pub(crate) mod sweep;
mod tip;
pub(crate) mod tornado;
mod unroll;
mod words;

use std::path::Path;

use clap::ValueEnum;
use gomphosis_mesh_gen::{Landmarks, TetMesh, ToothForm};
use gomphosis_solver::{
    Bodies, LigamentField, Movement, PlanarLoad, PlanarMotion, PlanarResistance, RigidMotion,
};

use crate::case::Case;
use crate::exit::Failure;
use crate::output::{Batch, Form, Purpose, What};
pub(crate) use colour::Theme;
use enlarge::Enlargement;
pub(crate) use enlarge::{Shown, Spot};
pub(crate) use overview::Entry;
pub(crate) use section::{along_roots, widened};
pub(crate) use style::{Size, Style};
pub(crate) use svg::Drawing;
pub(crate) use words::Language;

/// What the figures are about.
pub(crate) struct Subject<'a> {
    /// Sheet, ground and language.
    pub(crate) style: Style,
    /// The case.
    pub(crate) case: &'a Case,
    /// Resistance in the bucco-lingual plane.
    pub(crate) resistance: PlanarResistance,
    /// Depth of the apex below the crest, mm.
    pub(crate) apex_depth_mm: f64,
    /// Height of the cusp tip or incisal edge above the crest, mm.
    pub(crate) cusp_height_mm: f64,
    /// The mesh.
    pub(crate) mesh: &'a TetMesh,
    /// Places of the tooth.
    pub(crate) landmarks: Landmarks,
    /// Motion of the tooth under the case's load.
    pub(crate) motion: RigidMotion,
    /// How far movements are enlarged.
    pub(crate) shown: Shown,
    /// Numbers of the nodes on the root, growing, and the ligament's state there.
    pub(crate) root_nodes: &'a [u32],
    /// Ligament pressure and shear under the case's load.
    pub(crate) ligament: LigamentField,
    /// The ligament's largest strain and the largest that a linear model answers for, if the case's load passes it.
    pub(crate) strain_beyond: Option<[f64; 2]>,
}

/// Motion under a push of one newton at a height with a ratio of torque to force.
fn plane_motion(resistance: &PlanarResistance, height_mm: f64, ratio_mm: f64) -> PlanarMotion {
    resistance.motion(&PlanarLoad { height_mm, force_n: 1.0, torque_nmm: ratio_mm })
}

/// Names of directions in the language of a figure; see [`crate::case::Words`].
struct Directions {
    outward: String,
    inward: String,
    upward: String,
    plane: String,
}

impl Subject<'_> {
    /// The case's own name, or that of the tooth with a capital letter, and bone loss if there is any.
    fn tooth_title(&self) -> String {
        if let Some(name) = &self.case.own_name {
            return name.clone();
        }
        let mut name = self.case.name();
        if !matches!(self.case.specimen.tooth.form, ToothForm::Anatomical(_)) {
            name.push_str(" root");
        }
        let name = crate::case::sentence_case(&self.style.say(&name));
        let loss = self.case.specimen.bone.loss_mm;
        if loss > 0.0 {
            self.style.tell("{} with {} mm of bone loss", &[&name, &self.style.number(loss)])
        } else {
            name
        }
    }

    /// Where the case's load strains the ligament too much for a linear model: what of the figure is extrapolated.
    fn beyond(&self) -> Option<String> {
        let limits = self.strain_beyond?.map(|strain| self.style.fixed(strain, 2));
        let line = self.style.tell(
            "strain of {}, beyond {}: positions hold, travel and pressure are extrapolated",
            &[&limits[0], &limits[1]],
        );
        Some(crate::case::sentence_case(&line))
    }

    /// What the model is, in a few words.
    pub(crate) fn model_line(&self) -> String {
        let bodies = match self.case.bodies {
            Bodies::Elastic => {
                "finite elements, elastic tooth, ligament and bone, ligament of {} MPa and Poisson ratio {}"
            }
            Bodies::Rigid => "finite elements, rigid tooth and bone, ligament of {} MPa and Poisson ratio {}",
        };
        let ligament = self.case.materials.ligament;
        let number = |value| self.style.number(value);
        self.style.tell(bodies, &[&number(ligament.modulus_mpa), &number(ligament.poisson_ratio)])
    }

    /// What the directions are called, in the language of the figure.
    fn words(&self) -> Directions {
        let words = self.case.words();
        let [outward, inward, upward, plane] =
            [words.outward, words.inward, words.upward, words.plane].map(|word| self.style.say(word));
        Directions { outward, inward, upward, plane }
    }

    /// Height of the attachment, mm.
    fn height_mm(&self) -> f64 {
        self.case.specimen.attachment.height_mm
    }

    /// Ratio of torque to force of the case's load, mm; none without a force.
    fn ratio_mm(&self) -> Option<f64> {
        let load = self.case.load;
        (load.force_n != 0.0).then(|| load.torque_nmm / load.force_n)
    }

    /// The case's load in the bucco-lingual plane.
    fn planar_load(&self) -> PlanarLoad {
        let load = self.case.load;
        PlanarLoad { height_mm: self.height_mm(), force_n: load.force_n, torque_nmm: load.torque_nmm }
    }

    /// From the apex to the cusp tip, mm.
    fn tooth_height_mm(&self) -> f64 {
        self.cusp_height_mm + self.apex_depth_mm
    }

    /// Kind of movement for a height and a ratio.
    fn movement(&self, height_mm: f64, ratio_mm: f64) -> Movement {
        let load = PlanarLoad { height_mm, force_n: 1.0, torque_nmm: ratio_mm };
        self.resistance.movement(&load, self.apex_depth_mm)
    }
}

/// A figure of one tooth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Kind {
    /// Tip per millimetre over attachment height and moment-to-force ratio, with the kinds of movement
    Map,
    /// Centre of rotation against the moment-to-force ratio, beside the tooth
    Curve,
    /// The tooth in its socket, at rest and moved, with the ligament's pressure
    Section,
    /// Tip per millimetre against the moment-to-force ratio, measured at three points
    Tip,
    /// Pressure of the ligament over the root's surface, unrolled
    Pressure,
    /// The movement as torque grows: an animated SVG or GIF; PNG and PDF show its first frame
    Movement,
    /// The sixteen teeth side by side under a plain push (takes no CASE)
    Overview,
    /// Lines of a finished study (CASE is the directory of its results)
    Lines,
    /// Tornado of a finished study (CASE is the directory of its results)
    Tornado,
    /// Degrees per mm against bone loss, tooth by tooth (CASE is the directory of `compensate --out`)
    Compensation,
}

impl Kind {
    /// The figures that a map writes.
    const OF_A_MAP: [Self; 4] = [Self::Map, Self::Curve, Self::Section, Self::Tip];

    /// The name of its files.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Map => "map",
            Self::Curve => "curve",
            Self::Section => "section",
            Self::Tip => "tip",
            Self::Pressure => "pressure",
            Self::Movement => "movement",
            Self::Overview => "overview",
            Self::Lines => "lines",
            Self::Tornado => "tornado",
            Self::Compensation => "compensation",
        }
    }

    /// Does it draw a movement that can be enlarged for a travel?
    pub(crate) const fn is_enlarged(self) -> bool {
        matches!(self, Self::Section | Self::Movement)
    }

    /// How far it has to enlarge the movement so that a place of the tooth travels so many mm: under the load of the case,
    /// or, where torque grows, under the push without it.
    ///
    /// # Errors
    /// A sentence, if the place does not travel or the tooth would turn too far to be drawn.
    pub(crate) fn shown_for(self, subject: &Subject<'_>, mm: f64, at: Spot) -> Result<Shown, String> {
        let load = subject.planar_load();
        let (motion, tips) = if self == Self::Movement {
            let under = |ratio: f64| {
                subject.resistance.motion(&PlanarLoad { torque_nmm: ratio * load.force_n, ..load })
            };
            (under(0.0), movement::ratios(subject).map(|ratio| under(ratio).tip_rad))
        } else {
            let motion = subject.resistance.motion(&load);
            (motion, [motion.tip_rad; 2])
        };
        let largest = tips[0].abs().max(tips[1].abs());
        Enlargement::for_travel(subject, [mm, largest], at, &motion).map(Shown::As)
    }

    /// Draws it.
    pub(crate) fn draw(self, subject: &Subject<'_>) -> Result<Drawing, Failure> {
        match self {
            Self::Map => Ok(map::draw(subject).finish()),
            Self::Curve => Ok(curve::draw(subject).finish()),
            Self::Section => Ok(section::draw(subject).finish()),
            Self::Pressure => Ok(pressure::draw(subject).finish()),
            Self::Movement => Ok(movement::draw(subject).finish()),
            Self::Overview => Err(self.failed("it is drawn from sixteen teeth")),
            Self::Tip => Ok(tip::draw(subject).finish()),
            Self::Lines | Self::Tornado | Self::Compensation => {
                Err(self.failed("it is drawn from finished results"))
            }
        }
    }

    /// A figure that could not be made.
    fn failed(self, reason: &str) -> Failure {
        Failure::NoResult(format!("the figure {} failed: {reason}", self.name()))
    }
}

/// Draws the overview of some computed teeth; `model` says in a few words what they are made of.
pub(crate) fn overview(style: Style, entries: &[Entry], model: &str) -> Drawing {
    overview::draw(style, entries, model).finish()
}

/// A format of files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// Scalable vector graphics.
    Svg,
    /// Pixels.
    Png,
    /// A page with embedded letters.
    Pdf,
    /// An animation (figure `movement` only).
    Gif,
}

impl Format {
    /// The ending of its files.
    pub(crate) const fn ending(self) -> &'static str {
        match self {
            Self::Svg => "svg",
            Self::Png => "png",
            Self::Pdf => "pdf",
            Self::Gif => "gif",
        }
    }

    /// The bytes of a file; none if `is_stopped` said so in between.
    ///
    /// # Errors
    /// A sentence of the converter.
    pub(crate) fn bytes_unless(
        self,
        drawing: &Drawing,
        is_stopped: &dyn Fn() -> bool,
    ) -> Result<Option<Vec<u8>>, String> {
        if self == Self::Gif { drawing.gif(is_stopped) } else { self.bytes(drawing).map(Some) }
    }

    /// The format as the files of this program know it.
    pub(crate) fn form(self) -> Form {
        Form::by_ending(self.ending()).expect("every format of figures is a format of files")
    }

    /// The bytes of a file.
    ///
    /// # Errors
    /// A sentence of the converter.
    pub(crate) fn bytes(self, drawing: &Drawing) -> Result<Vec<u8>, String> {
        match self {
            Self::Gif => drawing.gif(&|| false)?.ok_or_else(|| "it was stopped".to_owned()),
            Self::Svg => Ok(drawing.svg().as_bytes().to_vec()),
            Self::Png => drawing.png(),
            Self::Pdf => drawing.pdf(),
        }
    }
}

/// Adds a drawing as SVG and PNG to a batch; `stem` is the name of its files.
pub(crate) fn write_drawing(
    stem: &str,
    drawing: &Drawing,
    directory: &Path,
    batch: &mut Batch,
) -> Result<(), Failure> {
    for format in [Format::Svg, Format::Png] {
        let bytes = format
            .bytes(drawing)
            .map_err(|reason| Failure::NoResult(format!("the figure {stem} failed: {reason}")))?;
        let name = format!("{stem}.{}", format.ending());
        batch.file(&directory.join(name), |w| w.write_all(&bytes))?;
    }
    Ok(())
}

/// What the file of a figure is: `name` says which figure, `subject` what it is about, and `key` all that it depends on
/// besides its style.
pub(crate) fn what(name: &str, style: Style, subject: &str, key: &str, form: Form) -> What {
    What::new(form, Purpose::Figure, &format!("{subject}, {name}"), &format!("{name} {style:?} {key}"))
}

/// The files of [`write_drawing`].
pub(crate) fn plan_drawing(
    stem: &str,
    what: impl Fn(Form) -> What,
    directory: &Path,
    batch: &mut Batch,
) -> Result<(), Failure> {
    [Format::Svg, Format::Png].into_iter().try_for_each(|format| {
        batch.plan_in(directory, &format!("{stem}.{}", format.ending()), what(format.form()))
    })
}

/// The files of [`write_all`], each with what it is.
pub(crate) fn files_of_a_map(subject: &str, key: &str) -> Vec<(String, What)> {
    let file = |kind: &Kind, format: Format| {
        let what = what(kind.name(), Style::default(), subject, key, format.form());
        (format!("{}.{}", kind.name(), format.ending()), what)
    };
    Kind::OF_A_MAP
        .iter()
        .flat_map(|kind| [Format::Svg, Format::Png].map(|format| file(kind, format)))
        .collect()
}

/// Draws every figure of a map and adds SVG and PNG to the batch.
pub(crate) fn write_all(subject: &Subject<'_>, directory: &Path, batch: &mut Batch) -> Result<(), Failure> {
    use rayon::prelude::*;
    let drawn: Vec<Result<[Vec<u8>; 2], Failure>> = Kind::OF_A_MAP
        .par_iter()
        .map(|kind| {
            let drawing = kind.draw(subject)?;
            let bytes = |format: Format| format.bytes(&drawing).map_err(|reason| kind.failed(&reason));
            Ok([bytes(Format::Svg)?, bytes(Format::Png)?])
        })
        .collect();
    for (kind, drawn) in Kind::OF_A_MAP.iter().zip(drawn) {
        for (format, bytes) in [Format::Svg, Format::Png].into_iter().zip(drawn?) {
            let name = format!("{}.{}", kind.name(), format.ending());
            batch.file(&directory.join(name), |w| w.write_all(&bytes))?;
        }
    }
    Ok(())
}

#[cfg(test)]
#[path = "figure/tests.rs"]
mod tests;
