//! Lines of the edge layers that lie within a deck: fields and borders of boards are no edges, and get no rail.

use crate::base::plane::{cross, distance, dot, right, to_segment, unit};
use crate::base::{Code, Finding, Near, Place, Point};

use super::chain::Loose;
use super::ends::Chord;
use super::model::Edge;
use super::rings::Rings;

/// A line that runs inside of an edge all along within this (8 in) is a border or fascia: a strip so narrow bears no rail.
const BORDER_MM: f64 = 203.2;

/// Sine of the angle between an edge and a line that runs along it: 2 degrees.
const ALONG: f64 = 0.035;

/// How deep beside a line it is asked whether the deck goes on there (1 in).
const SAMPLE_MM: f64 = 25.4;

/// How a line lies within a deck.
enum Inner {
    /// All along near the edge.
    Border,
    /// Partly on the edge or near it.
    Field,
    /// Across the deck.
    Line,
}

fn said(edge: Option<&Edge>, inner: &Inner) -> Finding {
    let place = edge.map_or_else(Place::none, Edge::place);
    match inner {
        Inner::Border => Finding::note(
            Code::EdgeInner,
            place,
            "this line runs along inside of the deck's edge, within 8 in: it is taken for a border or fascia and gets no rail",
        ),
        Inner::Field => Finding::incomplete(
            Code::EdgeInner,
            place,
            "this outline lies within a larger one and on its edge: whether it is a field of boards or a notch in the deck \
             cannot be told; the outer edge gets the guard",
        )
        .hint("put a field on another layer; draw a notch as part of the deck's outline"),
        Inner::Line => Finding::incomplete(
            Code::EdgeInner,
            place,
            "this line lies within the deck's outline, the deck on both its sides: no rail is laid along it",
        )
        .hint("put lines within the deck on another layer; draw decks of two levels as two outlines"),
    }
}

/// Takes out outlines that lie within another one and on or near its edge.
pub fn without_fields(paths: Vec<Loose>, tolerance: f64, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let closed: Vec<usize> = paths.iter().enumerate().filter(|(_, p)| p.closed).map(|(i, _)| i).collect();
    if closed.len() < 2 {
        return paths;
    }
    let rings = Rings::new(closed.iter().filter_map(|i| paths.get(*i)).map(|p| p.edges.as_slice()));
    let mut by_path = vec![0; paths.len()];
    for (number, i) in closed.iter().enumerate() {
        if let Some(slot) = by_path.get_mut(*i) {
            *slot = number;
        }
    }
    let chords = chords(&paths);
    let inner = |(i, path): (usize, &Loose)| {
        let own = by_path.get(i).copied().filter(|_| path.closed)?;
        let corners: Vec<Point> = path.edges.iter().flat_map(|e| [e.a, e.middle()]).collect();
        let larger = rings.larger_around(own, &corners, tolerance)?;
        let host = closed.get(larger).copied()?;
        let near = |p: &Point, reach: f64| {
            let mut around = chords.around([*p], reach);
            around.any(|(_, c)| c.chain == host && to_segment(*p, c.ends.0, c.ends.1).0 <= reach)
        };
        let count = corners.iter().filter(|p| near(p, BORDER_MM)).count();
        // One that is the larger one drawn again counts once elsewhere.
        let same = corners.iter().all(|p| near(p, tolerance));
        match count {
            _ if same => None,
            0 => None,
            // A border goes round most of the deck; a slot near its edge goes round nothing.
            n if n == corners.len() && rings.area(own) >= 0.5 * rings.area(larger) => Some(Inner::Border),
            _ => Some(Inner::Field),
        }
    };
    let found: Vec<Option<Inner>> = paths.iter().enumerate().map(inner).collect();
    kept(paths, found, findings)
}

/// Takes out what the flags name, and tells it.
fn kept(paths: Vec<Loose>, found: Vec<Option<Inner>>, findings: &mut Vec<Finding>) -> Vec<Loose> {
    let keep = |(path, inner): (Loose, Option<Inner>)| match inner {
        None => Some(path),
        Some(inner) => {
            findings.push(said(path.edges.first(), &inner));
            None
        }
    };
    paths.into_iter().zip(found).filter_map(keep).collect()
}

fn chords(paths: &[Loose]) -> Near<Chord> {
    let all = paths.iter().enumerate();
    let all = all.flat_map(|(chain, p)| p.segments().map(move |ends| Chord { chain, ends }));
    all.collect::<Vec<_>>().into()
}

/// Takes out open lines that have the deck on both sides: within a closed outline, or beside an open edge on its deck's
/// side. `right` tells of each path whether its deck lies on the right, where that is known.
pub fn without_lines(
    paths: Vec<(Loose, Option<bool>)>,
    rings: &Rings,
    findings: &mut Vec<Finding>,
) -> Vec<(Loose, Option<bool>)> {
    if paths.iter().all(|(p, _)| p.closed) || paths.len() < 2 {
        return paths;
    }
    let loose: Vec<Loose> = paths.iter().map(|(p, _)| p.clone()).collect();
    let chords = chords(&loose);
    let inner = |i: usize, path: &Loose, is_kept: &dyn Fn(usize) -> bool| {
        if path.closed {
            return None;
        }
        let within = path.edges.iter().all(|e| {
            let piece = e.piece();
            let aside = right(piece.way(piece.length() / 2.0)) * SAMPLE_MM;
            rings.hold(e.middle() + aside) && rings.hold(e.middle() - aside)
        });
        let beside = |host: usize| {
            let side = paths.get(host).and_then(|(_, side)| *side);
            let all = path.edges.iter().all(|e| on_deck_beside(e, host, side, &chords));
            // Of two that lie beside each other the longer one is the edge.
            let own = length(path);
            all && loose.get(host).is_some_and(|h| (length(h), i) > (own, host))
        };
        let near = path.edges.first().map(Edge::middle);
        let hosts: Vec<usize> = near
            .iter()
            .flat_map(|p| chords.around([*p], BORDER_MM))
            .map(|(_, c)| c.chain)
            .filter(|host| *host != i)
            .collect();
        let hosts: Vec<usize> = hosts.into_iter().filter(|host| beside(*host)).collect();
        if hosts.iter().any(|host| is_kept(*host)) {
            Some(Inner::Border)
        } else if !hosts.is_empty() {
            // Beside a line that is none itself: boards, not a border.
            Some(Inner::Line)
        } else {
            within.then_some(Inner::Line)
        }
    };
    // The longest first: a line is a border only of one that is kept.
    let mut order: Vec<usize> = (0..loose.len()).collect();
    let lengths: Vec<f64> = loose.iter().map(length).collect();
    let long = |i: &usize| lengths.get(*i).copied().unwrap_or(0.0);
    order.sort_by(|a, b| long(b).total_cmp(&long(a)).then(a.cmp(b)));
    let mut found: Vec<Option<Inner>> = loose.iter().map(|_| None).collect();
    for i in order {
        let is_kept = |host: usize| found.get(host).is_some_and(Option::is_none);
        let new = loose.get(i).and_then(|path| inner(i, path, &is_kept));
        if let Some(slot) = found.get_mut(i) {
            *slot = new;
        }
    }
    let mut sides = paths.iter().map(|(_, side)| *side).zip(&found).filter(|(_, f)| f.is_none()).map(|(s, _)| s);
    let sides: Vec<Option<bool>> = sides.by_ref().collect();
    kept(loose, found, findings).into_iter().zip(sides).collect()
}

fn length(path: &Loose) -> f64 {
    path.edges.iter().map(|e| e.piece().length()).sum()
}

/// Whether an edge runs along the chords of a host within the border's width, on its deck's side.
fn on_deck_beside(edge: &Edge, host: usize, right: Option<bool>, chords: &Near<Chord>) -> bool {
    let piece = edge.piece();
    [0.1, 0.5, 0.9].into_iter().all(|part| {
        let along = piece.length() * part;
        let (p, way) = (piece.at(along), piece.way(along));
        let mut near = chords.around([p], BORDER_MM).filter(|(_, c)| c.chain == host);
        near.any(|(_, c)| {
            let (a, b) = c.ends;
            let (d, t) = to_segment(p, a, b);
            let u = unit(b - a);
            let is_right = cross(u, p - a) < 0.0;
            d <= BORDER_MM
                && distance(a, b) > 0.0
                && (0.0..=1.0).contains(&t)
                && cross(u, way).abs() <= ALONG
                && dot(u, way).abs() > 0.0
                && right.is_none_or(|side| side == is_right)
        })
    })
}
