//! What can have gone wrong with a batch of seedlings, and how sure that is.
