//! The input as it lies on disk, without a copy in memory.

#![allow(unsafe_code)]

use std::fs::File;
use std::io::{self, Read};
use std::ops::Deref;
use std::path::Path;

use memmap2::Mmap;

/// Bytes of an input.
#[derive(Debug)]
pub enum Bytes {
    /// Of a file.
    Mapped(Mmap),
    /// Of a pipe, or of a file that is about to be replaced.
    Read(Vec<u8>),
}

impl Deref for Bytes {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        match self {
            Self::Mapped(map) => map,
            Self::Read(bytes) => bytes,
        }
    }
}

/// Maps a file; reads what cannot be mapped: pipes, devices, empty files.
pub fn open(path: &Path) -> io::Result<Bytes> {
    let mut file = File::open(path)?;
    let about = file.metadata()?;
    if about.is_file() && about.len() > 0 {
        // SAFETY: the map is read only. Were another program to write into the file meanwhile, we would see other bytes,
        // which are checked like all bytes from outside; were it to cut the file, the system would end this program
        // before anything is put in place, since outputs are moved in last.
        return unsafe { Mmap::map(&file) }.map(Bytes::Mapped);
    }
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes)?;
    Ok(Bytes::Read(bytes))
}
