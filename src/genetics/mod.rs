//! Loci, genotypes, gene models and what a cross is expected to give.
