//! The job in whole numbers: sizes, capacities, costs, and what is still to be cut.

/// A size of piece; equal pieces are one item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Item {
    /// What it takes of a stick.
    pub weight: i64,
    /// Row it stands in: index into [`Model::setups`].
    pub row: usize,
}

/// A kind of stick.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Bin {
    /// What its pieces may take.
    pub capacity: i64,
    /// What it costs, in units of [`Model::unit`].
    pub cost: i64,
    /// How many there are; `None` is as many as wanted.
    pub limit: Option<u32>,
}

/// All that stays the same while a plan is sought.
#[derive(Debug, Clone)]
pub(super) struct Model {
    /// By row, then the largest first.
    pub items: Vec<Item>,
    /// What a row takes beside its pieces.
    pub setups: Vec<i64>,
    /// Kinds of stick.
    pub bins: Vec<Bin>,
    /// Cost of a piece left out: more than any plan that places it, so as many as possible are placed.
    pub miss: i64,
    /// Costs are whole multiples of this.
    pub unit: i64,
    /// Whether some pieces fit no stick that can be bought, so that they may have to be left out.
    pub scarce: bool,
}

/// Which pieces are cut from one stick: item and count, items rising.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Column {
    /// Kind of stick.
    pub bin: usize,
    /// Item and how many of it.
    pub takes: Vec<(usize, u32)>,
}

/// Sticks with the number of each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Sticks {
    /// Columns and how often each is cut.
    pub columns: Vec<(Column, u32)>,
    /// Total cost, left-out pieces included.
    pub cost: i64,
}

/// What is still to be cut, and from what.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Rest {
    /// Pieces left by item.
    pub demand: Vec<u32>,
    /// At most so many sticks of each kind are used; `u32::MAX` is no limit.
    pub high: Vec<u32>,
    /// Cost of what is already decided.
    pub spent: i64,
}

impl Model {
    /// Weight of an item.
    pub fn weight(&self, item: usize) -> i64 {
        self.items.get(item).map_or(0, |i| i.weight)
    }

    /// Row of an item.
    pub fn row(&self, item: usize) -> usize {
        self.items.get(item).map_or(0, |i| i.row)
    }

    /// What a row takes beside its pieces.
    pub fn setup(&self, row: usize) -> i64 {
        self.setups.get(row).copied().unwrap_or(0)
    }

    /// Cost of a kind of stick.
    pub fn cost(&self, bin: usize) -> i64 {
        self.bins.get(bin).map_or(0, |b| b.cost)
    }

    /// Capacity of a kind of stick.
    pub fn capacity(&self, bin: usize) -> i64 {
        self.bins.get(bin).map_or(0, |b| b.capacity)
    }

    /// What a set of pieces takes of a stick.
    pub fn need(&self, takes: &[(usize, u32)]) -> i64 {
        let mut row = None;
        let mut sum = 0;
        for &(item, count) in takes {
            let own = self.row(item);
            if row != Some(own) {
                row = Some(own);
                sum += self.setup(own);
            }
            sum += self.weight(item) * i64::from(count);
        }
        sum
    }

    /// What one piece takes alone.
    pub fn alone(&self, item: usize) -> i64 {
        self.weight(item) + self.setup(self.row(item))
    }

    /// The cheapest kind that can be bought and takes `need`; the shortest of equal ones.
    pub fn cheapest(&self, need: i64) -> Option<usize> {
        let fitting = self.bins.iter().enumerate().filter(|(_, b)| b.limit.is_none() && b.capacity >= need);
        fitting.min_by_key(|(_, b)| (b.cost, b.capacity)).map(|(i, _)| i)
    }

    /// The largest capacity of all kinds.
    pub fn longest(&self) -> i64 {
        self.bins.iter().map(|b| b.capacity).max().unwrap_or(0)
    }

    /// Everything is still to be cut.
    pub fn whole(&self, demand: Vec<u32>) -> Rest {
        let high = self.bins.iter().map(|b| b.limit.unwrap_or(u32::MAX)).collect();
        Rest { demand, high, spent: 0 }
    }
}

impl Rest {
    /// Pieces left of an item.
    pub fn left(&self, item: usize) -> u32 {
        self.demand.get(item).copied().unwrap_or(0)
    }

    /// Pieces left in all.
    pub fn pieces(&self) -> u64 {
        self.demand.iter().map(|d| u64::from(*d)).sum()
    }

    /// Items of which some are left.
    pub fn active(&self) -> Vec<usize> {
        self.demand.iter().enumerate().filter(|(_, d)| **d > 0).map(|(i, _)| i).collect()
    }

    /// How many sticks of a column can be cut from what is left.
    pub fn times(&self, column: &Column) -> u32 {
        let sticks = self.high.get(column.bin).copied().unwrap_or(0);
        column.takes.iter().map(|&(item, count)| self.left(item) / count.max(1)).min().unwrap_or(0).min(sticks)
    }

    /// Decides for some sticks of a column, which must fit.
    pub fn take(&mut self, model: &Model, column: &Column, times: u32) {
        for &(item, count) in &column.takes {
            if let Some(d) = self.demand.get_mut(item) {
                *d = d.saturating_sub(count.saturating_mul(times));
            }
        }
        if let Some(high) = self.high.get_mut(column.bin).filter(|h| **h != u32::MAX) {
            *high = high.saturating_sub(times);
        }
        self.spent += model.cost(column.bin) * i64::from(times);
    }
}
