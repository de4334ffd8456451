//! What each kind of tray must say. Each statement gives nothing, or in words how the answer fails it.

use super::view::{View, likeliest};

/// The outcome of a statement.
pub type Held = Result<(), String>;

fn hold(truth: bool, view: &View, what: &str) -> Held {
    if truth {
        Ok(())
    } else {
        Err(format!("{what}\n{view}"))
    }
}

/// Late colour: seedlings that still look green at an age at which true ones may are left to stand, and some are to
/// be looked at again on a day to come.
pub fn late_colour_is_waited_for(view: &View, today: &str) -> Held {
    let green: Vec<_> = view.looking(&["green"]).collect();
    hold(!green.is_empty(), view, "no seedling is green")?;
    hold(
        green.iter().all(|one| one.verdict != "cull"),
        view,
        "a green seedling is culled too early",
    )?;
    let later = |day: &Option<String>| day.as_deref().is_some_and(|day| day > today);
    hold(
        green
            .iter()
            .all(|one| one.verdict != "wait" || later(&one.look_again)),
        view,
        "a wait without a day to come",
    )
}

/// Stray pollen: of everything that can have gone wrong in the tray, pollen of the true donor comes first; and the
/// seedlings that show it are laid to it.
pub fn stray_pollen_names_the_donor(view: &View, donor: &str, classes: &[&str]) -> Held {
    let wrong: Vec<_> = view
        .sources
        .iter()
        .filter(|((word, _), _)| word != "none")
        .cloned()
        .collect();
    let expected = ("pollen".to_owned(), Some(donor.to_owned()));
    hold(
        likeliest(&wrong) == Some(&expected),
        view,
        "the donor is not first among the sources",
    )?;
    let strays: Vec<_> = view.looking(classes).collect();
    hold(!strays.is_empty(), view, "no seedling looks like the stray")?;
    hold(
        strays.iter().all(|one| one.likeliest() == Some(&expected)),
        view,
        "a stray is not laid to its donor",
    )
}

/// A failed emasculation: the mother's own pollen is likelier than everything else together.
pub fn failed_emasculation_says_self(view: &View) -> Held {
    hold(
        view.p(&["self", "all-self"], None) > 0.5,
        view,
        "self does not dominate",
    )
}

/// Swapped labels: each tray names the other's cross.
pub fn swapped_labels_name_each_other(one: &View, other: &View, crosses: (&str, &str)) -> Held {
    hold(
        one.p(&["swapped"], Some(crosses.1)) > 0.5,
        one,
        "not known as the other cross",
    )?;
    hold(
        other.p(&["swapped"], Some(crosses.0)) > 0.5,
        other,
        "not known as the other cross",
    )
}

/// A clean tray of a purple mother: all look right, and nothing is proven by it.
pub fn clean_tray_proves_nothing(view: &View) -> Held {
    hold(
        view.visibility < 0.25,
        view,
        "the marker is said to see much",
    )?;
    hold(
        view.with_verdict("unproven") == view.n,
        view,
        "not every seedling is unproven",
    )
}

/// A dim shelf: while the control pot of selfed purple seed is green as well, no green seedling is culled.
pub fn dim_shelf_culls_nothing(view: &View, control: &View) -> Held {
    hold(
        control.looking(&["purple"]).next().is_none(),
        control,
        "the control pot has coloured",
    )?;
    hold(
        view.with_verdict("cull") == 0,
        view,
        "a seedling of the dim shelf is culled",
    )?;
    hold(
        control.with_verdict("cull") == 0,
        control,
        "a seedling of the control pot is culled",
    )
}

/// A self of a hybrid: green is what one in four of them is, so no seedling is culled for it.
pub fn segregation_culls_nothing(view: &View) -> Held {
    hold(
        view.looking(&["green"]).next().is_some(),
        view,
        "no seedling is green",
    )?;
    hold(
        view.with_verdict("cull") == 0,
        view,
        "a seedling is culled for being green",
    )
}
