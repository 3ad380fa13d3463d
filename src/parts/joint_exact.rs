//! The cheapest choice of bays in whole numbers.
//!
//! Worths of rails (`joint_bound`) say of each way of a stretch and of each filling of a stick how much dearer than the
//! bound a choice with it is at least. Only those that a choice below a given cost can have are kept, which are few where
//! that cost is near the bound. They make a program in whole numbers for `microlp`: one way for each stretch, sticks that
//! hold all rails. Its numbers of sticks and posts are variables of their own, since branching on them tells the most.
//! First a cost not far above the bound is tried; where there is none, that is a better bound. Effort is counted in
//! nodes, so the result is the same everywhere.

use std::collections::{BTreeMap, BTreeSet};

use microlp::{ComparisonOp, Error, OptimizationDirection, Problem, Solution, SolveOptions, Variable};

use super::joint_bound::{Bound, FINE, Grid, Task, Way};
use crate::base::Length;

/// Fillings that a program has at most, and steps in the search for them.
const MOST_FILLINGS: usize = 4_000;
const MOST_STEPS: usize = 400_000;
/// Nodes of a program times its columns and twice its rows: about a second.
const NODES: usize = 600_000;
/// Parts of the way from the bound to the best choice known in which a cheaper one is sought, one after the other.
const PARTS: [i64; 3] = [4, 2, 1];

/// What was found.
pub(super) struct Found {
    /// A choice that costs less than the one that was known.
    pub picks: Option<Vec<usize>>,
    /// No choice costs less.
    pub bound: i64,
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Seeks the cheapest choice that costs less than `upper`, what the best one known costs.
pub(super) fn cheapest(task: &Task, bound: &Bound, upper: i64) -> Found {
    let posts = task.stretches.iter().flatten().map(|w| w.posts);
    let post = posts.fold(0, |g, cost| gcd(cost, g));
    // All costs are multiples of it.
    let unit = task.sticks.iter().fold(post, |g, s| gcd(s.cost, g)).max(1);
    let up = |cost: i64| -(-cost).div_euclid(unit) * unit;
    let least = up(bound.least());
    let mut found = Found { picks: None, bound: least };
    for part in PARTS {
        let below = up(least + (upper - least) / part).min(upper);
        if below <= found.bound {
            continue;
        }
        let most = Most { cost: below - unit, unit, post };
        match Columns::new(task, bound, most.cost).and_then(|columns| columns.solve(task, most)) {
            Some(Outcome::None) => found.bound = below,
            Some(Outcome::Best(picks, cost)) => return Found { picks: Some(picks), bound: cost },
            Some(Outcome::Some(picks)) => return Found { picks: Some(picks), ..found },
            None => return found,
        }
    }
    found
}

/// What a choice may cost, and what costs are multiples of.
#[derive(Clone, Copy)]
struct Most {
    cost: i64,
    unit: i64,
    post: i64,
}

/// How a search ended.
enum Outcome {
    /// There is no such choice.
    None,
    /// The cheapest one, and its cost.
    Best(Vec<usize>, i64),
    /// One that may not be the cheapest.
    Some(Vec<usize>),
}

/// What a choice that costs no more than the goal can have.
struct Columns {
    /// For each stretch.
    ways: Vec<Vec<usize>>,
    /// Longest first.
    rails: Vec<Length>,
    /// Kind of stick and how many of each rail.
    fillings: Vec<(usize, BTreeMap<usize, u32>)>,
}

impl Columns {
    /// `None` when there are too many.
    fn new(task: &Task, bound: &Bound, most: i64) -> Option<Self> {
        let spare = most.checked_mul(FINE)? - bound.total;
        let ways = task.stretches.iter().zip(&bound.picks).map(|(own, best)| {
            let least = own.get(*best).map_or(0, |w| bound.way(w));
            let near = own.iter().enumerate().filter(|(_, w)| bound.way(w) - least <= spare);
            near.map(|(i, _)| i).collect()
        });
        let ways: Vec<Vec<usize>> = ways.collect();
        let kept = task.stretches.iter().zip(&ways).flat_map(|(own, kept)| kept.iter().filter_map(|i| own.get(*i)));
        let rails: BTreeSet<Length> = kept.flat_map(|w| &w.rails).chain(&task.fixed).copied().collect();
        let rails: Vec<Length> = rails.into_iter().rev().collect();
        let worths: Vec<i64> = rails.iter().map(|r| bound.worth(*r)).collect();
        let promise = Grid::new(rails.iter().copied(), task)?.filled(&worths, 0);
        let mut fill = Fill { rails: &rails, worths: &worths, promise, kerf: task.kerf, steps: 0, found: Vec::new() };
        let mut fillings = Vec::new();
        for (kind, stick) in task.sticks.iter().enumerate() {
            fill.all(stick.room, 0, stick.cost * FINE - spare, &mut Vec::new())?;
            fillings.extend(fill.found.drain(..).map(|takes| (kind, counted(takes))));
        }
        Some(Self { ways, rails, fillings })
    }
}

fn counted<T: Ord>(all: impl IntoIterator<Item = T>) -> BTreeMap<T, u32> {
    let mut counts = BTreeMap::new();
    for one in all {
        *counts.entry(one).or_default() += 1;
    }
    counts
}

/// Fillings of a stick to which no rail can be added, and in which none can be a longer one.
struct Fill<'a> {
    rails: &'a [Length],
    worths: &'a [i64],
    /// The most that a room can be filled with.
    promise: Vec<(i64, Option<usize>)>,
    kerf: Length,
    steps: usize,
    found: Vec<Vec<usize>>,
}

impl Fill<'_> {
    /// All that are worth at least `lack` more than `takes` is; rails not longer than the one at `from`.
    fn all(&mut self, room: Length, from: usize, lack: i64, takes: &mut Vec<usize>) -> Option<()> {
        self.steps += 1;
        if self.steps > MOST_STEPS || self.found.len() > MOST_FILLINGS {
            return None;
        }
        let most = self.promise.get(Grid::cells(room)?).or_else(|| self.promise.last())?;
        if most.0 < lack {
            return Some(());
        }
        let (rails, worths, kerf) = (self.rails, self.worths, self.kerf);
        let fits = |r: &Length| *r + kerf <= room;
        if !rails.last().is_some_and(fits) {
            let longer = |at: &usize| rails.get(at.checked_sub(1)?).zip(rails.get(*at)).map(|(l, r)| *l - *r);
            if !takes.is_empty() && !takes.iter().filter_map(longer).any(|more| more <= room) {
                self.found.push(takes.clone());
            }
            return Some(());
        }
        for (at, (rail, worth)) in rails.iter().zip(worths).enumerate().skip(from).filter(|(_, (r, _))| fits(r)) {
            takes.push(at);
            self.all(room - *rail - kerf, at, lack - worth, takes)?;
            takes.pop();
        }
        Some(())
    }
}

/// Terms of a constraint.
type Row = Vec<(Variable, f64)>;

/// The program while it is put together.
struct Program {
    problem: Problem,
    /// For each rail: it must be cut as often as it is chosen.
    rails: BTreeMap<Length, Row>,
    /// How often each is cut in any case.
    needs: BTreeMap<Length, u32>,
    /// Posts of the ways less their number, and how many there are in any case.
    posts: Row,
    fixed_posts: i64,
}

impl Columns {
    /// The cheapest choice that costs no more than `most`; `None` when there is no telling.
    fn solve(&self, task: &Task, most: Most) -> Option<Outcome> {
        let mut problem = Problem::new(OptimizationDirection::Minimize);
        let many = (0, i32::MAX / 2);
        let units = |cost: i64| (cost / most.unit) as f64;
        let mut costs: Row = Vec::new();
        for stick in &task.sticks {
            costs.push((problem.add_integer_var(units(stick.cost), many), units(stick.cost)));
        }
        let mut sticks: Vec<Row> = costs.iter().map(|(number, _)| vec![(*number, -1.0)]).collect();
        let posts = if most.post > 0 {
            let number = problem.add_integer_var(units(most.post), many);
            costs.push((number, units(most.post)));
            vec![(number, -1.0)]
        } else {
            Vec::new()
        };
        let rails = self.rails.iter().map(|r| (*r, Row::new())).collect();
        let needs = counted(task.fixed.iter().copied());
        let mut program = Program { problem, rails, needs, posts, fixed_posts: 0 };
        let ways: Vec<Vec<(Option<Variable>, usize)>> =
            task.stretches.iter().zip(&self.ways).map(|(own, kept)| program.stretch(own, kept, most.post)).collect();
        for (kind, takes) in &self.fillings {
            let number = program.problem.add_integer_var(0.0, many);
            sticks.get_mut(*kind)?.push((number, 1.0));
            for (rail, count) in takes {
                program.rails.get_mut(self.rails.get(*rail)?)?.push((number, f64::from(*count)));
            }
        }
        let size = self.fillings.len() + self.ways.iter().map(Vec::len).sum::<usize>() + 2 * self.rails.len();
        for row in sticks {
            program.problem.add_constraint(row, ComparisonOp::Eq, 0.0);
        }
        program.problem.add_constraint(costs, ComparisonOp::Le, units(most.cost));
        let mut options = SolveOptions::default();
        options.node_limit = u64::try_from(NODES / size.max(1)).ok();
        match program.close(most.post).solve_with(options) {
            Err(Error::Infeasible) => Some(Outcome::None),
            Err(_) => None,
            Ok(outcome) => {
                let solution = outcome.solution()?;
                let picks = ways.iter().map(|own| pick(own, solution)).collect::<Option<Vec<_>>>()?;
                let cost = (solution.objective().round() as i64).checked_mul(most.unit)?;
                Some(if outcome.is_optimal() { Outcome::Best(picks, cost) } else { Outcome::Some(picks) })
            }
        }
    }
}

fn pick(ways: &[(Option<Variable>, usize)], solution: &Solution) -> Option<usize> {
    let taken = |v: Option<Variable>| v.is_none_or(|v| solution.var_value(v) > 0.5);
    ways.iter().find(|(v, _)| taken(*v)).map(|(_, way)| *way)
}

impl Program {
    /// One of the ways that are left to a stretch is taken; without a variable where there is but one.
    fn stretch(&mut self, own: &[Way], kept: &[usize], post: i64) -> Vec<(Option<Variable>, usize)> {
        let mut choices = Vec::with_capacity(kept.len());
        for (i, way) in kept.iter().filter_map(|i| Some((*i, own.get(*i)?))) {
            let posts = way.posts.checked_div(post).unwrap_or(0);
            let var = (kept.len() > 1).then(|| self.problem.add_binary_var(0.0));
            for (rail, count) in counted(way.rails.iter().copied()) {
                match var {
                    Some(var) => self.rails.entry(rail).or_default().push((var, -f64::from(count))),
                    None => *self.needs.entry(rail).or_default() += count,
                }
            }
            match var {
                Some(var) => self.posts.push((var, posts as f64)),
                None => self.fixed_posts += posts,
            }
            choices.push((var, i));
        }
        let one: Row = choices.iter().filter_map(|(var, _)| Some(((*var)?, 1.0))).collect();
        if !one.is_empty() {
            self.problem.add_constraint(one, ComparisonOp::Eq, 1.0);
        }
        choices
    }

    /// With the rows of posts and rails.
    fn close(mut self, post: i64) -> Problem {
        if post > 0 {
            self.problem.add_constraint(self.posts, ComparisonOp::Eq, -self.fixed_posts as f64);
        }
        // Longest first; what is left of a rail may be cut down to the next shorter one.
        let mut longer: Option<Variable> = None;
        for (rail, mut row) in self.rails.into_iter().rev() {
            let need = self.needs.get(&rail).copied().unwrap_or(0);
            let down = self.problem.add_var(0.0, (0.0, f64::INFINITY));
            row.push((down, -1.0));
            row.extend(longer.map(|l| (l, 1.0)));
            longer = Some(down);
            self.problem.add_constraint(row, ComparisonOp::Ge, f64::from(need));
        }
        self.problem
    }
}
