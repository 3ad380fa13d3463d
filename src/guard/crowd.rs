//! Posts of different rail lines, or of far parts of one, that stand in each other: where a deck is narrow, or where two
//! openings leave too little between them.

use std::collections::HashMap;

use geo::{Intersects, LineString, Polygon};

use crate::base::plane::{direction, left};
use crate::base::{Code, Finding, Length, Place};

use super::types::{Guard, Post};

/// A post's square, a hair smaller, so that posts that touch do not overlap.
pub fn square(post: &Post) -> Polygon<f64> {
    let half = post.side.millimetres() / 2.0 - Length::NOISE.millimetres();
    let (u, v) = (direction(post.rotation) * half, left(direction(post.rotation)) * half);
    let ring: LineString<f64> =
        [post.at + u + v, post.at + v - u, post.at - u - v, post.at + u - v].into_iter().collect();
    Polygon::new(ring, Vec::new())
}

/// Finds the posts that stand in each other, neighbours along a run left out: their stretch tells it. `starts` are the
/// indices of the runs' first posts.
pub fn crowded(guard: &Guard, starts: &[usize]) -> Vec<Finding> {
    let widest = guard.posts.iter().map(|p| p.side.millimetres()).fold(1.0, f64::max);
    // Squares that are farther apart than their diagonals cannot meet.
    let cell = 1.5 * widest;
    let run_of = |i: usize| starts.partition_point(|s| *s <= i);
    let neighbours = |i: usize, j: usize| {
        let run = run_of(i);
        let first = starts.get(run.wrapping_sub(1)).copied().unwrap_or(0);
        let last = starts.get(run).map_or(guard.posts.len(), |next| *next).saturating_sub(1);
        run == run_of(j) && (j - i == 1 || (i, j) == (first, last))
    };
    let mut grid: HashMap<(i64, i64), Vec<usize>> = HashMap::new();
    let mut findings = Vec::new();
    for (j, post) in guard.posts.iter().enumerate() {
        let (kx, ky) = ((post.at.x / cell).floor() as i64, (post.at.y / cell).floor() as i64);
        let mut near: Vec<usize> = (-1..=1)
            .flat_map(|dx| (-1..=1).map(move |dy| (kx + dx, ky + dy)))
            .filter_map(|k| grid.get(&k))
            .flatten()
            .copied()
            .collect();
        near.sort_unstable();
        let met = near.into_iter().filter(|i| !neighbours(*i, j)).find_map(|i| {
            let other = guard.posts.get(i)?;
            square(other).intersects(&square(post)).then_some(other)
        });
        if let Some(other) = met {
            findings.push(
                Finding::error(
                    Code::PostsTooNear,
                    Place::post(&post.id).with_point((post.at + other.at) / 2.0),
                    format!("{} and {} stand in each other", other.id, post.id),
                )
                .hint("the deck is too narrow here for two rails: leave the place out with an opening, or use a smaller --inset"),
            );
        }
        let held = grid.entry((kx, ky)).or_default();
        // A heap of posts in one place is found by a few of them.
        if held.len() < 8 {
            held.push(j);
        }
    }
    findings
}
