//! Backcrosses and generations of selfing held against exact fractions computed elsewhere.

use locule::genetics::segregation::gcd;
use locule::genetics::{AtLocus, Cytoplasm, Diploid, LinkageMap, LocusIx, Parent};

use crate::genetics_look::{
    Fraction, Look, Shares, assert_close, assert_exact, data, expect_mixture, expect_selfed,
    fraction, rows, selfed, shares,
};

#[test]
pub fn backcrosses() {
    let mut look = Look::genotypes(&["A"]);
    let recurrent = look.parent("A/A");
    let mut donor = look.parent("A/a");
    for case in rows("backcross_no_selection") {
        let generation = expect_mixture(&recurrent, &donor, &look.models()).unwrap();
        let all = Diploid::all(2);
        let weights = generation
            .iter()
            .map(|(classes, p)| (all[classes[0]], *p))
            .collect();
        let found = look.named_shares(generation);
        let wanted = [("AA", &case["AA"]), ("Aa", &case["Aa"])];
        let wanted: Shares = wanted
            .into_iter()
            .map(|(name, share)| {
                (
                    name.to_owned(),
                    fraction(share.as_str().expect("a fraction")),
                )
            })
            .collect();
        assert_close(&found, &wanted, &case["gen"].to_string());
        donor.loci.insert(LocusIx(0), AtLocus::Weighted(weights));
    }

    let mut two = Look::genotypes(&["A", "B"]);
    let found = two.cross("A/a B/b", "a/a b/b");
    assert_exact(&found, &shares(&data("BC1_F1_x_aabb_two_loci")), "BC1");

    let look = Look::phenotypes(&["A", "B"]);
    let half = [(Diploid::new(0, 1), 0.5), (Diploid::new(1, 1), 0.5)];
    let loci = look
        .book
        .iter()
        .map(|(locus, _)| (locus, AtLocus::Weighted(half.to_vec())));
    let bc1 = Parent {
        loci: loci.collect(),
        cytoplasm: Cytoplasm::Unknown,
    };
    let found = look.named_shares(expect_selfed(&bc1, &look.models()).unwrap());
    assert_close(&found, &shares(&data("BC1F2_to_aabb_phenotypes")), "BC1F2");
}

#[test]
pub fn generations_of_selfing() {
    let mut look = Look::genotypes(&["A"]);
    let mut plant = look.parent("A/a");
    for case in rows("selfing_one_locus") {
        let found = look.named_shares(expect_selfed(&plant, &look.models()).unwrap());
        let keys = ["AA", "Aa", "aa"];
        let wanted = keys.map(|k| {
            (
                k.to_owned(),
                fraction(case[k].as_str().expect("a fraction")),
            )
        });
        assert_close(&found, &wanted.into(), &case["gen"].to_string());
        plant = selfed(&plant);
    }

    let (mut looks, genotypes) = (Look::phenotypes(&["A", "B"]), Look::genotypes(&["A", "B"]));
    let mut plant = looks.parent("A/a B/b");
    for case in rows("selfing_two_loci_unlinked") {
        let what = case["gen"].to_string();
        let found = looks.named_shares(expect_selfed(&plant, &looks.models()).unwrap());
        assert_close(&found, &shares(&case["phenotypes"]), &what);
        let found = genotypes.named_shares(expect_selfed(&plant, &genotypes.models()).unwrap());
        assert_close(&found, &shares(&case["genotypes"]), &what);
        plant = selfed(&plant);
    }

    let look = Look::genotypes(&["A"]);
    let dominant = vec![
        (Diploid::new(0, 0), 1.0 / 3.0),
        (Diploid::new(0, 1), 2.0 / 3.0),
    ];
    let loci = [(LocusIx(0), AtLocus::Weighted(dominant))].into();
    let f2 = Parent {
        loci,
        cytoplasm: Cytoplasm::Unknown,
    };
    let found = look.named_shares(expect_selfed(&f2, &look.models()).unwrap());
    assert_close(
        &found,
        &shares(&data("F3_bulk_from_dominant_F2_only")["genotypes"]),
        "F3",
    );
}

/// The same rows by the names of the generations, in whole numbers.
#[test]
fn generations_by_name() {
    let free = LinkageMap::default();
    let mut one = Look::genotypes(&["A"]);
    let wanted = |case: &serde_json::Value, keys: &[&str]| -> Shares {
        let share = |key: &str| fraction(case[key].as_str().expect("a fraction"));
        let shares = keys.iter().map(|key| ((*key).to_owned(), share(key)));
        shares.filter(|(_, (n, _))| *n > 0).collect()
    };
    for case in rows("selfing_one_locus") {
        let name = case["gen"].as_str().expect("a name");
        let found = one.bred(name, "A/A", "a/a", &free);
        assert_exact(&found, &wanted(&case, &["AA", "Aa", "aa"]), name);
    }
    for case in rows("backcross_no_selection") {
        let name = case["gen"].as_str().expect("a name");
        let generation = name.split(' ').next().expect("a first word");
        let found = one.bred(generation, "a/a", "A/A", &free);
        assert_exact(&found, &wanted(&case, &["AA", "Aa"]), name);
    }
    let (mut looks, mut genotypes) = (Look::phenotypes(&["A", "B"]), Look::genotypes(&["A", "B"]));
    for case in rows("selfing_two_loci_unlinked") {
        let name = case["gen"].as_str().expect("a name");
        let found = looks.bred(name, "A/A b/b", "a/a B/B", &free);
        assert_exact(&found, &shares(&case["phenotypes"]), name);
        let found = genotypes.bred(name, "A/A b/b", "a/a B/B", &free);
        assert_exact(&found, &shares(&case["genotypes"]), name);
    }
    let found = looks.bred("BC1F2", "A/A B/B", "a/a b/b", &free);
    assert_exact(&found, &shares(&data("BC1F2_to_aabb_phenotypes")), "BC1F2");
    let found = genotypes.bred("BC1", "A/A B/B", "a/a b/b", &free);
    assert_exact(&found, &shares(&data("BC1_F1_x_aabb_two_loci")), "BC1");
}

/// One model that reads up to 21 loci: `het` if any is heterozygous.
#[test]
pub fn many_loci_at_once() {
    for case in rows("fully_homozygous_at_n_loci") {
        let n = case["n_loci"].as_u64().expect("a count");
        let generation = case["gen"].as_str().expect("a name");
        let rules: Vec<(String, String)> = (0..n)
            .map(|i| (format!("Q{i}/q{i}"), "het".to_owned()))
            .collect();
        let mut rules: Vec<(&str, &str)> = rules.iter().map(|(p, c)| (&**p, &**c)).collect();
        rules.push(("else", "fixed"));
        let mut look = Look::new("/").with(&rules);
        let f1: Vec<String> = (0..n).map(|i| format!("Q{i}/q{i}")).collect();
        let f1 = f1.join(" ");
        // Whole numbers of 128 bits do not hold all of these.
        let selfings: u64 = generation[1..].parse().expect("a number");
        if n * selfings <= 120 {
            let lines = [f1.replace('q', "Q"), f1.replace('Q', "q")];
            let bred = look.bred(generation, &lines[0], &lines[1], &LinkageMap::default());
            let wanted = fraction(case["P"].as_str().expect("a fraction"));
            assert_exact_share(&bred, "fixed", wanted);
        }
        let mut plant = look.parent(&f1);
        for _ in 2..selfings {
            plant = selfed(&plant);
        }
        let found = look.named_shares(expect_selfed(&plant, &look.models()).unwrap());
        let wanted = case["decimal"].as_f64().expect("a number");
        assert!(
            (found["fixed"] - wanted).abs() < 1e-13,
            "{n} loci, {generation}"
        );
    }
}

fn assert_exact_share(found: &Shares, class: &str, wanted: Fraction) {
    let lowest = |(n, d): Fraction| (n / gcd(n, d), d / gcd(n, d));
    assert_eq!(lowest(found[class]), lowest(wanted), "{class}");
}
