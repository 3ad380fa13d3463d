//! The drawing's unit: what the file says, what the user says, and what to tell when neither does.

use super::Shape;
use super::index::Index;
use super::report::Report;
use super::resolve::Resolved;
use crate::base::plane::point;
use crate::base::{Code, Finding, Place, Point, Refusal, Unit, decimal};

/// What helps somebody whose drawing does not say enough.
const PROPOSE: &str = "`plumbrail inspect PLAN --write-job job.toml` propose it";

/// What `$INSUNITS` says; `None` when that is no unit that a deck is drawn in.
pub fn written(index: &Index, bytes: &[u8]) -> Option<Unit> {
    index.header.insunits.and_then(|tag| index.source(bytes).int(&tag)).and_then(Unit::from_insunits)
}

/// What `$INSUNITS` and the user say together; `None` when nobody says a unit that a deck is drawn in.
pub fn decide(index: &Index, bytes: &[u8], given: Option<Unit>, report: &mut Report) -> Option<Unit> {
    let source = index.source(bytes);
    let written = written(index, bytes);
    let line = |tag: Option<super::tag::Tag>| tag.filter(|t| t.line != 0).map(|t| u64::from(t.line));
    let place = Place { line: line(index.header.insunits), ..Place::none() };
    if let (Some(given), Some(written)) = (given, written)
        && given != written
    {
        let message = format!(
            "the drawing says that its unit is {}, --units says {}; --units is followed",
            written.sign(),
            given.sign()
        );
        report.add(
            Finding::warning(Code::UnitsDoubtful, place, message).hint("leave --units out if the drawing is right"),
        );
        return Some(given);
    }
    let unit = given.or(written)?;
    let metric = index.header.measurement.and_then(|tag| source.int(&tag)).map(|m| m == 1);
    if given.is_none() && metric.is_some_and(|m| m == unit.is_imperial()) {
        let system = if unit.is_imperial() { "metric" } else { "imperial" };
        let message = format!("$INSUNITS says {}, but $MEASUREMENT says {system}", unit.sign());
        let place = Place { line: line(index.header.measurement), ..Place::none() };
        let hint =
            format!("check one length; if the unit is {}, --units {} ends this warning", unit.sign(), unit.sign());
        report.add(Finding::warning(Code::UnitsDoubtful, place, message).hint(hint));
    }
    Some(unit)
}

/// Lower left and upper right corner of everything.
pub fn extents(resolved: &Resolved) -> Option<(Point, Point)> {
    let mut corners: Option<(Point, Point)> = None;
    let mut add = |p: Point| {
        let (low, high) = corners.unwrap_or((p, p));
        corners = Some((point(low.x.min(p.x), low.y.min(p.y)), point(high.x.max(p.x), high.y.max(p.y))));
    };
    for entity in &resolved.entities {
        match &entity.shape {
            Shape::Path { vertices, .. } => vertices.iter().for_each(|v| add(v.at)),
            Shape::Circle { centre, radius } => {
                add(point(centre.x - radius, centre.y - radius));
                add(point(centre.x + radius, centre.y + radius));
            }
            Shape::Point(p) | Shape::Text { at: p, .. } => add(*p),
            Shape::Curve { points, .. } => points.iter().for_each(|p| add(*p)),
        }
    }
    corners
}

/// Nobody says the unit: tells how large the plan would be in each.
pub fn missing(index: &Index, bytes: &[u8], resolved: &Resolved) -> Refusal {
    let source = index.source(bytes);
    let code = index.header.insunits.and_then(|tag| source.int(&tag)).filter(|c| *c != 0);
    let why = code.map_or_else(
        || "the drawing does not say its unit".to_owned(),
        |c| format!("the drawing's unit ($INSUNITS {c}) is none that a deck is drawn in"),
    );
    let sizes = extents(resolved).map(|(low, high)| sizes(high - low));
    let message = sizes.map_or_else(|| why.clone(), |sizes| format!("{why}; the plan would be {sizes}"));
    let line = index.header.insunits.filter(|t| t.line != 0).map(|t| u64::from(t.line));
    let place = Place { line, ..Place::none() };
    let signs: Vec<&str> = Unit::CANDIDATES.iter().map(|u| u.sign()).collect();
    Refusal::new(
        Finding::error(Code::UnitsMissing, place, message)
            .hint(format!("say it with --units {}, or let {PROPOSE}", signs.join("|"))),
    )
}

fn sizes(extent: Point) -> String {
    let one = |unit: Unit| {
        let shown = if unit.is_imperial() { Unit::Foot } else { Unit::Metre };
        let side = |v: f64| decimal(v * unit.millimetres() / shown.millimetres(), 2);
        let (x, y) = (side(extent.x), side(extent.y));
        format!("{x} {s} x {y} {s} if drawn in {u}", s = shown.sign(), u = unit.sign())
    };
    Unit::CANDIDATES.map(one).join(", ")
}
