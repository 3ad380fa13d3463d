//! The ground that the sphere moves on: barriers, places inside of the rails and outside of the deck's edge.

use geo::{Contains, LineString, Polygon};

use super::Segment;
use crate::base::plane::{cross, direction, distance, dot, left, meet, right, to_segment, unit};
use crate::base::{Extent, Near, Piece, Point};
use crate::deck::{ChainEnd, Crossing, first_crossing};
use crate::guard::Post;
use crate::parts::site::DeckEdge;
use crate::parts::{Layout, Site};

/// How far chords may leave an arc of the deck's edge, in mm.
const CHORD_MM: f64 = 0.5;

/// Deck edges of more than 10 km in all are no deck.
const LONGEST_MM: f64 = 1e7;

/// A sphere of less than 1 cm is none that a rule asks for.
const LEAST_RADIUS_MM: f64 = 5.0;

/// From place to place along the edge (12 in).
const STEP_MM: f64 = 304.8;

/// A place beside the edge lies this much beyond what it must be clear of, in mm.
const BEYOND_MM: f64 = 10.0;

/// A rail may stand this far (12 in) inside of its line: the middle of a straight panel along a curve, or where drawn posts
/// bend it.
pub(super) const OFF_LINE_MM: f64 = 304.8;

/// What stands so little in a mouth (1/2 in) stands beside it.
pub(super) const BESIDE_MM: f64 = 12.7;

/// How far an open edge is closed behind it, in mm: the first of these that crosses nothing.
const BEHIND_MM: [f64; 5] = [3_000.0, 1_500.0, 750.0, 400.0, 0.0];

/// Where rails stand: inside of the edge by this, on posts of this side.
#[derive(Debug, Clone, Copy)]
struct RailLine {
    inset: f64,
    post: f64,
}

/// A chord of the deck's edge, the deck on its right.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chord {
    pub a: Point,
    pub b: Point,
    /// Not of an arc.
    pub is_straight: bool,
}

impl Extent for Chord {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.a, self.b].into_iter()
    }
}

/// What the sphere moves on.
pub struct Ground {
    /// What stops it.
    pub barriers: Vec<Segment>,
    /// Places inside of the rails.
    pub inside: Vec<Point>,
    /// Places outside of the deck's edge.
    pub outside: Vec<Point>,
    /// Half of the sphere.
    pub radius: f64,
    /// Length of all deck edges.
    pub edge_length: f64,
    /// How near walls were taken to belong to an edge.
    pub(super) touch: f64,
    /// Edges beside which no place inside of the rails was found.
    pub(super) unseen: Vec<Point>,
    pub(super) chords: Near<Chord>,
    /// Mouths as areas, from the edge to the rail line, a little narrower than they are; with the number of each.
    pub(super) slots: Vec<(usize, Polygon<f64>)>,
    /// Ends of open edges that stop at a wall.
    pub(super) wall_ends: Vec<Point>,
    /// Open edges that cannot be closed behind.
    pub(super) unclosed: Vec<Point>,
    pub(super) walls: Near<Segment>,
}

/// The pieces of a deck edge.
fn pieces(edge: &DeckEdge) -> Vec<Piece> {
    let next = edge.corners.iter().skip(1).chain(edge.corners.first().filter(|_| edge.ends.is_none()));
    edge.corners.iter().zip(next).map(|(v, w)| Piece { a: v.at, b: w.at, bulge: v.bulge }).collect()
}

fn chords(pieces: &[Piece]) -> Vec<Chord> {
    let chord = |piece: &Piece| {
        let mut a = piece.a;
        piece
            .flat(CHORD_MM)
            .map(|b| Chord { a: std::mem::replace(&mut a, b), b, is_straight: piece.bulge == 0.0 })
            .collect::<Vec<_>>()
    };
    pieces.iter().flat_map(chord).collect()
}

/// The area between a stretch of edge and `depth` inside of it.
fn slot(along: &[Point], depth: f64) -> Option<Vec<Point>> {
    let (first, last) = (along.first()?, along.last()?);
    let (begin, end) = (unit(*along.get(1)? - *first), unit(*last - *along.get(along.len().checked_sub(2)?)?));
    let corners = along.iter().copied().chain([*last + right(end) * depth, *first + right(begin) * depth]);
    Some(corners.collect())
}

fn ring(corners: &[Point]) -> impl Iterator<Item = Segment> + '_ {
    corners.iter().copied().zip(corners.iter().copied().cycle().skip(1))
}

pub(super) fn polygon(corners: &[Point]) -> Polygon<f64> {
    Polygon::new(corners.iter().copied().collect::<LineString<f64>>(), Vec::new())
}

pub(super) fn square(post: &Post, less: f64) -> [Point; 4] {
    let half = (post.side.millimetres() / 2.0 - less).max(0.1);
    let (u, v) = (direction(post.rotation) * half, left(direction(post.rotation)) * half);
    [post.at + u + v, post.at + v - u, post.at - u - v, post.at + u - v]
}

impl Ground {
    /// The ground of a layout; `None` where the sphere or the edges are none.
    pub fn new(layout: &Layout, site: &Site, radius: f64) -> Option<Self> {
        let length: f64 = site.edges.iter().flat_map(pieces).map(|p| p.length()).sum();
        // Not a number is no length either.
        if !(radius > LEAST_RADIUS_MM && length <= LONGEST_MM) {
            return None;
        }
        let inset = layout.inset.millimetres();
        let half = layout.system.post.side.millimetres() / 2.0;
        let mut ground = Self {
            barriers: Vec::new(),
            inside: Vec::new(),
            outside: Vec::new(),
            radius,
            edge_length: length,
            touch: site.touch.millimetres(),
            unseen: Vec::new(),
            chords: Near::default(),
            slots: Vec::new(),
            wall_ends: Vec::new(),
            unclosed: Vec::new(),
            walls: site.walls.clone().into(),
        };
        let barriers = &mut ground.barriers;
        barriers.extend(layout.panels.iter().map(|p| (p.span.left, p.span.right)));
        barriers.extend(layout.open.iter().map(|o| (o.left, o.right)));
        barriers.extend(layout.posts.iter().flat_map(|p| ring(&square(p, 0.0)).collect::<Vec<_>>()));
        barriers.extend(&site.walls);
        for along in site.mouths.iter().map(|m| &m.along).chain(&site.doors) {
            if let Some(corners) = slot(along, inset + half) {
                barriers.extend(ring(&corners));
            }
        }
        for (i, mouth) in site.mouths.iter().enumerate() {
            let area = trimmed(&mouth.along).and_then(|along| slot(&along, inset + half));
            ground.slots.extend(area.map(|corners| (i, polygon(&corners))));
        }
        let edges: Vec<Vec<Piece>> = site.edges.iter().map(pieces).collect();
        ground.chords = edges.iter().flat_map(|e| chords(e)).collect::<Vec<_>>().into();
        let areas: Vec<Option<Polygon<f64>>> = site
            .edges
            .iter()
            .zip(&edges)
            .map(|(edge, pieces)| match edge.ends {
                None => Some(polygon(&chords(pieces).iter().map(|c| c.a).collect::<Vec<_>>())),
                Some(ends) => ground.close(pieces, ends, inset),
            })
            .collect();
        let rails: Near<Segment> = layout.panels.iter().map(|p| (p.span.left, p.span.right)).collect::<Vec<_>>().into();
        for ((edge, pieces), area) in site.edges.iter().zip(&edges).zip(&areas) {
            // Of a ring the deck may lie outside, around a hole.
            let (is_open, area) = (edge.ends.is_some(), area.as_ref());
            if is_open && area.is_none() {
                continue;
            }
            ground.places(pieces, area.filter(|_| is_open), &rails, RailLine { inset, post: 2.0 * half });
        }
        let closed = site.edges.iter().zip(areas).filter(|(edge, _)| edge.ends.is_none());
        let decks: Near<Area> = closed.filter_map(|(_, area)| area).map(Area).collect::<Vec<_>>().into();
        // Beside another deck the outside is that deck, unless it is a hole in this one.
        let mut outside = std::mem::take(&mut ground.outside);
        outside
            .retain(|p| decks.around([*p], 0.0).filter(|(_, a)| a.0.contains(&geo::Point::from(*p))).count() % 2 == 0);
        ground.outside = outside;
        Some(ground)
    }

    /// How many points the barriers have, so far from each other.
    pub fn points(&self, apart: f64) -> f64 {
        self.barriers.iter().map(|(a, b)| (distance(*a, *b) / apart).ceil() + 3.0).sum()
    }

    /// Places on both sides of an edge: inside of the rail that stands there, or of its line where none does. Near a corner
    /// what is beside one rail is before the other, so that there only what has no other place is looked at.
    fn places(&mut self, pieces: &[Piece], area: Option<&Polygon<f64>>, rails: &Near<Segment>, line: RailLine) {
        let out = self.radius + BEYOND_MM;
        let along: Vec<(Point, Point, f64)> = pieces
            .iter()
            .flat_map(|piece| {
                let length = piece.length();
                let steps = (length / STEP_MM).ceil().clamp(1.0, 1e6);
                (0..steps as u32).map(move |k| {
                    let along = length * (f64::from(k) + 0.5) / steps;
                    (piece.at(along), piece.way(along), along.min(length - along))
                })
            })
            .collect();
        self.outside.extend(along.iter().map(|(at, way, _)| *at - right(*way) * out));
        let corner = line.inset + 2.0 * line.post + self.radius;
        for least in [corner, 0.0] {
            let places = along.iter().filter(|(.., from_end)| *from_end >= least);
            let found: Vec<Point> =
                places.filter_map(|(at, way, _)| self.behind_rail(*at, right(*way), area, rails, line)).collect();
            if !found.is_empty() {
                self.inside.extend(found);
                return;
            }
        }
        self.unseen.extend(pieces.first().map(|p| p.a));
    }

    /// The place just inside of the rail before a place of the edge, where it is clear of all edges.
    fn behind_rail(
        &self,
        at: Point,
        inward: Point,
        area: Option<&Polygon<f64>>,
        rails: &Near<Segment>,
        line: RailLine,
    ) -> Option<Point> {
        let reach = line.inset + OFF_LINE_MM;
        let ray = (at, inward * reach);
        let hits = rails.around([ray.0, ray.0 + ray.1], 0.0).filter_map(|(_, rail)| hit(ray, *rail));
        let rail = hits.min_by(f64::total_cmp).map_or(line.inset, |part| part * reach);
        let deep = rail + self.radius + BEYOND_MM;
        let inside = at + inward * deep;
        let mut near = self.chords.around([inside], deep).map(|(_, c)| to_segment(inside, c.a, c.b).0);
        let is_free = near.all(|d| d >= line.inset + self.radius);
        (is_free && area.is_none_or(|a| a.contains(&geo::Point::from(inside)))).then_some(inside)
    }

    /// Closes an open edge behind it, from its ends along the walls or straight into the deck: there the deck goes on, and
    /// nobody says that a guard is needed. Gives the area between.
    fn close(&mut self, pieces: &[Piece], ends: [ChainEnd; 2], inset: f64) -> Option<Polygon<f64>> {
        let (first, last) = (pieces.first()?, pieces.last()?);
        let (a, b) = (first.a, last.b);
        self.wall_ends.extend([a, b].into_iter().zip(ends).filter(|(_, e)| *e == ChainEnd::Wall).map(|(p, _)| p));
        let into_a = self.inward(a, right(first.way(0.0)), ends[0]);
        let into_b = self.inward(b, right(last.way(last.length())), ends[1]);
        let start = inset + self.radius;
        let own: Vec<Chord> = chords(pieces);
        for depth in BEHIND_MM {
            let far = [b + into_b * depth.max(start), a + into_a * depth.max(start)];
            let corners: Vec<Point> = own.iter().map(|c| c.a).chain([b]).chain(far).collect();
            let segments: Vec<Segment> = ring(&corners).filter(|(p, q)| distance(*p, *q) > 1e-6).collect();
            let near = [b + into_b * start, a + into_a * start];
            let closing = [(near[0], far[0]), (far[0], far[1]), (far[1], near[1])];
            // Nor may it close another edge's gaps.
            let is_clear = closing.iter().all(|way| !self.is_near_edge(*way, &own, start + self.radius));
            if is_clear && first_crossing(&segments, true) == Crossing::None && clockwise(&corners) {
                self.barriers.extend(closing);
                return Some(polygon(&corners));
            }
        }
        self.unclosed.push(a);
        None
    }

    /// Whether a segment comes so near to a deck edge other than its own, or crosses any.
    fn is_near_edge(&self, (p, q): Segment, own: &[Chord], reach: f64) -> bool {
        let apart = |c: &Chord| {
            let ends = [to_segment(p, c.a, c.b), to_segment(q, c.a, c.b), to_segment(c.a, p, q), to_segment(c.b, p, q)];
            ends.into_iter().map(|(d, _)| d).fold(f64::INFINITY, f64::min)
        };
        self.chords
            .around([p, q], reach)
            .filter(|(_, c)| !own.contains(c))
            .any(|(_, c)| apart(c) <= reach || crosses((p, q), (c.a, c.b)))
    }

    /// Direction from an end of an open edge into the deck: along the wall that it ends at, else square to the edge.
    fn inward(&self, end: Point, normal: Point, at: ChainEnd) -> Point {
        let wall = self.walls.nearest(end, |(p, q)| to_segment(end, *p, *q).0).filter(|_| at == ChainEnd::Wall);
        let along = wall.map(|(_, _, (p, q))| unit(*q - *p)).map(|w| if dot(w, normal) < 0.0 { -w } else { w });
        along.filter(|w| dot(*w, normal) > 0.3).unwrap_or(normal)
    }
}

/// How far along a way a segment is met, as a part of it.
fn hit((from, way): Segment, (p, q): Segment) -> Option<f64> {
    let on = meet(p, q - p, from, way).filter(|t| (0.0..=1.0).contains(t));
    on.and_then(|_| meet(from, way, p, q - p)).filter(|t| (0.0..1.0).contains(t))
}

/// An area of deck.
struct Area(Polygon<f64>);

impl Extent for Area {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.0.exterior().coords().copied()
    }
}

fn clockwise(corners: &[Point]) -> bool {
    let origin = corners.first().copied().unwrap_or(Point { x: 0.0, y: 0.0 });
    ring(corners).map(|(a, b)| cross(a - origin, b - origin)).sum::<f64>() < 0.0
}

pub(super) fn crosses((a, b): Segment, (p, q): Segment) -> bool {
    let (u, v) = (b - a, q - p);
    let on = |t: Option<f64>| t.is_some_and(|t| (0.0..=1.0).contains(&t));
    on(meet(a, u, p, v)) && on(meet(p, v, a, u))
}

/// A stretch without a little at both its ends.
fn trimmed(along: &[Point]) -> Option<Vec<Point>> {
    let mut out = along.to_vec();
    let cut = |from: Point, to: Point| {
        let length = distance(from, to);
        (length > 2.0 * BESIDE_MM).then(|| from + unit(to - from) * BESIDE_MM)
    };
    let first = cut(*out.first()?, *out.get(1)?)?;
    let before = out.len().checked_sub(2)?;
    let last = cut(*out.last()?, *out.get(before)?)?;
    *out.first_mut()? = first;
    *out.last_mut()? = last;
    Some(out)
}
