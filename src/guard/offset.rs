//! Edges moved inward, each keeping what it came from: a line stays a line, an arc an arc about the same centre.
//!
//! First edge by edge, with exact corners; when an edge turns round or the result crosses itself, the course comes from
//! a polygon buffer (see [`super::topology`]) and the corners are computed again from the edges that meet there.

use crate::base::plane::{cross, distance, dot, right};
use crate::base::{Length, Piece, Place, Point};
use crate::deck::{Crossing, first_crossing};

use super::topology;

/// Directions this near to each other (radians) touch: the corner is then computed as that of two lines, since a line
/// and a circle would meet in a point that f64 does not hold.
const TOUCHING: f64 = 1e-5;

/// Arcs are looked at as chords within this, in mm, where it is tested whether a line crosses itself: rails that come so
/// near to each other cannot be built either.
const CROSSING_MM: f64 = 1.0;

/// A guarded stretch of edge before it is moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Its course, the deck on its right.
    pub piece: Piece,
    /// Where it stands in the drawing.
    pub place: Place,
}

/// A rail line before its ends are set: moved pieces, each beginning where the one before ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// Its pieces.
    pub pieces: Vec<Piece>,
    /// Whether it closes on itself.
    pub closed: bool,
    /// Whether its start is the start of the sources, and not a place where the rest was left out.
    pub from_start: bool,
    /// Whether its end is theirs.
    pub to_end: bool,
}

/// Why there is no moved line.
#[derive(Debug, Clone, PartialEq)]
pub struct Failed {
    /// Where.
    pub at: Point,
    /// Cause.
    pub why: &'static str,
}

/// Moves stretches to their right by `inset` mm; gives the moved lines and the places where they leave edges out.
///
/// # Errors
/// When nothing is left of them, with the place of the first trouble.
pub fn moved(sources: &[Source], closed: bool, inset: f64) -> Result<(Vec<Moved>, Vec<Point>), Failed> {
    match edge_by_edge(sources, closed, inset) {
        Ok(pieces) => Ok((vec![Moved { pieces, closed, from_start: true, to_end: true }], Vec::new())),
        Err(failed) => topology::moved(sources, closed, inset).ok_or(failed),
    }
}

fn edge_by_edge(sources: &[Source], closed: bool, inset: f64) -> Result<Vec<Piece>, Failed> {
    let failed = |at: Point, why: &'static str| Failed { at, why };
    let mut pieces = Vec::with_capacity(sources.len());
    for source in sources {
        let Some(piece) = source.piece.moved_right(inset) else {
            let at = source.piece.at(source.piece.length() / 2.0);
            return Err(failed(at, "the curve is tighter than the inset here"));
        };
        pieces.push(piece);
    }
    let count = sources.len();
    // Corner `i` stands between stretches `i` and `i + 1`.
    let mut corners: Vec<Option<Point>> = vec![None; count];
    for (i, corner) in corners.iter_mut().enumerate().take(if closed { count } else { count.saturating_sub(1) }) {
        let j = (i + 1) % count;
        let (Some(p), Some(q), Some(m), Some(n)) = (sources.get(i), sources.get(j), pieces.get(i), pieces.get(j))
        else {
            continue;
        };
        *corner = Some(joint((&p.piece, &q.piece), (m, n), inset).map_err(|why| failed(p.piece.b, why))?);
    }
    for (i, piece) in pieces.iter_mut().enumerate() {
        let before = if i > 0 { corners.get(i - 1) } else { corners.last() };
        let a = before.copied().flatten().unwrap_or(piece.a);
        let b = corners.get(i).copied().flatten().unwrap_or(piece.b);
        // What is as long as drawing noise was used up by the insets, whichever way the last digits fall.
        let left = piece.between(a, b).filter(|p| p.length() > Length::NOISE.millimetres());
        *piece = left.ok_or_else(|| failed((a + b) / 2.0, "an edge is too short for the inset here"))?;
    }
    crossing(&pieces, closed)
        .map_or(Ok(pieces), |at| Err(failed(at, "the deck is too narrow here: the moved edges cross")))
}

/// Where a row of pieces crosses itself.
pub fn crossing(pieces: &[Piece], closed: bool) -> Option<Point> {
    let mut segments = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let mut from = piece.a;
        for to in piece.flat(CROSSING_MM) {
            segments.push((from, to));
            from = to;
        }
    }
    match first_crossing(&segments, closed) {
        Crossing::None => None,
        Crossing::At(at) | Crossing::TooMany(at) => Some(at),
    }
}

/// The corner of two moved edges: v + d(n1 + n2)/(1 + n1·n2) for the deck edge's corner v and right-hand normals n1, n2;
/// with an arc, the nearest point to it where the two really meet.
pub fn joint(
    (before, after): (&Piece, &Piece),
    (moved_before, moved_after): (&Piece, &Piece),
    inset: f64,
) -> Result<Point, &'static str> {
    let (u, w) = (before.end_way(), after.start_way());
    let turn = 1.0 + dot(u, w);
    if turn <= 1e-9 {
        return Err("the deck edge turns back on itself here");
    }
    let mitre = before.b + (right(u) + right(w)) * (inset / turn);
    let straight = before.arc().is_none() && after.arc().is_none();
    if straight || (cross(u, w).abs() < TOUCHING && dot(u, w) > 0.0) {
        return Ok(mitre);
    }
    nearest_meeting(moved_before, moved_after, mitre).ok_or("the curve moved inward does not meet its neighbour here")
}

/// The point nearest to `near` where two pieces meet, prolonged.
pub fn nearest_meeting(p: &Piece, q: &Piece, near: Point) -> Option<Point> {
    let met = p.carriers_meet(q).into_iter().flatten();
    met.min_by(|a, b| distance(*a, near).total_cmp(&distance(*b, near)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    const INCH: f64 = 25.4;

    /// Stretches of a clockwise ring or an open chain, given in inches, deck on the right.
    fn sources(points: &[(f64, f64)], closed: bool) -> Vec<Source> {
        bowed(&points.iter().map(|(x, y)| (*x, *y, 0.0)).collect::<Vec<_>>(), closed)
    }

    fn bowed(points: &[(f64, f64, f64)], closed: bool) -> Vec<Source> {
        let next = points.iter().skip(1).chain(points.first().filter(|_| closed));
        let at = |(x, y, _): &(f64, f64, f64)| point(*x, *y) * INCH;
        points
            .iter()
            .zip(next)
            .map(|(p, q)| Source { piece: Piece { a: at(p), b: at(q), bulge: p.2 }, place: Place::none() })
            .collect()
    }

    fn area(pieces: &[Piece]) -> f64 {
        let mut twice = 0.0;
        for piece in pieces {
            let mut from = piece.a;
            for to in piece.flat(1e-4) {
                twice += cross(from, to);
                from = to;
            }
        }
        (twice / 2.0).abs() / INCH / INCH
    }

    fn total_area(moved: &[Moved]) -> f64 {
        moved.iter().map(|m| area(&m.pieces)).sum()
    }

    fn clockwise(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
        points.iter().rev().copied().collect()
    }

    fn off(p: Point, x: f64, y: f64) -> f64 {
        distance(p, point(x, y) * INCH) / INCH
    }

    /// Check values (shapely 2.2): inset 3, area 40 356, inner vertex (117,117).
    #[test]
    fn an_l_keeps_its_inner_corner() {
        let l = clockwise(&[(0., 0.), (240., 0.), (240., 120.), (120., 120.), (120., 240.), (0., 240.)]);
        let (lines, passed) = moved(&sources(&l, true), true, 3.0 * INCH).unwrap();
        assert!((total_area(&lines) - 40_356.0).abs() < 1e-6 && passed.is_empty());
        assert!(lines[0].pieces.iter().any(|p| off(p.a, 117.0, 117.0) < 1e-9));
    }

    /// Check values (shapely 2.2): open Z, 3 to the left -> (0,3)(117,3)(117,63)(240,63).
    #[test]
    fn an_open_z_keeps_its_jog() {
        let z = clockwise(&[(0., 0.), (120., 0.), (120., 60.), (240., 60.)]);
        let (lines, _) = moved(&sources(&z, false), false, 3.0 * INCH).unwrap();
        let pieces = &lines[0].pieces;
        for (piece, (x, y)) in pieces.iter().zip([(240., 63.), (117., 63.), (117., 3.)]) {
            assert!(off(piece.a, x, y) < 1e-9, "{piece:?}");
        }
        assert!(off(pieces[2].b, 0., 3.) < 1e-9);
    }

    /// Check value (shapely 2.2): a tab of 5 in on 240 x 120 vanishes at an inset of 3: 26 676.
    #[test]
    fn a_tab_narrower_than_twice_the_inset_is_passed() {
        let tab = clockwise(&[
            (0., 0.),
            (240., 0.),
            (240., 120.),
            (122.5, 120.),
            (122.5, 160.),
            (117.5, 160.),
            (117.5, 120.),
            (0., 120.),
        ]);
        let (lines, passed) = moved(&sources(&tab, true), true, 3.0 * INCH).unwrap();
        assert_eq!((lines.len(), lines[0].pieces.len()), (1, 4), "{lines:?}");
        assert!((total_area(&lines) - 26_676.0).abs() < 1e-6);
        assert_eq!(passed.len(), 1);
        assert!(off(passed[0], 120.0, 120.0) < 1e-9, "{passed:?}");
    }

    /// Two boxes of 120 x 60 with a neck of 4 in between them: at an inset of 3 each gets its own ring, 12 312 together
    /// (shapely 2.2: two boxes of 114 x 54).
    #[test]
    fn a_neck_narrower_than_twice_the_inset_parts_the_line() {
        let neck = clockwise(&[
            (0., 0.),
            (120., 0.),
            (120., 28.),
            (150., 28.),
            (150., 0.),
            (270., 0.),
            (270., 60.),
            (150., 60.),
            (150., 32.),
            (120., 32.),
            (120., 60.),
            (0., 60.),
        ]);
        let (lines, passed) = moved(&sources(&neck, true), true, 3.0 * INCH).unwrap();
        assert_eq!(lines.len(), 2);
        assert!((total_area(&lines) - 12_312.0).abs() < 1e-6);
        assert!(lines.iter().all(|l| l.closed && l.pieces.len() == 4));
        assert_eq!(passed.len(), 2, "{passed:?}");
        assert!(passed.iter().any(|p| off(*p, 120., 30.) < 1e-9) && passed.iter().any(|p| off(*p, 150., 30.) < 1e-9));
    }

    /// A corner cut off by 1 in: its edge is shorter than 2·3·tan(22.5): the two long edges meet (closed form).
    #[test]
    fn an_edge_shorter_than_its_corners_take_is_passed() {
        let cut = clockwise(&[(0., 0.), (239., 0.), (240., 1.), (240., 120.), (0., 120.)]);
        let (lines, passed) = moved(&sources(&cut, true), true, 3.0 * INCH).unwrap();
        assert_eq!((lines.len(), lines[0].pieces.len(), passed.len()), (1, 4, 1));
        assert!(lines[0].pieces.iter().any(|p| off(p.a, 237., 3.) < 1e-6), "{lines:?}");
        let open: Vec<_> = clockwise(&[(0., 0.), (239., 0.), (240., 1.), (240., 120.)]);
        let (lines, passed) = moved(&sources(&open, false), false, 3.0 * INCH).unwrap();
        assert_eq!((lines.len(), lines[0].pieces.len(), passed.len()), (1, 2, 1), "{lines:?}");
        assert!(lines[0].from_start && lines[0].to_end);
        assert!(off(lines[0].pieces[0].a, 237., 120.) < 1e-9 && off(lines[0].pieces[0].b, 237., 3.) < 1e-6);
    }

    #[test]
    fn what_leaves_nothing_says_where() {
        let thin = clockwise(&[(0., 0.), (240., 0.), (240., 5.), (0., 5.)]);
        let failed = moved(&sources(&thin, true), true, 3.0 * INCH).unwrap_err();
        assert!((0.0..=5.0).contains(&(failed.at.y / INCH)), "{failed:?}");
        let hole = [(0., 0., -1.0), (10., 0., -1.0)];
        let failed = moved(&bowed(&hole, true), true, 6.0 * INCH).unwrap_err();
        assert!(failed.why.contains("tighter"), "{failed:?}");
    }

    /// A quarter circle between two straight edges that touch it: the joints stay exact (closed form).
    #[test]
    fn touching_joints_are_exact() {
        let quarter = (std::f64::consts::PI / 8.0).tan();
        // Clockwise: up, round to the right, down the right side is left open.
        let chain = [(0., 0., 0.), (0., 100., -quarter), (72., 172., 0.), (200., 172., 0.)];
        let (lines, _) = moved(&bowed(&chain, false), false, 4.0 * INCH).unwrap();
        let pieces = &lines[0].pieces;
        assert!(off(pieces[1].a, 4., 100.) < 1e-9 && off(pieces[1].b, 72., 168.) < 1e-9);
        assert!((pieces[1].arc().unwrap().radius / INCH - 68.0).abs() < 1e-9);
        assert!((pieces[1].bulge + quarter).abs() < 1e-12);
    }

    /// A half circle that stands on a straight edge at right angles; with inset d its foot moves to x = sqrt(r² - d²)
    /// (closed form).
    #[test]
    fn a_line_and_an_arc_meet_off_the_tangent() {
        // Clockwise over the top from (-72,0) to (72,0), then back along the base.
        let chain = [(-72., 0., -1.0), (72., 0., 0.0)];
        let (lines, _) = moved(&bowed(&chain, true), true, 4.0 * INCH).unwrap();
        let foot = (68.0_f64 * 68.0 - 16.0).sqrt();
        let arc = lines[0].pieces[0];
        assert!(off(arc.a, -foot, 4.) < 1e-9 && off(arc.b, foot, 4.) < 1e-9, "{arc:?}");
    }

    /// A tab of a half circle, 2 in radius, on a straight edge: passed at an inset of 3.
    #[test]
    fn a_round_tab_is_passed() {
        let tab = [(0., 0., 0.), (0., 120., 0.), (118., 120., -1.), (122., 120., 0.), (240., 120., 0.), (240., 0., 0.)];
        let (lines, passed) = moved(&bowed(&tab, true), true, 3.0 * INCH).unwrap();
        assert_eq!((lines.len(), lines[0].pieces.len(), passed.len()), (1, 4, 1), "{lines:?}");
        assert!((total_area(&lines) - 26_676.0).abs() < 1e-6);
    }
}
