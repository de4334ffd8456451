//! Traits on ordered grades: which traits they are, and what each grade counts.
//!
//! A graded trait has classes in order and no gene model: how hot, how sweet, how well set. Grades that are whole
//! numbers count as such, words by their place from 0. The gate, the answers and the ranking ask here.

use super::code::fold;
use super::facts::Facts;
use super::genes::{classes_of, models_of};
use super::rows::{Thing, TraitClassRow};
use super::text::shown;

/// The most grades that a trait may have.
const MOST: usize = 21;
/// The longest grade in words, in characters.
const LONGEST: usize = 24;

/// One grade.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The number of its class.
    pub class: i64,
    /// Its name.
    pub name: String,
    /// What it counts.
    pub value: f64,
}

/// The grades of a trait, from the lowest up.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// The trait's number.
    pub of: i64,
    /// Its code.
    pub code: String,
    /// The grades.
    pub steps: Vec<Step>,
}

/// Grades that cannot stand.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScaleError {
    /// No range and no list of words.
    #[error(
        "'{0}' is neither a range of whole numbers, as 0-5, nor grades in words, as none,mild,hot"
    )]
    Form(String),
    /// Too few or too many.
    #[error("a graded trait has 2 to 21 grades, not {0}")]
    Number(usize),
    /// One of them twice.
    #[error("the grade '{0}' stands there twice")]
    Twice(String),
}

/// Whether a trait is one on ordered grades.
#[must_use]
pub fn is_graded(facts: &Facts, trait_id: i64) -> bool {
    facts.trait_.get(trait_id).is_some() && models_of(facts, trait_id).is_empty()
}

/// Whether a trait on grades is told by a measure: one of its name was measured, and no plant was graded for it.
#[must_use]
pub fn is_measured(facts: &Facts, trait_id: i64) -> bool {
    let Some(code) = facts.code_of(Thing::Trait, trait_id).map(fold) else {
        return false;
    };
    is_graded(facts, trait_id)
        && facts.measure.iter().any(|row| fold(&row.name) == code)
        && facts.grade.iter().all(|row| row.trait_id != trait_id)
}

impl Scale {
    /// The grades of a trait; nothing for one that is scored.
    #[must_use]
    pub fn of(facts: &Facts, trait_id: i64) -> Option<Self> {
        if !is_graded(facts, trait_id) {
            return None;
        }
        let classes = classes_of(facts, trait_id);
        let numbers: Option<Vec<f64>> = classes.iter().map(|class| whole(&class.name)).collect();
        let step = |(place, class): (usize, &&TraitClassRow)| Step {
            class: class.id,
            name: class.name.clone(),
            value: (numbers.as_ref()).map_or(place as f64, |numbers| numbers[place]),
        };
        Some(Self {
            of: trait_id,
            code: facts.code_of(Thing::Trait, trait_id)?.to_owned(),
            steps: classes.iter().enumerate().map(step).collect(),
        })
    }

    /// The grade of a name.
    #[must_use]
    pub fn named(&self, typed: &str) -> Option<&Step> {
        let wanted = fold(typed.trim());
        self.steps.iter().find(|step| fold(&step.name) == wanted)
    }

    /// The grade of a class.
    #[must_use]
    pub fn step(&self, class: i64) -> Option<&Step> {
        self.steps.iter().find(|step| step.class == class)
    }

    /// What the lowest and the highest grade count.
    #[must_use]
    pub fn ends(&self) -> [f64; 2] {
        let value = |step: Option<&Step>| step.map_or(0.0, |step| step.value);
        [value(self.steps.first()), value(self.steps.last())]
    }

    /// The lowest and the highest grade by name: `0 to 5`, `none to hot`.
    #[must_use]
    pub fn span(&self) -> String {
        let name = |step: Option<&Step>| step.map_or("?", |step| step.name.as_str()).to_owned();
        let (first, last) = (name(self.steps.first()), name(self.steps.last()));
        format!("{first} to {last}")
    }

    /// All names, from the lowest up.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.steps.iter().map(|step| step.name.as_str()).collect()
    }
}

fn whole(text: &str) -> Option<f64> {
    text.parse::<u32>().ok().map(f64::from)
}

/// The names of grades as typed: `0-5`, or words from the lowest up.
///
/// # Errors
/// [`ScaleError`] where they are of neither form, too few, too many, or one of them stands there twice.
pub fn read_grades(typed: &str) -> Result<Vec<String>, ScaleError> {
    let form = || ScaleError::Form(shown(typed));
    let range = typed.split_once('-').and_then(|(from, to)| {
        let number = |text: &str| text.trim().parse::<u32>().ok();
        Some((number(from)?, number(to)?))
    });
    let names: Vec<String> = match range {
        Some((from, to)) if from < to && (to - from) as usize >= MOST => {
            return Err(ScaleError::Number((to - from) as usize + 1));
        }
        Some((from, to)) if from < to => (from..=to).map(|grade| grade.to_string()).collect(),
        Some(_) => return Err(form()),
        None => typed
            .split(',')
            .map(|word| word.trim().to_owned())
            .collect(),
    };
    let is_word = |name: &String| {
        let plain = |c: char| c.is_alphanumeric() || c == '-';
        name.starts_with(char::is_alphabetic)
            && name.chars().all(plain)
            && name.chars().count() <= LONGEST
    };
    if range.is_none() && (names.len() < 2 || !names.iter().all(is_word)) {
        return Err(form());
    }
    if !(2..=MOST).contains(&names.len()) {
        return Err(ScaleError::Number(names.len()));
    }
    for (at, name) in names.iter().enumerate() {
        if names[..at].iter().any(|known| fold(known) == fold(name)) {
            return Err(ScaleError::Twice(name.clone()));
        }
    }
    Ok(names)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grades_are_a_range_or_words() {
        assert_eq!(read_grades("0-3").unwrap(), ["0", "1", "2", "3"]);
        assert_eq!(
            read_grades("none, mild,hot").unwrap(),
            ["none", "mild", "hot"]
        );
        for bad in ["", "5-0", "3-3", "hot", "0,1", "a b,c", "-1-4", "mild,"] {
            assert!(
                matches!(read_grades(bad), Err(ScaleError::Form(_))),
                "{bad}"
            );
        }
        assert_eq!(read_grades("0-40"), Err(ScaleError::Number(41)));
        assert_eq!(read_grades("0-500"), Err(ScaleError::Number(501)));
        assert_eq!(read_grades("a,b,A"), Err(ScaleError::Twice("A".to_owned())));
    }
}
