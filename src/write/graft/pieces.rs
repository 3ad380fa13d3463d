//! The user's bytes and what stands between them.

use std::io;
use std::ops::Range;

use crate::base::Finding;

/// A stretch of the resulting file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Piece {
    /// These bytes of the user's file.
    Keep(Range<usize>),
    /// Bytes of ours.
    New(Vec<u8>),
}

/// A file made of the user's bytes and ours, not yet written: the user's are not copied.
#[derive(Debug, Clone, PartialEq)]
pub struct Graft {
    /// The file from its first byte to its last.
    pub pieces: Vec<Piece>,
    /// What was found on the way.
    pub findings: Vec<Finding>,
}

impl Graft {
    /// Writes the file; `bytes` are those that it was made from.
    ///
    /// # Errors
    /// What `out` says.
    pub fn write_to(&self, bytes: &[u8], out: &mut (impl io::Write + ?Sized)) -> io::Result<()> {
        for piece in &self.pieces {
            out.write_all(match piece {
                Piece::Keep(range) => bytes.get(range.clone()).unwrap_or_default(),
                Piece::New(new) => new,
            })?;
        }
        Ok(())
    }

    /// The file in memory.
    pub fn to_bytes(&self, bytes: &[u8]) -> Vec<u8> {
        let mut out = Vec::with_capacity(bytes.len());
        // Writing to a vector does not fail.
        let _ = self.write_to(bytes, &mut out);
        out
    }
}

/// Changes of a file, gathered in any order.
#[derive(Debug, Default)]
pub(super) struct Edits(Vec<(Range<usize>, Vec<u8>)>);

impl Edits {
    /// Puts bytes in front of the byte at `at`, behind those that were put there before.
    pub(super) fn insert(&mut self, at: usize, new: Vec<u8>) {
        self.0.push((at..at, new));
    }

    /// Replaces bytes.
    pub(super) fn replace(&mut self, range: Range<usize>, new: Vec<u8>) {
        self.0.push((range, new));
    }

    /// The changed file. Of two changes of the same bytes the first one counts.
    pub(super) fn pieces(mut self, length: usize) -> Vec<Piece> {
        self.0.sort_by_key(|(range, _)| range.start);
        let mut pieces = Vec::new();
        let mut at = 0;
        let keep = |pieces: &mut Vec<Piece>, range: Range<usize>| match pieces.last_mut() {
            _ if range.is_empty() => {}
            Some(Piece::Keep(last)) if last.end == range.start => last.end = range.end,
            _ => pieces.push(Piece::Keep(range)),
        };
        for (range, new) in self.0 {
            keep(&mut pieces, at..range.start);
            if !new.is_empty() {
                pieces.push(Piece::New(new));
            }
            at = at.max(range.end);
        }
        keep(&mut pieces, at..length);
        pieces
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_keep_their_order_and_the_rest_is_kept() {
        let mut edits = Edits::default();
        edits.insert(6, b"B".to_vec());
        edits.replace(2..4, b"xyz".to_vec());
        edits.insert(6, b"C".to_vec());
        edits.replace(4..6, Vec::new());
        edits.insert(0, b"A".to_vec());
        let graft = Graft { pieces: edits.pieces(8), findings: Vec::new() };
        assert_eq!(graft.to_bytes(b"01234567"), b"A01xyzBC67");
        let kept: Vec<_> = graft.pieces.iter().filter(|p| matches!(p, Piece::Keep(_))).collect();
        assert_eq!(kept, [&Piece::Keep(0..2), &Piece::Keep(6..8)]);
        assert_eq!(Edits::default().pieces(3), [Piece::Keep(0..3)]);
    }
}
