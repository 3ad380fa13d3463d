//! Block references resolved: what stands in model space after every INSERT is expanded, in drawing units.

use std::collections::{BTreeMap, BTreeSet};

use super::affine::Affine;
use super::curve::Ellipse;
use super::index::{Index, Record};
use super::reduce::about;
use super::report::Report;
use super::select::Selection;
use super::typed::{Placement, Raw};
use super::{Entity, Insert, LayerState, Shape, Vertex, text};
use crate::base::plane::{self, distance, point};
use crate::base::{Code, Finding, Place, Point, Severity};

/// Deepest nesting of blocks; drawings of real work stay under ten, and each level costs stack.
pub const DEEPEST: usize = 32;

/// Most entities and placed blocks after expansion: some ten times the largest plans, within a few hundred megabytes.
pub const MOST_EXPANDED: usize = 2_000_000;

/// Geometry of one selected record.
#[derive(Debug)]
pub struct Item {
    /// Record.
    pub record: usize,
    /// Geometry.
    pub raw: Raw,
}

/// What is to be expanded, and how.
#[derive(Debug)]
pub struct Scene<'a> {
    /// The file.
    pub index: &'a Index,
    /// What was selected.
    pub selection: &'a Selection,
    /// Model space.
    pub model: Vec<Item>,
    /// Blocks.
    pub blocks: BTreeMap<usize, Vec<Item>>,
    /// Largest coordinate, in drawing units.
    pub limit: f64,
    /// Largest error of sampled curves, in drawing units.
    pub tolerance: f64,
}

/// What stands in model space, in drawing units.
#[derive(Debug, Default)]
pub struct Resolved {
    /// Entities on wanted layers.
    pub entities: Vec<Entity>,
    /// Placed blocks.
    pub inserts: Vec<Insert>,
    /// Layers whose wanted entities were left out or are not plotted, with the number of them.
    pub by_layer: BTreeMap<u32, usize>,
}

/// Expands all of it.
pub fn resolve(scene: &Scene<'_>, report: &mut Report) -> Resolved {
    let mut expander =
        Expander { scene, report, out: Resolved::default(), stack: Vec::new(), spent: 0, told: BTreeSet::new() };
    let top = Level { map: Affine::IDENTITY, layer: None, insert: None };
    expander.items(&scene.model, &top);
    expander.out
}

/// Where in the nesting an item stands.
struct Level {
    map: Affine,
    /// Layer that layer `0` stands for; `None` in model space.
    layer: Option<u32>,
    insert: Option<usize>,
}

/// A block reference about to be expanded.
struct Placing<'a> {
    record: &'a Record,
    placement: &'a Placement,
    layer: u32,
    items: &'a [Item],
}

struct Expander<'a, 'b> {
    scene: &'a Scene<'a>,
    report: &'b mut Report,
    out: Resolved,
    /// Blocks that are open, from the outside in.
    stack: Vec<usize>,
    spent: usize,
    /// Records about which something was said: a block's record is met as often as the block is placed.
    told: BTreeSet<(Code, usize)>,
}

impl Expander<'_, '_> {
    fn items(&mut self, items: &[Item], level: &Level) {
        for item in items {
            let Some(record) = self.scene.index.records.get(item.record) else { continue };
            if self.spent >= MOST_EXPANDED {
                return;
            }
            let layer = level.layer.filter(|_| self.scene.selection.is_zero(record.layer)).unwrap_or(record.layer);
            match &item.raw {
                Raw::Insert(placement) => self.insert(item.record, record, placement, layer, level),
                raw if self.scene.selection.is_wanted(layer) => self.entity(item.record, record, raw, layer, level),
                _ => {}
            }
        }
    }

    fn state(&self, layer: u32) -> LayerState {
        let found = usize::try_from(layer).ok().and_then(|n| self.scene.index.layers.get(n));
        found.map_or_else(LayerState::default, |l| l.state)
    }

    fn layer_name(&self, layer: u32) -> String {
        let found = usize::try_from(layer).ok().and_then(|n| self.scene.index.layers.get(n));
        found.map(|l| l.name.clone()).unwrap_or_default()
    }

    /// One more entity or placed block; false when there are too many.
    fn spend(&mut self, at: usize, record: &Record) -> bool {
        self.spent += 1;
        if self.spent < MOST_EXPANDED {
            return true;
        }
        let message =
            format!("the blocks of the drawing expand to more than {MOST_EXPANDED} entities; the rest was left out");
        self.tell(Code::TooManyInserts, at, record, message, "purge the drawing, or give the deck its own file");
        false
    }

    /// Says something about a record once.
    fn tell(&mut self, code: Code, at: usize, record: &Record, message: String, hint: &str) {
        if self.told.insert((code, at)) {
            self.report.add(about(self.scene.index, record, code, message).hint(hint));
        }
    }

    fn warn(&mut self, code: Code, at: usize, record: &Record, message: String, hint: &str) {
        if self.told.insert((code, at)) {
            let finding = about(self.scene.index, record, code, message).hint(hint);
            self.report.add(Finding { severity: Severity::Warning, ..finding });
        }
    }

    fn entity(&mut self, at: usize, record: &Record, raw: &Raw, layer: u32, level: &Level) {
        let state = self.state(layer);
        if state.frozen || state.off || state.no_plot {
            *self.out.by_layer.entry(layer).or_insert(0) += 1;
        }
        if state.frozen || state.off || !self.spend(at, record) {
            return;
        }
        let Some(shape) = self.shape(raw, &level.map) else {
            let kind = self.scene.index.kind_text(record.kind);
            let message = format!("{kind} has a coordinate beyond 10 000 000 inches or none at all; it was left out");
            self.tell(Code::CoordinateRefused, at, record, message, "erase or redraw it near the plan");
            return;
        };
        let layer = self.layer_name(layer);
        self.out.entities.push(Entity { shape, layer, origin: record.origin(), insert: level.insert });
    }

    fn within(&self, p: Point) -> bool {
        p.x.abs() <= self.scene.limit && p.y.abs() <= self.scene.limit
    }

    /// The shape in model space; `None` when it is not wholly within the limit.
    fn shape(&self, raw: &Raw, map: &Affine) -> Option<Shape> {
        match raw {
            Raw::Point(p) => {
                let p = map.map(*p);
                self.within(p).then_some(Shape::Point(p))
            }
            Raw::Text { at, content } => {
                let at = map.map(*at);
                self.within(at).then(|| Shape::Text { at, content: content.clone() })
            }
            Raw::Circle { centre, radius } => match map.scale() {
                Some(scale) => {
                    let (centre, radius) = (map.map(*centre), radius * scale);
                    let reach = point(centre.x.abs() + radius, centre.y.abs() + radius);
                    self.within(reach).then_some(Shape::Circle { centre, radius })
                }
                None => self.ellipse(&Ellipse::of_circle(*centre, *radius).mapped(map)),
            },
            Raw::Ellipse(ellipse) => self.ellipse(&ellipse.mapped(map)),
            Raw::Spline(spline) => {
                let spline = spline.mapped(map);
                let near = spline.control.iter().all(|(p, _)| self.within(*p));
                let mut points = if near { spline.points(self.scene.tolerance)? } else { return None };
                if spline.closed && points.len() > 2 && points.first() == points.last() {
                    points.pop();
                }
                points.iter().all(|p| self.within(*p)).then_some(Shape::Curve { points, closed: spline.closed })
            }
            Raw::Path { vertices, closed } => self.path(vertices, *closed, map),
            Raw::Insert(_) => None,
        }
    }

    fn ellipse(&self, ellipse: &Ellipse) -> Option<Shape> {
        let reach = [ellipse.u, ellipse.v].iter().map(|v| v.x.abs().max(v.y.abs())).sum::<f64>();
        let far = point(ellipse.centre.x.abs() + reach, ellipse.centre.y.abs() + reach);
        let shape = || Shape::Curve { points: ellipse.points(self.scene.tolerance), closed: ellipse.is_closed() };
        self.within(far).then(shape)
    }

    /// A path stays one, with its arcs, unless an unequal scale makes them elliptic.
    fn path(&self, vertices: &[Vertex], closed: bool, map: &Affine) -> Option<Shape> {
        let sign = if map.mirrors() { -1.0 } else { 1.0 };
        let image = |v: &Vertex| Vertex { at: map.map(v.at), bulge: v.bulge * sign };
        let mapped: Vec<Vertex> = vertices.iter().map(image).collect();
        let next = |i: usize, list: &[Vertex]| list.get(i + 1).or(list.first().filter(|_| closed)).map(|v| v.at);
        for (i, v) in mapped.iter().enumerate() {
            // An arc's highest point is half the chord times the bulge away from it.
            let rise = next(i, &mapped).map_or(0.0, |n| distance(v.at, n) * v.bulge.abs() / 2.0);
            if !self.within(v.at) || rise.is_nan() || rise > self.scene.limit {
                return None;
            }
        }
        if map.scale().is_some() || mapped.iter().all(|v| v.bulge == 0.0) {
            return Some(Shape::Path { vertices: mapped, closed });
        }
        let mut points = Vec::with_capacity(mapped.len());
        for (i, v) in vertices.iter().enumerate() {
            let Some(to) = next(i, vertices) else {
                points.push(map.map(v.at));
                break;
            };
            if v.bulge == 0.0 {
                points.push(map.map(v.at));
                continue;
            }
            let mut arc = Ellipse::of_bulge(v.at, to, v.bulge).mapped(map).points(self.scene.tolerance);
            arc.pop();
            points.extend(arc);
        }
        Some(Shape::Curve { points, closed })
    }

    fn insert(&mut self, at: usize, record: &Record, placement: &Placement, layer: u32, level: &Level) {
        let scene = self.scene;
        let wanted = scene.selection.is_wanted(layer);
        if self.state(layer).frozen {
            // All that a frozen reference places is hidden with it.
            *self.out.by_layer.entry(layer).or_insert(0) += 1;
            return;
        }
        let name = &placement.block;
        let Some((target, block)) = self.block(name) else {
            if wanted {
                let message = format!("block `{name}` is placed but not defined");
                self.warn(Code::BlockMissing, at, record, message, "insert the block again, or erase the reference");
            }
            return;
        };
        if block.external {
            let message = format!("block `{name}` is an external reference; what it shows is not read");
            self.warn(Code::BlockMissing, at, record, message, "bind it to the drawing if the deck is in it");
            return;
        }
        if self.stack.contains(&target) || self.stack.len() >= DEEPEST {
            let why = if self.stack.contains(&target) { "is placed within itself" } else { "is nested too deep" };
            let message = format!("block `{name}` {why} (at most {DEEPEST} levels); it was left out there");
            self.tell(Code::TooManyInserts, at, record, message, "explode or purge the block");
            return;
        }
        let Some([x, y]) = block.base else {
            let message = format!("block `{name}` has no base point that can be read; it was left out");
            self.tell(Code::BadRecord, at, record, message, "define the block again");
            return;
        };
        let Some(items) = scene.blocks.get(&target) else { return };
        let base = placement.map.turn(point(-x, -y));
        let [columns, rows] = placement.counts;
        let placing = Placing { record, placement, layer, items };
        self.stack.push(target);
        for row in 0..rows {
            for column in 0..columns {
                let [across, up] = placement.steps;
                let step = across * f64::from(column) + up * f64::from(row);
                let placed = level.map.map(placement.map.origin + step);
                if !self.spend(at, record) {
                    self.stack.pop();
                    return;
                }
                if !self.within(placed) {
                    let message = format!("block `{name}` is placed beyond 10 000 000 inches; it was left out");
                    self.tell(Code::CoordinateRefused, at, record, message, "erase it or place it near the plan");
                    continue;
                }
                let inner = Affine { origin: placement.map.origin + step + base, ..placement.map };
                self.place(&placing, level, level.map.after(&inner), placed);
            }
        }
        self.stack.pop();
    }

    fn block(&self, name: &str) -> Option<(usize, &super::index::Block)> {
        let target = *self.scene.selection.by_name.get(&text::folded(name))?;
        Some((target, self.scene.index.blocks.get(target)?))
    }

    /// Expands one placed block, and forgets it again when nothing wanted is in it.
    fn place(&mut self, placing: &Placing<'_>, level: &Level, map: Affine, at: Point) {
        let Placing { record, placement, layer, items } = *placing;
        let number = self.out.inserts.len();
        let entities = self.out.entities.len();
        self.out.inserts.push(Insert {
            block: placement.block.clone(),
            layer: self.layer_name(layer),
            origin: record.origin(),
            at,
            rotation: plane::angle_of(map.x),
            parent: level.insert,
            attributes: placement.attributes.clone(),
        });
        self.items(items, &Level { map, layer: Some(layer), insert: Some(number) });
        let state = self.state(layer);
        let kept = self.out.entities.len() > entities
            || self.out.inserts.len() > number + 1
            || (self.scene.selection.is_wanted(layer) && !state.off);
        if !kept {
            self.out.inserts.truncate(number);
        }
    }
}

/// One finding for each layer that hides something, or is not plotted.
pub fn tell_hidden(index: &Index, by_layer: &BTreeMap<u32, usize>, report: &mut Report) {
    for (layer, count) in by_layer {
        let Some(layer) = usize::try_from(*layer).ok().and_then(|n| index.layers.get(n)) else { continue };
        let origin = layer.record.and_then(|r| index.records.get(r)).map(Record::origin).unwrap_or_default();
        let place = Place { line: origin.line, layer: Some(layer.name.clone()), ..Place::none() };
        let things = if *count == 1 { "1 entity".to_owned() } else { format!("{count} entities") };
        let name = &layer.name;
        report.add(if layer.state.frozen || layer.state.off {
            let how = if layer.state.frozen { "frozen" } else { "switched off" };
            Finding::warning(Code::LayerHidden, place, format!("layer {name} is {how}: {things} on it left out"))
                .hint("thaw it and switch it on if they belong to the plan")
        } else {
            Finding::note(
                Code::LayerHidden,
                place,
                format!("layer {name} is not plotted: {things} on it used all the same"),
            )
        });
    }
}
