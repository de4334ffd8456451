//! The gate of a trait: names, numbers and late classes, all but the rules themselves.
//!
//! Called by [`TraitSpec::check`] only.

use super::traits::{TraitError, TraitSpec};

/// The longest class name, in characters.
const LONGEST_CLASS: usize = 24;

pub(super) fn check_spec(spec: &TraitSpec) -> Result<(), TraitError> {
    check_names(spec)?;
    check_misreads(spec)?;
    check_late(spec)?;
    check_onset(spec)?;
    check_models(spec)
}

fn check_names(spec: &TraitSpec) -> Result<(), TraitError> {
    if spec.classes.len() < 2 {
        return Err(TraitError::TooFewClasses(spec.classes.len()));
    }
    for (i, class) in spec.classes.iter().enumerate() {
        if let Some(why) = fault_of_name(&class.name) {
            return Err(TraitError::ClassName {
                class: class.name.clone(),
                why,
            });
        }
        if spec.class(&class.name) != Some(i) {
            return Err(TraitError::ClassTwice(class.name.clone()));
        }
    }
    Ok(())
}

fn fault_of_name(name: &str) -> Option<&'static str> {
    let lower = name.to_lowercase();
    let plain = |c: char| c.is_alphanumeric() || c == '-' || c == '.';
    if !name.starts_with(char::is_alphabetic) {
        Some("it must start with a letter")
    } else if !name.chars().all(plain) {
        Some("it may hold letters, digits, hyphens and dots only")
    } else if name.ends_with(['-', '.']) {
        Some("it must end with a letter or a digit")
    } else if name.chars().count() > LONGEST_CLASS {
        Some("it is longer than 24 characters")
    } else if lower == "early" || lower == "dim" {
        Some("the word is kept for a look that came too early or in too dim a light")
    } else if lower.starts_with("maybe-") {
        Some("maybe- marks a doubtful reading")
    } else {
        None
    }
}

fn check_misreads(spec: &TraitSpec) -> Result<(), TraitError> {
    check_probability("the misreading", spec.misread)?;
    for class in &spec.classes {
        if let Some(misread) = class.misread {
            check_probability(&format!("the misreading of {}", class.name), misread)?;
        }
    }
    Ok(())
}

fn check_late(spec: &TraitSpec) -> Result<(), TraitError> {
    for (i, class) in spec.classes.iter().enumerate() {
        let mut shown = i;
        for _ in 0..spec.classes.len() {
            let Some(after) = &spec.classes[shown].after else {
                break;
            };
            let unknown = || TraitError::LateClass {
                class: after.clone(),
                classes: spec.class_names(),
            };
            shown = spec.class(after).ok_or_else(unknown)?;
            if shown == i {
                return Err(TraitError::LateCircle(class.name.clone()));
            }
        }
    }
    Ok(())
}

fn check_onset(spec: &TraitSpec) -> Result<(), TraitError> {
    let late = spec.classes.iter().find(|class| class.after.is_some());
    let onset = match (late, spec.onset) {
        (Some(class), None) => return Err(TraitError::NoOnset(class.name.clone())),
        (None, Some(_)) => return Err(TraitError::IdleOnset),
        (None, None) => return Ok(()),
        (Some(_), Some(onset)) => onset,
    };
    check_positive("the median of the onset in days", onset.median_days)?;
    check_positive("the spread of the onset", onset.spread)?;
    let (what, value) = ("the ceiling of the onset".to_owned(), onset.ceiling);
    if value > 0.0 && value <= 1.0 {
        return Ok(());
    }
    Err(TraitError::Value {
        what,
        value,
        range: "above 0 and up to 1",
    })
}

fn check_models(spec: &TraitSpec) -> Result<(), TraitError> {
    for (i, model) in spec.models.iter().enumerate() {
        if spec.models[..i]
            .iter()
            .any(|earlier| earlier.name == model.name)
        {
            return Err(TraitError::ModelTwice(model.name.clone()));
        }
    }
    match spec.models.iter().filter(|model| model.in_use).count() {
        1 => Ok(()),
        count => Err(TraitError::InUse(count)),
    }
}

fn check_probability(what: &str, value: f64) -> Result<(), TraitError> {
    if (0.0..=1.0).contains(&value) {
        return Ok(());
    }
    Err(TraitError::Value {
        what: what.to_owned(),
        value,
        range: "between 0 and 1",
    })
}

fn check_positive(what: &str, value: f64) -> Result<(), TraitError> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(TraitError::Value {
        what: what.to_owned(),
        value,
        range: "above 0",
    })
}

#[cfg(test)]
mod tests {
    use super::super::locus::LocusBook;
    use super::super::traits::{
        ClassSpec, ModelSpec, Onset, Stage, Standing, TraitError, TraitSpec, USUAL_MISREAD,
        parse_late,
    };

    fn foliage() -> TraitSpec {
        let class = |name: &str, after: Option<&str>| ClassSpec {
            name: name.into(),
            after: after.map(Into::into),
            misread: None,
        };
        let rule = |pattern: &str, class: &str| (pattern.to_owned(), class.to_owned());
        TraitSpec {
            code: "leaf".into(),
            name: "Leaf".into(),
            organ: "leaf".into(),
            stage: Stage::Seedling,
            classes: vec![class("purple", Some("green")), class("green", None)],
            misread: USUAL_MISREAD,
            onset: Some(Onset {
                median_days: 12.0,
                spread: 0.35,
                ceiling: 0.9999,
            }),
            models: vec![ModelSpec {
                name: "one-locus".into(),
                rules: vec![rule("Q/_", "purple"), rule("else", "GREEN")],
                in_use: true,
                standing: Standing::Own,
                source: String::new(),
            }],
            on: true,
            note: String::new(),
        }
    }

    fn refusal(change: impl FnOnce(&mut TraitSpec)) -> TraitError {
        let mut spec = foliage();
        change(&mut spec);
        let mut book = LocusBook::new();
        let error = spec.check(&mut book).unwrap_err();
        assert!(book.is_empty(), "a refused trait leaves no locus behind");
        error
    }

    #[test]
    fn a_good_trait_passes() {
        let mut book = LocusBook::new();
        let spec = foliage();
        let models = spec.check(&mut book).unwrap();
        assert_eq!(models.len(), 1);
        assert_eq!(book.len(), 1);
        assert_eq!(spec.class("Purple"), Some(0));
        assert_eq!((spec.earlier(0), spec.earlier(1)), (Some(1), None));
        assert_eq!(spec.misread_of(1), USUAL_MISREAD);
    }

    #[test]
    fn class_names_are_checked() {
        for bad in [
            "",
            "2nd",
            "-x",
            "a b",
            "a_b",
            "early",
            "Dim",
            "maybe-green",
            "x-",
            "a/b",
            "a:b",
        ] {
            let error = refusal(|spec| spec.classes[0].name = bad.into());
            assert!(
                matches!(error, TraitError::ClassName { .. }),
                "{bad}: {error}"
            );
        }
        let long = "x".repeat(25);
        let error = refusal(|spec| spec.classes[0].name = long);
        assert!(matches!(error, TraitError::ClassName { .. }));
        let error = refusal(|spec| spec.classes[0].name = "Green".into());
        assert_eq!(error, TraitError::ClassTwice("green".into()));
        assert_eq!(
            refusal(|spec| spec.classes.truncate(1)),
            TraitError::TooFewClasses(1)
        );
    }

    #[test]
    fn numbers_are_checked() {
        let onset = |spec: &mut TraitSpec, median_days, spread, ceiling| {
            spec.onset = Some(Onset {
                median_days,
                spread,
                ceiling,
            });
        };
        let errors = [
            refusal(|spec| spec.misread = 1.5),
            refusal(|spec| spec.misread = f64::NAN),
            refusal(|spec| spec.classes[1].misread = Some(-0.1)),
            refusal(|spec| onset(spec, 0.0, 0.35, 0.9)),
            refusal(|spec| onset(spec, f64::INFINITY, 0.35, 0.9)),
            refusal(|spec| onset(spec, 12.0, -1.0, 0.9)),
            refusal(|spec| onset(spec, 12.0, 0.35, 0.0)),
            refusal(|spec| onset(spec, 12.0, 0.35, 1.01)),
        ];
        for error in errors {
            assert!(matches!(error, TraitError::Value { .. }), "{error}");
        }
    }

    #[test]
    fn late_classes_are_checked() {
        let error = refusal(|spec| spec.classes[0].after = Some("blue".into()));
        assert!(matches!(error, TraitError::LateClass { .. }));
        let error = refusal(|spec| spec.classes[1].after = Some("purple".into()));
        assert_eq!(error, TraitError::LateCircle("purple".into()));
        let error = refusal(|spec| spec.classes[0].after = Some("purple".into()));
        assert_eq!(error, TraitError::LateCircle("purple".into()));
        assert_eq!(
            refusal(|spec| spec.onset = None),
            TraitError::NoOnset("purple".into())
        );
        assert_eq!(
            refusal(|spec| spec.classes[0].after = None),
            TraitError::IdleOnset
        );
    }

    #[test]
    fn one_model_is_in_use() {
        assert_eq!(refusal(|spec| spec.models.clear()), TraitError::InUse(0));
        assert_eq!(
            refusal(|spec| spec.models[0].in_use = false),
            TraitError::InUse(0)
        );
        let twice = refusal(|spec| spec.models.push(spec.models[0].clone()));
        assert_eq!(twice, TraitError::ModelTwice("one-locus".into()));
        let error = refusal(|spec| {
            let mut rival = spec.models[0].clone();
            (rival.name, rival.in_use) = ("two".into(), false);
            rival.rules[1].1 = "blue".into();
            spec.models.push(rival);
        });
        assert!(matches!(error, TraitError::Model { .. }), "{error}");
    }

    #[test]
    fn late_is_read() {
        assert_eq!(
            parse_late("purple after green").unwrap(),
            ("purple".into(), "green".into())
        );
        for bad in [
            "",
            "purple",
            "purple before green",
            "purple after",
            "a after b after c",
        ] {
            assert_eq!(parse_late(bad), Err(TraitError::Late(bad.into())));
        }
    }
}
