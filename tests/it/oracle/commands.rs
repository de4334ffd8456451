//! The command lines that enter a season, each as a list of arguments, without the ledger's own flags.

use super::season::{
    Day, Event, Kind, Look, Parent, Pollination, Season, Seedling, Seen, Slot, Sown, Trait, What,
    iso,
};

/// One command line.
type Line = Vec<String>;

impl Season {
    /// Every command from `init` to the last reading, in the order in which they are to be run.
    pub fn commands(&self) -> Vec<Line> {
        let mut lines = vec![words(&["init"])];
        self.describe_traits(&mut lines);
        lines.extend(self.parents.iter().map(|p| self.add_parent(p)));
        for parent in &self.parents {
            for &(day, t, class) in &parent.scores {
                let line = words(&["score", &parent.code, &self.class_word(t, class, true)]);
                lines.push(on(line, day));
            }
        }
        for f in &self.in_flower {
            let code = &self.parents[f.plant].code;
            let line = words(&[
                "parent",
                "in-flower",
                code,
                "--on",
                &iso(f.from),
                "--until",
                &iso(f.until),
            ]);
            lines.push(line);
        }
        lines.extend(self.pollinations.iter().map(|p| self.pollinate(p)));
        self.bring_in_seed(&mut lines);
        let mut at = 0;
        while at < self.events.len() {
            let run = self.scoring_run(at);
            lines.push(if run > 1 {
                self.score_list(at, run)
            } else {
                self.enter(&self.events[at])
            });
            at += run;
        }
        lines
    }

    fn describe_traits(&self, lines: &mut Vec<Line>) {
        for locus in &self.loci {
            if locus.symbol != "A" {
                lines.push(words(&[
                    "locus",
                    "set",
                    &locus.symbol,
                    "--alleles",
                    &locus.alleles.join(","),
                ]));
            }
            if let Some(share) = locus.share {
                let share = format!("{}={share}", locus.alleles[0]);
                lines.push(words(&["locus", "set", &locus.symbol, "--share", &share]));
            }
        }
        for step in &self.chromosome {
            let [from, to] = [step.from, step.to].map(|at| self.loci[at].symbol.as_str());
            let parted = format!("{from}={}", step.r[0]);
            lines.push(words(&["locus", "set", to, "--recombines", &parted]));
        }
        lines.extend(
            self.traits
                .iter()
                .filter(|t| !t.built_in)
                .map(|t| self.add_trait(t)),
        );
    }

    fn add_trait(&self, t: &Trait) -> Line {
        let mut line = words(&["trait", "add", &t.code, "--classes", &t.classes.join(",")]);
        for rule in &t.rules {
            let pattern = match rule.pattern.is_empty() {
                true => "else".to_string(),
                false => self.genotype(&rule.pattern, '/'),
            };
            line.extend(words(&[
                "--rule",
                &format!("{pattern} => {}", t.classes[rule.class]),
            ]));
        }
        if let Some(late) = &t.late {
            let order = format!("{} after {}", t.classes[late.class], t.classes[late.after]);
            line.extend(words(&[
                "--late",
                &order,
                "--median-days",
                &late.median.to_string(),
            ]));
            line.extend(words(&[
                "--spread",
                &late.spread.to_string(),
                "--ceiling",
                &late.ceiling.to_string(),
            ]));
        }
        if t.misread != 0.005 {
            line.extend(words(&["--misread", &t.misread.to_string()]));
        }
        line
    }

    fn genotype(&self, pairs: &[(usize, [Slot; 2])], sign: char) -> String {
        let pair = |(locus, slots): &(usize, [Slot; 2])| {
            let name =
                |s: &Slot| s.map_or("_", |a| self.loci[*locus].alleles[usize::from(a)].as_str());
            format!("{}{sign}{}", name(&slots[0]), name(&slots[1]))
        };
        pairs.iter().map(pair).collect::<Vec<_>>().join(" ")
    }

    fn add_parent(&self, p: &Parent) -> Line {
        let mut line = words(&["parent", "add", &p.code, &format!("Invented {}", p.code)]);
        line.push(kind_flag(p.kind).into());
        if !p.stated.is_empty() {
            let sign = if p.phased { '|' } else { '/' };
            line.extend(words(&["--genotype", &self.genotype(&p.stated, sign)]));
        }
        if p.proven {
            line.push("--proven".into());
        }
        if !p.looks.is_empty() {
            let looks: Vec<String> = p
                .looks
                .iter()
                .map(|&(t, c)| self.class_word(t, c, t > 0))
                .collect();
            line.extend(words(&["--looks", &looks.join(",")]));
        }
        if let Some(species) = &p.species {
            line.extend(words(&["--species", species]));
        }
        if p.sterile {
            line.extend(words(&["--cytoplasm", "sterile"]));
        }
        line
    }

    fn pollinate(&self, p: &Pollination) -> Line {
        let mother = &self.parents[p.mother].code;
        let mut line = match p.mother == p.father {
            true => words(&["self", mother]),
            false => words(&["cross", mother, &self.parents[p.father].code]),
        };
        line.extend(words(&["--code", &p.cross]));
        if let Some(tool) = &p.tool {
            line.extend(words(&["--tool", tool]));
        }
        if p.wiped {
            line.push("--wiped".into());
        }
        if p.covered {
            line.push("--covered".into());
        }
        if p.mother != p.father && !p.emasculated {
            line.push("--not-emasculated".into());
        }
        on(line, p.day)
    }

    fn bring_in_seed(&self, lines: &mut Vec<Line>) {
        for l in &self.lots {
            let (pods, seeds) = (l.pods.to_string(), l.seeds.to_string());
            lines.push(on(
                words(&["harvest", &l.cross, "--pods", &pods, "--seeds", &seeds]),
                l.day,
            ));
        }
        for p in &self.packets {
            let code = &self.parents[p.plant].code;
            lines.push(on(
                words(&["packet", code, "--seeds", &p.seeds.to_string()]),
                p.day,
            ));
        }
        for b in &self.batches {
            let what = match &b.sown {
                Sown::Cross(code) => code,
                Sown::Packet(p) => &self.parents[*p].code,
            };
            let mut line = words(&[
                "sow",
                what,
                "--seeds",
                &b.seeds.to_string(),
                "--tray",
                &b.tray,
            ]);
            if let Some(cells) = b.cells {
                line.extend(words(&["--cells", &cells.to_string()]));
            }
            if let Some(place) = &b.place {
                line.extend(words(&["--place", place]));
            }
            lines.push(on(line, b.day));
        }
    }

    /// How many events from here are single readings of one tray, trait and day, each seedling once.
    fn scoring_run(&self, at: usize) -> usize {
        let key = |e: &Event| match e.what {
            What::Score(s, t, _) if s.part.is_none() && t == 0 => Some((e.batch, e.day, s)),
            _ => None,
        };
        let Some((batch, day, _)) = key(&self.events[at]) else {
            return 1;
        };
        let mut named = Vec::new();
        for event in &self.events[at..] {
            match key(event) {
                Some((b, d, s)) if (b, d) == (batch, day) && !named.contains(&s) => named.push(s),
                _ => break,
            }
        }
        named.len()
    }

    fn score_list(&self, at: usize, run: usize) -> Line {
        let first = &self.events[at];
        let mut line = words(&["score", &self.batches[first.batch].tray]);
        for event in &self.events[at..at + run] {
            if let What::Score(s, t, seen) = event.what {
                line.push(format!("{}={}", s.cell, self.seen_word(t, seen)));
            }
        }
        on(line, first.day)
    }

    fn enter(&self, e: &Event) -> Line {
        let tray = self.batches[e.batch].tray.as_str();
        let line = match &e.what {
            What::UpCount(n) => words(&["up", tray, &n.to_string()]),
            What::UpCells(cells) => words(&["up", tray, "--cells", &list(cells)]),
            What::UpInCell(cell, n) => words(&["up", &format!("{tray}-{cell:02}"), &n.to_string()]),
            What::Score(s, t, seen) => {
                let mut line = words(&[
                    "score",
                    &seedling_code(tray, *s),
                    &self.seen_word(*t, *seen),
                ]);
                if *seen == Seen::Early && *t > 0 {
                    line.extend(words(&["--trait", &self.traits[*t].code]));
                }
                line
            }
            What::Tally(cell, looks) => self.tally(tray, *cell, looks),
            What::Cull(s) => words(&["cull", &seedling_code(tray, *s)]),
        };
        on(line, e.day)
    }

    fn tally(&self, tray: &str, cell: Option<usize>, looks: &[(Look, usize)]) -> Line {
        let name = |look: &Look| {
            let bare: Vec<String> = look
                .iter()
                .map(|&(t, c)| self.class_word(t, c, false))
                .collect();
            bare.join("/")
        };
        match cell {
            None => {
                let mut line = words(&["score", tray]);
                line.extend(looks.iter().map(|(look, n)| format!("{}={n}", name(look))));
                line
            }
            Some(cell) => {
                let mut line = words(&["score", &format!("{tray}-{cell:02}")]);
                line.extend(
                    looks
                        .iter()
                        .flat_map(|(look, n)| [n.to_string(), name(look)]),
                );
                line
            }
        }
    }

    fn seen_word(&self, t: usize, seen: Seen) -> String {
        match seen {
            Seen::Firm(c) => self.class_word(t, c, false),
            Seen::Doubtful(c) => format!("maybe-{}", self.class_word(t, c, false)),
            Seen::Early => "early".into(),
        }
    }

    fn class_word(&self, t: usize, class: usize, with_trait: bool) -> String {
        let t = &self.traits[t];
        match with_trait {
            true => format!("{}:{}", t.code, t.classes[class]),
            false => t.classes[class].clone(),
        }
    }
}

/// The code printed for a seedling of a tray.
pub fn seedling_code(tray: &str, s: Seedling) -> String {
    format!(
        "{tray}-{:02}{}",
        s.cell,
        s.part.map(String::from).unwrap_or_default()
    )
}

fn kind_flag(kind: Kind) -> &'static str {
    match kind {
        Kind::Line => "--line",
        Kind::Packet => "--packet",
        Kind::Plant => "--plant",
    }
}

fn words(parts: &[&str]) -> Line {
    parts.iter().map(ToString::to_string).collect()
}

fn on(mut line: Line, day: Day) -> Line {
    line.extend(words(&["--on", &iso(day)]));
    line
}

fn list(cells: &[usize]) -> String {
    cells
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(",")
}
