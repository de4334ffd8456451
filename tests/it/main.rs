//! Every test that runs the program itself, in one binary.

mod cli_frame;
mod ratio;
mod support;
