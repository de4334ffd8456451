//! What can have gone wrong with a batch of seedlings, and how sure that is.
//!
//! Pure: facts and "today" come in, numbers and reasons go out. [`answer`] holds the results.

pub mod answer;
pub mod expectation;
