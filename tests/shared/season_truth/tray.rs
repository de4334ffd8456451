//! A tray as it really is: where each seed came from, when it came up, what it shows, and what is written down of it.

use std::collections::BTreeMap;

use locule::records::cells::CellRange;
use locule::records::entry::{Look, ScoreWhat, Seen, SeenWhat, UpWhat};

use super::dice::Dice;
use super::genes::{Genes, LEAF, STEM, gamete, recessive_seed, seed, shows, stranger};
use super::ledger::{Ledger, class, count, seen, spot};
use super::plan::{Care, Plan, Sowing, Stock};
use super::plants::{Plant, strangers};
use super::trouble::{Cause, Trouble};
use super::world::{Dim, Followed, World};

/// Median age in days at which purple shows, spread of its log, and spread of the log from tray to tray.
const ONSET: (f64, f64, f64) = (12.0, 0.35, 0.25);
/// The share of purple plants that ever show it.
const CEILING: f64 = 0.9999;
/// P(a seed comes up), and the days after sowing on which it does.
const EMERGENCE: (f64, i64, i64) = (0.85, 7, 13);
/// P(a reading is written down with `maybe-`), and P(such a one is wrong).
const DOUBTFUL: (f64, f64) = (0.05, 0.1);
/// P(a seedling is found too young to be scored).
const EARLY: f64 = 0.02;
/// Days from sowing to when a tray is taken to be up.
pub const UP: i64 = 10;
/// The day after coming up on which the stem is read.
const STEM_READ: i64 = 28;
/// A look is not allowed by the label under this share.
const ALLOWED: f64 = 0.05;

/// One seedling.
#[derive(Debug, Clone)]
pub struct Grown {
    /// Its cell.
    pub cell: i64,
    /// What it is.
    pub genes: Genes,
    /// Where it came from; nothing where it is as labelled.
    pub from: Option<Cause>,
    up: i64,
    onset: f64,
    /// Whether it stands yet.
    pub stands: bool,
    /// Whether the leaves were last seen as they will be in the end.
    pub final_leaf: bool,
    /// Whether anything written down of it was not what it showed.
    pub misread: bool,
    /// What was written down of it last, as the ledger holds it.
    pub look: Look,
}

/// A tray.
#[derive(Debug)]
pub struct Tray {
    /// How it was sown.
    pub sowing: Sowing,
    /// What went wrong with it.
    pub trouble: Trouble,
    /// Whether there is no light.
    pub dim: bool,
    /// What came up.
    pub grown: Vec<Grown>,
    /// By gene, whether the label allows the dominant and the recessive look.
    allowed: [[bool; 2]; 2],
    /// How its flowers were treated.
    care: Care,
    /// Whether both parents are what is stated of them.
    pub parents_as_stated: bool,
    key: Vec<u64>,
}

impl Tray {
    /// Sows a tray.
    pub fn new(world: &World, plan: &Plan, plants: &[Plant], at: usize, key: &[u64]) -> Self {
        let sowing = plan.sowings[at].clone();
        let beside = [key, &[5, sowing.number]].concat();
        let (mother, father) = plan.parents(sowing.stock);
        let lot = match sowing.stock {
            Stock::Cross(cross) if world.shared_lots => [key, &[6, cross as u64]].concat(),
            _ => [key, &[5, sowing.number, 6, u64::from(sowing.pot)]].concat(),
        };
        let trouble = Trouble::draw(world, plan, &sowing, &mut Dice::of(&lot));
        let light = match world.dim_by {
            Dim::Shelf => [key, &[7, sowing.day as u64]].concat(),
            Dim::Tray => [beside.as_slice(), &[7]].concat(),
        };
        let key = [beside.as_slice(), &[u64::from(sowing.pot)]].concat();
        let mut tray = Self {
            allowed: allowed(&plants[mother], (father != mother).then(|| &plants[father])),
            parents_as_stated: plants[mother].is_as_stated() && plants[father].is_as_stated(),
            care: plan.care(sowing.stock),
            dim: Dice::of(&light).chance(world.dim),
            grown: Vec::new(),
            sowing,
            trouble,
            key,
        };
        tray.germinate(world, plan, plants);
        tray
    }

    /// How its flowers were treated, as results name it.
    pub const fn care_word(&self) -> &'static str {
        match self.care {
            Care::LeftIn => "anthers left in",
            Care::TakenOut => "anthers out",
            Care::Covered => "anthers out, covered",
            Care::SelfOpen | Care::SelfCovered => "selfs and packets",
        }
    }

    fn dice(&self, keys: &[u64]) -> Dice {
        Dice::of(&[self.key.as_slice(), keys].concat())
    }

    fn germinate(&mut self, world: &World, plan: &Plan, plants: &[Plant]) {
        let shares = strangers(plants);
        let outside = &mut self.dice(&[8]);
        let outside: [Genes; 2] =
            std::array::from_fn(|_| seed(stranger(outside, shares), stranger(outside, shares)));
        let pace = ONSET.2 * self.dice(&[9]).normal();
        let (chance, from, until) = EMERGENCE;
        for cell in 1..=self.sowing.seeds {
            let dice = &mut self.dice(&[10, cell as u64]);
            if !dice.chance(chance) {
                continue;
            }
            let up = self.sowing.day + dice.between(from, until);
            let late = (pace + ONSET.1 * dice.normal()).exp();
            let onset = if dice.chance(CEILING) {
                ONSET.0 * world.slower * late
            } else {
                f64::INFINITY
            };
            let from = self.trouble.of_seed(dice);
            let parents = plan.parents(self.sowing.stock);
            self.grown.push(Grown {
                cell,
                genes: make_seed(dice, from, (plan, plants), parents, shares, outside),
                from,
                up,
                onset,
                stands: true,
                final_leaf: false,
                misread: false,
                look: Look::new(),
            });
        }
    }

    /// Writes down what came up, day by day as it did.
    pub fn count_up(&self, world: &World, ledger: &mut Ledger) {
        if !world.emergence {
            return;
        }
        let mut days: BTreeMap<i64, Vec<i64>> = BTreeMap::new();
        for one in &self.grown {
            days.entry(one.up).or_default().push(one.cell);
        }
        let mut so_far = 0;
        for (day, cells) in days {
            so_far += cells.len() as i64;
            let what = if self.sowing.by_cell && world.followed == Followed::OneByOne {
                UpWhat::Cells(CellRange::from(cells))
            } else {
                UpWhat::Batch(count(so_far))
            };
            ledger.up(&self.sowing.code, what, day);
        }
    }

    /// Looks at what stands, and writes it down.
    pub fn look(&mut self, world: &World, ledger: &mut Ledger, day: i64) {
        let since = day - self.sowing.day - UP;
        let stem_now = self.sowing.stem && since == STEM_READ;
        let counted = world.followed == Followed::Counted;
        let (key, dim) = (self.key.clone(), self.dim);
        for one in self.grown.iter_mut().filter(|one| one.stands) {
            let dice =
                &mut Dice::of(&[key.as_slice(), &[11, one.cell as u64, since as u64]].concat());
            let shown = shows(one.genes, LEAF) && !dim && (day - one.up) as f64 >= one.onset;
            one.final_leaf = shown == shows(one.genes, LEAF);
            let mut look = vec![one.write(dice, world, shown, ["purple", "green"], counted)];
            let stem = shows(one.genes, STEM);
            let stem = one.write(dice, world, stem, ["hairy", "smooth"], counted);
            if stem_now {
                look.push(stem);
            }
            one.look = look;
        }
        let standing = self.grown.iter().filter(|one| one.stands);
        let what = if counted {
            let mut looks: Vec<(i64, Look)> = Vec::new();
            for one in standing {
                match looks.iter_mut().find(|(_, look)| *look == one.look) {
                    Some((n, _)) => *n += 1,
                    None => looks.push((1, one.look.clone())),
                }
            }
            ScoreWhat::Tally(
                looks
                    .into_iter()
                    .map(|(n, look)| (count(n), look))
                    .collect(),
            )
        } else {
            ScoreWhat::Spots(
                standing
                    .map(|one| (vec![spot(one.cell)], one.look.clone()))
                    .collect(),
            )
        };
        ledger.score(&self.sowing.code, what, day);
    }

    /// Whether an off-type of these genes looks in the end as the label does not allow, in the leaves.
    pub fn leaves_betray(&self, genes: Genes) -> bool {
        !self.allowed[LEAF][usize::from(!shows(genes, LEAF))]
    }

    /// The same, in anything that is read of the tray.
    pub fn betrayed(&self, genes: Genes) -> bool {
        let stem = !self.allowed[STEM][usize::from(!shows(genes, STEM))];
        self.leaves_betray(genes) || self.sowing.stem && stem
    }
}

impl Grown {
    /// Writes down one trait, now and then wrongly, doubtfully, or not at all.
    fn write(
        &mut self,
        dice: &mut Dice,
        world: &World,
        shown: bool,
        classes: [&'static str; 2],
        counted: bool,
    ) -> Seen {
        let (early, doubtful, wrong) = (dice.chance(EARLY), dice.chance(DOUBTFUL.0), dice.unit());
        if early && !counted && classes[0] == "purple" {
            return seen(SeenWhat::Early);
        }
        let doubtful = doubtful && !counted;
        let slip = wrong < if doubtful { DOUBTFUL.1 } else { world.misread };
        self.misread |= slip;
        let word = classes[usize::from(shown == slip)];
        if doubtful {
            seen(SeenWhat::Maybe(word.to_owned()))
        } else {
            class(word)
        }
    }
}

/// The class of a piece of a look.
pub fn word(seen: &Seen) -> &str {
    match &seen.what {
        SeenWhat::Class(word) | SeenWhat::Maybe(word) => word,
        SeenWhat::Early => "early",
        SeenWhat::Dim => "dim",
    }
}

/// By gene, whether the label allows the dominant and the recessive look in the end, the parents at their word.
fn allowed(mother: &Plant, father: Option<&Plant>) -> [[bool; 2]; 2] {
    [LEAF, STEM].map(|gene| {
        let father = father.map(|father| father.at_its_word(gene));
        let recessive = recessive_seed(&mother.at_its_word(gene), father.as_ref());
        [1.0 - recessive >= ALLOWED, recessive >= ALLOWED]
    })
}

/// A seed: as labelled, or from where it came.
fn make_seed(
    dice: &mut Dice,
    from: Option<Cause>,
    (plan, plants): (&Plan, &[Plant]),
    (mother, father): (usize, usize),
    shares: [f64; 2],
    outside: [Genes; 2],
) -> Genes {
    let genes = |plant: usize| plants[plant].genes;
    let of = |dice: &mut Dice, mother: Genes, father: Genes| {
        let egg = gamete(dice, mother);
        seed(egg, gamete(dice, father))
    };
    match from {
        None | Some(Cause::Nothing | Cause::Mixed) => of(dice, genes(mother), genes(father)),
        Some(Cause::OwnPollen | Cause::AllOwn) => of(dice, genes(mother), genes(mother)),
        Some(Cause::PollenOf(plant) | Cause::AllPollenOf(plant)) => {
            of(dice, genes(mother), genes(plant))
        }
        Some(Cause::UnknownPollen) => {
            let egg = gamete(dice, genes(mother));
            seed(egg, stranger(dice, shares))
        }
        Some(Cause::StraySeed(stock) | Cause::Swapped(Some(stock))) => {
            let (mother, father) = plan.parents(stock);
            of(dice, genes(mother), genes(father))
        }
        Some(Cause::UnknownSeed) => {
            let egg = stranger(dice, shares);
            seed(egg, stranger(dice, shares))
        }
        Some(Cause::Swapped(None)) => of(dice, outside[0], outside[1]),
    }
}
