//! A disk that keeps only what was flushed, and of the rest whatever chance lets through.
//!
//! Data survive sector by sector, each sector at any of the states it went through; a length at any of its states; a
//! name's coming, going or moving each for itself. Flushing a file keeps its data and its length but not its
//! name; flushing a folder keeps the names in it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::trace::Call;
use crate::chance::Chance;
use crate::stage::Tree;

/// The unit that is written wholly or not at all.
const SECTOR: usize = 512;

type Inode = usize;

/// Names as they stand: a folder, or a file by number.
type Names = BTreeMap<PathBuf, Option<Inode>>;

/// What happens to a name.
#[derive(Debug, Clone)]
enum Naming {
    Set(PathBuf, Option<Inode>),
    Remove(PathBuf),
    Move(PathBuf, PathBuf, Inode),
}

/// What happens to a file.
#[derive(Debug, Clone)]
enum Filling {
    Write(usize, Vec<u8>),
    Length(usize),
}

/// The disk: what a reader sees now, what is kept for certain, and what is not flushed yet.
#[derive(Debug, Clone)]
pub struct Disk {
    seen: Names,
    contents: Vec<Vec<u8>>,
    kept: Names,
    kept_contents: Vec<Vec<u8>>,
    namings: Vec<Naming>,
    fillings: Vec<(Inode, Filling)>,
}

/// How much of what was not flushed survives.
#[derive(Debug, Clone, Copy)]
enum Luck {
    Nothing,
    Everything,
    Prefix(f64),
    Each(f64),
}

impl Luck {
    fn draw(chance: &mut Chance) -> Self {
        match chance.below(8) {
            0 => Self::Nothing,
            1 => Self::Everything,
            2 | 3 => Self::Prefix(chance.share()),
            _ => Self::Each(chance.share()),
        }
    }

    /// Of `count` things in a row, which survive.
    fn choose(self, count: usize, chance: &mut Chance) -> Vec<bool> {
        (0..count)
            .map(|at| match self {
                Self::Nothing => false,
                Self::Everything => true,
                Self::Prefix(share) => (at as f64) < share * (count + 1) as f64 - 0.5,
                Self::Each(share) => chance.share() < share,
            })
            .collect()
    }

    /// At which of its states, 0 to `count`, something stands that goes through them in order.
    fn state(self, count: usize, chance: &mut Chance) -> usize {
        match self {
            Self::Nothing => 0,
            Self::Everything => count,
            Self::Prefix(_) | Self::Each(_) => chance.below(count + 1),
        }
    }
}

impl Disk {
    /// A disk on which all is flushed.
    pub fn new(tree: &Tree) -> Self {
        let (mut seen, mut contents) = (Names::new(), Vec::new());
        for (path, held) in &tree.0 {
            let inode = held.as_ref().map(|bytes| {
                contents.push(bytes.clone());
                contents.len() - 1
            });
            seen.insert(path.clone(), inode);
        }
        Self {
            kept: seen.clone(),
            kept_contents: contents.clone(),
            seen,
            contents,
            namings: Vec::new(),
            fillings: Vec::new(),
        }
    }

    /// What a reader sees now.
    pub fn tree(&self) -> Tree {
        tree_of(&self.seen, &self.contents)
    }

    fn inode(&self, path: &Path) -> Inode {
        let found = self.seen.get(path).copied().flatten();
        found.unwrap_or_else(|| panic!("no file {} in the model", path.display()))
    }

    /// Does what a call did.
    pub fn take(&mut self, call: &Call) {
        match call {
            Call::Open { path, make, empty } => {
                if *make && !self.seen.contains_key(path) {
                    self.contents.push(Vec::new());
                    self.kept_contents.push(Vec::new());
                    self.name(Naming::Set(path.clone(), Some(self.contents.len() - 1)));
                } else if *empty {
                    self.fill(self.inode(path), Filling::Length(0));
                }
            }
            Call::Write { path, at, bytes } => {
                self.fill(self.inode(path), Filling::Write(*at, bytes.clone()));
            }
            Call::Copy {
                from,
                from_at,
                to,
                to_at,
                length,
            } => {
                let bytes = self.contents[self.inode(from)][*from_at..from_at + length].to_vec();
                self.fill(self.inode(to), Filling::Write(*to_at, bytes));
            }
            Call::Truncate { path, length } => {
                self.fill(self.inode(path), Filling::Length(*length))
            }
            Call::Flush { path } => self.flush(path),
            Call::Unlink { path } => self.name(Naming::Remove(path.clone())),
            Call::Rename { from, to } => {
                self.name(Naming::Move(from.clone(), to.clone(), self.inode(from)));
            }
            Call::Link { from, to } => self.name(Naming::Set(to.clone(), Some(self.inode(from)))),
            Call::Mkdir { path } => self.name(Naming::Set(path.clone(), None)),
            Call::Said => {}
        }
    }

    fn name(&mut self, naming: Naming) {
        rename(&mut self.seen, &naming);
        self.namings.push(naming);
    }

    fn fill(&mut self, inode: Inode, filling: Filling) {
        refill(&mut self.contents[inode], &filling);
        self.fillings.push((inode, filling));
    }

    fn flush(&mut self, path: &Path) {
        if path == Path::new("") || self.seen.get(path) == Some(&None) {
            let in_it = |name: &Path| name.parent() == Some(path);
            let (now, later) = std::mem::take(&mut self.namings)
                .into_iter()
                .partition(|naming| match naming {
                    Naming::Set(name, _) | Naming::Remove(name) => in_it(name),
                    Naming::Move(from, to, _) => in_it(from) || in_it(to),
                });
            self.namings = later;
            let now: Vec<Naming> = now;
            now.iter().for_each(|naming| rename(&mut self.kept, naming));
            return;
        }
        let inode = self.inode(path);
        self.fillings.retain(|(of, _)| *of != inode);
        self.kept_contents[inode].clone_from(&self.contents[inode]);
    }

    /// What a cut of the power at this moment may leave.
    pub fn cut(&self, chance: &mut Chance) -> Tree {
        let luck = Luck::draw(chance);
        let mut names = self.kept.clone();
        let surviving = luck.choose(self.namings.len(), chance);
        for (naming, survives) in self.namings.iter().zip(surviving) {
            if survives {
                rename(&mut names, naming);
            }
        }
        // A name in a folder that did not come is gone with it.
        let folders: BTreeSet<PathBuf> = names
            .iter()
            .filter(|(_, i)| i.is_none())
            .map(|(p, _)| p.clone())
            .collect();
        names.retain(|name, _| {
            name.ancestors()
                .skip(1)
                .all(|up| up == Path::new("") || folders.contains(up))
        });
        let luck = if chance.once_in(3) {
            Luck::draw(chance)
        } else {
            luck
        };
        let mut contents = self.kept_contents.clone();
        let touched: BTreeSet<Inode> = self.fillings.iter().map(|(inode, _)| *inode).collect();
        for inode in touched {
            let pending: Vec<&Filling> = self
                .fillings
                .iter()
                .filter(|(of, _)| *of == inode)
                .map(|(_, filling)| filling)
                .collect();
            tear(&mut contents[inode], &pending, luck, chance);
        }
        tree_of(&names, &contents)
    }
}

fn tree_of(names: &Names, contents: &[Vec<u8>]) -> Tree {
    let held = |inode: &Option<Inode>| inode.map(|inode| contents[inode].clone());
    Tree(
        names
            .iter()
            .map(|(path, inode)| (path.clone(), held(inode)))
            .collect(),
    )
}

fn rename(names: &mut Names, naming: &Naming) {
    match naming {
        Naming::Set(path, inode) => {
            names.insert(path.clone(), *inode);
        }
        Naming::Remove(path) => {
            names.remove(path);
        }
        Naming::Move(from, to, inode) => {
            names.remove(from);
            names.insert(to.clone(), Some(*inode));
        }
    }
}

fn refill(content: &mut Vec<u8>, filling: &Filling) {
    match filling {
        Filling::Length(length) => content.resize(*length, 0),
        Filling::Write(at, bytes) => {
            let end = at + bytes.len();
            if content.len() < end {
                content.resize(end, 0);
            }
            content[*at..end].copy_from_slice(bytes);
        }
    }
}

/// Lets of what was not flushed to a file survive what luck says, sector by sector.
fn tear(content: &mut Vec<u8>, pending: &[&Filling], luck: Luck, chance: &mut Chance) {
    if let Luck::Prefix(_) = luck {
        let count = luck.state(pending.len(), chance);
        pending[..count]
            .iter()
            .for_each(|filling| refill(content, filling));
        return;
    }
    let length = lengthen(content, pending, luck, chance);
    let mut sectors: BTreeMap<usize, Vec<(usize, &[u8])>> = BTreeMap::new();
    for filling in pending {
        let Filling::Write(at, bytes) = filling else {
            continue;
        };
        let mut from = 0;
        while from < bytes.len() {
            let place = at + from;
            let room = SECTOR - place % SECTOR;
            let piece = &bytes[from..bytes.len().min(from + room)];
            sectors
                .entry(place / SECTOR)
                .or_default()
                .push((place, piece));
            from += piece.len();
        }
    }
    for pieces in sectors.values() {
        let states = luck.state(pieces.len(), chance);
        let states = match luck {
            Luck::Each(share) if chance.share() >= share => 0,
            _ => states,
        };
        for (place, piece) in &pieces[..states] {
            let end = length.min(place + piece.len());
            if *place < end {
                content[*place..end].copy_from_slice(&piece[..end - place]);
            }
        }
    }
}

/// Gives a file one of the lengths it went through; what was never written there is zeros, or whatever lay on the disk.
fn lengthen(content: &mut Vec<u8>, pending: &[&Filling], luck: Luck, chance: &mut Chance) -> usize {
    let mut length = content.len();
    let kept = luck.state(pending.len(), chance);
    for filling in &pending[..kept] {
        length = match filling {
            Filling::Length(length) => {
                content.truncate(*length);
                *length
            }
            Filling::Write(at, bytes) => length.max(at + bytes.len()),
        };
    }
    let garbage = matches!(luck, Luck::Each(_)) && chance.once_in(2);
    while content.len() < length {
        content.push(if garbage { chance.next() as u8 } else { 0 });
    }
    length
}
