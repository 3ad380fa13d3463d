//! What an earlier run of ours left in the drawing: each record of ours with the facts that it carries, so that the
//! user's edits of it can be told and obeyed.
//!
//! The facts stand in XDATA of our application: kind, id, format version, then texts (1000) and points (1010, in
//! drawing units, which CAD programs leave alone when the entity is moved).

use super::index::{Index, Kind, Record, SectionKind};
use super::scan::OUR_APPLICATION;
use super::tag::{Source, Tag};
use super::{Origin, text};
use crate::base::plane::point;
use crate::base::{Angle, Frame, Point, Unit};

/// How the names of our post blocks begin.
const POST_BLOCK: &str = "RAIL-POST-";

/// How the names of the blocks of frames round tags begin.
const TAG_BLOCK: &str = "RAIL-TAG";

/// One fact that a record of ours carries.
#[derive(Debug, Clone, PartialEq)]
pub enum Fact {
    /// A word: an id, an origin.
    Text(String),
    /// A place, in local mm, as it was when the record was written.
    At(Point),
}

impl Fact {
    /// The same with its place moved by `to`.
    pub fn placed(&self, to: impl Fn(Point) -> Point) -> Self {
        match self {
            Self::Text(text) => Self::Text(text.clone()),
            Self::At(at) => Self::At(to(*at)),
        }
    }
}

/// One record of ours in model space.
#[derive(Debug, Clone, PartialEq)]
pub struct Ours {
    /// Whether it is a placed block.
    pub insert: bool,
    /// Kind of object that it shows: `post`, `panel`, `tag`, `open` ...
    pub kind: String,
    /// Id of the object.
    pub id: String,
    /// What else it carries.
    pub facts: Vec<Fact>,
    /// Where it stands now: insertion point or first point, in local mm.
    pub at: Point,
    /// Its turn now.
    pub rotation: Angle,
    /// Where it stands in the file.
    pub origin: Origin,
    /// Its layer.
    pub layer: String,
    /// The block that it places; empty for what is no block.
    pub block: String,
}

/// Reads the records of ours in model space.
pub fn read(index: &Index, bytes: &[u8], frame: &Frame) -> Vec<Ours> {
    let source = Source { bytes, form: index.form };
    let records = index.section_records(SectionKind::Entities);
    let is_own = |record: &&Record| record.ours || is_post_block(index, record);
    let own = |r: usize| index.records.get(r).filter(is_own).filter(|record| !record.paper && !record.is_part());
    records.filter_map(|r| own(r).and_then(|record| one(index, source, r, record, frame))).collect()
}

/// A post block of ours that the user placed anew: it carries no XDATA, and its name is what tells it.
fn is_post_block(index: &Index, record: &Record) -> bool {
    record.kind == Kind::Insert && is_post_name(index.name(record.name).as_bytes())
}

/// Whether a block of this name is one of our posts, as other programs may write it.
pub fn is_post_name(name: &[u8]) -> bool {
    std::str::from_utf8(name).is_ok_and(|name| plain(name).starts_with(POST_BLOCK))
}

/// Whether a block of this name is the frame of a tag.
pub fn is_tag_name(name: &str) -> bool {
    plain(name).starts_with(TAG_BLOCK)
}

/// The unit that the name of a post's block says: `RAIL-POST-127MM`, `RAIL-POST-5IN`.
pub fn unit_of_post(name: &str) -> Option<Unit> {
    let size = plain(name).strip_prefix(POST_BLOCK)?.to_lowercase();
    Unit::from_sign(size.trim_start_matches(|c: char| c.is_ascii_digit() || ".-".contains(c)).split('-').next()?)
}

fn plain(name: &str) -> String {
    text::own_name(name).to_uppercase().replace('_', "-")
}

fn one(index: &Index, source: Source<'_>, at: usize, record: &Record, frame: &Frame) -> Option<Ours> {
    let (mut x, mut y) = (None, None);
    let mut rotation = 0.0;
    let mut texts = Vec::new();
    let mut facts = Vec::new();
    let mut in_ours = false;
    let word = |tag: &Tag| text::decode(source.trimmed(tag), index.encoding).into_owned();
    for tag in source.tags(index.range(at), record.line) {
        let tag = tag.ok()?;
        let number = || source.float(&tag).filter(|v| v.is_finite()).unwrap_or(0.0);
        match tag.code {
            10 => x = x.or(Some(number())),
            20 => y = y.or(Some(number())),
            50 if record.kind == Kind::Insert => rotation = number(),
            1001 => in_ours = source.trimmed(&tag) == OUR_APPLICATION.as_bytes(),
            1000 if in_ours && texts.len() < 2 => texts.push(word(&tag)),
            1000 if in_ours => facts.push(Fact::Text(word(&tag))),
            1010 if in_ours => facts.push(Fact::At(point(number(), 0.0))),
            1020 if in_ours => {
                if let Some(Fact::At(p)) = facts.last_mut() {
                    p.y = number();
                }
            }
            _ => {}
        }
    }
    let facts = facts.iter().map(|f: &Fact| f.placed(|p| frame.to_local(p))).collect();
    let mut texts = texts.into_iter();
    Some(Ours {
        insert: record.kind == Kind::Insert,
        kind: texts.next().or_else(|| (!record.ours).then(|| "post".to_owned()))?,
        id: texts.next().or_else(|| (!record.ours).then(String::new))?,
        facts,
        at: frame.to_local(point(x.unwrap_or(0.0), y.unwrap_or(0.0))),
        rotation: Angle::from_degrees(rotation),
        origin: record.origin(),
        layer: index.layer(record).map_or_else(String::new, |layer| layer.name.clone()),
        block: if record.kind == Kind::Insert { index.name(record.name).to_owned() } else { String::new() },
    })
}
