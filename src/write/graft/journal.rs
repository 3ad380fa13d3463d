//! What we changed in the user's bytes, written into the XDATA of a record of ours, so that a later run can put it back.

use std::collections::{BTreeMap, BTreeSet};

use crate::cad::scan::Index;
use crate::write::dxf::{APP_ID, Tags};

/// What the file said before we changed it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Journal {
    /// Counts in table heads, by the table's name.
    pub(super) counts: BTreeMap<String, String>,
    /// What `$HANDSEED` says since then; and what it said before, if it was there.
    pub(super) seed: Option<(String, Option<String>)>,
    /// Sections and tables that were not there.
    pub(super) made: BTreeSet<String>,
}

/// Group of a mark's version, which stands in front of the journal.
const VERSION: i16 = 1070;

impl Journal {
    /// Whether a value can be put back from an XDATA string, character by character.
    pub(super) fn holds(value: &str) -> bool {
        value.len() < 100 && value.bytes().all(|b| b.is_ascii_alphanumeric() || b" +-.".contains(&b))
    }

    /// Behind the mark of a record.
    pub(super) fn write(&self, tags: &mut Tags<'_>) {
        for (table, count) in &self.counts {
            tags.text(1000, &format!("count {table} {count}"));
        }
        match &self.seed {
            Some((now, Some(before))) => tags.text(1000, &format!("seed {now} {before}")),
            Some((now, None)) => tags.text(1000, &format!("seed {now}")),
            None => {}
        }
        for name in &self.made {
            tags.text(1000, &format!("made {name}"));
        }
    }

    /// The journal that a record carries, if it does.
    pub(super) fn read(bytes: &[u8], index: &Index, record: usize) -> Option<Self> {
        let source = index.source(bytes);
        let mut journal = Self::default();
        let (mut ours, mut marked) = (false, false);
        for tag in index.tags(bytes, record).flatten() {
            match tag.code {
                1001 => (ours, marked) = (source.trimmed(&tag) == APP_ID.as_bytes(), false),
                VERSION => marked = ours,
                1000 if marked => journal.line(std::str::from_utf8(source.raw(&tag)).unwrap_or_default()),
                _ => {}
            }
        }
        (journal != Self::default()).then_some(journal)
    }

    fn line(&mut self, line: &str) {
        let Some((word, rest)) = line.split_once(' ') else { return };
        let (name, value) = rest.split_once(' ').map_or((rest, None), |(name, value)| (name, Some(value)));
        match (word, value) {
            ("count", Some(count)) => drop(self.counts.insert(name.to_owned(), count.to_owned())),
            ("seed", before) => self.seed = Some((name.to_owned(), before.map(str::to_owned))),
            ("made", None) => drop(self.made.insert(name.to_owned())),
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_every_blank() {
        let mut journal = Journal::default();
        for line in ["count LAYER      2", "seed 2FF 1A", "made TABLES", "made DIMSTYLE", "record", "other thing"] {
            journal.line(line);
        }
        assert_eq!(journal.counts, [("LAYER".to_owned(), "     2".to_owned())].into());
        assert_eq!(journal.seed, Some(("2FF".to_owned(), Some("1A".to_owned()))));
        assert_eq!(journal.made.len(), 2);
        journal.line("seed 300");
        assert_eq!(journal.seed, Some(("300".to_owned(), None)));
        assert!(Journal::holds("     2") && !Journal::holds("2\t") && !Journal::holds("\\U+0032"));
    }
}
