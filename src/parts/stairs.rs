//! Stairs in `layout.json`: flights, handrails and the slope of raked panels, both ways.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::base::{Length, Pitch, plane};
use crate::catalog::Sides;
use crate::deck::{Flight, Steps};
use crate::guard::{Before, Falls, Handrail, Rake};

use super::convert::{Pen, Reader, RecordError, rounded};
use super::record::{EndRecord, PlaceRecord, PointRecord};

/// A flight of stairs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FlightRecord {
    /// `F1`, `F2` ...
    pub id: String,
    /// Number of risers.
    pub risers: u32,
    /// Size of the steps.
    #[serde(flatten)]
    pub steps: StepsRecord,
    /// Left end of the top nosing, as seen from the top looking down.
    pub top_left: PointRecord,
    /// Right end of the top nosing.
    pub top_right: PointRecord,
    /// Direction in which it falls, degrees from the x axis.
    pub down: f64,
    /// Sides with a guard.
    pub guards: Sides,
    /// Sides along a wall.
    pub walls: Sides,
    /// Sides that the job wants a handrail on.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub handrails: Option<Sides>,
    /// Largest difference between two risers.
    pub riser_variation: f64,
    /// Largest difference between two treads.
    pub tread_variation: f64,
    /// Where it is drawn.
    #[serde(skip_serializing_if = "is_nowhere", default)]
    pub place: PlaceRecord,
}

/// Size of the steps of a flight.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StepsRecord {
    /// Height of each riser.
    pub riser: f64,
    /// Depth of each tread, from nosing to nosing.
    pub tread: f64,
    /// Projection of each nosing beyond the riser beneath it.
    pub nosing: f64,
}

/// The slope of a raked panel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RakeRecord {
    /// The slope is `rise` on `run`.
    pub rise: f64,
    /// See `rise`.
    pub run: f64,
    /// Which end is the low one.
    pub falls: EndRecord,
    /// The stair beneath, where it is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub steps: Option<StepsRecord>,
    /// Level distance from the top nosing down to the upper face, where it is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub start: Option<f64>,
}

/// A handrail.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HandrailRecord {
    /// `H1`, `H2` ...
    pub id: String,
    /// Id of its flight.
    pub flight: String,
    /// On which side of it, as seen from the top looking down.
    pub side: EndRecord,
    /// What it stands before.
    pub before: BeforeRecord,
    /// Its centre line above the top nosing.
    pub top: PointRecord,
    /// Its centre line above the lowest nosing.
    pub foot: PointRecord,
    /// Top above the nosing line.
    pub height: f64,
    /// Length along the slope, without the extensions.
    pub length: f64,
    /// Level piece beyond the top nosing.
    pub extension_top: f64,
    /// Sloping piece beyond the lowest nosing.
    pub extension_bottom: f64,
    /// Brackets, from its upper end.
    pub brackets: Vec<f64>,
}

/// What a handrail stands before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BeforeRecord {
    /// The guard.
    Guard,
    /// A wall.
    Wall,
}

fn is_nowhere(place: &PlaceRecord) -> bool {
    *place == PlaceRecord::default()
}

const fn end(is_left: bool) -> EndRecord {
    if is_left { EndRecord::Left } else { EndRecord::Right }
}

impl Pen {
    fn steps(&self, steps: &Steps) -> StepsRecord {
        StepsRecord {
            riser: self.length(steps.riser),
            tread: self.length(steps.tread),
            nosing: self.length(steps.nosing),
        }
    }

    pub(super) fn flight(&self, flight: &Flight) -> FlightRecord {
        let [left, right] = flight.top;
        FlightRecord {
            id: flight.id.clone(),
            risers: flight.risers,
            steps: self.steps(&flight.steps),
            top_left: self.point(left),
            top_right: self.point(right),
            down: rounded(plane::angle_of(flight.down).degrees()),
            guards: flight.guards,
            walls: flight.walls,
            handrails: flight.handrails,
            riser_variation: self.length(flight.riser_variation),
            tread_variation: self.length(flight.tread_variation),
            place: self.place(&flight.place),
        }
    }

    pub(super) fn rake(&self, rake: &Rake) -> RakeRecord {
        RakeRecord {
            rise: self.length(rake.pitch.rise()),
            run: self.length(rake.pitch.run()),
            falls: end(rake.falls == Falls::Left),
            steps: rake.steps.as_ref().map(|s| self.steps(s)),
            start: rake.start.map(|s| self.length(s)),
        }
    }

    pub(super) fn handrail(&self, rail: &Handrail, flights: &[Flight]) -> HandrailRecord {
        let [top, foot] = rail.line;
        HandrailRecord {
            id: rail.id.clone(),
            flight: flights.get(rail.flight).map_or_else(String::new, |f| f.id.clone()),
            side: end(rail.left),
            before: match rail.before {
                Before::Guard => BeforeRecord::Guard,
                Before::Wall => BeforeRecord::Wall,
            },
            top: self.point(top),
            foot: self.point(foot),
            height: self.length(rail.height),
            length: self.length(rail.length),
            extension_top: self.length(rail.extension_top),
            extension_bottom: self.length(rail.extension_bottom),
            brackets: self.lengths(&rail.brackets),
        }
    }
}

impl Reader<'_> {
    fn steps(&self, what: &str, steps: &StepsRecord) -> Result<Steps, RecordError> {
        let length = |number| self.length(what, number);
        Ok(Steps { riser: length(steps.riser)?, tread: length(steps.tread)?, nosing: length(steps.nosing)? })
    }

    pub(super) fn flight(&self, f: &FlightRecord) -> Result<Flight, RecordError> {
        let steps = self.steps(&f.id, &f.steps)?;
        let pitch = steps.pitch().ok_or_else(|| RecordError::new(format!("flight {}: no riser or no tread", f.id)))?;
        Ok(Flight {
            id: f.id.clone(),
            risers: f.risers,
            steps,
            pitch,
            top: [self.point(f.top_left), self.point(f.top_right)],
            down: plane::direction(crate::base::Angle::from_degrees(f.down)),
            guards: f.guards,
            walls: f.walls,
            handrails: f.handrails,
            riser_variation: self.size(&f.id, f.riser_variation)?,
            tread_variation: self.size(&f.id, f.tread_variation)?,
            place: self.place(&f.place),
        })
    }

    /// The index of the flight of that id.
    pub(super) fn flight_of(&self, what: &str, id: &str) -> Result<usize, RecordError> {
        let index = self.record.flights.iter().position(|f| f.id == id);
        index.ok_or_else(|| RecordError::new(format!("{what} names flight {id}, which is not there")))
    }

    pub(super) fn rake(&self, panel: &str, r: &RakeRecord) -> Result<Rake, RecordError> {
        let (rise, run) = (self.length(panel, r.rise)?, self.length(panel, r.run)?);
        let start = r.start.map(|s| self.length(panel, s)).transpose()?;
        Ok(Rake {
            pitch: Pitch::new(rise, run).ok_or_else(|| {
                RecordError::new(format!("panel {panel}: a slope of {} on {} is none", r.rise, r.run))
            })?,
            falls: if r.falls == EndRecord::Left { Falls::Left } else { Falls::Right },
            steps: r.steps.as_ref().map(|s| self.steps(panel, s)).transpose()?,
            start,
        })
    }

    pub(super) fn handrail(&self, h: &HandrailRecord) -> Result<Handrail, RecordError> {
        let length = |number| -> Result<Length, RecordError> { self.length(&h.id, number) };
        Ok(Handrail {
            id: h.id.clone(),
            flight: self.flight_of(&h.id, &h.flight)?,
            left: h.side == EndRecord::Left,
            before: match h.before {
                BeforeRecord::Guard => Before::Guard,
                BeforeRecord::Wall => Before::Wall,
            },
            line: [self.point(h.top), self.point(h.foot)],
            height: length(h.height)?,
            length: length(h.length)?,
            extension_top: length(h.extension_top)?,
            extension_bottom: length(h.extension_bottom)?,
            brackets: self.lengths(&h.id, &h.brackets)?,
        })
    }
}
