//! Orders of convergence, fitted over a series of meshes.

mod manufactured;
