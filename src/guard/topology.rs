//! The moved line where edges vanish or the deck is narrow: a polygon buffer says which edges still meet, and each
//! corner is then computed from the two edges that meet there. No figure of the buffer itself is kept.

use geo::algorithm::buffer::{BufferStyle, LineCap, LineJoin};
use geo::{Area, Buffer, LineString, MultiPolygon, Polygon};

use crate::base::plane::{cross, distance, dot, point, right, to_segment, unit};
use crate::base::{Length, Piece, Point};
use crate::deck::{Grid, cell_of, cells, crosses_at_most};

use super::offset::{Moved, Source, crossing, joint, nearest_meeting};

/// Arcs enter the buffer as chords that are off by at most this, in mm.
const FLAT_MM: f64 = 0.02;

/// A side of the buffer belongs to an edge that runs beside it at the inset within this, in mm: chords of arcs, and the
/// grid to which the buffer rounds.
const ON_MM: f64 = 0.1;

/// Its direction may differ by this (3 degrees), since arcs enter as chords.
const ALONG_RAD: f64 = 0.05;

/// Largest coordinate that is given away, in mm: 1e7 in, the most that a plan may have.
const LARGEST_MM: f64 = 2.54e8;

/// Sides of a buffer are bevelled at corners sharper than this, in radians.
const SHARPEST_RAD: f64 = 0.1;

/// Chords that are given away, and how often they may cross before they are: the buffer computes all crossings.
const MOST_CHORDS: usize = 50_000;
const CROSSINGS_PER_CHORD: usize = 8;

/// Moved lines by topology, and the places where edges are left out; `None` when nothing of the line is left or the work would be without bounds.
pub fn moved(sources: &[Source], closed: bool, inset: f64) -> Option<(Vec<Moved>, Vec<Point>)> {
    let edges = Edges::new(sources, closed, inset)?;
    let mut lines = Vec::new();
    let mut passed = Vec::new();
    for ring in edges.rings() {
        for row in edges.rows(&ring) {
            edges.line(&row, &mut lines, &mut passed);
        }
    }
    // In the order of the edges that they come from.
    lines.sort_by_key(|(first, _): &(usize, Moved)| *first);
    let lines: Vec<Moved> = lines.into_iter().map(|(_, line)| line).collect();
    (!lines.is_empty()).then_some((lines, passed))
}

/// The sources as chords, findable by place.
struct Edges<'a> {
    sources: &'a [Source],
    moved: Vec<Option<Piece>>,
    closed: bool,
    inset: f64,
    chords: Vec<(Point, Point, usize)>,
    /// Chords as moved, with what corners to the outside add to them.
    moved_chords: Vec<(Point, Point, usize)>,
    cell: f64,
    grid: Grid,
}

/// A source in a row of a buffer's sides, and where the row comes to it. Sources in one line are one stop, from
/// `source` to `last`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stop {
    source: usize,
    last: usize,
    enter: Point,
}

/// Sources in the order in which a side of the buffer passes them.
struct Row {
    stops: Vec<Stop>,
    end: Point,
    closed: bool,
    passed: Vec<Point>,
}

impl<'a> Edges<'a> {
    fn new(sources: &'a [Source], closed: bool, inset: f64) -> Option<Self> {
        let mut chords = Vec::new();
        for (i, source) in sources.iter().enumerate() {
            let mut from = source.piece.a;
            for to in source.piece.flat(FLAT_MM) {
                if distance(from, to) > 1e-6 {
                    chords.push((from, to, i));
                    from = to;
                }
            }
        }
        let fits = |p: &Point| p.x.abs() <= LARGEST_MM && p.y.abs() <= LARGEST_MM;
        let least = if closed { 3 } else { 1 };
        let sound = chords.iter().all(|(a, b, _)| fits(a) && fits(b)) && inset > 0.0 && inset <= LARGEST_MM;
        if !sound || chords.len() < least || chords.len() > MOST_CHORDS {
            return None;
        }
        let shifted: Vec<(Point, Point)> = chords
            .iter()
            .map(|(a, b, _)| {
                let n = right(unit(*b - *a)) * inset;
                (*a + n, *b + n)
            })
            .collect();
        if !crosses_at_most(&shifted, closed, 1_000 + CROSSINGS_PER_CHORD * chords.len()) {
            return None;
        }
        let moved: Vec<Option<Piece>> = sources.iter().map(|s| s.piece.moved_right(inset)).collect();
        let moved_chords = moved_chords(sources, &moved, closed, inset);
        let total: f64 = moved_chords.iter().map(|(a, b, _)| distance(*a, *b)).sum();
        let cell = (total / moved_chords.len().max(1) as f64).max(10.0);
        let mut grid = Grid::default();
        for (i, (a, b, _)) in moved_chords.iter().enumerate() {
            for key in cells((*a, *b), cell) {
                grid.put(key, i);
            }
        }
        Some(Self { sources, moved, closed, inset, chords, moved_chords, cell, grid })
    }

    /// Sides of the buffer, walked with the deck on the right.
    fn rings(&self) -> Vec<Vec<Point>> {
        let origin = self.chords.first().map_or(point(0.0, 0.0), |c| c.0);
        let style = |by: f64| BufferStyle::new(by).line_join(LineJoin::Miter(SHARPEST_RAD)).line_cap(LineCap::Butt);
        let points = self.chords.iter().map(|(a, ..)| *a - origin);
        let end = self.chords.last().map(|(_, b, _)| *b - origin);
        let line: LineString<f64> = points.chain(end).collect();
        // What is exactly two insets wide vanishes, whichever way the last digits fall.
        let reach = self.inset + Length::NOISE.millimetres();
        let (buffer, reversed): (MultiPolygon<f64>, bool) = if self.closed {
            let ring = Polygon::new(line, Vec::new());
            // A clockwise outline has the deck inside; what is left of it lies on the left of its sides.
            let inside = ring.signed_area() < 0.0;
            let by = if inside { -reach } else { reach };
            (ring.buffer_with_style(style(by)), inside)
        } else {
            (line.buffer_with_style(style(reach)), false)
        };
        let rings = buffer.into_iter().flat_map(|p| {
            let (outer, inner) = p.into_inner();
            std::iter::once(outer).chain(inner)
        });
        rings
            .map(|ring| {
                let mut points: Vec<Point> = ring.into_iter().map(|p| p + origin).collect();
                points.pop();
                if reversed {
                    points.reverse();
                }
                points
            })
            .filter(|points| points.len() > 2)
            .collect()
    }

    /// The source whose moved course passes a place on a side that runs along `u`.
    fn source_at(&self, at: Point, u: Point) -> Option<usize> {
        let (kx, ky) = cell_of(at, self.cell);
        let around = (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (kx + dx, ky + dy)));
        let near = around.flat_map(|k| self.grid.at(k)).filter_map(|i| self.moved_chords.get(i));
        let along = |a: &Point, b: &Point| {
            let way = unit(*b - *a);
            dot(way, u) > 0.0 && cross(way, u).abs() <= ALONG_RAD
        };
        near.filter(|(a, b, _)| along(a, b))
            .map(|(a, b, source)| (to_segment(at, *a, *b).0, *source))
            .filter(|(d, _)| *d <= ON_MM)
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, source)| source)
    }

    /// Sources along a ring of sides, cut where sides belong to none.
    fn rows(&self, ring: &[Point]) -> Vec<Row> {
        let mut sides: Vec<Side> = Vec::new();
        for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
            let (u, length) = (unit(*b - *a), distance(*a, *b));
            // A side may pass several edges in one line, with gaps where a tab was; and it is longer than its edge at a
            // corner to the outside.
            let shares: &[f64] = &[0.01, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99];
            // A side as short as the grid is a notch where two edges just vanish: it belongs to none.
            let mut found: Vec<usize> = shares
                .iter()
                .filter(|_| length > ON_MM)
                .filter_map(|t| self.source_at(*a + u * (length * t), u))
                .collect();
            found.dedup();
            sides.push(Side { a: *a, b: *b, sources: found });
        }
        // Begin behind a break, if there is one.
        let mut breaks = self.breaks(&sides);
        let cut = breaks.iter().position(|b| *b);
        let closed = cut.is_none();
        sides.rotate_left(cut.unwrap_or(0));
        breaks.rotate_left(cut.unwrap_or(0));
        let mut rows: Vec<Row> = Vec::new();
        let mut open: Option<Row> = None;
        for (side, is_break) in sides.iter().zip(breaks) {
            if is_break {
                rows.extend(open.take());
                continue;
            }
            for source in &side.sources {
                let row =
                    open.get_or_insert_with(|| Row { stops: Vec::new(), end: side.b, closed, passed: Vec::new() });
                match row.stops.last_mut() {
                    Some(stop) if self.one_line(stop.last, *source) => {
                        row.passed.extend(self.passed(stop.last, *source));
                        stop.last = *source;
                    }
                    _ => row.stops.push(Stop { source: *source, last: *source, enter: side.a }),
                }
                row.end = side.b;
            }
        }
        rows.extend(open);
        if closed && let Some(row) = rows.first_mut() {
            let ends = row.stops.first().copied().zip(row.stops.last().copied());
            if let Some((first, last)) = ends.filter(|(f, l)| row.stops.len() > 1 && self.one_line(l.last, f.source)) {
                row.passed.extend(self.passed(last.last, first.source));
                row.stops.pop();
                if let Some(stop) = row.stops.first_mut() {
                    *stop = Stop { last: first.last, ..last };
                }
            }
        }
        rows
    }

    /// Sides of no edge end the line, but for short ones: bevels of sharp corners, and what closes a neck or the foot of a
    /// tab, at most two insets wide.
    fn breaks(&self, sides: &[Side]) -> Vec<bool> {
        let count = sides.len();
        let Some(first) = sides.iter().position(|s| !s.sources.is_empty()) else { return vec![true; count] };
        let mut breaks = vec![false; count];
        let mut bare: Vec<usize> = Vec::new();
        for k in (first..=first + count).map(|k| k % count) {
            let Some(side) = sides.get(k) else { continue };
            if side.sources.is_empty() {
                bare.push(k);
                continue;
            }
            let length: f64 = bare.iter().filter_map(|i| sides.get(*i)).map(|s| distance(s.a, s.b)).sum();
            for i in bare.drain(..) {
                if let Some(b) = breaks.get_mut(i) {
                    *b = length > 3.0 * self.inset;
                }
            }
        }
        breaks
    }

    /// Whether two sources are one, or straight and in one line.
    fn one_line(&self, k: usize, l: usize) -> bool {
        let piece = |i: usize| self.sources.get(i).map(|s| s.piece);
        let (Some(p), Some(q)) = (piece(k), piece(l)) else { return false };
        let u = p.end_way();
        let straight = p.arc().is_none() && q.arc().is_none();
        k == l
            || (straight
                && cross(u, q.end_way()).abs() < 1e-6
                && dot(u, q.end_way()) > 0.0
                && cross(u, q.a - p.a).abs() < 0.01)
    }

    /// The moved line of a row, with exact corners.
    fn line(&self, row: &Row, lines: &mut Vec<(usize, Moved)>, passed: &mut Vec<Point>) {
        let piece = |stop: &Stop| self.moved.get(stop.source).copied().flatten();
        let count = row.stops.len();
        let mut stops = row.stops.clone();
        if row.closed {
            let least = (0..count).min_by_key(|i| stops.get(*i).map(|s| s.source)).unwrap_or(0);
            stops.rotate_left(least);
        }
        let (Some(first), Some(last)) = (stops.first(), stops.last()) else { return };
        let (Some(first_piece), Some(last_piece)) = (piece(first), piece(last)) else { return };
        let mut corners = Vec::with_capacity(count);
        let mut over = row.passed.clone();
        let after = stops.iter().skip(1).chain(stops.first().filter(|_| row.closed));
        for (k, l) in stops.iter().zip(after) {
            let Some(corner) = self.corner(k, l) else { return };
            over.extend(self.passed(k.last, l.source));
            corners.push(corner);
        }
        let from_start = !row.closed && first.source == 0 && distance(first.enter, first_piece.a) < 1.0;
        let to_end = !row.closed && last.last + 1 == self.sources.len() && distance(row.end, last_piece.b) < 1.0;
        let start = if from_start { first_piece.a } else { first.enter };
        let end = if to_end { last_piece.b } else { row.end };
        let mut pieces = Vec::with_capacity(count);
        for (i, stop) in stops.iter().enumerate() {
            let before = if i > 0 { corners.get(i - 1) } else { corners.last().filter(|_| row.closed) };
            let (a, b) = (before.copied().unwrap_or(start), corners.get(i).copied().unwrap_or(end));
            let Some(piece) = piece(stop).and_then(|p| p.between(a, b)) else { return };
            pieces.push(piece);
        }
        if pieces.is_empty() || (row.closed && pieces.len() < 2) || crossing(&pieces, row.closed).is_some() {
            return;
        }
        passed.extend(over);
        lines.push((first.source, Moved { pieces, closed: row.closed, from_start, to_end }));
    }

    /// Where the moved edges of two stops meet.
    fn corner(&self, k: &Stop, l: &Stop) -> Option<Point> {
        let (source, moved) = (
            |s: &Stop| self.sources.get(s.source).map(|s| s.piece),
            |s: &Stop| self.moved.get(s.source).copied().flatten(),
        );
        let (p, q) = (moved(k)?, moved(l)?);
        if k.source == k.last
            && (k.source + 1) % self.sources.len() == l.source
            && let Ok(at) = joint((&source(k)?, &source(l)?), (&p, &q), self.inset)
            && distance(at, l.enter) < 1.0
        {
            return Some(at);
        }
        nearest_meeting(&p, &q, l.enter).filter(|at| distance(*at, l.enter) < 10.0 * self.inset)
    }

    /// Where sources were left out between two that now meet; `None` for neighbours.
    fn passed(&self, k: usize, l: usize) -> Option<Point> {
        let neighbours = k == l || (k + 1) % self.sources.len().max(1) == l;
        let (p, q) = (self.sources.get(k)?, self.sources.get(l)?);
        (!neighbours).then(|| (p.piece.b + q.piece.a) / 2.0)
    }
}

/// The sources as chords after the move, and how far a corner to the outside prolongs them.
fn moved_chords(sources: &[Source], moved: &[Option<Piece>], closed: bool, inset: f64) -> Vec<(Point, Point, usize)> {
    let count = sources.len();
    let mut chords = Vec::new();
    for (i, piece) in moved.iter().enumerate() {
        let Some(piece) = piece else { continue };
        let mut from = piece.a;
        for to in piece.flat(FLAT_MM) {
            chords.push((from, to, i));
            from = to;
        }
        let next = (i + 1) % count.max(1);
        let after = moved.get(next).copied().flatten().filter(|_| closed || next > 0);
        let (Some(after), Some(p), Some(q)) = (after, sources.get(i), sources.get(next)) else { continue };
        let Ok(corner) = joint((&p.piece, &q.piece), (piece, &after), inset) else { continue };
        if dot(corner - piece.b, piece.end_way()) > 0.0 {
            chords.push((piece.b, corner, i));
            chords.push((corner, after.a, next));
        }
    }
    chords.retain(|(a, b, _)| distance(*a, *b) > 1e-6);
    chords
}

/// A side of the buffer and the sources beside it.
struct Side {
    a: Point,
    b: Point,
    sources: Vec<usize>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Place;

    fn ring(points: &[(f64, f64)]) -> Vec<Source> {
        let at = |p: &(f64, f64)| point(p.0, p.1);
        let next = points.iter().cycle().skip(1);
        points
            .iter()
            .zip(next)
            .map(|(p, q)| Source { piece: Piece::straight(at(p), at(q)), place: Place::none() })
            .collect()
    }

    #[test]
    fn what_a_buffer_cannot_hold_is_refused() {
        let sound = [(0., 0.), (0., 1000.), (2000., 1000.), (2000., 0.)];
        assert!(moved(&ring(&sound), true, 100.0).is_some());
        for bad in [f64::NAN, f64::INFINITY, 1e300] {
            let mut points = sound;
            points[2].0 = bad;
            assert_eq!(moved(&ring(&points), true, 100.0), None);
            assert_eq!(moved(&ring(&sound), true, bad), None);
        }
        assert_eq!(moved(&[], true, 100.0), None);
        assert_eq!(moved(&ring(&[(5., 5.), (5., 5.), (5., 5.)]), true, 100.0), None);
        assert_eq!(moved(&ring(&[(0., 0.), (10., 0.)]), true, 100.0), None);
        assert_eq!(moved(&ring(&sound), true, 0.0), None);
    }

    /// A comb whose teeth all cross each other once moved: refused before anything is computed.
    #[test]
    fn crossings_without_bounds_are_refused() {
        let comb: Vec<(f64, f64)> = (0..4_000)
            .flat_map(|i| {
                [(f64::from(i), 0.0), (f64::from(i), 5_000.0), (f64::from(i) + 0.5, 5_000.0), (f64::from(i) + 0.5, 0.0)]
            })
            .collect();
        assert_eq!(moved(&ring(&comb), true, 2_000.0), None);
    }
}
