//! Which records the plan needs: those on wanted layers, and the block references and blocks that lead to them.

use std::collections::BTreeMap;

use super::index::{Block, Index, Kind, Record, SectionKind};
use super::text;

/// The records that the plan needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Selection {
    /// By layer: whether it is wanted.
    pub wanted: Vec<bool>,
    /// Place of layer `0`.
    pub zero: Option<u32>,
    /// Records of model space, in the file's order.
    pub model: Vec<usize>,
    /// Records of each block that is reached, by block.
    pub blocks: BTreeMap<usize, Vec<usize>>,
    /// By name: the block that is called so.
    named: Vec<Option<usize>>,
    /// Records on wanted layers that stand in paper space.
    pub paper: Vec<usize>,
}

impl Selection {
    /// Selects by a layer's name. Of a drawing that another one places like a block (`inside`), layer `0` counts, too:
    /// it takes the layer of the reference.
    pub fn new(index: &Index, wanted: &dyn Fn(&str) -> bool, inside: bool) -> Self {
        let zero = index.layers.iter().position(|l| l.name == "0").and_then(|n| u32::try_from(n).ok());
        let by_name = index.blocks_by_name();
        let mut selection = Self {
            wanted: index.layers.iter().map(|l| wanted(&l.name)).collect(),
            zero,
            model: Vec::new(),
            blocks: BTreeMap::new(),
            named: index.names.iter().map(|name| by_name.get(&text::folded(name)).copied()).collect(),
            paper: Vec::new(),
        };
        let wanted = |layer| selection.is_wanted(layer) && !selection.is_zero(layer);
        let deep = blocks_with_wanted(&index.blocks, &index.records, &|record| selection.target(record), &wanted);
        selection.take_layouts(index, &deep, inside);
        selection.reach_blocks(index, &deep);
        selection
    }

    /// Whether a layer is wanted.
    pub fn is_wanted(&self, layer: u32) -> bool {
        usize::try_from(layer).ok().and_then(|n| self.wanted.get(n)).copied().unwrap_or(false)
    }

    /// Whether it is layer `0`, which takes the layer of the INSERT inside blocks.
    pub fn is_zero(&self, layer: u32) -> bool {
        self.zero == Some(layer)
    }

    /// The block that an INSERT places.
    pub fn target(&self, record: &Record) -> Option<usize> {
        let name = usize::try_from(record.name).ok().filter(|_| record.kind == Kind::Insert)?;
        self.named.get(name).copied().flatten()
    }

    fn leads_to_wanted(&self, record: &Record, deep: &[bool]) -> bool {
        self.is_wanted(record.layer) || self.target(record).and_then(|t| deep.get(t)).copied().unwrap_or(false)
    }

    fn take_layouts(&mut self, index: &Index, deep: &[bool], inside: bool) {
        for r in index.section_records(SectionKind::Entities) {
            let Some(record) = index.records.get(r).filter(|r| !r.is_part() && !r.ours) else { continue };
            let leads = self.leads_to_wanted(record, deep);
            if record.paper && leads && !self.places_external(index, record) {
                self.paper.push(r);
            } else if !record.paper && (leads || (inside && self.is_zero(record.layer))) {
                self.model.push(r);
            }
        }
        for block in index.blocks.iter().filter(|b| b.layout) {
            for r in block.records.clone() {
                let Some(record) = index.records.get(r).filter(|r| !r.is_part() && !r.ours) else { continue };
                if self.leads_to_wanted(record, deep) && !self.places_external(index, record) {
                    self.paper.push(r);
                }
            }
        }
    }

    /// Sheets show title blocks from files of their own, which say nothing about a plan in paper space.
    fn places_external(&self, index: &Index, record: &Record) -> bool {
        let block = self.target(record).and_then(|t| index.blocks.get(t));
        block.is_some_and(|b| b.external) && !self.is_wanted(record.layer)
    }

    fn reach_blocks(&mut self, index: &Index, deep: &[bool]) {
        let mut todo: Vec<usize> = self.targets(index, &self.model);
        while let Some(b) = todo.pop() {
            let Some(block) = index.blocks.get(b).filter(|_| !self.blocks.contains_key(&b)) else { continue };
            let needed: Vec<usize> = block
                .records
                .clone()
                .filter(|r| {
                    let record = index.records.get(*r).filter(|r| !r.is_part());
                    record.is_some_and(|r| self.is_zero(r.layer) || self.leads_to_wanted(r, deep))
                })
                .collect();
            todo.extend(self.targets(index, &needed));
            self.blocks.insert(b, needed);
        }
    }

    fn targets(&self, index: &Index, records: &[usize]) -> Vec<usize> {
        records.iter().filter_map(|r| self.target(index.records.get(*r)?)).collect()
    }
}

/// By block: whether it holds something on a wanted layer by itself, or by the blocks placed in it. Found from the inside
/// out, so that long chains and circles of blocks do no harm. Of an external reference that cannot be told before it is
/// read. `target` gives the block that a record places; layer `0` is no wanted one. Our marks say nothing there: they came
/// with a drawing of ours that was attached and then bound.
pub fn blocks_with_wanted(
    blocks: &[Block],
    records: &[Record],
    target: &dyn Fn(&Record) -> Option<usize>,
    wanted: &dyn Fn(u32) -> bool,
) -> Vec<bool> {
    let mut deep = vec![false; blocks.len()];
    let mut placed_in: Vec<Vec<usize>> = vec![Vec::new(); blocks.len()];
    let mut todo = Vec::new();
    for (b, block) in blocks.iter().enumerate().filter(|(_, b)| !b.layout) {
        if block.external {
            todo.push(b);
        }
        for record in records.get(block.records.clone()).unwrap_or_default() {
            if record.is_part() {
                continue;
            }
            if let Some(inner) = target(record).and_then(|t| placed_in.get_mut(t)) {
                inner.push(b);
            }
            if wanted(record.layer) {
                todo.push(b);
            }
        }
    }
    while let Some(b) = todo.pop() {
        if let Some(flag) = deep.get_mut(b).filter(|f| !**f) {
            *flag = true;
            todo.extend(placed_in.get(b).into_iter().flatten());
        }
    }
    deep
}
