//! What stands around an outline: walls along it, posts at it, treads and openings on it.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::plane::{cross, distance, dot, point, unit};
use crate::base::{Piece, Point};

use super::super::roles::Role;
use super::names::{Hint, hint};
use super::things::{Ring, Scene, Thing};
use super::{RoleGuess, Ruler};

/// Sides of posts and diameters of round ones (1-1/2 in to 8 in): what is larger is a footing.
const POST_MM: std::ops::RangeInclusive<f64> = 38.0..=205.0;

/// Post centres stand so near the edge (10 in).
const NEAR_MM: f64 = 254.0;

/// What runs along an edge within 2 in belongs to it, as in the plan.
const ALONG_MM: f64 = 50.8;

/// Treads as they are built, from nosing to nosing.
const TREAD_MM: std::ops::RangeInclusive<f64> = 180.0..=420.0;

/// Clear widths of openings and stairs.
const WIDTH_MM: std::ops::RangeInclusive<f64> = 550.0..=4500.0;

/// An edge this long is worth a wall.
const EDGE_MM: f64 = 500.0;

/// What is looked at lies within 8 m of the outline: a flight of twenty treads and a landing.
const BESIDE_MM: f64 = 8000.0;

/// One outline and what is looked at beside it.
pub struct Around<'a> {
    scene: &'a Scene,
    ring: &'a Ring,
    ruler: Ruler,
    /// Things near the outline that are no part of it.
    near: Vec<usize>,
}

/// Something that looks like a post.
struct PostLike {
    things: Vec<usize>,
    layer: usize,
    at: Point,
    side: f64,
}

/// A stretch of an edge by its distances from the edge's start.
type Stretch = (f64, f64);

impl<'a> Around<'a> {
    /// Looks for what is near.
    pub fn new(scene: &'a Scene, ring: &'a Ring, ruler: Ruler) -> Self {
        let own: BTreeSet<usize> = ring.things.iter().copied().collect();
        let aside = point(ruler.of(BESIDE_MM), ruler.of(BESIDE_MM));
        let (low, high) = (ring.low - aside, ring.high + aside);
        let meets = |t: &Thing| t.low.x <= high.x && t.low.y <= high.y && t.high.x >= low.x && t.high.y >= low.y;
        let all = scene.things.iter().enumerate().filter(|(i, t)| meets(t) && !own.contains(i));
        Self { scene, ring, ruler, near: all.map(|(i, _)| i).collect() }
    }

    fn things(&self) -> impl Iterator<Item = (usize, &Thing)> {
        self.near.iter().filter_map(|i| Some((*i, self.scene.things.get(*i)?)))
    }

    /// The straight edges that are long enough for a wall or a stair.
    fn edges(&self) -> Vec<Piece> {
        let long = |p: &&Piece| p.bulge == 0.0 && self.ruler.real(p.length()) >= EDGE_MM;
        self.ring.course.iter().filter(long).copied().collect()
    }

    fn name(&self, layer: usize) -> &str {
        self.scene.layers.get(layer).map_or("", String::as_str)
    }

    fn says(&self, layer: usize, role: Role) -> bool {
        hint(self.name(layer)) == Some(Hint::Role(role))
    }

    /// Whether its name speaks of something else than the role.
    fn denies(&self, layer: usize, role: Role) -> bool {
        hint(self.name(layer)).is_some_and(|h| h != Hint::Role(role))
    }

    /// Whether a point lies on the deck, away from its edge.
    fn deep_inside(&self, p: Point) -> bool {
        self.ring.holds(p) && self.ring.apart(p) > self.ruler.of(ALONG_MM)
    }

    /// The guess for a role: the layers, each with the things that speak for it.
    fn of(&self, role: Role, by_layer: BTreeMap<usize, (BTreeSet<usize>, String)>) -> Option<RoleGuess> {
        let mut guess = RoleGuess { role, layers: Vec::new(), things: Vec::new(), why: Vec::new() };
        for (layer, (things, why)) in by_layer {
            let name = self.name(layer).to_owned();
            let named = if self.says(layer, role) { ", and its name says so" } else { "" };
            guess.why.push(format!("{name}: {why}{named}"));
            guess.layers.push(name);
            guess.things.extend(things);
        }
        (!guess.layers.is_empty()).then_some(guess)
    }

    /// Squares, circles and blocks of a post's size at the edge.
    pub fn posts(&self) -> Option<RoleGuess> {
        let mut by_layer: BTreeMap<usize, (Vec<PostLike>, usize)> = BTreeMap::new();
        for post in self.post_likes() {
            let near = self.ring.apart(post.at) <= self.ruler.of(NEAR_MM)
                && (!self.ring.closed || self.ring.holds(post.at) || self.ring.apart(post.at) <= post.side);
            let entry = by_layer.entry(post.layer).or_default();
            if near { entry.0.push(post) } else { entry.1 += 1 }
        }
        let told = by_layer.into_iter().filter_map(|(layer, (near, far))| {
            let least = if self.says(layer, Role::Post) { 1 } else { 2 };
            let others = far > 2 * near.len() && layer != self.ring.layer;
            if near.len() < least || others || self.denies(layer, Role::Post) {
                return None;
            }
            let sides = near.iter().map(|p| p.side);
            let (low, high) = (sides.clone().fold(f64::INFINITY, f64::min), sides.fold(0.0, f64::max));
            let size = if high - low < 0.01 * high {
                self.ruler.told(high)
            } else {
                format!("{} to {}", self.ruler.told(low), self.ruler.told(high))
            };
            let shapes = if near.len() == 1 { "shape" } else { "shapes" };
            let why = format!("{} {shapes} of a post's size ({size}) at the edge", near.len());
            Some((layer, (near.into_iter().flat_map(|p| p.things).collect(), why)))
        });
        self.of(Role::Post, told.collect())
    }

    fn post_likes(&self) -> Vec<PostLike> {
        let mut blocks: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        let mut out = Vec::new();
        for (i, thing) in self.things().filter(|(_, t)| !t.text) {
            match thing.insert {
                Some(insert) => blocks.entry(insert).or_default().push(i),
                None if thing.closed && is_square(thing) => {
                    // A square that stands turned is as wide as its side, not as its box.
                    let side = thing
                        .pieces
                        .first()
                        .map_or(0.0, |p| if p.bulge == 0.0 { distance(p.a, p.b) } else { thing.longest() });
                    out.push(PostLike { things: vec![i], layer: thing.layer, at: thing.middle(), side });
                }
                None => {}
            }
        }
        for things in blocks.into_values() {
            let all: Vec<&Thing> = things.iter().filter_map(|i| self.scene.things.get(*i)).collect();
            let Some(first) = all.first() else { continue };
            let low = all.iter().fold(first.low, |l, t| point(l.x.min(t.low.x), l.y.min(t.low.y)));
            let high = all.iter().fold(first.high, |h, t| point(h.x.max(t.high.x), h.y.max(t.high.y)));
            let size = high - low;
            if (size.x - size.y).abs() <= 0.05 * size.x.max(size.y) {
                out.push(PostLike { layer: first.layer, at: (low + high) / 2.0, side: size.x.max(size.y), things });
            }
        }
        out.retain(|p| POST_MM.contains(&self.ruler.real(p.side)));
        out
    }

    /// Lines outside of the deck, parallel to an edge and one tread apart from each other.
    pub fn stairs(&self) -> Option<RoleGuess> {
        let mut told: BTreeMap<usize, (BTreeSet<usize>, String)> = BTreeMap::new();
        for layer in 0..self.scene.layers.len() {
            if self.denies(layer, Role::Stair) {
                continue;
            }
            for edge in self.edges() {
                let Some((treads, step)) = self.treads(layer, edge) else { continue };
                let mut things: BTreeSet<usize> = treads.iter().copied().collect();
                things.extend(self.beside(&treads, layer));
                let apart = self.ruler.told(step);
                let why = format!("{} lines {apart} apart, from an edge outward", treads.len());
                told.entry(layer).or_insert_with(|| (BTreeSet::new(), why)).0.extend(things);
            }
            let has_more = || self.things().any(|(_, t)| t.layer == layer && !t.text);
            if !told.contains_key(&layer) && self.says(layer, Role::Stair) && has_more() {
                let all = self.things().filter(|(_, t)| t.layer == layer).map(|(i, _)| i);
                told.insert(layer, (all.collect(), "its name alone".to_owned()));
            }
        }
        self.of(Role::Stair, told)
    }

    /// The longest row of equal lines of a layer that leads away from an edge, and how far they are apart.
    fn treads(&self, layer: usize, edge: Piece) -> Option<(Vec<usize>, f64)> {
        let (u, length) = (unit(edge.b - edge.a), distance(edge.a, edge.b));
        // Distance from the edge, middle along it, length, thing.
        let mut lines: Vec<(f64, f64, f64, usize)> = Vec::new();
        for (i, thing) in self.things().filter(|(_, t)| t.layer == layer) {
            let Some(line) = thing.line() else { continue };
            let (d, own) = ((line.a + line.b) / 2.0 - edge.a, distance(line.a, line.b));
            let is_tread = cross(u, unit(line.b - line.a)).abs() < 0.02 && WIDTH_MM.contains(&self.ruler.real(own));
            if is_tread && (0.0..=length).contains(&dot(d, u)) && !self.deep_inside((line.a + line.b) / 2.0) {
                lines.push((cross(u, d).abs(), dot(d, u), own, i));
            }
        }
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut best: Option<(Vec<usize>, f64)> = None;
        for (k, first) in lines.iter().enumerate() {
            if self.ruler.real(first.0) > *TREAD_MM.end() || first.0 < -self.ruler.of(ALONG_MM) {
                break;
            }
            let (mut row, mut last, mut step) = (vec![first.3], first.0, None);
            for next in lines.iter().skip(k + 1) {
                let alike =
                    (next.1 - first.1).abs() <= self.ruler.of(150.0) && (next.2 - first.2).abs() <= 0.1 * first.2;
                let gap = next.0 - last;
                let fits = step.map_or(TREAD_MM.contains(&self.ruler.real(gap)), |s: f64| (gap - s).abs() <= 0.05 * s);
                if alike && fits {
                    row.push(next.3);
                    (last, step) = (next.0, Some(gap));
                }
            }
            if let Some(step) = step.filter(|_| row.len() > best.as_ref().map_or(1, |(row, _)| row.len())) {
                best = Some((row, step));
            }
        }
        best
    }

    /// What else of a layer stands in the box of treads: stringers and arrows, and the texts beside it.
    fn beside(&self, treads: &[usize], layer: usize) -> Vec<usize> {
        let all: Vec<&Thing> = treads.iter().filter_map(|i| self.scene.things.get(*i)).collect();
        let Some(first) = all.first() else { return Vec::new() };
        let room = self.ruler.of(330.0);
        let room = point(room, room);
        let low = all.iter().fold(first.low, |l, t| point(l.x.min(t.low.x), l.y.min(t.low.y))) - room;
        let high = all.iter().fold(first.high, |h, t| point(h.x.max(t.high.x), h.y.max(t.high.y))) + room;
        let aside = self.ruler.of(900.0);
        let aside = point(aside, aside);
        let said = |t: &Thing| {
            let (low, high) = (low - aside, high + aside);
            t.text && t.low.x >= low.x && t.low.y >= low.y && t.low.x <= high.x && t.low.y <= high.y
        };
        let within = |t: &Thing| t.low.x >= low.x && t.low.y >= low.y && t.high.x <= high.x && t.high.y <= high.y;
        self.things().filter(|(_, t)| t.layer == layer && (within(t) || said(t))).map(|(i, _)| i).collect()
    }

    /// The stretch of a straight edge that a piece runs along.
    fn along(&self, edge: Piece, piece: Piece) -> Option<Stretch> {
        let u = unit(edge.b - edge.a);
        let near = |p: Point| cross(u, p - edge.a).abs() <= self.ruler.of(ALONG_MM);
        if piece.bulge != 0.0 || cross(u, unit(piece.b - piece.a)).abs() > 0.02 || !near(piece.a) || !near(piece.b) {
            return None;
        }
        let (s, t) = (dot(piece.a - edge.a, u), dot(piece.b - edge.a, u));
        let (s, t) = (s.min(t).max(0.0), s.max(t).min(distance(edge.a, edge.b)));
        (t - s > self.ruler.of(ALONG_MM)).then_some((s, t))
    }

    /// Lines that run along whole edges, and go on beyond them or have nothing on the deck.
    pub fn walls(&self, stairs: &[usize]) -> Option<RoleGuess> {
        let mut told: BTreeMap<usize, (BTreeSet<usize>, String)> = BTreeMap::new();
        for layer in 0..self.scene.layers.len() {
            if self.denies(layer, Role::Wall) {
                continue;
            }
            let own: Vec<(usize, &Thing)> = self
                .things()
                .filter(|(i, t)| t.layer == layer && !t.pieces.is_empty() && !stairs.contains(i))
                .filter(|(_, t)| !(t.closed && self.lies_around(t)))
                .collect();
            let named = self.says(layer, Role::Wall);
            let on_deck = own.iter().filter(|(_, t)| self.deep_inside(t.middle()) && t.insert.is_none()).count();
            let clean = layer != self.ring.layer && on_deck <= 3;
            let (mut things, mut edges) = (BTreeSet::new(), 0);
            let mut total = 0.0;
            for edge in self.edges() {
                let beside = self.wall_of(edge, &own, clean || named);
                if !beside.is_empty() {
                    edges += 1;
                    total += edge.length();
                    things.extend(beside);
                }
            }
            if edges > 0 && total <= 0.85 * self.ring.length() {
                let what = if edges == 1 { "an edge" } else { "edges" };
                told.insert(layer, (things, format!("lines along the whole of {what} of the deck")));
            } else if named && !own.is_empty() && total == 0.0 {
                told.insert(layer, (own.iter().map(|(i, _)| *i).collect(), "its name alone".to_owned()));
            } else if let Some(at_ends) = self.at_both_ends(&own) {
                told.insert(
                    layer,
                    (at_ends.into_iter().collect(), "both ends of the deck's edge lie on it".to_owned()),
                );
            }
        }
        self.of(Role::Wall, told)
    }

    /// The lines of a layer on which both ends of an open edge lie.
    fn at_both_ends(&self, own: &[(usize, &Thing)]) -> Option<Vec<usize>> {
        let (first, last) = self.ring.course.first().zip(self.ring.course.last()).filter(|_| !self.ring.closed)?;
        let [from, to] = [first.a, last.b].map(|end| {
            let on = |t: &Thing| t.pieces.iter().any(|p| p.nearest(end).0 <= self.ruler.of(ALONG_MM));
            own.iter().filter(|(_, t)| on(t)).map(|(i, _)| *i).collect::<Vec<usize>>()
        });
        (!from.is_empty() && !to.is_empty()).then(|| from.into_iter().chain(to).collect())
    }

    /// Whether walls are nothing but outlines of a deck's size on the deck's layer: the other half of the deck looks alike.
    pub fn only_twins(&self, walls: &RoleGuess) -> bool {
        let area = |low: Point, high: Point| (high.x - low.x) * (high.y - low.y);
        let own = area(self.ring.low, self.ring.high);
        let twin = |t: &Thing| t.layer == self.ring.layer && t.closed && area(t.low, t.high) < 4.0 * own;
        walls.things.iter().filter_map(|i| self.scene.things.get(*i)).all(twin)
    }

    fn lies_around(&self, thing: &Thing) -> bool {
        let (low, high) = (self.ring.low, self.ring.high);
        thing.low.x < low.x && thing.low.y < low.y && thing.high.x > high.x && thing.high.y > high.y
    }

    /// The things that make a wall along an edge: together they cover it from end to end, doors left out.
    fn wall_of(&self, edge: Piece, own: &[(usize, &Thing)], trusted: bool) -> Vec<usize> {
        let length = edge.length();
        let mut covered: Vec<(Stretch, usize)> = Vec::new();
        for (i, thing) in own {
            if !trusted && !self.goes_beyond(edge, thing) {
                continue;
            }
            covered.extend(thing.pieces.iter().filter_map(|p| self.along(edge, *p)).map(|s| (s, *i)));
        }
        let first = covered.iter().map(|((s, _), _)| *s).fold(f64::INFINITY, f64::min);
        let last = covered.iter().map(|((_, t), _)| *t).fold(0.0, f64::max);
        let sum: f64 = covered.iter().map(|((s, t), _)| t - s).sum();
        if last - first >= 0.95 * length && sum >= 0.5 * length {
            covered.into_iter().map(|(_, i)| i).collect()
        } else {
            Vec::new()
        }
    }

    /// Whether a thing along an edge is more than a line of the deck: it goes on beyond the edge, or lies outside.
    fn goes_beyond(&self, edge: Piece, thing: &Thing) -> bool {
        let far = |p: Point| edge.nearest(p).0 > self.ruler.of(100.0);
        let outside = |p: Point| !self.ring.holds(p) && far(p);
        let ends = thing.pieces.iter().flat_map(|p| [p.a, p.b, p.at(p.length() / 2.0)]);
        let mut points: Vec<Point> = ends.collect();
        points.retain(|p| far(*p));
        points.iter().any(|p| outside(*p)) && !points.iter().any(|p| self.deep_inside(*p))
    }

    /// Short things on an edge whose layer has nothing else. Without a name that says so they are only told: what is
    /// wrongly taken for an opening leaves a gap in the guard.
    pub fn openings(&self, others: &[usize]) -> (Option<RoleGuess>, Vec<(usize, String)>) {
        let mut perhaps = Vec::new();
        let mut told: BTreeMap<usize, (BTreeSet<usize>, String)> = BTreeMap::new();
        for layer in 0..self.scene.layers.len() {
            let own: Vec<(usize, &Thing)> = self.things().filter(|(_, t)| t.layer == layer && !t.text).collect();
            let named = self.says(layer, Role::Opening);
            let taken = own.is_empty() || own.iter().any(|(i, _)| others.contains(i));
            if taken || layer == self.ring.layer || self.denies(layer, Role::Opening) {
                continue;
            }
            let short = |t: &Thing| WIDTH_MM.contains(&self.ruler.real(t.longest()));
            let on_edge = |t: &Thing| {
                t.pieces.iter().any(|p| self.ring.course.iter().any(|e| self.part_of(*e, *p, named)))
                    || self.ring.apart(t.middle()) <= self.ruler.of(ALONG_MM)
            };
            if own.iter().all(|(_, t)| named || (short(t) && on_edge(t))) && own.iter().any(|(_, t)| on_edge(t)) {
                let why = format!("{} on a part of an edge", super::counted(own.len(), "thing"));
                if named {
                    told.insert(layer, (own.iter().map(|(i, _)| *i).collect(), why));
                } else {
                    perhaps.push((layer, why));
                }
            }
        }
        (self.of(Role::Opening, told), perhaps)
    }

    /// Whether a piece runs along a part of an edge, as an opening does.
    fn part_of(&self, edge: Piece, piece: Piece, named: bool) -> bool {
        let part = self.along(edge, piece).is_some_and(|(s, t)| t - s < 0.8 * edge.length());
        part || (named && edge.nearest(piece.at(piece.length() / 2.0)).0 <= self.ruler.of(NEAR_MM))
    }
}

/// Four equal sides, or a circle.
fn is_square(thing: &Thing) -> bool {
    let size = thing.high - thing.low;
    let as_wide_as_high = (size.x - size.y).abs() <= 0.02 * size.x.max(size.y);
    match thing.pieces.as_slice() {
        [a, b] => a.bulge != 0.0 && b.bulge != 0.0 && as_wide_as_high,
        [a, b, c, d] => {
            let sides = [a, b, c, d].map(Piece::length);
            let mean = sides.iter().sum::<f64>() / 4.0;
            sides.iter().all(|s| (s - mean).abs() <= 0.02 * mean) && dot(unit(a.b - a.a), unit(b.b - b.a)).abs() <= 0.02
        }
        _ => false,
    }
}
