//! Flights and handrails on the plan: which way is down, how many steps of what size, and where the handrails run.

use crate::base::plane::distance;
use crate::base::{Angle, Point, plane};
use crate::deck::Flight;
use crate::guard::Handrail;
use crate::parts::Layout;

use super::board::{Board, MIDDLE};
use super::label::{Cover, Ink, Placer};
use super::text::{self, Area, size_text};
use super::{Layer, Linetype, TextSpec};

/// Arrow head: length and half breadth, paper mm.
const HEAD_MM: (f64, f64) = (3.6, 0.8);
/// How far the arrow begins below the top nosing, paper mm.
const TAIL_MM: f64 = 2.0;
/// Clear space between a text and the line it belongs to, paper mm.
const GAP_MM: f64 = 1.1;

/// Arrows, and handrails.
pub(super) fn draw(board: &mut Board, placer: &mut Placer, layout: &Layout) {
    for flight in &layout.flights {
        let tail = middle(flight) + flight.down * board.mm(TAIL_MM);
        let tip = middle(flight) + flight.down * flight.length().millimetres();
        if plane::dot(tip - tail, flight.down) > board.mm(HEAD_MM.0) {
            board.show("flight", &flight.id);
            arrow(board, tail, tip);
            placer.take(Area::of_line(tail, tip, board.mm(2.0 * HEAD_MM.1)), Ink::Stroke);
        }
    }
    for rail in &layout.handrails {
        let [top, foot] = ends(layout, rail);
        board.show("handrail", &rail.id);
        board.patterned(Layer::Line, Linetype::Hidden, vec![top, foot], false);
        placer.take(Area::of_line(top, foot, board.mm(0.5)), Ink::Stroke);
    }
    board.show_nothing();
}

/// Texts of the flights and tags of the handrails, for which any place with room will do.
pub(super) fn tags(board: &mut Board, placer: &mut Placer, layout: &Layout) {
    for flight in &layout.flights {
        let m = &layout.measure;
        let (riser, tread) = (size_text(m, flight.steps.riser), size_text(m, flight.steps.tread));
        let content = format!("{} DN {}R {riser} x {tread}", flight.id, flight.risers);
        let line = [middle(flight), middle(flight) + flight.down * flight.length().millimetres()];
        board.show("flight", &flight.id);
        let along = text::readable(plane::angle_of(flight.down));
        let at_foot = if ends_at_landing(flight, layout) { Vec::new() } else { below_foot(board, line, &content) };
        beside(board, placer, line, (&content, along), &at_foot);
    }
    for rail in &layout.handrails {
        board.show("handrail", &rail.id);
        beside(board, placer, ends(layout, rail), (&rail.id, Angle::ZERO), &[]);
    }
    board.show_nothing();
}

/// Corners of all flights and ends of all handrails: what the plan must hold besides posts and runs.
pub(super) fn reach(layout: &Layout) -> impl Iterator<Item = Point> + '_ {
    let corners = layout.flights.iter().flat_map(|f| {
        let long = f.down * f.length().millimetres();
        f.top.into_iter().flat_map(move |p| [p, p + long])
    });
    corners.chain(layout.handrails.iter().flat_map(|h| ends(layout, h)))
}

fn middle(flight: &Flight) -> Point {
    let [a, b] = flight.top;
    (a + b) / 2.0
}

/// Upper and lower end of a handrail in plan, its extensions included.
fn ends(layout: &Layout, rail: &Handrail) -> [Point; 2] {
    let [top, foot] = rail.line;
    let Some(flight) = layout.flights.get(rail.flight) else { return [top, foot] };
    let below = flight.pitch.level(rail.extension_bottom);
    [top - flight.down * rail.extension_top.millimetres(), foot + flight.down * below.millimetres()]
}

fn arrow(board: &mut Board, tail: Point, tip: Point) {
    let back = plane::unit(tail - tip) * board.mm(HEAD_MM.0);
    let across = plane::left(plane::unit(tip - tail)) * board.mm(HEAD_MM.1);
    board.patterned(Layer::Line, Linetype::Continuous, vec![tail, tip + back], false);
    board.solid(Layer::Line, vec![tip, tip + back + across, tip + back - across]);
}

/// Whether another flight begins where a flight ends: what lies beyond its foot is full of that one's texts.
fn ends_at_landing(flight: &Flight, layout: &Layout) -> bool {
    let [a, b] = flight.top;
    let foot = middle(flight) + flight.down * flight.length().millimetres();
    layout.flights.iter().any(|other| other.id != flight.id && distance(middle(other), foot) < 2.0 * distance(a, b))
}

/// Places of a text beyond the foot of a flight, along its treads, so that none of their lines crosses it.
fn below_foot(board: &Board, [from, to]: [Point; 2], content: &str) -> Vec<(Point, Angle)> {
    let along = plane::unit(to - from);
    let rotation = text::readable(plane::angle_of(plane::left(along)));
    let reach = Area::of_text(&TextSpec { rotation, ..board.spec(to, MIDDLE, content) }).reach(along);
    let past = |times: f64| (to + along * ((reach + board.mm(2.0 * GAP_MM)) * times), rotation);
    [1.0, 2.5, 4.0].map(past).to_vec()
}

/// A text with its rotation beside a line, on the side and at the place with room, or beyond its end; rather at one of the
/// `better` places.
fn beside(
    board: &mut Board,
    placer: &mut Placer,
    [from, to]: [Point; 2],
    (content, rotation): (&str, Angle),
    better: &[(Point, Angle)],
) {
    let along = plane::unit(to - from);
    let spec = |(at, rotation): (Point, Angle)| TextSpec { rotation, ..board.spec(at, MIDDLE, content) };
    let area = Area::of_text(&spec((from, rotation)));
    let off = plane::left(along) * (area.reach(plane::left(along)) + board.mm(GAP_MM));
    let shares = [0.5, 0.35, 0.65, 0.2, 0.8, 0.05, 0.95];
    let spots = [1.0, 1.8, 2.6, 4.0].into_iter().flat_map(|times| {
        shares.into_iter().flat_map(move |s| [-1.0, 1.0].map(|side| from + (to - from) * s + off * (side * times)))
    });
    let past = [1.0, 2.5, 5.0].map(|times| to + along * (area.reach(along) + board.mm(2.0 * GAP_MM) * times));
    let covers = |place: (Point, Angle)| -> Vec<Cover> {
        vec![(Area::of_text(&spec(place)).grown(board.mm(0.7), board.mm(0.5)), Ink::Solid)]
    };
    let places = better.iter().copied().chain(spots.chain(past).map(|at| (at, rotation)));
    let Some(place) = placer.best(places.map(|p| (p, covers(p)))) else { return };
    for (area, ink) in covers(place) {
        placer.take(area, ink);
    }
    let text = spec(place);
    board.text(Layer::Text, text);
}
