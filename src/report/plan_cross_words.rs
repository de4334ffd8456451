//! The reasons of one plan in words: who brings what, how the F1 looks, how many are as wanted.
//!
//! Part of the answer of `plan cross`.

use super::numbers::{percent, several};
use super::plan_cross_lines::{
    BringLine, ByWord, LinkedLine, PlanLine, SchemeWord, TestLine, TurnedWord,
};
use super::text::{a_few, listed, shown};

impl PlanLine {
    /// The same with its reasons in words.
    #[must_use]
    pub fn reasoned(mut self) -> Self {
        self.why = self.reasons();
        self
    }

    fn pair(&self) -> String {
        format!("{} x {}", shown(&self.mother), shown(&self.father))
    }

    /// `F2 of CW x NL`, as a row is named.
    pub(super) fn name(&self) -> String {
        match self.scheme {
            SchemeWord::Selfed => format!("{} selfed", shown(&self.mother)),
            SchemeWord::First => format!("F1 of {}", self.pair()),
            SchemeWord::Second => format!("F2 of {}", self.pair()),
            SchemeWord::BackToMother | SchemeWord::OntoMother => {
                format!("BC1 of {} to {}", self.pair(), shown(&self.mother))
            }
            SchemeWord::BackToFather => {
                format!("BC1 of {} to {}", self.pair(), shown(&self.father))
            }
        }
    }

    /// The same within a sentence.
    pub(super) fn sown(&self) -> String {
        match self.scheme {
            SchemeWord::Selfed => self.name(),
            _ => format!("the {}", self.name()),
        }
    }

    /// What is sown before the last generation and after it, with all of it added up; nothing where that is all.
    pub(super) fn around(&self) -> Option<String> {
        let seeds = self.seeds?;
        let mut said = Vec::new();
        if let (Some(n), Some(p)) = (self.f1_seeds, self.f1_probability) {
            said.push(format!(
                "Before that sow {} for the F1: {} that a plant that leads to it is up.",
                several(n, "seed", "seeds"),
                percent(p)
            ));
        }
        if let Some(test) = &self.test {
            said.push(format!(
                "After it self {} and sow {} of each, {} in all: of those that split {} show it then. That takes a season more.",
                match test.whole_plants() {
                    1 => "the one or so that looks as wanted".to_owned(),
                    n => format!("the {n} or so that look as wanted"),
                },
                several(test.seeds_each, "seed", "seeds"),
                test.whole_seeds(),
                percent(test.told)
            ));
        }
        if said.is_empty() {
            return None;
        }
        let tested = self.test.as_ref().map_or(0, TestLine::whole_seeds);
        let all = seeds + self.f1_seeds.unwrap_or(0) + tested;
        said.push(format!("All of it together: {all} seeds."));
        Some(said.join(" "))
    }

    fn reasons(&self) -> String {
        let mut said = vec![self.bringing()];
        let of = match self.scheme {
            SchemeWord::Selfed => "of its selfed seed",
            SchemeWord::First => "of them",
            SchemeWord::Second => "of the F2",
            _ => "of the BC1",
        };
        let share = self.share.said();
        said.push(match self.scheme {
            SchemeWord::Selfed => format!("{} {share}.", capital(of)),
            _ => format!("{}; {of} {share}.", self.hybrid()),
        });
        said.extend(self.linked.iter().map(LinkedLine::said));
        if self.seeds.is_none() {
            let chance = percent(self.hope);
            said.push(format!("That any can be as wanted is {chance} likely."));
        }
        said.extend(self.direction());
        if !self.made_as.is_empty() {
            let verb = if self.made_as.len() == 1 { "is" } else { "are" };
            said.push(format!(
                "{} {verb} that cross already.",
                a_few(&self.made_as)
            ));
        }
        let instead = |plants: &[String], of: &str| {
            (!plants.is_empty())
                .then(|| format!("{} would do in the place of {}.", a_few(plants), shown(of)))
        };
        said.extend(instead(&self.mother_or, &self.mother));
        if self.scheme != SchemeWord::Selfed {
            said.extend(instead(&self.father_or, &self.father));
        }
        said.join(" ")
    }

    /// Why this way round.
    fn direction(&self) -> Option<String> {
        let [mother, father] = [&self.mother, &self.father].map(|code| shown(code));
        let turned = format!("{father} x {mother}");
        match (self.scheme, self.turned) {
            (SchemeWord::Selfed, _) | (_, TurnedWord::AsGood) => None,
            (SchemeWord::OntoMother, TurnedWord::NoPollen) => Some(format!(
                "{mother} makes no pollen: it is the mother both times, and the F1 gives the pollen."
            )),
            (_, TurnedWord::NoPollen) => Some(format!("{turned} cannot be, for want of pollen.")),
            (_, TurnedWord::Harder) => Some(format!("{turned} sets less readily.")),
            (_, TurnedWord::MoreSeeds) => Some(format!("{turned} would take more seeds.")),
        }
    }

    /// `NL brings purple (A/A); CW brings not-hot (pun1/pun1) and erect (up/up).`
    fn bringing(&self) -> String {
        let [mother, father] = [&self.mother, &self.father].map(|code| shown(code));
        let of = |by: ByWord, genotype: fn(&BringLine) -> &str| -> Option<String> {
            let own = self.brings.iter().filter(|one| one.by == by);
            let looks: Vec<String> = own.map(|one| with_genotype(one, genotype(one))).collect();
            (!looks.is_empty()).then(|| listed(&looks, "and"))
        };
        let sentences = [
            of(ByWord::Mother, |one| &one.mother).map(|looks| format!("{mother} brings {looks}")),
            of(ByWord::Father, |one| &one.father).map(|looks| format!("{father} brings {looks}")),
            of(ByWord::Both, |_| "").map(|looks| format!("both bring {looks}")),
            of(ByWord::PerhapsMother, |one| &one.mother)
                .map(|looks| format!("{mother} may bring {looks}, which is not settled")),
            of(ByWord::PerhapsFather, |one| &one.father)
                .map(|looks| format!("{father} may bring {looks}, which is not settled")),
            of(ByWord::Together, |_| "")
                .map(|looks| format!("{looks} comes of both together and of neither alone")),
        ];
        let sentences: Vec<String> = sentences.into_iter().flatten().collect();
        capital_of_words(&format!("{}.", sentences.join("; ")), &[&mother, &father])
    }

    /// `Every F1 plant is purple, hot and pendant`.
    fn hybrid(&self) -> String {
        let is_one = self.hybrid.iter().all(|classes| classes.len() == 1);
        let looks: Vec<String> = (self.hybrid.iter())
            .map(|classes| listed(classes, "or"))
            .collect();
        match is_one {
            true => format!("Every F1 plant is {}", listed(&looks, "and")),
            false => format!("F1 plants are {}", looks.join("; ")),
        }
    }
}

fn with_genotype(one: &BringLine, genotype: &str) -> String {
    match genotype.is_empty() {
        true => one.look.clone(),
        false => format!("{} ({genotype})", one.look),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// A sentence with a capital, unless it begins with a code.
fn capital_of_words(sentence: &str, codes: &[&String]) -> String {
    match codes.iter().any(|code| sentence.starts_with(code.as_str())) {
        true => sentence.to_owned(),
        false => capital(sentence),
    }
}

impl LinkedLine {
    fn said(&self) -> String {
        let looks = listed(&self.looks, "and");
        let loci = self.loci.join(", ");
        match self.from_one {
            true => format!(
                "{looks} lie on one chromosome ({loci}) and come from one parent, so they tend to stay together."
            ),
            false => format!(
                "{looks} lie on one chromosome ({loci}) and come from two parents, so they seldom come together."
            ),
        }
    }
}
