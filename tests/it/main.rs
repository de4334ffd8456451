//! The integration tests of locule, one module for each area.

mod stats_reference;
