//! How the strict plan is made from the drawing's entities.

use std::collections::BTreeMap;

use crate::base::plane::{distance, point};
use crate::base::{Code, Finding, Frame, Length, Near, Place, Point, Refusal, decimal};
use crate::cad::{Drawing, Entity, Shape};
use crate::catalog::Settings;

use super::before::{Before, attached, edited};
use super::chain::{self, Loose};
use super::cross::{Crossing, first_crossing};
use super::crossings::crossings;
use super::ends::{self, Around, ChainEnd};
use super::inner;
use super::layers;
use super::levels;
use super::model::{Chain, DrawnPost, Edge, Outline, Plan, Wall};
use super::picks;
use super::posts::posts;
use super::rings::Rings;
use super::roles::{Role, Roles};
use super::side;
use super::stairs::Site;
use super::unlaid;
use super::walls::{houses, walls};
use super::zones;

/// Deck edges of more than 10 km in all are no deck: the drawing's unit is wrong, or the layer.
const LONGEST_MM: f64 = 1e7;

/// Makes the plan of a drawing and its roles, as [`super::read`] gives them.
///
/// # Errors
/// When no layer that is taken for the deck edge holds an edge, or the edges are longer than any deck's.
pub fn plan(
    drawing: &Drawing,
    roles: &Roles,
    before: Before<'_>,
    settings: &Settings,
) -> Result<(Plan, Vec<Finding>), Refusal> {
    let mut findings = layers::told(drawing, roles);
    let picked = picks::picked(drawing, roles.picks(), &mut findings);
    let drawing = &*picked;
    let [edges, openings, post_entities, stairs, wall_entities, zones_out, joists, ramps, rails] =
        by_role(drawing, roles);
    not_used(&edges, Role::Edge, &mut findings);
    not_used(&wall_entities, Role::Wall, &mut findings);
    levels::tell(&edges, drawing.frame.unit, &mut findings);
    let joists: Vec<(Point, Point)> = walls(&joists).into_iter().map(|w| (w.a, w.b)).collect();
    let houses = houses(&wall_entities);
    let walls = Near::from(walls(&wall_entities));
    let (loose, shared) = chain::chains(&edges, settings.join, &mut findings);
    if loose.is_empty() {
        return Err(no_edge(drawing, roles, findings));
    }
    if let Some(finding) = too_long(&loose, drawing.frame) {
        return Err(Refusal { finding: Box::new(finding), others: findings });
    }
    let signs = levels::Signs { stairs: &stairs, texts: [&edges, &stairs, &wall_entities] };
    levels::tell_shared(&shared, &signs, &mut findings);
    let (edits, lost, kept) = edited(drawing, roles, before, &mut findings);
    let posts = all_posts(&post_entities, drawing, roles, (kept, settings.join), &mut findings);
    let chains = oriented(loose, &Beside { walls: &walls, houses: &houses, posts: &posts }, settings, &mut findings);
    let mut zones = zones::openings(&openings, &drawing.inserts, settings.touch);
    let is_stair = |layer: &str| roles.of(layer).is_some_and(|t| t.role == Role::Stair);
    let site = Site {
        entities: &stairs,
        inserts: &drawing.inserts,
        is_stair: &is_stair,
        chains: &chains,
        walls: &walls,
        frame: drawing.frame,
        settings,
    };
    let (flights, stair_zones) = super::stairs::stairs(&site, &mut findings);
    zones.extend(stair_zones);
    findings.extend(unlaid::ramps(&ramps));
    findings.extend(unlaid::rails(&rails, &chains, &walls, &flights));
    let keep_out = zones::keep_out(&zones_out);
    let background =
        [(Role::Edge, &edges), (Role::Opening, &openings), (Role::Stair, &stairs), (Role::Wall, &wall_entities)];
    let outlines = background.into_iter().flat_map(|(role, list)| outlines(role, list)).collect();
    let plan = Plan {
        frame: drawing.frame,
        chains,
        walls,
        houses,
        zones: zones.into(),
        flights,
        posts,
        keep_out: keep_out.into(),
        joists: joists.into(),
        edits,
        lost,
        attached: attached(drawing, roles),
        outlines,
    };
    Ok((plan, findings))
}

/// The entities of each role. Large plans have many entities and few layers: each name is matched once.
fn by_role<'a>(drawing: &'a Drawing, roles: &Roles) -> [Vec<&'a Entity>; Role::ALL.len()] {
    let mut by_role: [Vec<&Entity>; Role::ALL.len()] = Default::default();
    let mut known: BTreeMap<&str, Option<Role>> = BTreeMap::new();
    for entity in &drawing.entities {
        let role = *known.entry(&entity.layer).or_insert_with(|| roles.of(&entity.layer).map(|t| t.role));
        if let Some(list) = role.and_then(|r| by_role.get_mut(r as usize)) {
            list.push(entity);
        }
    }
    by_role
}

/// Drawn posts, and `kept` ones, which the user moved or copied.
fn all_posts(
    entities: &[&Entity],
    drawing: &Drawing,
    roles: &Roles,
    (kept, join): (Vec<DrawnPost>, Length),
    findings: &mut Vec<Finding>,
) -> Vec<DrawnPost> {
    let is_post = |layer: &str| roles.of(layer).is_some_and(|t| t.role == Role::Post);
    let mut posts = posts(entities, drawing, &is_post, join, findings);
    // One that stands where a post is drawn is that post.
    let near_mm = Length::INCH.millimetres() / 2.0;
    let drawn = Near::from(posts.iter().map(|p| p.at).collect::<Vec<Point>>());
    let is_new = |k: &DrawnPost| drawn.around([k.at], near_mm).all(|(_, p)| distance(*p, k.at) > near_mm);
    posts.extend(kept.into_iter().filter(is_new));
    posts
}

fn too_long(loose: &[Loose], frame: Frame) -> Option<Finding> {
    let total: f64 = loose.iter().flat_map(|c| &c.edges).map(|e| e.piece().length()).sum();
    (total > LONGEST_MM).then(|| {
        let place = loose.first().and_then(|c| c.edges.first()).map_or_else(Place::none, Edge::place);
        let message = format!(
            "the deck edges are {} km long in all, with a drawing unit of 1 {}; more than {} km are no deck",
            decimal(total / 1e6, 1),
            frame.unit.sign(),
            decimal(LONGEST_MM / 1e6, 0)
        );
        Finding::error(Code::UnitsDoubtful, place, message)
            .hint("say the right unit with --units, or which layer holds the deck edge with --layer edge=NAME")
    })
}

fn no_edge(drawing: &Drawing, roles: &Roles, others: Vec<Finding>) -> Refusal {
    let has_lines = |kinds: &[(String, usize)]| {
        kinds.iter().any(|(k, _)| {
            matches!(k.as_str(), "LINE" | "LWPOLYLINE" | "POLYLINE" | "ARC" | "CIRCLE" | "ELLIPSE" | "SPLINE")
        })
    };
    let mut candidates: Vec<&str> =
        drawing.layers.iter().filter(|l| has_lines(&l.counts)).map(|l| l.name.as_str()).take(13).collect();
    let more = if candidates.len() > 12 { candidates.pop().map_or("", |_| ", ...") } else { "" };
    let list = if candidates.is_empty() { "none".to_owned() } else { format!("{}{more}", candidates.join(", ")) };
    let finding = Finding::error(
        Code::LayerEmpty,
        Place::none(),
        format!(
            "no layer that is taken for the deck edge ({}) holds an edge; layers with lines: {list}",
            roles.patterns(Role::Edge).join(", ")
        ),
    )
    .hint("name the layer: --layer edge=NAME, or let `plumbrail inspect PLAN --write-job job.toml` propose it");
    Refusal { finding: Box::new(finding), others }
}

fn not_used(entities: &[&Entity], role: Role, findings: &mut Vec<Finding>) {
    for entity in entities {
        let (what, at) = match &entity.shape {
            Shape::Path { .. } | Shape::Curve { .. } | Shape::Text { .. } => continue,
            Shape::Circle { .. } if role == Role::Edge => continue,
            Shape::Circle { centre, .. } => ("a circle", *centre),
            Shape::Point(at) => ("a point", *at),
        };
        let message = format!("{what} on the {} layer is not used", role.word());
        let told = if role == Role::Edge { Finding::incomplete } else { Finding::warning };
        findings.push(told(Code::EntityNotUsed, entity.place(at), message));
    }
}

/// Lines of a role, as background and for walls.
pub fn outlines<'a>(role: Role, entities: &'a [&Entity]) -> impl Iterator<Item = Outline> + 'a {
    entities.iter().filter_map(move |e| {
        let (points, closed) = match &e.shape {
            Shape::Path { vertices, closed } => (zones::flattened(vertices, *closed), *closed),
            Shape::Curve { points, closed } => (points.clone(), *closed),
            Shape::Circle { centre, radius } if role == Role::Edge => {
                (zones::flattened(&chain::circle(*centre, *radius), true), true)
            }
            _ => return None,
        };
        Some(Outline { role, points, closed })
    })
}

/// What stands around deck edges.
struct Beside<'a> {
    walls: &'a Near<Wall>,
    houses: &'a Rings,
    posts: &'a [DrawnPost],
}

/// Turns each chain so that the deck is on its right; leaves out those that cross themselves, lie within a deck, or whose
/// side is unknown.
fn oriented(loose: Vec<Loose>, beside: &Beside<'_>, settings: &Settings, findings: &mut Vec<Finding>) -> Vec<Chain> {
    let simple: Vec<Loose> = loose.into_iter().filter(|c| is_simple(c, findings)).collect();
    let rings = Rings::new(simple.iter().filter(|c| c.closed).map(|c| c.edges.as_slice()));
    let mut ring = 0;
    let key = |c: &Loose| c.edges.first().map(|e| [e.a.x, e.a.y, e.b.x, e.b.y].map(f64::to_bits));
    let mut unknown = BTreeMap::new();
    let mut sided = Vec::with_capacity(simple.len());
    for chain in simple {
        let right = if chain.closed {
            ring += 1;
            chain.edges.first().map(|e| rings.deck_is_right(ring - 1, e.middle()))
        } else {
            side::deck_is_right(&chain, &rings, beside.walls, beside.houses, settings).unwrap_or_else(|why| {
                unknown.insert(key(&chain), why);
                None
            })
        };
        sided.push((chain, right));
    }
    let sided = inner::without_lines(sided, &rings, findings);
    let turned = |(chain, right): (Loose, Option<bool>)| {
        let edges = if right == Some(false) { chain::reversed(chain.edges) } else { chain.edges };
        (Loose { edges, closed: chain.closed }, right)
    };
    let (loose, sides): (Vec<Loose>, Vec<Option<bool>>) = sided.into_iter().map(turned).unzip();
    findings.extend(crossings(&loose));
    let around = Around::new(&loose, beside.walls, beside.posts);
    let ends = ends::ends(&loose, &around, settings, findings);
    let mut out = Vec::with_capacity(loose.len());
    for ((chain, ends), side) in loose.into_iter().zip(ends).zip(sides) {
        if side.is_some() {
            out.push(Chain { edges: chain.edges, ends });
            continue;
        }
        // Of an edge that ends in the air, that is the reason, and told.
        let place = chain.edges.first().map_or_else(Place::none, Edge::place);
        let why = unknown.get(&key(&chain)).copied().unwrap_or_default();
        if ends.is_none_or(|ends| !ends.contains(&ChainEnd::Open)) {
            findings.push(side_unknown(place, why));
        }
    }
    out
}

fn side_unknown(place: Place, why: &str) -> Finding {
    let message =
        format!("it cannot be told on which side of this open edge the deck lies{why}; no rail is laid along it");
    Finding::incomplete(Code::SideUnknown, place, message).hint(
        "close the deck outline, draw both ends of the edge up to the house wall, or set `inside = \"left\"` or `\"right\"` \
         in the job file, as seen along the direction in which the edge is drawn",
    )
}

fn is_simple(chain: &Loose, findings: &mut Vec<Finding>) -> bool {
    let mut segments = Vec::with_capacity(chain.edges.len());
    segments.extend(chain.segments());
    let (at, message, hint) = match first_crossing(&segments, chain.closed) {
        Crossing::None => return true,
        Crossing::At(at) => (
            at,
            "the deck edge crosses or touches itself here, so no rail is laid along it",
            "redraw the outline without the crossing",
        ),
        Crossing::TooMany(at) => (
            at,
            "so many edges lie on each other here that it cannot be told whether the deck edge crosses itself, so no rail is \
             laid along it",
            "draw the outline once, and keep hatching off its layer",
        ),
    };
    let place = chain.edges.first().map_or_else(Place::none, Edge::place).with_point(point(at.x, at.y));
    findings.push(Finding::incomplete(Code::EdgeCrosses, place, message).hint(hint));
    false
}
