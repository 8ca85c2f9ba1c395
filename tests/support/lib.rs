//! Support for the checks of the whole: closed forms with their own tests, and small statistics.
//!
//! Units as everywhere: mm, N, MPa, N mm, radians.

pub mod closed_form;
pub mod fit;
