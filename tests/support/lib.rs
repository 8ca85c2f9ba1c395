//! Support for the checks of the whole: comparisons of numbers and of printed tables.

pub mod compare;
pub mod table;
