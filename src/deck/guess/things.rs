//! The drawing as things with their pieces, and the outlines that could be decks: closed things, faces between loose
//! lines, and open chains.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::plane::{angle_of, bounds, cross, distance};
use crate::base::{Piece, Point};
use crate::cad::{Drawing, Shape};
use crate::catalog::OwnLayers;

use super::super::grid::Nodes;
use super::super::picks;

/// Something that was drawn.
#[derive(Debug, Clone)]
pub struct Thing {
    /// Its number among the drawing's entities.
    pub entity: usize,
    /// Its layer, by its place in [`Scene::layers`].
    pub layer: usize,
    /// Placed block that it came from.
    pub insert: Option<usize>,
    /// Its course; a point or a text has none.
    pub pieces: Vec<Piece>,
    /// Lower left and upper right corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
    /// Whether it is a text.
    pub text: bool,
    /// Whether it is closed by itself.
    pub closed: bool,
}

impl Thing {
    /// Middle of its box.
    pub fn middle(&self) -> Point {
        (self.low + self.high) / 2.0
    }

    /// Longer side of its box.
    pub fn longest(&self) -> f64 {
        (self.high.x - self.low.x).max(self.high.y - self.low.y)
    }

    /// The one straight line that it is.
    pub fn line(&self) -> Option<Piece> {
        match self.pieces.as_slice() {
            [piece] if piece.bulge == 0.0 => Some(*piece),
            _ => None,
        }
    }
}

/// All things of a drawing.
#[derive(Debug)]
pub struct Scene {
    /// Names of layers.
    pub layers: Vec<String>,
    /// Things in the drawing's order.
    pub things: Vec<Thing>,
}

/// The points of pieces, arcs with enough between to tell their size.
pub fn flat(pieces: &[Piece], tolerance: f64) -> Vec<Point> {
    pieces.first().map(|p| p.a).into_iter().chain(pieces.iter().flat_map(|p| p.flat(tolerance))).collect()
}

impl Scene {
    /// The things of a drawing; layers that rails were written to are left out.
    pub fn new(drawing: &Drawing) -> Self {
        let mut scene = Self { layers: Vec::new(), things: Vec::new() };
        let mut own = OwnLayers::default();
        own.learn(drawing.layers.iter().map(|layer| layer.name.as_str()));
        let mut places: BTreeMap<&str, usize> = BTreeMap::new();
        for (i, entity) in drawing.entities.iter().enumerate() {
            if own.is_ours(&entity.layer) {
                continue;
            }
            let layer = *places.entry(&entity.layer).or_insert_with(|| {
                scene.layers.push(entity.layer.clone());
                scene.layers.len() - 1
            });
            let pieces: Vec<Piece> =
                picks::pieces(entity).into_iter().filter(|p| distance(p.a, p.b) > 1e-9 || p.bulge != 0.0).collect();
            let at = match &entity.shape {
                Shape::Point(p) | Shape::Text { at: p, .. } => vec![*p],
                _ => flat(&pieces, 1.0),
            };
            let Some((low, high)) = bounds(at) else { continue };
            let ends = picks::ends(entity);
            let closed = !pieces.is_empty() && ends.is_none_or(|[a, b]| pieces.len() > 2 && distance(a, b) < 1e-6);
            let text = matches!(entity.shape, Shape::Text { .. });
            scene.things.push(Thing { entity: i, layer, insert: entity.insert, pieces, low, high, text, closed });
        }
        scene
    }
}

/// An outline that could be a deck.
#[derive(Debug, Clone)]
pub struct Ring {
    /// Layer, by its place in [`Scene::layers`].
    pub layer: usize,
    /// Its things, by their places in [`Scene::things`].
    pub things: Vec<usize>,
    /// Its course, in order where it is closed.
    pub course: Vec<Piece>,
    /// Whether it is closed.
    pub closed: bool,
    /// Area; 0 of an open one.
    pub area: f64,
    /// Its course as points.
    points: Vec<Point>,
    /// Lower left corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
    /// Gap between ends that had to be bridged for it.
    pub join: f64,
}

impl Ring {
    fn new(layer: usize, things: Vec<usize>, course: Vec<Piece>, closed: bool, join: f64) -> Option<Self> {
        let points = flat(&course, 1.0);
        let (low, high) = bounds(points.iter().copied())?;
        let origin = points.first().copied()?;
        let next = points.iter().skip(1).chain(points.first());
        let twice: f64 = points.iter().zip(next).map(|(p, q)| cross(*p - origin, *q - origin)).sum();
        let area = if closed { twice / 2.0 } else { 0.0 };
        Some(Self { layer, things, course, closed, area, points, low, high, join })
    }

    /// Longer side of its box.
    pub fn longest(&self) -> f64 {
        (self.high.x - self.low.x).max(self.high.y - self.low.y)
    }

    /// Its length.
    pub fn length(&self) -> f64 {
        self.course.iter().map(Piece::length).sum()
    }

    /// Distance of a point from it.
    pub fn apart(&self, p: Point) -> f64 {
        self.course.iter().map(|c| c.nearest(p).0).fold(f64::INFINITY, f64::min)
    }

    /// Whether a point lies within it; never of an open one.
    pub fn holds(&self, p: Point) -> bool {
        if !self.closed {
            return false;
        }
        // How often a ray to the right crosses it.
        let points = &self.points;
        let crosses = |(a, b): (&Point, &Point)| {
            (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x)
        };
        points.iter().zip(points.iter().skip(1)).filter(|pair| crosses(*pair)).count() % 2 == 1
    }

    /// Whether its box lies around another's with room on all sides.
    pub fn surrounds(&self, low: Point, high: Point) -> bool {
        self.low.x < low.x && self.low.y < low.y && self.high.x > high.x && self.high.y > high.y
    }
}

/// Layers with more loose lines than this, after what ends nowhere is taken away, are a pattern and no outline.
const MOST_LOOSE: usize = 4000;

/// All outlines of a layer: what is closed by itself, and the faces between loose lines whose ends are within `join`.
pub fn rings(scene: &Scene, layer: usize, join: f64) -> Vec<Ring> {
    let on_layer = |t: &&(usize, &Thing)| t.1.layer == layer && !t.1.pieces.is_empty();
    let things: Vec<(usize, &Thing)> = scene.things.iter().enumerate().collect();
    let mut out = Vec::new();
    let mut open = Vec::new();
    for (i, thing) in things.iter().filter(on_layer) {
        if thing.closed {
            out.extend(Ring::new(layer, vec![*i], thing.pieces.clone(), true, 0.0));
        } else {
            open.push(*i);
        }
    }
    out.extend(Graph::new(scene, &open, join).faces(layer, join));
    for ring in &mut out {
        ring.area = ring.area.abs();
    }
    out
}

/// Chains of a layer's open things that have two ends and no branch.
pub fn chains(scene: &Scene, layer: usize, join: f64) -> Vec<Ring> {
    let all = scene.things.iter().enumerate();
    let open: Vec<usize> =
        all.filter(|(_, t)| t.layer == layer && !t.closed && !t.pieces.is_empty()).map(|(i, _)| i).collect();
    Graph::new(scene, &open, join).chains(layer, join)
}

/// Open things of a layer and the nodes where their ends meet.
struct Graph<'a> {
    scene: &'a Scene,
    things: Vec<usize>,
    /// Of each thing the nodes of its two ends.
    ends: Vec<[usize; 2]>,
    /// Of each node the ends that meet there: thing and which end.
    at: BTreeMap<usize, Vec<(usize, usize)>>,
    /// Lines that are drawn on others, with the others.
    doubles: Vec<(usize, usize)>,
}

impl<'a> Graph<'a> {
    fn new(scene: &'a Scene, things: &[usize], join: f64) -> Self {
        let ends_of = |i: &usize| {
            let pieces = scene.things.get(*i).map(|t| &t.pieces)?;
            Some([pieces.first()?.a, pieces.last()?.b])
        };
        let points: Vec<Point> = things.iter().filter_map(ends_of).flatten().collect();
        let mut nodes = Nodes::cluster(&points, join);
        let ends: Vec<[usize; 2]> = (0..points.len() / 2).map(|i| [nodes.find(2 * i), nodes.find(2 * i + 1)]).collect();
        let mut at: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
        let mut doubles = Vec::new();
        let mut seen: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        for (i, [a, b]) in ends.iter().enumerate().filter(|(_, [a, b])| a != b) {
            let is_line = things.get(i).and_then(|t| scene.things.get(*t)).is_some_and(|t| t.line().is_some());
            if let Some(first) = seen.insert((*a.min(b), *a.max(b)), i).filter(|_| is_line) {
                doubles.extend(things.get(first).zip(things.get(i)).map(|(first, double)| (*first, *double)));
                continue;
            }
            at.entry(*a).or_default().push((i, 0));
            at.entry(*b).or_default().push((i, 1));
        }
        Self { scene, things: things.to_vec(), ends, at, doubles }
    }

    /// An outline of these things, and of what lies on them.
    fn ring(&self, layer: usize, mut things: Vec<usize>, course: Vec<Piece>, closed: bool, join: f64) -> Option<Ring> {
        let on_them = self.doubles.iter().filter(|(first, _)| things.contains(first)).map(|(_, double)| *double);
        let on_them: Vec<usize> = on_them.collect();
        things.extend(on_them);
        Ring::new(layer, things, course, closed, join)
    }

    fn pieces(&self, i: usize) -> &[Piece] {
        self.things.get(i).and_then(|t| self.scene.things.get(*t)).map_or(&[], |t| &t.pieces)
    }

    fn node(&self, i: usize, end: usize) -> usize {
        self.ends.get(i).and_then(|ends| ends.get(end)).copied().unwrap_or(usize::MAX)
    }

    /// Direction in which a thing leaves one of its ends.
    fn leaves(&self, i: usize, end: usize) -> f64 {
        let pieces = self.pieces(i);
        let way =
            if end == 0 { pieces.first().map(Piece::start_way) } else { pieces.last().map(|p| p.end_way() * -1.0) };
        way.map_or(0.0, |way| angle_of(way).radians())
    }

    /// Takes away what has an end that meets nothing, again and again.
    fn prune(&mut self) {
        let mut todo: Vec<usize> = self.at.iter().filter(|(_, ends)| ends.len() == 1).map(|(n, _)| *n).collect();
        while let Some(node) = todo.pop() {
            let Some((i, end)) = self.at.remove(&node).and_then(|ends| ends.first().copied()) else { continue };
            let other = self.node(i, 1 - end);
            if let Some(ends) = self.at.get_mut(&other) {
                ends.retain(|(j, _)| *j != i);
                match ends.len() {
                    0 => drop(self.at.remove(&other)),
                    1 => todo.push(other),
                    _ => {}
                }
            }
        }
    }

    /// The faces: from each end along the thing, then always on with the next one to the right.
    fn faces(mut self, layer: usize, join: f64) -> Vec<Ring> {
        self.prune();
        if self.at.values().map(Vec::len).sum::<usize>() > 2 * MOST_LOOSE {
            return Vec::new();
        }
        let mut around: BTreeMap<usize, Vec<(usize, usize)>> = self.at.clone();
        for ends in around.values_mut() {
            ends.sort_by(|a, b| self.leaves(a.0, a.1).total_cmp(&self.leaves(b.0, b.1)));
        }
        let all: Vec<(usize, usize)> = around.values().flatten().copied().collect();
        let mut used = BTreeSet::new();
        let mut out = Vec::new();
        for start in &all {
            let (mut at, mut things, mut course) = (*start, Vec::new(), Vec::new());
            while used.insert(at) {
                let (i, end) = at;
                things.extend(self.things.get(i));
                let pieces = self.pieces(i);
                if end == 0 {
                    course.extend_from_slice(pieces);
                } else {
                    course.extend(pieces.iter().rev().map(Piece::reversed));
                }
                let Some(ends) = around.get(&self.node(i, 1 - end)) else { break };
                let Some(place) = ends.iter().position(|e| *e == (i, 1 - end)) else { break };
                let before = (place + ends.len() - 1) % ends.len();
                let Some(next) = ends.get(before) else { break };
                at = *next;
            }
            let face = self.ring(layer, things, course, true, join);
            out.extend(face.filter(|f| f.course.len() > 1 && f.area > 0.0));
        }
        out
    }

    fn chains(self, layer: usize, join: f64) -> Vec<Ring> {
        let mut used = vec![false; self.things.len()];
        let mut out = Vec::new();
        let starts: Vec<(usize, usize)> =
            self.at.values().filter(|e| e.len() == 1).filter_map(|e| e.first().copied()).collect();
        for start in starts {
            let (mut at, mut things, mut course) = (start, Vec::new(), Vec::new());
            let whole = loop {
                let (i, end) = at;
                let Some(done) = used.get_mut(i).filter(|done| !**done) else { break false };
                *done = true;
                things.extend(self.things.get(i));
                let pieces = self.pieces(i);
                if end == 0 {
                    course.extend_from_slice(pieces);
                } else {
                    course.extend(pieces.iter().rev().map(Piece::reversed));
                }
                match self.at.get(&self.node(i, 1 - end)).map(Vec::as_slice) {
                    Some([_]) => break true,
                    Some([a, b]) => at = if a.0 == i { *b } else { *a },
                    _ => break false,
                }
            };
            out.extend(self.ring(layer, things, course, false, join).filter(|_| whole));
        }
        out
    }
}
