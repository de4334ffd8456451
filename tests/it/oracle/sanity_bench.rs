//! The oracle's reading of the bench book: donors, tools, labels, tallies, dates and places, by small cases
//! counted out by hand.

use super::beliefs::first_beliefs;
use super::evidence::{Who, dim_ruled_out, gather};
use super::genes::Genes;
use super::sanity::{GREEN, SOWN, firm, near, one_tray, parent, pollination, sowing};
use super::season::{
    Batch, Day, Event, InFlower, Kind, Pollination, Season, Seedling, Seen, Sown, What,
};
use super::sources::{Source, candidates};
use super::world::World;

fn at(batch: usize, day: Day, what: What) -> Event {
    let day = SOWN + day;
    Event { batch, day, what }
}

fn with_tool(mut p: Pollination, tool: &str, wiped: bool) -> Pollination {
    p.tool = Some(tool.into());
    p.wiped = wiped;
    p
}

/// Five plants: NL x CW is asked about; ED, BR and SK are handled on the same day.
fn busy_day() -> Season {
    let mut season = one_tray(0);
    season
        .parents
        .extend(["ED", "BR", "SK"].map(|c| parent(c, Some(GREEN))));
    season.pollinations = vec![
        with_tool(pollination("X2", 2, 3), "brush", false),
        with_tool(pollination("X1", 0, 1), "brush", false),
        with_tool(pollination("X3", 4, 1), "brush", false),
    ];
    season
}

fn prior(season: &Season, source: &Source) -> f64 {
    let all = candidates(season, 0).sources;
    near(all.iter().map(|s| s.1).sum(), 1.0, 1e-15);
    all.iter().find(|s| s.0 == *source).map_or(0.0, |s| s.1)
}

#[test]
fn a_shared_brush_counts_four_and_a_wipe_ends_it() {
    // Partial weights: self 4, ED 4, BR 4, SK (later that day) 1, unknown pollen 2, unknown seed 0.5, mixed 1.
    let season = busy_day();
    let left = 0.99 * 0.30;
    near(prior(&season, &Source::None), 0.99 * 0.70, 1e-15);
    near(prior(&season, &Source::Pollen(2)), left * 4.0 / 16.5, 1e-15);
    near(prior(&season, &Source::Pollen(4)), left * 1.0 / 16.5, 1e-15);
    near(prior(&season, &Source::Mixed), left * 1.0 / 16.5, 1e-15);
    assert_eq!(prior(&season, &Source::Pollen(1)), 0.0);
    // A third of 0.01 to whole-batch pollen, by donor weight 4 : 4 : 1.
    near(
        prior(&season, &Source::AllPollen(3)),
        0.01 / 3.0 * 4.0 / 9.0,
        1e-15,
    );
    near(prior(&season, &Source::Swapped(None)), 0.01 / 3.0, 1e-15);
    // Wiped before the cross: ED and BR are only about that day. Partial weights then come to 10.5.
    let mut wiped = busy_day();
    wiped.pollinations[1].wiped = true;
    near(prior(&wiped, &Source::Pollen(2)), left / 10.5, 1e-15);
    // Another tool between does not wipe this one; a wipe of this one between does.
    let mut between = busy_day();
    between
        .pollinations
        .insert(1, with_tool(pollination("X4", 4, 4), "hook", true));
    near(
        prior(&between, &Source::Pollen(2)),
        left * 4.0 / 16.5,
        1e-15,
    );
    between.pollinations[1].tool = Some("brush".into());
    // SK was then on the brush since the wipe: SK 4, ED and BR 1 each.
    near(
        prior(&between, &Source::Pollen(4)),
        left * 4.0 / 13.5,
        1e-15,
    );
    near(
        prior(&between, &Source::Pollen(2)),
        left * 1.0 / 13.5,
        1e-15,
    );
}

#[test]
fn a_plant_near_in_time_counts_half_and_a_sterile_one_nothing() {
    let mut season = busy_day();
    season.pollinations.retain(|p| p.cross == "X1");
    let day = season.pollinations[0].day;
    season.in_flower.push(InFlower {
        plant: 2,
        from: day + 3,
        until: day + 9,
    });
    // Self 4, ED 0.5, unknown pollen 2, unknown seed 0.5, mixed 1.
    near(
        prior(&season, &Source::Pollen(2)),
        0.99 * 0.30 * 0.5 / 8.0,
        1e-15,
    );
    season.in_flower[0].from = day + 4;
    assert_eq!(prior(&season, &Source::Pollen(2)), 0.0);
    season.in_flower[0].from = day;
    near(
        prior(&season, &Source::Pollen(2)),
        0.99 * 0.30 * 1.0 / 8.5,
        1e-15,
    );
    season.parents[2].sterile = true;
    assert_eq!(prior(&season, &Source::Pollen(2)), 0.0);
    // A sterile mother neither selfs nor is wholly selfed; the two thirds left are shared by one candidate.
    season.parents[0].sterile = true;
    assert_eq!(prior(&season, &Source::SelfPollen), 0.0);
    assert_eq!(prior(&season, &Source::AllSelf), 0.0);
    near(prior(&season, &Source::Swapped(None)), 0.01, 1e-15);
}

#[test]
fn technique_is_that_of_the_least_careful_flower() {
    let mut season = busy_day();
    season.pollinations.retain(|p| p.cross == "X1");
    season.pollinations[0].covered = true;
    near(prior(&season, &Source::None), 0.99 * 0.85, 1e-15);
    season.pollinations.push(pollination("X1", 0, 1));
    near(prior(&season, &Source::None), 0.99 * 0.70, 1e-15);
    season.pollinations[1].emasculated = false;
    season.pollinations[1].covered = true;
    near(prior(&season, &Source::None), 0.99 * 0.10, 1e-15);
    near(
        prior(&season, &Source::SelfPollen),
        0.99 * 0.90 * 20.0 / 30.5,
        1e-15,
    );
    // A self left open, then covered; a packet is an open self without donors.
    for (covered, clean) in [(false, 0.90), (true, 0.98)] {
        season.pollinations = vec![pollination("X1", 0, 0)];
        season.pollinations[0].covered = covered;
        near(prior(&season, &Source::None), 0.99 * clean, 1e-15);
        assert_eq!(prior(&season, &Source::AllSelf), 0.0);
    }
    season.pollinations = busy_day().pollinations;
    season.batches[0].sown = Sown::Packet(0);
    near(prior(&season, &Source::None), 0.99 * 0.90, 1e-15);
    near(
        prior(&season, &Source::UnknownPollen),
        0.99 * 0.10 * 2.0 / 3.5,
        1e-15,
    );
    assert!(
        candidates(&season, 0)
            .sources
            .iter()
            .all(|s| !matches!(s.0, Source::Pollen(_)))
    );
}

#[test]
fn labels_can_only_be_swapped_within_a_day() {
    let mut season = busy_day();
    season.batches.extend([
        sowing("T2", "X2", 5),
        sowing("T3", "X2", 5),
        sowing("T4", "X3", 5),
    ]);
    season.batches[3].day += 1;
    let stray = Source::StraySeed("X2".into());
    near(prior(&season, &stray), 0.99 * 0.30 * 0.5 / 17.0, 1e-15);
    near(
        prior(&season, &Source::Swapped(Some("X2".into()))),
        0.01 / 3.0 / 2.0,
        1e-15,
    );
    assert_eq!(prior(&season, &Source::StraySeed("X3".into())), 0.0);
}

#[test]
fn counts_give_emergence_dates_up_to_the_first_reading() {
    let mut season = one_tray(0);
    let counts = [(8, 2), (10, 6), (11, 5), (12, 8), (80, 12)];
    season
        .events
        .splice(0..0, counts.map(|(d, n)| at(0, d, What::UpCount(n))));
    let dates = gather(&season, 0).units[0].emerged.clone();
    // Increases 2, 4, none, 2 before the reading on day 74; the four of day 80 are left out.
    assert_eq!(
        dates.iter().map(|d| d.0 - SOWN).collect::<Vec<_>>(),
        [8, 10, 12]
    );
    for (date, share) in dates.iter().zip([0.25, 0.5, 0.25]) {
        near(date.1, share, 1e-15);
    }
    season.events.push(at(0, 9, What::UpCells(vec![1])));
    assert_eq!(gather(&season, 0).units[0].emerged, [(SOWN + 9, 1.0)]);
    assert_eq!(gather(&season, 0).units[1].emerged.len(), 3);
    // Without any count: ten days for annuum, fourteen for others.
    season.events.retain(|e| matches!(e.what, What::Score(..)));
    assert_eq!(gather(&season, 0).units[0].emerged, [(SOWN + 14, 1.0)]);
    season.parents[0].species = Some("annuum".into());
    assert_eq!(gather(&season, 0).units[0].emerged, [(SOWN + 10, 1.0)]);
}

#[test]
fn only_the_newest_tally_counts_and_none_beside_closer_looks() {
    let mut season = one_tray(0);
    let tally = |cell, day, greens| at(0, day, What::Tally(cell, vec![(vec![(0, 1)], greens)]));
    season.events = vec![tally(None, 30, 5), tally(None, 20, 9)];
    let counted = |s: &Season| {
        gather(s, 0)
            .units
            .iter()
            .map(|u| (u.who.clone(), u.count))
            .collect::<Vec<_>>()
    };
    let green = |cell| Who::Tallied(cell, vec![(0, 1)]);
    assert_eq!(counted(&season), [(green(None), 5)]);
    season.events.push(tally(Some(2), 25, 2));
    assert_eq!(counted(&season), [(green(Some(2)), 2)]);
    season.events.push(firm(0, 2, 26, 1));
    let s = Seedling {
        cell: 2,
        part: None,
    };
    assert_eq!(counted(&season), [(Who::Seedling(s), 1)]);
    // Of two readings on one day the newest counts; one marked as early on a day says nothing that day.
    season.events.push(firm(0, 2, 26, 0));
    let unit = &gather(&season, 0).units[0];
    assert_eq!((unit.readings.len(), unit.readings[0].class), (1, 0));
    season
        .events
        .push(at(0, 28, What::Score(s, 0, Seen::Early)));
    season
        .events
        .push(at(0, -1, What::Score(s, 0, Seen::Firm(1))));
    assert_eq!(gather(&season, 0).units[0].readings.len(), 1);
}

#[test]
fn a_purple_neighbour_rules_out_dim_light() {
    let mut season = one_tray(12);
    season.batches.push(Batch {
        place: Some("tent".into()),
        ..sowing("T2", "X1", 3)
    });
    season.events.push(firm(1, 1, 67, 0));
    let ruled_out = |s: &Season, b: usize| dim_ruled_out(s, &[gather(s, 0), gather(s, 1)], b);
    assert!(!ruled_out(&season, 0), "no place is named");
    season.batches[0].place = Some("tent".into());
    assert!(ruled_out(&season, 0), "seven days before");
    assert!(!ruled_out(&season, 1), "green rules out nothing");
    season.events.last_mut().expect("there are events").day -= 1;
    assert!(!ruled_out(&season, 0), "eight days before");
    season.events.last_mut().expect("there are events").day += 5;
    let cell = Seedling {
        cell: 1,
        part: None,
    };
    season.events.last_mut().expect("there are events").what =
        What::Score(cell, 0, Seen::Doubtful(0));
    assert!(!ruled_out(&season, 0), "doubtful");
}

#[test]
fn founders_start_from_kind_and_statement() {
    let mut season = one_tray(0);
    season.parents = vec![parent("NL", None), parent("CW", Some([Some(0), None]))];
    season.parents[1].kind = Kind::Packet;
    let genes = Genes::new(&season, &[0]);
    let beliefs = first_beliefs(&genes);
    // A line, F = 0.95 and p = 1/2: 0.4875, 0.025, 0.4875.
    for (got, expected) in beliefs.own[0].iter().zip([0.4875, 0.025, 0.4875]) {
        near(*got, expected, 1e-15);
    }
    // A packet, F = 0.8: 0.45, 0.10, 0.45; `A/_` trusted 0.99 over the first two in proportion.
    for (got, expected) in beliefs.own[1]
        .iter()
        .zip([0.99 * 0.45 / 0.55, 0.99 * 0.10 / 0.55, 0.01])
    {
        near(*got, expected, 1e-15);
    }
    near(beliefs.word[1][0], 0.45 / 0.55, 1e-15);
    // Share of A: one half, 0.99 (0.45 + 0.05) / 0.55 = 0.9, and one more founder at one half.
    near(beliefs.shares[0][0], (0.5 + 0.9 + 0.5) / 3.0, 1e-15);
    // A purple look multiplies in 0.995 against 0.005.
    season.parents[0].looks.push((0, 0));
    let looked = first_beliefs(&Genes::new(&season, &[0])).own[0][2];
    near(
        looked,
        0.4875 * 0.005 / (0.5125 * 0.995 + 0.4875 * 0.005),
        1e-15,
    );
}

/// P(T1) P(T2 | T1) = P(T2) P(T1 | T2): a batch's factor and its own diagnosis are one and the same model.
#[test]
fn two_batches_of_a_pair_obey_the_product_rule() {
    let mut season = one_tray(4);
    season.parents[1] = parent("CW", None);
    season.batches.push(sowing("T2", "X1", 5));
    season
        .events
        .extend((1..=5).map(|c| firm(1, c, 40, usize::from(c > 3))));
    let evidence = |keep: &dyn Fn(usize) -> bool, asked: usize| {
        let mut part = season.clone();
        part.events.retain(|e| keep(e.batch));
        World::new(&part).diagnose(asked).evidence
    };
    let both = |_| true;
    let first = evidence(&|b| b == 0, 0) * evidence(&both, 1);
    let second = evidence(&|b| b == 1, 1) * evidence(&both, 0);
    assert!((first / second - 1.0).abs() < 1e-12, "{first} {second}");
}
