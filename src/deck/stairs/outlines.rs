//! Flights without tread lines: outlines, and single lines with a slope.

use crate::base::plane::{distance, dot, left, norm, unit};
use crate::base::{Length, Point};
use crate::cad::{Entity, Shape};
use crate::deck::chain;

use super::drawn::{Drawn, Kind};

/// How far an outline may be off being a rectangle: 2 % of its longer side.
const SQUARE: f64 = 0.02;

/// Outlines smaller than this (6 in) are arrow heads and marks.
const LEAST_MM: f64 = 152.4;

/// A line that falls by less than this (3 in) is level, and only carelessly drawn.
pub const SLOPE_MM: f64 = 76.2;

/// The rectangles among some entities: closed outlines, or lines that make one. Each comes twice, along both its sides.
pub fn rectangles(entities: &[&Entity], chosen: &[usize], join: Length) -> Vec<[Drawn; 2]> {
    let list: Vec<&Entity> = chosen.iter().filter_map(|i| entities.get(*i).copied()).collect();
    let mut out = Vec::new();
    for loose in chain::separate(&list, join).iter().filter(|l| l.closed) {
        let [a, b, c, d] = loose.edges.as_slice() else { continue };
        let (p, q, r, s) = (a.a, b.a, c.a, d.a);
        let (u, v) = (q - p, r - q);
        let off = norm((q - p) + (s - r)) + dot(unit(u), unit(v)).abs() * norm(v);
        let is_rectangle = off <= SQUARE * norm(u).max(norm(v)) && loose.edges.iter().all(|e| e.bulge == 0.0);
        if !is_rectangle || norm(u).min(norm(v)) < LEAST_MM {
            continue;
        }
        let first = chosen.iter().find(|i| entities.get(**i).is_some_and(|e| e.origin == a.origin)).copied();
        let Some(entity) = first else { continue };
        let Some(place) = entities.get(entity).map(|e| e.place((p + r) / 2.0)) else { continue };
        let drawn = |start: Point, to: Point, width: f64| Drawn {
            kind: Kind::Outline,
            start,
            axis: unit(to - start),
            half: width / 2.0,
            lines: vec![0.0, distance(start, to)],
            heights: Vec::new(),
            falls: None,
            entity,
            place: place.clone(),
        };
        out.push([
            drawn((p + s) / 2.0, (q + r) / 2.0, (norm(v) + norm(p - s)) / 2.0),
            drawn((p + q) / 2.0, (s + r) / 2.0, (norm(u) + norm(r - s)) / 2.0),
        ]);
    }
    out
}

/// A line or straight polyline that falls: from its one end to the other, and by how much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sloping {
    /// Its upper end.
    pub top: Point,
    /// Its lower end.
    pub foot: Point,
    /// Fall in mm.
    pub fall: f64,
    /// Its entity.
    pub entity: usize,
}

impl Sloping {
    /// Reads an entity.
    pub fn of(entity: &Entity, index: usize) -> Option<Self> {
        let Shape::Path { vertices, closed: false } = &entity.shape else { return None };
        let ([from, to], first, last) = (entity.ends?, vertices.first()?.at, vertices.last()?.at);
        let fall = (from - to).abs();
        let way = unit(last - first);
        // The middle of a polyline may be a little off; a winding one is no flight.
        let straight = vertices.iter().all(|v| v.bulge == 0.0 && dot(left(way), v.at - first).abs() <= 25.4);
        let (top, foot) = if from > to { (first, last) } else { (last, first) };
        (straight && fall >= SLOPE_MM && distance(first, last) >= LEAST_MM).then_some(Self {
            top,
            foot,
            fall,
            entity: index,
        })
    }

    /// Fall for each mm along it.
    pub fn slope(&self) -> f64 {
        self.fall / distance(self.top, self.foot)
    }

    /// The flight of which it is one side.
    pub fn side(&self, entities: &[&Entity]) -> Option<Drawn> {
        let middle = (self.top + self.foot) / 2.0;
        Some(Drawn {
            kind: Kind::Side,
            start: self.top,
            axis: unit(self.foot - self.top),
            half: 0.0,
            lines: vec![0.0, distance(self.top, self.foot)],
            heights: Vec::new(),
            falls: Some(self.slope()),
            entity: self.entity,
            place: entities.get(self.entity)?.place(middle),
        })
    }

    /// What it says of the fall of a flight: it lies on or beside it, within a foot, along its axis.
    pub fn falls_of(&self, drawn: &Drawn) -> Option<f64> {
        let along = dot(unit(self.foot - self.top), drawn.axis);
        let middle = (self.top + self.foot) / 2.0;
        (along.abs() > 0.99 && drawn.distance(middle) <= 304.8).then(|| self.slope() * along.signum())
    }
}
