//! The faces of the posts at full size, with the members that meet them and the holes of cables; and slats with theirs. x
//! is the height above the deck, or above the nosing line of a stair, so that a face is hung with its right end up.

use std::collections::BTreeMap;

use crate::base::{Angle, Length, decimal, plane};
use crate::parts::{Layout, LayoutPanel};

use super::super::board::{Board, MIDDLE};
use super::super::plan::{axes, post_at};
use super::super::rails::{Rails, member_name};
use super::super::running::{self, Running};
use super::super::text::{self, size_text};
use super::super::{Alike, Layer, Linetype};
use super::stick::{Stick, TEXT_MM, band};

/// Half of the widest face that is shown whole, mm: a tile of it still goes on a sheet.
const WIDEST_MM: f64 = 66.0;
/// Paper beyond the lowest and the highest mark, mm.
const BEYOND_MM: f64 = 8.0;
/// Half the height of a slat's row at least, and how far a hole's cross reaches beyond it, mm.
const LEAST_MM: f64 = 9.0;
const CROSS_MM: f64 = 1.4;

/// What tells faces apart: side, offset of the rail in hundredths of a millimetre, skew in hundredths of a degree, heights of
/// the members in micrometres, holes of cables, whether on a stair, and unless the rail meets it squarely in its middle whether
/// the deck lies on its left.
type Key = (Length, i64, i64, Vec<i64>, Vec<Length>, (bool, bool));

/// A face, with the posts that have it.
struct Face<'a> {
    at: &'a LayoutPanel,
    side: Length,
    /// From the middle of the face to the rail's centre line, to the right as seen looking at it, mm.
    off: f64,
    skew: Angle,
    /// Whether the deck lies on its left.
    is_left: bool,
    posts: Vec<String>,
}

/// Faces of posts in the order of the panels that meet them, then slats.
pub(super) fn sticks(layout: &Layout, groups: &[Alike]) -> Vec<Stick> {
    let mut order: Vec<Key> = Vec::new();
    let mut faces: BTreeMap<Key, Face<'_>> = BTreeMap::new();
    for at in &layout.panels {
        for is_left in [true, false] {
            let Some((key, face, post)) = face(layout, at, is_left) else { continue };
            let entry = faces.entry(key.clone()).or_insert_with(|| {
                order.push(key);
                face
            });
            if !entry.posts.contains(&post) {
                entry.posts.push(post);
            }
        }
    }
    let in_order = (1..).zip(order.iter().filter_map(|key| faces.get(key)));
    let mut sticks: Vec<Stick> = in_order.map(|(number, face)| face.stick(layout, number)).collect();
    sticks.extend(slats(layout, groups));
    sticks
}

fn face<'a>(layout: &Layout, at: &'a LayoutPanel, is_left: bool) -> Option<(Key, Face<'a>, String)> {
    let span = &at.span;
    let (support, crossing, skew) =
        if is_left { (span.from, span.left, span.skew_left) } else { (span.to, span.right, span.skew_right) };
    let post = post_at(layout, support)?;
    let (along, out) = axes(span);
    let inward = if is_left { along } else { -along };
    let from = crossing - post.at;
    // In the face's own directions: the normal leans by the skew, and the face lies square to it.
    let across = plane::left(plane::direction(skew));
    let off = plane::dot(plane::point(plane::dot(from, inward), plane::dot(from, out)), across);
    // Looking at a left face, what lies away from the deck is on the right.
    let off = if is_left { off } else { -off };
    let rails = Rails::new(layout, at);
    let heights = rails.courses.iter().flat_map(|c| [c.low, c.high]).map(|mm| (mm * 1e3).round() as i64).collect();
    let holes = at.panel.infill.cables().map_or(Vec::new(), |run| run.heights.clone());
    let hundredths = |value: f64| (value * 100.0).round() as i64;
    let handed = if is_left { skew.degrees() } else { -skew.degrees() };
    let is_square = hundredths(off) == 0 && hundredths(handed) == 0;
    let kind = (at.panel.rake.is_some(), is_left && !is_square);
    let key = (post.side, hundredths(off), hundredths(handed), heights, holes, kind);
    let name = if is_square { post.id.clone() } else { format!("{} to {}", post.id, at.panel.id) };
    Some((key, Face { at, side: post.side, off, skew, is_left, posts: Vec::new() }, name))
}

/// A height or length as it is: on a mark as marks are written, else with its decimals.
fn exact(layout: &Layout, mm: f64) -> String {
    let length = Length::measured(mm);
    let m = &layout.measure;
    if m.mark.round(length) == length {
        m.mark_text(length)
    } else {
        format!("{} {}", decimal(m.number(length), 3), m.unit.sign())
    }
}

impl Face<'_> {
    fn stick(&self, layout: &Layout, number: usize) -> Stick {
        let rails = Rails::new(layout, self.at);
        let name = format!("F{number}");
        let mut board = Board::new(1.0, TEXT_MM);
        let marks = self.marks(layout, &rails);
        let base = -band(&board, &marks);
        let half = (self.side.millimetres() / 2.0).min(WIDEST_MM);
        // A rail that does not land wholly on its face is shown wholly all the same.
        let widest = rails.courses.iter().map(|c| c.half).fold(0.0, f64::max) / self.skew.cos() + self.off.abs();
        let room = half.max(widest) + 2.0;
        let axis = base - room;
        let top = self.at.panel.height.millimetres();
        let lowest = marks.first().map_or(0.0, |m| m.0).min(0.0);
        let ends = (lowest - BEYOND_MM, top + BEYOND_MM);
        let mut busy: Vec<(f64, f64)> = marks.iter().map(|(x, _)| (x - 1.5, x + 1.5)).collect();
        board.show("mark", &name);
        running::draw(&mut board, &Running { rule: Some((0.0, top)), ..Running::level(base, true, marks) });
        board.show("post", &name);
        for edge in [axis - half, axis + half] {
            board.line(Layer::Post, plane::point(ends.0, edge), plane::point(ends.1, edge));
        }
        board.line(Layer::Post, plane::point(0.0, axis - half), plane::point(0.0, base));
        board.line(Layer::Line, plane::point(ends.0, axis), plane::point(ends.1, axis));
        busy.extend(self.members(&mut board, &rails, axis));
        let rail = axis - self.off;
        cables(&mut board, layout, &name, (rail, &self.holes(0.0)));
        Stick {
            tag: format!("{name} face of {}", self.posts.join(", ")),
            facts: self.facts(layout, half),
            zero: if self.at.panel.rake.is_some() { "nosing line; this end down" } else { "deck; this end down" },
            ends,
            edges: (axis - room, 0.0),
            busy,
            side: vec![(axis, vec!["Face of".to_owned(), "the post".to_owned()])],
            name,
            board,
        }
    }

    fn holes(&self, less: f64) -> Vec<f64> {
        let cables = self.at.panel.infill.cables();
        cables.map_or(Vec::new(), |run| run.heights.iter().map(|h| h.millimetres() - less).collect())
    }

    /// Undersides and tops of the members, and the holes of cables.
    fn marks(&self, layout: &Layout, rails: &Rails<'_>) -> Vec<(f64, String)> {
        let members = rails.courses.iter().flat_map(|c| [c.low, c.high]);
        let mut all: Vec<f64> = members.chain(self.holes(0.0)).chain([0.0]).collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|a, b| (*a - *b).abs() < 1e-4);
        all.into_iter().map(|x| (x, exact(layout, x))).collect()
    }

    /// Where the members meet the face, with their names; a dashed line where their brackets' breadth lies. Gives the
    /// stretches that the names fill.
    fn members(&self, board: &mut Board, rails: &Rails<'_>, axis: f64) -> Vec<(f64, f64)> {
        let system = &rails.layout.system;
        let rail = axis - self.off;
        let wide = 1.0 / self.skew.cos();
        let mut busy = Vec::new();
        for course in &rails.courses {
            let half = course.half * wide;
            board.show("member", &self.at.panel.id);
            board.rectangle(
                Layer::Panel,
                plane::point(course.low, rail - half),
                plane::point(course.high, rail + half),
            );
            if system.bracket.members.contains(&course.role) {
                let half = system.bracket.width.millimetres() / 2.0 * wide;
                for edge in [rail - half, rail + half] {
                    let line = vec![plane::point(course.low, edge), plane::point(course.high, edge)];
                    board.patterned(Layer::Bracket, Linetype::Hidden, line, false);
                }
            }
            let height = board.height();
            let lines = text::wrap(member_name(course.role), height, course.high - course.low - 1.0);
            let mut y = rail + height * 0.8 * (lines.len() as f64 - 1.0) + if self.off == 0.0 { 3.0 } else { 0.0 };
            for line in lines {
                let middle = f64::midpoint(course.low, course.high);
                board.write(plane::point(middle, y), MIDDLE, &line);
                let half = text::width(&line, height, false) / 2.0;
                busy.push((middle - half, middle + half));
                y -= height * 1.6;
            }
        }
        busy
    }

    fn facts(&self, layout: &Layout, half: f64) -> Vec<String> {
        let m = &layout.measure;
        let cable = layout.system.cable.as_ref();
        let mut lines = Vec::new();
        let side = size_text(m, self.side);
        let turn = "Turned so that heights run up, it is the face as seen from the panel.";
        lines.push(format!("{side} post, heights {}. {turn}", self.above()));
        if half < self.side.millimetres() / 2.0 - 1e-6 {
            lines.push("The face is wider than shown: use its centre line.".to_owned());
        }
        if self.off.abs() > 5e-3 || self.skew != Angle::ZERO {
            let way = if self.off > 0.0 { "right" } else { "left" };
            let deck = if self.is_left { "left" } else { "right" };
            let off = exact(layout, self.off.abs());
            lines.push(format!(
                "The rail meets it at {}\u{b0}, its centre line {off} to the {way} of the middle; the deck is on the {deck}.",
                decimal(self.skew.abs().degrees(), 1)
            ));
        }
        lines.push(match cable {
            Some(cable) => {
                let hole = size_text(m, cable.hole);
                let way = if self.at.panel.rake.is_some() { "along the slope" } else { "along the rail" };
                format!("Circles: cable holes {hole} through the post on the rail's centre line, drilled {way}.")
            }
            None => "Brackets sit within the dashed lines; their own holes are the guide for the screws into the post."
                .to_owned(),
        });
        lines
    }

    const fn above(&self) -> &'static str {
        if self.at.panel.rake.is_some() {
            "plumb above the nosing line where it meets this face"
        } else {
            "above the deck"
        }
    }
}

/// Circles and crosses at heights on an axis.
fn cables(board: &mut Board, layout: &Layout, name: &str, (axis, heights): (f64, &[f64])) {
    let Some(cable) = &layout.system.cable else { return };
    let radius = cable.hole.millimetres() / 2.0;
    board.show("hole", name);
    for at in heights.iter().map(|x| plane::point(*x, axis)) {
        board.circle(Layer::Hole, at, radius);
        for arm in [plane::point(radius + CROSS_MM, 0.0), plane::point(0.0, radius + CROSS_MM)] {
            board.line(Layer::Hole, at - arm, at + arm);
        }
    }
}

/// Slats with the holes of the cables; one for each length and row of holes.
fn slats(layout: &Layout, groups: &[Alike]) -> Vec<Stick> {
    let Some(slat) = layout.system.cable.as_ref().and_then(|cable| cable.slat.as_ref()) else { return Vec::new() };
    let mut seen: Vec<(Length, Vec<f64>, bool)> = Vec::new();
    for at in groups.iter().filter_map(|group| group.first(layout)) {
        let Some(run) = at.panel.infill.cables().filter(|run| !run.slats.is_empty()) else { continue };
        let less = Rails::new(layout, at).infill.0;
        let holes: Vec<f64> = run.heights.iter().map(|h| h.millimetres() - less).collect();
        let length = at.panel.balusters.length;
        let is_raked = at.panel.rake.is_some();
        let is_same = |other: &(Length, Vec<f64>, bool)| {
            let close = other.1.iter().zip(&holes).all(|(a, b)| (a - b).abs() < 1e-3);
            (other.0, other.1.len(), other.2) == (length, holes.len(), is_raked) && close
        };
        if !seen.iter().any(is_same) {
            seen.push((length, holes, is_raked));
        }
    }
    (1..)
        .zip(&seen)
        .map(|(number, (length, holes, is_raked))| {
            let name = format!("L{number}");
            let mut board = Board::new(1.0, TEXT_MM);
            let top = length.millimetres();
            let mut marks: Vec<(f64, String)> =
                holes.iter().chain([&0.0, &top]).map(|x| (*x, exact(layout, *x))).collect();
            marks.sort_by(|a, b| a.0.total_cmp(&b.0));
            let base = -band(&board, &marks);
            let half = slat.width.millimetres() / 2.0;
            let axis = base - 2.0 - half.max(LEAST_MM);
            let busy = marks.iter().map(|(x, _)| (x - 1.5, x + 1.5)).collect();
            board.show("mark", &name);
            running::draw(&mut board, &Running { rule: Some((0.0, top)), ..Running::level(base, true, marks) });
            board.show("slat", &name);
            board.rectangle(Layer::Baluster, plane::point(0.0, axis - half), plane::point(top, axis + half));
            board.line(Layer::Line, plane::point(0.0, axis), plane::point(top, axis));
            cables(&mut board, layout, &name, (axis, holes));
            let m = &layout.measure;
            let way = if *is_raked { " It stands plumb; bored along the slope." } else { "" };
            Stick {
                tag: format!("{name} {}", slat.name),
                facts: vec![format!("{} long; heights from its foot on the bottom rail.{way}", m.mark_text(*length))],
                zero: "foot of the slat",
                ends: (-BEYOND_MM, top + BEYOND_MM),
                edges: (axis - half.max(LEAST_MM) - 2.0, 0.0),
                busy,
                side: vec![(axis, vec!["Slat".to_owned()])],
                name,
                board,
            }
        })
        .collect()
}
