//! What a trait would tell: against tables worked out by hand, and by the laws of information.

use serde_json::Value;

use crate::support::{Bench, flat};

/// Nothing is left to chance but the source: genotypes are certain, nothing comes from elsewhere, colour is punctual.
const CERTAIN: [&str; 7] = [
    "assume trust.stated 1",
    "assume trust.proven 1",
    "assume weight.unknown-pollen 0",
    "assume weight.unknown-seed 0",
    "assume mixed.emasculated 0",
    "assume whole-batch 0",
    "assume dim 0",
];

/// A smooth green mother with smooth purple pollen, the brush not wiped after a hairy green plant; three are green.
fn tray(beliefs: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    bench.ok("init");
    for line in beliefs {
        bench.ok(line);
    }
    for line in [
        "parent add MO --genotype 'a/a h/h Up/Up'",
        "parent add FA --genotype 'A/A h/h Up/Up'",
        "parent add WH --genotype 'a/a H/H Up/Up'",
        "cross WH FA --tool brush --wiped --on 2026-01-10",
        "cross MO FA --tool brush --on 2026-01-10",
        "sow X2 --seeds 12 --on 2026-03-14",
        "up T1 11 --on 2026-04-02",
        "score T1 1-8=purple 9-11=green --on 2026-05-20",
    ] {
        bench.ok(line);
    }
    bench
}

fn traits(answer: &Value) -> Vec<Value> {
    answer["next"]["traits"].as_array().unwrap().clone()
}

fn of<'a>(traits: &'a [Value], code: &str) -> &'a Value {
    traits.iter().find(|one| one["trait"] == code).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// `- p log2 p`.
fn h(p: f64) -> f64 {
    if p > 0.0 { -p * p.log2() } else { 0.0 }
}

/// Entropies of the margins less that of the table: another form of mutual information than the program's (Cover &
/// Thomas, Elements of Information Theory, equation 2.41, from memory).
fn information(table: &[Vec<f64>]) -> f64 {
    let rows = table.iter().map(|row| h(row.iter().sum())).sum::<f64>();
    let columns = (0..table[0].len()).map(|at| h(table.iter().map(|row| row[at]).sum()));
    rows + columns.sum::<f64>() - table.iter().flatten().map(|p| h(*p)).sum::<f64>()
}

#[test]
fn hair_tells_as_much_as_a_table_by_hand_says() {
    let answer = tray(&CERTAIN).json("why T1-09");
    let share = |source: &str| -> f64 {
        let list = answer["seedling"]["sources"].as_array().unwrap();
        list.iter()
            .filter(|one| one["source"] == source)
            .map(|one| number(&one["p"]))
            .sum()
    };
    let (own, wool) = (share("self"), share("pollen"));
    let label = 1.0 - number(&answer["seedling"]["p_off"]);
    assert!((own + wool + label - 1.0).abs() < 1e-9);
    // Hairy only with the pollen of WH; one reading in 200 is a slip.
    let (right, slip) = (199.0 / 200.0, 1.0 / 200.0);
    let smooth = |p: f64| vec![p * slip, p * right];
    let hairy = vec![wool * right, wool * slip];
    let off: Vec<f64> = smooth(own).iter().zip(&hairy).map(|(a, b)| a + b).collect();
    let verdict = information(&[smooth(label), off]);
    let all = information(&[smooth(label), smooth(own), hairy.clone()]);
    let next = traits(&answer);
    let hair = of(&next, "stem-hair");
    assert!(
        (number(&hair["verdict_bits"]) - verdict).abs() < 1e-9,
        "{hair}"
    );
    assert!(
        (number(&hair["origin_bits"]) - (all - verdict)).abs() < 1e-9,
        "{hair}"
    );
    let seen_hairy = &hair["says"][0];
    assert_eq!(seen_hairy["class"], "hairy");
    let p_hairy = (label + own) * slip + wool * right;
    assert!((number(&seen_hairy["p"]) - p_hairy).abs() < 1e-9);
    assert_eq!(seen_hairy["origins"][0]["code"], "WH");
    let of_wool = wool * right / (wool * right + own * slip);
    assert!((number(&seen_hairy["origins"][0]["p"]) - of_wool).abs() < 1e-9);
    assert!(
        (number(&answer["next"]["missing_verdict_bits"]) - h(label) - h(1.0 - label)).abs() < 1e-9
    );
}

#[test]
fn what_all_sources_share_tells_nothing() {
    let next = traits(&tray(&CERTAIN).json("why T1-09"));
    let attitude = of(&next, "fruit-attitude");
    assert!(number(&attitude["verdict_bits"]) < 1e-12, "{attitude}");
    assert!(number(&attitude["origin_bits"]) < 1e-12, "{attitude}");
}

#[test]
fn no_trait_tells_more_than_is_missing() {
    for beliefs in [&CERTAIN[..], &[], &["assume weight.unknown-pollen 40"]] {
        for seedling in ["T1-09", "T1-01"] {
            let answer = tray(beliefs).json(&format!("why {seedling}"));
            let missing = [
                number(&answer["next"]["missing_verdict_bits"]),
                number(&answer["next"]["missing_origin_bits"]),
            ];
            let next = traits(&answer);
            assert!(next.len() >= 3, "{next:?}");
            for one in &next {
                let told = [number(&one["verdict_bits"]), number(&one["origin_bits"])];
                assert!(told[0] >= 0.0 && told[0] <= missing[0] + 1e-9, "{one}");
                assert!(told[1] >= -1e-12 && told[1] <= missing[1] + 1e-9, "{one}");
                let says = one["says"].as_array().unwrap();
                let all: f64 = says.iter().map(|say| number(&say["p"])).sum();
                assert!((all - 1.0).abs() < 1e-9, "{one}");
                // The mean of what will be believed is what is believed now (Bayes' rule).
                let mean: f64 = says
                    .iter()
                    .map(|say| number(&say["p"]) * number(&say["p_off"]))
                    .sum();
                assert!(
                    (mean - number(&answer["seedling"]["p_off"])).abs() < 1e-9,
                    "{one}"
                );
            }
        }
    }
}

#[test]
fn seedling_traits_come_first_and_unknown_ones_are_not_recommended() {
    let bench = tray(&[]);
    let answer = bench.json("why T1-09");
    let next = traits(&answer);
    let first = next.iter().position(|one| one["on"].is_null()).unwrap();
    assert!(
        next[..first].iter().all(|one| one["stage"] == "seedling"),
        "{next:?}"
    );
    assert!(
        next[first..].iter().all(|one| one["on"].is_null()),
        "{next:?}"
    );
    let silent = answer["next"]["nothing_known"].as_array().unwrap();
    assert!(silent.iter().any(|code| code == "pungency"), "{silent:?}");
    assert!(next.iter().all(|one| one["trait"] != "pungency"));
    // The finer grade of the same leaves is no second look.
    assert!(next.iter().all(|one| one["trait"] != "foliage-grade"));
    assert!(
        next.iter()
            .any(|one| one["trait"] == "foliage" && one["again"] == true)
    );
}

#[test]
fn suspects_names_what_would_tell_the_donors_apart_once_they_are_two() {
    let bench = tray(&[]);
    let out = flat(&bench.ok("suspects T1"));
    let advice = "To tell whose pollen it was, score stem-hair too: hairy would speak for pollen of WH, smooth for a self of MO.";
    assert!(out.contains(advice), "{out}");
    let list = bench.json("suspects T1")["batches"][0]["seedlings"].clone();
    let of = |name: &str| {
        let list = list.as_array().unwrap();
        list.iter().find(|one| one["seedling"] == name).unwrap()["next_trait"].clone()
    };
    assert_eq!(of("T1-09")["trait"], "stem-hair");
    assert_eq!(of("T1-01"), Value::Null);
    // Scored, it is asked no more.
    bench.ok("score T1 9-11=hairy --on 2026-05-20");
    assert!(!bench.ok("suspects T1").contains("To tell whose pollen"));
}

#[test]
fn a_plant_kept_from_a_tray_can_be_a_donor_too() {
    let mut bench = tray(&[]);
    bench.on("2026-08-20");
    for line in [
        "parent add KE --from T1-01 --on 2026-06-01",
        "cross WH FA --code X3 --tool brush --wiped --on 2026-06-10",
        "cross KE FA --code X4 --tool brush --on 2026-06-10",
        "cross MO FA --code X5 --tool brush --on 2026-06-10",
        "sow X5 --seeds 9 --tray T5 --on 2026-06-20",
        "up T5 9 --on 2026-06-30",
        "score T5 1-7=purple 8-9=green --on 2026-08-10",
    ] {
        bench.ok(line);
    }
    let answer = bench.json("why T5-08");
    let hair = traits(&answer)
        .into_iter()
        .find(|one| one["trait"] == "stem-hair")
        .unwrap();
    assert!(number(&hair["origin_bits"]) > 0.1, "{hair}");
}
