//! `late-colour` and `mishaps`: what the ledger's own trays teach, on trays simulated with the truth known, against
//! reference optima and an independent sum, and on the command line.

mod bench;
mod command_line;
mod late_colour;
mod leaves;
mod mishaps;
