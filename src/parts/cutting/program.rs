//! The linear programs, solved by `microlp`: worths of pieces from the columns known so far, and shares of those columns.
//!
//! The solver tells no duals, so the dual is what is solved: a column is one constraint of it, and a new one goes on top
//! of the solved program. All costs are in units of the dearest stick, to keep numbers near 1. Nothing here is relied
//! on: a failed or wrong solution gives a weaker bound or a worse plan, never a wrong one.

use std::collections::BTreeMap;

use microlp::{ComparisonOp, OptimizationDirection, Problem, Solution, Variable};

use super::model::{Bin, Column, Model, Rest};

/// By how much a column must be worth more than its stick to count as violated, in the dearest stick's cost.
pub(super) const TOLERANCE: f64 = 1e-7;

/// Work of a call of the solver, and of a pivot for each row and variable: measured.
const PER_CALL: u64 = 5_000;
const PER_PIVOT: u64 = 100;

/// Price on a stick beyond those of a mix, in the dearest stick's cost.
const DEAR: f64 = 4.0;

/// The dual program of what is left.
pub(super) struct Worths<'a> {
    model: &'a Model,
    active: &'a [usize],
    /// Position among the active ones, by item.
    place: Vec<Option<usize>>,
    unit: f64,
    problem: Option<Problem>,
    solution: Option<Solution>,
    pieces: Vec<Variable>,
    /// By kind of stick: the price on those that are few.
    price: Vec<Option<Variable>>,
    rows: usize,
    /// Values of the solution: by item, and by kind of stick with its cost; in the dearest stick's cost.
    worth: Vec<f64>,
    least: Vec<f64>,
    pivots: u64,
}

/// Cost of the dearest kind of stick, at least 1.
fn unit(model: &Model) -> f64 {
    model.bins.iter().map(|b| b.cost).max().unwrap_or(1).max(1) as f64
}

impl<'a> Worths<'a> {
    /// A program without columns.
    pub fn new(model: &'a Model, rest: &Rest, active: &'a [usize]) -> Self {
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let unit = unit(model);
        let most = model.miss as f64 / unit;
        let mut place = vec![None; model.items.len()];
        let mut pieces = Vec::with_capacity(active.len());
        for (at, &item) in active.iter().enumerate() {
            if let Some(p) = place.get_mut(item) {
                *p = Some(at);
            }
            pieces.push(problem.add_var(f64::from(rest.left(item)), (0.0, most)));
        }
        // More sticks than there are could be had at a high price: that keeps worths in bounds where there are too few.
        let mut var = |(high, bin): (&u32, &Bin)| {
            let dear = if bin.limit.is_some() { most } else { DEAR };
            (*high != u32::MAX).then(|| problem.add_var(-f64::from(*high), (0.0, dear)))
        };
        let price = rest.high.iter().zip(&model.bins).map(&mut var).collect();
        // A larger piece is worth at least as much as a smaller one in its row, since it could be cut down to it (extra
        // dual cuts: Valério de Carvalho 2005, INFORMS Journal on Computing 17). That saves most of the columns.
        for (pair, vars) in active.windows(2).zip(pieces.windows(2)) {
            if let ([a, b], [larger, smaller]) = (pair, vars)
                && model.row(*a) == model.row(*b)
            {
                problem.add_constraint([(*larger, 1.0), (*smaller, -1.0)], ComparisonOp::Ge, 0.0);
            }
        }
        Self {
            model,
            active,
            place,
            unit,
            problem: Some(problem),
            solution: None,
            pieces,
            price,
            rows: 0,
            worth: vec![0.0; model.items.len()],
            least: Vec::new(),
            pivots: 0,
        }
    }

    fn terms(&self, column: &Column) -> Vec<(Variable, f64)> {
        let piece = |&(item, count): &(usize, u32)| {
            let at = self.place.get(item).copied().flatten()?;
            self.pieces.get(at).map(|v| (*v, f64::from(count)))
        };
        let of = |vars: &[Option<Variable>]| vars.get(column.bin).copied().flatten();
        let mut terms: Vec<(Variable, f64)> = column.takes.iter().filter_map(piece).collect();
        terms.extend(of(&self.price).map(|v| (v, -1.0)));
        terms
    }

    /// Adds a column; once solved, the program is solved again. A column that is not violated then stays out: `false`.
    /// `None` when the solver fails.
    pub fn add(&mut self, column: &Column) -> Option<bool> {
        if self.solution.is_some() && self.excess(column) <= TOLERANCE {
            return Some(false);
        }
        let (terms, cost) = (self.terms(column), self.model.cost(column.bin) as f64 / self.unit);
        self.rows += 1;
        match (&mut self.problem, self.solution.take()) {
            (Some(problem), _) => problem.add_constraint(terms, ComparisonOp::Le, cost),
            (None, solved) => {
                let solved = solved?.add_constraint(terms, ComparisonOp::Le, cost).ok()?;
                self.solution = Some(solved.into_solution().ok()?);
                self.read();
            }
        }
        Some(true)
    }

    /// Solves the program for the first time.
    pub fn solve(&mut self) -> Option<()> {
        let problem = self.problem.take()?;
        self.solution = Some(problem.solve().ok()?.into_solution().ok()?);
        self.read();
        Some(())
    }

    fn read(&mut self) {
        let Some(solution) = &self.solution else { return };
        for (item, var) in self.active.iter().zip(&self.pieces) {
            if let Some(worth) = self.worth.get_mut(*item) {
                *worth = solution.var_value(*var).max(0.0);
            }
        }
        let price = |var: &Option<Variable>| var.map_or(0.0, |v| solution.var_value(v));
        let least = |(bin, var): (&Bin, &Option<Variable>)| bin.cost as f64 / self.unit + price(var);
        self.least = self.model.bins.iter().zip(&self.price).map(least).collect();
    }

    /// By how much a column is worth more than it costs, in the dearest stick's cost.
    pub fn excess(&self, column: &Column) -> f64 {
        let worth = |&(item, count): &(usize, u32)| self.worth.get(item).copied().unwrap_or(0.0) * f64::from(count);
        let worth: f64 = column.takes.iter().map(worth).sum();
        worth - self.least.get(column.bin).copied().unwrap_or(0.0)
    }

    /// Worth of each active item, in cost units.
    pub fn worths(&self) -> Vec<(usize, f64)> {
        let worth = |item: &usize| (*item, self.worth.get(*item).copied().unwrap_or(0.0) * self.unit);
        self.active.iter().map(worth).collect()
    }

    /// What a filling of a kind of stick must be worth to be of use, in cost units.
    pub fn threshold(&self, bin: usize) -> f64 {
        self.least.get(bin).copied().unwrap_or(0.0) * self.unit
    }

    /// Cost of the best mixture of the columns so far, without what is already spent.
    pub fn objective(&self) -> f64 {
        self.solution.as_ref().map_or(0.0, |s| s.objective()) * self.unit
    }

    /// Work done since this was last read, in about a nanosecond's worth.
    pub fn work(&mut self) -> u64 {
        let rows = self.rows + 2 * self.active.len();
        let pivots = self.solution.as_ref().map_or(0, |s| s.stats().lp_iterations);
        let new = pivots.saturating_sub(self.pivots);
        self.pivots = pivots;
        PER_CALL + new * rows as u64 * PER_PIVOT
    }
}

/// Terms of one constraint.
type Row = Vec<(Variable, f64)>;

/// The cheapest mixture of columns, by share, and the work done for it; empty when the solver fails.
pub(super) fn shares(model: &Model, rest: &Rest, active: &[usize], columns: &[&Column]) -> (Vec<f64>, u64) {
    let mut problem = Problem::new(OptimizationDirection::Minimize);
    let unit = unit(model);
    let many = (0.0, f64::INFINITY);
    let mut pieces: BTreeMap<usize, Row> = active.iter().map(|item| (*item, Row::new())).collect();
    let mut bins: Vec<Row> = vec![Row::new(); model.bins.len()];
    let mut vars = Vec::with_capacity(columns.len());
    for column in columns {
        let var = problem.add_var(model.cost(column.bin) as f64 / unit, many);
        vars.push(var);
        for (item, count) in &column.takes {
            pieces.entry(*item).or_default().push((var, f64::from(*count)));
        }
        if let Some(row) = bins.get_mut(column.bin) {
            row.push((var, 1.0));
        }
    }
    let mut larger: Option<usize> = None;
    for &item in active {
        let miss = problem.add_var(model.miss as f64 / unit, many);
        pieces.entry(item).or_default().push((miss, 1.0));
        // More of the larger piece than needed may be cut down: the counterpart of the order of worths.
        if let Some(from) = larger.filter(|l| model.row(*l) == model.row(item)) {
            let down = problem.add_var(0.0, many);
            pieces.entry(from).or_default().push((down, -1.0));
            pieces.entry(item).or_default().push((down, 1.0));
        }
        larger = Some(item);
    }
    for (item, row) in &pieces {
        problem.add_constraint(row.as_slice(), ComparisonOp::Ge, f64::from(rest.left(*item)));
    }
    for (row, high) in bins.iter().zip(&rest.high) {
        if *high != u32::MAX && !row.is_empty() {
            problem.add_constraint(row.as_slice(), ComparisonOp::Le, f64::from(*high));
        }
    }
    let size = (columns.len() + 3 * active.len()) as u64;
    let solved = problem.solve().ok().and_then(|o| o.into_solution().ok());
    solved.map_or((Vec::new(), PER_CALL), |s| {
        let work = PER_CALL + s.stats().lp_iterations * size * PER_PIVOT;
        (vars.iter().map(|v| s.var_value(*v)).collect(), work)
    })
}
