//! Line ends and group codes of a text drawing, 64 bytes at a time: what all that is not read costs.
//!
//! Sums wrap where they are places within the bytes, or a few digits: checking each took a tenth of the time of a large plan.

use wide::u8x16;

/// Bytes that are looked at together, one bit each.
const BLOCK: usize = 64;

/// Goes through the line ends of a text.
#[derive(Debug, Clone)]
pub struct Lines<'a> {
    bytes: &'a [u8],
    /// The byte that ends a line.
    end: u8,
    /// First byte of the block.
    base: usize,
    /// Line ends of the block that were not given yet.
    ends: u64,
}

impl<'a> Lines<'a> {
    /// From byte `at` on.
    pub const fn new(bytes: &'a [u8], end: u8, at: usize) -> Self {
        // The block before the first one, in which nothing is left.
        Self { bytes, end, base: at.wrapping_sub(BLOCK), ends: 0 }
    }

    /// How far it has come.
    #[inline]
    pub const fn place(&self) -> (usize, u64) {
        (self.base, self.ends)
    }

    /// Goes back to where it was.
    #[inline]
    pub const fn go_back(&mut self, (base, ends): (usize, u64)) {
        (self.base, self.ends) = (base, ends);
    }

    /// Place of the next line end.
    // Called for each line of a drawing: a call costs more than what it does.
    #[inline(always)]
    pub fn next_end(&mut self) -> Option<usize> {
        while self.ends == 0 {
            self.base = self.base.wrapping_add(BLOCK);
            let rest = self.bytes.get(self.base..).filter(|rest| !rest.is_empty())?;
            self.ends = rest.first_chunk().map_or_else(|| tail(rest, self.end), |block| ends(block, self.end));
        }
        let at = self.base.wrapping_add(self.ends.trailing_zeros() as usize);
        self.ends &= self.ends.wrapping_sub(1);
        Some(at)
    }
}

/// A bit for each byte that is `end`.
#[inline(always)]
fn ends(block: &[u8; BLOCK], end: u8) -> u64 {
    let end = u8x16::splat(end);
    let parts = block.as_chunks::<16>().0.iter().enumerate();
    parts.fold(0, |bits, (n, part)| bits | u64::from(u8x16::from(*part).simd_eq(end).to_bitmask()) << (16 * n))
}

/// The same of less than a block.
#[cold]
fn tail(rest: &[u8], end: u8) -> u64 {
    rest.iter().take(BLOCK).enumerate().fold(0, |bits, (n, byte)| bits | u64::from(*byte == end) << n)
}

/// Largest group code of any version of the format.
const LARGEST: usize = 1071;

/// Group codes as most programs write them: with blanks to the left, here up to four characters.
#[allow(clippy::indexing_slicing, reason = "done at compile time, where it fails the build")]
static WRITTEN: [u32; LARGEST + 1] = {
    let mut written = [0; LARGEST + 1];
    let mut code = 0;
    while code <= LARGEST {
        let (mut rest, mut text, mut n) = (code as u32, [b' '; 4], 4);
        while n == 4 || rest > 0 {
            n -= 1;
            text[n] = b'0' + (rest % 10) as u8;
            rest /= 10;
        }
        written[code] = u32::from_le_bytes(text);
        code += 1;
    }
    written
};

/// The group code on the line from `start` to its end at `end`, if it is written as most programs do; `None` says nothing.
#[inline(always)]
pub fn common_code(bytes: &[u8], start: usize, end: usize) -> Option<i16> {
    written(bytes, start, end).or_else(|| {
        let before = end.checked_sub(1).filter(|at| bytes.get(*at) == Some(&b'\r'))?;
        written(bytes, start, before)
    })
}

#[inline(always)]
fn written(bytes: &[u8], start: usize, end: usize) -> Option<i16> {
    let missing = start.wrapping_add(4).checked_sub(end).filter(|missing| *missing < 4)?;
    let last = u32::from_le_bytes(*bytes.get(end.checked_sub(4)?..end)?.first_chunk()?);
    let kept = u32::MAX << (8 * missing);
    let text = (last & kept) | (0x2020_2020 & !kept);
    // Digits in pairs, then both pairs; a blank counts as 0.
    let digits = text & 0x0f0f_0f0f;
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8) & 0x00ff_00ff;
    let code = (pairs & 0xff).wrapping_mul(100).wrapping_add(pairs >> 16);
    (WRITTEN.get(code as usize) == Some(&text)).then_some(code as i16)
}

/// Group codes at which [`super::tag::Lexer::skip_to`] stops.
#[derive(Debug, Clone, Copy)]
pub struct Stops([u64; 17]);

impl Stops {
    /// The codes, none of them negative; made at compile time.
    #[allow(clippy::indexing_slicing, reason = "done at compile time, where it fails the build")]
    pub const fn at(codes: &[i16]) -> Self {
        let (mut bits, mut rest) = ([0; 17], codes);
        while let [code, more @ ..] = rest {
            bits[*code as usize / 64] |= 1 << (*code % 64);
            rest = more;
        }
        Self(bits)
    }

    /// With all from one code to another, both included.
    #[must_use]
    #[allow(clippy::indexing_slicing, reason = "done at compile time, where it fails the build")]
    pub const fn and(self, from: i16, to: i16) -> Self {
        let (mut bits, mut code) = (self.0, from);
        while code <= to {
            bits[code as usize / 64] |= 1 << (code % 64);
            code += 1;
        }
        Self(bits)
    }

    /// Whether it is one of them.
    #[inline]
    pub fn has(&self, code: i16) -> bool {
        let slot = usize::try_from(code).ok().and_then(|code| self.0.get(code / 64));
        slot.is_some_and(|bits| bits >> (code % 64) & 1 == 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn line_ends_of_every_length_and_offset() {
        let text: Vec<u8> = (0..300_usize).map(|n| if n * n % 7 == 2 || n > 290 { b'\n' } else { b'\x8a' }).collect();
        for from in 0..70 {
            for to in [0, 1, 63, 64, 65, 128, 150, 300] {
                let part = text.get(..to).unwrap();
                let mut lines = Lines::new(part, b'\n', from);
                let found: Vec<usize> = std::iter::from_fn(|| lines.next_end()).collect();
                let expected: Vec<usize> = (from..to).filter(|n| part[*n] == b'\n').collect();
                assert_eq!(found, expected, "{from}..{to}");
            }
        }
    }

    #[test]
    fn every_byte_is_told_from_a_line_end() {
        for byte in 0..=u8::MAX {
            assert_eq!(ends(&[byte; BLOCK], b'\n'), if byte == b'\n' { u64::MAX } else { 0 });
        }
    }

    #[test]
    fn common_codes_are_read_and_all_else_is_left_to_the_careful_way() {
        let read = |line: &str| {
            let text = format!("01234567{line}\n");
            common_code(text.as_bytes(), 8, text.len() - 1)
        };
        for code in 0..=1071 {
            for line in [format!("{code}"), format!("{code:3}"), format!("{code:4}"), format!("{code}\r")] {
                assert_eq!(read(&line), Some(code), "{line:?}");
            }
        }
        for line in
            ["", "\r", " ", "-1", "1 ", "1\r\r", "08", "\t8", "8\t", "1 2", "1072", "9999", "12345", "(!", "1\0"]
        {
            assert_eq!(read(line), None, "{line:?}");
        }
        assert_eq!(common_code(b"  0\n", 0, 3), None, "too near to the beginning");
    }
}
