//! What is said on standard error beside an answer: how the ledger stands, and what lies beside it.

use std::path::Path;

use crate::report::text::shown;
use crate::store::Notice;

/// A notice of the store in words, with what helps; commands to try stand on lines of their own.
pub fn of_notice(notice: &Notice) -> String {
    let said = shown(&notice.to_string());
    match notice {
        Notice::AtOdds { .. } => format!(
            "warning: {said}\n  nothing is recorded in it before the newer file is put back or this one is accepted as it stands\n\
             try: locule restore copy.db\ntry: locule accept"
        ),
        Notice::JournalSetAside { .. } | Notice::TakenBack { .. } | Notice::OnCopy { .. } => {
            format!("note: {said}")
        }
    }
}

/// A file beside the ledger that by its name is another state of it.
pub fn of_copy(copy: &Path) -> String {
    format!(
        "note: {} looks like another copy of this ledger, left by a sync program or by hand; it was not read",
        shown(&copy.display().to_string())
    )
}
