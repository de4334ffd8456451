//! Answers put into words, tables and JSON.
