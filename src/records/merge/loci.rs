//! Loci that both ledgers have: one locus with the alleles of both, or a contradiction.

use super::outlook::Contradiction;
use super::{Meeting, same_number};
use crate::records::change::RowChange;
use crate::records::facts::Facts;
use crate::records::genes::{alleles_of, locus_named};
use crate::records::rows::{AlleleRow, LocusRow, RecombinationRow, Table};

/// Finds the loci and recombinations that both have.
pub(super) fn meet(ours: &Facts, theirs: &Facts, meeting: &mut Meeting) {
    for locus in &theirs.locus {
        let own = locus_named(ours, &locus.symbol);
        let met = Met {
            ours,
            theirs,
            locus,
        };
        if let Some(other) = met.taken_symbol(own) {
            let here = statement(ours, other);
            met.contradict(
                &format!("an allele of locus {}", locus.symbol),
                here,
                meeting,
            );
        } else if let Some(own) = own
            && met.join(own, meeting).is_none()
        {
            met.contradict(
                &format!("locus {}", locus.symbol),
                statement(ours, own),
                meeting,
            );
        }
    }
    for row in &theirs.recombination {
        meet_recombination(ours, theirs, row, meeting);
    }
}

/// A locus of theirs on its way in.
struct Met<'f> {
    ours: &'f Facts,
    theirs: &'f Facts,
    locus: &'f LocusRow,
}

impl Met<'_> {
    fn contradict(&self, what: &str, here: String, meeting: &mut Meeting) {
        meeting.outlook.contradictions.push(Contradiction {
            what: what.to_owned(),
            here,
            there: statement(self.theirs, self.locus),
        });
    }

    /// The locus here, other than `own`, that has one of its alleles.
    fn taken_symbol(&self, own: Option<&LocusRow>) -> Option<&LocusRow> {
        let own = own.map(|row| row.id);
        let alleles = alleles_of(self.theirs, self.locus.id);
        let taken = self.ours.allele.iter().find(|row| {
            Some(row.locus_id) != own && alleles.iter().any(|other| other.symbol == row.symbol)
        })?;
        self.ours.locus.get(taken.locus_id)
    }

    /// Takes it as the locus of that symbol here, where nothing contradicts it.
    fn join(&self, own: &LocusRow, meeting: &mut Meeting) -> Option<()> {
        let here = alleles_of(self.ours, own.id);
        let there = alleles_of(self.theirs, self.locus.id);
        let symbols = |rows: &[&AlleleRow]| -> Vec<String> {
            rows.iter().map(|row| row.symbol.clone()).collect()
        };
        let order = joined_order(&symbols(&here), &symbols(&there))?;
        let mut gains = self.join_place(own)?;
        let mut places = Vec::new();
        let mut joined = Vec::new();
        for (ord, symbol) in (0..).zip(&order) {
            let of = |rows: &[&AlleleRow]| {
                rows.iter()
                    .find(|row| row.symbol == *symbol)
                    .map(|row| (*row).clone())
            };
            match (of(&here), of(&there)) {
                (Some(mine), other) => {
                    let mut after = AlleleRow {
                        ord,
                        ..mine.clone()
                    };
                    if let Some(other) = other {
                        after.share = one_of(mine.share.as_deref(), other.share.as_deref())?;
                        joined.push((other.id, mine.id));
                    }
                    if after != mine {
                        gains.push(RowChange::update(mine, after));
                    }
                }
                (None, Some(new)) => places.push((new.id, ord, symbol)),
                (None, None) => {}
            }
        }
        meeting.take(Table::Locus, self.locus.id, own.id);
        for (theirs, ours) in joined {
            meeting.take(Table::Allele, theirs, ours);
        }
        self.tell_gains(
            own,
            &gains,
            places.iter().map(|(_, _, symbol)| *symbol),
            meeting,
        );
        meeting
            .places
            .extend(places.iter().map(|(id, ord, _)| (*id, *ord)));
        meeting.gains.extend(gains);
        Some(())
    }

    /// Its place on a chromosome, where only they know it.
    fn join_place(&self, own: &LocusRow) -> Option<Vec<RowChange>> {
        let there = self.locus;
        let after = LocusRow {
            chromosome: one_of(own.chromosome.as_deref(), there.chromosome.as_deref())?,
            at_cm: one_of(own.at_cm.as_deref(), there.at_cm.as_deref())?,
            ..own.clone()
        };
        let gains = (after != *own).then(|| RowChange::update(own.clone(), after));
        Some(gains.into_iter().collect())
    }

    fn tell_gains<'s>(
        &self,
        own: &LocusRow,
        gains: &[RowChange],
        alleles: impl Iterator<Item = &'s String>,
        meeting: &mut Meeting,
    ) {
        let mut said: Vec<String> = alleles.map(|symbol| format!("allele {symbol}")).collect();
        if gains.iter().any(|change| change.table == Table::Locus) {
            said.push("its place on the chromosome".to_owned());
        }
        if gains.iter().any(gains_share) {
            said.push("shares of its alleles".to_owned());
        }
        if !said.is_empty() {
            let gain = format!("locus {}: {}", own.symbol, said.join(", "));
            meeting.outlook.gains.push(gain);
        }
    }
}

fn gains_share(change: &RowChange) -> bool {
    use crate::records::rows::Row;
    matches!((&change.before, &change.after),
        (Some(Row::Allele(before)), Some(Row::Allele(after))) if before.share != after.share)
}

/// What either says; nothing where they say different things.
#[expect(clippy::option_option, reason = "the outer one is the contradiction")]
fn one_of(here: Option<&str>, there: Option<&str>) -> Option<Option<String>> {
    match (here, there) {
        (Some(here), Some(there)) => same_number(here, there).then(|| Some(here.to_owned())),
        (one, other) => Some(one.or(other).map(str::to_owned)),
    }
}

/// The alleles of both, dominant first: those known only there stand right before the one that follows them
/// there, after all that stands before it here. Nothing where the two orders contradict each other.
fn joined_order(here: &[String], there: &[String]) -> Option<Vec<String>> {
    let common = |one: &[String], other: &[String]| -> Vec<String> {
        one.iter()
            .filter(|symbol| other.contains(symbol))
            .cloned()
            .collect()
    };
    if common(here, there) != common(there, here) {
        return None;
    }
    let mut order = here.to_vec();
    for (at, symbol) in there.iter().enumerate() {
        if here.contains(symbol) {
            continue;
        }
        let next = there[at + 1..].iter().find(|symbol| here.contains(symbol));
        let place = next.and_then(|next| order.iter().position(|symbol| symbol == next));
        order.insert(place.unwrap_or(order.len()), symbol.clone());
    }
    Some(order)
}

/// A locus as a ledger states it: `A: A (share 0.2), a; chromosome P10 at 31 cM`.
fn statement(facts: &Facts, locus: &LocusRow) -> String {
    let allele = |row: &&AlleleRow| match &row.share {
        Some(share) => format!("{} (share {share})", row.symbol),
        None => row.symbol.clone(),
    };
    let alleles: Vec<String> = alleles_of(facts, locus.id).iter().map(allele).collect();
    let mut said = format!("{}: {}", locus.symbol, alleles.join(", "));
    if let Some(chromosome) = &locus.chromosome {
        said.push_str(&format!("; chromosome {chromosome}"));
    }
    if let Some(at) = &locus.at_cm {
        said.push_str(&format!(" at {at} cM"));
    }
    said
}

fn meet_recombination(ours: &Facts, theirs: &Facts, row: &RecombinationRow, meeting: &mut Meeting) {
    let of = |id: i64| meeting.same.get(&(Table::Locus, id)).copied();
    let (Some(one), Some(other)) = (of(row.locus_a), of(row.locus_b)) else {
        return;
    };
    let pair = (one.min(other), one.max(other));
    let mut rows = ours.recombination.iter();
    let Some(own) = rows.find(|own| (own.locus_a, own.locus_b) == pair) else {
        return;
    };
    if same_number(&own.r, &row.r) {
        return meeting.take(Table::Recombination, row.id, own.id);
    }
    let symbol = |id: i64| {
        theirs
            .locus
            .get(id)
            .map_or("?", |locus| locus.symbol.as_str())
    };
    let between = format!("{} and {}", symbol(row.locus_a), symbol(row.locus_b));
    meeting.outlook.contradictions.push(Contradiction {
        what: format!("the recombination of {between}"),
        here: format!("{between} recombine at {}", own.r),
        there: format!("{between} recombine at {}", row.r),
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alleles_known_only_there_find_their_place() {
        for (here, there, wanted) in [
            ("A a", "A a", Some("A a")),
            ("A a", "A m a", Some("A m a")),
            ("A b a", "A c a", Some("A b c a")),
            ("A a", "A a t", Some("A a t")),
            ("W A a", "n A a", Some("W n A a")),
            ("A a", "x A y z a", Some("x A y z a")),
            ("A a", "a A", None),
        ] {
            let words =
                |text: &str| -> Vec<String> { text.split(' ').map(str::to_owned).collect() };
            let order = joined_order(&words(here), &words(there));
            assert_eq!(order, wanted.map(words), "{here} with {there}");
        }
    }
}
