//! An earlier layout whose marks are lost: many programs write no XDATA when they save a drawing. What is left is known
//! by its layer, kind, block and text, and is matched with what the earlier layout was.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::plane::distance;
use crate::base::{Angle, Code, Finding, Length, Near, Place, Point};
use crate::cad::{Drawing, Entity, Origin, Shape, is_post_name, is_tag_name};
use crate::catalog::{Claim, Layer};

use super::before::LostLayout;
use super::earlier::{Earlier, SetBy};
use super::edits::{Standing, Stands};
use super::model::DrawnPost;
use super::posts;
use super::roles::Roles;

/// What programs that save a drawing round off: 1 mm at most, much less than any edit.
const STILL_MM: f64 = 1.0;

/// A post that stands no farther than this from where one is missing was moved: 8 ft, the longest of usual panels.
const MOVED_MM: f64 = 2438.4;

/// So many posts are tried when it is looked for how far a drawing was moved as a whole.
const TRIED: usize = 400;

/// A frame lies no farther than this from its tag's text: 1 m.
const FRAME_MM: f64 = 1000.0;

/// More things than this lie near no post or tag of a real layout.
const MOST_NEAR: usize = 64;

/// What is left of an earlier layout without its marks, beside what carries them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Unmarked {
    /// All posts, also those that carry marks.
    posts: Vec<DrawnPost>,
    /// Those that carry marks, with their ids.
    marked: Vec<(Point, String)>,
    is_part: bool,
    /// Ids of tags, by their texts, with their places.
    tags: Vec<(String, Point)>,
    /// Middles of the frames round tags.
    frames: Vec<Point>,
    /// INSERTs of bound drawings of ours.
    bound: BTreeSet<usize>,
    /// Whether a tag without marks is among them.
    has_own_tags: bool,
    /// Our layers with things of our kinds on them, without marks.
    lines: BTreeSet<Layer>,
    /// These things.
    alike: Vec<(Origin, Place)>,
    is_layout: bool,
    /// What is ours beyond doubt although it may stand on a layer of the user's.
    pub take: Vec<Origin>,
    /// What the user has put on our layers.
    pub guests: Vec<Origin>,
    /// The first of them, and its layer.
    guest: Option<Place>,
    /// What stands on the layer of posts, but has no post's size.
    sizeless: Option<Place>,
}

/// What stands on our layers, or is ours by its block's name, and carries no marks.
pub fn unmarked(drawing: &Drawing, roles: &Roles, join: Length) -> Unmarked {
    let mut left = Unmarked::default();
    for ours in drawing.ours.iter().filter(|ours| !ours.id.is_empty()) {
        left.is_part = true;
        match ours.kind.as_str() {
            "post" if ours.insert => left.marked.push((ours.at, ours.id.clone())),
            "tag" => left.tags.push((ours.id.clone(), ours.at)),
            "frame" if ours.insert => left.frames.push(ours.at),
            _ => {}
        }
    }
    left.bound = bound(drawing, roles);
    let on_layers = |entity: &&Entity| !entity.layer.contains('|') && roles.own().of(&entity.layer).is_some();
    let texts: Vec<(Origin, Place)> =
        drawing.entities.iter().filter(on_layers).filter_map(|entity| left.add(entity, drawing, roles)).collect();
    let is_own_post = |layer: &str| !layer.contains('|') && roles.own().of(layer) == Some((Layer::Post, Claim::Ours));
    let is_square = |e: &&Entity| is_own_post(&e.layer) && matches!(e.shape, Shape::Path { .. });
    let squares: Vec<&Entity> = drawing.entities.iter().filter(is_square).collect();
    let mut refused = Vec::new();
    left.posts = posts::posts(&squares, drawing, &is_own_post, join, &mut refused);
    left.posts.retain(|post| post.side_mm.is_some());
    left.sizeless = refused.into_iter().next().map(|finding| finding.place);
    left.add_blocks(drawing);
    left.settle(texts);
    left.is_layout = left.looks_like_rails(drawing, roles);
    if left.is_part && !left.is_layout {
        for (origin, place) in std::mem::take(&mut left.alike) {
            left.host(origin, place);
        }
    }
    left
}

const fn is_core(layer: Layer) -> bool {
    matches!(layer, Layer::Post | Layer::Panel | Layer::Line)
}

/// Placed blocks that hold rails of ours and nothing else that is read: a drawing of ours that was attached and then bound.
fn bound(drawing: &Drawing, roles: &Roles) -> BTreeSet<usize> {
    let mut blocks: BTreeMap<usize, (bool, BTreeSet<Layer>)> = BTreeMap::new();
    for entity in &drawing.entities {
        let Some(top) = outermost(drawing, entity.insert) else { continue };
        let (is_ours, core) = blocks.entry(top).or_insert((true, BTreeSet::new()));
        match roles.own().of(&entity.layer).filter(|_| !entity.layer.contains('|')) {
            Some((layer, Claim::Ours)) => core.extend(Some(layer).filter(|layer| is_core(*layer))),
            _ => *is_ours = false,
        }
    }
    blocks.into_iter().filter(|(_, (is_ours, core))| *is_ours && core.len() > 1).map(|(top, _)| top).collect()
}

impl Unmarked {
    /// Whether rails of ours are among it.
    pub const fn is_layout(&self) -> bool {
        self.is_layout
    }

    /// Whether other rails of ours still carry their marks.
    pub const fn is_part(&self) -> bool {
        self.is_part
    }

    /// Whether it is rails, and nothing that a user draws.
    fn looks_like_rails(&self, drawing: &Drawing, roles: &Roles) -> bool {
        if !self.bound.is_empty() {
            return true;
        }
        if self.is_part {
            return self.has_own_tags && self.lines.iter().filter(|layer| is_core(**layer)).count() > 1;
        }
        let ours = |name: &str| !name.contains('|') && roles.own().is_ours(name);
        let used = drawing.layers.iter().filter(|l| !l.counts.is_empty() && ours(&l.name));
        let core: BTreeSet<Layer> =
            used.filter_map(|l| roles.own().of(&l.name)).map(|(layer, _)| layer).filter(|l| is_core(*l)).collect();
        let is_sure = !(self.posts.is_empty() && self.tags.is_empty() && self.sizeless.is_none());
        // Layers of our names alone may be the user's: something on them must be what nobody else draws.
        !self.take.is_empty() || core.len() > 1 && is_sure
    }

    /// Notes an entity; gives a text of which it is not clear yet whose it is.
    fn add(&mut self, entity: &Entity, drawing: &Drawing, roles: &Roles) -> Option<(Origin, Place)> {
        let (layer, claim) = roles.own().of(&entity.layer)?;
        let top = outermost(drawing, entity.insert);
        let insert = |i: Option<usize>| drawing.inserts.get(i?);
        let origin = insert(top).map_or(entity.origin, |insert| insert.origin);
        let is_bound = top.is_some_and(|top| self.bound.contains(&top));
        // What a bound drawing holds counts as if it stood in model space.
        let block = insert(top.filter(|_| !is_bound));
        let is_ours = match (&entity.shape, block) {
            (_, Some(block)) => {
                is_post_name(block.block.as_bytes()) || is_tag_name(&block.block) || top != entity.insert
            }
            (Shape::Text { at, content }, None) => {
                let content = content.trim();
                if let Some(id) = panel_id(content) {
                    self.tags.push((id.to_owned(), *at));
                    self.has_own_tags = true;
                }
                // Of the lengths and numbers on a layer of the user's, nobody can say whose they are.
                is_our_text(layer, content) && (claim == Claim::Ours || layer == Layer::Text)
            }
            (Shape::Point(_), None) => false,
            _ => claim == Claim::Ours,
        };
        if is_bound && self.take.last() != Some(&origin) {
            self.take.push(origin);
        }
        if is_bound {
            return None;
        }
        let place = match &entity.shape {
            Shape::Point(at) | Shape::Text { at, .. } => entity.place(*at),
            _ => block.map_or_else(Place::none, |b| entity.place(b.at)),
        };
        match (is_ours, claim) {
            (true, Claim::Shared) => self.take.push(origin),
            (false, Claim::Shared) => {}
            (true, Claim::Ours) if block.is_none() => {
                self.lines.insert(layer);
                self.alike.push((origin, place));
            }
            (true, Claim::Ours) => {}
            (false, Claim::Ours) if block.is_none() && matches!(entity.shape, Shape::Text { .. }) => {
                return Some((origin, place));
            }
            (false, Claim::Ours) => self.host(origin, place),
        }
        None
    }

    /// What stays, as it is the user's.
    fn host(&mut self, origin: Origin, place: Place) {
        self.guest.get_or_insert(place);
        // Of a block each of its parts comes here.
        if self.guests.last() != Some(&origin) {
            self.guests.push(origin);
        }
    }

    /// Programs that explode blocks make texts of their hidden attributes, each at its tag or post. Any other text is the
    /// user's.
    fn settle(&mut self, texts: Vec<(Origin, Place)>) {
        let known = self.tags.iter().map(|(_, at)| *at).chain(self.posts.iter().map(|post| post.at));
        let known = Near::from(known.collect::<Vec<Point>>());
        for (origin, place) in texts {
            let is_attribute =
                |at: Point| known.around([at], STILL_MM).any(|(_, other)| distance(*other, at) <= STILL_MM);
            if !place.at.is_some_and(is_attribute) {
                self.host(origin, place);
            }
        }
    }

    /// Our blocks, on whatever layer they stand.
    fn add_blocks(&mut self, drawing: &Drawing) {
        let known = Near::from(self.posts.iter().map(|p| p.at).collect::<Vec<Point>>());
        let is_new = |at: Point| known.around([at], STILL_MM).all(|(_, p)| distance(*p, at) > STILL_MM);
        for ours in drawing.ours.iter().filter(|o| o.insert && o.kind == "post") {
            if ours.id.is_empty() {
                self.take.push(ours.origin);
            }
            if is_new(ours.at) {
                let origin = ours.origin;
                let place = Place { at: Some(ours.at), handle: origin.handle, line: origin.line, ..Place::none() };
                let rotation = Some(ours.rotation);
                self.posts.push(DrawnPost { at: ours.at, side_mm: None, rotation, place, kept: true });
            }
        }
        for insert in drawing.inserts.iter().filter(|i| is_tag_name(&i.block) && !i.layer.contains('|')) {
            self.frames.push(insert.at);
            if insert.parent.is_none() {
                self.has_own_tags = true;
                self.take.push(insert.origin);
            }
        }
    }

    /// Where something stands on the layer of posts that is too small or too large for one, when nothing there is one: the
    /// drawing was scaled, or its unit was changed.
    pub const fn scaled(&self) -> Option<&Place> {
        if self.posts.is_empty() { self.sizeless.as_ref() } else { None }
    }

    /// What stands of the layout that was there before, in which each post has the id of the nearest one.
    pub fn stands(&self, earlier: &Earlier) -> (Stands, Earlier) {
        let earlier = earlier.clone().moved(shift(earlier, &self.posts));
        let ids = matched(&earlier, &self.posts, &self.marked);
        let posts = self.posts.iter().zip(ids).map(|(post, id)| Standing {
            id,
            at: post.at,
            rotation: post.rotation.unwrap_or(Angle::ZERO),
            place: post.place.clone(),
        });
        let mut posts: Vec<Standing> = posts.collect();
        // Nobody erases them all: the program has kept no blocks.
        if posts.is_empty() {
            let planned = earlier.posts.iter().filter(|post| post.set_by == SetBy::Planner);
            posts.extend(planned.map(|post| Standing {
                id: Some(post.id.clone()),
                at: post.at,
                rotation: Angle::ZERO,
                place: Place::none(),
            }));
        }
        (Stands { posts, tags: self.whole_tags(), still_mm: STILL_MM }, earlier)
    }

    /// How many posts stand where those of an earlier layout stood.
    pub fn fits(&self, earlier: &Earlier) -> usize {
        let by = shift(earlier, &self.posts);
        let places = Near::from(self.posts.iter().map(|p| p.at).collect::<Vec<Point>>());
        let stands = |at: Point| places.around([at], STILL_MM).any(|(_, p)| distance(*p, at) <= STILL_MM);
        earlier.posts.iter().filter(|post| stands(post.at + by)).count()
    }

    /// Tags with their frames, where the program has kept frames; `None` where it has kept no texts.
    fn whole_tags(&self) -> Option<BTreeSet<String>> {
        if self.tags.is_empty() {
            return None;
        }
        let near = Near::from(self.frames.clone());
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for (t, (_, at)) in self.tags.iter().enumerate() {
            let frames = near.around([*at], FRAME_MM).take(MOST_NEAR);
            pairs.extend(frames.map(|(f, middle)| (distance(*at, *middle), t, f)));
        }
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut texts, mut frames) = (BTreeSet::new(), BTreeSet::new());
        for (_, t, f) in pairs {
            if !texts.contains(&t) && !frames.contains(&f) {
                texts.insert(t);
                frames.insert(f);
            }
        }
        let has_frame = |t: usize| self.frames.is_empty() || texts.contains(&t);
        Some(self.tags.iter().enumerate().filter(|(t, _)| has_frame(*t)).map(|(_, (id, _))| id.clone()).collect())
    }

    /// What is told of it: that the marks are lost, what was made of what is left, and what is the user's own.
    pub fn told(&self, stands: &Stands, earlier: &Earlier, known: &LostLayout) -> Vec<Finding> {
        let lost = match (self.bound.is_empty(), self.is_part) {
            (false, _) => "a drawing of our rails was attached to this one and then bound",
            (true, true) => "some rails in this drawing carry our marks and others do not, as if two sets were in it",
            (true, false) => "the program that saved this drawing dropped our marks",
        };
        let still: BTreeMap<&str, Point> = earlier.posts.iter().map(|p| (p.id.as_str(), p.at)).collect();
        let is_still = |p: &&Standing| {
            p.id.as_ref().and_then(|id| still.get(id.as_str())).is_some_and(|at| distance(*at, p.at) <= STILL_MM)
        };
        let unmoved = stands.posts.iter().filter(is_still).count();
        let mut message = format!(
            "{lost}: an earlier rail layout stands in it, of {} posts; \
             by {}, {unmoved} of them stand where they were written",
            self.posts.len(),
            known.source
        );
        if self.posts.is_empty() {
            message.push_str("; no post is left of it, so edits of posts are not known");
        }
        if self.tags.is_empty() {
            message.push_str("; no text of a tag is left of it, so it is not known whether one was erased");
        }
        let finding = if known.confirmed {
            Finding::note(Code::MarksLost, Place::none(), message + "; it is taken out and laid out anew")
        } else {
            Finding::incomplete(Code::MarksLost, Place::none(), message).hint(
                "see what is told of its posts and tags; if it is right, run again with --replace-rails, which takes the \
                 old rails out and puts the new ones in",
            )
        };
        std::iter::once(finding).chain(self.guests_told()).collect()
    }

    /// What is told of what is the user's.
    pub fn guests_told(&self) -> Option<Finding> {
        self.guest.as_ref().map(|place| {
            let layer = place.layer.as_deref().unwrap_or_default();
            let message = match self.guests.len() {
                1 => format!("what stands here on layer {layer} is none of our rails; it stays"),
                n => format!(
                    "{n} things on our layers are none of our rails, the first here on layer {layer}; they stay"
                ),
            };
            Finding::warning(Code::LayerShared, place.clone(), message)
        })
    }
}

/// The INSERT in model space that something came from.
fn outermost(drawing: &Drawing, insert: Option<usize>) -> Option<usize> {
    let parent = |i: usize| drawing.inserts.get(i).and_then(|insert| insert.parent);
    let mut at = insert?;
    while let Some(up) = parent(at) {
        at = up;
    }
    Some(at)
}

/// The id that a tag shows: `S4`, or `S4 open` where a span stays open.
fn panel_id(content: &str) -> Option<&str> {
    let id = content.strip_suffix(" open").unwrap_or(content);
    is_id(id, 'S').then_some(id)
}

fn is_id(text: &str, letter: char) -> bool {
    text.strip_prefix(letter).is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
}

/// Whether a text is one that we write on a layer: ids and what a flight is, lengths, numbers of findings.
fn is_our_text(layer: Layer, content: &str) -> bool {
    let is_flight = || content.split_once(" DN ").is_some_and(|(id, _)| is_id(id, 'F'));
    match layer {
        Layer::Text => ['P', 'S', 'H'].iter().any(|l| is_id(content, *l)) || panel_id(content).is_some() || is_flight(),
        Layer::Dims => !content.is_empty() && content.chars().all(|c| c.is_ascii_digit() || " .,/'\"-inmc".contains(c)),
        Layer::Note => content.split('+').all(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit())),
        Layer::Line | Layer::Panel | Layer::Post => false,
        _ => true,
    }
}

/// How far the drawing was moved as a whole: so that most posts stand where they were.
fn shift(earlier: &Earlier, posts: &[DrawnPost]) -> Point {
    let places = Near::from(posts.iter().map(|p| p.at).collect::<Vec<Point>>());
    let stands = |at: Point| places.around([at], STILL_MM).any(|(_, p)| distance(*p, at) <= STILL_MM);
    let there = |by: Point| earlier.posts.iter().take(5 * TRIED).filter(|p| stands(p.at + by)).count();
    let zero = Point { x: 0.0, y: 0.0 };
    let firsts = earlier.posts.iter().take(3);
    let all = firsts.flat_map(|first| posts.iter().take(TRIED).map(move |post| post.at - first.at));
    let tried = all.map(|by| (there(by), by)).filter(|(count, _)| *count > 1);
    let best = tried.max_by(|a, b| a.0.cmp(&b.0));
    best.filter(|(count, _)| *count > there(zero)).map_or(zero, |(_, by)| by)
}

/// By post: the id of the earlier post that it is. One with marks has its own, one that stands at its place is that one; of
/// what is left, the nearest.
fn matched(earlier: &Earlier, posts: &[DrawnPost], marked: &[(Point, String)]) -> Vec<Option<String>> {
    let with_marks = Near::from(marked.iter().map(|(at, _)| *at).collect::<Vec<Point>>());
    let by_id: BTreeMap<&str, usize> = earlier.posts.iter().enumerate().map(|(k, p)| (p.id.as_str(), k)).collect();
    let mark_at = |at: Point| {
        let (n, _) = with_marks.around([at], STILL_MM).find(|(_, m)| distance(**m, at) <= STILL_MM)?;
        by_id.get(marked.get(n)?.1.as_str()).copied()
    };
    let places = Near::from(earlier.posts.iter().map(|p| p.at).collect::<Vec<Point>>());
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (i, post) in posts.iter().enumerate() {
        pairs.extend(mark_at(post.at).map(|k| (-1.0, i, k)));
        let near = places.around([post.at], MOVED_MM).map(|(k, at)| (distance(*at, post.at), i, k));
        pairs.extend(near.filter(|(d, ..)| *d <= MOVED_MM).take(MOST_NEAR));
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut ids: Vec<Option<String>> = vec![None; posts.len()];
    let mut used = BTreeSet::new();
    for (_, i, k) in pairs {
        if let (Some(free), Some(post)) = (ids.get_mut(i).filter(|id| id.is_none()), earlier.posts.get(k))
            && used.insert(k)
        {
            *free = Some(post.id.clone());
        }
    }
    ids
}
