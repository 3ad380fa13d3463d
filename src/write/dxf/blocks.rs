//! Posts and panel tags as blocks, with attributes that a CAD program can extract into a list.

use std::collections::BTreeSet;

use super::entity::{self, Common, Lettering, Reference};
use super::records::{CENTRED, Spot, Writer, free, symbol};
use super::tables::BlockKind;
use super::{Placed, Tags};
use crate::base::{Angle, Point, decimal};
use crate::cad::{Fact, MARKS_BLOCK, mark_texts, unit_text};
use crate::sheet::{Align, Anchor, PostMark, TagMark, VAlign};

/// Height of the texts that say the marks, where somebody places their block, full-scale mm.
const MARKS_MM: f64 = 25.0;

/// Attributes of a tag.
const TAG_ATTRIBUTES: [&str; 3] = ["ID", "SPAN", "KIT"];

impl Writer<'_> {
    pub(super) fn post(&mut self, tags: &mut Tags<'_>, common: &Common<'_>, spot: &Spot<'_>, post: &PostMark) {
        let block = self.post_block(post.side);
        let (style, _) = self.style(false);
        let at = spot.at(post.at);
        let spec = Lettering { at, content: &post.id, ..self.post_lettering(post.side, &style) };
        let attributes = [("ID", spec), ("KIND", Lettering { content: post.kind, ..spec })];
        let reference = Reference { block: &block, at, rotation: post.rotation, attributes: &attributes };
        entity::insert(tags, self.handles, common, &reference);
    }

    /// The marks of all objects once more, as texts in a block that is placed nowhere.
    pub(super) fn marks_as_text(&mut self, drawings: &[Placed<'_>]) {
        let mut known = BTreeSet::new();
        let mut texts = Vec::new();
        for placed in drawings {
            let spot = Spot::in_model(placed, *self.frame, self.ties.model_space);
            let objects = placed.drawing.items.iter().filter_map(|item| item.object.as_ref());
            for object in objects.filter(|object| !object.facts.is_empty()) {
                if known.insert((object.kind, object.id.as_str())) {
                    let facts: Vec<Fact> = object.facts.iter().map(|f| f.placed(|p| spot.at(p))).collect();
                    texts.extend(mark_texts(object.kind, &object.id, &facts));
                }
            }
        }
        if texts.is_empty() {
            return;
        }
        texts.insert(0, unit_text(self.frame.unit));
        let name = free(&self.ties.taken.blocks, MARKS_BLOCK);
        let (style, _) = self.style(false);
        let height = self.size(MARKS_MM);
        self.block((&name, BlockKind::Plain), "0", self.frame.unit, |tags, handles, common| {
            for (row, content) in texts.iter().enumerate() {
                let at = Point { x: 0.0, y: -1.5 * height * row as f64 };
                let anchor = Anchor { align: Align::Left, valign: VAlign::Base };
                let spec = Lettering { at, height, rotation: Angle::ZERO, anchor, content, style: &style };
                entity::lettering(tags, handles, common, &spec);
            }
        });
    }

    fn post_lettering<'s>(&self, side: f64, style: &'s str) -> Lettering<'s> {
        let height = self.size(side) / 4.0;
        let at = Point::default();
        Lettering { at, height, rotation: Angle::ZERO, anchor: CENTRED, content: "", style }
    }

    /// Name of the block of posts of this side; the block is written at its first use.
    fn post_block(&mut self, side: f64) -> String {
        let unit = self.frame.unit;
        let name = symbol(&format!("RAIL-POST-{}{}", decimal(self.size(side), 4), unit.sign().to_uppercase()));
        let name = free(&self.ties.taken.blocks, &name);
        if !self.blocks.insert(name.clone()) {
            return name;
        }
        let (style, _) = self.style(false);
        let spec = self.post_lettering(side, &style);
        let half = self.size(side) / 2.0;
        let square = [(-half, -half), (half, -half), (half, half), (-half, half)].map(Point::from);
        self.block((&name, BlockKind::WithAttributes), "0", unit, |tags, handles, common| {
            entity::path(tags, handles, common, &square, true);
            entity::attribute_definition(tags, handles, common, "ID", &spec);
            entity::attribute_definition(tags, handles, common, "KIND", &spec);
        });
        name
    }

    /// The frame of a tag. Its text is written as a TEXT, as LibreCAD draws no attributes.
    pub(super) fn tag(&mut self, tags: &mut Tags<'_>, common: &Common<'_>, spot: &Spot<'_>, tag: &TagMark) {
        let (style, _) = self.style(false);
        let (low, high) = (spot.at(tag.low), spot.at(tag.high));
        let (at, size) = ((low + high) / 2.0, tag.high - tag.low);
        let block = self.tag_block(size, &style);
        let spec = tag_lettering(at, self.size(size.y), &style);
        let attributes: Vec<(&str, Lettering<'_>)> = TAG_ATTRIBUTES
            .iter()
            .zip([&tag.id, &tag.span, &tag.kit])
            .map(|(name, content)| (*name, Lettering { content, ..spec }))
            .collect();
        let reference = Reference { block: &block, at, rotation: Angle::ZERO, attributes: &attributes };
        entity::insert(tags, self.handles, common, &reference);
    }

    /// Name of the block of frames of this size; the block is written at its first use. One block for all, stretched by each
    /// tag, Inkscape would put elsewhere.
    fn tag_block(&mut self, size: Point, style: &str) -> String {
        let unit = self.frame.unit;
        let (wide, high) = (self.size(size.x), self.size(size.y));
        let sides = format!("{}X{}", decimal(wide, 4), decimal(high, 4));
        let name = symbol(&format!("RAIL-TAG-{sides}{}", unit.sign().to_uppercase()));
        let name = free(&self.ties.taken.blocks, &name);
        if self.blocks.insert(name.clone()) {
            let (x, y) = (wide / 2.0, high / 2.0);
            let frame = [(-x, -y), (x, -y), (x, y), (-x, y)].map(Point::from);
            let spec = tag_lettering(Point::default(), high, style);
            self.block((&name, BlockKind::WithAttributes), "0", unit, |tags, handles, common| {
                entity::path(tags, handles, common, &frame, true);
                for name in TAG_ATTRIBUTES {
                    entity::attribute_definition(tags, handles, common, name, &spec);
                }
            });
        }
        name
    }
}

/// Attributes of a tag that is so high.
fn tag_lettering(at: Point, high: f64, style: &str) -> Lettering<'_> {
    Lettering { at, height: high / 2.0, rotation: Angle::ZERO, anchor: CENTRED, content: "", style }
}
