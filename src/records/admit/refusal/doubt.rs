//! What is merely implausible: days in the wrong order, counts that do not add up. Both facts are named.

use super::{Kind, Remedy};
use crate::records::day::Day;

/// Days in an order that cannot be, or plants acted on after their end.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Order {
    /// A day that has not come.
    #[error("{day} is in the future; today is {today}")]
    Future {
        /// The day typed.
        day: Day,
        /// Today.
        today: Day,
    },
    /// A stretch of days that ends before it begins.
    #[error("the stretch ends on {until}, before it begins on {from}")]
    Backwards {
        /// Its first day.
        from: Day,
        /// Its last day.
        until: Day,
    },
    /// An effect before its cause.
    #[error("{effect} on {day}, but {cause} on {since}")]
    Before {
        /// What is to be recorded.
        effect: String,
        /// Its day.
        day: Day,
        /// What has to come first.
        cause: String,
        /// When that was.
        since: Day,
        /// What the cause is recorded of.
        of: String,
    },
    /// An effect too soon after its cause.
    #[error("{effect} on {day}, {}; {why}", after(*.days, cause))]
    TooSoon {
        /// What is to be recorded.
        effect: String,
        /// Its day.
        day: Day,
        /// How many days after the cause.
        days: i64,
        /// The cause.
        cause: String,
        /// What the cause is recorded of.
        of: String,
        /// Why that is too soon.
        why: &'static str,
    },
    /// A seedling that is gone.
    #[error("{plant} is to be {act} on {day}, but it {fate} on {since}")]
    Gone {
        /// The seedling.
        plant: String,
        /// What is to be recorded of it.
        act: &'static str,
        /// The day.
        day: Day,
        /// How it went.
        fate: &'static str,
        /// When.
        since: Day,
    },
}

fn after(days: i64, cause: &str) -> String {
    match days {
        0 => format!("the day {cause}"),
        1 => format!("1 day after {cause}"),
        days => format!("{days} days after {cause}"),
    }
}

impl Order {
    /// What to type next.
    #[must_use]
    pub fn remedy(&self) -> Remedy {
        let look = match self {
            Self::Future { .. } => return Remedy::Flags(vec![("--on", "today".to_owned())]),
            Self::Backwards { from, until } => {
                return Remedy::Flags(vec![
                    ("--on", until.to_string()),
                    ("--until", from.to_string()),
                ]);
            }
            Self::Before { of, .. } | Self::TooSoon { of, .. } => of,
            Self::Gone { plant, .. } => return Remedy::Command(format!("locule show {plant}")),
        };
        Remedy::show(look)
    }
}

/// Counts that do not add up.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Excess {
    /// More up than sown.
    #[error("{tray}: {up} up of {sown} sown")]
    Up {
        /// The tray.
        tray: String,
        /// How many would be up.
        up: i64,
        /// How many were sown.
        sown: i64,
    },
    /// More sown than there is.
    #[error("{seeds} seeds to sow, but {lot} has {left} left of {harvested}")]
    Sown {
        /// How many are to be sown.
        seeds: i64,
        /// The lot or lots.
        lot: String,
        /// How many are left.
        left: i64,
        /// How many there were.
        harvested: i64,
    },
    /// More scored than up.
    #[error("{place}: {scored} scored, but {up} up by {day}")]
    Scored {
        /// The tray or cell.
        place: String,
        /// How many would be scored.
        scored: i64,
        /// How many are up.
        up: i64,
        /// The day.
        day: Day,
    },
    /// More scored than sown.
    #[error("{place}: {scored} scored, but {sown} sown")]
    ScoredOfSown {
        /// The tray.
        place: String,
        /// How many would be scored.
        scored: i64,
        /// How many were sown.
        sown: i64,
    },
    /// More seedlings told apart than sown.
    #[error("{seedling} would be the {seedlings}th seedling told apart in {tray}, of {sown} sown")]
    ToldApart {
        /// The tray.
        tray: String,
        /// The seedling.
        seedling: String,
        /// How many it would make.
        seedlings: usize,
        /// How many were sown.
        sown: i64,
    },
    /// A cell that is not among those up.
    #[error("{seedling} is {act}, but it is not among the {up} up by {day}")]
    NotUp {
        /// The seedling or cell.
        seedling: String,
        /// What is to be recorded of it.
        act: &'static str,
        /// How many cells are up.
        up: i64,
        /// The day.
        day: Day,
    },
    /// More removed than stand.
    #[error("{place}: {count} {fate}, but {} there", stand(*.standing))]
    Gone {
        /// The tray or cell.
        place: String,
        /// How many are to go.
        count: i64,
        /// What becomes of them.
        fate: &'static str,
        /// How many stand.
        standing: i64,
    },
    /// More of a look removed than are left of it.
    #[error("{place}: {count} {fate}, but only {standing} {look} are left there")]
    LookGone {
        /// The tray or cell.
        place: String,
        /// How many are to go.
        count: i64,
        /// What becomes of them.
        fate: &'static str,
        /// How many of the look are left.
        standing: i64,
        /// The look meant.
        look: String,
    },
    /// More pods or drops than flowers.
    #[error("{cross}: {outcome}, but {flowers} flowers pollinated")]
    Flowers {
        /// The cross.
        cross: String,
        /// What would have become of them.
        outcome: String,
        /// How many flowers.
        flowers: i64,
    },
    /// More pods harvested than are said to have set.
    #[error("{cross}: {} harvested, but {} set by what is recorded", .harvested.map_or("seed".to_owned(), pods), pods(*.set))]
    PodsSet {
        /// The cross.
        cross: String,
        /// How many pods would have been harvested; nothing where only seed was counted.
        harvested: Option<i64>,
        /// How many pods set.
        set: i64,
    },
    /// More seeds than the pods can hold.
    #[error("{cross}: {seeds} seeds of {pods} pods, more than 1000 in each")]
    Seeds {
        /// The cross.
        cross: String,
        /// How many seeds.
        seeds: i64,
        /// Of how many pods.
        pods: i64,
    },
    /// More leaves than a seedling has.
    #[error("{place}: {leaves} leaves; a seedling that is scored has {most} at most")]
    Leaves {
        /// The seedling or tray.
        place: String,
        /// How many leaves.
        leaves: i64,
        /// How many are believed.
        most: i64,
    },
    /// More leaves than days since the sowing.
    #[error(
        "{place}: {leaves} leaves {days} days after the sowing; a seedling makes no leaf a day"
    )]
    LeavesTooSoon {
        /// The seedling or tray.
        place: String,
        /// How many leaves.
        leaves: i64,
        /// Days from the sowing.
        days: i64,
    },
    /// More cells than seeds.
    #[error("{cells} cells for {seeds} seeds: some cells would be empty")]
    Cells {
        /// How many cells.
        cells: i64,
        /// How many seeds.
        seeds: i64,
    },
    /// Soil in which no pepper seed comes up.
    #[error("soil at {warmth} is outside 15 to 35 °C, where pepper seed comes up")]
    Warmth {
        /// How warm.
        warmth: String,
    },
    /// A father that makes no pollen.
    #[error("{father} is male-sterile and makes no pollen: {why}")]
    NoPollen {
        /// The father.
        father: String,
        /// Where that is recorded.
        why: String,
    },
}

impl Excess {
    /// What sort of refusal it is.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        Kind::Implausible
    }

    /// What to type next.
    #[must_use]
    pub fn remedy(&self) -> Remedy {
        let look = match self {
            Self::Up { tray, .. } | Self::ToldApart { tray, .. } => tray,
            Self::Sown { lot, .. } => lot.split('/').next().unwrap_or(lot),
            Self::Scored { place, .. } | Self::ScoredOfSown { place, .. } => place,
            Self::NotUp { seedling, .. } => {
                return Remedy::Command(format!("locule up {seedling} 1"));
            }
            Self::Gone { place, .. } | Self::LookGone { place, .. } => place,
            Self::PodsSet {
                cross, harvested, ..
            } => {
                let pods = harvested.unwrap_or(1);
                return Remedy::Command(format!("locule set {cross} --pods {pods}"));
            }
            Self::Flowers { cross, .. } | Self::Seeds { cross, .. } => cross,
            Self::Leaves { .. } | Self::LeavesTooSoon { .. } => return Remedy::Without("--leaves"),
            Self::Cells { seeds, .. } => {
                return Remedy::Flags(vec![("--cells", seeds.to_string())]);
            }
            Self::Warmth { .. } => {
                return Remedy::Command("locule care warmth T1 --at 24".to_owned());
            }
            Self::NoPollen { father, .. } => father,
        };
        Remedy::show(look)
    }
}

/// How many pods, as it is spoken.
fn pods(set: i64) -> String {
    match set {
        0 => "no pod".to_owned(),
        1 => "1 pod".to_owned(),
        several => format!("{several} pods"),
    }
}

/// How many seedlings stand, as it is spoken.
fn stand(seedlings: i64) -> String {
    match seedlings {
        1 => "1 seedling stands".to_owned(),
        several => format!("{several} seedlings stand"),
    }
}
