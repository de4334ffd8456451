//! The one door to standard output and standard error.
//!
//! An answer is collected first and written once. Nothing passes that a terminal could take for a
//! command: control and direction characters are shown by number (or escaped, in JSON).

use std::io::{ErrorKind, Write};

use super::exit::{Exit, Kept, Outcome};
use crate::report::text::{escaped_json, harmless};

/// Writes an outcome and gives the status to end with.
#[must_use]
pub fn tell(outcome: &Outcome) -> Exit {
    let out = if outcome.json {
        escaped_json(&outcome.out)
    } else {
        harmless(&outcome.out)
    };
    let shown = write_all(&mut std::io::stdout().lock(), &out);
    let said = write_all(&mut std::io::stderr().lock(), &harmless(&outcome.err));
    match shown {
        Ok(()) => match said {
            Err(error) if error.kind() != ErrorKind::BrokenPipe => Exit::System,
            _ => outcome.exit,
        },
        Err(error) if error.kind() == ErrorKind::BrokenPipe => match outcome.exit {
            Exit::Done => Exit::Done,
            other => other,
        },
        Err(error) => {
            let message = unshown(outcome.kept, &error);
            // Standard error may be gone as well; the status still tells.
            let _ = write_all(&mut std::io::stderr().lock(), &harmless(&message));
            Exit::System
        }
    }
}

fn write_all(to: &mut impl Write, text: &str) -> std::io::Result<()> {
    if text.is_empty() {
        return Ok(());
    }
    to.write_all(text.as_bytes())?;
    to.flush()
}

fn unshown(kept: Kept, error: &std::io::Error) -> String {
    let state = match kept {
        Kept::Nothing => "nothing was recorded".to_owned(),
        Kept::Done => "what was asked for is done all the same".to_owned(),
        Kept::Entry(entry) => format!("it is recorded, as entry {entry}"),
    };
    format!(
        "error: the answer could not be written to standard output; {state}\n  {error}\ntry: locule history\n"
    )
}

/// Says a bug in one line, wherever it happens.
pub fn announce_bugs() {
    std::panic::set_hook(Box::new(|panic| {
        let what = panic
            .payload()
            .downcast_ref::<&str>()
            .map(|text| (*text).to_owned())
            .or_else(|| panic.payload().downcast_ref::<String>().cloned())
            .unwrap_or_else(|| "no message".to_owned());
        let place = panic
            .location()
            .map(|at| format!(" ({}:{})", at.file(), at.line()))
            .unwrap_or_default();
        let message = format!(
            "error: a bug in locule: {what}{place}\n  what was recorded before is safe\ntry: locule check-ledger\n"
        );
        let _ = write_all(&mut std::io::stderr().lock(), &harmless(&message));
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_could_not_be_shown_says_whether_it_is_recorded() {
        let error = std::io::Error::from(ErrorKind::StorageFull);
        assert!(unshown(Kept::Nothing, &error).contains("nothing was recorded"));
        assert!(unshown(Kept::Done, &error).contains("is done all the same"));
        assert!(unshown(Kept::Entry(12), &error).contains("it is recorded, as entry 12"));
    }
}
