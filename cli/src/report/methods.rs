//! The paragraph for the methods of a paper: what was modelled, how it was held and loaded, solved and read, with which
//! error. It is made from the case and its result alone, so that it is true of any case.

use std::fmt::Write;

use gomphosis_mesh_gen::{Face, LigamentProfile, RootPlan, ToothForm};
use gomphosis_solver::{Bodies, Formulation, Material, Plane};

use crate::accuracy::NUMBERS;
use crate::case::{Case, defaults, parameters};
use crate::result::ResultDocument;
use crate::table::{fixed, height};

/// Who a paper names as author.
pub(crate) const AUTHORS: &str = "The Gomphosis developers";
/// Year of this version.
pub(crate) const YEAR: u32 = 2026;

/// How to cite the program.
pub(crate) fn citation() -> String {
    format!(
        "{AUTHORS} ({YEAR}). Gomphosis: finite-element simulation of how a tooth moves in its ligament, version {} \
         [computer program].",
        env!("CARGO_PKG_VERSION")
    )
}

/// The sentences, in order.
pub(super) fn methods(case: &Case, result: &ResultDocument) -> String {
    let mut parts = vec![shape(case), bone(case), ligament(case), bodies(case)];
    parts.extend([changes(case), mesh(case, result), load(case), solution(), error(result)]);
    parts.push(format!("The program was Gomphosis {} ({AUTHORS}, {YEAR}).", env!("CARGO_PKG_VERSION")));
    parts.join(" ")
}

fn is_ideal(case: &Case) -> bool {
    !matches!(case.specimen.tooth.form, ToothForm::Anatomical(_))
}

fn shape(case: &Case) -> String {
    let (crown, root) = (case.specimen.tooth.crown, case.specimen.tooth.root);
    if is_ideal(case) {
        let form = match case.specimen.tooth.form {
            ToothForm::EllipticParaboloid => "an elliptic paraboloid",
            _ => "a paraboloid of revolution",
        };
        return format!(
            "The root was {form}, {} mm long from the healthy crest to the apex and {} mm wide there bucco-lingually and {} mm \
             mesio-distally, with a plain stub {} mm high above the crest.",
            root.length_mm, root.buccolingual_mm, root.mesiodistal_mm, crown.height_mm
        );
    }
    let mut text = format!(
        "One {} in its socket was modelled by finite elements: crown {} mm high, {} mm wide mesio-distally and {} mm \
             bucco-lingually; root {} mm long from the cemento-enamel junction to the deepest apex, {} mm wide at the cervix \
             mesio-distally and {} mm bucco-lingually, ",
        case.name(),
        crown.height_mm,
        crown.mesiodistal_mm,
        crown.buccolingual_mm,
        root.length_mm,
        root.mesiodistal_mm,
        root.buccolingual_mm
    );
    let _ = match root.plan {
        RootPlan::Single => write!(text, "single"),
        several => write!(
            text,
            "with {} parting {} mm below the junction at an angle of {} degrees",
            match several {
                RootPlan::BuccalLingual => "a buccal and a lingual root",
                RootPlan::MesialDistal => "a mesial and a distal root",
                RootPlan::Single | RootPlan::Three => "two buccal roots and a palatal one",
            },
            root.furcation_mm,
            root.divergence_deg
        ),
    };
    if root.curvature_mm != 0.0 {
        let _ = write!(text, ", its apex bent {} mm to distal", root.curvature_mm);
    }
    text.push('.');
    text
}

/// What is not the average tooth's own.
fn changes(case: &Case) -> String {
    let average = parameters(&defaults(case.specimen.tooth.form));
    let size = ["crown.", "root.", "ligament.", "bone.", "attachment.", "mesh."];
    let changed: Vec<String> = parameters(case)
        .into_iter()
        .filter(|now| now.given && size.iter().any(|table| now.path.starts_with(table)))
        .filter_map(|now| {
            let before = average.iter().find(|p| p.path == now.path).filter(|p| p.value != now.value)?;
            let unit = if now.unit.is_empty() { String::new() } else { format!(" {}", now.unit) };
            Some(format!("{} {}{unit} (default {})", now.path, now.value, before.value))
        })
        .collect();
    let rest = if is_ideal(case) {
        "the idealised root of the literature (Haack & Haft 1972)"
    } else {
        "averages (Ash & Nelson, Wheeler's Dental Anatomy, Physiology and Occlusion)"
    };
    if changed.is_empty() {
        return format!("Sizes were {rest}.");
    }
    format!("Sizes were {rest} but for: {}.", changed.join(", "))
}

fn bone(case: &Case) -> String {
    let spec = &case.specimen;
    let crest = if is_ideal(case) {
        String::new()
    } else {
        format!(
            "The healthy alveolar crest lay {} mm apical of the cemento-enamel junction; ",
            spec.bone.crest_below_cej_mm
        )
    };
    let loss = if spec.bone.loss_mm > 0.0 {
        format!("horizontal bone loss of {} mm was modelled", spec.bone.loss_mm)
    } else {
        "no bone was lost".to_owned()
    };
    let text = format!("{crest}{loss}, so that {} mm of root stood in bone.", height(spec.bony_root_mm()));
    if crest.is_empty() { format!("{}{}", text[..1].to_uppercase(), &text[1..]) } else { text }
}

fn ligament(case: &Case) -> String {
    let spec = case.specimen.ligament;
    let thickness = match spec.profile {
        LigamentProfile::Uniform => {
            format!("{} mm thick everywhere, normal to the root", spec.thickness_mm)
        }
        LigamentProfile::Hourglass => format!(
            "{} mm thick at crest and apex and {} mm half-way down the root, with a parabola between, normal to the root",
            spec.thickness_mm, spec.mid_thickness_mm
        ),
        LigamentProfile::Stretched => format!(
            "made by stretching the root about the centre of the crest by {} mm at crest and apex, which leaves about 0.7 times \
             that half-way, normal to the root",
            spec.thickness_mm
        ),
    };
    format!(
        "The periodontal ligament was {thickness}, linear elastic and isotropic ({}).",
        constants(case.materials.ligament)
    )
}

fn constants(material: Material) -> String {
    format!("Young's modulus {} MPa, Poisson's ratio {}", material.modulus_mpa, material.poisson_ratio)
}

fn bodies(case: &Case) -> String {
    let (m, bone) = (case.materials, case.specimen.bone);
    match case.bodies {
        Bodies::Elastic => format!(
            "Tooth ({}), cancellous bone ({}) and a cortical shell {} mm thick ({}) were linear elastic and isotropic, bonded to \
             the ligament. The bone was a block with {} mm of bone at its thinnest between ligament and buccal face, {} mm to \
             the lingual face, {} mm to the mesial and distal cuts and {} mm below the apex; its base and its mesial and distal \
             cuts were held in all directions, and its other faces were free.",
            constants(m.tooth),
            constants(m.cancellous_bone),
            bone.cortical_mm,
            constants(m.cortical_bone),
            bone.buccal_plate_mm,
            bone.lingual_plate_mm,
            bone.interdental_mm,
            bone.below_apex_mm
        ),
        Bodies::Rigid => "Tooth and bone were rigid: the ligament was the only body that deformed, bonded to the root and held in \
            all directions on the wall of the socket; its edge at the crest was free."
            .to_owned(),
    }
}

fn mesh(case: &Case, result: &ResultDocument) -> String {
    let (nodes, tetrahedra, unknowns) = result.counts();
    let layers = case.specimen.ligament.layers;
    let plural = if layers == 1 { "" } else { "s" };
    let element = match case.formulation {
        Formulation::ProjectedDilatation => {
            "in the ligament the change of volume was projected on linear functions over each layer prism of three elements, which \
             keeps nearly incompressible layers from locking"
        }
        Formulation::Displacement => "the ligament had the plain displacement element, too",
    };
    format!(
        "The mesh had {tetrahedra} curved ten-node tetrahedra and {nodes} nodes (element size {} mm on the root), conforming \
         across tooth, ligament and bone, with {layers} layer{plural} of elements through the ligament; {element}; the system \
         had {unknowns} unknowns.",
        case.specimen.mesh.element_size_mm
    )
}

fn load(case: &Case) -> String {
    let attachment = case.specimen.attachment;
    let face = match attachment.face {
        Face::Buccal => case.words().outward,
        Face::Lingual => case.words().inward,
        Face::Mesial => "mesial",
        Face::Distal => "distal",
    };
    let how = match case.bodies {
        Bodies::Elastic => format!(
            "as prescribed tractions over a footprint of {} x {} mm (high x wide) on the {} face of the crown",
            attachment.footprint_height_mm, attachment.footprint_width_mm, face
        ),
        Bodies::Rigid => "on the rigid tooth".to_owned(),
    };
    format!(
        "The load was {}, stated at the long axis {} mm above the crest and applied {how}.",
        case.applied(Plane::BuccoLingual),
        height(attachment.height_mm)
    )
}

fn solution() -> String {
    "Six unit loads were solved, the motion of the tooth read as the best rigid motion of the root's surface in the socket, and \
     the load composed of the six. The analysis was linear: no time, no remodelling and no contact with neighbours."
        .to_owned()
}

/// The largest error of the headline numbers, and where it comes from.
fn error(result: &ResultDocument) -> String {
    let accuracy = &result.numerical_error.discretisation;
    let all = [Plane::BuccoLingual, Plane::MesioDistal].into_iter();
    let known: Vec<f64> =
        all.flat_map(|plane| NUMBERS.iter().filter_map(move |name| accuracy.percent(plane, name))).collect();
    let Some(worst) = known.iter().copied().reduce(f64::max) else {
        return "The discretisation error could not be estimated.".to_owned();
    };
    let mut text = format!(
        "The estimated discretisation error of the numbers in both planes was at most {} % (recovered stress in the ligament and \
         achieved against asked thickness",
        fixed(worst, usize::from(worst < 10.0))
    );
    if let Some(sequence) = accuracy.sequence() {
        let _ = write!(text, "; solved again on finer meshes, element sizes {}", sequence.meshes());
    }
    text.push_str(").");
    text
}

#[cfg(test)]
#[path = "methods/tests.rs"]
mod tests;
