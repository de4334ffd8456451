//! How fast plans are made: each within half a second, sharing many places within one.

use std::time::Duration;

use locule::diagnosis::context::{Basis, Context};
use locule::planning::cross::{Ask, Question, plan_crosses};
use locule::planning::off_share::OffShares;
use locule::planning::seeds::{Marker, Sowing, two_stages};
use locule::planning::space::{Wish, share};
use locule::records::facts::Facts;
use locule::stats::begun::{Begun, Case};
use locule::stats::exact_power::{Demand, NotEnough, enough};
use locule::stats::reach::Outcome;

use super::invented::{Ledger, target};
use super::{best_of, report};

/// A plan is made within this.
const PLAN: Duration = Duration::from_millis(500);

const COUNTED: Sowing = Sowing {
    germination: Begun::Counted { a: 42.0, b: 10.0 },
    off_share: 0.03,
};

/// Whether every plan keeps to its limit; off-types are learnt from this ledger.
pub fn plans(facts: &Facts, trays: &str) -> bool {
    let wish = |i: u32| Wish {
        cases: vec![(1.0, 1.0 / f64::from(i % 17 + 2))],
        want: u64::from(i % 4 + 1),
        weight: f64::from(i % 5 + 1),
    };
    let mut good = true;
    for (crosses, places) in [(60, 2_000), (200, 5_000)] {
        let wishes: Vec<Wish> = (0..crosses).map(wish).collect();
        let took = best_of(2, || {
            let (now, _) = share(&wishes, places);
            assert!(now.places.iter().sum::<usize>() <= places);
        });
        good &= report(
            &format!("{places} places shared over {crosses} crosses"),
            took,
            PLAN,
        );
    }
    let took = best_of(2, || {
        let kind = |at: usize| Outcome {
            p: 0.05 + 0.05 * at as f64,
            counts_for: vec![at],
        };
        let cases = [Case {
            weight: 1.0,
            outcomes: (0..4).map(kind).collect(),
        }];
        let (_, rows) = COUNTED.plan(&[5, 5, 5, 5], &cases, 0.95).expect("it fits");
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

/// Whether crosses are planned within the limit: thirty more lines of different genotypes, and ten seedlings kept.
pub fn crosses(mut ledger: Ledger) -> bool {
    for at in 0..30 {
        let pick = |step: usize, [one, between, other]: [&'static str; 3]| match at / step % 3 {
            0 => one,
            1 => between,
            _ => other,
        };
        let genotype = [
            pick(1, ["A/A", "A/a", "a/a"]),
            pick(3, ["Pun1/Pun1", "Pun1/pun1", "pun1/pun1"]),
            pick(9, ["Up/Up", "Up/up", "up/up"]),
        ];
        ledger.line(&format!("Q{at}"), &genotype.join(" "));
    }
    for at in 0..10 {
        let day = ledger.today;
        ledger.kept(&format!("K{at}"), target(&format!("T{at}-01")), day);
    }
    let question = |context: &Context<'_>, looks: &[(&str, &str)]| {
        let ask = |(code, class): &(&str, &str)| {
            let looks = &context.looks.traits;
            let look = looks.iter().position(|look| look.code == *code);
            let look = look.expect("a built-in trait");
            let class = looks[look]
                .classes
                .iter()
                .position(|one| one.name == *class);
            Ask {
                look,
                class: class.expect("one of its classes"),
            }
        };
        Question {
            asks: looks.iter().map(ask).collect(),
            fixed: true,
            confidence: 0.95,
            germination: None,
            true_share: 0.9,
            today: ledger.today,
        }
    };
    let took = best_of(2, || {
        let basis = Basis::of(&ledger.facts).expect("it can be read");
        let context = basis.context().expect("it can be read");
        let looks = [
            ("foliage", "purple"),
            ("pungency", "not-hot"),
            ("fruit-attitude", "erect"),
            ("stem-hair", "hairy"),
        ];
        let found = plan_crosses(&context, &question(&context, &looks), 5);
        assert_eq!(found.expect("there are plans").plans.len(), 5);
    });
    report(
        "which two of 50 parents to cross for four traits that breed true, 60 trays, ten parents kept from them",
        took,
        PLAN,
    )
}
