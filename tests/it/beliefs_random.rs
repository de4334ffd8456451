//! `genotype` on random ledgers of up to seven plants, against sums over every genotype of all of them at once.
//!
//! Founders, seedlings kept over two more generations (selfs, backcrosses, crosses of sibs) and plants entered by their
//! pedigree; selfed flowers, foreign pollen, seed strayed between trays sown on one day; one trait or two genes, seen
//! at once or late. The other side is `oracle::enumeration`.

use super::oracle::enumeration::{Ledger, Origin};
use super::oracle::onset::Mark;
use super::oracle::season::{
    Batch, Day, Kind, Locus, Parent, Pollination, Season, Slot, Sown, Trait, iso,
};
use super::random_season::dice::Dice;
use super::support::Bench;

/// How far a probability may be from the enumeration.
const TOLERANCE: f64 = 1e-10;

/// Ledgers compared; `ORACLE_SEASONS` asks for more.
const LEDGERS: u64 = 24;

const FIRST: Day = 20_300;

/// A ledger in the making: what is typed, and the same for the enumeration.
struct Draft {
    dice: Dice,
    lines: Vec<String>,
    ledger: Ledger,
    founders: usize,
    most: usize,
}

fn parent(code: &str, kind: Kind, stated: Vec<(usize, [Slot; 2])>) -> Parent {
    Parent {
        code: code.to_owned(),
        kind,
        stated,
        proven: false,
        looks: Vec::new(),
        scores: Vec::new(),
        species: None,
        sterile: false,
    }
}

impl Draft {
    fn new(seed: u64) -> Draft {
        let mut season = Season::new(FIRST + 2000);
        let mut lines = vec!["init".to_owned()];
        let most = match seed % 4 {
            0 => {
                season.loci = vec![Locus::pair("J", "j"), Locus::pair("Z", "z")];
                season.traits = vec![Trait::dominant("sheen", ["satin", "matt"], &[0, 1])];
                lines.push("trait add sheen --classes satin,matt --rule 'J/_ Z/_ => satin' --rule 'else => matt'".into());
                4
            }
            1 => 6,
            _ => {
                season.loci = vec![Locus::pair("Q", "q")];
                season.traits = vec![Trait::dominant("felt", ["felted", "bald"], &[0])];
                lines.push("trait add felt --classes felted,bald --rule 'Q/_ => felted' --rule 'else => bald'".into());
                7
            }
        };
        Draft {
            dice: Dice::new(seed),
            lines,
            ledger: Ledger {
                season,
                origins: Vec::new(),
                seedlings: Vec::new(),
            },
            founders: 0,
            most,
        }
    }

    fn plants(&self) -> usize {
        self.ledger.season.parents.len()
    }

    fn code(&self, plant: usize) -> String {
        self.ledger.season.parents[plant].code.clone()
    }

    /// A statement of a plant, mostly of every locus, as slots and as typed.
    fn statement(&mut self, chance: f64) -> (Vec<(usize, [Slot; 2])>, String) {
        let mut stated = Vec::new();
        let mut typed = Vec::new();
        for locus in 0..self.ledger.season.loci.len() {
            if !self.dice.chance(chance) {
                continue;
            }
            let slots = [
                [Some(0), Some(0)],
                [Some(0), Some(1)],
                [Some(1), Some(1)],
                [Some(0), None],
            ][self.dice.below(4)];
            let alleles = &self.ledger.season.loci[locus].alleles;
            let word =
                |slot: Slot| slot.map_or("_".to_owned(), |at| alleles[usize::from(at)].clone());
            typed.push(format!("{}/{}", word(slots[0]), word(slots[1])));
            stated.push((locus, slots));
        }
        let typed = match typed.is_empty() {
            true => String::new(),
            false => format!(" --genotype '{}'", typed.join(" ")),
        };
        (stated, typed)
    }

    fn add_founders(&mut self, count: usize) {
        for code in ["NL", "CW", "ED"].iter().take(count) {
            let (kind, flag) = [
                (Kind::Line, "--line"),
                (Kind::Packet, "--packet"),
                (Kind::Plant, "--plant"),
            ][self.dice.below(3)];
            let (stated, typed) = self.statement(0.7);
            let mut founder = parent(code, kind, stated);
            let mut looks = String::new();
            if self.dice.chance(0.4) {
                let class = self.dice.below(2);
                founder.looks.push((0, class));
                looks = format!(" --looks {}", self.ledger.season.traits[0].classes[class]);
            }
            self.lines
                .push(format!("parent add {code} {flag}{typed}{looks}"));
            self.ledger.season.parents.push(founder);
        }
        self.founders = count;
    }

    fn add_bred(&mut self) {
        let (kind, flag, fixed) = match self.ledger.season.loci.len() == 1 && self.dice.chance(0.5)
        {
            true => (Kind::Line, "--line", 0.95),
            false => (Kind::Plant, "--plant", 0.0),
        };
        let (stated, typed) = self.statement(0.5);
        self.lines
            .push(format!("parent add P1 {flag} --pedigree NL/CW{typed}"));
        self.ledger.season.parents.push(parent("P1", kind, stated));
        self.ledger.origins.push(Origin::Bred {
            parents: (0, 1),
            fixed,
        });
    }

    /// A cross with its tray: readings, and perhaps a seedling or two kept.
    fn breed(&mut self, mother: usize, father: usize, flowers: Day, sown: Day, keep: usize) {
        let at = self.ledger.season.batches.len();
        let (cross, tray) = (format!("X{}", at + 1), format!("T{}", at + 1));
        let selfed = mother == father;
        let (tool, covered) = (self.dice.chance(0.5), self.dice.chance(0.4));
        let emasculated = selfed || self.dice.chance(0.7);
        let mut line = match selfed {
            true => format!("self {}", self.code(mother)),
            false => format!("cross {} {}", self.code(mother), self.code(father)),
        };
        line += &format!(" --code {cross}");
        line += if tool { " --tool brush" } else { "" };
        line += if covered { " --covered" } else { "" };
        line += if emasculated {
            ""
        } else {
            " --not-emasculated"
        };
        self.lines.push(format!("{line} --on {}", iso(flowers)));
        let seeds = self.dice.between(3, 5);
        self.lines
            .push(format!("sow {cross} --seeds {seeds} --on {}", iso(sown)));
        let up = sown + 10;
        self.lines
            .push(format!("up {tray} {seeds} --on {}", iso(up)));
        self.ledger.season.pollinations.push(Pollination {
            cross: cross.clone(),
            mother,
            father,
            day: flowers,
            tool: tool.then(|| "brush".to_owned()),
            wiped: false,
            covered,
            emasculated,
        });
        self.ledger.season.batches.push(Batch {
            tray: tray.clone(),
            sown: Sown::Cross(cross),
            day: sown,
            seeds,
            cells: None,
            place: None,
        });
        let readings = self.read(&tray, seeds, up);
        self.ledger.seedlings.push(readings);
        for seedling in 0..keep.min(seeds) {
            if self.plants() < self.most {
                self.keep(at, seedling);
            }
        }
    }

    fn read(&mut self, tray: &str, seeds: usize, up: Day) -> Vec<Vec<(usize, Mark)>> {
        let mut readings: Vec<Vec<(usize, Mark)>> = vec![Vec::new(); seeds];
        if self.dice.chance(0.15) {
            return readings;
        }
        let likely = self.dice.unit();
        for _ in 0..self.dice.between(1, 2) {
            let day = up + self.dice.days(5, 30);
            let mut typed = String::new();
            for (at, own) in readings.iter_mut().enumerate() {
                // A seedling is read once a day and trait.
                if self.dice.chance(0.2) || own.iter().any(|(_, mark)| mark.age == day - up) {
                    continue;
                }
                let class = usize::from(self.dice.chance(likely));
                own.push((
                    0,
                    Mark {
                        age: day - up,
                        class,
                        error: 0.005,
                    },
                ));
                let name = &self.ledger.season.traits[0].classes[class];
                typed += &format!(" {}={name}", at + 1);
            }
            if !typed.is_empty() {
                self.lines
                    .push(format!("score {tray}{typed} --on {}", iso(day)));
            }
        }
        for own in &mut readings {
            own.sort_by_key(|(_, mark)| mark.age);
        }
        // Seedlings without a reading stay in the sums, where they say nothing.
        readings
    }

    fn keep(&mut self, batch: usize, seedling: usize) {
        let code = format!("K{}", self.plants());
        let (stated, typed) = self.statement(0.3);
        let tray = &self.ledger.season.batches[batch].tray;
        self.lines.push(format!(
            "parent add {code} --from {tray}-{:02}{typed}",
            seedling + 1
        ));
        self.ledger
            .season
            .parents
            .push(parent(&code, Kind::Plant, stated));
        self.ledger.origins.push(Origin::Kept { batch, seedling });
    }

    /// A plant, one kept rather than a founder.
    fn any(&mut self) -> usize {
        match self.plants() > self.founders && self.dice.chance(0.7) {
            true => self.dice.between(self.founders, self.plants() - 1),
            false => self.dice.below(self.plants()),
        }
    }
}

fn draft(seed: u64) -> Draft {
    let mut draft = Draft::new(seed);
    let founders = match draft.most {
        4 => 2,
        _ => draft.dice.between(2, 3),
    };
    draft.add_founders(founders);
    if draft.most > 4 && draft.dice.chance(0.4) {
        draft.add_bred();
    }
    // Founders flower, and their trays are sown, on one day or on two: foreign pollen and stray seed are at home.
    let apart = if draft.dice.chance(0.5) { 0 } else { 20 };
    for nth in 0..draft.dice.between(1, 2) {
        let mother = draft.dice.below(founders);
        let father = draft.dice.below(founders);
        let keep = draft.dice.between(1, 2);
        let later = apart * Day::try_from(nth).unwrap();
        draft.breed(mother, father, FIRST + later, FIRST + 100 + later, keep);
    }
    for nth in 0..draft.dice.between(1, 3) {
        let (mother, father) = (draft.any(), draft.any());
        let keep = draft.dice.below(2);
        // A year apart, so that what was kept can flower.
        let later = 400 * Day::try_from(nth).unwrap();
        draft.breed(
            mother,
            father,
            FIRST + 300 + later,
            FIRST + 500 + later,
            keep,
        );
    }
    draft
}

fn differences(seed: u64) -> Vec<String> {
    let mut draft = draft(seed);
    let mut bench = Bench::new();
    bench.on(&iso(draft.ledger.season.today));
    for line in &draft.lines {
        let run = bench.run(line);
        assert_eq!(run.status, Some(0), "ledger {seed}: {line}: {}", run.err);
    }
    let together = bench.json("genotype --all");
    let mut answers: Vec<serde_json::Value> = together["plants"].as_array().unwrap().clone();
    let newest = draft.code(draft.plants() - 1);
    let alone = bench.json(&format!("genotype {newest}"));
    answers.push(alone);
    let traits: Vec<usize> = (0..draft.ledger.season.traits.len()).collect();
    let mut found = compare(seed, &draft.ledger, &traits, &answers);
    // A seedling that nobody kept is asked by its place.
    let read = &draft.ledger.seedlings[0];
    let last = read.len() - 1;
    let is_kept = |origin: &Origin| matches!(origin, Origin::Kept { batch: 0, seedling } if *seedling == last);
    if !read[last].is_empty() && !draft.ledger.origins.iter().any(is_kept) {
        let place = format!("{}-{:02}", draft.ledger.season.batches[0].tray, last + 1);
        let mut answer = bench.json(&format!("genotype {place}"));
        answer["plant"] = place.clone().into();
        draft
            .ledger
            .season
            .parents
            .push(parent(&place, Kind::Plant, Vec::new()));
        draft.ledger.origins.push(Origin::Kept {
            batch: 0,
            seedling: last,
        });
        found.extend(compare(seed, &draft.ledger, &traits, &[answer]));
    }
    found
}

fn compare(
    seed: u64,
    ledger: &Ledger,
    traits: &[usize],
    answers: &[serde_json::Value],
) -> Vec<String> {
    let expected = ledger.marginals(traits);
    let season = &ledger.season;
    let genes = super::oracle::genes::Genes::new(season, traits);
    let mut found = Vec::new();
    for answer in answers {
        let code = answer["plant"].as_str().unwrap();
        let plant = season.parents.iter().position(|p| p.code == code).unwrap();
        for (at, locus) in season.loci.iter().enumerate() {
            let named = |list: &serde_json::Value, key: &str, name: &str| {
                let own = list.as_array().unwrap().iter().find(|one| one[key] == name);
                own.cloned()
                    .unwrap_or_else(|| panic!("ledger {seed}: {code} says nothing of {name}"))
            };
            let told = named(&answer["loci"], "locus", &locus.symbol);
            for pair in super::oracle::genes::pairs(2) {
                let name = format!(
                    "{}/{}",
                    locus.alleles[usize::from(pair.0)],
                    locus.alleles[usize::from(pair.1)]
                );
                let got = named(&told["genotypes"], "genotype", &name)["p"]
                    .as_f64()
                    .unwrap();
                let own = genes.all.iter().zip(&expected[plant]);
                let wanted: f64 = own.filter(|(g, _)| g[at] == pair).map(|(_, p)| p).sum();
                if (got - wanted).abs() > TOLERANCE {
                    found.push(format!(
                        "ledger {seed}: {code} {name}: {got}, enumeration {wanted}"
                    ));
                }
            }
        }
    }
    found
}

fn agree(seeds: impl Iterator<Item = u64>) {
    let found: Vec<String> = seeds.flat_map(differences).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}

fn ledgers() -> u64 {
    let asked = std::env::var("ORACLE_SEASONS").ok();
    asked.map_or(LEDGERS, |n| {
        n.parse().expect("ORACLE_SEASONS is a number of ledgers")
    })
}

#[test]
fn random_ledgers_agree_with_the_enumeration_even() {
    agree((0..ledgers()).filter(|seed| seed % 2 == 0));
}

#[test]
fn random_ledgers_agree_with_the_enumeration_odd() {
    agree((0..ledgers()).filter(|seed| seed % 2 == 1));
}
