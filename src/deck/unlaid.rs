//! What is drawn and known, and not laid out: ramps, and rails that the designer drew away from the deck's edge.

use crate::base::plane::to_segment;
use crate::base::{Code, Extent, Finding, Near, Point};
use crate::cad::{Entity, Shape};

use super::flight::Flight;
use super::model::{CHORD_MM, Chain, Wall};
use super::zones::points_of;

/// A drawn rail this near to a deck edge, a wall or a side of a flight (12 in) is the guard that is laid out there.
const NEAR_MM: f64 = 304.8;

/// Where guards are laid out, or none is needed.
struct Known {
    a: Point,
    b: Point,
}

impl Extent for Known {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.a, self.b].into_iter()
    }
}

/// One finding for what stands on the layers of ramps.
pub fn ramps(entities: &[&Entity]) -> Option<Finding> {
    let first = entities.first()?;
    let at = match &first.shape {
        Shape::Text { at, .. } => *at,
        _ => *points_of(first).first()?,
    };
    let message = format!("a ramp is drawn here ({} on its layer): ramps are not laid out yet", count(entities.len()));
    Some(Finding::incomplete(Code::RampNotLaidOut, first.place(at), message).hint(
        "rails along the edges of a ramp follow its slope and need handrails: lay out the level deck alone, without the edges of \
         the ramp, and put what is no ramp on another layer",
    ))
}

fn count(n: usize) -> String {
    if n == 1 { "1 entity".to_owned() } else { format!("{n} entities") }
}

/// One finding for the rails that are drawn away from what gets a guard anyway: a middle rail, or one that divides a deck.
pub fn rails(entities: &[&Entity], chains: &[Chain], walls: &[Wall], flights: &[Flight]) -> Option<Finding> {
    if entities.is_empty() {
        return None;
    }
    let edges = chains.iter().flat_map(|c| &c.edges).flat_map(|edge| {
        let mut from = edge.a;
        edge.piece().flat(CHORD_MM).map(move |to| Known { a: std::mem::replace(&mut from, to), b: to })
    });
    let sides = flights.iter().flat_map(|f| {
        let length = f.length().millimetres();
        [true, false].map(|left| Known { a: f.at(left, 0.0, 0.0), b: f.at(left, length, 0.0) })
    });
    let walls = walls.iter().map(|w| Known { a: w.a, b: w.b });
    let known: Near<Known> = edges.chain(sides).chain(walls).collect::<Vec<_>>().into();
    let is_near = |p: Point| known.around([p], NEAR_MM).any(|(_, k)| to_segment(p, k.a, k.b).0 <= NEAR_MM);
    let away: Vec<(&Entity, Point)> = entities
        .iter()
        .filter_map(|e| {
            let points = points_of(e);
            let middles = points.iter().zip(points.iter().skip(1)).map(|(a, b)| (*a + *b) / 2.0);
            let found = points.iter().copied().chain(middles).find(|p| !is_near(*p));
            found.map(|p| (*e, p))
        })
        .collect();
    let (first, at) = away.first()?;
    let message = format!(
        "a rail is drawn away from the deck's edge ({} of {} on its layer): rails that are drawn as such are not laid out yet",
        away.len(),
        count(entities.len())
    );
    Some(
        Finding::incomplete(Code::RailNotLaidOut, first.place(*at), message).hint(
            "the edges and flights of the deck get their guards by themselves; put what is no rail on another layer",
        ),
    )
}
