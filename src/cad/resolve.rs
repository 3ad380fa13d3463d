//! Block references resolved: what stands in model space after every INSERT is expanded, in drawing units.

use std::collections::{BTreeMap, BTreeSet};

use super::affine::Affine;
use super::external::Scale;
use super::hidden::Hidden;
use super::index::Record;
use super::load::{self, File, Files, Item, Outcome};
use super::report::Report;
use super::shape::{LARGEST, NoShape, Space};
use super::typed::{Heights, POINT_BYTES, Placement, Raw};
use super::{Entity, Insert, LayerState, Origin, Shape};
use crate::base::plane::{self, point};
use crate::base::{Code, Finding, Place, Point, decimal};

/// Deepest nesting of blocks; drawings of real work stay under ten, and each level costs stack.
pub const DEEPEST: usize = 32;

/// Most entities and placed blocks after expansion: some ten times the largest plans, within a few hundred megabytes.
pub const MOST_EXPANDED: usize = 2_000_000;

/// What blocks and curves may become in any drawing, and how much more for each of its records: a few bytes of nested arrays
/// are not worth the memory of a large plan.
const ALWAYS_EXPANDED: usize = 200_000;
const FOR_EACH_RECORD: usize = 20;

/// Most points of sampled curves and of what blocks repeat: a small file can ask for any amount of memory and time.
const MOST_POINTS: usize = 20_000_000;

/// What is to be expanded, and how.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The plan and its references.
    pub files: &'a Files,
    /// How far the plan reaches.
    pub space: Space,
}

/// A layer of one of the files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct LayerAt {
    /// Number of the file.
    pub file: usize,
    /// Place among its layers.
    pub layer: u32,
}

/// What stands in model space, in drawing units.
#[derive(Debug, Default)]
pub struct Resolved {
    /// Entities on wanted layers.
    pub entities: Vec<Entity>,
    /// Placed blocks.
    pub inserts: Vec<Insert>,
    /// Layers whose wanted entities were left out or are not plotted, with the number of them.
    pub by_layer: BTreeMap<LayerAt, Hidden>,
}

/// Expands all of it.
pub fn resolve(scene: &Scene<'_>, report: &mut Report) -> Resolved {
    let mut expander = Expander {
        scene: *scene,
        report,
        out: Resolved::default(),
        stack: Vec::new(),
        spent: 0,
        most: most_expanded(scene.files.records()),
        points: 0,
        full: false,
        told: BTreeSet::new(),
        met: BTreeSet::new(),
    };
    let plan = &scene.files.plan;
    let top = Level {
        file: 0,
        drawing: plan,
        map: Affine::IDENTITY,
        layer: None,
        insert: None,
        upward: [0.0, 1.0],
        shown_by: None,
    };
    expander.items(&plan.model, &top);
    expander.out
}

fn most_expanded(records: usize) -> usize {
    records.saturating_mul(FOR_EACH_RECORD).saturating_add(ALWAYS_EXPANDED).min(MOST_EXPANDED)
}

/// Where in the nesting an item stands.
#[derive(Clone, Copy)]
struct Level<'a> {
    /// The file, by number and itself.
    file: usize,
    drawing: &'a File,
    map: Affine,
    /// Layer that layer `0` stands for; `None` in model space.
    layer: Option<LayerAt>,
    insert: Option<usize>,
    /// Height of its zero, and scale along z.
    upward: [f64; 2],
    /// In an external reference: where in the plan it is placed.
    shown_by: Option<Origin>,
}

impl<'a> Level<'a> {
    /// Name of the block that a reference places.
    fn name(&self, record: &Record) -> &'a str {
        self.drawing.index.name(record.name)
    }

    fn height(&self, z: f64) -> f64 {
        let [zero, scale] = self.upward;
        zero + z * scale
    }

    fn origin(&self, record: &Record) -> Origin {
        self.shown_by.unwrap_or_else(|| record.origin())
    }
}

/// A record that was met, with the layer that it stands on.
#[derive(Clone, Copy)]
struct Met<'a> {
    at: usize,
    record: &'a Record,
    layer: LayerAt,
}

/// What a block reference shows.
struct Contents<'a> {
    items: &'a [Item],
    file: usize,
    drawing: &'a File,
    /// Point that comes to stand on the insertion point.
    base: Point,
    /// From the units of the contents to those of the reference.
    factor: f64,
}

struct Expander<'a, 'b> {
    scene: Scene<'a>,
    report: &'b mut Report,
    out: Resolved,
    /// Blocks that are open, from the outside in: file and block.
    stack: Vec<(usize, usize)>,
    /// Entities and placed blocks so far.
    spent: usize,
    /// More are not taken.
    most: usize,
    /// Points of sampled curves and of repeated things so far.
    points: usize,
    /// Nothing more is taken.
    full: bool,
    /// Records about which something was said: a block's record is met as often as the block is placed.
    told: BTreeSet<(Code, usize, usize)>,
    /// References that were placed before.
    met: BTreeSet<usize>,
}

impl<'a> Expander<'a, '_> {
    fn items(&mut self, items: &'a [Item], level: &Level<'a>) {
        let drawing = level.drawing;
        for item in items {
            let Some(record) = drawing.index.records.get(item.record) else { continue };
            if self.full {
                return;
            }
            let own = LayerAt { file: level.file, layer: record.layer };
            let layer = level.layer.filter(|_| drawing.selection.is_zero(record.layer)).unwrap_or(own);
            let met = Met { at: item.record, record, layer };
            // What stands in model space as it is cannot be more than the file itself; what a block repeats counts each
            // time that it is met, whatever becomes of it.
            let again = item.raw.weight() + drawing.index.name(record.name).len() / POINT_BYTES;
            if level.insert.is_some() && !self.spend(0, again, &met, level) {
                return;
            }
            match &item.raw {
                Raw::Insert(placement) => self.insert(&met, placement, item.heights, level),
                raw if self.is_wanted(layer) => self.entity(&met, raw, item.heights, level),
                _ => {}
            }
        }
    }

    fn is_wanted(&self, at: LayerAt) -> bool {
        self.scene.files.get(at.file).is_some_and(|f| f.selection.is_wanted(at.layer))
    }

    fn state(&self, at: LayerAt) -> LayerState {
        let layer = usize::try_from(at.layer).ok();
        let found = self.scene.files.get(at.file).zip(layer).and_then(|(f, n)| f.states.get(n));
        found.copied().unwrap_or_default()
    }

    fn layer_name(&self, at: LayerAt) -> String {
        self.scene.files.get(at.file).map(|f| f.layer_name(at.layer)).unwrap_or_default()
    }

    /// So many more entities or placed blocks, and points; false when that is too much.
    fn spend(&mut self, pieces: usize, points: usize, met: &Met<'_>, level: &Level<'_>) -> bool {
        if self.full {
            return false;
        }
        self.spent += pieces;
        self.points += points;
        if self.spent < self.most && self.points < MOST_POINTS {
            return true;
        }
        self.full = true;
        let message = format!(
            "the blocks and curves of the drawing are more than {} entities or {MOST_POINTS} points; \
             the rest was left out from here on",
            self.most
        );
        let hint = "purge the drawing, or give the deck its own file";
        // Also where something else of this code was told of the record before.
        self.say(met, level, Finding::incomplete(Code::TooManyInserts, Place::none(), message).hint(hint));
        false
    }

    fn is_told(&self, met: &Met<'_>, level: &Level<'_>, code: Code) -> bool {
        self.told.contains(&(code, level.file, met.at))
    }

    /// Says something about a record once.
    fn tell(&mut self, met: &Met<'_>, level: &Level<'_>, finding: Finding) {
        if self.told.insert((finding.code, level.file, met.at)) {
            self.say(met, level, finding);
        }
    }

    /// Says something about a record. What stands in a reference is placed where the plan shows it, and the message says
    /// where in the reference it is.
    fn say(&mut self, met: &Met<'_>, level: &Level<'_>, mut finding: Finding) {
        if level.shown_by.is_some() {
            let Place { line, handle, .. } = place(met.record.origin());
            finding.message = within(level.drawing, line, handle, &finding.message);
        }
        let own = LayerAt { file: level.file, layer: met.record.layer };
        finding.place = Place { layer: Some(self.layer_name(own)), ..place(level.origin(met.record)) };
        self.report.add(finding);
    }

    fn entity(&mut self, met: &Met<'_>, raw: &Raw, heights: Option<Heights>, level: &Level<'_>) {
        let state = self.state(met.layer);
        if state.frozen || state.off || state.no_plot {
            self.hide(met, level);
        }
        if state.frozen || state.off {
            return;
        }
        let layer = self.layer_name(met.layer);
        let shape = self.scene.space.shape(raw, &level.map);
        let sampled = match &shape {
            Ok(Shape::Curve { points, .. }) => points.len(),
            Err(NoShape::Large) => LARGEST,
            _ => 0,
        };
        let name = if level.insert.is_some() { layer.len() / POINT_BYTES } else { 0 };
        if !self.spend(1, sampled + name, met, level) {
            return;
        }
        let shape = match shape {
            Ok(shape) => shape,
            Err(why) => return self.refuse(why, met, level),
        };
        let heights = heights.and_then(|h| h.mapped(|z| level.height(z)));
        let (heights, ends) = (heights.map(|h| h.range), heights.map(|h| h.ends));
        let origin = level.origin(met.record);
        self.out.entities.push(Entity { shape, layer, origin, insert: level.insert, heights, ends });
    }

    fn hide(&mut self, met: &Met<'_>, level: &Level<'_>) {
        let first = level.origin(met.record);
        self.out.by_layer.entry(met.layer).or_insert(Hidden { count: 0, first }).count += 1;
    }

    fn refuse(&mut self, why: NoShape, met: &Met<'_>, level: &Level<'_>) {
        let kind = level.drawing.index.kind_text(met.record.kind);
        let (message, hint) = match why {
            NoShape::Far => (
                format!("{kind} has a coordinate beyond 10 000 000 inches or none at all; it was left out"),
                "erase or redraw it near the plan",
            ),
            NoShape::Large => {
                (format!("{kind} has too many arcs under an unequal block scale; it was left out"), "explode the block")
            }
        };
        self.tell(met, level, Finding::incomplete(Code::CoordinateRefused, Place::none(), message).hint(hint));
    }

    fn insert(&mut self, met: &Met<'a>, placement: &'a Placement, heights: Option<Heights>, level: &Level<'a>) {
        if self.state(met.layer).frozen {
            // All that a frozen reference places is hidden with it.
            self.hide(met, level);
            return;
        }
        let name = level.name(met.record);
        let Some(target) = level.drawing.selection.target(met.record) else {
            if self.is_wanted(met.layer) {
                let message = format!("block `{name}` is placed but not defined");
                let finding = Finding::incomplete(Code::BlockMissing, Place::none(), message);
                self.tell(met, level, finding.hint("insert the block again, or erase the reference"));
            }
            return;
        };
        if self.stack.contains(&(level.file, target)) || self.stack.len() >= DEEPEST {
            let within_itself = self.stack.contains(&(level.file, target));
            let why = if within_itself { "is placed within itself" } else { "is nested too deep" };
            let message = format!("block `{name}` {why} (at most {DEEPEST} levels); it was left out there");
            let finding = Finding::incomplete(Code::TooManyInserts, Place::none(), message);
            self.tell(met, level, finding.hint("explode or purge the block"));
            return;
        }
        let Some(contents) = self.contents(met, target, placement, level) else { return };
        self.stack.push((level.file, target));
        self.array(met, placement, heights.map_or(0.0, |h| h.ends[0]), &contents, level);
        self.stack.pop();
    }

    /// What a block reference shows; `None` when that is nothing, which is told.
    fn contents(
        &mut self,
        met: &Met<'a>,
        target: usize,
        placement: &Placement,
        level: &Level<'a>,
    ) -> Option<Contents<'a>> {
        let block = level.drawing.index.blocks.get(target)?;
        if block.external {
            return self.external(met, target, placement, level);
        }
        let Some([x, y]) = block.base else {
            let name = level.name(met.record);
            let message = format!("block `{name}` has no base point that can be read; it was left out");
            let finding = Finding::incomplete(Code::BadRecord, Place::none(), message);
            self.tell(met, level, finding.hint("define the block again"));
            return None;
        };
        let items = level.drawing.blocks.get(&target)?;
        Some(Contents { items, file: level.file, drawing: level.drawing, base: point(x, y), factor: 1.0 })
    }

    fn external(
        &mut self,
        met: &Met<'a>,
        target: usize,
        placement: &Placement,
        level: &Level<'a>,
    ) -> Option<Contents<'a>> {
        let number = match level.drawing.externals.get(&target)? {
            Outcome::Read(number) => *number,
            Outcome::Unread(finding) => {
                if !self.is_told(met, level, finding.code) {
                    self.tell(met, level, Finding::clone(finding));
                }
                return None;
            }
            Outcome::NotShown => {
                let name = level.name(met.record);
                let message = format!("overlay `{name}` is not shown within a reference and not read");
                self.tell(met, level, Finding::note(Code::ExternalRead, Place::none(), message));
                return None;
            }
        };
        let file = self.scene.files.get(number)?;
        if self.met.insert(number) {
            self.tell(met, level, Finding::note(Code::ExternalRead, Place::none(), load::told(file)));
            for finding in &file.findings {
                let Place { line, handle, .. } = finding.place;
                let message = within(file, line, handle, &finding.message);
                let layer = finding.place.layer.as_ref().map(|l| load::qualified(&file.name, l));
                let place = Place { layer, ..place(level.origin(met.record)) };
                self.report.add(Finding { message, place, ..finding.clone() });
            }
        }
        let factor = self.factor(met, file, placement, level);
        Some(Contents { items: &file.model, file: number, drawing: file, base: file.base, factor })
    }

    /// By what a reference is to be multiplied; doubts are told.
    fn factor(&mut self, met: &Met<'_>, file: &File, placement: &Placement, level: &Level<'_>) -> f64 {
        let (host, own) = (level.drawing.units.used, file.units.used);
        let placed = placement.map.scale();
        let differ =
            format!("external reference `{}` is drawn in {}, its host in {}", file.name, own.sign(), host.sign());
        let (factor, message) = match Scale::of(host, own, placed) {
            Scale::AsPlaced => return 1.0,
            Scale::Converted(factor) => (
                factor,
                format!("{differ}, and it is placed at scale 1: it is taken {} times as large", decimal(factor, 6)),
            ),
            Scale::Doubtful(factor) => {
                let scale = placed.map_or_else(|| "unequal scales".to_owned(), |s| format!("scale {}", decimal(s, 6)));
                (
                    1.0,
                    format!(
                        "{differ}, and it is placed at {scale}, not {}: that is taken as it is",
                        decimal(factor, 6)
                    ),
                )
            }
        };
        let finding = Finding::warning(Code::UnitsDoubtful, Place::none(), message);
        self.tell(met, level, finding.hint("check one length of the layout; place the reference at its true scale"));
        factor
    }

    /// Expands a block reference, each one of its columns and rows.
    fn array(&mut self, met: &Met<'a>, placement: &'a Placement, z: f64, contents: &Contents<'a>, level: &Level<'a>) {
        let map = placement.map;
        let linear = Affine { x: map.x * contents.factor, y: map.y * contents.factor, origin: map.origin };
        let base = linear.turn(point(-contents.base.x, -contents.base.y));
        let [columns, rows] = placement.counts;
        let [_, scale] = level.upward;
        let upward = [level.height(z), scale * placement.upward * contents.factor];
        let name = level.name(met.record);
        // Each text of an attribute weighs its own bytes and those of its place in memory.
        let texts = placement.attributes.iter().map(|(tag, value)| tag.len() + value.len() + 2 * size_of::<String>());
        let points = (texts.sum::<usize>() + name.len() + self.layer_name(met.layer).len()) / POINT_BYTES;
        for row in 0..rows {
            for column in 0..columns {
                let [across, up] = placement.steps;
                let step = across * f64::from(column) + up * f64::from(row);
                let placed = level.map.map(map.origin + step);
                if !self.spend(1, points, met, level) {
                    return;
                }
                if !self.scene.space.within(placed) {
                    let message = format!("block `{name}` is placed beyond 10 000 000 inches; it was left out");
                    let finding = Finding::incomplete(Code::CoordinateRefused, Place::none(), message);
                    self.tell(met, level, finding.hint("erase it or place it near the plan"));
                    continue;
                }
                let inner = Affine { origin: map.origin + step + base, ..linear };
                let inner = Level { map: level.map.after(&inner), upward, ..*level };
                self.place(met, placement, contents, &inner, placed);
            }
        }
    }

    /// Expands one placed block, and forgets it again when nothing wanted is in it.
    fn place(&mut self, met: &Met<'a>, placement: &Placement, contents: &Contents<'a>, level: &Level<'a>, at: Point) {
        let number = self.out.inserts.len();
        let entities = self.out.entities.len();
        let origin = level.origin(met.record);
        self.out.inserts.push(Insert {
            block: level.name(met.record).to_owned(),
            layer: self.layer_name(met.layer),
            origin,
            at,
            rotation: plane::angle_of(level.map.x),
            parent: level.insert,
            attributes: placement.attributes.clone(),
        });
        let inner = Level {
            file: contents.file,
            drawing: contents.drawing,
            layer: Some(met.layer),
            insert: Some(number),
            shown_by: (contents.file > 0).then_some(origin),
            ..*level
        };
        self.items(contents.items, &inner);
        let kept = self.out.entities.len() > entities
            || self.out.inserts.len() > number + 1
            || (self.is_wanted(met.layer) && !self.state(met.layer).off);
        if !kept {
            self.out.inserts.truncate(number);
        }
    }
}

/// Where a record stands.
pub fn place(origin: Origin) -> Place {
    Place { handle: origin.handle, line: origin.line, ..Place::none() }
}

/// A message about something in a reference.
fn within(file: &File, line: Option<u64>, handle: Option<u64>, message: &str) -> String {
    let line = line.map_or_else(String::new, |l| format!(":{l}"));
    let handle = handle.map_or_else(String::new, |h| format!(" (handle {h:X})"));
    format!("in {}{line}{handle}: {message}", file.file)
}
