//! What the layers of a strange drawing probably are, and its unit, with the reasons: a proposal for a job file.
//!
//! Takes a drawing of which every layer was read; gives for each role the layers, or points on things where a layer has
//! several roles; refuses nothing: what cannot be told is left open. Nothing here is used unless somebody asks for it and
//! says yes to it by keeping the job file.

mod around;
mod names;
mod things;

use crate::base::{Length, Point, Unit, decimal};
use crate::cad::Drawing;
use crate::catalog::LayerPick;

use super::picks;
use super::roles::Role;
use around::Around;
use names::{Hint, hint};
use things::{Ring, Scene};

/// The drawing's unit.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitGuess {
    /// The unit.
    pub unit: Unit,
    /// Why.
    pub why: String,
    /// Whether the drawing says another one, or none, so that the job must say it.
    pub needed: bool,
    /// How large the deck would be in each unit.
    pub sizes: Vec<(Unit, String)>,
}

/// What is taken for a role.
#[derive(Debug, Clone, PartialEq)]
pub struct RoleGuess {
    /// The role.
    pub role: Role,
    /// Layers.
    pub layers: Vec<String>,
    /// Entities of the drawing that speak for it, by number.
    pub things: Vec<usize>,
    /// Why, a line a layer.
    pub why: Vec<String>,
}

/// What else could be meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Other {
    /// For which role.
    pub role: Role,
    /// Its layer.
    pub layer: String,
    /// A point on it, in drawing units; none for all of the layer.
    pub at: Option<[f64; 2]>,
    /// What it is.
    pub what: String,
}

/// A proposal.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    /// The unit; `None` when no outline has a deck's size in any.
    pub unit: Option<UnitGuess>,
    /// Layers by role, the deck edge first; empty when no outline can be told from the others.
    pub roles: Vec<RoleGuess>,
    /// Layers that hold things of several roles.
    pub picks: Vec<LayerPick>,
    /// Gaps between the ends of loose lines, where they are wider than what is joined anyway.
    pub join: Option<Length>,
    /// Other outlines of a deck's size, the likelier ones first, and what could be openings.
    pub others: Vec<Other>,
}

/// Real millimetres of one millimetre as the drawing was read.
#[derive(Debug, Clone, Copy)]
struct Ruler {
    scale: f64,
    imperial: bool,
}

impl Ruler {
    /// A real length in the drawing's millimetres.
    fn of(self, real_mm: f64) -> f64 {
        real_mm / self.scale
    }

    /// A length of the drawing in real millimetres.
    fn real(self, drawn: f64) -> f64 {
        drawn * self.scale
    }

    /// A small length for a reader.
    fn told(self, drawn: f64) -> String {
        let mm = self.real(drawn);
        if self.imperial { format!("{} in", decimal(mm / 25.4, 2)) } else { format!("{} mm", decimal(mm, 0)) }
    }

    /// Sides of a box for a reader.
    fn sides(self, low: Point, high: Point) -> String {
        let (by, sign) = if self.imperial { (304.8, "ft") } else { (1000.0, "m") };
        let side = |v: f64| decimal(self.real(v) / by, 2);
        format!("{} {sign} x {} {sign}", side(high.x - low.x), side(high.y - low.y))
    }
}

/// Sides of a deck, the longer one: less is a step, more a harbour.
const DECK_MM: std::ops::RangeInclusive<f64> = 1200.0..=60_000.0;

/// How deep a deck is at least, its area by its longer side: what is narrower is a wall or a beam.
const DEEP_MM: f64 = 600.0;

/// The size that decks have in the mean; others are the less likely the more they differ (common practice).
const MEAN_MM: f64 = 6000.0;

/// Gaps that are bridged where an outline is not closed otherwise: what is joined anyway, then up to 2 in.
const JOINS: [(f64, i64); 5] =
    [(1.5875, 1_587_500), (6.35, 6_350_000), (12.7, 12_700_000), (25.4, 25_400_000), (50.8, 50_800_000)];

/// Outlines of more pieces are contour lines or ornaments.
const MOST_PIECES: usize = 2000;

/// So many outlines are looked at, the largest first.
const MOST_RINGS: usize = 60;

/// A guess must be this much likelier than the next one.
const CLEARLY: f64 = 0.3;

/// What is said of the unit weighs as much as a wall along an edge.
const CONTRADICTED: f64 = 2.0;

/// One way to read the drawing.
struct Reading {
    unit: Unit,
    ruler: Ruler,
    ring: Ring,
    roles: Vec<RoleGuess>,
    /// Layers of what could be openings, with the reasons.
    perhaps: Vec<(usize, String)>,
    score: f64,
    /// Whether more than its size speaks for it.
    evidence: bool,
}

/// `1 thing`, `2 things`.
fn counted(number: usize, what: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {what}{plural}")
}

/// What a drawing's layers probably are. `stated` is the unit that the drawing or its user says; without one the drawing
/// may have been read in any unit.
pub fn guess(drawing: &Drawing, stated: Option<Unit>) -> Guess {
    let scene = Scene::new(drawing);
    let mut readings = stated.map_or_else(Vec::new, |unit| readings(&scene, drawing, unit));
    // What a drawing says is often what its template said. Where nothing looks like a deck then, another unit may do, but
    // only if much more speaks for it.
    if !readings.iter().any(|r| r.evidence) {
        let others = Unit::CANDIDATES.into_iter().filter(|unit| stated != Some(*unit));
        let mut others: Vec<Reading> = others.flat_map(|unit| self::readings(&scene, drawing, unit)).collect();
        let doubt = if stated.is_some() { CONTRADICTED } else { 0.0 };
        others.iter_mut().for_each(|r| r.score -= doubt);
        others.retain(|r| stated.is_none() || r.evidence);
        readings.extend(others);
    }
    readings.sort_by(|a, b| b.score.total_cmp(&a.score));
    let Some(best) = readings.first() else {
        return Guess { unit: None, roles: Vec::new(), picks: Vec::new(), join: None, others: Vec::new() };
    };
    let same_unit = || readings.iter().filter(|r| r.unit == best.unit).skip(1);
    let alone = same_unit().next().is_none();
    let clear = same_unit().next().is_none_or(|next| best.score - next.score >= CLEARLY);
    let sure = clear && (best.evidence || (alone && best.ring.closed));
    let others = same_unit().map(|r| other(r, &scene, drawing));
    let first = (!sure).then(|| other(best, &scene, drawing));
    let others: Vec<Other> = first.into_iter().chain(others).take(8).collect();
    let unit = Some(unit_guess(best, drawing, stated));
    if !sure {
        return Guess { unit, roles: Vec::new(), picks: Vec::new(), join: None, others };
    }
    let (roles, picks) = divided(best, &scene, drawing);
    let perhaps = best.perhaps.iter().filter_map(|(layer, what)| {
        let layer = scene.layers.get(*layer)?.clone();
        Some(Other { role: Role::Opening, layer, at: None, what: what.clone() })
    });
    let others = others.into_iter().chain(perhaps).collect();
    Guess { unit, roles, picks, join: bridged(best), others }
}

/// The gap that had to be bridged, where it is wider than what is joined anyway.
fn bridged(reading: &Reading) -> Option<Length> {
    let real = reading.ruler.real(reading.ring.join);
    JOINS.iter().skip(1).find(|(mm, _)| (mm - real).abs() < 0.01).map(|(_, nm)| Length::from_nanometres(*nm))
}

fn unit_guess(best: &Reading, drawing: &Drawing, stated: Option<Unit>) -> UnitGuess {
    let sizes = Unit::CANDIDATES.map(|unit| {
        let ruler = ruler(drawing, unit);
        (unit, ruler.sides(best.ring.low, best.ring.high))
    });
    let size = best.ruler.sides(best.ring.low, best.ring.high);
    let sign = best.unit.sign();
    let why = match stated {
        Some(unit) if unit == best.unit => format!("the drawing says {sign}, which makes the deck {size}"),
        Some(unit) => {
            let said = ruler(drawing, unit).sides(best.ring.low, best.ring.high);
            format!("{} is said, which would make the deck {said}; with {sign} it is {size}", unit.sign())
        }
        None => format!("a guess by its size, which makes the deck {size}; check one length"),
    };
    UnitGuess { unit: best.unit, why, needed: stated != Some(best.unit), sizes: sizes.to_vec() }
}

fn ruler(drawing: &Drawing, unit: Unit) -> Ruler {
    Ruler { scale: unit.millimetres() / drawing.frame.unit.millimetres(), imperial: unit.is_imperial() }
}

/// Every outline of a deck's size if the drawing is in `unit`, with what speaks for it.
fn readings(scene: &Scene, drawing: &Drawing, unit: Unit) -> Vec<Reading> {
    let ruler = ruler(drawing, unit);
    let fits = |ring: &Ring| DECK_MM.contains(&ruler.real(ring.longest())) && ring.course.len() <= MOST_PIECES;
    let roomy = |ring: &Ring| ruler.real(ring.area / ring.longest()) >= DEEP_MM;
    let mut rings: Vec<Ring> = Vec::new();
    for layer in 0..scene.layers.len() {
        let closed = JOINS.iter().map(|(mm, _)| things::rings(scene, layer, ruler.of(*mm)));
        let found = closed
            .map(|rings| rings.into_iter().filter(|r| fits(r) && roomy(r)).collect::<Vec<_>>())
            .find(|rings| !rings.is_empty());
        match found {
            Some(found) => rings.extend(found),
            None => rings.extend(things::chains(scene, layer, ruler.of(1.5875)).into_iter().filter(|r| fits(r))),
        }
    }
    rings.sort_by(|a, b| b.longest().total_cmp(&a.longest()));
    rings.truncate(MOST_RINGS);
    rings.into_iter().map(|ring| reading(scene, ring, unit, ruler)).collect()
}

fn reading(scene: &Scene, ring: Ring, unit: Unit, ruler: Ruler) -> Reading {
    let name = scene.layers.get(ring.layer).map_or("", String::as_str);
    let (named, denied) = match hint(name) {
        Some(Hint::Role(Role::Edge)) => (true, false),
        Some(_) => (false, true),
        None => (false, false),
    };
    let around = Around::new(scene, &ring, ruler);
    let stairs = around.stairs();
    let walls = around.walls(stairs.as_ref().map_or(&[], |s| &s.things));
    let posts = around.posts();
    let taken: Vec<usize> = [&stairs, &walls, &posts].into_iter().flatten().flat_map(|r| r.things.clone()).collect();
    let (openings, perhaps) = around.openings(&taken);
    let at_edge = |role: &Option<RoleGuess>| role.as_ref().is_some_and(|r| r.why.iter().any(|w| !w.contains("alone")));
    let posts_found = posts.as_ref().map_or(0.0, |p| (p.things.len() as f64 / 2.0).min(2.0));
    let walled = at_edge(&walls) && !walls.as_ref().is_some_and(|w| around.only_twins(w));
    let evidence = named || at_edge(&stairs) || walled || posts_found >= 1.0;
    // An open chain is a deck's edge only where something says so.
    let bare = !ring.closed && !named && !at_edge(&walls);
    let yes = |fact: bool, weight: f64| if fact { weight } else { 0.0 };
    let all = scene.things.iter().filter(|t| !t.text).map(|t| (t.low, t.high));
    let around_all =
        ring.closed && all.clone().filter(|(low, high)| ring.surrounds(*low, *high)).count() * 2 > all.count();
    let score = yes(named, 4.0) - yes(denied, 5.0)
        + yes(at_edge(&walls), 2.0)
        + yes(at_edge(&stairs), 2.0)
        + posts_found
        + yes(openings.is_some(), 0.5)
        + yes(ring.closed, 1.0)
        - yes(bare, 3.0)
        - yes(around_all && posts_found < 1.0, 1.5)
        - 0.8 * (ruler.real(ring.longest()) / MEAN_MM).ln().abs();
    let why = format!(
        "{name}: {} of {}{}",
        if ring.closed { "a closed outline" } else { "an open edge" },
        ruler.sides(ring.low, ring.high),
        if named { ", and its name says so" } else { "" }
    );
    let edge =
        RoleGuess { role: Role::Edge, layers: vec![name.to_owned()], things: ring.things.clone(), why: vec![why] };
    let roles = [Some(edge), walls, openings, posts, stairs].into_iter().flatten().collect();
    Reading { unit, ruler, ring, roles, perhaps, score, evidence: evidence && !bare }
}

fn other(reading: &Reading, scene: &Scene, drawing: &Drawing) -> Other {
    let layer = scene.layers.get(reading.ring.layer).cloned().unwrap_or_default();
    let what = if reading.ring.closed { "closed outline" } else { "open edge" };
    let beside: Vec<&str> = reading.roles.iter().skip(1).map(|r| r.role.word()).collect();
    let beside = if beside.is_empty() { "nothing at it".to_owned() } else { format!("at it: {}", beside.join(", ")) };
    let thing = reading.ring.things.first().and_then(|t| scene.things.get(*t));
    let at = thing.map_or([0.0; 2], |t| pointed(scene, drawing, t.entity, &[t.layer], reading.ruler));
    Other {
        role: Role::Edge,
        layer,
        at: Some(at),
        what: format!("{what} of {}, {beside}", reading.ruler.sides(reading.ring.low, reading.ring.high)),
    }
}

/// Layers by role, and points where a layer would be taken for more than what was found on it.
fn divided(best: &Reading, scene: &Scene, drawing: &Drawing) -> (Vec<RoleGuess>, Vec<LayerPick>) {
    let mut roles = best.roles.clone();
    let own = scene.layers.get(best.ring.layer).cloned().unwrap_or_default();
    let more = more(best, scene);
    if let Some(edge) = roles.first_mut() {
        if !more.is_empty() {
            edge.why.push(format!("{own}: {} on the layer", counted(more.len(), "more closed outline")));
        }
        edge.things.extend(more);
    }
    let edge_things = roles.first().map(|r| r.things.clone()).unwrap_or_default();
    let on_layer = |name: &str| scene.layers.iter().position(|l| l == name).unwrap_or(usize::MAX);
    let mixed = |name: &str| {
        let layer = on_layer(name);
        let roles_of = best.roles.iter().filter(|r| r.layers.iter().any(|l| l == name)).count();
        let stray =
            |(i, t): (usize, &things::Thing)| t.layer == layer && !t.pieces.is_empty() && !edge_things.contains(&i);
        roles_of > 1 || (name == own && scene.things.iter().enumerate().any(stray))
    };
    let mut picks: Vec<LayerPick> = Vec::new();
    for name in scene.layers.iter().filter(|name| mixed(name)) {
        let mut pick = LayerPick { layer: name.clone(), ..LayerPick::default() };
        let layer = on_layer(name);
        for role in &roles {
            let things = role.things.iter().filter_map(|i| scene.things.get(*i)).filter(|t| t.layer == layer);
            let mut at: Vec<[f64; 2]> = Vec::new();
            let mut blocks = std::collections::BTreeSet::new();
            // A post or an opening in a block is the whole block.
            let is_symbol = matches!(role.role, Role::Post | Role::Opening);
            for thing in things.filter(|t| !is_symbol || t.insert.is_none_or(|i| blocks.insert(i))) {
                at.push(pointed(scene, drawing, thing.entity, &[layer], best.ruler));
            }
            match role.role {
                Role::Edge => pick.edge = at,
                Role::Wall => pick.wall = at,
                Role::Opening => pick.opening = at,
                Role::Post => pick.post = at,
                Role::Stair => pick.stair = at,
                Role::KeepOut | Role::Joist | Role::Ramp | Role::Rail => {}
            }
        }
        for role in &mut roles {
            role.layers.retain(|l| l != name);
        }
        picks.push(pick);
    }
    for role in &mut roles {
        role.things = role.things.iter().filter_map(|i| scene.things.get(*i)).map(|t| t.entity).collect();
    }
    (roles, picks)
}

/// What else on the deck's layer is a deck's outline, where the layer has nothing but outlines and none stands around the
/// deck: holes within it, and others, such as landings. A hole too many gets a guard too many, which is the safe side.
fn more(best: &Reading, scene: &Scene) -> Vec<usize> {
    let (ring, layer) = (&best.ring, best.ring.layer);
    let around = |t: &things::Thing| {
        t.low.x < ring.low.x && t.low.y < ring.low.y && t.high.x > ring.high.x && t.high.y > ring.high.y
    };
    let mut own = scene.things.iter().filter(|t| t.layer == layer && !t.pieces.is_empty());
    let outlines = ring.closed && own.all(|t| t.closed && !around(t));
    let all = scene.things.iter().enumerate().filter(|(_, t)| t.layer == layer && t.closed);
    let large = all.filter(|(_, t)| best.ruler.real(t.longest()) > 500.0 && outlines);
    large.map(|(i, _)| i).filter(|i| !best.roles.iter().any(|r| r.things.contains(i))).collect()
}

/// A point on an entity, in drawing units, that is as far as can be from all else on its layers.
fn pointed(scene: &Scene, drawing: &Drawing, entity: usize, layers: &[usize], ruler: Ruler) -> [f64; 2] {
    let Some(own) = drawing.entities.get(entity) else { return [0.0; 2] };
    let pieces = picks::pieces(own);
    let mut candidates: Vec<Point> =
        pieces.iter().flat_map(|p| [0.5, 0.37, 0.61, 0.23, 0.79].map(|t| p.at(p.length() * t))).take(60).collect();
    if candidates.is_empty() {
        candidates.extend(scene.things.iter().find(|t| t.entity == entity).map(|t| t.low));
    }
    let others = || {
        let all = scene.things.iter().filter(|t| layers.contains(&t.layer) && t.entity != entity);
        all.filter_map(|t| drawing.entities.get(t.entity))
    };
    let free = |p: Point| others().map(|e| picks::apart(e, p)).fold(f64::INFINITY, f64::min);
    // The first that nothing else comes near will do.
    let enough = ruler.of(50.0);
    let best = candidates.iter().map(|p| (free(*p), *p)).fold(None, |best: Option<(f64, Point)>, one| match best {
        Some(best) if best.0 >= enough || best.0 >= one.0 => Some(best),
        _ => Some(one),
    });
    // Six digits of any unit are finer than the reach of a point.
    best.map_or([0.0; 2], |(_, p)| {
        let p = drawing.frame.to_drawing(p);
        [p.x, p.y].map(|v| (v * 1e6).round() / 1e6)
    })
}
