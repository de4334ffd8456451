//! Places shared over crosses: against every sharing, each valued over every set of true seedlings.

use super::*;

/// Of two crosses as likely true the one worth more gets the only place. One in which goals do not count is taken to be worth
/// what the others are on average: by hand 0.19, 0.765 and 0.55 x 0.7 = 0.385.
#[test]
fn goals_decide_between_crosses() {
    let of = |number: usize, merit: Option<f64>, p_off: f64| {
        let one = Stand {
            merit,
            ..stand(0, 0, Verdict::Keep, p_off)
        };
        field(number, vec![one])
    };
    let places = |fields: &[Field]| -> Vec<usize> {
        let places = fields.len() - 1;
        let found = pick(fields, wanted(1, Some(places), 0), &independent(fields));
        found.crosses.iter().map(|one| one.places).collect()
    };
    assert_eq!(
        places(&[of(0, Some(0.2), 0.05), of(1, Some(0.9), 0.15)]),
        [0, 1]
    );
    assert_eq!(places(&[of(0, None, 0.05), of(1, Some(0.9), 0.15)]), [1, 0]);
    assert_eq!(places(&[of(0, None, 0.05), of(1, None, 0.15)]), [1, 0]);
    let three = [
        of(0, Some(0.2), 0.05),
        of(1, Some(0.9), 0.15),
        of(2, None, 0.3),
    ];
    assert_eq!(places(&three), [0, 1, 1]);
}

/// A cross that goes without for want of places is told of, and how many places would do.
#[test]
fn a_cross_without_a_place_is_told_of() {
    let of = |number: usize, verdict: Verdict| {
        let stands = (0..2).map(|at| stand(0, at, verdict, 0.1));
        field(number, stands.collect())
    };
    let fields = [
        of(0, Verdict::Keep),
        of(1, Verdict::Keep),
        of(2, Verdict::Cull),
    ];
    let found = pick(&fields, wanted(2, Some(2), 1), &independent(&fields));
    let without: Vec<bool> = found.crosses.iter().map(|one| one.goes_without).collect();
    let in_reserve = |at: usize| {
        let mut lines = found.crosses[at].lines.iter();
        lines.any(|line| line.act == Act::Reserve)
    };
    assert!(in_reserve(1) && without == [false; 3], "{without:?}");
    let found = pick(&fields, wanted(2, Some(1), 0), &independent(&fields));
    let without: Vec<bool> = found.crosses.iter().map(|one| one.goes_without).collect();
    assert_eq!(without, [false, true, false]);
    assert_eq!(found.enough_for_each, Some(2));
}

/// The first so many of a cross.
fn placed(field: &Field, places: usize) -> Vec<&Stand> {
    let fields = vec![field.clone(); field.trays[0] as usize / 10 + 1];
    let found = pick(
        std::slice::from_ref(field),
        wanted(places, None, 0),
        &independent(&fields),
    );
    let mut chosen: Vec<&Stand> = Vec::new();
    for line in &found.crosses[0].lines {
        let count = match line.act {
            Act::Keep => line.count,
            _ => line.holds,
        };
        chosen.extend(vec![&field.stands[line.stand]; count as usize]);
    }
    chosen
}

/// What the best true one of the first so many of a cross is worth on average, over every set of true ones; each is worth as
/// much where goals do not count.
fn best_worth_by_hand(field: &Field, places: usize, even: f64) -> f64 {
    if places == 0 {
        return 0.0;
    }
    let chosen = placed(field, places);
    let of_set = |set: u32| -> f64 {
        let each = || {
            chosen
                .iter()
                .enumerate()
                .map(|(at, stand)| (set >> at & 1 == 1, *stand))
        };
        let p = each().map(|(is_true, stand)| {
            if is_true {
                1.0 - stand.p_off
            } else {
                stand.p_off
            }
        });
        let merit = |stand: &Stand| stand.merit.map_or(even, |merit| merit.max(0.001));
        let best = each()
            .filter(|(is_true, _)| *is_true)
            .map(|(_, stand)| merit(stand));
        p.product::<f64>() * best.fold(0.0, f64::max)
    };
    (0..1 << chosen.len()).map(of_set).sum()
}

/// What the first seedlings of the crosses in which goals count are worth on average.
fn even_by_hand(fields: &[Field]) -> f64 {
    let first = |field: &Field| -> Option<f64> {
        if field.stands.iter().any(|stand| stand.merit.is_none()) {
            return None;
        }
        let merits = placed(field, 1).into_iter().filter_map(|stand| stand.merit);
        merits.map(|merit| merit.max(0.001)).next()
    };
    let each: Vec<f64> = fields.iter().filter_map(first).collect();
    match each.len() {
        0 => 1.0,
        n => each.iter().sum::<f64>() / n as f64,
    }
}

/// The best sum of worths over all ways of sharing places.
fn best_by_hand(worths: &[Vec<f64>], places: usize) -> f64 {
    match worths {
        [] => 0.0,
        [first, rest @ ..] => (0..first.len().min(places + 1))
            .map(|own| first[own] + best_by_hand(rest, places - own))
            .fold(0.0, f64::max),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

    /// Places are shared as well as can be, goals counting or not, and none is left while a cross lacks one. So many as are
    /// told to be enough leave no cross without, and fewer do not.
    #[test]
    fn no_sharing_of_places_is_better(
        fields in any_fields(),
        goals in any::<bool>(),
        per_cross in 1..4_usize,
        places in 0..7_usize,
        counted in 0..4_usize,
    ) {
        let mut fields = fields;
        for (at, field) in fields.iter_mut().enumerate() {
            field.stands.retain(|stand| stand.kept.is_none());
            for stand in &mut field.stands {
                let hundredth = (100.0 * stand.merit.unwrap_or(0.5)).round() / 100.0;
                stand.merit = (goals && at != counted).then_some(hundredth);
            }
        }
        let share = |all: usize| pick(&fields, wanted(per_cross, Some(all), 0), &independent(&fields));
        let found = share(places);
        let even = even_by_hand(&fields);
        let worths: Vec<Vec<f64>> = fields
            .iter()
            .map(|field| (0..=per_cross).map(|own| best_worth_by_hand(field, own, even)).collect())
            .collect();
        let best = best_by_hand(&worths, places);
        let shared = worths.iter().zip(&found.crosses);
        let shared: f64 = shared.map(|(own, picked)| own[picked.places]).sum();
        prop_assert!((shared - best).abs() < 1e-9, "{} {}", shared, best);
        for (own, picked) in worths.iter().zip(&found.crosses) {
            let told = picked.best_worth.unwrap_or(own[picked.places]);
            prop_assert!((told - own[picked.places]).abs() < 1e-9, "{} {:?}", told, own);
        }
        if !found.by_goals {
            prop_assert!((found.crosses_true - best).abs() < 1e-9, "{} {}", found.crosses_true, best);
        }
        let lacking = |(field, picked): (&Field, &Picked)| {
            let may = |stand: &&Stand| stand.verdict != Verdict::Cull;
            let stands: i64 = field.stands.iter().filter(may).map(|stand| stand.count).sum();
            picked.places < per_cross.min(stands as usize)
        };
        if fields.iter().zip(&found.crosses).any(lacking) {
            prop_assert_eq!(found.places_left, Some(0));
        }
        let goes_without = |found: &Pick| found.crosses.iter().any(|one| one.goes_without);
        prop_assert_eq!(goes_without(&found), found.enough_for_each.is_some());
        if let Some(enough) = found.enough_for_each {
            prop_assert!(!goes_without(&share(enough)));
            prop_assert!((places..enough).all(|fewer| goes_without(&share(fewer))));
        }
    }
}
