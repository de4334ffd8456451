//! `ratio --models` on trays and crosses: the trait's gene models against the ledger's counts.

use super::ratio_models::{compare, more_between};
use super::ratio_trays::{choose_trait, linkage_of};
use super::thing::batches;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::{Basis, Context};
use crate::diagnosis::counts::{Sighting, sighting};
use crate::diagnosis::frozen::counted_before_pulling;
use crate::diagnosis::gene_models::{ModelFit, ModelsError, weigh_models};
use crate::diagnosis::looks::gene_models;
use crate::genetics::rule::GeneModel;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::report::gene_models::{
    CountsLine, CrossMore, CrossRatios, GeneModelLine, GeneModelsAnswer, ParentLine,
};
use crate::report::ratio::Tested;
use crate::stats::counts::{expected_counts, goodness_of_fit};
use crate::stats::heterogeneity::holm;

/// A tray that was scored: its code, the code of what was sown in it, and what was seen.
struct Tray {
    code: String,
    cross: String,
    seen: Sighting,
}

/// Answers for trays and crosses, or for all that were scored.
///
/// # Errors
/// [`Failure`] where a code or trait is unknown, nothing was scored for it, or its models cannot be weighed.
pub fn answer(world: &World, typed: &[String], of: Option<&str>) -> Result<Outcome, Failure> {
    let (_, facts) = world.ask()?;
    let basis = Basis::counting(&facts)?;
    let context = basis.context()?;
    let rows = batches(&facts, typed)?;
    let place = choose_trait(&context, &rows, of)?;
    match counted_before_pulling(&facts, &[context.looks.traits[place].id]).facts {
        Some(counted) => {
            let basis = Basis::counting(&counted)?;
            answer_for(world, &counted, &basis.context()?, &rows, place)
        }
        None => answer_for(world, &facts, &context, &rows, place),
    }
}

/// Answers for one trait, by the facts that count for it.
fn answer_for(
    world: &World,
    facts: &Facts,
    context: &Context<'_>,
    rows: &[&BatchRow],
    place: usize,
) -> Result<Outcome, Failure> {
    let look = &context.looks.traits[place];
    let (trays, not_scored) = scored(context, rows, place);
    if trays.is_empty() {
        return Err(
            Failure::refused(format!("nothing of this was scored for {}", look.code))
                .try_typing(format!("locule score T1 {}=1", look.classes[0].name)),
        );
    }
    let models = gene_models(facts, look.id)?;
    let seen: Vec<Sighting> = trays.iter().map(|tray| tray.seen.clone()).collect();
    let fits =
        weigh_models(context, place, &models, &seen).map_err(|error| failure(facts, error))?;
    let names: Vec<String> = look
        .classes
        .iter()
        .map(|class| class.name.clone())
        .collect();
    let asked = Asked {
        facts,
        trays: &trays,
        names: &names,
    };
    let mut fits: Vec<&ModelFit> = fits.iter().collect();
    fits.sort_by(|a, b| b.posterior.total_cmp(&a.posterior));
    Ok(world.answer(&GeneModelsAnswer {
        of: look.code.clone(),
        n: seen.iter().flat_map(|tray| &tray.observed).sum(),
        models: fits.iter().map(|fit| asked.model(fit)).collect(),
        more: asked.more(&fits),
        usual: asked.usual(),
        pulled_before: trays
            .iter()
            .filter(|tray| tray.seen.pulling.biases())
            .map(|tray| tray.code.clone())
            .collect(),
        linkage: linkage_of(
            context,
            &models.iter().collect::<Vec<&GeneModel>>(),
            seen.iter().map(|tray| tray.parents),
        )?,
        not_scored,
    }))
}

/// The trays that were scored for a trait, and the codes of the others.
fn scored(context: &Context<'_>, rows: &[&BatchRow], place: usize) -> (Vec<Tray>, Vec<String>) {
    let facts = context.index.facts;
    let (mut trays, mut not_scored) = (Vec::new(), Vec::new());
    for row in rows {
        let code = facts.code_of(Thing::Batch, row.id).unwrap_or_default();
        let cross = match (row.cross_id, row.plant_id) {
            (Some(id), _) => facts.code_of(Thing::Cross, id),
            (None, Some(id)) => facts.code_of(Thing::Plant, id),
            (None, None) => None,
        };
        match sighting(context, row, place) {
            Some(seen) => trays.push(Tray {
                code: code.to_owned(),
                cross: cross.unwrap_or_default().to_owned(),
                seen,
            }),
            None => not_scored.push(code.to_owned()),
        }
    }
    (trays, not_scored)
}

fn failure(facts: &Facts, error: ModelsError) -> Failure {
    let open = match &error {
        ModelsError::TooMany { open, .. } => facts.plant.get(*open),
        _ => None,
    };
    let failure = Failure::refused(error.to_string());
    match open {
        Some(row) => failure
            .because("state what is known of its genotype, or ask about fewer trays at once")
            .try_typing(format!(
                "locule parent add {} --genotype 'A/A'",
                facts.plant_label(row)
            )),
        None => failure.try_typing("locule trait list"),
    }
}

struct Asked<'a> {
    facts: &'a Facts,
    trays: &'a [Tray],
    names: &'a [String],
}

impl Asked<'_> {
    /// The crosses, each once, with the places of their trays.
    fn crosses(&self) -> Vec<(String, Vec<usize>)> {
        let mut crosses: Vec<(String, Vec<usize>)> = Vec::new();
        for (at, tray) in self.trays.iter().enumerate() {
            match crosses.iter_mut().find(|(code, _)| *code == tray.cross) {
                Some((_, places)) => places.push(at),
                None => crosses.push((tray.cross.clone(), vec![at])),
            }
        }
        crosses
    }

    fn model(&self, fit: &ModelFit) -> GeneModelLine {
        let crosses: Vec<CountsLine> = self
            .crosses()
            .into_iter()
            .map(|(cross, places)| self.together(fit, cross, &places))
            .collect();
        let p: Option<Vec<f64>> = crosses.iter().map(|line| line.tested.p).collect();
        let p = p.map(|p| holm(&p).into_iter().fold(1.0, f64::min));
        GeneModelLine {
            model: fit.name.clone(),
            in_use: fit.in_use,
            posterior: fit.posterior,
            p,
            parents: fit
                .parents
                .iter()
                .map(|parent| ParentLine {
                    plant: self.facts.label_of_plant(parent.plant),
                    genotype: parent.genotype.clone(),
                    p: parent.p,
                    settled: parent.settled,
                })
                .collect(),
            crosses,
            batches: (0..self.trays.len()).map(|at| self.tray(fit, at)).collect(),
        }
    }

    fn tray(&self, fit: &ModelFit, at: usize) -> CountsLine {
        let counts = &fit.trays[at].counts;
        let tested = goodness_of_fit(&counts.observed, &counts.expected, 0);
        CountsLine {
            tray: Some(self.trays[at].code.clone()),
            cross: self.trays[at].cross.clone(),
            posterior: Some(fit.trays[at].posterior),
            tested: Tested::new(&tested, counts.ratio.clone(), self.names),
        }
    }

    /// The trays of one cross together: counts and what is expected of them added up.
    fn together(&self, fit: &ModelFit, cross: String, places: &[usize]) -> CountsLine {
        let mut observed = vec![0; self.names.len()];
        let mut expected = vec![0.0; self.names.len()];
        for at in places {
            let counts = &fit.trays[*at].counts;
            for (class, line) in expected_counts(&counts.observed, &counts.expected)
                .iter()
                .enumerate()
            {
                observed[class] += line.observed;
                expected[class] += line.expected;
            }
        }
        let ratio = fit.trays[places[0]].counts.ratio.clone();
        CountsLine {
            tray: None,
            cross,
            posterior: None,
            tested: Tested::new(&goodness_of_fit(&observed, &expected, 0), ratio, self.names),
        }
    }

    /// What each cross can still tell of the likeliest two models.
    fn more(&self, fits: &[&ModelFit]) -> Vec<CrossMore> {
        let [one, other, ..] = fits else {
            return Vec::new();
        };
        let line = |(cross, places): (String, Vec<usize>)| {
            let shares = [&one.trays[places[0]].finals, &other.trays[places[0]].finals];
            let names = [one.name.clone(), other.name.clone()];
            let weights = [one.posterior, other.posterior];
            CrossMore {
                cross,
                more: more_between(names, shares.map(Vec::as_slice), weights),
            }
        };
        self.crosses().into_iter().map(line).collect()
    }

    /// The usual ratios against each cross, of the classes that were seen of it.
    fn usual(&self) -> Vec<CrossRatios> {
        let of_cross = |(cross, places): (String, Vec<usize>)| {
            let count = |class: usize| -> u64 {
                let trays = places.iter().map(|at| &self.trays[*at]);
                trays.map(|tray| tray.seen.observed[class]).sum()
            };
            let seen: Vec<usize> = (0..self.names.len()).filter(|at| count(*at) > 0).collect();
            let counts: Vec<u64> = seen.iter().map(|at| count(*at)).collect();
            let names: Vec<String> = seen.iter().map(|at| self.names[*at].clone()).collect();
            let ratios = compare(&counts, &names)?;
            Some(CrossRatios { cross, ratios })
        };
        self.crosses().into_iter().filter_map(of_cross).collect()
    }
}
