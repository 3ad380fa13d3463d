//! What the ends of open deck edges end at: an edge that ends in the air is told, since beside it one can fall.

use std::collections::BTreeSet;

use crate::base::plane::{distance, to_segment};
use crate::base::{Code, Finding, Near, Place, Point, decimal};
use crate::catalog::{FreeEnds, Settings};

use super::chain::Loose;
use super::model::{DrawnPost, Wall};

/// What coordinates lose on their way (0.01 mm).
const NOISE_MM: f64 = 0.01;

/// What lies farther than this (24 in) from an end is not the line that it was meant to meet.
const NEXT_MM: f64 = 609.6;

/// What an open deck edge ends at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChainEnd {
    /// A wall.
    Wall,
    /// A drawn post.
    Post,
    /// Nothing, and the job says that it is to be so.
    Stated,
    /// Nothing that is drawn, or another edge that it is not joined to; told as such.
    Open,
}

/// What else is drawn.
pub struct Around<'a> {
    /// All chains as chords, each with the number of its chain.
    pub chords: Near<Chord>,
    /// Walls.
    pub walls: &'a Near<Wall>,
    /// Drawn posts.
    pub posts: Near<&'a DrawnPost>,
}

/// A chord of a chain, with the chain's number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chord {
    /// Number of the chain.
    pub chain: usize,
    /// Its ends.
    pub ends: (Point, Point),
}

impl crate::base::Extent for Chord {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.ends.0, self.ends.1].into_iter()
    }
}

impl<'a> Around<'a> {
    /// All that an end may end at.
    pub fn new(chains: &[Loose], walls: &'a Near<Wall>, posts: &'a [DrawnPost]) -> Self {
        // Where no end is open nothing is looked for.
        let some_open = chains.iter().any(|c| !c.closed);
        let chords = chains.iter().enumerate().filter(|_| some_open);
        let chords = chords.flat_map(|(chain, c)| c.segments().map(move |ends| Chord { chain, ends }));
        Self { chords: chords.collect::<Vec<_>>().into(), walls, posts: posts.iter().collect::<Vec<_>>().into() }
    }

    /// What a chain's end at `p` ends at.
    fn at(&self, p: Point, settings: &Settings) -> ChainEnd {
        // What stands just as far as it may is near enough, whatever the coordinates lost.
        let [touch, snap] = [settings.touch, settings.snap].map(|l| l.millimetres() + NOISE_MM);
        if self.walls.around([p], touch).any(|(_, w)| to_segment(p, w.a, w.b).0 <= touch) {
            ChainEnd::Wall
        } else if self.posts.around([p], snap).any(|(_, post)| distance(p, post.at) <= snap) {
            ChainEnd::Post
        } else if settings.ends == Some(FreeEnds::Free) {
            ChainEnd::Stated
        } else {
            ChainEnd::Open
        }
    }

    /// What comes next to an end of a chain: what it is, how far, and where.
    fn next(&self, chain: usize, p: Point, tail: (Point, Point)) -> Option<(&'static str, f64, Point)> {
        let on = |(a, b): (Point, Point)| a + (b - a) * to_segment(p, a, b).1;
        // Of its own chain the last stretch is no other line.
        let line = self.chords.nearest(p, |c| {
            let own = c.chain == chain && (c.ends == tail || c.ends == (tail.1, tail.0));
            if own { f64::INFINITY } else { to_segment(p, c.ends.0, c.ends.1).0 }
        });
        let line = line.filter(|(d, ..)| d.is_finite()).map(|(d, _, c)| ("line", d, on(c.ends)));
        let wall = self.walls.nearest(p, |w| to_segment(p, w.a, w.b).0).map(|(d, _, w)| ("wall", d, on((w.a, w.b))));
        line.into_iter().chain(wall).min_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// What both ends of each open chain end at; `None` for a ring. An end in the air is told once for each gap.
pub fn ends(
    chains: &[Loose],
    around: &Around<'_>,
    settings: &Settings,
    findings: &mut Vec<Finding>,
) -> Vec<Option<[ChainEnd; 2]>> {
    let bits = |p: Point| (p.x.to_bits(), p.y.to_bits());
    let mut told = BTreeSet::new();
    let mut of = |(number, chain): (usize, &Loose)| {
        let (first, last) = (chain.segments().next()?, chain.segments().last()?);
        let open = [(first.0, first, chain.edges.first()), (last.1, last, chain.edges.last())];
        (!chain.closed).then(|| {
            open.map(|(p, tail, edge)| {
                let end = around.at(p, settings);
                if end == ChainEnd::Open {
                    let next = around.next(number, p, tail);
                    let is_told = next.is_some_and(|(_, _, q)| told.contains(&(bits(q), bits(p))));
                    if let Some((_, _, q)) = next {
                        told.insert((bits(p), bits(q)));
                    }
                    if !is_told {
                        findings.push(in_the_air(edge.map_or_else(Place::none, |e| e.place()).with_point(p), next));
                    }
                }
                end
            })
        })
    };
    chains.iter().enumerate().map(&mut of).collect()
}

fn in_the_air(place: Place, next: Option<(&'static str, f64, Point)>) -> Finding {
    let message = match next {
        Some((_, d, _)) if d < 1.6 => "this open edge ends on another line that it is not joined to".to_owned(),
        Some((what, d, _)) if d <= NEXT_MM => {
            let (inches, mm) = (decimal(d / 25.4, 2), decimal(d, 0));
            format!("this open edge ends in the air, {inches} in ({mm} mm) before the next {what}")
        }
        _ => "this open edge ends in the air".to_owned(),
    };
    Finding::incomplete(Code::EdgeOpen, place, message).hint(
        "draw the edge up to the next line, to a wall or to a post; where the deck goes on there and needs no guard, set \
         `ends = \"free\"` in the job file",
    )
}
