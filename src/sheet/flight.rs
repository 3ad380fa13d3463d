//! One whole flight of stairs in elevation, as seen standing on it looking out to a side: steps, posts, raked panels in
//! outline, handrail. Origin under the top nosing on the level of the foot, x level, y up.

use crate::base::{Angle, Length, Point, plane};
use crate::catalog::GraspSection;
use crate::deck::Flight;
use crate::guard::{Falls, Handrail, Post};
use crate::parts::{Layout, LayoutPanel};

use super::board::{Board, MIDDLE, MIDDLE_LEFT, MIDDLE_RIGHT};
use super::plan::post_at;
use super::rails::Rails;
use super::raked_stair::Stair;
use super::text;
use super::{Drawing, Layer, Linetype, flight_dims, flight_notes, scale};

/// How far deck and ground go on beyond everything else, paper mm.
const BEYOND_MM: f64 = 12.0;
/// Where a handrail is named, as a share of the run, and how far above it, paper mm.
const NAMED_AT: f64 = 0.55;
const NAME_MM: f64 = 5.0;
/// Length of a handrail bracket as it is drawn, paper mm.
const BRACKET_MM: f64 = 1.6;

/// A post on its side of the flight.
#[derive(Debug)]
pub(super) struct Standing<'a> {
    pub post: &'a Post,
    /// Level distance of its centre downhill from the top nosing, mm.
    pub down: f64,
    /// Height of what it stands on above the foot, mm.
    pub foot: f64,
}

/// One side of a flight.
pub(super) struct Side<'a> {
    pub layout: &'a Layout,
    pub flight: &'a Flight,
    pub is_left: bool,
    /// Raked panels from the top down.
    pub panels: Vec<&'a LayoutPanel>,
    /// Posts from the top down.
    pub posts: Vec<Standing<'a>>,
    pub handrails: Vec<&'a Handrail>,
    /// The other side, where it is the same in a mirror.
    pub twin: Option<Box<Self>>,
}

/// Elevations of a flight (by its index in [`Layout::flights`]): one where both sides are built the same, or only one has
/// anything, else one a side, left before right as seen from the top looking down. None where it is no flight.
pub fn flight_elevations(layout: &Layout, flight: usize) -> Vec<Drawing> {
    let Some(of) = layout.flights.get(flight) else { return Vec::new() };
    let sides = [true, false].map(|is_left| Side::new(layout, flight, of, is_left));
    let [mut left, right] = sides;
    let shown = match (left.is_bare(), right.is_bare()) {
        (_, true) => vec![left],
        (true, false) => vec![right],
        _ if left.mirrors(&right) => {
            left.twin = Some(Box::new(right));
            vec![left]
        }
        _ => vec![left, right],
    };
    let several = shown.len() > 1;
    shown.iter().filter_map(|side| side.draw(several)).collect()
}

impl<'a> Side<'a> {
    fn new(layout: &'a Layout, index: usize, flight: &'a Flight, is_left: bool) -> Self {
        let falls = if is_left { Falls::Right } else { Falls::Left };
        let on_side = |at: &&LayoutPanel| {
            let run = layout.runs.get(at.span.run);
            run.is_some_and(|r| r.flight == Some(index)) && at.panel.rake.is_some_and(|rake| rake.falls == falls)
        };
        let mut side = Self {
            layout,
            flight,
            is_left,
            panels: layout.panels.iter().filter(on_side).collect(),
            posts: Vec::new(),
            handrails: layout.handrails.iter().filter(|h| h.flight == index && h.left == is_left).collect(),
            twin: None,
        };
        let mut panels = std::mem::take(&mut side.panels);
        panels.sort_by(|a, b| side.reach(a).0.total_cmp(&side.reach(b).0));
        let supports = panels.iter().flat_map(|at| [at.span.from, at.span.to]);
        let mut posts: Vec<Standing<'_>> =
            supports.filter_map(|s| post_at(layout, s)).map(|post| side.standing(post)).collect();
        posts.sort_by(|a, b| a.down.total_cmp(&b.down));
        posts.dedup_by(|a, b| a.post.id == b.post.id);
        Self { panels, posts, ..side }
    }

    fn is_bare(&self) -> bool {
        self.panels.is_empty() && self.handrails.is_empty()
    }

    /// Whether the other side is built the same, in a mirror.
    fn mirrors(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() < Length::NOISE.millimetres();
        let panels = self.panels.len() == other.panels.len()
            && self.panels.iter().zip(&other.panels).all(|(a, b)| {
                let (p, q) = (&a.panel, &b.panel);
                let ((a, b), (c, d)) = (self.reach(a), other.reach(b));
                near(a, c) && near(b, d) && p.length == q.length && p.height == q.height && p.bottom_gap == q.bottom_gap
            });
        let posts = self.posts.len() == other.posts.len()
            && self
                .posts
                .iter()
                .zip(&other.posts)
                .all(|(a, b)| near(a.down, b.down) && a.post.side == b.post.side && a.post.height == b.post.height);
        let handrails = self.handrails.len() == other.handrails.len()
            && self.handrails.iter().zip(&other.handrails).all(|(a, b)| {
                let of = |h: &Handrail| (h.height, h.length, h.extension_top, h.extension_bottom, h.brackets.clone());
                of(a) == of(b)
            });
        panels && posts && handrails
    }

    /// 1 where the flight falls to the right.
    pub(super) const fn way(&self) -> f64 {
        if self.is_left { 1.0 } else { -1.0 }
    }

    /// Level distance downhill from the top nosing.
    fn down(&self, p: Point) -> f64 {
        let [top, _] = self.flight.top;
        plane::dot(p - top, self.flight.down)
    }

    pub(super) fn rise(&self) -> f64 {
        self.flight.total_rise().millimetres()
    }

    pub(super) fn run(&self) -> f64 {
        self.flight.length().millimetres()
    }

    /// From where to where a panel's clear span goes, downhill.
    pub(super) fn reach(&self, at: &LayoutPanel) -> (f64, f64) {
        let (a, b) = (self.down(at.span.left), self.down(at.span.right));
        (a.min(b), a.max(b))
    }

    /// A point by its distance downhill and its height over the foot.
    pub(super) fn at(&self, down: f64, height: f64) -> Point {
        plane::point(down * self.way(), height)
    }

    /// Height of the line through the nosings over the foot.
    pub(super) fn nosing(&self, down: f64) -> f64 {
        self.rise() - down * self.flight.pitch.angle().tan()
    }

    /// A point plumb above the line through the nosings.
    pub(super) fn above(&self, down: f64, plumb: f64) -> Point {
        self.at(down, self.nosing(down) + plumb)
    }

    /// What a post stands on: the deck at the head, the ground at the foot, else the tread under its middle.
    fn standing<'p>(&self, post: &'p Post) -> Standing<'p> {
        let down = self.down(post.at);
        let half = post.side.millimetres() / 2.0;
        let slack = Length::NOISE.millimetres();
        let riser = self.flight.steps.riser.millimetres();
        let passed = (down / self.flight.steps.tread.millimetres()).ceil().clamp(0.0, f64::from(self.flight.risers));
        let foot = if down - half <= slack {
            self.rise()
        } else if down + half >= self.run() - slack {
            0.0
        } else {
            self.rise() - passed * riser
        };
        Standing { post, down, foot }
    }

    /// Furthest down and up that anything reaches: level distances from the top nosing.
    pub(super) fn extent(&self) -> (f64, f64) {
        let mut all = vec![0.0, self.run()];
        all.extend(self.posts.iter().flat_map(|s| {
            let half = s.post.side.millimetres() / 2.0;
            [s.down - half, s.down + half]
        }));
        for rail in &self.handrails {
            all.push(-rail.extension_top.millimetres());
            all.push(self.run() + self.flight.pitch.level(rail.extension_bottom).millimetres());
        }
        (all.iter().copied().fold(0.0, f64::min), all.into_iter().fold(0.0, f64::max))
    }

    /// Highest point of posts and rails over the foot.
    pub(super) fn top(&self) -> f64 {
        let posts = self.posts.iter().map(|s| s.foot + s.post.height.millimetres());
        let rails = self.handrails.iter().map(|h| self.rise() + h.height.millimetres());
        posts.chain(rails).fold(self.rise(), f64::max)
    }

    fn draw(&self, several: bool) -> Option<Drawing> {
        let (from, to) = self.extent();
        let scale = scale::of_flight(to - from, self.top(), self.layout.paper(), &self.layout.measure);
        let mut board = Board::new(scale.paper, scale::text_height(&self.layout.measure));
        let stair = Stair::of_flight(self.flight, self.at(0.0, self.rise()), self.way())?;
        let beyond = board.mm(BEYOND_MM);
        let (a, b) = (self.at(from - beyond, 0.0).x, self.at(to + beyond, 0.0).x);
        board.show("stair", &self.flight.id);
        stair.draw(&mut board, a.min(b), a.max(b));
        board.show("nosings", &self.flight.id);
        let line = vec![self.above(0.0, 0.0), self.above(self.run(), 0.0)];
        board.patterned(Layer::Line, Linetype::Hidden, line, false);
        self.posts(&mut board);
        self.panels(&mut board);
        for rail in &self.handrails {
            self.handrail(&mut board, rail);
        }
        self.name_handrail(&mut board);
        flight_dims::draw(&mut board, self);
        let side = if self.is_left { "left" } else { "right" };
        let name = if several { format!("{}-{side}", self.flight.id) } else { self.flight.id.clone() };
        let title = flight_notes::draw(&mut board, self, scale.text);
        Some(board.finish(&name, title, None))
    }

    fn posts(&self, board: &mut Board) {
        for (index, standing) in self.posts.iter().enumerate() {
            let post = standing.post;
            let half = post.side.millimetres() / 2.0;
            let top = standing.foot + post.height.millimetres();
            board.show("post", &post.id);
            let corners = [(-half, standing.foot), (-half, top), (half, top), (half, standing.foot)];
            board.path(Layer::Post, corners.map(|(off, y)| self.at(standing.down + off, y)).to_vec(), true);
            let other = self.twin.as_ref().and_then(|twin| twin.posts.get(index));
            let ids = [Some(post.id.as_str()), other.map(|o| o.post.id.as_str())].into_iter().flatten();
            let ids: Vec<&str> = ids.collect();
            let label = format!("{} {}", ids.join(", "), self.layout.measure.mark_text(post.height));
            let mut spec = board.spec(self.at(standing.down, f64::midpoint(standing.foot, top)), MIDDLE, &label);
            spec.rotation = Angle::from_degrees(90.0);
            // A slender post, or a long label, takes smaller letters.
            let long = text::width(&label, spec.height, false);
            let room = (post.height.millimetres() * 0.8 / long).min(2.0 * half / (1.5 * spec.height)).min(1.0);
            spec.height = (spec.height * room).max(board.mm(scale::LEAST_TEXT_MM));
            board.text(Layer::Text, spec);
        }
    }

    /// Outlines of the members, and the panels' tags.
    fn panels(&self, board: &mut Board) {
        for (index, at) in self.panels.iter().enumerate() {
            let rails = Rails::new(self.layout, at);
            let (from, to) = self.reach(at);
            let (near, far) = match at.panel.rake.map(|rake| rake.falls) {
                Some(Falls::Left) => (at.panel.clearance_right, at.panel.clearance_left),
                _ => (at.panel.clearance_left, at.panel.clearance_right),
            };
            let (from, to) = (from + near.millimetres(), to - far.millimetres());
            board.show("panel", &at.panel.id);
            for course in &rails.courses {
                let corners = [(from, course.low), (to, course.low), (to, course.high), (from, course.high)];
                board.path(Layer::Panel, corners.map(|(down, plumb)| self.above(down, plumb)).to_vec(), true);
            }
            let other = self.twin.as_ref().and_then(|twin| twin.panels.get(index));
            let ids = [Some(at.panel.id.as_str()), other.map(|o| o.panel.id.as_str())];
            let content = ids.into_iter().flatten().collect::<Vec<_>>().join(", ");
            let middle = f64::midpoint(rails.infill.0, rails.infill.1);
            board.show("tag", &at.panel.id);
            let centre = self.above(f64::midpoint(from, to), middle);
            let corner = plane::point(
                text::width(&content, board.height(), false) / 2.0 + board.mm(1.3),
                board.height() / 2.0 + board.mm(1.1),
            );
            board.rectangle(Layer::Text, centre - corner, centre + corner);
            board.write(centre, MIDDLE, &content);
        }
    }

    /// The handrail's name over it: it often lies on the top rail.
    fn name_handrail(&self, board: &mut Board) {
        let Some(rail) = self.handrails.first() else { return };
        let tip = self.above(self.run() * NAMED_AT, rail.height.millimetres());
        let end = tip + plane::point(0.0, board.mm(NAME_MM));
        board.show("handrail", &rail.id);
        board.patterned(Layer::Dims, Linetype::Continuous, vec![tip, end], false);
        // Downhill of its leader, where the slope falls away under it.
        let anchor = if self.way() > 0.0 { MIDDLE_LEFT } else { MIDDLE_RIGHT };
        board.write(end + plane::point(0.0, board.height()), anchor, &self.handrail_name());
    }

    /// The handrail with its extensions, level at the top and along the slope at the foot, and its brackets.
    fn handrail(&self, board: &mut Board, rail: &Handrail) {
        let thick = match self.layout.system.handrail.as_ref().map(|h| &h.section) {
            Some(GraspSection::Round(diameter)) => diameter.millimetres(),
            Some(GraspSection::Other { across, .. }) => across.millimetres(),
            None => board.mm(1.0),
        };
        let height = rail.height.millimetres();
        let head = rail.extension_top.millimetres();
        let foot = self.run() + self.flight.pitch.level(rail.extension_bottom).millimetres();
        let line = |less: f64| {
            let level = self.at(-head, self.rise() + height - less);
            [level, self.above(0.0, height - less), self.above(foot, height - less)]
        };
        let mut outline = line(0.0).to_vec();
        outline.extend(line(thick).into_iter().rev());
        board.show("handrail", &rail.id);
        board.path(Layer::Bracket, outline, true);
        for mark in rail.brackets.iter().map(|mark| mark.millimetres() - head) {
            // Along the handrail: level before the top nosing, along the slope below it.
            let low = if mark < 0.0 {
                self.at(mark, self.rise() + height - thick)
            } else {
                self.above(mark / self.flight.pitch.factor(), height - thick)
            };
            let end = low - plane::point(0.0, board.mm(BRACKET_MM));
            board.line(Layer::Bracket, low, end);
            board.circle(Layer::Bracket, end, board.mm(0.35));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::room::Blank;
    use super::super::sample::{INCH, TEST_RAIL, l_shape};
    use super::super::sample_stairs::{self, stairs, steps};
    use super::super::{Item, Shape};
    use super::*;
    use crate::base::Unit;

    fn said(drawing: &Drawing) -> Vec<String> {
        drawing.items.iter().flat_map(Item::texts).map(|text| text.content).collect()
    }

    fn outlines<'a>(drawing: &'a Drawing, kind: &'static str) -> Vec<(&'a str, Vec<Point>)> {
        let closed = |i: &'a Item| match (&i.shape, &i.object) {
            (Shape::Path { points, closed: true, .. }, Some(o)) if o.kind == kind => {
                Some((o.id.as_str(), points.clone()))
            }
            _ => None,
        };
        drawing.items.iter().filter_map(closed).collect()
    }

    /// 11 risers of 7-1/2 in rise 82-1/2 in over 10 treads of 10 in (closed).
    #[test]
    fn a_flight_says_its_steps_posts_panels_and_handrails() {
        let layout = &sample_stairs::all()[0];
        let drawings = flight_elevations(layout, 0);
        assert_eq!(drawings.len(), 1, "both sides are the same in a mirror");
        let drawing = &drawings[0];
        let said = said(drawing);
        let together = said.join(" ");
        for text in ["82-1/2\"", "100\"", "7-1/2\"", "10\"", "36\"", "12\""] {
            assert!(said.iter().any(|t| t == text), "{text} in {said:?}");
        }
        for words in ["Flight F1", "11 risers", "10 treads", "36.9\u{b0}", "H1, H2", "both sides"] {
            assert!(together.contains(words), "{words} in {together}");
        }
        for post in &layout.posts {
            let height = layout.measure.mark_text(post.height);
            assert!(said.iter().any(|t| t.contains(&post.id) && t.ends_with(&height)), "{} {height}", post.id);
        }
        for at in &layout.panels {
            assert!(together.contains(&at.panel.id));
        }
    }

    #[test]
    fn posts_and_panels_stand_where_they_are() {
        let layout = &sample_stairs::all()[1];
        let drawing = &flight_elevations(layout, 0)[0];
        let flight = &layout.flights[0];
        let tan = flight.pitch.angle().tan();
        for (id, corners) in outlines(drawing, "post") {
            let post = layout.posts.iter().find(|p| p.id == id).unwrap();
            // The left side falls along -y from y = 0.
            let middle = (corners[0].x + corners[2].x) / 2.0;
            assert!((middle + post.at.y).abs() < 1e-6, "{id}");
            assert!((corners[1].y - corners[0].y - post.height.millimetres()).abs() < 1e-6);
        }
        let rails = outlines(drawing, "panel");
        assert!(!rails.is_empty());
        for (id, corners) in rails {
            let panel = &layout.panels.iter().find(|p| p.panel.id == id).unwrap().panel;
            assert!((plane::distance(corners[0], corners[1]) - panel.length.millimetres()).abs() < 1e-5, "{id}");
            assert!((corners[0].x - corners[3].x).abs() < 1e-9, "plumb");
            assert!(((corners[0].y - corners[1].y) / (corners[1].x - corners[0].x) - tan).abs() < 1e-9);
        }
        let top = outlines(drawing, "panel").last().unwrap().1[3];
        let height = top.y - (flight.total_rise().millimetres() - top.x * tan);
        assert!((height - layout.panels[0].panel.height.millimetres()).abs() < 1e-5, "{height}");
    }

    #[test]
    fn sides_that_differ_have_an_elevation_each() {
        let mut layout = stairs(TEST_RAIL, INCH, 11, steps(7.5, 10.0, 0.0, Unit::Inch));
        layout.handrails.truncate(1);
        let names: Vec<String> = flight_elevations(&layout, 0).into_iter().map(|d| d.name).collect();
        assert_eq!(names, ["F1-left", "F1-right"]);
        layout.panels.retain(|p| p.panel.rake.unwrap().falls == Falls::Right);
        let drawings = flight_elevations(&layout, 0);
        assert_eq!(drawings.len(), 1);
        assert!(said(&drawings[0]).join(" ").contains("left side"));
        assert!(flight_elevations(&layout, 7).is_empty());
        assert!(flight_elevations(&l_shape(TEST_RAIL, INCH), 0).is_empty());
    }

    #[test]
    fn they_fit_the_usual_sheet_lying() {
        for layout in sample_stairs::all() {
            let [lying, _] = Blank::both(layout.paper());
            let room = lying.room();
            for drawing in (0..layout.flights.len()).flat_map(|flight| flight_elevations(&layout, flight)) {
                let (low, high) = drawing.parts[0];
                let size = (high - low) / drawing.paper;
                assert!(size.x <= room.x && size.y <= room.y, "{}: {size:?} at {}", drawing.name, drawing.paper);
            }
        }
    }
}
