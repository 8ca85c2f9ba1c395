//! The gomphosis command.
fn main() {}
