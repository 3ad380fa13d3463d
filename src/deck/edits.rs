//! The user's edits of an earlier layout: posts moved, added and erased, panel tags erased.
//!
//! Each post of ours carries its origin and the place where it was written, each panel the posts at its ends, so that
//! an edit is the difference between what a record says and where it stands, or what is no longer there.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::plane::distance;
use crate::base::{Angle, Code, Finding, Place, Point};
use crate::cad::{Drawing, Fact, Ours};

use super::model::DrawnPost;

/// What moves less was not moved: 0.01 mm.
const STILL_MM: f64 = 0.01;

/// What an earlier layout and its edits ask of this one.
#[derive(Debug, Clone, PartialEq)]
pub struct Edits {
    /// Ids and places of all posts of the earlier layout that still stand.
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

/// A post of the earlier layout as its record tells it.
struct Written<'a> {
    record: &'a Ours,
    origin: &'a str,
    at: Point,
}

/// Reads the edits; moved and added posts come as drawn posts.
pub fn edits(drawing: &Drawing, findings: &mut Vec<Finding>) -> (Edits, Vec<DrawnPost>) {
    let shift = common_shift(&drawing.ours);
    let mut edits = Edits::none();
    let mut kept = Vec::new();
    let mut standing = BTreeSet::new();
    // The one that stands where it was written is the original; others with its id are copies.
    let mut posts: Vec<Written<'_>> = drawing.ours.iter().filter_map(written).collect();
    posts.sort_by(|a, b| distance(a.record.at, a.at + shift).total_cmp(&distance(b.record.at, b.at + shift)));
    for post in &posts {
        let first = standing.insert(post.record.id.as_str());
        let moved = distance(post.record.at, post.at + shift) > STILL_MM;
        let place = place(post.record);
        if !first {
            findings.push(Finding::note(
                Code::EditObeyed,
                place.clone(),
                "this post was added; it is kept like a drawn one",
            ));
        } else if moved {
            let message = format!("post {} was moved; it is kept where it stands", post.record.id);
            findings.push(Finding::note(Code::EditObeyed, place.clone(), message));
        }
        if first {
            edits.posts.push((post.record.id.clone(), post.record.at));
        }
        if !first || moved || post.origin == "kept" {
            kept.push(kept_post(post.record, place));
        }
    }
    for record in drawing.ours.iter().filter(|o| o.insert && o.kind == "post" && o.id.is_empty()) {
        let place = place(record);
        findings.push(Finding::note(
            Code::EditObeyed,
            place.clone(),
            "a post of ours was placed here anew; it is kept like a drawn one",
        ));
        kept.push(kept_post(record, place));
    }
    spans(drawing, shift, &standing, &mut edits, findings);
    (edits, kept)
}

fn kept_post(record: &Ours, place: Place) -> DrawnPost {
    DrawnPost {
        at: record.at,
        side_mm: None,
        rotation: Some(record.rotation.folded(Angle::from_degrees(90.0))),
        place,
        kept: true,
    }
}

/// A drawing that was moved as a whole moved its posts by one vector; that is no edit of a post.
fn common_shift(ours: &[Ours]) -> Point {
    let mut shifts = ours.iter().filter_map(written).map(|p| p.record.at - p.at);
    let zero = Point { x: 0.0, y: 0.0 };
    let (Some(first), Some(second)) = (shifts.next(), shifts.next()) else { return zero };
    let same = |s: Point| distance(s, first) <= STILL_MM;
    if same(second) && shifts.all(same) { first } else { zero }
}

fn written(record: &Ours) -> Option<Written<'_>> {
    match record.facts.as_slice() {
        [Fact::Text(origin), Fact::At(at), ..] if record.insert && record.kind == "post" => {
            Some(Written { record, origin, at: *at })
        }
        _ => None,
    }
}

/// What the panels' records tell: erased posts, spans whose tag was erased, spans that stay open from before.
fn spans(drawing: &Drawing, shift: Point, standing: &BTreeSet<&str>, edits: &mut Edits, findings: &mut Vec<Finding>) {
    let tags: BTreeSet<&str> = drawing.ours.iter().filter(|o| o.kind == "tag").map(|o| o.id.as_str()).collect();
    let mut missing: BTreeMap<&str, Point> = BTreeMap::new();
    for record in &drawing.ours {
        match (record.kind.as_str(), record.facts.as_slice()) {
            ("panel", [Fact::At(left), Fact::At(right), rest @ ..]) => {
                let (left, right) = (*left + shift, *right + shift);
                edits.panels.push((record.id.clone(), (left + right) / 2.0));
                if !tags.contains(record.id.as_str()) {
                    let message = format!("the tag of {} was erased: this span is left open", record.id);
                    findings.push(Finding::warning(
                        Code::EditObeyed,
                        place(record).with_point((left + right) / 2.0),
                        message,
                    ));
                    edits.open.push((record.id.clone(), left, right));
                }
                for pair in rest.chunks(2) {
                    let [Fact::Text(id), Fact::At(at)] = pair else { continue };
                    match id.strip_prefix("erased ") {
                        Some(id) => edits.erased.push((id.to_owned(), *at + shift)),
                        None if !standing.contains(id.as_str()) => drop(missing.insert(id, *at + shift)),
                        None => {}
                    }
                }
            }
            ("open", [Fact::At(left), Fact::At(right), ..]) => {
                edits.open.push((record.id.clone(), *left + shift, *right + shift));
            }
            _ => {}
        }
    }
    edits.erased.extend(missing.into_iter().map(|(id, at)| (id.to_owned(), at)));
}

fn place(record: &Ours) -> Place {
    Place { at: Some(record.at), handle: record.origin.handle, line: record.origin.line, ..Place::default() }
}
