//! The lesson: one HTML file that computes. It holds, for each tooth, the compliance in full precision, the pressure of
//! the six unit solutions on the root, and the outlines of the section; its script superposes them. Nothing is fetched,
//! nothing is interpolated between pictures.
//!
//! `called` is how its teeth are told apart, `data` is what is embedded, `solid` its surfaces for the view in space, `page` puts the file together.

mod called;
mod data;
mod page;
mod solid;

pub(crate) use called::called;
pub(crate) use data::{Packed, Tooth};
pub(crate) use page::page;
