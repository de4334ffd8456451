//! What is said on standard error beside an answer: how the ledger stands, and what lies beside it.

use std::path::Path;

use super::world::quoted;
use crate::report::text::shown;
use crate::store::Notice;

/// A notice of the store in words, with what helps; commands to try stand on lines of their own.
pub fn of_notice(notice: &Notice) -> String {
    let said = shown(&notice.to_string());
    match notice {
        Notice::AtOdds { copy: None, .. } => format!(
            "warning: {said}\n  nothing is recorded in it before a backup of your own is put back ('locule restore FILE') or this one is accepted as it stands; no copy kept here holds what it lacks\n\
             try: locule accept"
        ),
        Notice::AtOdds { copy, .. } => format!(
            "warning: {said}\n  nothing is recorded in it before the newer file is put back or this one is accepted as it stands\n\
             try: {}\ntry: locule accept",
            restore(copy.as_deref())
        ),
        Notice::JournalSetAside { .. } | Notice::TakenBack { .. } | Notice::OnCopy { .. } => {
            format!("note: {said}")
        }
    }
}

/// The command that puts a copy in the ledger's place; without one, that lists the copies there are.
pub fn restore(copy: Option<&Path>) -> String {
    copy.map_or_else(
        || "locule restore".to_owned(),
        |copy| format!("locule restore {}", quoted(&copy.display().to_string())),
    )
}

/// A file beside the ledger that by its name is another state of it.
pub fn of_copy(copy: &Path) -> String {
    format!(
        "note: {} looks like another copy of this ledger, left by a sync program or by hand; it was not read",
        shown(&copy.display().to_string())
    )
}
