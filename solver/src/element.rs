//! The ten-node tetrahedron and its faces.

pub mod triangle;
