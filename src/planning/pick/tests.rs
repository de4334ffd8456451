//! The pick on fields made up here, trays asked as if their seedlings were independent.

use proptest::prelude::*;

use super::*;
use crate::diagnosis::posterior::all_off::AllOff;

mod sharing;

fn stand(tray: usize, at: usize, verdict: Verdict, p_off: f64) -> Stand {
    Stand {
        tray,
        at,
        cell: Some(at as i64 + 1),
        count: 1,
        verdict,
        look_again: None,
        p_off,
        merit: None,
        size: None,
        runt: false,
        kept: None,
    }
}

fn field(number: usize, stands: Vec<Stand>) -> Field {
    let trays = stands.iter().map(|stand| stand.tray).max().unwrap_or(0) + 1;
    Field {
        trays: (0..trays).map(|tray| (10 * number + tray) as i64).collect(),
        mother: number as i64 / 2,
        stands,
    }
}

/// Seedlings that are off-type each by itself, whatever the others are.
fn independent(fields: &[Field]) -> Box<Ask<'static>> {
    let fields = fields.to_vec();
    Box::new(move |batch, choices| {
        let number = batch as usize / 10;
        let tray = batch as usize % 10;
        let off = |choice: &Vec<(usize, i64)>| {
            let each = choice.iter().map(|(at, count)| {
                let mut stands = fields[number].stands.iter();
                let own = stands.find(|stand| (stand.tray, stand.at) == (tray, *at));
                own.unwrap().p_off.powi(*count as i32)
            });
            of_one_pair(each.product())
        };
        Some(choices.iter().map(off).collect())
    })
}

fn of_one_pair(p: f64) -> OfBatch {
    OfBatch {
        all_off: AllOff {
            p,
            by_pair: vec![(1.0, p)],
        },
        loci: Vec::new(),
    }
}

fn wanted(per_cross: usize, places: Option<usize>, reserve: usize) -> Wanted {
    Wanted {
        per_cross,
        places,
        reserve,
    }
}

fn chosen(picked: &Picked, act: Act) -> Vec<usize> {
    let own = picked.lines.iter().filter(|line| line.act == act);
    own.map(|line| line.stand).collect()
}

fn one(stands: Vec<Stand>, per_cross: usize) -> (Picked, Vec<Because>) {
    let fields = [field(0, stands)];
    let mut found = pick(&fields, wanted(per_cross, None, 0), &independent(&fields));
    let picked = found.crosses.remove(0);
    let because = picked.lines.iter().map(|line| line.because).collect();
    (picked, because)
}

#[test]
fn the_likeliest_is_kept_and_a_cull_is_pulled() {
    let (picked, because) = one(
        vec![
            stand(0, 0, Verdict::Cull, 0.99),
            stand(0, 1, Verdict::Keep, 0.2),
            stand(0, 2, Verdict::Keep, 0.01),
            stand(0, 3, Verdict::Wait, 0.5),
        ],
        1,
    );
    assert_eq!(chosen(&picked, Act::Keep), [2]);
    assert_eq!(chosen(&picked, Act::Pull), [0, 1]);
    assert_eq!(chosen(&picked, Act::Spare), [3]);
    assert_eq!(
        because,
        [
            Because::Likeliest,
            Because::OffType,
            Because::LessLikely,
            Because::MayTurn
        ]
    );
    assert!((picked.chance.unwrap().p - 0.99).abs() < 1e-15);
}

/// Two pots of three alike: the second comes from the other pot; of one pot the larger.
#[test]
fn ties_go_to_another_pot_then_to_the_larger() {
    let alike = |cell: i64, at: usize, size: Option<f64>| Stand {
        cell: Some(cell),
        size,
        ..stand(0, at, Verdict::Keep, 0.1)
    };
    let stands = vec![
        alike(1, 0, Some(0.0)),
        alike(1, 1, Some(2.0)),
        alike(2, 2, Some(0.1)),
    ];
    let (picked, because) = one(stands, 2);
    assert_eq!(chosen(&picked, Act::Keep), [1, 2]);
    assert_eq!(because[..2], [Because::Larger, Because::OtherCell]);
    assert_eq!(because[2], Because::Enough);
}

#[test]
fn goals_decide_among_the_likely_and_runts_come_last() {
    let worth = |at: usize, merit: f64, runt: bool| Stand {
        merit: Some(merit),
        runt,
        ..stand(0, at, Verdict::Keep, 0.01)
    };
    let (picked, because) = one(vec![worth(0, 0.5, false), worth(1, 0.9, false)], 1);
    assert_eq!(chosen(&picked, Act::Keep), [1]);
    assert_eq!(because, [Because::Goals, Because::WorthLess]);
    let (picked, because) = one(vec![worth(0, 0.5, false), worth(1, 0.9, true)], 1);
    assert_eq!(chosen(&picked, Act::Keep), [0]);
    assert_eq!(because, [Because::NotSmall, Because::Small]);
}

/// Places go by the chance of being true, whatever the verdict; the verdict says what is done.
#[test]
fn what_is_unsettled_gets_a_place_where_it_is_likelier() {
    let (picked, _) = one(
        vec![
            stand(0, 0, Verdict::Wait, 0.6),
            stand(0, 1, Verdict::Undecided, 0.3),
            stand(0, 2, Verdict::Undecided, 0.9),
        ],
        1,
    );
    let held: Vec<_> = (picked.lines.iter())
        .map(|line| (line.stand, line.act, line.holds))
        .collect();
    assert_eq!(
        held,
        [(1, Act::Settle, 1), (0, Act::Spare, 0), (2, Act::Settle, 0)]
    );
    let (picked, because) = one(
        vec![
            stand(0, 0, Verdict::Undecided, 0.3),
            stand(0, 1, Verdict::Keep, 0.2),
        ],
        1,
    );
    assert_eq!(
        (chosen(&picked, Act::Keep), chosen(&picked, Act::Pull)),
        (vec![1], vec![0])
    );
    assert_eq!(because, [Because::Likeliest, Because::LessLikely]);
    // Of those as likely the settled one.
    let (picked, because) = one(
        vec![
            stand(0, 0, Verdict::Wait, 0.2),
            stand(0, 1, Verdict::Keep, 0.2),
        ],
        1,
    );
    assert_eq!(chosen(&picked, Act::Keep), [1]);
    assert_eq!(because[0], Because::Settled);
}

/// A runt counts half: it goes behind sound ones as likely, and before those that are hardly likely at all.
#[test]
fn a_runt_goes_before_what_is_almost_surely_off_type() {
    let runt = Stand {
        runt: true,
        ..stand(0, 0, Verdict::Keep, 0.05)
    };
    let (picked, _) = one(vec![runt.clone(), stand(0, 1, Verdict::Undecided, 0.9)], 1);
    assert_eq!(chosen(&picked, Act::Keep), [0]);
    let (picked, because) = one(vec![runt, stand(0, 1, Verdict::Keep, 0.2)], 1);
    assert_eq!(chosen(&picked, Act::Keep), [1]);
    assert_eq!(because, [Because::NotSmall, Because::Small]);
}

/// Each is told how many of those pulled would do in its stead, whatever places there are.
#[test]
fn others_as_good_are_those_that_are_pulled() {
    let alike: Vec<Stand> = (0..6).map(|at| stand(0, at, Verdict::Keep, 0.1)).collect();
    let fields = [field(0, alike.clone())];
    for (per_cross, places, reserve, others) in [
        (2, Some(1), 0, 5),
        (2, None, 0, 4),
        (4, None, 0, 2),
        (2, None, 2, 2),
    ] {
        let asked = wanted(per_cross, places, reserve);
        let found = pick(&fields, asked, &independent(&fields));
        let lines = found.crosses[0].lines.iter();
        for line in lines.filter(|line| line.act != Act::Pull) {
            assert_eq!(
                line.because,
                Because::Alike(others),
                "{per_cross} {places:?} {reserve}"
            );
        }
    }
    let (_, because) = one(alike, 6);
    assert_eq!(because[0], Because::AllAlike);
    // Two in one pot and one in another, two wanted: only the one left in the full pot would do, and only there.
    let in_cell = |cell: i64, at: usize| Stand {
        cell: Some(cell),
        ..stand(0, at, Verdict::Keep, 0.1)
    };
    let (_, because) = one(vec![in_cell(1, 0), in_cell(1, 1), in_cell(2, 2)], 2);
    assert_eq!(because[..2], [Because::Alike(1), Because::OtherCell]);
}

/// A place in reserve that is held for one to wait for is none of those by which the chance is told.
#[test]
fn a_place_held_in_reserve_is_no_place() {
    let fields = [field(
        0,
        vec![
            stand(0, 0, Verdict::Keep, 0.1),
            stand(0, 1, Verdict::Wait, 0.4),
        ],
    )];
    let found = pick(&fields, wanted(1, None, 1), &independent(&fields));
    let picked = &found.crosses[0];
    let spared = picked
        .lines
        .iter()
        .find(|line| line.act == Act::Spare)
        .unwrap();
    assert_eq!((spared.holds, spared.holds_in_reserve), (0, 1));
    assert!((picked.chance.unwrap().p - 0.9).abs() < 1e-15);
}

/// A cross with nothing to keep yet holds its place for one that may turn, and pulls nothing unsettled.
#[test]
fn a_place_is_held_for_one_that_may_turn() {
    let (picked, _) = one(
        vec![
            stand(0, 0, Verdict::Wait, 0.4),
            stand(0, 1, Verdict::Undecided, 0.4),
        ],
        1,
    );
    let held = picked.lines.iter().find(|line| line.stand == 0).unwrap();
    assert_eq!((held.act, held.holds), (Act::Spare, 1));
    assert_eq!(chosen(&picked, Act::Settle), [1]);
}

/// What was kept before stays, takes no place, and leaves its cross fewer; one adopted as something else leaves as many.
#[test]
fn what_was_kept_before_stays() {
    let kept = |at: usize, kept: AsKept| Stand {
        kept: Some(kept),
        ..stand(0, at, Verdict::Keep, 0.1)
    };
    let rest = || (2..5).map(|at| stand(0, at, Verdict::Keep, 0.1));
    let (picked, _) = one(
        [kept(0, AsKept::Label)].into_iter().chain(rest()).collect(),
        2,
    );
    assert_eq!((picked.places, chosen(&picked, Act::Stays)), (1, vec![0]));
    assert!((picked.chance.unwrap().p - 0.99).abs() < 1e-15);
    let (picked, _) = one(
        [kept(0, AsKept::Adopted)]
            .into_iter()
            .chain(rest())
            .collect(),
        2,
    );
    assert_eq!((picked.places, chosen(&picked, Act::Stays)), (2, vec![0]));
}

/// Trays that share their parents: with two pairs of parental genotypes, in one of which everything is off. By hand:
/// 1 - (0.9 x 0.1 x 0.2 + 0.1), between 1 - min(0.19, 0.28) and 1 - max(0, 0.19 + 0.28 - 1).
#[test]
fn trays_of_one_cross_stand_and_fall_with_their_parents() {
    let tray = |q: f64| OfBatch {
        all_off: AllOff {
            p: 0.9 * q + 0.1,
            by_pair: vec![(0.9, 0.9 * q), (0.1, 0.1)],
        },
        loci: Vec::new(),
    };
    let (a, b) = (tray(0.1), tray(0.2));
    let both = chance_of_one_true(&[&a, &b]).unwrap();
    assert!((both.p - 0.882).abs() < 1e-15);
    assert!((both.low - 0.81).abs() < 1e-15 && both.high == 1.0);
    assert_eq!(both.rests, Rests::Parents);
    let short = OfBatch {
        all_off: AllOff {
            by_pair: vec![(1.0, 0.3)],
            p: 0.3,
        },
        loci: Vec::new(),
    };
    let apart = chance_of_one_true(&[&a, &short]).unwrap();
    assert_eq!((apart.rests, apart.p), (Rests::Bound, apart.low));
    assert!(chance_of_one_true(&[]).is_none());
}

fn any_stand() -> impl Strategy<Value = Stand> {
    let verdicts = prop::sample::select(vec![
        Verdict::Cull,
        Verdict::Wait,
        Verdict::Keep,
        Verdict::Unproven,
        Verdict::Undecided,
    ]);
    let kept = prop::sample::select(vec![
        None,
        None,
        None,
        Some(AsKept::Label),
        Some(AsKept::Adopted),
    ]);
    let merit = prop::option::of(0.0..1.0_f64);
    let size = prop::option::of(-5.0..5.0_f64);
    (
        verdicts,
        0.0..1.0_f64,
        0..2_usize,
        1..4_i64,
        merit,
        size,
        kept,
    )
        .prop_map(|(verdict, p_off, tray, count, merit, size, kept)| Stand {
            count: if kept.is_some() { 1 } else { count },
            cell: (count < 3).then_some(count),
            merit,
            runt: size.is_some_and(|size| size < -3.5),
            size,
            kept,
            ..stand(tray, 0, verdict, p_off)
        })
}

fn any_fields() -> impl Strategy<Value = Vec<Field>> {
    prop::collection::vec(prop::collection::vec(any_stand(), 0..7), 1..5).prop_map(|all| {
        let numbered = |(number, mut stands): (usize, Vec<Stand>)| {
            for (at, stand) in stands.iter_mut().enumerate() {
                stand.at = at;
            }
            field(number, stands)
        };
        all.into_iter().enumerate().map(numbered).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// No cull is kept, spared or held in reserve; nobody is forgotten; no more get places than there are.
    #[test]
    fn a_pick_keeps_its_promises(
        fields in any_fields(),
        per_cross in 1..4_usize,
        places in prop::option::of(0..9_usize),
        reserve in 0..3_usize,
    ) {
        let asked = wanted(per_cross, places, reserve);
        let found = pick(&fields, asked, &independent(&fields));
        let mut placed = 0;
        for (field, picked) in fields.iter().zip(&found.crosses) {
            for (at, stand) in field.stands.iter().enumerate() {
                let own: Vec<&Line> = picked.lines.iter().filter(|line| line.stand == at).collect();
                prop_assert_eq!(own.iter().map(|line| line.count).sum::<i64>(), stand.count);
                let adopted = stand.kept == Some(AsKept::Adopted);
                if stand.verdict == Verdict::Cull && !adopted {
                    prop_assert!(own.iter().all(|line| line.act == Act::Pull));
                }
                if stand.verdict == Verdict::Wait && stand.kept.is_none() {
                    prop_assert!(own.iter().all(|line| line.act == Act::Spare));
                }
                if stand.verdict == Verdict::Undecided && stand.kept.is_none() {
                    prop_assert!(own.iter().all(|line| matches!(line.act, Act::Settle | Act::Pull)));
                }
                if stand.kept.is_some() && stand.verdict != Verdict::Cull {
                    prop_assert!(own.iter().all(|line| line.act == Act::Stays));
                }
            }
            prop_assert!(picked.places <= per_cross);
            let of = |act: Act| {
                let own = picked.lines.iter().filter(move |line| line.act == act);
                own.map(|line| line.count).sum::<i64>()
            };
            let held = picked.lines.iter().map(|line| line.holds + line.holds_in_reserve);
            let held: i64 = held.sum();
            placed += of(Act::Keep) + of(Act::Reserve) + held;
            prop_assert!(of(Act::Keep) <= picked.places as i64);
            if let Some(chance) = picked.chance {
                prop_assert!(chance.low <= chance.p + 1e-12 && chance.p <= chance.high + 1e-12);
            }
        }
        let most = places.unwrap_or(fields.len() * per_cross + reserve);
        prop_assert!(placed <= most as i64, "{} placed of {}", placed, most);
    }
}
