//! Schemes that lead to a line: against published tables of plants needed, formulas written out gene by gene, the limit
//! of selfing without end, and schemes played plant by plant.

use locule::genetics::drag::donor_piece;
use locule::genetics::generation::recurrent_share;
use locule::genetics::linkage::{Arrangement, Chromosome};
use locule::genetics::locus::{LocusBook, LocusIx};
use locule::genetics::recombination::{Rate, Recombination};
use locule::genetics::rule::{Cytoplasm, GeneModel};
use locule::planning::line::kinds::{Kinds, Mixture, Order, Start, Wish};
use locule::planning::line::leg::{Aim, How, Keep, Leg, Sowable, Step};
use serde_json::Value;

use crate::plans::{Dice, TRIES, agrees};
use crate::support::Bench;

const SURE: Sowable = Sowable {
    selfed: 1.0,
    crossed: 1.0,
};

/// Two genes, the model of a look that a pattern describes, and how they lie.
struct Genes {
    model: GeneModel,
    order: Order,
}

fn genes(pattern: &str, loci: &[&str], parted: Option<f64>) -> Genes {
    let mut book = LocusBook::new();
    for locus in loci {
        let alleles = [locus.to_uppercase(), locus.to_lowercase()];
        book.declare(&alleles[0], &alleles).unwrap();
    }
    let classes = ["wanted", "other"].map(str::to_owned);
    let rules = [(pattern, "wanted"), ("else", "other")];
    let model = GeneModel::build("look", &classes, &rules, &mut book).unwrap();
    let all: Vec<LocusIx> = (0..loci.len()).map(LocusIx).collect();
    let chromosomes = match parted {
        Some(r) => vec![Chromosome {
            steps: vec![Recombination::both(Rate::of(r)); all.len() - 1],
            loci: all,
        }],
        None => {
            let alone = |locus: LocusIx| Chromosome {
                loci: vec![locus],
                steps: Vec::new(),
            };
            all.into_iter().map(alone).collect()
        }
    };
    let order = Order::of(&Arrangement {
        chromosomes,
        ..Arrangement::default()
    });
    Genes { model, order }
}

impl Genes {
    /// All that an F1 of a dominant and a recessive line leads to, crossed back to the recessive one.
    fn kinds(&self) -> Kinds {
        let count = self.order.loci.len();
        let (dominant, recessive) = (vec![0; count], vec![1; count]);
        let start = Start {
            first: vec![([dominant.clone(), recessive.clone()], 1.0)],
            back: Some([[recessive.clone(), recessive], [dominant.clone(), dominant]]),
        };
        let wish = Wish {
            asks: vec![(&self.model, 0)],
            cytoplasm: Cytoplasm::Unknown,
        };
        Kinds::of(&start, &self.order, &wish).unwrap()
    }
}

fn one_step(how: How, aim: Aim) -> Leg {
    let keep = Keep::Shown;
    Leg {
        steps: vec![Step { how, keep }],
        aim,
    }
}

/// `tests/data/plants_needed.csv` (Sedcole 1977, Crop Science 17:667-668, by exact binomial sums): as many plants as
/// show a class of an F2, of a backcross, and lines that breed true because what is wanted is recessive.
#[test]
fn generations_need_as_many_plants_as_the_published_table() {
    let shown = |pattern, loci: &[&str], how| {
        let genes = genes(pattern, loci, None);
        (genes.kinds(), one_step(how, Aim::Kept))
    };
    let bred = |pattern, loci: &[&str]| {
        let genes = genes(pattern, loci, None);
        (genes.kinds(), one_step(How::Selfed, Aim::Bred))
    };
    let classes = [
        ("3/4", shown("A/_", &["a"], How::Selfed)),
        ("9/16", shown("A/_ B/_", &["a", "b"], How::Selfed)),
        ("1/2", shown("A/_", &["a"], How::Back)),
        ("1/4", bred("a/a", &["a"])),
        ("1/16", bred("a/a b/b", &["a", "b"])),
    ];
    let mut reader = csv::Reader::from_reader(include_str!("../data/plants_needed.csv").as_bytes());
    let mut compared = 0;
    for row in reader.records() {
        let row = row.unwrap();
        let Some((_, (kinds, leg))) = classes.iter().find(|(q, _)| *q == &row[1]) else {
            continue;
        };
        let (n, of) = row[0].split_once('/').unwrap();
        let confidence = n.parse::<f64>().unwrap() / of.parse::<f64>().unwrap();
        let want = row[2].parse().unwrap();
        let found = leg
            .plan(kinds, &kinds.first, SURE, want, confidence)
            .unwrap();
        assert_eq!(found.seeds, row[3].parse::<u64>().unwrap(), "{row:?}");
        let p: f64 = row[4].parse().unwrap();
        assert!((found.chance - p).abs() < 1e-12, "{row:?}");
        assert_eq!(found.test, 0, "{row:?}");
        compared += 1;
    }
    assert_eq!(compared, 200);
}

/// What one generation of selfing makes of a mixture.
fn selfed(kinds: &Kinds, mixture: &[f64]) -> Vec<f64> {
    let mut next = vec![0.0; mixture.len()];
    for (kind, p) in mixture.iter().enumerate() {
        for (child, q) in &kinds.all[kind].selfed {
            next[*child] += p * q;
        }
    }
    next
}

fn spread(kinds: &Kinds, mixture: &Mixture) -> Vec<f64> {
    let mut all = vec![0.0; kinds.all.len()];
    for (kind, p) in mixture {
        all[*kind] = *p;
    }
    all
}

/// Linked genes: both recessives in ((1 - r)/2)^2 of an F2, and after selfing without end in (1 - R)/2 with
/// R = 2r/(1 + 2r) (Haldane and Waddington 1931, Genetics 16:357-374).
#[test]
fn linked_genes_are_handed_on_as_in_print() {
    for r in [0.02, 0.15, 0.4] {
        let genes = genes("a/a b/b", &["a", "b"], Some(r));
        let kinds = genes.kinds();
        let shows = |mixture: &[f64]| -> f64 {
            let hits = kinds.all.iter().zip(mixture);
            hits.filter(|(kind, _)| kind.shows).map(|(_, p)| p).sum()
        };
        let mut mixture = selfed(&kinds, &spread(&kinds, &kinds.first));
        assert!((shows(&mixture) - ((1.0 - r) / 2.0_f64).powi(2)).abs() < 1e-14);
        for _ in 0..80 {
            mixture = selfed(&kinds, &mixture);
        }
        let limit = (1.0 - 2.0 * r / (1.0 + 2.0 * r)) / 2.0;
        assert!((shows(&mixture) - limit).abs() < 1e-9, "{r}");
        assert!((mixture.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    }
}

/// What is still open is halved by each selfing and each backcross, and the rest of the donor parent with it.
#[test]
fn shares_of_the_recurrent_parent_are_those_in_print() {
    let genes = genes("A/_", &["a"], None);
    let kinds = genes.kinds();
    let is_open = |kind: usize| kinds.all[kind].shows && !kinds.all[kind].is_true;
    let mut here: Mixture = kinds.first.clone();
    for times in 1..=5 {
        let mut next = vec![0.0; kinds.all.len()];
        for (kind, p) in &here {
            for (child, q) in &kinds.all[*kind].back {
                next[*child] += p * q;
            }
        }
        let open: f64 = (0..next.len())
            .filter(|k| is_open(*k))
            .map(|k| next[k])
            .sum();
        assert!((open - 0.5_f64.powi(times)).abs() < 1e-15);
        // An open plant has one allele of two from the donor parent.
        let recurrent = recurrent_share(times.cast_unsigned());
        assert!((recurrent - (1.0 - open / 2.0)).abs() < 1e-15);
        here = next.into_iter().enumerate().collect();
    }
}

fn scheme<'a>(answer: &'a Value, way: &str, to: &str) -> &'a Value {
    let all = answer["schemes"].as_array().unwrap();
    let found = all
        .iter()
        .find(|one| one["way"] == way && one["generation"] == to);
    found.unwrap_or_else(|| panic!("no {way} to {to}: {answer}"))
}

fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("{key}: {value}"))
}

fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
}

/// A dominant look gene by gene. Of F2 seeds 1/4 are pure and 1/2 pass a test of m seeds with (3/4)^m; a line is there
/// and is the one taken with (1 - (1 - u)^N) f/u, f being 1/4 and u all that pass. The same of an F3 from s seeds of
/// each.
#[test]
fn a_dominant_look_is_fixed_as_worked_out_by_hand() {
    let bench = Bench::new();
    let answer = bench.json("plan line --mother A/A --father a/a --class purple");
    let taken = |n: f64, pure: f64, open: f64, m: f64| {
        let passes = pure + open * 0.75_f64.powf(m);
        (1.0 - (1.0 - passes).powf(n)) * pure / passes
    };
    let f2 = scheme(&answer, "selfing-shown-kept", "F2");
    let lines = f2["generations"].as_array().unwrap();
    let (n, m) = (number(&lines[1], "seeds"), number(&lines[2], "seeds_each"));
    let chance = taken(n, 0.25, 0.5, m);
    near(number(f2, "probability"), chance);
    assert!(chance >= 0.95 && taken(n - 1.0, 0.25, 0.5, m) < 0.95);
    // Of those that pass the root of 0.95 are pure, and with a seed fewer in the test not.
    let pure = |m: f64| 0.25 / (0.25 + 0.5 * 0.75_f64.powf(m));
    assert!(pure(m) >= 0.95_f64.sqrt() && pure(m - 1.0) < 0.95_f64.sqrt());
    near(number(&lines[1], "kept"), 0.75 * n);
    near(number(f2, "seeds"), 1.0 + n + 0.75 * n * m);
    assert_eq!(f2["seasons"], 3);
    near(number(f2, "still_open"), 0.5);

    let f3 = scheme(&answer, "selfing-shown-kept", "F3");
    let lines = f3["generations"].as_array().unwrap();
    let (n, s) = (number(&lines[1], "seeds"), number(&lines[2], "seeds_each"));
    let m = number(&lines[3], "seeds_each");
    let goes_on = 1.0 - 0.25_f64.powf(s);
    let (pure, open) = (0.25 + 0.5 * goes_on / 3.0, 0.5 * goes_on * 2.0 / 3.0);
    near(number(f3, "probability"), taken(n, pure, open, m));
    near(number(&lines[2], "seeds"), 0.75 * n * s);
    assert_eq!(f3["seasons"], 4);
}

/// Carriers that are seen: each backcross needs the plants of one in two, with its share of the confidence.
#[test]
fn carriers_that_are_seen_need_few_plants() {
    let bench = Bench::new();
    let line =
        "plan line --mother a/a --father A/A --recurrent mother --class purple --backcrosses 2";
    let answer = bench.json(line);
    let by_look = scheme(&answer, "backcross-by-look", "BC2F2");
    let lines = by_look["generations"].as_array().unwrap();
    // Three steps can fail: (1/2)^6 is 1.6 %, and the third root of 95 % leaves 1.7 %.
    assert_eq!(
        [number(&lines[1], "seeds"), number(&lines[2], "seeds")],
        [6.0, 6.0]
    );
    let (n, m) = (number(&lines[3], "seeds"), number(&lines[4], "seeds_each"));
    let passes = 0.25 + 0.5 * 0.75_f64.powf(m);
    let last = (1.0 - (1.0 - passes).powf(n)) * 0.25 / passes;
    near(
        number(by_look, "probability"),
        (1.0 - 0.5_f64.powi(6)).powi(2) * last,
    );
    near(number(by_look, "recurrent_share"), 0.875);
    near(number(by_look, "still_open"), 0.125);
    assert_eq!(by_look["seasons"], 5, "F1, BC1, BC2, BC2F2 and its test");
    assert!(answer["schemes"].as_array().unwrap().len() == 2, "{answer}");
}

const HET: [bool; 2] = [true, false];
const GREEN: [bool; 2] = [false; 2];

/// Purple is A/_; F2 plants that show it are tested by their selfed seed. Played with seed that does not all come up.
#[test]
fn a_selfing_scheme_comes_true_when_it_is_played() {
    let bench = Bench::new();
    let line = "plan line --plant A/a --class purple --germination 0.85 --confidence 0.9 --want 2";
    let answer = bench.json(line);
    let best = &answer["schemes"][0];
    let lines = best["generations"].as_array().unwrap();
    let (n, m) = (
        lines[0]["seeds"].as_f64().unwrap() as u32,
        lines[1]["seeds_each"].as_u64().unwrap(),
    );
    let (mut dice, mut hits) = (Dice(0x11fe_11fe), 0);
    for _ in 0..TRIES / 4 {
        let mut taken = Vec::new();
        for _ in 0..n {
            let plant = dice.seed(HET, HET);
            if !dice.says(0.85) || plant == GREEN {
                continue;
            }
            let (mut up, mut green) = (0, 0);
            for _ in 0..m {
                let seed = dice.seed(plant, plant);
                if dice.says(0.85) {
                    up += 1;
                    green += u32::from(seed == GREEN);
                }
            }
            if up > 0 && green == 0 && taken.len() < 2 {
                taken.push(plant);
            }
        }
        hits += u32::from(taken == [[true; 2]; 2]);
    }
    agrees(TRIES / 4, hits, number(best, "probability"));
}

/// Green is a/a and comes from the donor parent; carriers are purple as all others are.
#[test]
fn backcross_schemes_come_true_when_they_are_played() {
    let bench = Bench::new();
    let line = "plan line --mother A/A --father a/a --recurrent mother --class green --backcrosses 2 \
                --germination 0.9 --off-share 0.05 --confidence 0.8";
    let answer = bench.json(line);
    let (selfed, crossed) = (0.9, 0.9 * 0.95);
    let count = |line: &Value, key: &str| number(line, key).round() as u32;
    let tested = scheme(&answer, "backcross-tested", "BC2F2");
    let lines = tested["generations"].as_array().unwrap();
    assert_eq!(lines[1]["seeds_each"], Value::Null);
    let (mut dice, mut hits) = (Dice(0xbac0_bac0), 0);
    for _ in 0..TRIES / 4 {
        let mut is_there = (0..count(&lines[0], "seeds")).any(|_| dice.says(crossed));
        for at in [1, 3] {
            let (n, m) = (
                count(&lines[at], "seeds"),
                count(&lines[at + 1], "seeds_each"),
            );
            // Every plant is grown and tested, though the first that is told would do.
            let mut told = false;
            for _ in 0..n {
                let carries = dice.says(0.5);
                if !dice.says(crossed) {
                    continue;
                }
                let shown = (0..m).any(|_| dice.says(crossed) && carries && dice.says(0.5));
                told |= shown;
            }
            is_there &= told;
        }
        let found = (0..count(&lines[5], "seeds"))
            .any(|_| dice.says(selfed) && dice.seed(HET, HET) == GREEN);
        hits += u32::from(is_there && found);
    }
    agrees(TRIES / 4, hits, number(tested, "probability"));

    let between = scheme(&answer, "backcross-selfed-between", "BC2F2");
    let lines = between["generations"].as_array().unwrap();
    let mut hits = 0;
    for _ in 0..TRIES / 4 {
        let mut is_there = (0..count(&lines[0], "seeds")).any(|_| dice.says(crossed));
        for (at, all_carry) in [(1, false), (3, true)] {
            let (n, s) = (
                count(&lines[at], "seeds"),
                count(&lines[at + 1], "seeds_each"),
            );
            let mut found = false;
            for _ in 0..n {
                let carries = all_carry || dice.says(0.5);
                if dice.says(crossed) && carries {
                    found |= (0..s).any(|_| dice.says(selfed) && dice.seed(HET, HET) == GREEN);
                }
            }
            is_there &= found;
        }
        hits += u32::from(is_there);
    }
    agrees(TRIES / 4, hits, number(between, "probability"));
}

/// Played meioses in Haldane's model: crossovers one Morgan apart on average, every one changes the strand. The gene
/// stands at 0; a strand is the places at which it changes between donor and recurrent parent.
#[test]
fn linkage_drag_comes_true_when_it_is_played() {
    let mut dice = Dice(0xd4a6_d4a6);
    for (meioses, arm) in [(1, 0.6), (3, 0.6), (4, 1.5)] {
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..TRIES {
            let mut changes: Vec<f64> = Vec::new();
            for _ in 0..meioses {
                let (mut at, mut kept, mut of_donor_strand) = (0.0_f64, Vec::new(), true);
                let is_donor =
                    |x: f64| changes.iter().filter(|change| **change <= x).count() % 2 == 0;
                loop {
                    let next = at - (1.0 - dice.roll()).ln();
                    if of_donor_strand {
                        let within = changes.iter().filter(|c| **c > at && **c < next);
                        kept.extend(within.copied());
                    }
                    if next >= arm {
                        break;
                    }
                    // Changing strands shows only where they differ.
                    if is_donor(next) {
                        kept.push(next);
                    }
                    of_donor_strand = !of_donor_strand;
                    at = next;
                }
                kept.retain(|change| *change < arm);
                changes = kept;
            }
            let piece = changes.iter().copied().fold(arm, f64::min);
            sum += piece;
            squares += piece * piece;
        }
        let n = f64::from(TRIES);
        let (mean, sd) = (sum / n, ((squares / n - (sum / n).powi(2)) / n).sqrt());
        let said = donor_piece(meioses, Some(arm)).unwrap();
        assert!(
            (mean - said).abs() < 4.0 * sd,
            "{meioses} {arm}: {mean} {said}"
        );
    }
}
