//! Figures: the map, the curve of the centre of rotation, the tip per millimetre, and the section. A
//! figure is drawn once, as SVG; its PNG is that SVG rasterised (with the embedded typeface only), so both
//! show the same and no picture depends on the machine.

mod axis;
mod colour;
mod contour;
mod curve;
mod font;
mod layout;
mod map;
mod section;
mod silhouette;
mod slice;
mod svg;
mod tip;

use std::path::Path;

use gomphosis_mesh_gen::{Landmarks, TetMesh, ToothForm};
use gomphosis_solver::{Bodies, LigamentField, Movement, PlanarLoad, PlanarMotion, PlanarResistance};
use nalgebra::Vector3;

use crate::case::Case;
use crate::exit::Failure;
use crate::output::Batch;

/// Pixels of a PNG for each point of the drawing.
const PNG_SCALE: f64 = 2.0;

/// What the figures are about.
pub(crate) struct Subject<'a> {
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
    /// Displacement of every node under the case's load, mm.
    pub(crate) motion: Vec<Vector3<f64>>,
    /// Numbers of the nodes on the root, growing, and the ligament's state there.
    pub(crate) root_nodes: &'a [u32],
    /// Ligament pressure and shear under the case's load.
    pub(crate) ligament: LigamentField,
}

/// Motion under a push of one newton at a height with a ratio of torque to force.
fn plane_motion(resistance: &PlanarResistance, height_mm: f64, ratio_mm: f64) -> PlanarMotion {
    resistance.motion(&PlanarLoad { height_mm, force_n: 1.0, torque_nmm: ratio_mm })
}

impl Subject<'_> {
    /// Name of the tooth with a capital letter, and bone loss if there is any.
    fn tooth_title(&self) -> String {
        let mut name = crate::case::sentence_case(&self.case.name());
        if !matches!(self.case.specimen.tooth.form, ToothForm::Anatomical(_)) {
            name.push_str(" root");
        }
        let loss = self.case.specimen.bone.loss_mm;
        if loss > 0.0 { format!("{name} with {} mm of bone loss", axis::number(loss)) } else { name }
    }

    /// What the model is, in a few words.
    fn model_line(&self) -> String {
        let bodies = match self.case.bodies {
            Bodies::Elastic => "elastic tooth, ligament and bone",
            Bodies::Rigid => "rigid tooth and bone",
        };
        let ligament = self.case.materials.ligament;
        format!(
            "finite elements, {bodies}, ligament of {} MPa and Poisson ratio {}",
            axis::number(ligament.modulus_mpa),
            axis::number(ligament.poisson_ratio)
        )
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

    /// Kind of movement for a height and a ratio.
    fn movement(&self, height_mm: f64, ratio_mm: f64) -> Movement {
        let load = PlanarLoad { height_mm, force_n: 1.0, torque_nmm: ratio_mm };
        self.resistance.movement(&load, self.apex_depth_mm)
    }
}

/// Draws every figure of a map and adds SVG and PNG to the batch.
pub(crate) fn write_all(subject: &Subject<'_>, directory: &Path, batch: &mut Batch) -> Result<(), Failure> {
    use rayon::prelude::*;
    type Draw = fn(&Subject<'_>) -> svg::Svg;
    // The chart of tip per millimetre is drawn with plotters, the others on a sheet of our own.
    let figures: [(&str, Option<Draw>); 4] = [
        ("map", Some(map::draw)),
        ("curve", Some(curve::draw)),
        ("section", Some(section::draw)),
        ("tip", None),
    ];
    let drawn: Vec<Result<(String, Vec<u8>), String>> = figures
        .par_iter()
        .map(|(_, draw)| {
            let Some(draw) = draw else { return tip::draw(subject, PNG_SCALE) };
            let drawing = draw(subject);
            Ok((drawing.document(), drawing.png(PNG_SCALE)?))
        })
        .collect();
    for ((name, _), drawn) in figures.iter().zip(drawn) {
        let (document, pixels) =
            drawn.map_err(|e| Failure::NoResult(format!("the figure {name} failed: {e}")))?;
        batch.file(&directory.join(format!("{name}.svg")), |w| w.write_all(document.as_bytes()))?;
        batch.file(&directory.join(format!("{name}.png")), |w| w.write_all(&pixels))?;
    }
    Ok(())
}

#[cfg(test)]
#[path = "figure/tests.rs"]
mod tests;
