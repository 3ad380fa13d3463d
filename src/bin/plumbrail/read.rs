//! The bytes of a file, all of one state of it.

use std::fs::{File, Metadata, OpenOptions};
use std::io::{self, Read};
use std::ops::Deref;
use std::path::Path;

use memmap2::MmapMut;

/// From so many bytes on a file is read into large pages by all cores.
#[cfg(unix)]
const LARGE: u64 = 4 << 20;

/// The bytes of a file.
pub enum Bytes {
    /// As any others.
    Plain(Vec<u8>),
    /// Many: in memory of their own, no file behind it.
    Large(MmapMut),
}

impl Deref for Bytes {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        match self {
            Self::Plain(bytes) => bytes,
            Self::Large(bytes) => bytes,
        }
    }
}

impl From<Vec<u8>> for Bytes {
    fn from(bytes: Vec<u8>) -> Self {
        Self::Plain(bytes)
    }
}

impl From<Bytes> for Vec<u8> {
    fn from(bytes: Bytes) -> Self {
        match bytes {
            Bytes::Plain(bytes) => bytes,
            Bytes::Large(bytes) => bytes.to_vec(),
        }
    }
}

/// Reads a file to its end. One that is written to meanwhile is an error: half of it would be old and half new. One that is
/// replaced by a rename meanwhile is read as it was.
///
/// It is not mapped into memory: a mapped file that is cut short ends the program, and one that is written to changes under
/// the eyes of who reads it.
pub fn whole(path: &Path) -> io::Result<Bytes> {
    within(path, u64::MAX)
}

/// The same for a file of so many bytes at most. Pipes and devices, which may have no end, are not read.
pub fn within(path: &Path, most: u64) -> io::Result<Bytes> {
    let file = options(true).open(path)?;
    let before = file.metadata()?;
    let refused = |why: &str| Err(io::Error::other(why));
    if before.is_dir() {
        return refused("it is a folder, and no file");
    }
    if !before.is_file() {
        return refused("it is a pipe or a device, and no file; what comes from a pipe is read with `-`");
    }
    if before.len() > most {
        return refused(&format!("it has {} bytes; at most {most} are read of such a file", before.len()));
    }
    one_state(&file, bytes_of)
}

fn one_state(file: &File, read: impl FnOnce(&File, u64) -> io::Result<Bytes>) -> io::Result<Bytes> {
    let before = file.metadata()?;
    let bytes = read(file, before.len()).map_err(|error| match error.kind() {
        io::ErrorKind::UnexpectedEof => changed(),
        _ => error,
    })?;
    let after = file.metadata()?;
    let state = |of: &Metadata| (of.len(), of.modified().ok());
    let is_one = state(&before) == state(&after) && bytes.len() as u64 == after.len();
    // What the system makes up as it is read has no length, and no state either.
    if before.len() > 0 && !is_one { Err(changed()) } else { Ok(bytes) }
}

/// How files are opened: never waiting for the other end of a pipe, and through links only where that is wanted.
pub fn options(through_links: bool) -> OpenOptions {
    let mut options = File::options();
    options.read(true);
    #[cfg(unix)]
    {
        use nix::fcntl::OFlag;
        use std::os::unix::fs::OpenOptionsExt;
        let links = if through_links { OFlag::empty() } else { OFlag::O_NOFOLLOW };
        options.custom_flags((OFlag::O_NONBLOCK | links).bits());
    }
    #[cfg(not(unix))]
    let _ = through_links;
    options
}

fn changed() -> io::Error {
    io::Error::other("it was changed while it was read; run again when it is saved")
}

fn bytes_of(mut file: &File, length: u64) -> io::Result<Bytes> {
    #[cfg(unix)]
    if length >= LARGE {
        return large(file, length).map(Bytes::Large);
    }
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes)?;
    Ok(bytes.into())
}

/// On all cores, and into pages as large as the system has: that many small ones cost more than the copying.
#[cfg(unix)]
fn large(file: &File, length: u64) -> io::Result<MmapMut> {
    use rayon::prelude::*;
    use std::os::unix::fs::FileExt;

    /// A multiple of every system's large page.
    const PART: usize = 8 << 20;
    let mut bytes = MmapMut::map_anon(usize::try_from(length).map_err(io::Error::other)?)?;
    // A system without them takes small ones.
    #[cfg(target_os = "linux")]
    let _ = bytes.advise(memmap2::Advice::HugePage);
    let read = |(n, part): (usize, &mut [u8])| file.read_exact_at(part, (n * PART) as u64);
    bytes.par_chunks_mut(PART).enumerate().try_for_each(read)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::time::Duration;

    /// A small file and one that all cores read.
    const LENGTHS: [usize; 2] = [1000, 5 << 20];

    /// What comes of a file of so many `a` when something is done to it before it is read, and something after.
    fn read(length: usize, before: impl FnOnce(&Path), after: impl FnOnce(&Path)) -> io::Result<Bytes> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.dxf");
        fs::write(&path, vec![b'a'; length]).unwrap();
        one_state(&File::open(&path).unwrap(), |file, length| {
            before(&path);
            let bytes = bytes_of(file, length);
            after(&path);
            bytes
        })
    }

    fn open(path: &Path) -> File {
        File::options().write(true).open(path).unwrap()
    }

    fn set_length(length: usize) -> impl FnOnce(&Path) {
        move |path| open(path).set_len(length as u64).unwrap()
    }

    #[test]
    fn a_file_that_is_written_to_while_it_is_read_is_an_error() {
        let nothing = |_: &Path| ();
        let saved = |path: &Path| {
            let at = fs::metadata(path).unwrap().modified().unwrap();
            open(path).set_modified(at + Duration::from_secs(1)).unwrap();
        };
        for length in LENGTHS {
            for changed in [
                read(length, set_length(length + 1), nothing),
                read(length, nothing, set_length(length + 1)),
                read(length, set_length(length - 1), nothing),
                read(length, nothing, set_length(length - 1)),
                read(length, set_length(length / 2), set_length(length)),
                read(length, saved, nothing),
                read(length, nothing, saved),
            ] {
                let why = changed.err().unwrap().to_string();
                assert_eq!(why, "it was changed while it was read; run again when it is saved", "{length}");
            }
        }
    }

    #[test]
    fn a_file_that_is_replaced_while_it_is_read_is_read_as_it_was() {
        let replace = |path: &Path| {
            fs::write(path.with_extension("new"), "newer").unwrap();
            fs::rename(path.with_extension("new"), path).unwrap();
        };
        for length in LENGTHS {
            let bytes = read(length, replace, |_| ()).unwrap();
            assert!(bytes.len() == length && bytes.iter().all(|b| *b == b'a'), "{length}");
        }
    }
}
