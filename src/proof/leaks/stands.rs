//! What of ours stands off the deck, in a mouth, through a wall or away from its edge.

use geo::{Intersects, Line};

use super::super::Required;
use super::super::record::{Question, Record};
use super::ground::{BESIDE_MM, Chord, Ground, OFF_LINE_MM, crosses, polygon, square};
use super::shortened;
use crate::base::plane::{cross, distance, dot, to_segment, unit};
use crate::base::{Code, Extent, Length, Near, Place, Point};
use crate::deck::Role;
use crate::guard::{PostKind, PostOrigin, Support};
use crate::parts::{Layout, LayoutPanel, Site};

/// Drawn posts may stand this far (6 in) before the deck's edge: on its face.
const BEFORE_EDGE_MM: f64 = 152.4;

/// A rail may stand so far (2 in) beyond the end of the edge: on the wall's face there.
const BEYOND_EDGE_MM: f64 = 50.8;

/// A rail ends this near to the face of the wall that it meets, in mm.
const FACE_MM: f64 = 1.0;

/// What coordinates lose on their way, in mm.
const NOISE_MM: f64 = 0.1;

/// Sine of the angle up to which a rail and an edge are parallel: what coordinates lose over a foot.
const PARALLEL: f64 = 1e-5;

impl Ground {
    /// What of ours stands off the deck, in a mouth or through a wall; and ends that are said to be at walls.
    pub fn check(&self, layout: &Layout, site: &Site, record: &mut Record) {
        self.mouths(layout, site, record);
        let on_flight = |run: usize| layout.runs.get(run).is_some_and(|r| r.flight.is_some());
        for post in &layout.posts {
            record.at(Place::post(&post.id).with_point(post.at));
            let reach =
                post.side.millimetres() / 2.0 + if post.origin == PostOrigin::Planned { 1.0 } else { BEFORE_EDGE_MM };
            if post.kind != PostKind::Stair && self.off_deck(post.at).is_some_and(|off| off > reach) {
                record.fact(Question::own("place of the post").code(Code::OffDeck), "on the deck", false);
            }
        }
        let zones: Near<Vec<Point>> = site.keep_out.clone().into();
        for post in layout.posts.iter().filter(|p| p.kind == PostKind::Line && p.origin == PostOrigin::Planned) {
            let area = polygon(&square(post, BESIDE_MM));
            let free = zones.around(square(post, 0.0), 0.0).all(|(_, zone)| !polygon(zone).intersects(&area));
            record.at(Place::post(&post.id).with_point(post.at));
            record.fact(Question::own("keep-out zones").code(Code::PostsKeptOut), "without a post in them", free);
        }
        let walls = &self.walls;
        for panel in layout.panels.iter().filter(|p| !on_flight(p.span.run)) {
            let (a, b) = (panel.span.left, panel.span.right);
            record.at(Place::panel(&panel.span.id).with_point((a + b) / 2.0));
            let Some((p, q)) = shortened((a, b), BESIDE_MM) else { continue };
            if [a, (a + b) / 2.0, b]
                .into_iter()
                .any(|p| self.off_deck(p).is_some_and(|off| off > self.touch.max(BEYOND_EDGE_MM) + NOISE_MM))
            {
                record.fact(Question::own("place of the panel").code(Code::OffDeck), "on the deck", false);
            }
            self.check_inset(layout, panel, record);
            let crossed =
                walls.around([p, q], 0.0).any(|(_, w)| shortened(*w, BESIDE_MM).is_some_and(|w| crosses((p, q), w)));
            if crossed {
                record.fact(Question::own("course of the panel").code(Code::ThroughWall), "through no wall", false);
            }
            let ends = [(panel.span.from, a), (panel.span.to, b)];
            for (_, end) in ends.into_iter().filter(|(support, _)| support.post().is_none()) {
                record.fact(
                    Question::own("wall end").code(Code::RailOffFace),
                    "on the face of a wall",
                    self.at_wall(end, FACE_MM),
                );
            }
        }
        for end in &self.wall_ends {
            record.at(Place::at(*end));
            record.fact(
                Question::own("end of the deck's edge").code(Code::EdgeOpen),
                "at a wall",
                self.at_wall(*end, self.touch.max(BEYOND_EDGE_MM)),
            );
        }
        for at in &self.unseen {
            record.at(Place::at(*at));
            let why = "the deck is too narrow along this edge for a place behind its rail";
            record.unknown(Question::own("ways out of the deck"), why);
        }
        for end in &self.unclosed {
            record.at(Place::at(*end));
            let question = Question::own("what lies behind this open edge").code(Code::EdgeOpen);
            record.fact(question, "an edge that does not wind back on itself, or a closed outline", false);
        }
    }

    /// A rail stands along a deck's edge, and between posts that nobody drew at the inset of the straight edge beside it.
    fn check_inset(&self, layout: &Layout, panel: &LayoutPanel, record: &mut Record) {
        let (a, b) = (panel.span.left, panel.span.right);
        let middle = (a + b) / 2.0;
        let inset = layout.inset.millimetres();
        let is_near = self
            .chords
            .nearest(middle, |c| to_segment(middle, c.a, c.b).0)
            .is_some_and(|(d, ..)| d <= inset + OFF_LINE_MM);
        record.fact(Question::own("edge beside the panel").code(Code::OffDeck), "one of the deck's", is_near);
        let planned = |support: Support| {
            support.post().is_none_or(|i| layout.posts.get(i).is_some_and(|p| p.origin == PostOrigin::Planned))
        };
        if !(planned(panel.span.from) && planned(panel.span.to)) {
            return;
        }
        // The edge that the whole of the rail goes along; a curve's pieces are shorter.
        let beside = self.chords.around([a, b], inset + OFF_LINE_MM).map(|(_, c)| c).filter(|c| {
            let along = unit(c.b - c.a);
            let places = [a, b].map(|p| dot(p - c.a, along));
            let beyond = inset.max(BEFORE_EDGE_MM);
            let is_within = places.iter().all(|x| *x >= -beyond && *x <= distance(c.a, c.b) + beyond);
            let way = unit(b - a);
            c.is_straight && is_within && cross(way, along).abs() <= PARALLEL && dot(way, along) > 0.0
        });
        let off = |c: &Chord| {
            [a, b].map(|p| (-cross(unit(c.b - c.a), p - c.a) - inset).abs()).into_iter().fold(0.0, f64::max)
        };
        if let Some(off) = beside.map(off).min_by(f64::total_cmp) {
            let noise = Length::from_millimetres(NOISE_MM).unwrap_or_default();
            record.plan(
                Question::own("panel off its inset from the edge").code(Code::OffDeck),
                Required::AtMost(noise),
                off,
            );
        }
    }

    /// What stands in the mouth of an opening or stair: a check each, with all that does.
    fn mouths(&self, layout: &Layout, site: &Site, record: &mut Record) {
        let on_flight = |run: usize| layout.runs.get(run).is_some_and(|r| r.flight.is_some());
        let posts: Near<Thing> = layout
            .posts
            .iter()
            .map(|p| Thing { id: p.id.clone(), corners: square(p, BESIDE_MM).to_vec() })
            .collect::<Vec<_>>()
            .into();
        let level = layout.panels.iter().filter(|p| !on_flight(p.span.run));
        let panels: Near<Thing> = level
            .filter_map(|p| {
                let (a, b) = shortened((p.span.left, p.span.right), BESIDE_MM)?;
                Some(Thing { id: p.span.id.clone(), corners: vec![a, b] })
            })
            .collect::<Vec<_>>()
            .into();
        for (number, area) in &self.slots {
            let Some(mouth) = site.mouths.get(*number) else { continue };
            let around = || area.exterior().coords().copied();
            let in_it = posts.around(around(), 0.0).filter(|(_, t)| area.intersects(&polygon(&t.corners)));
            let rails = panels.around(around(), 0.0).filter(|(_, t)| {
                t.corners.first().zip(t.corners.last()).is_some_and(|(a, b)| area.intersects(&Line::new(*a, *b)))
            });
            let names: Vec<&str> = in_it.chain(rails).map(|(_, t)| t.id.as_str()).collect();
            let what = if mouth.role == Role::Stair { "stair" } else { "opening" };
            let what = match names.as_slice() {
                [] => format!("free width of the {what}"),
                names => format!("free width of the {what} ({} in it)", names.join(", ")),
            };
            record.at(mouth
                .along
                .first()
                .zip(mouth.along.last())
                .map_or_else(Place::none, |(a, b)| Place::at((*a + *b) / 2.0)));
            record.fact(Question::own(&what).code(Code::InMouth), "no post or rail stands in it", names.is_empty());
        }
    }

    fn at_wall(&self, p: Point, reach: f64) -> bool {
        self.walls.around([p], reach).any(|(_, (a, b))| to_segment(p, *a, *b).0 <= reach + NOISE_MM)
    }

    /// How far before the nearest deck edge a point lies; `None` on its deck's side.
    fn off_deck(&self, p: Point) -> Option<f64> {
        let (d, _, nearest) = self.chords.nearest(p, |c| to_segment(p, c.a, c.b).0)?;
        // At a corner two chords are equally near: it lies outside when it does so of the one that it is most aside of.
        let same = self.chords.around([p], d + 1e-6).map(|(_, c)| c);
        let same = same.filter(|c| to_segment(p, c.a, c.b).0 <= d + 1e-6);
        let aside = |c: &Chord| cross(unit(c.b - c.a), p - c.a);
        let most = same.map(aside).max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or_else(|| aside(nearest));
        (most > 0.0).then_some(d)
    }
}

/// Something of ours, by its corners.
struct Thing {
    id: String,
    corners: Vec<Point>,
}

impl Extent for Thing {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.corners.iter().copied()
    }
}
