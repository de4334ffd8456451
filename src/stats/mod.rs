//! Plain mathematics: tests on counts, exact distributions, quadrature and intervals.
