//! Handbook cases on top of the solver's statics: supports, load cases, reactions, thermal loads, stress at nodes.

use std::rc::Rc;

use gomphosis_mesh_gen::{Observer, Region, TetMesh};
use gomphosis_solver::assembly::{Elements, Unit};
use gomphosis_solver::element::prism::Dilatation;
use gomphosis_solver::element::{Quadrature, gradients_at, shape};
use gomphosis_solver::statics::Statics;
use gomphosis_solver::{Formulation, Materials, SolverError, Stress};
use nalgebra::{Matrix3, Point3, Vector3, Vector4};

/// A body with its materials.
#[derive(Debug, Clone, Copy)]
pub struct Body<'a> {
    /// The mesh.
    pub mesh: &'a TetMesh,
    /// Materials of its regions.
    pub materials: Materials,
    /// Element of the region ligament; all others use plain displacements.
    pub formulation: Formulation,
    /// Points of the quadrature of the stiffness.
    pub quadrature_points: usize,
}

/// Loads and given displacements of one case.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadCase {
    /// Nodal forces, N.
    pub forces: Vec<Vector3<f64>>,
    /// Displacements of held components, mm; those of free components are ignored.
    pub given: Vec<Vector3<f64>>,
}

/// What a case leads to.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Displacement of every node, mm.
    pub displacement: Vec<Vector3<f64>>,
    /// Forces of the supports on the body, N; zero at free components up to the solver's residual.
    pub reactions: Vec<Vector3<f64>>,
}

impl LoadCase {
    /// No load, nothing moved.
    #[must_use]
    pub fn new(mesh: &TetMesh) -> Self {
        let zero = vec![Vector3::zeros(); mesh.nodes().len()];
        Self { forces: zero.clone(), given: zero }
    }

    /// Gives nodes the displacement of a field, where they are held.
    #[must_use]
    pub fn moving(
        mut self,
        mesh: &TetMesh,
        nodes: impl IntoIterator<Item = u32>,
        field: impl Fn(Point3<f64>) -> Vector3<f64>,
    ) -> Self {
        for node in nodes {
            self.given[node as usize] = field(mesh.nodes()[node as usize]);
        }
        self
    }

    /// Adds nodal forces.
    #[must_use]
    pub fn with(mut self, forces: &[Vector3<f64>]) -> Self {
        for (sum, force) in self.forces.iter_mut().zip(forces) {
            *sum += force;
        }
        self
    }
}

impl<'a> Body<'a> {
    /// The body before it is held.
    ///
    /// # Panics
    /// If there is no such quadrature rule.
    #[must_use]
    pub fn free(&self) -> Statics<'a> {
        self.with_rule(self.quadrature_points)
    }

    fn with_rule(&self, points: usize) -> Statics<'a> {
        let rule = Quadrature::with_points(points).expect("rules of 4, 11 and 15 points");
        Statics::new(Elements::new(self.mesh, &Region::ALL, &self.materials, self.formulation, rule))
    }

    /// Nodal forces of a traction on a named surface, a function of place and outward normal, MPa.
    pub fn traction(
        &self,
        surface: &str,
        traction: impl Fn(&Point3<f64>, &Vector3<f64>) -> Vector3<f64>,
    ) -> Vec<Vector3<f64>> {
        self.free().traction_forces(self.mesh.surface(surface), traction)
    }

    /// Nodal forces of a force for each volume, N/mm3, integrated with fifteen points.
    pub fn body_force(&self, density: impl Fn(&Point3<f64>) -> Vector3<f64>) -> Vec<Vector3<f64>> {
        self.with_rule(15).body_forces(density)
    }

    /// Nodal forces of a free expansion (thermal strain `alpha T` at a place): those of the stress `3 K` times it.
    ///
    /// # Panics
    /// Never: there is a rule of fifteen points.
    pub fn expansion(&self, strain: impl Fn(Point3<f64>) -> f64) -> Vec<Vector3<f64>> {
        let rule = Quadrature::with_points(15).expect("offered");
        let mut forces = vec![Vector3::zeros(); self.mesh.nodes().len()];
        for (cell, numbers) in self.mesh.cells().iter().enumerate() {
            let nodes = self.mesh.cell_nodes(cell);
            let bulk = self.materials.of(self.mesh.regions()[cell]).bulk_modulus();
            for point in rule.points() {
                let n = shape(point.barycentric);
                let (gradients, determinant) = gradients_at(&nodes, point.barycentric);
                let position = nodes.iter().zip(n).map(|(x, n)| x.coords * n).sum::<Vector3<f64>>();
                let stress = 3.0 * bulk * strain(Point3::from(position));
                for (&n, gradient) in numbers.iter().zip(&gradients) {
                    forces[n as usize] += gradient * (stress * point.weight * determinant);
                }
            }
        }
        forces
    }

    /// Solves some cases on the same supports: named surfaces or single nodes, and the axes held there.
    ///
    /// # Errors
    /// Any [`SolverError`].
    pub fn solve(
        &self,
        supports: &Supports,
        cases: &[LoadCase],
        observer: &dyn Observer,
    ) -> Result<Vec<Answer>, SolverError> {
        let mut statics = self.free();
        statics.held.clone_from(&supports.0);
        let forces = cases.iter().map(|case| case.forces.clone()).collect::<Vec<_>>();
        let mut fields = cases.iter().map(|case| case.given.clone()).collect::<Vec<_>>();
        statics.solve(&forces, &mut fields, None, observer)?;
        let inner = statics.elements.internal_forces(&fields)?;
        Ok(fields
            .into_iter()
            .zip(inner)
            .zip(forces)
            .map(|((displacement, inner), outer)| {
                let reactions = inner.into_iter().zip(outer).map(|(k, f)| k - f).collect();
                Answer { displacement, reactions }
            })
            .collect())
    }

    /// Solves a single case.
    ///
    /// # Errors
    /// Any [`SolverError`].
    ///
    /// # Panics
    /// Never: one case has one answer.
    pub fn solve_one(
        &self,
        supports: &Supports,
        case: LoadCase,
        observer: &dyn Observer,
    ) -> Result<Answer, SolverError> {
        Ok(self.solve(supports, &[case], observer)?.pop().expect("one answer for one case"))
    }

    /// Stress at every node, MPa: that of each element at its four Gauss points, where quadratic elements are best,
    /// carried to its nodes as a linear field and averaged by the size of the elements around. `expansion` is the
    /// free expansion at a place, 0 without one.
    ///
    /// # Panics
    /// If an element is not valid.
    #[must_use]
    pub fn nodal_stress(
        &self,
        field: &[Vector3<f64>],
        expansion: impl Fn(Point3<f64>) -> f64,
    ) -> Vec<Stress> {
        let rule = Quadrature::gauss();
        let projected = self.projected(field);
        let mut sum = vec![([0.0; 6], 0.0); self.mesh.nodes().len()];
        for (cell, numbers) in self.mesh.cells().iter().enumerate() {
            let nodes = self.mesh.cell_nodes(cell);
            let lame = self.materials.of(self.mesh.regions()[cell]).lame();
            let at_points = rule.points().map(|point| {
                let (gradients, _) = gradients_at(&nodes, point.barycentric);
                let (mut slope, mut place) = (Matrix3::zeros(), Vector3::zeros());
                for (a, n) in shape(point.barycentric).into_iter().enumerate() {
                    slope += field[numbers[a] as usize] * gradients[a].transpose();
                    place += nodes[a].coords * n;
                }
                if let Some((dilatation, coefficients)) = &projected[cell] {
                    let change = dilatation.value(coefficients, &Point3::from(place));
                    slope += Matrix3::identity() * ((change - slope.trace()) / 3.0);
                }
                slope -= Matrix3::identity() * expansion(Point3::from(place));
                Stress::from_gradient(&slope, lame).0
            });
            let at_points = at_points.collect::<Vec<_>>();
            let size = gradients_at(&nodes, [0.25; 4]).1;
            for (node, &number) in numbers.iter().enumerate() {
                let (total, volume) = &mut sum[number as usize];
                for (point, stress) in at_points.iter().enumerate() {
                    let share = size * Quadrature::gauss_to_node(point, node);
                    for (total, value) in total.iter_mut().zip(stress) {
                        *total += share * value;
                    }
                }
                *volume += size;
            }
        }
        sum.into_iter().map(|(total, volume)| Stress(total.map(|t| t / volume))).collect()
    }

    /// For each element of a prism, the prism's projected change of volume.
    fn projected(&self, field: &[Vector3<f64>]) -> Vec<Option<(Rc<Dilatation>, Vector4<f64>)>> {
        let elements = self.free().elements;
        let mut projected = vec![None; self.mesh.cells().len()];
        for unit in elements.units() {
            if let Unit::Prism(first, prism) = unit {
                let first = *first as usize;
                let dilatation = Dilatation::new(prism, &elements.prism_positions(first), elements.rule())
                    .expect("the elements were solved with");
                let coefficients = dilatation.coefficients(&prism.nodes.map(|n| field[n as usize]));
                let dilatation = Rc::new(dilatation);
                for cell in &elements.cells()[first..first + 3] {
                    projected[*cell as usize] = Some((Rc::clone(&dilatation), coefficients));
                }
            }
        }
        projected
    }
}

/// Which axes of which nodes are held.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Supports(Vec<[bool; 3]>);

impl Supports {
    /// No support at all.
    #[must_use]
    pub fn none(mesh: &TetMesh) -> Self {
        Self(vec![[false; 3]; mesh.nodes().len()])
    }

    /// Holds the marked axes of some nodes.
    #[must_use]
    pub fn hold(mut self, nodes: impl IntoIterator<Item = u32>, axes: [bool; 3]) -> Self {
        for node in nodes {
            for (held, axis) in self.0[node as usize].iter_mut().zip(axes) {
                *held |= axis;
            }
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use gomphosis_mesh_gen::Silent;
    use gomphosis_mesh_gen::block::{Block, face};
    use gomphosis_solver::Material;

    use super::*;
    use crate::verify::model::{distinct_nodes, nodes};

    fn bar() -> TetMesh {
        let size = |p: Point3<f64>| Point3::new(4.0 * p.x, 2.0 * p.y, p.z);
        Block::uniform([4, 2, 1]).mesh(size, |_| Region::Tooth).unwrap()
    }

    fn body(mesh: &TetMesh) -> Body<'_> {
        let materials = Materials { tooth: Material::new(200.0, 0.3).unwrap(), ..Materials::default() };
        Body { mesh, materials, formulation: Formulation::Displacement, quadrature_points: 4 }
    }

    fn corner(mesh: &TetMesh) -> Supports {
        Supports::none(mesh)
            .hold(nodes(mesh, face::XI0), [true, false, false])
            .hold(nodes(mesh, face::ETA0), [false, true, false])
            .hold(nodes(mesh, face::ZETA0), [false, false, true])
    }

    /// Hooke: stress p, u = p x / E, sideways -nu p / E; the reaction is the pull.
    #[test]
    fn bar_under_tension() {
        let mesh = bar();
        let body = body(&mesh);
        let case = LoadCase::new(&mesh).with(&body.traction(face::XI1, |_, normal| normal * 6.0));
        let answer = &body.solve(&corner(&mesh), &[case], &Silent).unwrap()[0];
        for (x, u) in mesh.nodes().iter().zip(&answer.displacement) {
            assert!((u - Vector3::new(0.03 * x.x, -0.009 * x.y, -0.009 * x.z)).norm() < 1e-12);
        }
        let held = distinct_nodes(&mesh, face::XI0);
        let reaction = held.into_iter().map(|n| answer.reactions[n as usize].x).sum::<f64>();
        assert_relative_eq!(reaction, -12.0, max_relative = 1e-10);
        for stress in body.nodal_stress(&answer.displacement, |_| 0.0) {
            assert_relative_eq!(stress.0[0], 6.0, max_relative = 1e-9);
            assert!(stress.0[1..].iter().all(|s| s.abs() < 1e-8));
        }
    }

    /// A bar that wants to expand by e and may not: stress -E e along it, none across.
    #[test]
    fn bar_that_may_not_expand() {
        let mesh = bar();
        let body = body(&mesh);
        let supports = corner(&mesh).hold(nodes(&mesh, face::XI1), [true, false, false]);
        let case = LoadCase::new(&mesh).with(&body.expansion(|_| 1e-3));
        let answer = &body.solve(&supports, &[case], &Silent).unwrap()[0];
        for stress in body.nodal_stress(&answer.displacement, |_| 1e-3) {
            assert_relative_eq!(stress.0[0], -0.2, max_relative = 1e-8);
            assert!(stress.0[1..].iter().all(|s| s.abs() < 1e-9));
        }
    }
}
