//! The one integration binary: the program from outside, and independent answers to hold it against.

mod diagnosis_oracle;
mod oracle;
mod random_season;
