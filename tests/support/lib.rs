//! Support for the checks of the whole: comparisons of numbers and of printed tables, cases drawn at random, and an audit
//! of meshes that shares nothing with the mesher.

pub mod audit;
pub mod compare;
pub mod draw;
pub mod table;
