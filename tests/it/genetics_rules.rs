//! Gene models: which rules are accepted, and what class they give.

use locule::genetics::{
    Cytoplasm, Diploid, GeneModel, LocusBook, RuleError, expect::loci_read, parse_rule,
};

fn words(classes: &[&str]) -> Vec<String> {
    classes.iter().map(|c| (*c).to_owned()).collect()
}

fn build(classes: &[&str], rules: &[&str], book: &mut LocusBook) -> Result<GeneModel, RuleError> {
    let rules: Result<Vec<_>, _> = rules.iter().map(|rule| parse_rule(rule)).collect();
    GeneModel::build("m", &words(classes), &rules?, book)
}

fn refusal(rules: &[&str]) -> RuleError {
    let mut book = LocusBook::new();
    let error = build(&["purple", "green", "white"], rules, &mut book).expect_err("bad rules");
    assert!(book.is_empty(), "refused rules leave no locus behind");
    error
}

fn dom() -> Diploid {
    Diploid::new(0, 0)
}

#[test]
fn the_first_match_wins() {
    let mut book = LocusBook::new();
    let rules = [
        "A/A => purple",
        "A/a B/_ => white",
        "A/_ => Purple",
        "else => green",
    ];
    let model = build(&["purple", "green", "white"], &rules, &mut book).unwrap();
    assert_eq!(model.loci().len(), 2);
    let [het, rec] = [Diploid::new(0, 1), Diploid::new(1, 1)];
    let class = |a, b| model.classes()[model.class_of(&[a, b], Cytoplasm::Unknown)].as_str();
    assert_eq!(
        [class(dom(), rec), class(het, het), class(het, rec)],
        ["purple", "white", "purple"]
    );
    assert_eq!(class(rec, dom()), "green");
    assert_eq!(loci_read(&[&model, &model]), model.loci());
}

#[test]
fn complete_rules_need_no_else() {
    let mut book = LocusBook::new();
    let rules = ["A/A => purple", "A/a => white", "a/a => green"];
    assert!(build(&["purple", "green", "white"], &rules, &mut book).is_ok());
    // An `else` with nothing left says nothing wrong.
    let rules = ["A/_ => purple", "a/a => green", "else => green"];
    assert!(build(&["purple", "green"], &rules, &mut book).is_ok());
}

#[test]
fn a_genotype_without_a_class_is_named() {
    let told = |rules: &[&str]| refusal(rules).to_string();
    assert_eq!(
        told(&["A/_ => purple"]),
        "a/a has no class; add a rule for it, or 'else => ...'"
    );
    let error = refusal(&["A/_ B/_ => purple", "a/a => green"]);
    assert!(
        matches!(&error, RuleError::NoClass { genotype } if genotype == "A/A b/b"),
        "{error}"
    );
    let error = refusal(&["cytoplasm:normal => purple", "Rf/_ => green"]);
    let wanted = RuleError::NoClass {
        genotype: "rf/rf cytoplasm:sterile".into(),
    };
    assert_eq!(error, wanted);
    let error = refusal(&["cytoplasm:sterile => purple"]);
    assert_eq!(
        error,
        RuleError::NoClass {
            genotype: "cytoplasm:normal".into()
        }
    );
}

#[test]
fn rules_that_cannot_work_are_named() {
    let rule = |text: &str| text.to_owned();
    let after = refusal(&["else => green", "A/_ => purple"]);
    assert_eq!(
        after,
        RuleError::AfterElse {
            rule: rule("A/_ => purple")
        }
    );
    let shadowed = refusal(&["A/_ => purple", "A/a => white", "else => green"]);
    assert_eq!(
        shadowed,
        RuleError::Shadowed {
            rule: rule("A/a => white")
        }
    );
    // Shadowed by two rules together, at two loci.
    let together = [
        "A/A => purple",
        "a/_ B/_ => white",
        "b/b => green",
        "A/a => white",
    ];
    assert_eq!(
        refusal(&together),
        RuleError::Shadowed {
            rule: rule("A/a => white")
        }
    );
    let unknown = refusal(&["A/_ => blue", "else => green"]);
    assert!(matches!(unknown, RuleError::UnknownClass { .. }));
    assert!(
        unknown
            .to_string()
            .contains("the classes are purple, green, white")
    );
    assert_eq!(refusal(&[]), RuleError::NoRules);
    let many = vec!["A/_ => purple"; 65];
    assert_eq!(refusal(&many), RuleError::TooManyRules(65));
    assert!(matches!(
        refusal(&["A/_ purple"]),
        RuleError::NoArrow { .. }
    ));
    assert!(matches!(
        refusal(&["=> purple"]),
        RuleError::Half {
            lacks: "pattern",
            ..
        }
    ));
    assert!(matches!(
        refusal(&["A/_ =>"]),
        RuleError::Half { lacks: "class", .. }
    ));
    let word = refusal(&["cytoplasm:odd A/_ => purple", "else => green"]);
    assert!(matches!(word, RuleError::CytoplasmWord { .. }));
    let twice = refusal(&[
        "cytoplasm:normal cytoplasm:sterile => purple",
        "else => green",
    ]);
    assert!(matches!(twice, RuleError::CytoplasmTwice { .. }));
}

#[test]
fn patterns_are_pointed_at() {
    for (rule, at) in [
        ("A/a B|b", 5),
        ("cytoplasm:sterile A/a B", 22),
        ("A/a b/", 6),
        ("A/c A/a", 6),
    ] {
        let text = format!("{rule} => purple");
        let refused = refusal(&[&text, "else => green"]);
        let wanted = format!("{rule}\n{}^", " ".repeat(at));
        assert_eq!(refused.pointed(), Some(wanted), "{refused}");
    }
}

/// A class that no rule gives is allowed: a rival model may use it.
#[test]
fn unused_classes_are_allowed() {
    let mut book = LocusBook::new();
    let model = build(&["x", "y", "z"], &["A/_ => x", "else => z"], &mut book).unwrap();
    assert_eq!(model.classes().len(), 3);
}

#[test]
fn cytoplasm_is_asked_and_unknown_counts_as_normal() {
    let mut book = LocusBook::new();
    let rules = ["cytoplasm:Sterile rf/rf => sterile", "else => fertile"];
    let model = build(&["fertile", "sterile"], &rules, &mut book).unwrap();
    assert!(model.reads_cytoplasm());
    let class = |pair, cytoplasm| model.class_of(&[pair], cytoplasm);
    let rec = Diploid::new(1, 1);
    let found = [Cytoplasm::Sterile, Cytoplasm::Normal, Cytoplasm::Unknown].map(|c| class(rec, c));
    assert_eq!(found, [1, 0, 0]);
    assert_eq!(class(dom(), Cytoplasm::Sterile), 0);
}

/// Neither one rule of many loci nor many rules of one locus each make the gate list 3^k genotypes.
#[test]
fn many_loci_are_checked_quickly() {
    for k in [12, 40] {
        let pieces: Vec<String> = (0..k).map(|i| format!("Q{i}/_")).collect();
        let together = vec![format!("{} => yes", pieces.join(" "))];
        let one_by_one: Vec<String> = pieces.iter().map(|p| format!("{p} => yes")).collect();
        for (rules, without_one) in [(together, 1), (one_by_one, 0)] {
            let rules: Vec<&str> = rules
                .iter()
                .map(String::as_str)
                .chain(["else => no"])
                .collect();
            let model = build(&["yes", "no"], &rules, &mut LocusBook::new()).unwrap();
            let mut genotypes = vec![Diploid::new(0, 1); k];
            assert_eq!(model.class_of(&genotypes, Cytoplasm::Unknown), 0);
            genotypes[k - 1] = Diploid::new(1, 1);
            assert_eq!(model.class_of(&genotypes, Cytoplasm::Unknown), without_one);
        }
    }
}
