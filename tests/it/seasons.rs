//! What the demo shows holds over many seasons: the same statements, on 200 random ones whose truth is known.
//!
//! Names, codes, dates, tools, counts and what each seed became differ from season to season; the onset of purple,
//! slips of the pen and germination are drawn from the same starting beliefs that the program has.

use crate::kinds::season::Season;
use crate::kinds::statements as say;
use crate::kinds::view::View;

const SEASONS: u64 = 200;

fn seasons() -> Vec<(Season, Vec<View>)> {
    (0..SEASONS)
        .map(Season::new)
        .map(|season| {
            let views = season.bench.suspects();
            (season, views)
        })
        .collect()
}

#[test]
fn what_the_demo_shows_holds_over_random_seasons() {
    let started = std::time::Instant::now();
    let all = seasons();
    eprintln!("{:?}", started.elapsed());
    let mut fails = std::collections::BTreeMap::<&str, (u64, u64, Vec<String>)>::new();
    for (season, views) in &all {
        let of = |tray| season.view(views, tray);
        let t = &season.trays;
        let today = season.today.to_string();
        let mut add = |k: &'static str, applies: bool, h: Result<(), String>| {
            let e = fails.entry(k).or_default();
            if applies {
                e.0 += 1;
                if let Err(w) = h {
                    e.1 += 1;
                    e.2.push(w);
                }
            }
        };
        let green = of(&t.late).looking(&["green"]).next().is_some();
        add(
            "late",
            green,
            say::late_colour_is_waited_for(of(&t.late), &today),
        );
        add("clean", true, say::clean_tray_proves_nothing(of(&t.clean)));
        add(
            "stray",
            true,
            say::stray_pollen_names_the_donor(of(&t.stray), &season.donor, &["green", "hairy"]),
        );
        add(
            "failed",
            t.failed.off() >= 3,
            say::failed_emasculation_says_self(of(&t.failed)),
        );
        add(
            "swapped",
            t.swapped.0.scored() >= 6 && t.swapped.1.scored() >= 6,
            say::swapped_labels_name_each_other(
                of(&t.swapped.0),
                of(&t.swapped.1),
                (&season.swapped.0, &season.swapped.1),
            ),
        );
        add(
            "dim",
            of(&t.control).looking(&["purple"]).next().is_none(),
            say::dim_shelf_culls_nothing(of(&t.dim), of(&t.control)),
        );
        add("f2", true, say::segregation_culls_nothing(of(&t.f2)));
    }
    for (k, (n, f, w)) in &fails {
        eprintln!("{k}: {f} of {n} fail");
        for w in w.iter().take(4) {
            eprintln!("{w}");
        }
    }
}
