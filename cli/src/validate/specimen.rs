//! A tooth from the keys of a case file, solved, and what is read off it.

use gomphosis_mesh_gen::{Observer, ToothMesh, mesh_tooth, surface, triangle};
use gomphosis_solver::{Compliance, Material, PlanarLoad, PlanarResistance, Plane, solve_unit_loads};
use nalgebra::Point3;

use crate::case::{self as cases, Case};
use crate::commands::problem;
use crate::verify::VerifyError;

/// Short for the plane in which the tooth is pushed across the arch.
pub(super) const ACROSS: Plane = Plane::BuccoLingual;
/// Short for the plane in which it is pushed along the arch.
pub(super) const ALONG: Plane = Plane::MesioDistal;

/// A meshed case.
pub(super) struct Specimen {
    case: Case,
    tooth: ToothMesh,
    /// The command that makes it again.
    pub(super) command: String,
}

/// A solved one.
pub(super) struct Solved {
    pub(super) specimen: Specimen,
    pub(super) compliance: Compliance,
}

impl Specimen {
    /// A tooth with some keys of its case changed, each as `key=value`.
    pub(super) fn new(tooth: &str, set: &[&str], observer: &dyn Observer) -> Result<Self, VerifyError> {
        let mut given = vec![cases::option("tooth", "tooth", tooth)];
        let mut command = format!("gomphosis solve \"{tooth}\"");
        for text in set {
            let (key, value) = text.split_once('=').ok_or(VerifyError::Missing("a key without a value"))?;
            given.push(cases::option(text, key, value));
            command = format!("{command} --set {text}");
        }
        let case = cases::load(None, given).map_err(|failure| VerifyError::Case(failure.to_string()))?;
        let tooth = mesh_tooth(&case.specimen, observer)?;
        Ok(Self { case, tooth, command })
    }

    /// The same between rigid bodies: the ligament alone deforms.
    pub(super) fn rigid(tooth: &str, set: &[&str], observer: &dyn Observer) -> Result<Self, VerifyError> {
        let mut all = vec!["bodies=rigid"];
        all.extend(set);
        Self::new(tooth, &all, observer)
    }

    /// Solves the six unit loads.
    pub(super) fn solve(self, observer: &dyn Observer) -> Result<Solved, VerifyError> {
        let compliance = solve_unit_loads(&problem(&self.case, &self.tooth), observer)?.compliance;
        Ok(Solved { specimen: self, compliance })
    }

    /// The plane across the arch for another ligament on the same mesh.
    pub(super) fn with_ligament(
        &self,
        ligament: Material,
        observer: &dyn Observer,
    ) -> Result<PlanarResistance, VerifyError> {
        let mut problem = problem(&self.case, &self.tooth);
        problem.materials.ligament = ligament;
        Ok(PlanarResistance::new(&solve_unit_loads(&problem, observer)?.compliance, ACROSS))
    }

    /// Height of the attachment above the crest, mm.
    pub(super) fn height(&self) -> f64 {
        self.case.specimen.attachment.height_mm
    }

    /// Furcation below the crest, mm.
    pub(super) fn furcation(&self) -> f64 {
        self.case.specimen.tooth.root.furcation_mm - self.tooth.landmarks.cej_z
    }

    /// Area of the root's surface inside the socket where a point of it satisfies a condition, mm2.
    pub(super) fn area(&self, counts: impl Fn(Point3<f64>) -> bool) -> f64 {
        let mesh = &self.tooth.mesh;
        let faces = mesh.surface(surface::ROOT).iter();
        let points = faces.flat_map(|face| {
            triangle::integrate(&face.map(|n| mesh.nodes()[n as usize])).collect::<Vec<_>>()
        });
        points.filter(|p| counts(p.position)).map(|p| p.weight).sum()
    }
}

impl Solved {
    pub(super) fn plane(&self, plane: Plane) -> PlanarResistance {
        PlanarResistance::new(&self.compliance, plane)
    }

    /// Centre of resistance below the crest, mm.
    pub(super) fn depth(&self, plane: Plane) -> f64 {
        self.plane(plane).centre_depth_mm()
    }

    /// Crest to apex, mm.
    pub(super) fn bony_root(&self) -> f64 {
        self.specimen.tooth.landmarks.bony_root_mm
    }

    /// Centre of resistance below the crest over crest to apex.
    pub(super) fn fraction(&self, plane: Plane) -> f64 {
        self.depth(plane) / self.bony_root()
    }

    /// Height of the attachment above the crest, mm.
    pub(super) fn height(&self) -> f64 {
        self.specimen.height()
    }

    /// Moment-to-force ratio at the attachment for a translation across the arch, mm.
    pub(super) fn translation(&self) -> f64 {
        self.plane(ACROSS).torque_for_translation_mm(self.height())
    }

    /// The ratio that turns the tooth about a point at a depth below the crest: `D - sigma^2 / (depth - centre)`.
    pub(super) fn ratio_about(&self, depth: f64) -> f64 {
        let plane = self.plane(ACROSS);
        self.translation() - plane.sigma_squared_mm2() / (depth - plane.centre_depth_mm())
    }

    /// Height of the cusp tip or incisal edge above the crest, mm.
    pub(super) fn cusp_tip(&self) -> f64 {
        self.specimen.tooth.landmarks.cusp_tip.z
    }

    /// Depth below the crest at which the axis stands still under a push across the arch without torque, mm.
    pub(super) fn push_turns_about(&self) -> f64 {
        let plane = self.plane(ACROSS);
        plane.centre_depth_mm() + plane.sigma_squared_mm2() / self.translation()
    }

    /// Tip under a push without torque, degrees for each mm of travel at a height above the crest.
    pub(super) fn tip_per_mm(&self, reference: f64) -> f64 {
        self.plane(ACROSS).tip_deg_per_mm(self.height(), 0.0, reference)
    }

    /// Tip (degrees) and travel of the attachment (mm) under 1 N with a torque, N mm.
    pub(super) fn push(&self, torque_nmm: f64) -> (f64, f64) {
        let height_mm = self.height();
        let motion = self.plane(ACROSS).motion(&PlanarLoad { height_mm, force_n: 1.0, torque_nmm });
        (motion.tip_deg(), motion.travel_mm(height_mm))
    }

    /// Height of the cemento-enamel junction above the crest, mm.
    pub(super) fn junction(&self) -> f64 {
        self.specimen.tooth.landmarks.cej_z
    }

    /// The attachment's place on the crown, mm.
    pub(super) fn attachment(&self) -> Point3<f64> {
        self.specimen.tooth.landmarks.attachment
    }
}
