//! What can go wrong between numbers and a mesh.

use std::fmt;

use thiserror::Error;

/// A value of a case that a refusal asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suggestion {
    /// Dotted key of the case file.
    pub key: &'static str,
    /// What it should hold.
    pub value: SuggestedValue,
}

/// What a key should hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SuggestedValue {
    /// A number, in the unit of the key.
    Number(f64),
    /// A word.
    Word(&'static str),
}

impl fmt::Display for SuggestedValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => number.fmt(f),
            Self::Word(word) => word.fmt(f),
        }
    }
}

/// Reasons why a mesh cannot be made or accepted.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum MeshError {
    /// A value of the specification is outside what makes sense. `key` is the dotted case key.
    #[error("{key} is {value}: {allowed}")]
    OutOfRange {
        /// Dotted key of the case file, for example `ligament.thickness_mm`.
        key: &'static str,
        /// The value as given.
        value: f64,
        /// What would be right, as a sentence without a full stop.
        allowed: String,
    },
    /// Values that are each allowed but make no shape together. `key` is the key to change first.
    #[error("{reason}")]
    Impossible {
        /// Dotted key of the case file that most likely wants changing.
        key: &'static str,
        /// What is wrong and what would be right, as a sentence without a full stop.
        reason: String,
        /// A value that would do, or leads to another refusal that is consistent with this one.
        suggestion: Option<Suggestion>,
    },
    /// A cell names a node that does not exist.
    #[error("cell {cell} names node {node}, but the mesh has {nodes} nodes")]
    NodeIndex {
        /// The cell.
        cell: usize,
        /// The node it names.
        node: usize,
        /// Nodes in the mesh.
        nodes: usize,
    },
    /// An element whose Jacobian determinant is not positive everywhere.
    #[error("element {cell} is inverted: smallest Bernstein coefficient of its Jacobian is {smallest:.3e}")]
    Inverted {
        /// The cell.
        cell: usize,
        /// Smallest Bernstein coefficient of det J over the mean one.
        smallest: f64,
    },
    /// The faces of the mesh do not fit together.
    #[error("the mesh is not conforming: {detail}")]
    NotConforming {
        /// What was found.
        detail: String,
    },
    /// The roots or their gap are finer than the elements can show.
    #[error("{detail}; a smaller mesh.element_size_mm would resolve it")]
    UnderResolved {
        /// What was found.
        detail: String,
    },
    /// Elements between the roots, or between a root and a face of the bone or of its cortical shell, have no room.
    #[error(
        "ligament and bone leave some elements no room between or beside the roots, even with elements of {element_size_mm:.2} \
         mm; a thinner ligament, more bone around the roots, roots that part more, or mesh.element_size_mm nearer to its \
         default would give them room"
    )]
    NoRoom {
        /// Size of the last attempt, mm.
        element_size_mm: f64,
    },
    /// The mesh would not fit the memory that is left for it.
    #[error(
        "mesh.element_size_mm is {element_size_mm}: that would make over {tetrahedra} tetrahedra, and making them takes more \
         than the {left_mb} MB that are left; a larger size, or more memory, is needed"
    )]
    NoMemory {
        /// The element size asked, mm.
        element_size_mm: f64,
        /// Tetrahedra counted before giving up.
        tetrahedra: usize,
        /// Memory that was left, MB.
        left_mb: u64,
    },
    /// The mesh would be larger than any machine it is meant for.
    #[error(
        "mesh.element_size_mm is {element_size_mm}: that would make over {tetrahedra} tetrahedra; a larger size is needed"
    )]
    TooLarge {
        /// The element size asked, mm.
        element_size_mm: f64,
        /// Tetrahedra counted before giving up.
        tetrahedra: usize,
    },
    /// The observer asked to stop.
    #[error("interrupted")]
    Interrupted,
}
