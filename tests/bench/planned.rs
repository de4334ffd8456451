//! How fast plans are made: each within half a second, sharing many places within one.

use std::time::Duration;

use locule::diagnosis::context::Basis;
use locule::planning::off_share::OffShares;
use locule::planning::seeds::{Marker, Sowing, table, two_stages};
use locule::planning::space::{Wish, share};
use locule::records::facts::Facts;
use locule::stats::begun::{Begun, Case};
use locule::stats::exact_power::{Demand, NotEnough, enough};
use locule::stats::reach::Outcome;

use super::{best_of, report};

/// A plan is made within this.
const PLAN: Duration = Duration::from_millis(500);

const COUNTED: Sowing = Sowing {
    germination: Begun::Counted { a: 42.0, b: 10.0 },
    off_share: 0.03,
};

/// Whether every plan keeps to its limit; off-types are learnt from this ledger.
pub fn plans(facts: &Facts, trays: &str) -> bool {
    let took = best_of(2, || {
        let wish = |i: u32| Wish {
            cases: vec![(1.0, 1.0 / f64::from(i % 17 + 2))],
            want: u64::from(i % 4 + 1),
            weight: f64::from(i % 5 + 1),
        };
        let wishes: Vec<Wish> = (0..60).map(wish).collect();
        let (now, _) = share(&wishes, 2_000);
        assert!(now.places.iter().sum::<usize>() <= 2_000);
    });
    let mut good = report(
        "2,000 places shared over 60 crosses",
        took,
        Duration::from_secs(1),
    );
    let took = best_of(2, || {
        let kind = |at: usize| Outcome {
            p: 0.05 + 0.05 * at as f64,
            counts_for: vec![at],
        };
        let cases = [Case {
            weight: 1.0,
            outcomes: (0..4).map(kind).collect(),
        }];
        let rows = table(&COUNTED, &[5, 5, 5, 5], &cases).expect("it fits");
        assert!(rows[0].seeds[2].is_some());
    });
    good &= report(
        "seeds for five of each of four kinds, germination counted",
        took,
        PLAN,
    );
    let took = best_of(2, || {
        let marker = Marker {
            weight: 1.0,
            pass: 0.25,
            wanted: 0.0625,
        };
        two_stages(&COUNTED, &[marker], 3, Some(200), 0.95).expect("it can be");
    });
    good &= report("two stages with 200 pots, germination counted", took, PLAN);
    for (one, other) in [
        (&[9.0, 7.0][..], &[3.0, 1.0][..]),
        (&[27.0, 37.0], &[9.0, 7.0]),
        (&[27.0, 37.0], &[7.0, 9.0]),
        (&[9.0, 3.0, 4.0], &[9.0, 6.0, 1.0]),
        (&[9.0, 3.0, 3.0, 1.0], &[9.0, 3.0, 4.0, 0.0]),
    ] {
        let mut found = Err(NotEnough::Same);
        let took = best_of(1, || {
            let demand = Demand {
                power: 0.95,
                size: 0.05,
            };
            found = enough(one, other, demand);
        });
        let found = found.map_or_else(|why| why.to_string(), |found| format!("{} plants", found.n));
        good &= report(&format!("{one:?} from {other:?}: {found}"), took, PLAN);
    }
    let took = best_of(1, || {
        let basis = Basis::of(facts).expect("it can be read");
        let context = basis.context().expect("it can be read");
        OffShares::learn(&context).expect("it can be read");
    });
    good & report(&format!("the off share of a cross, {trays}"), took, PLAN)
}
