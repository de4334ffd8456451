//! Records that clash, and what explains them: what is told of the light is no misreading.

use serde_json::Value;

use crate::support::Bench;

fn explanation(answer: &Value, kind: &str) -> f64 {
    let all = answer["clashes"][0]["explanations"].as_array().unwrap();
    let own = all.iter().find(|one| one["explanation"] == kind);
    own.unwrap_or_else(|| panic!("{kind}: {answer}"))["p"]
        .as_f64()
        .unwrap()
}

/// Six green of six of a purple parent's own seed. All misread is (1/200)^6 beside the 1/50 of a dark place: next to
/// nothing, whatever else is believed.
#[test]
fn seedlings_that_stand_too_dark_were_not_read_wrongly() {
    let mut bench = Bench::new();
    bench.on("2026-05-20");
    for line in [
        "init",
        "parent add NL --genotype A/A",
        "sow NL --seeds 6 --place cellar --on 2026-03-14",
        "up T1 6 --on 2026-03-28",
        "score T1 6 green",
    ] {
        bench.ok(line);
    }
    let answer = bench.json("genotype NL");
    assert!(explanation(&answer, "dim") > 0.5, "{answer}");
    assert!(explanation(&answer, "misread") < 1e-3, "{answer}");
}
