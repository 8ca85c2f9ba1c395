//! Support for the checks of the whole: closed forms with their own tests, small statistics, and the models that
//! several checks share.
//!
//! Units as everywhere: mm, N, MPa, N mm, radians.

pub mod closed_form;
pub mod compare;
pub mod fit;
pub mod model;
pub mod statics;
