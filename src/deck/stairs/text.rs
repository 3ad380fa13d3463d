//! What a text or an attribute says of a stair: `11R 7-5/8 x 10`, `UP 12R 190 x 250`, `TOTAL RISE 84in`.

use crate::base::{Length, Unit};
use crate::catalog::Sides;

/// Longer texts are notes, and only their beginning is read.
const LONGEST: usize = 200;

/// Longest length within a text, in characters.
const LONGEST_SIZE: usize = 24;

/// `RISE 7-5/8` is that of a riser, `RISE 84` that of the whole flight: no step is higher than 10 in, and no flight of
/// two risers lower than that.
const ONE_RISER: Length = Length::from_nanometres(254_000_000);

/// Which way an arrow points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// `UP`.
    Up,
    /// `DN`, `DOWN`.
    Down,
}

/// What is said of a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Said {
    /// Number of risers.
    pub risers: Option<u32>,
    /// Height of each.
    pub riser: Option<Length>,
    /// From the foot to the top.
    pub total: Option<Length>,
    /// Depth of each tread.
    pub tread: Option<Length>,
    /// Projection of the nosings.
    pub nosing: Option<Length>,
    /// Sides with a guard.
    pub guard: Option<Sides>,
    /// What an arrow beside it means.
    pub way: Option<Way>,
}

impl Said {
    /// Whether it says nothing at all.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Adds what another text says; the first word on a thing stands. Gives whether the two contradict each other.
    pub fn add(&mut self, other: &Self) -> bool {
        fn take<T: Copy + PartialEq>(own: &mut Option<T>, other: Option<T>) -> bool {
            let differs = own.is_some() && other.is_some() && *own != other;
            *own = own.or(other);
            differs
        }
        [
            take(&mut self.risers, other.risers),
            take(&mut self.riser, other.riser),
            take(&mut self.total, other.total),
            take(&mut self.tread, other.tread),
            take(&mut self.nosing, other.nosing),
            take(&mut self.guard, other.guard),
            take(&mut self.way, other.way),
        ]
        .contains(&true)
    }
}

/// Reads a text; bare numbers are in the unit `bare`. What is not understood is passed over.
pub fn said(text: &str, bare: Unit) -> Said {
    let text: String = text.chars().take(LONGEST).flat_map(simple).collect();
    let mut reader =
        Reader { bare, said: Said::default(), key: None, loose: None, last: None, times: false, total: false };
    let mut rest = text.as_str();
    while !rest.is_empty() {
        let (token, after) = token(rest, bare);
        if let Some(token) = token {
            reader.take(token);
        }
        rest = after;
    }
    reader.said
}

/// Reads an attribute: its tag counts where it names a thing that the flight has.
pub fn attribute(tag: &str, value: &str, bare: Unit) -> Said {
    let tag: String = tag.chars().take(LONGEST).map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    let named = tag.to_lowercase().split_whitespace().any(|w| key(w).is_some() || matches!(w, "rise" | "guard"));
    if named { said(&format!("{tag} {value}"), bare) } else { said(value, bare) }
}

/// Small letters, and one sign for each thing.
fn simple(c: char) -> impl Iterator<Item = char> {
    let c = match c {
        '×' | '✕' | '*' => 'x',
        '″' | '”' | '“' => '"',
        '′' | '’' => '\'',
        '–' | '‑' => '-',
        c if c.is_whitespace() => ' ',
        c => c,
    };
    c.to_lowercase()
}

/// A word that waits for a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Key {
    Riser,
    Risers,
    Rise,
    Tread,
    Nosing,
    Guard,
}

fn key(word: &str) -> Option<Key> {
    Some(match word {
        "riser" => Key::Riser,
        "risers" => Key::Risers,
        "tread" | "treads" | "run" | "going" => Key::Tread,
        "nosing" => Key::Nosing,
        _ => return None,
    })
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Token<'a> {
    /// `11R`.
    Risers(u32),
    /// `10T`, which the risers tell already.
    Treads,
    /// A length, and the number where it is a bare whole one.
    Size(Length, Option<u32>),
    /// `190/250`.
    Slope(Length, Length),
    Word(&'a str),
    Each,
}

/// The next token and what follows it.
fn token(rest: &str, bare: Unit) -> (Option<Token<'_>>, &str) {
    let Some(first) = rest.chars().next() else { return (None, rest) };
    let skip = rest.get(first.len_utf8()..).unwrap_or_default();
    if first == '@' {
        return (Some(Token::Each), skip);
    }
    if first.is_ascii_digit() || first == '.' {
        let read = count(rest).or_else(|| slope(rest, bare)).or_else(|| size(rest, bare));
        // A number that is nothing that is known is passed over as a whole.
        let past = rest.trim_start_matches(|c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '/'));
        return read.map_or((None, if past.len() < rest.len() { past } else { skip }), |(t, after)| (Some(t), after));
    }
    if first.is_alphabetic() {
        let end = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        return (Some(Token::Word(word)), after);
    }
    (None, skip)
}

/// `11R`, `11 risers`, `10T`.
fn count(rest: &str) -> Option<(Token<'_>, &str)> {
    let after = rest.trim_start_matches(|c: char| c.is_ascii_digit());
    let digits = rest.get(..rest.len() - after.len()).filter(|d| !d.is_empty())?;
    let word = after.trim_start_matches(' ');
    let end = word.find(|c: char| !c.is_alphanumeric()).unwrap_or(word.len());
    let (word, after) = word.split_at(end);
    match word {
        // A number too long for its type is more than any stair has.
        "r" | "rs" | "rsr" | "rsrs" | "riser" | "risers" => {
            Some((Token::Risers(digits.parse().unwrap_or(u32::MAX)), after))
        }
        "t" | "tr" | "trs" | "treads" => Some((Token::Treads, after)),
        _ => None,
    }
}

/// `190/250`: no fraction of an inch is finer than a 64th.
fn slope(rest: &str, bare: Unit) -> Option<(Token<'_>, &str)> {
    let digits = |s: &str| s.len() - s.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let (rise, after) = rest.split_at(digits(rest));
    let after = after.strip_prefix('/')?;
    let (run, after) = after.split_at(digits(after));
    let is_slope = run.parse::<u32>().ok()? > 64 && !after.starts_with(|c: char| c.is_alphanumeric() || c == '.');
    let length = |text: &str| Length::parse(text, Some(bare)).ok();
    is_slope.then_some(())?;
    Some((Token::Slope(length(rise)?, length(run)?), after))
}

/// The longest length that `rest` begins with.
fn size(rest: &str, bare: Unit) -> Option<(Token<'_>, &str)> {
    let ends = rest.char_indices().map(|(i, c)| i + c.len_utf8()).take(LONGEST_SIZE);
    let mut best = None;
    for end in ends {
        let (text, after) = rest.split_at(end);
        let goes_on = after.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '.' | '/' | ','));
        // `7x10`: the sign between two sizes is no part of a word.
        let times = after.strip_prefix('x').is_some_and(|a| a.trim_start().starts_with(|c: char| c.is_ascii_digit()));
        if goes_on && !times {
            continue;
        }
        if let Ok(length) = Length::parse(text, Some(bare)) {
            best = Some((Token::Size(length, text.trim().parse().ok()), after));
        }
    }
    best
}

struct Reader {
    bare: Unit,
    said: Said,
    key: Option<Key>,
    /// A size that no word named yet.
    loose: Option<Length>,
    /// What the size before was taken for.
    last: Option<Key>,
    /// The sign between riser and tread was met.
    times: bool,
    total: bool,
}

impl Reader {
    fn take(&mut self, token: Token<'_>) {
        let last = self.last.take();
        match token {
            Token::Risers(n) => {
                self.said.risers = self.said.risers.or(Some(n));
                self.key = Some(Key::Riser);
                self.loose = None;
            }
            Token::Treads => {}
            Token::Each => self.key = Some(if self.key == Some(Key::Tread) { Key::Tread } else { Key::Riser }),
            Token::Slope(rise, run) => {
                self.set(Key::Riser, rise, None);
                self.set(Key::Tread, run, None);
                self.key = None;
            }
            Token::Size(length, whole) => {
                let key = if std::mem::take(&mut self.times) { Some(Key::Tread) } else { self.key.take() };
                self.last = key;
                match key {
                    Some(key) => self.set(key, length, whole),
                    None => self.loose = Some(length),
                }
            }
            Token::Word(word) => self.word(word, last),
        }
    }

    fn word(&mut self, word: &str, last: Option<Key>) {
        let side = match word {
            "left" | "l" => Some(Sides::Left),
            "right" | "r" => Some(Sides::Right),
            "both" => Some(Sides::Both),
            "none" | "no" => Some(Sides::None),
            _ => None,
        };
        if self.key == Some(Key::Guard) {
            self.key = None;
            self.said.guard = self.said.guard.or(side);
        }
        match word {
            "up" => self.said.way = self.said.way.or(Some(Way::Up)),
            "dn" | "down" => self.said.way = self.said.way.or(Some(Way::Down)),
            "x" => {
                if let Some(riser) = self.loose.take() {
                    self.set(Key::Riser, riser, None);
                }
                self.times = self.said.riser.is_some();
            }
            "total" | "tot" => self.total = true,
            "rise" => self.key = Some(Key::Rise),
            "guard" | "guards" => self.key = Some(Key::Guard),
            _ => {
                let Some(key) = key(word) else { return };
                match self.loose.take() {
                    // `11R 7-5/8" RISER`: the size has its place already.
                    None if last.is_some_and(|l| l == key || (l, key) == (Key::Riser, Key::Risers)) => {}
                    // `7-5/8" risers`: a size that stands before its word.
                    Some(size) => self.set(if key == Key::Risers { Key::Riser } else { key }, size, None),
                    None => self.key = Some(key),
                }
            }
        }
    }

    fn set(&mut self, key: Key, length: Length, whole: Option<u32>) {
        // `RISERS 11` in inches, `RISERS 190` in millimetres: no flight has so many risers as a riser has millimetres.
        let count = whole.filter(|n| self.bare.is_imperial() || *n < 100);
        let total = key == Key::Rise && (self.total || length > ONE_RISER);
        match (key, count) {
            (Key::Risers, Some(n)) => {
                self.said.risers = self.said.risers.or(Some(n));
                self.key = Some(Key::Riser);
            }
            (Key::Rise, _) if total => self.said.total = self.said.total.or(Some(length)),
            (Key::Riser | Key::Risers | Key::Rise, _) => self.said.riser = self.said.riser.or(Some(length)),
            (Key::Tread, _) => self.said.tread = self.said.tread.or(Some(length)),
            (Key::Nosing, _) => self.said.nosing = self.said.nosing.or(Some(length)),
            (Key::Guard, _) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn inches(text: &str) -> Option<Length> {
        Some(Length::parse(text, Some(Unit::Inch)).unwrap())
    }

    fn mm(value: i64) -> Option<Length> {
        Some(Length::from_nanometres(value * 1_000_000))
    }

    /// Common practice: how stairs are noted on plans.
    #[test]
    fn notes_in_inches_are_read() {
        let all = Said { risers: Some(11), riser: inches("7-5/8"), tread: inches("10"), ..Said::default() };
        for text in [
            "11R 7-5/8 x 10",
            "11R @ 7-5/8\" x 10\"",
            "11 R 7 5/8\" × 10\"",
            "11 RISERS @ 7-5/8 TREAD 10",
            "11R-7 5/8x10",
            "11R/10T 7-5/8in X 10in",
            "RISERS 11 RISER 7-5/8 RUN 10",
            "RISERS: 11\nRISER: 7-5/8\nTREAD: 10",
            "11R 7-5/8\" RISER, 10\" TREAD",
            "11R RISE 7-5/8 RUN 10",
        ] {
            assert_eq!(said(text, Unit::Inch), all, "{text}");
        }
        assert_eq!(said("UP 11R", Unit::Inch), Said { risers: Some(11), way: Some(Way::Up), ..Said::default() });
        assert_eq!(said("DN", Unit::Inch), Said { way: Some(Way::Down), ..Said::default() });
        for text in ["RISE 84", "TOTAL RISE 84in", "total rise = 7'-0\"", "RISE: 84\""] {
            assert_eq!(said(text, Unit::Inch), Said { total: inches("84"), ..Said::default() }, "{text}");
        }
        assert_eq!(said("TOTAL RISE 9", Unit::Inch), Said { total: inches("9"), ..Said::default() });
    }

    #[test]
    fn notes_in_millimetres_are_read() {
        let all = Said { risers: Some(12), riser: mm(190), tread: mm(250), ..Said::default() };
        for text in ["12R 190 x 250", "12R 190/250", "12 RISERS 190 GOING 250", "RISERS 12 @ 190mm x 25cm"] {
            assert_eq!(said(text, Unit::Millimetre), all, "{text}");
        }
        assert_eq!(said("RISE 2280", Unit::Millimetre).total, mm(2280));
        assert_eq!(said("RISERS 190", Unit::Millimetre), Said { riser: mm(190), ..Said::default() });
    }

    #[test]
    fn attributes_are_named_by_their_tags() {
        let read = |tag: &str, value: &str| attribute(tag, value, Unit::Inch);
        assert_eq!(read("RISERS", "11").risers, Some(11));
        assert_eq!(read("RISER", "7").riser, inches("7"));
        assert_eq!(read("RISER_HEIGHT", "7 1/2\"").riser, inches("7.5"));
        assert_eq!(read("TREAD", "10").tread, inches("10"));
        assert_eq!(read("RISE", "84").total, inches("84"));
        assert_eq!(read("NOSING", "1").nosing, inches("1"));
        assert_eq!(read("GUARD", "left").guard, Some(Sides::Left));
        assert_eq!(read("GUARD", "NONE").guard, Some(Sides::None));
        assert_eq!(read("NOTE", "11R 7-5/8 x 10").risers, Some(11));
        assert!(read("MARK", "7").is_empty() && read("SIZE", "4 x 6").guard.is_none());
    }

    #[test]
    fn other_texts_say_nothing() {
        for text in ["", "STAIR", "SEE DETAIL 4/A5", "1'-0\"", "R-19", "2x12 STRINGERS AT 16 O.C.", "EL. 37.5"] {
            let read = said(text, Unit::Inch);
            assert_eq!((read.risers, read.total, read.way), (None, None, None), "{text}");
        }
    }

    #[test]
    fn the_first_word_stands_and_contradictions_are_told() {
        let mut all = said("11R 7-5/8", Unit::Inch);
        assert!(!all.add(&said("x TREAD 10", Unit::Inch)));
        assert!(all.add(&said("12R", Unit::Inch)));
        assert_eq!((all.risers, all.tread), (Some(11), inches("10")));
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_passed_over(text in "\\PC{0,80}", near in "[0-9 RrXx@/.\"'DNUPRISE×-]{0,60}") {
            for unit in [Unit::Inch, Unit::Millimetre] {
                said(&text, unit);
                said(&near, unit);
                attribute(&near, &text, unit);
            }
        }
    }
}
