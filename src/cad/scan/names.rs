//! Names of layers, blocks and kinds, numbered in the order in which they are met.

use std::collections::HashMap;

use super::NONE;

/// Longest name that is kept as written; CAD programs allow 255 characters.
const LONGEST_NAME: usize = 4096;

/// Numbers of names met lately: records come in rows and patterns of a few.
pub(super) struct Recent<'a, T>([Option<(&'a [u8], T)>; 32]);

impl<'a, T: Copy> Recent<'a, T> {
    pub(super) const fn new() -> Self {
        Self([None; 32])
    }

    /// What belongs to a name; `or` finds it when the name was not met lately.
    pub(super) fn get(&mut self, name: &'a [u8], or: impl FnOnce() -> T) -> T {
        let byte = |at: usize| name.get(at).map_or(0, |b| usize::from(*b));
        let slot = byte(0) + 3 * byte(name.len() / 2) + 5 * byte(name.len().wrapping_sub(1)) + name.len();
        let Some(slot) = self.0.get_mut(slot % 32) else { return or() };
        match slot {
            Some((known, value)) if *known == name => *value,
            _ => slot.insert((name, or())).1,
        }
    }
}

/// Names by their bytes.
pub(super) struct Names<'a> {
    /// In the order in which they were met.
    pub(super) all: Vec<&'a [u8]>,
    found: HashMap<&'a [u8], u32>,
    recent: Recent<'a, u32>,
}

impl<'a> Names<'a> {
    pub(super) fn new() -> Self {
        Self { all: Vec::new(), found: HashMap::new(), recent: Recent::new() }
    }

    /// Number of a name.
    pub(super) fn of(&mut self, bytes: &'a [u8]) -> u32 {
        let bytes = bytes.get(..LONGEST_NAME).unwrap_or(bytes);
        self.recent.get(bytes, || {
            let next = u32::try_from(self.all.len()).unwrap_or(NONE);
            let name = *self.found.entry(bytes).or_insert(next);
            if name == next {
                self.all.push(bytes);
            }
            name
        })
    }
}
