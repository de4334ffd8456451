//! `trait`: looks and the gene models that explain them.

use super::desk::Desk;
use super::find::{Wanted, thing};
use super::grade;
use super::init::enter_new_loci;
use super::locus::loci_of;
use super::one_gene::{self, Invented};
use super::refusal::{GeneRefusal, Refusal};
use super::shared_words;
use super::subject::{Notice, Subject, TraitDone};
use crate::genetics::traits::USUAL_MISREAD;
use crate::genetics::{
    ClassSpec, ModelSpec, Onset, RuleError, Stage, Standing, TraitError, TraitSpec, catalogue,
    parse_late, parse_rule,
};
use crate::records::code::{Code, fold};
use crate::records::entry::{NewModel, NewTrait, SwitchTrait, UseModel};
use crate::records::facts::Facts;
use crate::records::genes::{BENCH_SETTING, models_of, read_number, times_scored, trait_spec};
use crate::records::rows::{OnsetRow, Thing, TraitClassRow, TraitModelRow, TraitRow, TraitRuleRow};
use crate::records::text::{self, NAME_MAX};

/// The name of the model that comes with a trait.
const FIRST_MODEL: &str = "own";

pub(super) fn add(desk: &mut Desk, entry: &NewTrait) -> Result<Subject, Refusal> {
    let holder = desk.facts.code_named(entry.code.as_str());
    let replaced = match holder {
        Some(row) if row.thing == Thing::Trait => Some(row.thing_id),
        _ => {
            desk.free_of_series(&entry.code)?;
            None
        }
    };
    if let Some(id) = replaced {
        grade::refuse_graded(desk.facts, id)?;
        refuse_scored(desk.facts, id)?;
        refuse_bred_for(desk.facts, id)?;
        doubt_built_in(desk, id)?;
    }
    let mut loci = loci_of(desk.facts)?;
    let known = loci.book.len();
    let invented = match &entry.one_gene {
        None => None,
        Some(words) => {
            one_gene::check(words).map_err(|error| refused(entry.code.as_str(), &error))?;
            let held = replaced.map_or(Ok(Vec::new()), |id| loci_read(desk.facts, id))?;
            Some(one_gene::invent(
                entry.code.as_str(),
                words,
                &loci.book,
                &held,
            ))
        }
    };
    let spelled = invented.as_ref().map(|gene| gene.spell_out(entry));
    let spec = spell(spelled.as_ref().unwrap_or(entry))?;
    spec.check(&mut loci.book)
        .map_err(|error| refused(&spec.code, &error))?;
    let new_loci = enter_new_loci(desk, &loci.book, known);
    if let Some(Invented {
        symbol,
        recessive,
        words,
    }) = invented
    {
        desk.tell(Notice::Gene {
            symbol,
            recessive,
            words,
        });
    }
    let (of, done) = match replaced {
        Some(id) => (redefine(desk, id, &spec, entry), TraitDone::Redefined),
        None => (
            enter(desk, &entry.code, &spec, Some(entry)),
            TraitDone::Added,
        ),
    };
    shared_words::tell(desk, of, &spec);
    Ok(Subject::Trait { of, done, new_loci })
}

/// The loci that the models of a trait read.
fn loci_read(facts: &Facts, id: i64) -> Result<Vec<String>, Refusal> {
    let mut book = loci_of(facts)?.book;
    let Some(spec) = trait_spec(facts, id)? else {
        return Ok(Vec::new());
    };
    let models = spec
        .check(&mut book)
        .map_err(|error| refused(&spec.code, &error))?;
    let loci = models.iter().flat_map(|model| model.loci());
    Ok(loci.map(|locus| book.get(*locus).symbol.clone()).collect())
}

fn refuse_scored(facts: &Facts, id: i64) -> Result<(), Refusal> {
    let of = facts.code_of(Thing::Trait, id).unwrap_or("?").to_owned();
    match times_scored(facts, id) {
        0 => Ok(()),
        scored => Err(GeneRefusal::Scored { of, scored }.into()),
    }
}

/// Refuses to define a trait anew while one of its looks is a goal.
fn refuse_bred_for(facts: &Facts, id: i64) -> Result<(), Refusal> {
    let Some(goal) = facts.goal.iter().find(|goal| goal.trait_id == id) else {
        return Ok(());
    };
    let of = facts.code_of(Thing::Trait, id).unwrap_or("?").to_owned();
    let look = goal.class_id.and_then(|id| facts.trait_class.get(id));
    let look = look.map_or_else(String::new, |class| class.name.clone());
    Err(GeneRefusal::IsGoal { of, look }.into())
}

/// Doubts another definition in the place of a trait that came with the ledger.
fn doubt_built_in(desk: &mut Desk, id: i64) -> Result<(), Refusal> {
    let facts = desk.facts;
    if !facts.trait_.get(id).is_some_and(|row| row.built_in) {
        return Ok(());
    }
    let of = facts.code_of(Thing::Trait, id).unwrap_or("?").to_owned();
    desk.doubt(GeneRefusal::BuiltIn(of))
}

fn refused(of: &str, error: &TraitError) -> Refusal {
    let hint = match error {
        TraitError::NoOnset(class) => {
            format!("--late '{class} after EARLIER' --median-days 12")
        }
        TraitError::Model { error, .. } => rule_hint(error),
        _ => format!(
            "locule trait add {of} --classes purple,green --rule 'A/_ => purple' --rule 'else => green'"
        ),
    };
    GeneRefusal::Trait {
        of: of.to_owned(),
        message: with_pointer(error.to_string(), error.pointed()),
        hint,
    }
    .into()
}

/// A message and under it what it points at.
fn with_pointer(message: String, pointer: Option<String>) -> String {
    match pointer {
        Some(pointer) => format!("{message}\n{pointer}"),
        None => message,
    }
}

fn rule_hint(error: &RuleError) -> String {
    match error {
        RuleError::NoClass { .. } => "end the rules with: --rule 'else => CLASS'".to_owned(),
        RuleError::Pattern { error, .. } => error.hint(),
        _ => "a rule reads: --rule 'A/_ => purple'".to_owned(),
    }
}

fn spell(entry: &NewTrait) -> Result<TraitSpec, Refusal> {
    let code = entry.code.as_str();
    let refuse = |error: TraitError| refused(code, &error);
    let mut classes: Vec<ClassSpec> = entry
        .classes
        .iter()
        .map(|name| ClassSpec {
            name: name.trim().to_owned(),
            after: None,
            misread: None,
        })
        .collect();
    for late in &entry.late {
        let (late, early) = parse_late(late).map_err(refuse)?;
        let early = class_of(&mut classes, &early).map_err(refuse)?.name.clone();
        class_of(&mut classes, &late).map_err(refuse)?.after = Some(early);
    }
    for (word, typed) in &entry.class_misread {
        let misread = number("--misread", typed)?;
        class_of(&mut classes, word).map_err(refuse)?.misread = Some(misread);
    }
    let misread = optional("--misread", entry.misread.as_ref())?;
    let stage: Option<Result<Stage, _>> = entry.stage.as_ref().map(|word| word.parse());
    let stage = stage.transpose().map_err(|error| GeneRefusal::Stage {
        typed: text::shown(&error.word),
        known: error.known,
    })?;
    Ok(TraitSpec {
        code: code.to_owned(),
        name: word("name", entry.name.as_ref())?,
        organ: word("organ", entry.organ.as_ref())?,
        stage: stage.unwrap_or(Stage::Seedling),
        classes,
        misread: misread.unwrap_or(USUAL_MISREAD),
        onset: onset(entry)?,
        models: vec![model(code, FIRST_MODEL, &entry.rules, true, String::new())?],
        on: true,
        note: String::new(),
    })
}

fn word(what: &'static str, typed: Option<&String>) -> Result<String, Refusal> {
    typed.map_or(Ok(String::new()), |typed| {
        Ok(text::require(what, typed, NAME_MAX)?)
    })
}

fn class_of<'c>(classes: &'c mut [ClassSpec], word: &str) -> Result<&'c mut ClassSpec, TraitError> {
    let known = classes.iter().map(|class| class.name.clone()).collect();
    let wanted = fold(word);
    let found = classes.iter_mut().find(|class| fold(&class.name) == wanted);
    found.ok_or(TraitError::LateClass {
        class: word.to_owned(),
        classes: known,
    })
}

/// The stated ages of a late class; what is left unsaid is as for the built-in foliage.
fn onset(entry: &NewTrait) -> Result<Option<Onset>, Refusal> {
    let median = optional("--median-days", entry.median_days.as_ref())?;
    let spread = optional("--spread", entry.spread.as_ref())?;
    let ceiling = optional("--ceiling", entry.ceiling.as_ref())?;
    if entry.late.is_empty() && median.or(spread).or(ceiling).is_none() {
        return Ok(None);
    }
    let usual = catalogue::FOLIAGE_ONSET;
    Ok(Some(Onset {
        median_days: median.unwrap_or(usual.median_days),
        spread: spread.unwrap_or(usual.spread),
        ceiling: ceiling.unwrap_or(usual.ceiling),
    }))
}

pub(super) fn number(what: &str, typed: &str) -> Result<f64, Refusal> {
    read_number(typed).ok_or_else(|| {
        let (what, typed) = (what.to_owned(), text::shown(typed));
        GeneRefusal::Number {
            what,
            typed,
            wanted: "a plain number",
            remedy: Box::new(super::Remedy::Help),
        }
        .into()
    })
}

fn optional(what: &str, typed: Option<&String>) -> Result<Option<f64>, Refusal> {
    typed.map(|typed| number(what, typed)).transpose()
}

fn model(
    of: &str,
    name: &str,
    rules: &[String],
    in_use: bool,
    source: String,
) -> Result<ModelSpec, Refusal> {
    let name = text::require("model's name", name, NAME_MAX)?;
    let rules: Result<Vec<_>, RuleError> = rules.iter().map(|rule| parse_rule(rule)).collect();
    let rules = rules.map_err(|error| {
        let hint = rule_hint(&error);
        GeneRefusal::Trait {
            of: of.to_owned(),
            message: with_pointer(error.to_string(), error.pointed()),
            hint,
        }
    })?;
    Ok(ModelSpec {
        name,
        rules,
        in_use,
        standing: Standing::Own,
        source,
    })
}

/// Enters a trait with all that hangs on it; gives its number. Numbers are kept as they were typed; a
/// built-in trait was not typed.
pub(super) fn enter(
    desk: &mut Desk,
    code: &Code,
    spec: &TraitSpec,
    typed: Option<&NewTrait>,
) -> i64 {
    let trait_id = desk.insert(|id| row(id, spec, typed));
    desk.name(code, Thing::Trait, trait_id);
    enter_parts(desk, trait_id, spec, typed);
    trait_id
}

/// A number as it was typed, else in its shortest form.
fn number_text(typed: Option<&String>, number: f64) -> String {
    typed.map_or_else(|| number.to_string(), |typed| typed.trim().to_owned())
}

fn row(id: i64, spec: &TraitSpec, typed: Option<&NewTrait>) -> TraitRow {
    let misread = typed.and_then(|typed| typed.misread.as_ref());
    TraitRow {
        id,
        name: spec.name.clone(),
        organ: spec.organ.clone(),
        stage: spec.stage.to_string(),
        misread: number_text(misread, spec.misread),
        switched_on: spec.on,
        built_in: typed.is_none(),
        note: spec.note.clone(),
    }
}

fn enter_parts(desk: &mut Desk, trait_id: i64, spec: &TraitSpec, typed: Option<&NewTrait>) {
    for (ord, class) in (0..).zip(&spec.classes) {
        let class = class.clone();
        let own = typed.and_then(|typed| {
            let mut own = typed.class_misread.iter().rev();
            own.find(|(word, _)| fold(word) == fold(&class.name))
        });
        let own = own.map(|(_, typed)| typed);
        desk.insert(|id| TraitClassRow {
            id,
            trait_id,
            ord,
            name: class.name,
            after_class: class.after,
            misread: class.misread.map(|misread| number_text(own, misread)),
        });
    }
    for model in &spec.models {
        enter_model(desk, trait_id, model);
    }
    if let Some(onset) = spec.onset {
        let standing = if spec
            .models
            .iter()
            .all(|model| model.standing == Standing::Own)
        {
            Standing::Own
        } else {
            Standing::DesignChoice
        };
        let stated = |of: fn(&NewTrait) -> &Option<String>, number| {
            number_text(typed.and_then(|typed| of(typed).as_ref()), number)
        };
        desk.insert(|id| OnsetRow {
            id,
            trait_id,
            median_days: stated(|typed| &typed.median_days, onset.median_days),
            spread: stated(|typed| &typed.spread, onset.spread),
            ceiling: stated(|typed| &typed.ceiling, onset.ceiling),
            standing: standing.to_string(),
        });
    }
}

fn enter_model(desk: &mut Desk, trait_id: i64, model: &ModelSpec) {
    let (name, source) = (model.name.clone(), model.source.clone());
    let (in_use, standing) = (model.in_use, model.standing.to_string());
    let model_id = desk.insert(|id| TraitModelRow {
        id,
        trait_id,
        name,
        in_use,
        source,
        standing,
    });
    for (ord, (pattern, class)) in (0..).zip(&model.rules) {
        let (pattern, class) = (pattern.clone(), class.clone());
        desk.insert(|id| TraitRuleRow {
            id,
            model_id,
            ord,
            pattern,
            class,
        });
    }
}

/// Puts another definition in the place of a trait's that was never scored.
fn redefine(desk: &mut Desk, id: i64, spec: &TraitSpec, typed: &NewTrait) -> i64 {
    let facts = desk.facts;
    let going = models_of(facts, id).into_iter();
    let going: Vec<String> = going
        .filter(|model| spec.models.iter().all(|new| new.name != model.name))
        .map(|model| model.name.clone())
        .collect();
    if !going.is_empty() {
        let of = spec.code.clone();
        desk.tell(Notice::ModelsGone { of, models: going });
    }
    let before = facts
        .trait_
        .get(id)
        .expect("a code names a row that is there");
    for onset in facts.onset.iter().filter(|row| row.trait_id == id) {
        desk.delete(onset);
    }
    for model in models_of(facts, id) {
        for rule in facts
            .trait_rule
            .iter()
            .filter(|rule| rule.model_id == model.id)
        {
            desk.delete(rule);
        }
        desk.delete(model);
    }
    for class in facts
        .trait_class
        .iter()
        .filter(|class| class.trait_id == id)
    {
        desk.delete(class);
    }
    desk.update(before, row(id, spec, Some(typed)));
    enter_parts(desk, id, spec, Some(typed));
    id
}

pub(super) fn add_model(desk: &mut Desk, entry: &NewModel) -> Result<Subject, Refusal> {
    let (_, id) = thing(desk.facts, &entry.of, Wanted::Trait)?;
    grade::refuse_graded(desk.facts, id)?;
    let mut spec = trait_spec(desk.facts, id)?.expect("a code names a row that is there");
    let source = word("source", entry.source.as_ref())?;
    let rival = model(&spec.code, &entry.name, &entry.rules, false, source)?;
    if spec
        .models
        .iter()
        .any(|model| fold(&model.name) == fold(&rival.name))
    {
        return Err(GeneRefusal::ModelTaken {
            of: spec.code,
            name: rival.name,
        }
        .into());
    }
    spec.models.push(rival.clone());
    let mut loci = loci_of(desk.facts)?;
    let known = loci.book.len();
    spec.check(&mut loci.book)
        .map_err(|error| refused(&spec.code, &error))?;
    let new_loci = enter_new_loci(desk, &loci.book, known);
    enter_model(desk, id, &rival);
    Ok(Subject::Trait {
        of: id,
        done: TraitDone::ModelAdded,
        new_loci,
    })
}

pub(super) fn use_model(desk: &mut Desk, entry: &UseModel) -> Result<Subject, Refusal> {
    let (_, id) = thing(desk.facts, &entry.of, Wanted::Trait)?;
    let models = models_of(desk.facts, id);
    let wanted = fold(&entry.name);
    if !models.iter().any(|model| fold(&model.name) == wanted) {
        let of = desk
            .facts
            .code_of(Thing::Trait, id)
            .unwrap_or("?")
            .to_owned();
        let known = models.iter().map(|model| model.name.clone()).collect();
        return Err(GeneRefusal::UnknownModel {
            of,
            typed: text::shown(&entry.name),
            known,
        }
        .into());
    }
    for model in models {
        let in_use = fold(&model.name) == wanted;
        desk.update(
            model,
            TraitModelRow {
                in_use,
                ..model.clone()
            },
        );
    }
    Ok(done(id, TraitDone::ModelChosen))
}

pub(super) fn switch(desk: &mut Desk, entry: &SwitchTrait) -> Result<Subject, Refusal> {
    let (_, id) = thing(desk.facts, &entry.of, Wanted::Trait)?;
    grade::refuse_graded(desk.facts, id)?;
    if !entry.on && bench_trait(desk.facts) == Some(id) {
        let of = desk
            .facts
            .code_of(Thing::Trait, id)
            .unwrap_or("?")
            .to_owned();
        return Err(GeneRefusal::BenchTrait(of).into());
    }
    let before = desk
        .facts
        .trait_
        .get(id)
        .expect("a code names a row that is there");
    desk.update(
        before,
        TraitRow {
            switched_on: entry.on,
            ..before.clone()
        },
    );
    let what = if entry.on {
        TraitDone::SwitchedOn
    } else {
        TraitDone::SwitchedOff
    };
    Ok(done(id, what))
}

pub(super) fn make_bench(desk: &mut Desk, code: &Code) -> Result<Subject, Refusal> {
    let facts = desk.facts;
    let (_, id) = thing(facts, code, Wanted::Trait)?;
    grade::refuse_graded(facts, id)?;
    let typed = facts.code_of(Thing::Trait, id).unwrap_or("?").to_owned();
    if !facts.trait_.get(id).is_some_and(|row| row.switched_on) {
        return Err(GeneRefusal::SwitchedOff(typed).into());
    }
    desk.set(BENCH_SETTING, Some(typed));
    Ok(done(id, TraitDone::MadeBench))
}

/// The trait that bare class words belong to first.
pub(super) fn bench_trait(facts: &Facts) -> Option<i64> {
    let code = facts.setting(BENCH_SETTING)?;
    facts
        .code_named(code)
        .filter(|row| row.thing == Thing::Trait)
        .map(|row| row.thing_id)
}

pub(super) const fn done(of: i64, done: TraitDone) -> Subject {
    Subject::Trait {
        of,
        done,
        new_loci: Vec::new(),
    }
}
