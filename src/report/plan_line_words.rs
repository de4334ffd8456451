//! The answer of `plan line` in words: the number, the best scheme season by season, what it rests on, the others.

use super::Page;
use super::numbers::percent;
use super::plan_line::{BackLine, GenerationLine, LineAnswer, SchemeLine};
use super::table::Table;
use super::text::{listed, rests_on, shown, wrapped};

/// An answer on a page.
pub(super) struct Words<'a> {
    pub(super) answer: &'a LineAnswer,
    pub(super) page: Page,
}

impl Words<'_> {
    pub(super) fn text(&self) -> String {
        let mut parts = vec![wrapped(&self.answer.headline(), self.page.width, "")];
        parts.extend(self.answer.schemes.first().map(|best| self.seasons(best)));
        parts.push(rests_on(&self.assumptions(), self.page.width));
        if self.answer.schemes.len() > 1 {
            parts.push(self.ways());
        }
        if !self.answer.after_backcrosses.is_empty() {
            parts.push(self.after_backcrosses());
        }
        parts.join("\n\n")
    }

    fn seasons(&self, best: &SchemeLine) -> String {
        let mut table = Table::new(&[">season", "grown", ">seeds", "keep"]);
        table.keep_whole(1, "test of BC1");
        for line in &best.generations {
            let seeds = match line.seeds_each {
                None => line.whole_seeds().to_string(),
                Some(each) => format!("{each} of each, {}", line.whole_seeds()),
            };
            table.row([
                line.season.to_string(),
                line.generation.clone(),
                seeds,
                self.keep(line),
            ]);
        }
        table.text(self.page)
    }

    fn keep(&self, line: &GenerationLine) -> String {
        let wanted = shown(&self.answer.shown);
        let plural = self.answer.want > 1;
        let some = |what: &str| match plural {
            true => format!("{} {what}", self.answer.want),
            false => format!("one {what}"),
        };
        match line.made {
            "tested" => return some(&format!("whose seedlings all show {wanted}")),
            "testcrossed" => return format!("one whose testcross shows {wanted}"),
            _ => {}
        }
        let looks = line.looks.as_ref().map(|looks| {
            let looks: Vec<String> = looks.iter().map(|look| shown(look)).collect();
            listed(&looks, "or")
        });
        if line.ends_with_one {
            let shows = looks.map_or_else(String::new, |looks| format!(" that shows {looks}"));
            return match (plural && line.keep == Some("shown"), shows.is_empty()) {
                (true, false) => format!("{}{}", self.answer.want, shows.replace("shows", "show")),
                _ => format!("any one{shows}").replace("any one that", "one that"),
            };
        }
        let kept = line.kept.unwrap_or(0.0).max(1.0);
        let number = format!("{kept:.0} or so");
        match (line.seeds_each, looks) {
            (None, None) => format!("all, {number}"),
            (None, Some(looks)) => format!("all that show {looks}, {number}"),
            (Some(_), None) => format!("one of each, {number}"),
            (Some(_), Some(looks)) => format!("of each one that shows {looks}, {number}"),
        }
    }

    fn assumptions(&self) -> Vec<String> {
        let answer = self.answer;
        let mut said = vec![format!("start: {}", shown(&answer.start))];
        said.extend(answer.tray.as_ref().map(|tray| {
            let tray = shown(tray);
            format!(
                "seed is sown anew; what stands in {tray} is not reckoned with. Start from one of its plants by its place: locule plan line {tray}-03 --believed"
            )
        }));
        if let (Some(back), Some(donor)) = (&answer.recurrent, &answer.donor_parent) {
            said.push(format!(
                "crossed back to: {}; donor parent: {}",
                shown(back),
                shown(donor)
            ));
        }
        if answer.already.is_some() {
            said.push(self.taken_for());
            return said;
        }
        said.push(format!("comes up: {}", answer.germination.said_at_mean()));
        if answer.is_crossed {
            said.push(format!(
                "not of the label, of seed crossed by hand: {}",
                answer.off_share.said()
            ));
        }
        if answer.off_share.share > 0.0 {
            said.push(
                "the chance takes off-types as known and thrown out; where a self looks like the cross, any one may be one"
                    .to_owned(),
            );
        }
        said.push(format!(
            "seasons: one for each generation grown{}",
            if answer.is_crossed {
                "; the cross itself is not counted"
            } else {
                "; that of the plant itself is not counted"
            }
        ));
        if answer.schemes.len() > 1 {
            said.push(match answer.fewest {
                "plants" => "first stands what takes the fewest plants; --fewest seasons puts the quickest first".to_owned(),
                _ => "first stands what takes the fewest seasons, then the fewest plants; --fewest plants turns that round".to_owned(),
            });
        }
        said.push(format!(
            "each step that can fail has its even share of the {}: the root of it",
            percent(answer.confidence)
        ));
        said.push(self.taken_for());
        said.push(
            "nobody errs at a look, and nothing dies; selfed flowers are kept from strange pollen"
                .to_owned(),
        );
        if answer.by_dominance {
            said.push(
                "of each locus named the more dominant of a plant's alleles shows".to_owned(),
            );
        }
        if answer.is_early
            && answer
                .schemes
                .iter()
                .any(|one| one.way == "backcross-tested")
        {
            said.push("a testcross is one with the donor parent, read in seedlings in the season of the next backcross".to_owned());
        }
        if !answer.phase_open.is_empty() {
            said.push(format!(
                "which alleles lie together is not stated of {}; either way is as likely",
                listed(&answer.phase_open, "and")
            ));
        }
        if !answer.distance_open.is_empty() {
            said.push(format!(
                "taken as independent, though on one chromosome: {}",
                listed(&answer.distance_open, "and")
            ));
        }
        said
    }

    fn taken_for(&self) -> String {
        match self.answer.believed {
            None => "plants are at their word".to_owned(),
            Some(p) if p < 1.0 => format!(
                "plants are what they most likely are by everything recorded, which is {} likely",
                percent(p)
            ),
            Some(_) => "the plant: all that it may be by everything recorded, each as likely as that makes it".to_owned(),
        }
    }

    fn ways(&self) -> String {
        let headings = [
            "ways", "to", ">seasons", ">seeds", ">at once", ">chance", ">open",
        ];
        let mut table = Table::new(&headings);
        let mut notes: Vec<&str> = Vec::new();
        for one in &self.answer.schemes {
            let (name, note) = way_words(one.way);
            if !notes.contains(&note) {
                notes.push(note);
            }
            table.row([
                name.to_owned(),
                one.generation.clone(),
                one.seasons.to_string(),
                one.whole_seeds().to_string(),
                one.most_at_once().to_string(),
                percent(one.probability),
                whole_share(one.still_open),
            ]);
        }
        notes.push(match self.answer.is_crossed {
            true => "at once: the most seeds in one season; open: the share of other genes that differ between the parents and are still both ways in the plant found",
            false => "at once: the most seeds in one season; open: the share of other genes that are both ways in the plant now and still are in the one found",
        });
        let notes = notes
            .iter()
            .map(|note| wrapped(&format!("  {note}"), self.page.width, "  "));
        format!(
            "{}\n{}",
            table.text(self.page),
            notes.collect::<Vec<_>>().join("\n")
        )
    }

    fn after_backcrosses(&self) -> String {
        let answer = self.answer;
        let loci: Vec<String> = answer.after_backcrosses[0]
            .drag
            .iter()
            .map(|drag| drag.locus.clone())
            .collect();
        let mut headings = vec![
            "after".to_owned(),
            format!(">of {}", shown(answer.recurrent.as_deref().unwrap_or("it"))),
            ">still open".to_owned(),
        ];
        headings.extend(loci.iter().map(|locus| format!(">beside {locus}")));
        let mut table = Table::new(&headings.iter().map(String::as_str).collect::<Vec<_>>());
        for line in &answer.after_backcrosses {
            table.row(back_cells(line));
        }
        let open = answer.after_backcrosses[0]
            .drag
            .iter()
            .any(|drag| drag.end_known.contains(&false));
        let mut note = "Beside: centimorgans of the donor parent that stay on either side of the gene, on average.".to_owned();
        if open {
            note.push_str(
                " '<': the chromosome's end is not known there, so it may be less; --arm 60 says it.",
            );
        }
        format!(
            "{}\n{}",
            table.text(self.page),
            wrapped(&note, self.page.width, "")
        )
    }
}

fn back_cells(line: &BackLine) -> Vec<String> {
    let mut cells = vec![
        format!("BC{}", line.backcrosses),
        whole_share(line.recurrent_share),
        whole_share(line.still_open),
    ];
    for drag in &line.drag {
        let side = |at: usize| {
            let sign = if drag.end_known[at] { "" } else { "<" };
            format!("{sign}{:.0}", drag.cm[at])
        };
        cells.push(format!("{} and {} cM", side(0), side(1)));
    }
    cells
}

/// How a scheme selects, in short and at length.
fn way_words(way: &str) -> (&'static str, &'static str) {
    match way {
        "selfing-unselected" => (
            "self, unselected",
            "unselected: one plant of each family, whatever it shows, up to the last generation",
        ),
        "selfing-possible-kept" => (
            "self, hopeless out",
            "hopeless out: plants whose look says that their seed cannot give it are discarded",
        ),
        "selfing-shown-kept" => (
            "self, shown kept",
            "shown kept: in every generation only plants that show all of it are kept",
        ),
        "backcross-by-look" => ("back, by look", "by look: carriers show what they carry"),
        "backcross-tested" => (
            "back, tested",
            "tested: carriers are told by a testcross with the donor parent",
        ),
        "backcross-selfed-between" => (
            "back, selfed between",
            "selfed between: each backcross is selfed, and what shows it is crossed back again",
        ),
        _ => (
            "back, blindly",
            "blindly: several families are crossed back, and only at the end it shows which carried it",
        ),
    }
}

/// A share that is a power of one half, or one less it: 93.75 %.
fn whole_share(p: f64) -> String {
    let written = format!("{:.2}", 100.0 * p);
    format!("{} %", written.trim_end_matches('0').trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_of_one_half_are_written_out() {
        let written: Vec<String> = [0.5, 0.875, 0.9375, 0.03125]
            .iter()
            .map(|p| whole_share(*p))
            .collect();
        assert_eq!(written, ["50 %", "87.5 %", "93.75 %", "3.12 %"]);
    }
}
