//! What is said before a grower pulls or trusts: runts, selfs that nothing shows, a parent in doubt, linked traits.

use crate::support::{Bench, flat, record};

/// A ledger of a cross of which twelve seedlings came up; every command must be recorded.
fn tray(mother: &str, father: &str, then: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-06-01");
    bench.ok("init");
    for line in [
        &format!("parent add MO {mother}"),
        &format!("parent add FA {father}"),
        "cross MO FA --covered --on 2026-01-10",
        "sow X1 --seeds 12 --place tent --on 2026-03-01",
        "up T1 12 --on 2026-03-12",
    ] {
        record(&bench, line);
    }
    for line in then {
        record(&bench, line);
    }
    bench
}

fn suspects(bench: &Bench) -> String {
    flat(&bench.ok("suspects T1"))
}

const RUNT: &str =
    "annuum x chinense is a cross between species: a weak or dwarf seedling may be the true hybrid";

#[test]
fn a_weak_seedling_of_a_wide_cross_is_not_pulled_without_a_word() {
    let scored = ["score T1 1-10=purple 11-12=green --on 2026-05-01"];
    let wide = (
        "--genotype a/a --species annuum",
        "--genotype A/A --species chinense",
    );
    let bench = tray(wide.0, wide.1, &scored);
    let said = record(&bench, "cull T1-03 --why weak");
    assert!(
        said.contains(RUNT)
            && said.contains(
                "weak is no sign of an off-type. If it still stands, 'locule undo' and keep it"
            ),
        "{said}"
    );
    // What was written down of the seedling counts as much as the reason.
    assert_eq!(record(&bench, "note T1-04 'a runt, crinkled'"), "");
    assert!(record(&bench, "thin T1-04").contains(RUNT));
    record(&bench, "trait on wide-cross-dwarf");
    record(&bench, "score T1-05 wide-cross-dwarf:dwarf --on 2026-05-01");
    assert!(record(&bench, "cull T1-05").contains(RUNT));
    // A reason that is none of weakness, and a seedling that is gone anyhow, need no warning.
    assert_eq!(record(&bench, "cull T1-12 --why 'still green'"), "");
    assert_eq!(record(&bench, "died T1-06 --why 'weak from the start'"), "");
    // Nor does a cross within a species, or one of which the species was not stated.
    for (mother, father) in [
        (wide.0, "--genotype A/A --species annuum"),
        (wide.0, "--genotype A/A"),
    ] {
        assert_eq!(
            record(&tray(mother, father, &scored), "cull T1-03 --why weak"),
            ""
        );
    }
}

#[test]
fn the_vigorous_ones_of_a_hard_cross_are_the_suspects() {
    let scored = ["score T1 1-9=purple/hairy 10-12=green/smooth --on 2026-05-01"];
    let of = |father: &str| {
        let father = format!("--genotype 'A/A H/H' --species {father}");
        tray("--genotype 'a/a h/h' --species annuum", &father, &scored)
    };
    let usual = suspects(&of("chinense"));
    assert!(
        usual.contains(RUNT) && usual.contains("and weak is no sign of an off-type."),
        "{usual}"
    );
    assert!(!usual.contains("vigorous"), "{usual}");
    let hard = of("baccatum");
    let words = "annuum x baccatum is a very hard cross between species: a weak or dwarf seedling may be the true hybrid, \
                 and the vigorous ones are the suspects. A whole tray of selfs counts 7 times as likely as within a species";
    for question in ["suspects T1", "sheet T1", "why T1-11"] {
        let said = flat(&hard.ok(question));
        let caution = said
            .find(words)
            .unwrap_or_else(|| panic!("{question}: {said}"));
        // Before anything is said to be pulled, but for the one line that answers why.
        let cull = said.find("CULL").or_else(|| said.find(" cull T1-10 to 12"));
        assert!(
            question.starts_with("why") || cull.is_some_and(|cull| caution < cull),
            "{question}: {said}"
        );
    }
    let said = record(&hard, "cull T1-03 --why 'dwarf, poor roots'");
    assert!(
        said.contains("may be the true hybrid, and the vigorous ones the selfs;"),
        "{said}"
    );
    assert!(
        suspects(&of("pubescens"))
            .contains("that is not expected to give seedlings without embryo culture: a weak")
    );
    // Nothing of this is said within a species.
    assert!(!suspects(&of("annuum")).contains("between species"));
}

#[test]
fn where_all_look_like_the_mother_it_is_said_what_would_show_a_self() {
    let bench = tray(
        "--genotype 'A/A h/h'",
        "--genotype 'a/a H/H'",
        &["score T1 1-12=purple --on 2026-05-01"],
    );
    let words = "All look like MO itself (purple), as MO x FA and a self alike would. What would show a self of MO: score \
                 foliage-grade (a self is deep, MO x FA mid) or stem-hair (a self is smooth, MO x FA hairy); or make the cross \
                 the other way round: FA x MO is purple, a self of FA green.";
    let said = suspects(&bench);
    assert!(
        said.contains("so a clean tray proves nothing about selfs here."),
        "{said}"
    );
    assert!(said.contains(words), "{said}");
    assert!(flat(&bench.ok("why T1-01")).contains(words));
    // Once the trait is read that shows them, there is nothing to say, and a self stands out.
    record(&bench, "score T1 1-11=hairy 12=smooth --on 2026-05-02");
    let said = suspects(&bench);
    assert!(
        !said.contains("proves nothing about selfs") && !said.contains("What would show"),
        "{said}"
    );
    assert!(said.contains("wait T1-12"), "{said}");
}

#[test]
fn a_father_that_hides_selfs_is_named() {
    let scored = ["score T1 1-6=purple 7-12=green --on 2026-05-01"];
    let half = suspects(&tray("--genotype a/a", "--genotype A/a", &scored));
    assert!(
        half.contains("What would show a self of MO: take a father proven A/A (FA is stated A/a)."),
        "{half}"
    );
    let open = suspects(&tray("--genotype a/a", "", &scored));
    assert!(
        open.contains(
            "What would show a self of MO: prove that FA is A/A, which nobody has stated."
        ),
        "{open}"
    );
    let nothing = suspects(&tray(
        "--genotype a/a",
        "--genotype a/a",
        &["score T1 12 green --on 2026-05-01"],
    ));
    assert!(
        nothing.contains(
            "All look like MO itself (green), as MO x FA and a self alike would. No trait of which enough is stated of both \
             parents would show a self of MO: one would that FA has and MO lacks."
        ),
        "{nothing}"
    );
    // A marker that shows selfs, in the end at least, has nothing to be mended, and a male-sterile mother has no selfs.
    let proof = ["score T1 12 green --on 2026-03-14"];
    let young = suspects(&tray("--genotype a/a", "--genotype A/A", &proof));
    assert!(!young.contains("What would show"), "{young}");
    let sterile = suspects(&tray(
        "--genotype A/A --cytoplasm sterile",
        "--genotype a/a",
        &["score T1 12 purple --on 2026-05-01"],
    ));
    assert!(!sterile.contains("a self of"), "{sterile}");
}

#[test]
fn the_parent_that_may_not_be_what_is_stated_is_named_with_its_chance() {
    let bench = tray(
        "--genotype a/a",
        "--genotype A/A",
        &[
            "parent add PU --genotype A/A",
            // On another day than X1, so that neither tray has to reckon with seed of the other.
            "sow PU --seeds 3 --place tent --on 2026-02-28",
            "up T2 3 --on 2026-03-12",
            "score T2 3 purple --on 2026-05-01",
            "score T1 12 green --on 2026-05-01",
        ],
    );
    let answer = bench.json("suspects T1")["batches"][0].clone();
    assert_eq!(answer["seedlings"][0]["verdict"], "undecided");
    let doubts = answer["parents_doubted"].as_array().unwrap().clone();
    let p = |at: usize| doubts[at]["p"].as_f64().unwrap();
    assert_eq!(
        (&doubts[0]["plant"], &doubts[0]["stated"]),
        (&"FA".into(), &"A/A".into())
    );
    assert_eq!(
        (&doubts[1]["plant"], &doubts[1]["stated"]),
        (&"MO".into(), &"a/a".into())
    );
    // What is believed of the two plants by everything recorded, worked out another way.
    for (at, plant, stated) in [(0, "FA", "A/A"), (1, "MO", "a/a")] {
        let believed = bench.json(&format!("genotype {plant}"));
        let loci = believed["loci"].as_array().unwrap().clone();
        let locus = loci.iter().find(|one| one["locus"] == "A").unwrap();
        let genotypes = locus["genotypes"].as_array().unwrap();
        let same = genotypes
            .iter()
            .find(|one| one["genotype"] == stated)
            .unwrap();
        let wrong = 1.0 - same["p"].as_f64().unwrap();
        assert!((p(at) - wrong).abs() < 1e-9, "{plant}: {} {wrong}", p(at));
    }
    let said = suspects(&bench);
    assert!(
        said.contains(
            "not explained by the label. A parent may not be what is stated: FA is not A/A 30 %. Look at FA \
             itself (green would mean a/a); a pot of its own selfed seed or a testcross settles it."
        ),
        "{said}"
    );
    assert!(flat(&bench.ok("sheet T1")).contains("FA is not A/A 30 %"));
    // Looked at, the statement is more likely wrong than right, and the light no longer to blame.
    let now = flat(&bench.ok("score FA green --on 2026-05-20 --json"));
    assert!(now.contains("FA"), "{now}");
    let answer = bench.json("suspects T1")["batches"][0].clone();
    assert_eq!(answer["seedlings"][0]["verdict"], "unproven");
    assert!(answer["parents_doubted"][0]["p"].as_f64().unwrap() > 0.5);
    let said = suspects(&bench);
    assert!(
        said.contains("FA is stated as A/A, but its seedlings speak for a/a")
            && said.contains("more likely a parent than the light. A parent may not be what is stated: FA is not A/A"),
        "{said}"
    );
}

/// Two loci of a plant that has one allele at either are handed on alike however near they lie: then nothing is said.
#[test]
fn two_traits_of_one_chromosome_are_not_two_proofs_wherever_both_were_scored() {
    let scored = ["score T1 1-9=purple/hairy 10-12=green/smooth --on 2026-05-01"];
    let words = "A and H stand on one chromosome, how far apart nobody has stated; taken as independent, they prove less \
                 together than is said here";
    let questions = ["suspects T1", "sheet T1", "why T1-11"];
    let bench = tray("--genotype 'a/a h/h'", "--genotype 'A/a H/h'", &scored);
    for question in questions {
        assert!(flat(&bench.ok(question)).contains(words), "{question}");
    }
    record(&bench, "locus set A --recombines H=0.2");
    for question in questions {
        assert!(
            !flat(&bench.ok(question)).contains("on one chromosome"),
            "{question}"
        );
    }
    for father in ["A/A H/H", "A/a H/H"] {
        let bench = tray(
            "--genotype 'a/a h/h'",
            &format!("--genotype '{father}'"),
            &scored,
        );
        for question in questions {
            let said = flat(&bench.ok(question));
            assert!(!said.contains("on one chromosome"), "{father}: {said}");
        }
    }
}
