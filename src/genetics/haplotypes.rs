//! Seedlings worked out plant by plant: how often each pair of haplotypes comes, generation after generation.
//!
//! For a locus alone, and for a few linked loci over many generations. A plant is a table of weights by its two
//! haplotypes; selfing it goes through the loci in order with the two strands that egg and pollen stand on, so the
//! work grows with the haplotypes squared and the generations, not with 2^meioses. For two loci selfed without end it
//! tends to R = 2r/(1 + 2r) (Haldane & Waddington 1931, Genetics 16:357-374). Rules and classes are not known here;
//! the walk along the chromosomes calls.

use super::descent::{Kin, Line, Sex};
use super::expect::{Breeding, ExpectError};
use super::genotype::Diploid;
use super::linkage::Chromosome;
use super::locus::LocusIx;
use super::selection::pollen;
use super::strands::{Founders, founders_at};
use super::weight::Weight;

/// Strands that egg and pollen can stand on together.
const STANDS: usize = 4;

/// Weights by the alleles on a plant's two strands, locus by locus.
type Table<W> = Vec<W>;

/// A genotype at the loci of a chromosome, and its weight.
type Outcomes<W> = Vec<(Vec<Diploid>, W)>;

/// Bytes held for each of [`cells`]: its weight, once as it was and once as it becomes.
pub(super) const BYTES: f64 = 32.0;

/// How many weights are held at once.
pub(super) fn cells(breeding: &Breeding<'_>, chromosome: &Chromosome) -> Result<f64, ExpectError> {
    let mut cells = STANDS as f64;
    for locus in &chromosome.loci {
        let founders = founders_at::<f64>(breeding, *locus)?;
        let founders = founders.expect("probabilities never outgrow their range");
        let alleles = alleles_of(&founders).len() as f64;
        cells *= founders.len() as f64 * alleles * alleles;
    }
    Ok(cells)
}

/// The genotypes of the seedlings along a chromosome with their weights; `None` where whole numbers do not suffice.
pub(super) fn seedlings<W: Weight>(
    breeding: &Breeding<'_>,
    chromosome: &Chromosome,
) -> Result<Option<Outcomes<W>>, ExpectError> {
    let mut founders = Vec::with_capacity(chromosome.loci.len());
    for locus in &chromosome.loci {
        match founders_at::<W>(breeding, *locus)? {
            Some(at) => founders.push(at),
            None => return Ok(None),
        }
    }
    let block = Block::of(breeding, chromosome, &founders);
    Ok(block.and_then(|block| block.seedlings(breeding, &founders)))
}

fn alleles_of<W>(founders: &Founders<W>) -> Vec<u8> {
    let mut alleles: Vec<u8> = founders.iter().flat_map(|(four, _)| *four).collect();
    alleles.sort_unstable();
    alleles.dedup();
    alleles
}

/// The loci of a chromosome as numbers.
struct Block<'a, W> {
    loci: &'a [LocusIx],
    /// Per locus the alleles that come in; a plant's digit there is the place of its first strand's allele times their
    /// number plus the place of its second's.
    alleles: Vec<Vec<u8>>,
    /// Per locus how far apart neighbouring digits lie in a table.
    strides: Vec<usize>,
    /// Per step the weights of staying on a strand and of changing over, in eggs and in pollen.
    steps: Vec<[[W; 2]; 2]>,
    /// Per locus and allele how well its pollen fertilises, where any of it is weak.
    pollen: Vec<Option<Vec<W>>>,
}

impl<'a, W: Weight> Block<'a, W> {
    fn of(
        breeding: &Breeding<'_>,
        chromosome: &'a Chromosome,
        founders: &[Founders<W>],
    ) -> Option<Self> {
        let alleles: Vec<Vec<u8>> = founders.iter().map(alleles_of).collect();
        let mut strides = Vec::with_capacity(alleles.len());
        let mut size = 1;
        for at in &alleles {
            strides.push(size);
            size *= at.len() * at.len();
        }
        let split = |sex: Sex, step: usize| {
            let step = chromosome.steps[step];
            W::split(match sex {
                Sex::Female => step.female,
                Sex::Male => step.male,
            })
        };
        let steps = (0..chromosome.steps.len())
            .map(|step| Some([split(Sex::Female, step)?, split(Sex::Male, step)?]));
        let weak = chromosome
            .loci
            .iter()
            .zip(&alleles)
            .map(|(locus, alleles)| {
                let Some(by_allele) = pollen(breeding.selection, *locus) else {
                    return Some(None);
                };
                let weights = W::shares(by_allele)?;
                let of = |allele: &u8| weights[usize::from(*allele)];
                Some(Some(alleles.iter().map(of).collect()))
            });
        Some(Self {
            steps: steps.collect::<Option<_>>()?,
            pollen: weak.collect::<Option<_>>()?,
            loci: &chromosome.loci,
            alleles,
            strides,
        })
    }

    fn size(&self) -> usize {
        self.alleles.iter().map(|a| a.len() * a.len()).product()
    }

    /// The places of the two strands' alleles at a locus.
    fn places(&self, index: usize, locus: usize) -> [usize; 2] {
        let alleles = self.alleles[locus].len();
        let digit = index / self.strides[locus] % (alleles * alleles);
        [digit / alleles, digit % alleles]
    }

    /// The index with other alleles at a locus.
    fn replaced(&self, index: usize, locus: usize, [first, second]: [usize; 2]) -> usize {
        let alleles = self.alleles[locus].len();
        let [one, other] = self.places(index, locus);
        let digit = one * alleles + other;
        index - digit * self.strides[locus] + (first * alleles + second) * self.strides[locus]
    }

    fn pair(&self, index: usize, locus: usize) -> Diploid {
        let [first, second] = self.places(index, locus);
        Diploid::new(self.alleles[locus][first], self.alleles[locus][second])
    }

    /// Down the little pedigree, for every way the parents' alleles can lie.
    fn seedlings(&self, breeding: &Breeding<'_>, founders: &[Founders<W>]) -> Option<Outcomes<W>> {
        let lyings = every_lying(founders)?;
        let line = Line::of(breeding.descent, [false, false]);
        let mut known: Vec<Vec<Table<W>>> = Vec::with_capacity(line.kin.len());
        for (at, kin) in line.kin.iter().enumerate() {
            let mut tables: Vec<Table<W>> = Vec::with_capacity(lyings.len());
            let over = match kin {
                Kin::Child { from, .. } => self.pollen_over(&known[from[1]])?,
                _ => None,
            };
            let over = over.as_deref();
            for (lying, (four, _)) in lyings.iter().enumerate() {
                let of = |plant: usize| &known[plant][lying];
                let mut table = match kin {
                    Kin::Parent(parent) => self.parent(four, *parent),
                    Kin::Child {
                        from: [one, other], ..
                    } if one == other => self.selfed(&competing(of(*one), over)?)?,
                    Kin::Child { from, .. } => {
                        let eggs = self.gametes(of(from[0]), Sex::Female, false)?;
                        let fathers = competing(of(from[1]), over)?;
                        self.joined(&eggs, &self.gametes(&fathers, Sex::Male, true)?)?
                    }
                    Kin::Doubled { from, .. } => self.gametes(of(*from), Sex::Male, false)?,
                };
                self.take_out(&mut table, &line, at, breeding);
                tables.push(table);
            }
            W::reduce(&mut tables.iter_mut().flatten().collect::<Vec<_>>());
            // A plant that was bred has one offspring; only the named parents are asked again.
            for plant in kin.parents() {
                if !matches!(line.kin[plant], Kin::Parent(_)) {
                    known[plant] = Vec::new();
                }
            }
            known.push(tables);
        }
        let last = known.pop().expect("a descent ends in a seedling");
        let mut outcomes = Vec::new();
        for (table, (_, weight)) in last.into_iter().zip(lyings) {
            for (index, share) in table.into_iter().enumerate() {
                if share != W::default() {
                    let genotype = (0..self.loci.len()).map(|locus| self.pair(index, locus));
                    outcomes.push((genotype.collect(), share.times(weight)?));
                }
            }
        }
        W::reduce(&mut outcomes.iter_mut().map(|(_, w)| w).collect::<Vec<_>>());
        Some(outcomes)
    }

    fn parent(&self, four: &[[u8; 4]], parent: usize) -> Table<W> {
        let mut table = vec![W::default(); self.size()];
        let index = (0..self.loci.len()).fold(0, |index, locus| {
            let place = |strand: usize| {
                let allele = four[locus][2 * parent + strand];
                let known = self.alleles[locus].iter().position(|a| *a == allele);
                known.expect("the alleles are those of the parents")
            };
            self.replaced(index, locus, [place(0), place(1)])
        });
        table[index] = W::ONE;
        table
    }

    /// Per plant the reciprocal of what its pollen weighs in all, on one scale for every way the parents' alleles can
    /// lie; nothing where no pollen is weak.
    fn pollen_over(&self, lyings: &[Table<W>]) -> Option<Option<Vec<W>>> {
        if self.pollen.iter().all(Option::is_none) {
            return Some(None);
        }
        let mut sums = Vec::with_capacity(self.size());
        for index in 0..self.size() {
            let is_there = lyings.iter().any(|plants| plants[index] != W::default());
            sums.push(match is_there {
                true => self.pollen_of(index)?,
                false => W::default(),
            });
        }
        Some(Some(W::reciprocals(&sums)?))
    }

    /// What the pollen of a plant weighs in all.
    fn pollen_of(&self, index: usize) -> Option<W> {
        let mut strands = [W::ONE; 2];
        for locus in 0..self.loci.len() {
            if locus > 0 {
                strands = crossed(strands, self.steps[locus - 1][1])?;
            }
            if let Some(pollen) = &self.pollen[locus] {
                let places = self.places(index, locus);
                strands = [
                    strands[0].times(pollen[places[0]])?,
                    strands[1].times(pollen[places[1]])?,
                ];
            }
        }
        strands[0].plus(strands[1])
    }

    /// The offspring by own pollen of plants in a table, whose weights are over what their pollen weighs.
    fn selfed(&self, plants: &Table<W>) -> Option<Table<W>> {
        let mut stands: [Table<W>; STANDS] = std::array::from_fn(|_| plants.clone());
        for locus in 0..self.loci.len() {
            if locus > 0 {
                let [egg, grain] = self.steps[locus - 1];
                let [none, by_egg, by_grain, both] = &mut stands;
                cross_over(none, by_egg, egg)?;
                cross_over(by_grain, both, egg)?;
                cross_over(none, by_grain, grain)?;
                cross_over(by_egg, both, grain)?;
            }
            for (stand, table) in stands.iter_mut().enumerate() {
                *table = self.drawn(table, locus, [stand & 1, stand >> 1])?;
            }
        }
        let [mut sum, rest @ ..] = stands;
        for table in rest {
            for (sum, more) in sum.iter_mut().zip(table) {
                *sum = sum.plus(more)?;
            }
        }
        Some(sum)
    }

    /// At a locus the parent's alleles give way to those that egg and pollen take from the strands they stand on.
    fn drawn(&self, table: &Table<W>, locus: usize, strands: [usize; 2]) -> Option<Table<W>> {
        self.moved(table, locus, self.pollen[locus].as_ref(), |places| {
            strands.map(|strand| places[strand])
        })
    }

    /// The weights with the alleles at a locus replaced by others, times what the pollen of the second weighs.
    fn moved(
        &self,
        table: &Table<W>,
        locus: usize,
        pollen: Option<&Vec<W>>,
        to: impl Fn([usize; 2]) -> [usize; 2],
    ) -> Option<Table<W>> {
        let (alleles, stride) = (self.alleles[locus].len(), self.strides[locus]);
        let digits = alleles * alleles;
        let mut moved = vec![W::default(); table.len()];
        for digit in 0..digits {
            let [first, second] = to([digit / alleles, digit % alleles]);
            let factor = pollen.map(|pollen| pollen[second]);
            for start in (0..table.len()).step_by(stride * digits) {
                let (from, into) = (
                    start + digit * stride,
                    start + (first * alleles + second) * stride,
                );
                for at in 0..stride {
                    let weight = match factor {
                        Some(factor) => table[from + at].times(factor)?,
                        None => table[from + at],
                    };
                    moved[into + at] = moved[into + at].plus(weight)?;
                }
            }
        }
        Some(moved)
    }

    /// The gametes of plants, each as the plant that it doubled would be; `competes` says whether weak pollen counts.
    fn gametes(&self, plants: &Table<W>, sex: Sex, competes: bool) -> Option<Table<W>> {
        let mut strands = [plants.clone(), plants.clone()];
        for locus in 0..self.loci.len() {
            if locus > 0 {
                let [egg, grain] = self.steps[locus - 1];
                let step = if sex == Sex::Female { egg } else { grain };
                let [one, other] = &mut strands;
                cross_over(one, other, step)?;
            }
            let pollen = self.pollen[locus].as_ref().filter(|_| competes);
            for (strand, table) in strands.iter_mut().enumerate() {
                *table = self.moved(table, locus, pollen, |places| [places[strand]; 2])?;
            }
        }
        let [one, other] = strands;
        one.into_iter().zip(other).map(|(a, b)| a.plus(b)).collect()
    }

    /// The offspring of two plants by their gametes, each given as the plant that it doubled would be.
    fn joined(&self, eggs: &Table<W>, grains: &Table<W>) -> Option<Table<W>> {
        let some = |table: &Table<W>| -> Vec<(usize, W)> {
            let all = table.iter().copied().enumerate();
            all.filter(|(_, weight)| *weight != W::default()).collect()
        };
        let (eggs, grains) = (some(eggs), some(grains));
        let mut joined = vec![W::default(); self.size()];
        for (egg, weight) in &eggs {
            for (grain, other) in &grains {
                let index = (0..self.loci.len()).fold(0, |index, locus| {
                    let pair = [self.places(*egg, locus)[0], self.places(*grain, locus)[0]];
                    self.replaced(index, locus, pair)
                });
                joined[index] = weight.times(*other)?;
            }
        }
        Some(joined)
    }

    /// Leaves out plants that are dead, or not bred from.
    fn take_out(&self, table: &mut Table<W>, line: &Line, at: usize, breeding: &Breeding<'_>) {
        if breeding.selection.is_empty() {
            return;
        }
        for (index, weight) in table.iter_mut().enumerate() {
            let gone = (self.loci.iter().enumerate()).any(|(i, locus)| {
                line.is_gone(at, *locus, self.pair(index, i), breeding.selection)
            });
            if gone {
                *weight = W::default();
            }
        }
    }
}

/// The weight of each plant divided by what its pollen weighs in all, so that every plant gives as much seed.
fn competing<W: Weight>(plants: &Table<W>, over: Option<&[W]>) -> Option<Table<W>> {
    let Some(over) = over else {
        return Some(plants.clone());
    };
    let shares = plants.iter().zip(over);
    shares.map(|(plant, over)| plant.times(*over)).collect()
}

/// The weights of two strands, plant by plant, after a step along the chromosome.
fn cross_over<W: Weight>(one: &mut Table<W>, other: &mut Table<W>, step: [W; 2]) -> Option<()> {
    for (one, other) in one.iter_mut().zip(other) {
        [*one, *other] = crossed([*one, *other], step)?;
    }
    Some(())
}

/// Two strands after a step along the chromosome: each stays or changes over.
fn crossed<W: Weight>([one, other]: [W; 2], [stays, turns]: [W; 2]) -> Option<[W; 2]> {
    Some([
        one.times(stays)?.plus(other.times(turns)?)?,
        other.times(stays)?.plus(one.times(turns)?)?,
    ])
}

/// The four alleles of the parents at every locus, and the weight of their lying so.
type Lying<W> = (Vec<[u8; 4]>, W);

fn every_lying<W: Weight>(founders: &[Founders<W>]) -> Option<Vec<Lying<W>>> {
    let mut lyings = vec![(Vec::new(), W::ONE)];
    for at in founders {
        let mut longer = Vec::with_capacity(lyings.len() * at.len());
        for (so_far, weight) in &lyings {
            for (four, more) in at {
                longer.push(([&so_far[..], &[*four]].concat(), weight.times(*more)?));
            }
        }
        lyings = longer;
    }
    Some(lyings)
}
