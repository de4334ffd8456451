//! What is known of the genotype of plants, in words and JSON.

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::adopted::Accident;
use super::numbers::percent;
use super::remark_json::RemarkJson;
use super::remarks::remark;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};
use crate::diagnosis::clash::{Clash, Clashing, Explanation};
use crate::diagnosis::genotypes::{LocusBelief, Moved, PlantBelief};
use crate::diagnosis::told::{ClassCount, Told};
use crate::stats::elimination::TooManyCells;

/// A genotype under this probability is left out of the words where others are listed.
const HARDLY: f64 = 0.0005;

/// The answer of `genotype` about one plant.
#[derive(Debug, Clone, PartialEq)]
pub struct GenotypeAnswer {
    /// What is known of it.
    pub belief: PlantBelief,
    /// What it was kept as, where its label says otherwise; the belief weighs everything that it may be.
    pub accident: Option<Accident>,
}

/// The answer of `genotype --all`.
#[derive(Debug, Clone, PartialEq)]
pub struct AllGenotypes(pub Vec<PlantBelief>);

#[derive(Serialize)]
struct GenotypeJson<'a> {
    genotype: &'a str,
    p: f64,
}

#[derive(Serialize)]
struct LocusJson<'a> {
    locus: &'a str,
    stated: Option<&'a str>,
    told: bool,
    genotypes: Vec<GenotypeJson<'a>>,
    declined: Option<DeclinedJson>,
}

/// The exact answer needs too large a table.
#[derive(Serialize)]
struct DeclinedJson {
    needed: f64,
    limit: f64,
}

impl From<TooManyCells> for DeclinedJson {
    fn from(size: TooManyCells) -> Self {
        Self {
            needed: size.needed as f64,
            limit: size.limit as f64,
        }
    }
}

#[derive(Serialize)]
struct GroupJson<'a> {
    loci: &'a [String],
    genotypes: Vec<GenotypeJson<'a>>,
    declined: Option<DeclinedJson>,
}

#[derive(Serialize)]
struct MovedJson<'a> {
    what: String,
    record: RecordJson<'a>,
    locus: &'a str,
    genotype: &'a str,
    without: f64,
    with: f64,
    moved: f64,
}

#[derive(Serialize)]
struct ExplanationJson {
    explanation: &'static str,
    plant: Option<String>,
    p: f64,
}

#[derive(Serialize)]
struct ClashJson<'a> {
    records: String,
    record: RecordJson<'a>,
    explanations: Vec<ExplanationJson>,
}

/// A record as fields: of which kind, about which tray and plants, and what was stated or seen.
#[derive(Serialize)]
struct RecordJson<'a> {
    kind: &'static str,
    tray: Option<&'a str>,
    /// Of a tray its mother and father, of offspring the other parent; of a statement or look the plant, none for the one asked about.
    plants: Vec<&'a str>,
    stated: Option<&'a str>,
    /// The looks of the one plant that the record is about.
    classes: Vec<&'a str>,
    counts: Vec<CountJson<'a>>,
}

#[derive(Serialize)]
struct CountJson<'a> {
    #[serde(rename = "trait")]
    trait_code: &'a str,
    class: &'a str,
    count: i64,
}

fn texts(list: &[String]) -> Vec<&str> {
    list.iter().map(String::as_str).collect()
}

impl<'a> RecordJson<'a> {
    const fn new(kind: &'static str) -> Self {
        Self {
            kind,
            tray: None,
            plants: Vec::new(),
            stated: None,
            classes: Vec::new(),
            counts: Vec::new(),
        }
    }

    fn of_tray(kind: &'static str, tray: &'a str, seen: &'a [ClassCount]) -> Self {
        let count = |one: &'a ClassCount| CountJson {
            trait_code: &one.trait_code,
            class: &one.class,
            count: one.count,
        };
        Self {
            tray: Some(tray),
            counts: seen.iter().map(count).collect(),
            ..Self::new(kind)
        }
    }

    fn of(told: &'a Told) -> Self {
        match told {
            Told::Statement { plant, genotype } => Self {
                plants: plant.as_deref().into_iter().collect(),
                stated: Some(genotype),
                ..Self::new("statement")
            },
            Told::Looks { plant, classes } => Self {
                plants: plant.as_deref().into_iter().collect(),
                classes: texts(classes),
                ..Self::new("looks")
            },
            Told::Offspring {
                tray, with, seen, ..
            } => Self {
                plants: with.as_deref().into_iter().collect(),
                ..Self::of_tray("offspring", tray, seen)
            },
            Told::Origin {
                tray,
                of,
                own,
                seen,
            } => Self {
                plants: vec![&of.0, &of.1],
                classes: texts(own),
                ..Self::of_tray("origin", tray, seen)
            },
            Told::Kin { tray, of, seen } => Self {
                plants: vec![&of.0, &of.1],
                ..Self::of_tray("kin", tray, seen)
            },
        }
    }

    fn of_clash(records: &'a Clashing) -> Self {
        match records {
            Clashing::Look { class, stated } => Self {
                stated: Some(stated),
                classes: vec![class],
                ..Self::new("look")
            },
            Clashing::Descent { stated, parents } => Self {
                stated: Some(stated),
                plants: vec![&parents.0, &parents.1],
                ..Self::new("descent")
            },
            Clashing::Seedlings {
                tray,
                parents,
                seen,
            } => Self {
                plants: vec![&parents.0, &parents.1],
                ..Self::of_tray("seedlings", tray, seen)
            },
        }
    }
}

impl LocusJson<'_> {
    fn of(belief: &LocusBelief) -> LocusJson<'_> {
        LocusJson {
            locus: &belief.locus,
            stated: belief.stated.as_deref(),
            told: belief.is_told,
            genotypes: genotypes_json(&belief.genotypes),
            declined: belief.declined.map(DeclinedJson::from),
        }
    }
}

fn genotypes_json(genotypes: &[(String, f64)]) -> Vec<GenotypeJson<'_>> {
    let all = genotypes.iter();
    all.map(|(genotype, p)| GenotypeJson { genotype, p: *p })
        .collect()
}

fn groups_json(belief: &PlantBelief) -> Vec<GroupJson<'_>> {
    let all = belief.groups.iter();
    all.map(|group| GroupJson {
        loci: &group.loci,
        genotypes: genotypes_json(&group.genotypes),
        declined: group.declined.map(DeclinedJson::from),
    })
    .collect()
}

fn loci_json(belief: &PlantBelief) -> Vec<LocusJson<'_>> {
    belief.loci.iter().map(LocusJson::of).collect()
}

impl Serialize for GenotypeAnswer {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let evidence: Vec<MovedJson<'_>> = self
            .belief
            .evidence
            .iter()
            .map(|moved| MovedJson {
                what: told_words(&moved.told),
                record: RecordJson::of(&moved.told),
                locus: &moved.locus,
                genotype: &moved.genotype,
                without: moved.without,
                with: moved.with,
                moved: moved.moved,
            })
            .collect();
        let clashes: Vec<ClashJson<'_>> = self.belief.clashes.iter().map(clash_json).collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("plant", &self.belief.label)?;
        map.serialize_entry("left_out", &RemarkJson::all(&self.belief.left_out))?;
        map.serialize_entry("accidental", &self.accident)?;
        map.serialize_entry("loci", &loci_json(&self.belief))?;
        map.serialize_entry("groups", &groups_json(&self.belief))?;
        map.serialize_entry("evidence", &evidence)?;
        map.serialize_entry("clashes", &clashes)?;
        let odd = &self.belief.odd;
        let notes: Vec<String> = odd.iter().filter_map(remark).collect();
        map.serialize_entry("notes", &notes)?;
        map.serialize_entry("remarks", &RemarkJson::all(odd))?;
        map.serialize_entry(
            "untold_cells",
            &self.belief.untold.map(|size| size.needed as f64),
        )?;
        map.end()
    }
}

fn clash_json(clash: &Clash) -> ClashJson<'_> {
    let explanation = |(what, p): &(Explanation, f64)| ExplanationJson {
        explanation: match what {
            Explanation::WrongStatement { .. } => "wrong-statement",
            Explanation::Misread => "misread",
            Explanation::OffType => "off-type",
            Explanation::Dim => "dim",
        },
        plant: match what {
            Explanation::WrongStatement { plant, .. } => Some(plant.clone()),
            _ => None,
        },
        p: *p,
    };
    ClashJson {
        records: records_words(&clash.records),
        record: RecordJson::of_clash(&clash.records),
        explanations: clash.explanations.iter().map(explanation).collect(),
    }
}

impl Serialize for AllGenotypes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct One<'a> {
            plant: &'a str,
            left_out: Vec<RemarkJson<'a>>,
            loci: Vec<LocusJson<'a>>,
            groups: Vec<GroupJson<'a>>,
        }
        let plants: Vec<One<'_>> = self
            .0
            .iter()
            .map(|belief| One {
                plant: &belief.label,
                left_out: RemarkJson::all(&belief.left_out),
                loci: loci_json(belief),
                groups: groups_json(belief),
            })
            .collect();
        let mut map = serializer.serialize_map(Some(1))?;
        map.serialize_entry("plants", &plants)?;
        map.end()
    }
}

/// `A/A 98 %, A/a 2.0 %`.
fn genotypes_words(genotypes: &[(String, f64)]) -> String {
    let named = genotypes.iter().filter(|(_, p)| *p >= HARDLY);
    let parts: Vec<String> = named
        .map(|(genotype, p)| format!("{} {}", shown(genotype), percent(*p)))
        .collect();
    parts.join(", ")
}

/// Genotypes of linked loci that are named at most, and from which probability on; all stand in the JSON.
const NAMED: usize = 5;
const WORTH_NAMING: f64 = 0.01;

/// `A and B by strand: A-B/a-b 98 %, A-b/a-B 2.0 %`, where it is heterozygous at both or may be.
fn group_words(belief: &PlantBelief) -> impl Iterator<Item = String> {
    let open = belief
        .groups
        .iter()
        .filter(|group| group.has_phase >= HARDLY);
    open.map(|group| {
        let loci: Vec<String> = group.loci.iter().map(|locus| shown(locus)).collect();
        let likely = group
            .genotypes
            .iter()
            .take_while(|(_, p)| *p >= WORTH_NAMING);
        let (named, others) = group.genotypes.split_at(likely.count().min(NAMED));
        let mut words = genotypes_words(named);
        let left: f64 = others.iter().map(|(_, p)| p).sum();
        if left >= HARDLY {
            words.push_str(&format!(", others {}", percent(left)));
        }
        format!("{} by strand: {words}", listed(&loci, "and"))
    })
}

/// `A: A/A 98 %, A/a 2.0 %`.
fn locus_words(belief: &LocusBelief) -> String {
    if let Some(size) = belief.declined {
        return format!("{}: not answered, {size}", shown(&belief.locus));
    }
    let parts = genotypes_words(&belief.genotypes);
    if parts.is_empty() {
        return format!(
            "{}: nothing that it can be explains what is recorded",
            shown(&belief.locus)
        );
    }
    let stated = belief
        .stated
        .as_deref()
        .map_or_else(String::new, |stated| format!(" (stated {})", shown(stated)));
    format!("{}: {parts}{stated}", shown(&belief.locus))
}

/// `7 purple of 7`, trait by trait.
fn counts_words(seen: &[ClassCount]) -> String {
    let mut traits: Vec<&str> = seen.iter().map(|one| one.trait_code.as_str()).collect();
    traits.dedup();
    let of_trait = |code: &&str| {
        let own = seen.iter().filter(|one| one.trait_code == **code);
        let n: i64 = own.clone().map(|one| one.count).sum();
        let counts: Vec<String> = own
            .map(|one| format!("{} {}", one.count, shown(&one.class)))
            .collect();
        format!("{} of {n}", listed(&counts, "and"))
    };
    let words: Vec<String> = traits.iter().map(of_trait).collect();
    if words.is_empty() {
        return "nothing read yet".to_owned();
    }
    words.join("; ")
}

/// What a record said, in a grower's words.
fn told_words(told: &Told) -> String {
    match told {
        Told::Statement { plant, genotype } => {
            let of = plant
                .as_deref()
                .map_or_else(String::new, |plant| format!(" of {}", shown(plant)));
            format!("stated{of}: {}", shown(genotype))
        }
        Told::Looks { plant, classes } => {
            let of = plant.as_deref().map_or("it".to_owned(), shown);
            let classes: Vec<String> = classes.iter().map(|class| shown(class)).collect();
            format!("{of} looks {}", listed(&classes, "and"))
        }
        Told::Offspring {
            tray,
            with,
            looking,
            seen,
        } => {
            let looking: Vec<String> = looking.iter().map(|class| shown(class)).collect();
            let by = match (with, looking.is_empty()) {
                (None, _) => "of its own seed".to_owned(),
                (Some(with), true) => format!("with {}", shown(with)),
                (Some(with), false) => {
                    format!("by a {} plant, {}", looking.join(" and "), shown(with))
                }
            };
            format!("{} {by} ({})", counts_words(seen), shown(tray))
        }
        Told::Origin {
            tray,
            of,
            own,
            seen,
        } => {
            let own: Vec<String> = own.iter().map(|class| shown(class)).collect();
            let read = if own.is_empty() {
                String::new()
            } else {
                format!("read {} itself, ", listed(&own, "and"))
            };
            format!(
                "{read}from {} ({} x {}): {}",
                shown(tray),
                shown(&of.0),
                shown(&of.1),
                counts_words(seen)
            )
        }
        Told::Kin { tray, of, seen } => format!(
            "{} of {} x {} ({})",
            counts_words(seen),
            shown(&of.0),
            shown(&of.1),
            shown(tray)
        ),
    }
}

fn moved_words(moved: &Moved) -> String {
    format!(
        "{}: {} from {} to {}",
        told_words(&moved.told),
        shown(&moved.genotype),
        percent(moved.without),
        percent(moved.with)
    )
}

/// The records that clash, in a sentence without its stop.
#[must_use]
pub fn records_words(records: &Clashing) -> String {
    match records {
        Clashing::Look { class, stated } => format!(
            "it was read {}, and {} is stated",
            shown(class),
            shown(stated)
        ),
        Clashing::Descent { stated, parents } => format!(
            "{} is stated, and {} x {} as stated cannot give that",
            shown(stated),
            shown(&parents.0),
            shown(&parents.1)
        ),
        Clashing::Seedlings {
            tray,
            parents,
            seen,
        } => {
            let counts: Vec<String> = seen
                .iter()
                .map(|one| format!("{} {}", one.count, shown(&one.class)))
                .collect();
            format!(
                "{} in {}, and {} x {} as stated cannot give that",
                listed(&counts, "and"),
                shown(tray),
                shown(&parents.0),
                shown(&parents.1)
            )
        }
    }
}

/// How likely each explanation of a clash is, in a sentence without its stop.
#[must_use]
pub fn explanations_words(clash: &Clash) -> String {
    let word = |(what, p): &(Explanation, f64)| {
        let what = match what {
            Explanation::WrongStatement { plant, stated } => {
                format!("{} is not {}", shown(plant), shown(stated))
            }
            Explanation::Misread => match clash.records {
                Clashing::Seedlings { .. } => "all is as stated, and read wrongly".to_owned(),
                _ => "it was read wrongly".to_owned(),
            },
            Explanation::OffType => match clash.records {
                Clashing::Seedlings { .. } => "seedlings that are not of this cross".to_owned(),
                _ => "it is not of this cross".to_owned(),
            },
            Explanation::Dim => "it stood too dim to colour".to_owned(),
        };
        format!("{what} ({})", percent(*p))
    };
    let words: Vec<String> = clash.explanations.iter().map(word).collect();
    format!("Perhaps {}", listed(&words, "or"))
}

impl Answer for GenotypeAnswer {
    fn words(&self, page: Page) -> String {
        let belief = &self.belief;
        let mut lines = Vec::new();
        let (told, dull): (Vec<_>, Vec<_>) = belief.loci.iter().partition(|one| one.is_told);
        lines.push(shown(&belief.label));
        if let Some(accident) = &self.accident {
            let text = format!(
                "  Kept as {}. What stands here weighs everything that it may be.",
                shown(&accident.words())
            );
            lines.push(wrapped(&text, page.width, "  "));
        }
        for text in belief.left_out.iter().filter_map(remark) {
            lines.push(wrapped(&format!("  {}", shown(&text)), page.width, "  "));
        }
        for one in &told {
            lines.push(wrapped(
                &format!("  {}", locus_words(one)),
                page.width,
                "    ",
            ));
        }
        for text in group_words(belief).filter(|_| !told.is_empty()) {
            lines.push(wrapped(&format!("  {text}"), page.width, "    "));
        }
        if told.is_empty() {
            lines.push("  Nothing recorded of it or its kin speaks of any locus.".to_owned());
        } else if !dull.is_empty() {
            let symbols: Vec<String> = dull.iter().map(|one| shown(&one.locus)).collect();
            let text = format!("  Nothing recorded speaks of {}.", listed(&symbols, "or"));
            lines.push(wrapped(&text, page.width, "  "));
        }
        if !belief.evidence.is_empty() {
            lines.push("What told this, most telling first:".to_owned());
        }
        for moved in &belief.evidence {
            let text = format!("- {}", moved_words(moved));
            lines.push(wrapped(&text, page.width, "  "));
        }
        if let Some(size) = belief.untold {
            let text = format!(
                "Which records told this, and whether any clash, is not worked out in full: leaving each out in turn needs \
                 a table of {} cells, more than the {} allowed.",
                size.needed, size.limit
            );
            lines.push(wrapped(&text, page.width, "  "));
        }
        for clash in &belief.clashes {
            let text = format!(
                "Clash: {}. {}.",
                records_words(&clash.records),
                explanations_words(clash)
            );
            lines.push(wrapped(&text, page.width, "  "));
        }
        for text in belief.odd.iter().filter_map(remark) {
            lines.push(wrapped(&shown(&text), page.width, "  "));
        }
        lines.join("\n")
    }
}

impl Answer for AllGenotypes {
    fn words(&self, page: Page) -> String {
        if self.0.is_empty() {
            return "No plants yet ('locule parent add NL --genotype A/A').".to_owned();
        }
        let line = |belief: &PlantBelief| {
            let told = belief.loci.iter().filter(|one| one.is_told);
            let mut loci: Vec<String> = told.map(locus_words).collect();
            if !loci.is_empty() {
                loci.extend(group_words(belief));
            }
            let left_out = belief.left_out.iter().filter_map(remark);
            loci.extend(left_out.map(|text| text.trim_end_matches('.').to_owned()));
            let text = if loci.is_empty() {
                format!("{}: nothing recorded speaks of it", shown(&belief.label))
            } else {
                format!("{}  {}", shown(&belief.label), loci.join("; "))
            };
            wrapped(&text, page.width, "    ")
        };
        let lines: Vec<String> = self.0.iter().map(line).collect();
        lines.join("\n")
    }
}
