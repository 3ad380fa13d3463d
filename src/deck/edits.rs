//! The user's edits of an earlier layout: posts moved, added and erased, panel tags erased. An edit is the difference
//! between what was written and what stands.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::plane::distance;
use crate::base::{Angle, Code, Finding, Place, Point};
use crate::cad::{Drawing, Ours};

use super::earlier::{Earlier, SetBy, written};
use super::model::DrawnPost;

/// What moves less was not moved: 0.01 mm.
const STILL_MM: f64 = 0.01;

/// What an earlier layout and its edits ask of this one.
#[derive(Debug, Clone, PartialEq)]
pub struct Edits {
    /// Ids and places of all posts of the earlier layout: where they stand, or stood.
    pub posts: Vec<(String, Point)>,
    /// Ids and middles of its panels.
    pub panels: Vec<(String, Point)>,
    /// Places where a line post was erased.
    pub erased: Vec<(String, Point)>,
    /// Spans that are to stay open: id, left and right end.
    pub open: Vec<(String, Point, Point)>,
}

impl Edits {
    /// No earlier layout.
    pub const fn none() -> Self {
        Self { posts: Vec::new(), panels: Vec::new(), erased: Vec::new(), open: Vec::new() }
    }
}

/// A post of ours that stands in the drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Its id, if that is known; copies have the one of their original.
    pub id: Option<String>,
    /// Where it stands.
    pub at: Point,
    /// Its turn.
    pub rotation: Angle,
    /// For messages.
    pub place: Place,
}

/// What stands of an earlier layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Stands {
    /// Posts.
    pub posts: Vec<Standing>,
    /// Ids of the panels whose tags stand; `None` when the program that saved the drawing keeps no texts.
    pub tags: Option<BTreeSet<String>>,
    /// What is not moved farther than this, in mm, was not moved.
    pub still_mm: f64,
}

impl Stands {
    /// By the marks: the posts that carry some or are blocks of ours, and the tags. The frame of a tag and its text are one
    /// thing, and without one of them there is none.
    pub fn marked(drawing: &Drawing) -> Self {
        let posts =
            drawing.ours.iter().filter(|o| o.insert && o.kind == "post" && (o.id.is_empty() || written(o).is_some()));
        let posts = posts.map(|o| Standing {
            id: Some(o.id.clone()).filter(|id| !id.is_empty()),
            at: o.at,
            rotation: o.rotation,
            place: place(o),
        });
        let of_kind = |kind: &str| -> BTreeSet<String> {
            drawing.ours.iter().filter(|o| o.kind == kind).map(|o| o.id.clone()).collect()
        };
        let (texts, frames) = (of_kind("tag"), of_kind("frame"));
        // Tags had no frames of their own once.
        let tags = if frames.is_empty() { texts } else { texts.intersection(&frames).cloned().collect() };
        Self { posts: posts.collect(), tags: Some(tags), still_mm: STILL_MM }
    }
}

/// Reads the edits; moved and added posts come as drawn posts.
pub fn edits(earlier: Earlier, stands: &Stands, findings: &mut Vec<Finding>) -> (Edits, Vec<DrawnPost>) {
    let shift = common_shift(&earlier, stands);
    let earlier = earlier.moved(shift);
    let before: BTreeMap<&str, (SetBy, Point)> =
        earlier.posts.iter().map(|post| (post.id.as_str(), (post.set_by, post.at))).collect();
    let of = |post: &Standing| post.id.as_ref().and_then(|id| before.get(id.as_str()));
    let off = |post: &Standing| of(post).map_or(f64::INFINITY, |(_, at)| distance(post.at, *at));
    let mut edits = Edits::none();
    let mut kept = Vec::new();
    let mut standing = BTreeSet::new();
    // The one that stands where it was written is the original; others with its id are copies.
    let mut posts: Vec<&Standing> = stands.posts.iter().collect();
    posts.sort_by(|a, b| off(a).total_cmp(&off(b)));
    for post in posts {
        let mut tell = |message: String| findings.push(Finding::note(Code::EditObeyed, post.place.clone(), message));
        let moved = off(post) > stands.still_mm;
        match &post.id {
            Some(id) if standing.insert(id.as_str()) => {
                edits.posts.push((id.clone(), post.at));
                if moved {
                    tell(format!("post {id} was moved; it is kept where it stands"));
                } else if of(post).is_none_or(|(set_by, _)| *set_by != SetBy::Edit) {
                    continue;
                }
            }
            Some(_) => tell("this post was added; it is kept like a drawn one".to_owned()),
            None => tell("a post of ours was placed here anew; it is kept like a drawn one".to_owned()),
        }
        kept.push(kept_post(post));
    }
    edits.erased.clone_from(&earlier.erased);
    let gone =
        earlier.posts.iter().filter(|post| post.set_by == SetBy::Planner && !standing.contains(post.id.as_str()));
    edits.erased.extend(gone.map(|post| (post.id.clone(), post.at)));
    edits.erased.sort_by(|a, b| a.0.cmp(&b.0));
    edits.erased.dedup_by(|a, b| a.0 == b.0);
    // One that cannot stay away comes back under its id.
    edits.posts.extend(edits.erased.iter().cloned());
    edits.open.clone_from(&earlier.open);
    for (id, left, right) in earlier.panels {
        let middle = (left + right) / 2.0;
        edits.panels.push((id.clone(), middle));
        if stands.tags.as_ref().is_some_and(|tags| !tags.contains(&id)) {
            let message = format!("the tag of {id} was erased: this span is left open");
            findings.push(Finding::warning(Code::EditObeyed, Place::at(middle), message));
            edits.open.push((id, left, right));
        }
    }
    (edits, kept)
}

fn kept_post(post: &Standing) -> DrawnPost {
    DrawnPost {
        at: post.at,
        side_mm: None,
        rotation: Some(post.rotation.folded(Angle::from_degrees(90.0))),
        place: post.place.clone(),
        kept: true,
    }
}

/// A drawing that was moved as a whole moved its posts by one vector; that is no edit of a post.
fn common_shift(earlier: &Earlier, stands: &Stands) -> Point {
    let before: BTreeMap<&str, Point> = earlier.posts.iter().map(|post| (post.id.as_str(), post.at)).collect();
    let mut shifts = stands.posts.iter().filter_map(|p| Some(p.at - *before.get(p.id.as_deref()?)?));
    let zero = Point { x: 0.0, y: 0.0 };
    let (Some(first), Some(second)) = (shifts.next(), shifts.next()) else { return zero };
    let same = |s: Point| distance(s, first) <= stands.still_mm;
    if same(second) && shifts.all(same) { first } else { zero }
}

fn place(record: &Ours) -> Place {
    Place { at: Some(record.at), handle: record.origin.handle, line: record.origin.line, ..Place::default() }
}
