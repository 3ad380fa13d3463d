//! Deck edges that cross each other.

use std::collections::BTreeSet;

use crate::base::plane::{meet, norm};
use crate::base::{Code, Finding, Near, Place, Point};

use super::chain::Loose;
use super::ends::Chord;
use super::model::Edge;

/// Outlines that cross each other: whether one deck goes on there or two lie above each other cannot be told.
pub fn crossings(chains: &[Loose]) -> Vec<Finding> {
    if chains.len() < 2 {
        return Vec::new();
    }
    let chords = chains.iter().enumerate();
    let chords = chords.flat_map(|(chain, c)| c.segments().map(move |ends| Chord { chain, ends }));
    let chords: Near<Chord> = chords.collect::<Vec<_>>().into();
    let mut told = BTreeSet::new();
    let mut findings = Vec::new();
    for chord in chords.iter() {
        let (a, b) = chord.ends;
        for (_, other) in chords.around([a, b], 0.0).filter(|(_, o)| o.chain > chord.chain) {
            let (u, v) = (b - a, other.ends.1 - other.ends.0);
            let (Some(t), Some(s)) = (meet(a, u, other.ends.0, v), meet(other.ends.0, v, a, u)) else { continue };
            let inside = |t: f64, way: Point| t * norm(way) > CROSS_MM && (1.0 - t) * norm(way) > CROSS_MM;
            if inside(t, u) && inside(s, v) && told.insert((chord.chain, other.chain)) {
                let place = chains.get(other.chain).and_then(|c| c.edges.first()).map_or_else(Place::none, Edge::place);
                let message = "two deck edges cross each other here: whether they are one deck cannot be told";
                findings.push(
                    Finding::incomplete(Code::EdgeCrosses, place.with_point(a + u * t), message)
                        .hint("draw one outline around both, or each deck by itself"),
                );
            }
        }
    }
    findings
}

/// Lines that run past each other by less (1/4 in) meet, and do not cross.
const CROSS_MM: f64 = 6.35;
