//! Plain mathematics: tests on counts, exact distributions, quadrature and intervals.
//!
//! Nothing here knows what a plant is: functions take counts, weights and probabilities and give
//! numbers at full precision. Genetics, the diagnosis and planning call them; this room calls nobody.

pub mod arrivals;
pub mod begun;
pub mod beside;
pub mod counts;
pub mod crossing;
pub mod curve;
pub mod elimination;
pub mod exact_power;
pub mod heterogeneity;
pub mod information;
pub mod intervals;
pub mod junction;
pub mod log_elimination;
pub mod logs;
pub mod missing;
pub mod multinomial;
pub mod none;
pub mod none_yet;
pub mod optimum;
pub mod order;
pub mod power;
pub mod quadrature;
pub mod reach;
pub mod rivals;
pub mod search;
pub mod separation;
pub mod survival;
pub mod tails;
pub mod two_by_two;
pub mod two_samples;
pub mod two_way;
