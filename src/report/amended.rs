//! The answer of `amend`: what the entry said, what it says, and what follows.

use serde::Serialize;

use super::consequences::Consequences;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};

/// What `amend` did.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AmendedAnswer {
    /// The new entry.
    pub entry: i64,
    /// The entry it corrects.
    pub amends: i64,
    /// The command as it stands now.
    pub command: String,
    /// What the entry said.
    pub was: Option<String>,
    /// What it says now.
    pub now: Option<String>,
    /// Field by field, later entries included.
    pub changed: Vec<String>,
    /// Later entries that say something else now.
    pub later: Vec<LaterEntry>,
    /// Things that are called otherwise from now on.
    pub renamed: Vec<Renamed>,
    /// What to write on the tag, where that is another text now.
    pub tag: Option<String>,
    /// What the grower should know beside it.
    pub notes: Vec<String>,
    /// What changes in today's answers.
    pub answers: Consequences,
}

/// A thing that is called otherwise from now on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Renamed {
    /// Its old code.
    pub was: String,
    /// Its new code.
    pub is: String,
    /// Later entries that were typed with the old code, and stay as typed.
    pub typed_with: Vec<i64>,
    /// Whether a tag or label may say the old code.
    #[serde(skip)]
    pub on_tags: bool,
}

impl Renamed {
    /// `RB is called RBL from now on; entries 9 and 12 were typed with RB and stay as typed.`
    fn words(&self) -> String {
        let Self { was, is, .. } = self;
        let numbers: Vec<String> = self.typed_with.iter().map(i64::to_string).collect();
        let typed = match &numbers[..] {
            [] => ".".to_owned(),
            [one] => format!("; entry {one} was typed with {was} and stays as typed."),
            all => format!(
                "; entries {} were typed with {was} and stay as typed.",
                listed(all, "and")
            ),
        };
        let tags = match self.on_tags {
            true => format!(" A tag or label with {was} on it still says {was}."),
            false => String::new(),
        };
        format!("{was} is called {is} from now on{typed}{tags}")
    }
}

/// A later entry that says something else now.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LaterEntry {
    /// Its number.
    pub entry: i64,
    /// Its command.
    pub command: String,
    /// What it said.
    pub was: Option<String>,
    /// What it says now.
    pub now: Option<String>,
}

impl Answer for AmendedAnswer {
    fn words(&self, page: Page) -> String {
        let wrap = |text: &str| wrapped(text, page.width, "  ");
        let mut lines = vec![wrap(&format!(
            "Entry {} amended: {}. 'locule undo' takes that back.",
            self.amends,
            shown(&self.changed.join("; "))
        ))];
        lines.extend(told(&self.was, &self.now, page));
        lines.extend(self.renamed.iter().map(|one| wrap(&one.words())));
        lines.extend(self.tag.iter().map(|tag| wrap(&format!("Tag: {tag}"))));
        // An entry that says the same of rows that moved is in the JSON.
        let otherwise = self.later.iter().filter(|later| later.was != later.now);
        for later in otherwise {
            let command = shown(&later.command);
            lines.push(wrap(&format!(
                "Entry {} ({command}) follows suit.",
                later.entry
            )));
            lines.extend(told(&later.was, &later.now, page));
        }
        lines.push(self.answers.words(page.width));
        lines.join("\n")
    }
}

fn told(was: &Option<String>, now: &Option<String>, page: Page) -> Vec<String> {
    if was == now {
        return Vec::new();
    }
    let line = |when: &str, said: &Option<String>| {
        let said = said.as_ref()?;
        Some(wrapped(&format!("  {when}: {said}"), page.width, "       "))
    };
    [line("was", was), line("now", now)]
        .into_iter()
        .flatten()
        .collect()
}
