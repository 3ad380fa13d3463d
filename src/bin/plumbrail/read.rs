//! The bytes of a file, all of one state of it.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Reads a file, a pipe or a device to its end. A file that is written to meanwhile is an error: half of it would be old and
/// half new. One that is replaced by a rename meanwhile is read as it was.
///
/// It is not mapped into memory: a mapped file that is cut short ends the program, and one that is written to changes under
/// the eyes of who reads it.
pub fn whole(path: &Path) -> io::Result<Vec<u8>> {
    let mut file = File::open(path)?;
    let before = file.metadata()?;
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes)?;
    let after = file.metadata()?;
    let is_one = before.len() == after.len() && before.modified().ok() == after.modified().ok();
    // What has no length, like a pipe, has no state either.
    if before.is_file() && before.len() > 0 && !(is_one && bytes.len() as u64 == after.len()) {
        return Err(io::Error::other("it was changed while it was read; run again when it is saved"));
    }
    Ok(bytes)
}
