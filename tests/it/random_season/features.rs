//! What a season holds, so that a test can ask whether all of the method is reached.

use crate::oracle::evidence::{Unit, dim_ruled_out, gather, traits_read};
use crate::oracle::season::{Parent, Season, Seen, Sown, What};
use crate::oracle::sources::times_all_self;

/// What a season holds, in words that the covering test asks for.
pub fn features(season: &Season) -> Vec<&'static str> {
    let all: Vec<_> = (0..season.batches.len())
        .map(|b| gather(season, b))
        .collect();
    let events = || season.events.iter().map(|e| &e.what);
    let tally = |f: fn(&Option<usize>, usize) -> bool| {
        events().any(|w| matches!(w, What::Tally(c, l) if f(c, l[0].0.len())))
    };
    let crosses = |x: usize, y: usize| season.cross_code(x) != season.cross_code(y);
    let batches = season.batches.len();
    let pairs = || (0..batches).flat_map(move |x| (0..x).map(move |y| (x, y)));
    let pollinations = &season.pollinations;
    let shared = |i: usize| {
        let p = &pollinations[i];
        p.tool.is_some()
            && pollinations[..i]
                .iter()
                .any(|q| q.tool == p.tool && q.day == p.day && q.cross != p.cross)
    };
    let half = |p: &Parent| p.stated.iter().any(|s| s.1[1].is_none());
    let of_two_species = |batch: usize| {
        let (mother, father) = season.parents_of(batch);
        let species = |plant: usize| season.parents[plant].species.as_deref();
        let (mother, father) = (species(mother), species(father));
        mother.is_some() && father.is_some() && mother != father
    };
    let usual = |batch: usize| of_two_species(batch) && times_all_self(season, batch) == 1.0;
    let wide = |times: f64| (0..batches).any(|b| times_all_self(season, b) == times);
    let ages = |u: &Unit| u.readings.iter().any(|r| r.day != u.readings[0].day);
    let found = [
        ("two ages", all.iter().any(|e| e.units.iter().any(ages))),
        (
            "dim ruled out",
            (0..batches).any(|b| dim_ruled_out(season, &all, b)),
        ),
        ("self", pollinations.iter().any(|p| p.mother == p.father)),
        (
            "packet",
            season
                .batches
                .iter()
                .any(|b| matches!(b.sown, Sown::Packet(_))),
        ),
        ("shared tool", (0..pollinations.len()).any(shared)),
        ("wiped", pollinations.iter().any(|p| p.wiped)),
        (
            "two crosses one day",
            pairs().any(|(x, y)| crosses(x, y) && season.batches[x].day == season.batches[y].day),
        ),
        ("two traits", all.iter().any(|e| traits_read(e).len() > 1)),
        (
            "two-locus trait",
            season.traits.iter().any(|t| t.rules[0].pattern.len() > 1),
        ),
        (
            "unstated parent",
            season.parents.iter().any(|p| p.stated.is_empty()),
        ),
        ("half stated parent", season.parents.iter().any(half)),
        (
            "two batches of one pair",
            pairs().any(|(x, y)| season.parents_of(x) == season.parents_of(y)),
        ),
        ("batch tally", tally(|c, _| c.is_none())),
        ("cell tally", tally(|c, _| c.is_some())),
        ("two-trait tally", tally(|_, traits| traits > 1)),
        (
            "emergence by cell",
            events().any(|w| matches!(w, What::UpCells(_) | What::UpInCell(..))),
        ),
        (
            "emergence by count",
            events().any(|w| matches!(w, What::UpCount(_))),
        ),
        (
            "doubtful",
            events().any(|w| matches!(w, What::Score(_, _, Seen::Doubtful(_)))),
        ),
        (
            "early",
            events().any(|w| matches!(w, What::Score(_, _, Seen::Early))),
        ),
        ("culled", events().any(|w| matches!(w, What::Cull(_)))),
        ("covered", pollinations.iter().any(|p| p.covered)),
        (
            "not emasculated",
            pollinations.iter().any(|p| !p.emasculated),
        ),
        (
            "sterile mother",
            pollinations
                .iter()
                .any(|p| season.parents[p.mother].sterile),
        ),
        ("in flower", !season.in_flower.is_empty()),
        (
            "several in a cell",
            events().any(|w| matches!(w, What::Score(s, _, _) if s.part.is_some())),
        ),
        ("usual wide cross", (0..season.batches.len()).any(usual)),
        ("hard cross", wide(4.0)),
        ("very hard cross", wide(7.0)),
        ("cross not expected", wide(70.0)),
        ("linked", !season.chromosome.is_empty()),
        ("phased", season.parents.iter().any(|p| p.phased)),
        ("looks", season.parents.iter().any(|p| !p.looks.is_empty())),
    ];
    found.into_iter().filter(|f| f.1).map(|f| f.0).collect()
}
