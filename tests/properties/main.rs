//! Identities that hold whatever the numbers: patch test, rigid motions, definiteness, the same bits for any number of
//! threads, laws of scale.

mod patch;
mod scaling;
mod threads;
