//! Why nothing was written, and what to do.

use std::fmt;
use std::io::{self, ErrorKind};

/// Outputs that could not be written.
#[derive(Debug)]
pub struct Unwritten {
    why: String,
    /// What to do.
    pub hint: &'static str,
}

impl fmt::Display for Unwritten {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.why)
    }
}

impl std::error::Error for Unwritten {}

/// An error with what to do, where that is known.
pub fn explained(error: anyhow::Error) -> anyhow::Error {
    let kind = error.chain().find_map(|e| e.downcast_ref::<io::Error>()).map(io::Error::kind);
    match kind.and_then(hint) {
        Some(hint) => Unwritten { why: format!("{error:#}"), hint }.into(),
        None => error,
    }
}

fn hint(kind: ErrorKind) -> Option<&'static str> {
    Some(match kind {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
            "nothing was written, and what lay there is as it was; make room, or name a folder on another disk with --out"
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "nothing was written, and what lay there is as it was; name a folder with --out in which you may write"
        }
        ErrorKind::InvalidFilename => {
            "nothing was written; a name is too long for the disk: give the plan, or the folder with --out, a shorter one"
        }
        ErrorKind::NotFound => "the folder was taken away while files were written into it; run again",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use anyhow::Context;

    #[test]
    fn what_a_user_can_mend_has_a_hint() {
        let told = |kind: ErrorKind| {
            let error = explained(anyhow::Error::from(io::Error::from(kind)).context("cannot write a"));
            let hint = error.downcast_ref::<Unwritten>().map(|u| u.hint);
            (error.to_string(), hint)
        };
        for (kind, word) in [
            (ErrorKind::StorageFull, "make room"),
            (ErrorKind::ReadOnlyFilesystem, "in which you may write"),
            (ErrorKind::NotFound, "taken away"),
        ] {
            let (text, hint) = told(kind);
            assert!(text.starts_with("cannot write a: ") && hint.unwrap().contains(word), "{text}");
        }
        assert_eq!(told(ErrorKind::BrokenPipe).1, None);
        let other = explained(Err::<(), _>(anyhow::anyhow!("x")).context("y").unwrap_err());
        assert_eq!(format!("{other:#}"), "y: x");
    }
}
