//! Looks of a plant that its stated genotype cannot give: recorded, with a remark that names both.

use super::Notice;
use super::desk::Desk;
use super::find;
use super::looks::Sight;
use crate::genetics::{Cytoplasm, Diploid, GeneModel, Genotype, LocusBook, TraitSpec};
use crate::records::facts::Facts;
use crate::records::genes::{Loci, trait_spec};
use crate::records::rows::{PlantKind, Sureness};

/// Most combinations of genotypes looked at; a model of more loci is passed over.
const COMBINATIONS_MAX: usize = 4096;

/// Remarks on each firm look that a genotype cannot give by the model in use.
pub(super) fn remark(desk: &mut Desk, plant: i64, code: &str, genotype: &str, sights: &[Sight]) {
    let facts = desk.facts;
    let is_grown = facts
        .plant
        .get(plant)
        .is_none_or(|row| row.kind != PlantKind::Seedling);
    for sight in sights
        .iter()
        .filter(|sight| sight.sureness == Sureness::Firm)
    {
        let class = sight.class.and_then(|id| facts.trait_class.get(id));
        // What cannot be read of a trait is no contradiction.
        let spec = trait_spec(facts, sight.of).ok().flatten();
        let Some((spec, class)) = spec.zip(class) else {
            continue;
        };
        let Some(gives) = classes_of(facts, &spec, genotype, is_grown) else {
            continue;
        };
        if !gives.contains(&class.name) {
            desk.tell(Notice::Unlike {
                plant: code.to_owned(),
                genotype: genotype.to_owned(),
                of: spec.code,
                class: class.name.clone(),
                gives,
            });
        }
    }
}

/// Remarks on looks of a plant whose genotype was stated before.
pub(super) fn remark_on_stated(desk: &mut Desk, plant: i64, sights: &[Sight]) {
    let facts = desk.facts;
    let stated = facts.statement.iter().filter(|row| row.plant_id == plant);
    if let Some(newest) = stated.max_by_key(|row| (row.day, row.id)) {
        let code = find::label(facts, plant);
        remark(desk, plant, &code, &newest.genotype, sights);
    }
}

/// The classes that a genotype can show by the model in use; nothing where it says nothing of the trait.
fn classes_of(
    facts: &Facts,
    spec: &TraitSpec,
    genotype: &str,
    is_grown: bool,
) -> Option<Vec<String>> {
    let mut book: LocusBook = Loci::of(facts).ok()?.book;
    let genotype = Genotype::parse(genotype, &mut book).ok()?;
    let models = spec.check(&mut book).ok()?;
    let model = models.into_iter().nth(spec.model_in_use()?)?;
    let says = model
        .loci()
        .iter()
        .any(|locus| genotype.at(*locus).is_some());
    if !says || model.reads_cytoplasm() {
        return None;
    }
    let mut shown: Vec<usize> = Vec::new();
    for genotypes in fitting(&model, &genotype)? {
        let class = model.class_of(&genotypes, Cytoplasm::Normal);
        let early = spec.earlier(class).filter(|_| !is_grown);
        shown.extend(std::iter::once(class).chain(early));
    }
    shown.sort_unstable();
    shown.dedup();
    let names = spec.class_names();
    Some(
        shown
            .into_iter()
            .map(|class| names[class].clone())
            .collect(),
    )
}

/// The genotypes at a model's loci that fit a statement; nothing where they are too many.
fn fitting(model: &GeneModel, genotype: &Genotype) -> Option<Vec<Vec<Diploid>>> {
    let mut found: Vec<Vec<Diploid>> = vec![Vec::new()];
    for (locus, alleles) in model.loci().iter().zip(model.allele_counts()) {
        let alleles = u8::try_from(*alleles).ok()?;
        let pairs = (0..alleles).flat_map(|a| (a..alleles).map(move |b| Diploid::new(a, b)));
        let pairs: Vec<Diploid> = pairs
            .filter(|pair| genotype.matches(*locus, *pair))
            .collect();
        if found.len() * pairs.len() > COMBINATIONS_MAX {
            return None;
        }
        let with = |start: &Vec<Diploid>| {
            let start = start.clone();
            let extend = move |pair: &Diploid| [&start[..], &[*pair]].concat();
            pairs.iter().map(extend).collect::<Vec<_>>()
        };
        found = found.iter().flat_map(with).collect();
    }
    Some(found)
}
