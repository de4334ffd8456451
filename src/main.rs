//! The `locule` program: parse, run, exit.
fn main() {}
