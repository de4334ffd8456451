//! What to sow and what to keep room for, worked out before anything is sown.
//!
//! Chances of seedlings come from the genetics, how seed comes up and how often it is not of the label from the
//! ledger's own trays; what comes out are plain numbers with what they rest on. Nothing here reads files, the clock
//! or the terminal, and nothing is recorded. The command `plan` asks; `pick`, which seedlings get the places ([`pick`]).

pub mod calendar;
pub mod cross;
pub mod f1_plants;
pub mod germination;
pub mod line;
pub mod next_year;
pub mod off_share;
pub mod packing;
pub mod pick;
pub mod seeds;
pub mod space;
pub mod targets;
pub mod which_mother;
