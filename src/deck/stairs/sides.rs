//! Which sides of a flight stand free.

use crate::base::plane::{cross, distance, dot, unit};
use crate::base::{Code, Finding, Length, Point};
use crate::catalog::Sides;
use crate::deck::flight::Flight;
use crate::deck::model::Wall;

/// A wall so near to a side is beside it, whatever the setting: 6 in.
const BESIDE: Length = Length::from_nanometres(152_400_000);

/// The share of a side's length that a wall must stand beside.
const MOST: f64 = 0.6;

/// Sine of the angle between a side and a wall that runs along it: 2 degrees.
const ALONG: f64 = 0.035;

/// Sides from two answers.
pub const fn sides(left: bool, right: bool) -> Sides {
    match (left, right) {
        (true, true) => Sides::Both,
        (true, false) => Sides::Left,
        (false, true) => Sides::Right,
        (false, false) => Sides::None,
    }
}

/// Top and lowest end of one side.
fn side(flight: &Flight, left: bool) -> (Point, Point) {
    (flight.at(left, 0.0, 0.0), flight.at(left, flight.length().millimetres(), 0.0))
}

/// The part of `of` that `other` runs along, at most `reach` away, as a stretch of its length.
fn along(of: (Point, Point), other: (Point, Point), reach: f64) -> Option<(f64, f64)> {
    let (u, v) = (unit(of.1 - of.0), unit(other.1 - other.0));
    let beside = |p: Point| cross(u, p - of.0).abs() <= reach;
    let (s, t) = (dot(u, other.0 - of.0), dot(u, other.1 - of.0));
    let (low, high) = (s.min(t).max(0.0), s.max(t).min(distance(of.0, of.1)));
    let way = if s == t { return None } else { (other.1 - other.0) / (t - s) };
    let near = beside(other.0 + way * (low - s)) && beside(other.0 + way * (high - s));
    (cross(u, v).abs() <= ALONG && near && high > low).then_some((low, high))
}

/// Sides that lie along walls.
pub fn along_walls(flight: &Flight, walls: &[Wall], touch: Length) -> Sides {
    let reach = touch.max(BESIDE).millimetres();
    let has_wall = |left: bool| {
        let side = side(flight, left);
        let mut parts: Vec<(f64, f64)> = walls.iter().filter_map(|w| along(side, (w.a, w.b), reach)).collect();
        parts.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut covered, mut reached) = (0.0, 0.0);
        for (low, high) in parts {
            covered += (high - low.max(reached)).max(0.0);
            reached = high.max(reached);
        }
        covered > MOST * distance(side.0, side.1)
    };
    sides(has_wall(true), has_wall(false))
}

/// Two flights that fall side by side at the same height are one wide stair: there is no guard between them, unless the
/// job or the drawing asks for it. Gives for each flight the sides that it shares so.
pub fn shared(flights: &[Flight], findings: &mut Vec<Finding>) -> Vec<Sides> {
    let reach = BESIDE.millimetres();
    let joins = |f: &Flight, is_left: bool, g: &Flight| {
        let (own, theirs) = (side(f, is_left), side(g, !is_left));
        let same_way = dot(f.down, g.down) > 0.999;
        let level = dot(f.down, theirs.0 - own.0).abs() <= reach && f.pitch.angle().abs() == g.pitch.angle().abs();
        let length = distance(own.0, own.1);
        same_way && level && along(own, theirs, reach).is_some_and(|(a, b)| b - a > MOST * length)
    };
    let of = |(i, f): (usize, &Flight)| {
        let mut with = |is_left: bool| {
            let others = flights.iter().enumerate().filter(|(j, _)| *j != i);
            let found = others.map(|(_, g)| g).find(|g| joins(f, is_left, g));
            if let Some(g) = found {
                let name = if is_left { "left" } else { "right" };
                let message =
                    format!("flights {} and {} fall side by side: the {name} side of {0} gets no guard", f.id, g.id);
                findings.push(Finding::note(Code::StairCompleted, f.place.clone(), message));
            }
            found.is_some()
        };
        let left = with(true);
        sides(left, with(false))
    };
    flights.iter().enumerate().map(of).collect()
}

/// All of the sides that are not among `other`.
pub const fn without(of: Sides, other: Sides) -> Sides {
    sides(of.left() && !other.left(), of.right() && !other.right())
}
