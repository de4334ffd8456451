//! The `locule` program: parse, run, exit.

use std::process::ExitCode;

fn main() -> ExitCode {
    locule::cli::main()
}
