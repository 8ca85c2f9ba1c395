//! Displacement gradients of the six unit fields inside the elements, with the change of volume that the element
//! works with in place of that of its displacements.

use std::ops::Range;

use nalgebra::{Matrix3, Point3, Vector3, Vector4};

use crate::assembly::{Elements, Unit};
use crate::element::prism::{Dilatation, PRISM_CELLS};
use crate::element::{gradients_at, shape};

/// The six fields in one unit of the assembly: an element, or the three of a prism.
pub(crate) struct UnitStrain<'a> {
    elements: &'a Elements<'a>,
    motions: &'a [Vec<Vector3<f64>>; 6],
    cells: Range<usize>,
    /// Projected change of volume and its coefficients for each field.
    projected: Option<(Dilatation, [Vector4<f64>; 6])>,
}

impl<'a> UnitStrain<'a> {
    pub(crate) fn new(elements: &'a Elements<'a>, unit: &Unit, motions: &'a [Vec<Vector3<f64>>; 6]) -> Self {
        match unit {
            Unit::Cell(k) => {
                let k = *k as usize;
                Self { elements, motions, cells: k..k + 1, projected: None }
            }
            Unit::Prism(first, prism) => {
                let first = *first as usize;
                let dilatation = Dilatation::new(prism, &elements.prism_positions(first), elements.rule())
                    .expect("the elements passed the same check when they were assembled");
                let coefficients = std::array::from_fn(|load| {
                    dilatation.coefficients(&prism.nodes.map(|n| motions[load][n as usize]))
                });
                let projected = Some((dilatation, coefficients));
                Self { elements, motions, cells: first..first + PRISM_CELLS, projected }
            }
        }
    }

    /// Numbers of the unit's elements.
    pub(crate) fn cells(&self) -> Range<usize> {
        self.cells.clone()
    }

    /// The place in element `k` with given barycentric coordinates, mm.
    pub(crate) fn place(&self, k: usize, l: [f64; 4]) -> Point3<f64> {
        let positions = self.elements.positions(k);
        Point3::from(positions.iter().zip(shape(l)).map(|(x, n)| x.coords * n).sum::<Vector3<f64>>())
    }

    /// `du_i / dx_j` of the six fields in element `k`, and the determinant of its Jacobian, mm3.
    pub(crate) fn at(&self, k: usize, l: [f64; 4]) -> ([Matrix3<f64>; 6], f64) {
        let (gradients, determinant) = gradients_at(&self.elements.positions(k), l);
        let nodes = self.elements.nodes(k);
        let place = self.place(k, l);
        let fields = std::array::from_fn(|load| {
            let field = &self.motions[load];
            let mut h: Matrix3<f64> =
                nodes.iter().zip(&gradients).map(|(&n, g)| field[n as usize] * g.transpose()).sum();
            if let Some((dilatation, coefficients)) = &self.projected {
                let volume = dilatation.value(&coefficients[load], &place);
                h += Matrix3::identity() * ((volume - h.trace()) / 3.0);
            }
            h
        });
        (fields, determinant)
    }
}
