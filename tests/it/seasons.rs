//! What the demo shows holds over many seasons: the same statements, on 200 random ones whose truth is known.
//!
//! Codes, names, dates, tools, counts and what each seed became differ from season to season. The onset of purple,
//! slips of the pen (one reading in 200) and the spread from tray to tray are drawn from the starting beliefs that
//! the program itself has, so that the statements test its sums and not its beliefs.
//!
//! Each statement is held to twice. Where everything written down of the tray is true and final it must hold in
//! every season. One tray in about fourteen holds a slip of the pen or a purple seedling that is still green at six
//! weeks; over all seasons, with those, it must hold in nine of ten.

use std::collections::BTreeMap;

use locule::stats::multinomial::{ExactTest, exact_test};

use crate::kinds::grow::Tray;
use crate::kinds::season::Season;
use crate::kinds::statements::{self as say, Held};
use crate::kinds::view::View;

const SEASONS: u64 = 200;

/// How often a statement held and failed.
#[derive(Default)]
struct Record {
    held: usize,
    failed: usize,
}

/// The statements over all seasons.
#[derive(Default)]
struct Book {
    records: BTreeMap<&'static str, Record>,
    /// Failures although everything written down was true.
    broken: Vec<String>,
    culled: i64,
    culled_true: i64,
    /// Seasons whose self of the hybrid is far from 3:1.
    far_from_3_to_1: usize,
}

impl Book {
    fn enter(&mut self, statement: &'static str, read_true: bool, held: Held) {
        let record = self.records.entry(statement).or_default();
        match held {
            Ok(()) => record.held += 1,
            Err(how) => {
                record.failed += 1;
                if read_true {
                    self.broken.push(format!("{statement}: {how}"));
                }
            }
        }
    }

    fn enter_season(&mut self, season: &Season) {
        let views = season.bench.suspects();
        let of = |tray: &Tray| season.view(&views, tray);
        let trays = &season.trays;
        // Late colour says something where some are green still.
        if of(&trays.late).looking(&["green"]).next().is_some() {
            let held = say::late_colour_is_waited_for(of(&trays.late), &season.today.to_string());
            self.enter("late colour", true, held);
        }
        let stray =
            say::stray_pollen_names_the_donor(of(&trays.stray), &season.donor, &["green", "hairy"]);
        self.enter("stray pollen", trays.stray.read_true(), stray);
        // Of a tray that is selfed through and through a late or dim one looks the same.
        if trays.failed.off() < trays.failed.scored() {
            self.enter(
                "failed emasculation",
                trays.failed.read_true(),
                say::failed_emasculation_says_self(of(&trays.failed)),
            );
        }
        let (one, other) = &trays.swapped;
        if one.scored() >= 6 && other.scored() >= 6 {
            let crosses = (season.swapped.0.as_str(), season.swapped.1.as_str());
            let held = say::swapped_labels_name_each_other(of(one), of(other), crosses);
            self.enter("swapped labels", one.read_true() && other.read_true(), held);
        }
        self.enter(
            "clean tray",
            trays.clean.read_true(),
            say::clean_tray_proves_nothing(of(&trays.clean)),
        );
        // The control pot speaks only while it is green: one purple in it, even a slip, proves the light.
        if !trays.control.purple_once() {
            self.enter(
                "dim shelf",
                !trays.dim.purple_once(),
                say::dim_shelf_culls_nothing(of(&trays.dim), of(&trays.control)),
            );
        }
        self.enter(
            "segregation",
            true,
            say::segregation_culls_nothing(of(&trays.f2)),
        );
        self.count_ratio(&trays.f2);
        for tray in [
            &trays.late,
            &trays.stray,
            &trays.failed,
            one,
            other,
            &trays.clean,
            &trays.f2,
        ] {
            self.count_culls(of(tray), tray);
        }
    }

    fn count_ratio(&mut self, f2: &Tray) {
        let purple = f2
            .grown
            .iter()
            .filter(|one| one.looks[0] == "purple")
            .count() as u64;
        let green = f2.grown.len() as u64 - purple;
        match exact_test(&[purple, green], &[3.0, 1.0]) {
            ExactTest::P(p) => self.far_from_3_to_1 += usize::from(p < 0.05),
            ExactTest::Declined(why) => panic!("two classes of forty are few outcomes: {why:?}"),
        }
    }

    fn count_culls(&mut self, view: &View, tray: &Tray) {
        for answer in view.seedlings.iter().filter(|one| one.verdict == "cull") {
            self.culled += answer.count;
            self.culled_true += tray.meant(answer).filter(|one| !one.off).count() as i64;
        }
    }
}

#[test]
fn what_the_demo_shows_holds_over_random_seasons() {
    let mut book = Book::default();
    for seed in 0..SEASONS {
        book.enter_season(&Season::new(seed));
    }
    assert!(book.broken.is_empty(), "{}", book.broken.join("\n"));
    assert_eq!(book.records.len(), 7);
    for (statement, Record { held, failed }) in &book.records {
        assert!(
            held + failed >= 150,
            "{statement}: only {} seasons can be held to it",
            held + failed
        );
        assert!(
            *failed * 10 <= held + failed,
            "{statement}: failed in {failed} of {} seasons",
            held + failed
        );
    }
    assert!(
        book.culled > 2000 && book.culled_true * 50 <= book.culled,
        "{} of {} culls are true seedlings",
        book.culled_true,
        book.culled
    );
    // At the 5 % level 10 of 200 are expected to look far; more than 21 have a chance of 1 in 2,000 (binomial).
    assert!(
        book.far_from_3_to_1 <= 21,
        "{} seasons are far from 3:1",
        book.far_from_3_to_1
    );
}
