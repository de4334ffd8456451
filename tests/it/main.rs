//! The integration tests of locule, one module for each area.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on may panic")]

mod stats_laws;
mod stats_reference;
