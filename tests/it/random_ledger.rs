//! Random ledgers of a few plants, as they are typed and as the enumeration takes them.
//!
//! Founders, seedlings kept over two more generations (selfs, backcrosses, crosses of sibs) and plants entered by their
//! pedigree; selfed flowers, foreign pollen, seed strayed between trays sown on one day; one trait or two genes, seen
//! at once or late; or linked genes, stated with and without their phase.

use super::oracle::enumeration::{Ledger, Origin};
use super::oracle::onset::Mark;
use super::oracle::season::{
    Batch, Day, Kind, Locus, Parent, Pollination, Season, Slot, Sown, Step, Trait, iso,
};
use super::random_season::dice::Dice;

const FIRST: Day = 20_300;

/// Kinds of genes that a ledger is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// One locus, or two that are not linked.
    Unlinked,
    /// Two linked loci.
    Linked,
    /// Two loci that are not linked, each read by a trait of its own, one of them in a seedling or two of a tray.
    Apart,
}

/// A ledger in the making: what is typed, and the same for the enumeration.
pub struct Draft {
    pub dice: Dice,
    pub lines: Vec<String>,
    pub ledger: Ledger,
    founders: usize,
    most: usize,
    /// Whether the second trait is read in the first seedlings of a tray alone.
    is_apart: bool,
}

pub fn parent(code: &str, kind: Kind, stated: Vec<(usize, [Slot; 2])>) -> Parent {
    Parent {
        code: code.to_owned(),
        kind,
        stated,
        phased: false,
        proven: false,
        looks: Vec::new(),
        scores: Vec::new(),
        species: None,
        sterile: false,
    }
}

impl Draft {
    fn new(seed: u64, of: Of) -> Draft {
        let mut dice = Dice::new(seed);
        let mut season = Season::new(FIRST + 2000);
        let mut lines = vec!["init".to_owned()];
        let most = match seed % 4 {
            _ if of == Of::Linked => {
                link(&mut season, &mut lines, &mut dice);
                4
            }
            _ if of == Of::Apart => {
                season.loci = vec![Locus::pair("J", "j"), Locus::pair("Z", "z")];
                add_each_alone(&mut season, &mut lines);
                4
            }
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
            dice,
            lines,
            ledger: Ledger {
                season,
                origins: Vec::new(),
                seedlings: Vec::new(),
            },
            founders: 0,
            most,
            is_apart: of == Of::Apart,
        }
    }

    pub fn plants(&self) -> usize {
        self.ledger.season.parents.len()
    }

    pub fn code(&self, plant: usize) -> String {
        self.ledger.season.parents[plant].code.clone()
    }

    /// A plant with a statement, mostly of every locus, and the statement as typed.
    fn stated(&mut self, code: &str, kind: Kind, chance: f64) -> (Parent, String) {
        let linked = !self.ledger.season.chromosome.is_empty();
        let phased = linked && self.dice.chance(0.6);
        let sign = if phased { "|" } else { "/" };
        let mut stated = Vec::new();
        let mut typed = Vec::new();
        for locus in 0..self.ledger.season.loci.len() {
            if !self.dice.chance(chance) {
                continue;
            }
            let mut slots = [
                [Some(0), Some(0)],
                [Some(0), Some(1)],
                [Some(1), Some(1)],
                [Some(0), None],
                [Some(0), Some(1)],
            ][self.dice.below(if linked { 5 } else { 4 })];
            if phased && self.dice.chance(0.5) {
                slots.reverse();
            }
            let alleles = &self.ledger.season.loci[locus].alleles;
            let word =
                |slot: Slot| slot.map_or("_".to_owned(), |at| alleles[usize::from(at)].clone());
            typed.push(format!("{}{sign}{}", word(slots[0]), word(slots[1])));
            stated.push((locus, slots));
        }
        let typed = match typed.is_empty() {
            true => String::new(),
            false => format!(" --genotype '{}'", typed.join(" ")),
        };
        let mut plant = parent(code, kind, stated);
        plant.phased = phased;
        (plant, typed)
    }

    fn add_founders(&mut self, count: usize) {
        for code in ["NL", "CW", "ED"].iter().take(count) {
            let (kind, flag) = [
                (Kind::Line, "--line"),
                (Kind::Packet, "--packet"),
                (Kind::Plant, "--plant"),
            ][self.dice.below(3)];
            let (mut founder, typed) = self.stated(code, kind, 0.7);
            let mut looks = String::new();
            if self.dice.chance(0.4) {
                let traits = self.ledger.season.traits.len();
                let of = if traits > 1 {
                    self.dice.below(traits)
                } else {
                    0
                };
                let class = self.dice.below(2);
                founder.looks.push((of, class));
                looks = format!(" --looks {}", self.ledger.season.traits[of].classes[class]);
            }
            self.lines
                .push(format!("parent add {code} {flag}{typed}{looks}"));
            self.ledger.season.parents.push(founder);
        }
        self.founders = count;
    }

    fn add_bred(&mut self) {
        let season = &self.ledger.season;
        let is_line = season.loci.len() == 1 || !season.chromosome.is_empty();
        let (kind, flag, fixed) = match is_line && self.dice.chance(0.5) {
            true => (Kind::Line, "--line", 0.95),
            false => (Kind::Plant, "--plant", 0.0),
        };
        let (plant, typed) = self.stated("P1", kind, 0.5);
        self.lines
            .push(format!("parent add P1 {flag} --pedigree NL/CW{typed}"));
        self.ledger.season.parents.push(plant);
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
        let passes = if self.ledger.season.traits.len() > 1 {
            3
        } else {
            2
        };
        for _ in 0..self.dice.between(1, passes) {
            let day = up + self.dice.days(5, 30);
            let mut typed = String::new();
            let traits = self.ledger.season.traits.len();
            let of = if traits > 1 {
                self.dice.below(traits)
            } else {
                0
            };
            for (at, own) in readings.iter_mut().enumerate() {
                if self.is_apart && of == 1 && at > 1 {
                    continue;
                }
                // A seedling is read once a day and trait.
                let read = |(t, mark): &(usize, Mark)| *t == of && mark.age == day - up;
                if self.dice.chance(0.2) || own.iter().any(read) {
                    continue;
                }
                let class = usize::from(self.dice.chance(likely));
                own.push((
                    of,
                    Mark {
                        age: day - up,
                        class,
                        error: 0.005,
                    },
                ));
                let name = &self.ledger.season.traits[of].classes[class];
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
        let (plant, typed) = self.stated(&code, Kind::Plant, 0.3);
        let tray = &self.ledger.season.batches[batch].tray;
        self.lines.push(format!(
            "parent add {code} --from {tray}-{:02}{typed}",
            seedling + 1
        ));
        self.ledger.season.parents.push(plant);
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

/// The ledger of a seed.
pub fn draft(seed: u64, of: Of) -> Draft {
    let mut draft = Draft::new(seed, of);
    let founders = match draft.most {
        4 => 2,
        _ => draft.dice.between(2, 3),
    };
    draft.add_founders(founders);
    let may_be_bred = draft.most > 4 || of == Of::Linked;
    if may_be_bred && draft.dice.chance(0.4) {
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

/// Two linked loci, by measured recombination or by their places; each read by a trait of its own, and perhaps both by
/// one more.
fn link(season: &mut Season, lines: &mut Vec<String>, dice: &mut Dice) {
    season.loci = vec![Locus::pair("J", "j"), Locus::pair("Z", "z")];
    add_each_alone(season, lines);
    if dice.chance(0.5) {
        let veins = Trait::dominant("veins", ["dark", "pale"], &[0, 1]);
        season.traits.push(veins);
        lines.push(added("veins", ["dark", "pale"], "J/_ Z/_"));
    }
    let r = if dice.chance(0.5) {
        let far = [0.5, 1.0, 12.5, 40.0, 90.0][dice.below(5)];
        lines.push("locus set J --chromosome 3 --at 5".into());
        lines.push(format!("locus set Z --chromosome 3 --at {}", 5.0 + far));
        // Haldane 1919: r = (1 - exp(-2d))/2 with d in Morgans.
        (1.0 - (-far / 50.0_f64).exp()) / 2.0
    } else {
        let r = [0.0, 0.01, 0.1, 0.25, 0.4][dice.below(5)];
        lines.push(format!("locus set Z --recombines J={r}"));
        r
    };
    season.chromosome.push(Step {
        from: 0,
        to: 1,
        r: [r, r],
    });
}

/// A trait of two classes, as it is typed.
fn added(code: &str, [first, other]: [&str; 2], pattern: &str) -> String {
    format!(
        "trait add {code} --classes {first},{other} --rule '{pattern} => {first}' --rule 'else => {other}'"
    )
}

/// A trait for each of two loci.
fn add_each_alone(season: &mut Season, lines: &mut Vec<String>) {
    season.traits = vec![
        Trait::dominant("sheen", ["satin", "matt"], &[0]),
        Trait::dominant("felt", ["felted", "bald"], &[1]),
    ];
    lines.push(added("sheen", ["satin", "matt"], "J/_"));
    lines.push(added("felt", ["felted", "bald"], "Z/_"));
}
