//! Tags of posts and spans on the plan.

use crate::base::{Angle, Extent, Near, Point, plane};
use crate::guard::Span;
use crate::parts::Layout;

use super::board::{Board, MIDDLE};
use super::label::{Cover, Ink, Placer};
use super::plan::axes;
use super::text::{self, Area};
use super::{Layer, TagMark};

/// Clear space between a tag and what it names, paper mm.
const GAP_MM: f64 = 1.4;
/// Room between a span's tag and its frame, paper mm.
const FRAME_MM: (f64, f64) = (1.3, 1.1);

/// Span tags in a plain frame on the deck side of their rails.
pub(super) fn spans(board: &mut Board, placer: &mut Placer, layout: &Layout) {
    let half = layout.system.widest().millimetres() / 2.0;
    let rails: Near<(Point, Point)> =
        layout.panels.iter().map(|at| (at.span.left, at.span.right)).collect::<Vec<_>>().into();
    for (number, at) in layout.panels.iter().enumerate() {
        let span = &at.span;
        let (_, out) = axes(span);
        let content = &span.id;
        let length = text::width(content, board.height(), false) + 2.0 * board.mm(FRAME_MM.0);
        let breadth = board.height() + 2.0 * board.mm(FRAME_MM.1);
        let frame = |centre| Area::new(centre, plane::point(1.0, 0.0), length, breadth);
        let depth = half + board.mm(GAP_MM) + frame(span.left).reach(out);
        let foot = |share: f64| span.left + (span.right - span.left) * share;
        // On the deck's side if it can be near there.
        let offs = [(0.0, 1.0), (4.0, 1.0), (0.0, -1.0), (4.0, -1.0)].into_iter();
        let offs = offs.chain(FAR_MM.map(|mm| (mm, 1.0))).chain(FAR_MM.map(|mm| (mm, -1.0)));
        let paper: &Board = board;
        let all = offs.flat_map(|(mm, side)| {
            let off = out * ((depth + paper.mm(mm)) * side);
            [0.5, 0.35, 0.65, 0.2, 0.8].map(|share| (foot(share), foot(share) - off, mm))
        });
        let air = board.mm(0.4);
        let clear = all.filter(|(_, p, mm)| needs_leader(*mm) || is_own(&rails, number, *p));
        let candidates = clear.map(|(foot, p, mm)| {
            let leader = needs_leader(mm).then(|| {
                // It begins on its rail, which is no clash.
                let towards = plane::unit(p - foot);
                (Area::of_line(foot + towards * depth, p, paper.mm(0.5)), Ink::Stroke)
            });
            let covers: Vec<Cover> = std::iter::once((frame(p).grown(air, air), Ink::Solid)).chain(leader).collect();
            ((foot, p, mm), covers)
        });
        let Some((foot, centre, mm)) = placer.best(candidates) else { continue };
        placer.take(frame(centre).grown(air, air), Ink::Solid);
        if needs_leader(mm) {
            let towards = plane::unit(foot - centre);
            board.show("leader", content);
            board.line(Layer::Text, centre + towards * frame(centre).reach(towards), foot);
        }
        board.show("frame", content);
        let corner = plane::point(length / 2.0, breadth / 2.0);
        board.tag(TagMark {
            low: centre - corner,
            high: centre + corner,
            id: content.clone(),
            span: layout.measure.text(span.clear),
            kit: at.kit.clone().unwrap_or_default(),
        });
        // The text is the tag: erased in the CAD program, it says that the span is to stay open.
        board.show("tag", content);
        board.write(centre, MIDDLE, content);
    }
    board.show_nothing();
}

/// How far a tag may stand from its rail where it has no place near it: beyond the rows of dimensions, too; paper mm.
const FAR_MM: [f64; 4] = [8.0, 14.0, 20.0, 26.0];

/// Whether a tag so far from its rail is taken for its own only by a line to it.
fn needs_leader(mm: f64) -> bool {
    FAR_MM.contains(&mm)
}

/// Whether a place is nearer to a rail than to any other, so that a tag there is taken for that span's.
fn is_own(rails: &Near<(Point, Point)>, number: usize, at: Point) -> bool {
    let to = |(left, right): &(Point, Point)| plane::to_segment(at, *left, *right).0;
    let Some(own) = rails.get(number).map(to) else { return false };
    rails.around([at], own).all(|(i, other)| i == number || to(other) > own)
}

/// Post tags, on the deck side where there is room.
pub(super) fn posts(board: &mut Board, placer: &mut Placer, layout: &Layout) {
    let ends = ends(layout);
    for post in &layout.posts {
        let inwards = inward(&ends, post.at);
        let half = post.side.millimetres() / 2.0;
        let content = &post.id;
        let area = |centre| {
            let width = text::width(content, board.height(), false);
            Area::new(centre, plane::point(1.0, 0.0), width, board.height())
        };
        let square = Area::new(post.at, plane::direction(post.rotation), 2.0 * half, 2.0 * half);
        let spot = |turn: f64, extra: f64| {
            let way = plane::turned(inwards, Angle::from_degrees(turn));
            post.at + way * (square.reach(way) + area(post.at).reach(way) + board.mm(GAP_MM + extra))
        };
        let turns = [0.0, 45.0, -45.0, 90.0, -90.0, 135.0, -135.0, 180.0];
        // `reach` supposes that two corners meet; on a slant the tag can come nearer.
        let near = turns.into_iter().flat_map(|t| [-2.0, -1.0, 0.0].map(|extra| spot(t, extra)));
        let far = [4.0, 8.0].into_iter().flat_map(|extra| turns.map(|t| spot(t, extra)));
        let candidates = near.chain(far);
        let candidates = candidates.map(|p| (p, vec![(area(p).grown(board.mm(0.5), board.mm(0.5)), Ink::Solid)]));
        let Some(centre) = placer.best(candidates) else { continue };
        placer.take(area(centre).grown(board.mm(0.5), board.mm(0.5)), Ink::Solid);
        board.show("post", content);
        board.write(centre, MIDDLE, content);
    }
    board.show_nothing();
}

/// The post at one end of a panel.
struct End<'a> {
    post: Point,
    panel: usize,
    span: &'a Span,
}

impl Extent for End<'_> {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.post.extent()
    }
}

fn ends(layout: &Layout) -> Near<End<'_>> {
    let both = layout.panels.iter().map(|at| &at.span).enumerate().flat_map(|(panel, span)| {
        let posts = [span.from, span.to].into_iter().filter_map(|p| super::plan::post_at(layout, p));
        posts.map(move |post| End { post: post.at, panel, span })
    });
    both.collect::<Vec<_>>().into()
}

/// Direction from a post towards the deck: against the outward directions of the rails that meet it.
fn inward(ends: &Near<End<'_>>, at: Point) -> Point {
    const MEETS_MM: f64 = 1.0;
    let meets = |end: &&End<'_>| plane::distance(end.post, at) < MEETS_MM;
    let mut met: Vec<&End<'_>> = ends.around([at], MEETS_MM).map(|(_, end)| end).filter(meets).collect();
    met.dedup_by_key(|end| end.panel);
    let out = met.into_iter().map(|end| axes(end.span).1);
    let sum = out.fold(plane::point(0.0, 0.0), |a, b| a + b);
    if plane::norm(sum) > 1e-6 { -plane::unit(sum) } else { plane::point(0.0, 1.0) }
}
