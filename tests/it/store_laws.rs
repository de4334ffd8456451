//! Laws of the ledger file: what was done can be undone, what was exported can be imported, and nothing that
//! was altered behind the program's back goes unseen.
//!
//! The oracle is the file itself: rows before against rows after, bytes against bytes.

mod damage;
mod entries;
mod journals;
mod keeping;
mod marks;
mod random;
mod refusals;
mod seasons;
mod together;
