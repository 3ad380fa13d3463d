//! Nothing of the layout stands in anything else of it: posts, and rails beyond the posts that hold them.

use geo::{Intersects, LineString, Polygon};

use super::PLAN_NOISE_MM;
use super::record::{Question, Record};
use crate::base::plane::{direction, left, unit};
use crate::base::{Code, Extent, Near, Place, Point};
use crate::guard::Post;
use crate::parts::{Layout, LayoutPanel};

/// A rail counts with this much to either side of its line (1/16 in): whatever it is made of is wider.
const HALF_RAIL_MM: f64 = 1.6;

/// A post or a panel by its corners.
struct Thing {
    index: usize,
    /// The flight along which it stands; a post may stand on the deck as well.
    flights: Vec<Option<usize>>,
    area: Polygon<f64>,
}

impl Extent for Thing {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.area.exterior().coords().copied()
    }
}

impl Thing {
    fn meets(&self, other: &Self) -> bool {
        self.area.intersects(&other.area)
    }

    /// Whether both may be at one height: what stands along different flights, or on the deck and along a flight, is not.
    fn is_level_with(&self, other: &Self) -> bool {
        let any = |flights: &[Option<usize>]| flights.is_empty();
        any(&self.flights) || any(&other.flights) || self.flights.iter().any(|f| other.flights.contains(f))
    }
}

fn area(corners: [Point; 4]) -> Polygon<f64> {
    Polygon::new(corners.into_iter().collect::<LineString<f64>>(), Vec::new())
}

/// The square of a post, less what coordinates lose.
fn square(post: &Post) -> Polygon<f64> {
    let half = post.side.millimetres() / 2.0 - PLAN_NOISE_MM;
    let (u, v) = (direction(post.rotation) * half, left(direction(post.rotation)) * half);
    area([post.at + u + v, post.at + v - u, post.at - u - v, post.at + u - v])
}

/// A rail between its faces, a little off both.
fn rail(at: &LayoutPanel) -> Polygon<f64> {
    let along = unit(at.span.right - at.span.left);
    let (a, b) = (at.span.left + along * HALF_RAIL_MM, at.span.right - along * HALF_RAIL_MM);
    let out = left(along) * HALF_RAIL_MM;
    area([a + out, b + out, b - out, a - out])
}

pub(super) fn check(layout: &Layout, record: &mut Record) {
    let flight = |at: &LayoutPanel| layout.runs.get(at.span.run).and_then(|run| run.flight);
    let mut on: Vec<Vec<Option<usize>>> = vec![Vec::new(); layout.posts.len()];
    for at in &layout.panels {
        for post in [at.span.from, at.span.to].into_iter().filter_map(|support| support.post()) {
            if let Some(flights) = on.get_mut(post) {
                flights.push(flight(at));
            }
        }
    }
    let posts = layout.posts.iter().zip(on).enumerate();
    let posts: Near<Thing> =
        posts.map(|(index, (post, flights))| Thing { index, flights, area: square(post) }).collect::<Vec<_>>().into();
    let rails = layout.panels.iter().enumerate();
    let rails: Near<Thing> =
        rails.map(|(index, at)| Thing { index, flights: vec![flight(at)], area: rail(at) }).collect::<Vec<_>>().into();
    let met = |things: &Near<Thing>, own: &Thing| -> Vec<usize> {
        let near = things.around(own.extent(), 0.0).map(|(_, other)| other);
        near.filter(|other| own.meets(other)).map(|other| other.index).collect()
    };
    for own in posts.iter() {
        let Some(post) = layout.posts.get(own.index) else { continue };
        let is_free = met(&posts, own).into_iter().all(|other| other == own.index);
        record.at(Place::post(&post.id).with_point(post.at));
        record.fact(Question::own("room of the post").code(Code::PostsTooNear), "no other post stands in it", is_free);
    }
    for own in rails.iter() {
        let Some(at) = layout.panels.get(own.index) else { continue };
        let holds = |post: usize| [at.span.from, at.span.to].iter().any(|support| support.post() == Some(post));
        let level = |things: &Near<Thing>, i: usize| things.get(i).is_some_and(|other| own.is_level_with(other));
        let by_post = met(&posts, own).into_iter().any(|i| !holds(i) && level(&posts, i));
        let by_rail = met(&rails, own).into_iter().any(|i| i != own.index && level(&rails, i));
        record.at(Place::panel(&at.span.id).with_point((at.span.left + at.span.right) / 2.0));
        let question = Question::own("room of the panel").code(Code::RailsCollide);
        record.fact(question, "no other post or panel stands in it", !by_post && !by_rail);
    }
}
