//! The integration tests, as one binary.

mod store_laws;
