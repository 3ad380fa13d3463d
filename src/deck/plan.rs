//! The strict plan, and how it is made from the drawing's entities.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::base::plane::{distance, point};
use crate::base::{Code, Extent, Finding, Frame, Length, Near, Piece, Place, Point, Refusal, decimal};
use crate::cad::{Drawing, Entity, Origin, Shape};
use crate::catalog::Settings;

use super::chain::{self, Loose};
use super::cross::{Crossing, first_crossing};
use super::edits::{Edits, edits};
use super::flight::Flight;
use super::levels;
use super::picks;
use super::posts::posts;
use super::rings::Rings;
use super::roles::{Role, Roles};
use super::side;
use super::stairs::Site;
use super::zones;

/// A stretch of deck edge.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// Start.
    pub a: Point,
    /// End.
    pub b: Point,
    /// Bulge of an arc edge; 0 is straight.
    pub bulge: f64,
    /// Arc, or part of what an ellipse or spline was fitted with.
    pub curved: bool,
    /// Entity that drew it.
    pub origin: Origin,
    /// Its layer, which many edges share.
    pub layer: Arc<str>,
}

/// How far chords may leave an arc edge where only its course matters, not its length: inside or outside, crossing or
/// not (0.1 mm).
pub const CHORD_MM: f64 = 0.1;

impl Edge {
    /// A straight one that nothing drew.
    #[cfg(test)]
    pub fn straight((a, b): (&Point, &Point)) -> Self {
        Self { a: *a, b: *b, bulge: 0.0, curved: false, origin: Origin::default(), layer: "".into() }
    }

    /// Its course.
    pub const fn piece(&self) -> Piece {
        Piece { a: self.a, b: self.b, bulge: self.bulge }
    }

    /// Half way along it.
    pub fn middle(&self) -> Point {
        let piece = self.piece();
        piece.at(piece.length() / 2.0)
    }

    /// Its place, in its middle.
    pub fn place(&self) -> Place {
        Place {
            at: Some(self.middle()),
            handle: self.origin.handle,
            line: self.origin.line,
            layer: Some(self.layer.to_string()),
            ..Place::default()
        }
    }
}

/// Edges in a row, without a crossing, with the deck on the right-hand side: left to right as seen from the deck
/// looking out.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Edges, each beginning where the one before ends.
    pub edges: Vec<Edge>,
    /// Whether it is a ring.
    pub closed: bool,
}

/// A straight piece of a wall's face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Start.
    pub a: Point,
    /// End.
    pub b: Point,
}

impl Extent for Wall {
    fn extent(&self) -> impl Iterator<Item = Point> {
        [self.a, self.b].into_iter()
    }
}

/// A convex area that keeps the edge beneath it free of guard: an opening, or the foot of a stair.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Corners of the hull; two for a line.
    pub hull: Vec<Point>,
    /// Opening or stair.
    pub role: Role,
    /// Where it is.
    pub place: Place,
    /// Index into [`Plan::flights`] of the flight whose head or foot it is; `None` where no rails are laid along the stair.
    pub flight: Option<usize>,
}

impl Extent for Zone {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.hull.iter().copied()
    }
}

/// A post that the user drew.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnPost {
    /// Centre.
    pub at: Point,
    /// Side of its square, or diameter, in mm; unknown for a point.
    pub side_mm: Option<f64>,
    /// Its turn; unknown for points and circles.
    pub rotation: Option<crate::base::Angle>,
    /// Where it stands in the drawing.
    pub place: Place,
    /// Whether it is a post of an earlier layout that the user moved or copied.
    pub kept: bool,
}

impl Extent for DrawnPost {
    fn extent(&self) -> impl Iterator<Item = Point> {
        self.at.extent()
    }
}

/// A line of the user's plan, kept as background for drawings.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// What it shows.
    pub role: Role,
    /// Its points.
    pub points: Vec<Point>,
    /// Whether it closes.
    pub closed: bool,
}

/// The plan as all later stages see it.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Between its coordinates and the drawing's.
    pub frame: Frame,
    /// Deck edges.
    pub chains: Vec<Chain>,
    /// Walls' faces.
    pub walls: Near<Wall>,
    /// Openings and stairs.
    pub zones: Near<Zone>,
    /// Flights of stairs whose steps are known.
    pub flights: Vec<Flight>,
    /// Posts.
    pub posts: Vec<DrawnPost>,
    /// Convex zones in which no line post may stand.
    pub keep_out: Near<Vec<Point>>,
    /// Joists, straight.
    pub joists: Near<(Point, Point)>,
    /// What the user changed in an earlier layout.
    pub edits: Edits,
    /// Background.
    pub outlines: Vec<Outline>,
}

impl Plan {
    /// A plan with nothing on it.
    pub fn empty(frame: Frame) -> Self {
        Self {
            frame,
            chains: Vec::new(),
            walls: Near::default(),
            zones: Near::default(),
            flights: Vec::new(),
            posts: Vec::new(),
            keep_out: Near::default(),
            joists: Near::default(),
            edits: Edits::none(),
            outlines: Vec::new(),
        }
    }
}

/// Deck edges of more than 10 km in all are no deck: the drawing's unit is wrong, or the layer.
const LONGEST_MM: f64 = 1e7;

/// Makes the plan.
///
/// # Errors
/// When no layer that is taken for the deck edge holds an edge, or the edges are longer than any deck's.
pub fn plan(drawing: &Drawing, settings: &Settings) -> Result<(Plan, Vec<Finding>), Refusal> {
    let roles = Roles::new(&settings.layers);
    let mut findings = doubtful_layers(drawing, &roles);
    let picked = picks::picked(drawing, roles.picks(), &mut findings);
    let drawing = &*picked;
    let mut by_role: [Vec<&Entity>; Role::ALL.len()] = Default::default();
    // Large plans have many entities and few layers: each name is matched once.
    let mut known: BTreeMap<&str, Option<Role>> = BTreeMap::new();
    for entity in &drawing.entities {
        let role = *known.entry(&entity.layer).or_insert_with(|| roles.of(&entity.layer).map(|t| t.role));
        if let Some(list) = role.and_then(|r| by_role.get_mut(r as usize)) {
            list.push(entity);
        }
    }
    let [edges, openings, post_entities, stairs, wall_entities, zones_out, joists] = by_role;
    not_used(&edges, Role::Edge, &mut findings);
    not_used(&wall_entities, Role::Wall, &mut findings);
    levels::tell(&edges, drawing.frame.unit, &mut findings);
    let joists: Vec<(Point, Point)> = walls(&joists).into_iter().map(|w| (w.a, w.b)).collect();
    let walls = Near::from(walls(&wall_entities));
    let loose = chain::chains(&edges, settings.join, &mut findings);
    if loose.is_empty() {
        return Err(no_edge(drawing, &roles, findings));
    }
    if let Some(finding) = too_long(&loose, drawing.frame) {
        return Err(Refusal { finding: Box::new(finding), others: findings });
    }
    let chains = oriented(loose, &walls, settings, &mut findings);
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
    let mut posts = posts(&post_entities, drawing, &roles, settings.join, &mut findings);
    let keep_out = zones::keep_out(&zones_out);
    let (edits, kept) = edits(drawing, &mut findings);
    // One that stands where a post is drawn is that post.
    let near_mm = Length::INCH.millimetres() / 2.0;
    let drawn = Near::from(posts.iter().map(|p| p.at).collect::<Vec<Point>>());
    let is_new = |k: &DrawnPost| drawn.around([k.at], near_mm).all(|(_, p)| distance(*p, k.at) > near_mm);
    posts.extend(kept.into_iter().filter(is_new));
    let background =
        [(Role::Edge, &edges), (Role::Opening, &openings), (Role::Stair, &stairs), (Role::Wall, &wall_entities)];
    let outlines = background.into_iter().flat_map(|(role, list)| outlines(role, list)).collect();
    Ok((
        Plan {
            frame: drawing.frame,
            chains,
            walls,
            zones: zones.into(),
            flights,
            posts,
            keep_out: keep_out.into(),
            joists: joists.into(),
            edits,
            outlines,
        },
        findings,
    ))
}

fn doubtful_layers(drawing: &Drawing, roles: &Roles) -> Vec<Finding> {
    let doubtful = |name: &str| roles.of(name).and_then(|t| t.also.map(|also| (t.role, also)));
    drawing
        .layers
        .iter()
        .filter(|l| !l.counts.is_empty())
        .filter_map(|l| doubtful(&l.name).map(|(role, also)| (l, role, also)))
        .map(|(layer, role, also)| {
            let place = Place { layer: Some(layer.name.clone()), ..Place::default() };
            Finding::warning(
                Code::LayerDoubtful,
                place,
                format!(
                    "the layer's name fits both {} and {}; it is taken for {}",
                    role.word(),
                    also.word(),
                    role.word()
                ),
            )
            .hint(format!("say what it is with --layer {}={} or in the job file", also.word(), layer.name))
        })
        .collect()
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
        findings.push(Finding::warning(
            Code::EntityNotUsed,
            entity.place(at),
            format!("{what} on the {} layer is not used", role.word()),
        ));
    }
}

fn walls(entities: &[&Entity]) -> Vec<Wall> {
    outlines(Role::Wall, entities)
        .flat_map(|o| {
            let next: Vec<Point> =
                o.points.iter().skip(1).chain(o.points.first().filter(|_| o.closed)).copied().collect();
            o.points.into_iter().zip(next).map(|(a, b)| Wall { a, b }).collect::<Vec<_>>()
        })
        .filter(|w| w.a != w.b)
        .collect()
}

fn outlines<'a>(role: Role, entities: &'a [&Entity]) -> impl Iterator<Item = Outline> + 'a {
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

/// Turns each chain so that the deck is on its right; leaves out those that cross themselves or whose side is unknown.
fn oriented(loose: Vec<Loose>, walls: &Near<Wall>, settings: &Settings, findings: &mut Vec<Finding>) -> Vec<Chain> {
    let simple: Vec<Loose> = loose.into_iter().filter(|c| is_simple(c, findings)).collect();
    let rings = Rings::new(simple.iter().filter(|c| c.closed).map(|c| c.edges.as_slice()));
    let mut ring = 0;
    let mut out = Vec::with_capacity(simple.len());
    for chain in simple {
        let right = if chain.closed {
            ring += 1;
            chain.edges.first().map(|e| rings.deck_is_right(ring - 1, e.middle()))
        } else {
            side::deck_is_right(&chain, &rings, walls, settings)
        };
        let Some(right) = right else {
            let place = chain.edges.first().map_or_else(Place::none, Edge::place);
            findings.push(
                Finding::error(
                    Code::SideUnknown,
                    place,
                    "it cannot be told on which side of this open edge the deck lies, so no rail is laid along it",
                )
                .hint("close the deck outline, draw the house wall, or set `inside = \"left\"` or `\"right\"` in the job file"),
            );
            continue;
        };
        let edges = if right { chain.edges } else { chain::reversed(chain.edges) };
        out.push(Chain { edges, closed: chain.closed });
    }
    out
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
    findings.push(Finding::error(Code::EdgeCrosses, place, message).hint(hint));
    false
}
