//! `locus set`: what is known of a locus.

use clap::{Args, Subcommand};

use super::typed::pair;
use crate::cli::failure::Failure;
use crate::records::entry::{Entry, LocusFacts};

/// Loci
#[derive(Debug, Args)]
#[command(arg_required_else_help = true)]
pub struct LocusArgs {
    #[command(subcommand)]
    what: LocusCommand,
}

#[derive(Debug, Subcommand)]
enum LocusCommand {
    /// Say what is known of a locus: alleles, place, shares, recombination
    Set(SetArgs),
}

/// Say what is known of a locus; a new one is entered
#[derive(Debug, Args)]
struct SetArgs {
    /// Its symbol, upper and lower case as they matter: A
    symbol: String,
    /// Its alleles, dominant or wild type first: L4,L3,l
    #[arg(long, value_delimiter = ',')]
    alleles: Option<Vec<String>>,
    /// The chromosome
    #[arg(long)]
    chromosome: Option<String>,
    /// The position on it in centimorgans
    #[arg(long, value_name = "CM", allow_negative_numbers = true)]
    at: Option<String>,
    /// The share of an allele among founders: A=0.3; again for each allele
    #[arg(long, value_name = "ALLELE=SHARE")]
    share: Vec<String>,
    /// A measured recombination fraction with another locus: B=0.12; again for each locus
    #[arg(long, value_name = "LOCUS=FRACTION")]
    recombines: Vec<String>,
}

impl LocusArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self) -> Result<Entry, Failure> {
        let LocusCommand::Set(args) = self.what;
        let pairs = |texts: &[String], example: &str| -> Result<Vec<_>, Failure> {
            texts.iter().map(|text| pair(text, example)).collect()
        };
        let alleles = args.alleles.map(|alleles| {
            alleles
                .iter()
                .map(|allele| allele.trim().to_owned())
                .collect()
        });
        Ok(Entry::Locus(LocusFacts {
            symbol: args.symbol.trim().to_owned(),
            alleles,
            chromosome: args.chromosome,
            at: args.at,
            shares: pairs(&args.share, "locule locus set A --share A=0.3")?,
            recombines: pairs(&args.recombines, "locule locus set A --recombines B=0.12")?,
        }))
    }
}
