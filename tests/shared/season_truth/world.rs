//! Worlds: how things really go, and what the grower does about them.
//!
//! One world is the one that the program believes in; the others go another way while the program goes on believing,
//! or let the grower look longer or closer.

/// How often the stem is read as well as the leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hair {
    /// In no tray.
    Never,
    /// In three trays of ten.
    Sometimes,
    /// In every tray.
    Always,
}

impl Hair {
    /// The share of trays.
    pub const fn share(self) -> f64 {
        match self {
            Self::Never => 0.0,
            Self::Sometimes => 0.3,
            Self::Always => 1.0,
        }
    }
}

/// Where the light fails when it fails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Dim {
    /// Tray by tray.
    Tray,
    /// Over a whole shelf, on which all trays of one sowing day stand.
    Shelf,
}

/// How a tray is written down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Followed {
    /// Every seedling by its cell.
    OneByOne,
    /// So many of each look.
    Counted,
}

/// One world.
#[derive(Debug, Clone)]
pub struct World {
    /// Its name in results and options.
    pub name: &'static str,
    /// What is so in it, for the page.
    pub title: &'static str,
    /// By how much the odds that something went wrong with a tray are multiplied.
    pub trouble: f64,
    /// By how much the median age at which purple shows is multiplied.
    pub slower: f64,
    /// P(a firm reading is wrong).
    pub misread: f64,
    /// P(no light).
    pub dim: f64,
    /// Where.
    pub dim_by: Dim,
    /// Whether own pollen, where it came first, took the whole tray.
    pub whole_pods: bool,
    /// Whether trouble always has two sources.
    pub two_sources: bool,
    /// Whether two trays each are sown from one lot and share what went wrong with it.
    pub shared_lots: bool,
    /// Whether emergence is counted.
    pub emergence: bool,
    /// How trays are written down.
    pub followed: Followed,
    /// Days after coming up, which is ten days after sowing, on which a tray is looked at.
    pub looks: &'static [i64],
    /// How often the stem is read as well.
    pub hair: Hair,
    /// Whether a control pot stands beside every tray.
    pub pot: bool,
    /// Whether every stated genotype is proven.
    pub proven: bool,
    /// Whether the grower pulls what the program says to pull; else at the last look alone.
    pub culls: bool,
    /// Starting beliefs that the grower changes, with their values.
    pub assumes: &'static [(&'static str, &'static str)],
}

/// The world that the program believes in, in its season and out.
const OWN: World = World {
    name: "own",
    title: "as the program believes",
    trouble: 1.0,
    slower: 1.0,
    misread: 0.005,
    dim: 0.02,
    dim_by: Dim::Tray,
    whole_pods: false,
    two_sources: false,
    shared_lots: false,
    emergence: true,
    followed: Followed::OneByOne,
    looks: &[14, 28, 42],
    hair: Hair::Sometimes,
    pot: false,
    proven: false,
    culls: true,
    assumes: &[],
};

/// The program's own world.
pub fn own() -> World {
    OWN
}

/// Worlds that go another way than the program believes, each in one thing.
pub fn wrong() -> Vec<World> {
    vec![
        World {
            name: "trouble",
            title: "contamination five times as likely",
            trouble: 5.0,
            ..OWN
        },
        World {
            name: "slow",
            title: "purple comes 30 % later",
            slower: 1.3,
            ..OWN
        },
        World {
            name: "misread",
            title: "two readings in a hundred wrong",
            misread: 0.02,
            ..OWN
        },
        World {
            name: "dim",
            title: "one tray in ten without light",
            dim: 0.1,
            ..OWN
        },
        World {
            name: "pods",
            title: "own pollen always takes the whole tray",
            whole_pods: true,
            ..OWN
        },
        World {
            name: "two",
            title: "trouble always has two sources",
            two_sources: true,
            ..OWN
        },
        World {
            name: "lots",
            title: "two trays share one lot and its trouble",
            shared_lots: true,
            ..OWN
        },
        World {
            name: "shelf",
            title: "light fails by the shelf",
            dim_by: Dim::Shelf,
            ..OWN
        },
        World {
            name: "uncounted",
            title: "nobody counted emergence",
            emergence: false,
            ..OWN
        },
        World {
            name: "tallied",
            title: "leaves alone, counted by look and not followed",
            followed: Followed::Counted,
            hair: Hair::Never,
            ..OWN
        },
    ]
}

/// Worlds that go as the program believes, in which the grower does more, or less.
pub fn helped() -> Vec<World> {
    vec![
        World {
            name: "leaves",
            title: "leaves alone",
            hair: Hair::Never,
            ..OWN
        },
        World {
            name: "day-56",
            title: "leaves, a further look on day 56",
            hair: Hair::Never,
            looks: &[14, 28, 42, 56],
            ..OWN
        },
        World {
            name: "pot",
            title: "leaves, a control pot beside every tray",
            hair: Hair::Never,
            pot: true,
            ..OWN
        },
        World {
            name: "hair",
            title: "leaves and stem hair",
            hair: Hair::Always,
            ..OWN
        },
        World {
            name: "proven",
            title: "leaves, every stated parent proven",
            hair: Hair::Never,
            proven: true,
            ..OWN
        },
        World {
            name: "all",
            title: "all of these together",
            hair: Hair::Always,
            looks: &[14, 28, 42, 56],
            pot: true,
            proven: true,
            ..OWN
        },
        World {
            name: "company",
            title: "leaves, all trays of a day in one named place",
            hair: Hair::Never,
            dim_by: Dim::Shelf,
            ..OWN
        },
        World {
            name: "patient",
            title: "leaves, nothing pulled before day 42",
            hair: Hair::Never,
            culls: false,
            ..OWN
        },
        World {
            name: "strict",
            title: "leaves, `assume verdict.cull 0.99`",
            hair: Hair::Never,
            assumes: &[("verdict.cull", "0.99")],
            ..OWN
        },
    ]
}

/// Every world, in the order of the page.
pub fn worlds() -> Vec<World> {
    [vec![own()], wrong(), helped()].concat()
}
