//! What stands around the rails on the plan: deck edges, walls, openings, stairs, zones. With it a layout can be proved
//! from its file: that no stretch of the deck stays open.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::base::{Length, Point};
use crate::deck::{ChainEnd, Plan, Role};
use crate::guard::Kept;

use super::convert::{Pen, Reader, RecordError};
use super::record::PointRecord;

/// Walls this near (4 ft) to the box around a deck edge are kept.
const AROUND_MM: f64 = 1_219.2;

/// A corner of a deck edge, with the bulge of the stretch that begins there (DXF reference, LWPOLYLINE group 42).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Position.
    pub at: Point,
    /// Bulge; 0 is straight.
    pub bulge: f64,
}

/// Deck edges in a row, with the deck on the right-hand side.
#[derive(Debug, Clone, PartialEq)]
pub struct DeckEdge {
    /// Its corners; of an open one the last is its end.
    pub corners: Vec<Corner>,
    /// What its two ends end at; `None` for a closed one.
    pub ends: Option<[ChainEnd; 2]>,
}

/// A stretch of deck edge that an opening or a stair keeps free.
#[derive(Debug, Clone, PartialEq)]
pub struct Mouth {
    /// Opening or stair.
    pub role: Role,
    /// Index into [`Layout::flights`](super::Layout::flights) of the flight that meets the edge there.
    pub flight: Option<usize>,
    /// The stretch, from left to right as seen from the deck looking out.
    pub along: Vec<Point>,
}

/// What stands around the rails.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// How near walls, openings and stairs were taken to belong to an edge.
    pub touch: Length,
    /// Deck edges.
    pub edges: Vec<DeckEdge>,
    /// Walls' faces near them.
    pub walls: Vec<(Point, Point)>,
    /// Stretches that openings and stairs keep free.
    pub mouths: Vec<Mouth>,
    /// Stretches between two walls that are taken for doors.
    pub doors: Vec<Vec<Point>>,
    /// Zones in which no line post may stand.
    pub keep_out: Vec<Vec<Point>>,
}

impl Site {
    /// What of a plan stands around the rails.
    pub fn of(plan: &Plan, kept: Kept, touch: Length) -> Self {
        let edges = plan.chains.iter().map(|chain| {
            let corners = chain.edges.iter().map(|e| Corner { at: e.a, bulge: e.bulge });
            let end = chain.edges.last().filter(|_| !chain.is_closed()).map(|e| Corner { at: e.b, bulge: 0.0 });
            DeckEdge { corners: corners.chain(end).collect(), ends: chain.ends }
        });
        let edges: Vec<DeckEdge> = edges.collect();
        let mut near = BTreeSet::new();
        for edge in &edges {
            let around = plan.walls.around(edge.corners.iter().map(|c| c.at), AROUND_MM);
            near.extend(around.map(|(i, _)| i));
        }
        for flight in &plan.flights {
            let far = flight.down * flight.length().millimetres();
            let corners = flight.top.into_iter().flat_map(|top| [top, top + far]);
            near.extend(plan.walls.around(corners, AROUND_MM).map(|(i, _)| i));
        }
        let mouth = |(zone, along): (usize, Vec<Point>)| {
            let zone = plan.zones.get(zone)?;
            Some(Mouth { role: zone.role, flight: zone.flight, along })
        };
        Self {
            touch,
            edges,
            walls: near.into_iter().filter_map(|i| plan.walls.get(i)).map(|w| (w.a, w.b)).collect(),
            mouths: kept.mouths.into_iter().filter_map(mouth).collect(),
            doors: kept.doors,
            keep_out: plan.keep_out.to_vec(),
        }
    }
}

/// What stands around the rails on the plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SiteRecord {
    /// How near walls, openings and stairs were taken to belong to an edge.
    pub touch: f64,
    /// Deck edges, the deck on the right-hand side.
    pub edges: Vec<DeckEdgeRecord>,
    /// Walls' faces near them, each from its start to its end.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub walls: Vec<[PointRecord; 2]>,
    /// Stretches that openings and stairs keep free.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub mouths: Vec<MouthRecord>,
    /// Stretches between two walls that are taken for doors.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub doors: Vec<Vec<PointRecord>>,
    /// Zones in which no line post may stand.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub keep_out: Vec<Vec<PointRecord>>,
}

/// Deck edges in a row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DeckEdgeRecord {
    /// Its corners.
    pub corners: Vec<CornerRecord>,
    /// What its two ends end at; absent where it is closed.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub ends: Option<[EndAtRecord; 2]>,
}

/// A corner of a deck edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CornerRecord {
    /// x in drawing units.
    pub x: f64,
    /// y in drawing units.
    pub y: f64,
    /// Bulge of the stretch that begins there: tangent of a quarter of its angle, positive counter-clockwise.
    #[serde(skip_serializing_if = "is_zero", default)]
    pub bulge: f64,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_zero(number: &f64) -> bool {
    *number == 0.0
}

/// What an open deck edge ends at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum EndAtRecord {
    /// A wall.
    Wall,
    /// A drawn post.
    Post,
    /// Nothing, as the job states.
    Stated,
    /// Nothing.
    Open,
}

/// A stretch of deck edge that is kept free.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MouthRecord {
    /// Whether a stair keeps it free; else an opening.
    pub stair: bool,
    /// Id of the flight.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub flight: Option<String>,
    /// From left to right as seen from the deck looking out.
    pub along: Vec<PointRecord>,
}

const ENDS: [(ChainEnd, EndAtRecord); 4] = [
    (ChainEnd::Wall, EndAtRecord::Wall),
    (ChainEnd::Post, EndAtRecord::Post),
    (ChainEnd::Stated, EndAtRecord::Stated),
    (ChainEnd::Open, EndAtRecord::Open),
];

impl Pen {
    pub(super) fn site(&self, site: &Site, flights: &[crate::deck::Flight]) -> SiteRecord {
        let points = |all: &[Point]| all.iter().map(|p| self.point(*p)).collect::<Vec<PointRecord>>();
        let corner = |c: &Corner| {
            let p = self.point(c.at);
            CornerRecord { x: p.x, y: p.y, bulge: c.bulge }
        };
        let end = |end: ChainEnd| ENDS.iter().find(|(e, _)| *e == end).map_or(EndAtRecord::Open, |(_, r)| *r);
        SiteRecord {
            touch: self.length(site.touch),
            edges: site
                .edges
                .iter()
                .map(|e| DeckEdgeRecord {
                    corners: e.corners.iter().map(corner).collect(),
                    ends: e.ends.map(|ends| ends.map(end)),
                })
                .collect(),
            walls: site.walls.iter().map(|(a, b)| [self.point(*a), self.point(*b)]).collect(),
            mouths: site
                .mouths
                .iter()
                .map(|m| MouthRecord {
                    stair: m.role == Role::Stair,
                    flight: m.flight.and_then(|i| flights.get(i)).map(|f| f.id.clone()),
                    along: points(&m.along),
                })
                .collect(),
            doors: site.doors.iter().map(|d| points(d)).collect(),
            keep_out: site.keep_out.iter().map(|z| points(z)).collect(),
        }
    }
}

impl Reader<'_> {
    pub(super) fn site(&self, site: &SiteRecord) -> Result<Site, RecordError> {
        let points = |all: &[PointRecord]| all.iter().map(|p| self.point(*p)).collect::<Vec<Point>>();
        let corner = |c: &CornerRecord| Corner { at: self.point(PointRecord { x: c.x, y: c.y }), bulge: c.bulge };
        let end = |end: EndAtRecord| ENDS.iter().find(|(_, r)| *r == end).map_or(ChainEnd::Open, |(e, _)| *e);
        let flight = |id: &String| {
            let found = self.record.flights.iter().position(|f| f.id == *id);
            found.ok_or_else(|| RecordError::new(format!("site: there is no flight `{id}`")))
        };
        let mouth = |m: &MouthRecord| {
            if m.flight.is_some() && !m.stair {
                return Err(RecordError::new("site: an opening is none of a flight".to_owned()));
            }
            Ok(Mouth {
                role: if m.stair { Role::Stair } else { Role::Opening },
                flight: m.flight.as_ref().map(flight).transpose()?,
                along: points(&m.along),
            })
        };
        let edge = |e: &DeckEdgeRecord| DeckEdge {
            corners: e.corners.iter().map(corner).collect(),
            ends: e.ends.map(|ends| ends.map(end)),
        };
        Ok(Site {
            touch: self.size("site.touch", site.touch)?,
            edges: site.edges.iter().map(edge).collect(),
            walls: site.walls.iter().map(|[a, b]| (self.point(*a), self.point(*b))).collect(),
            mouths: site.mouths.iter().map(mouth).collect::<Result<_, _>>()?,
            doors: site.doors.iter().map(|d| points(d)).collect(),
            keep_out: site.keep_out.iter().map(|z| points(z)).collect(),
        })
    }
}
