//! Flights of stairs from what is drawn on the stair layers and what the job file says.
//!
//! Takes the entities of the stair role, the deck edges and the walls; gives flights whose steps are known, and zones in
//! which the deck edge stays free; refuses what it cannot read as a flight: that keeps the edge free, and is told.

mod drawn;
mod found;
mod jobs;
mod levels;
mod lines;
mod outlines;
mod sides;
mod steps;
mod strokes;
mod text;
mod tops;
mod words;

#[cfg(test)]
mod drafts;
#[cfg(test)]
mod refusal_tests;
#[cfg(test)]
mod tests;

use crate::base::plane::{cross, dot, unit};
use crate::base::{Code, Finding, Frame, Length, Pitch, Place, Point};
use crate::cad::{Entity, Insert};
use crate::catalog::{Settings, Sides, StairJob};

use super::flight::Flight;
use super::model::{Chain, Wall, Zone};
use super::roles::Role;
use super::zones;
use drawn::{Drawn, Kind};
use found::{Finds, Found};
use levels::{Level, Levels};
use strokes::Stroke;
use text::Said;
use tops::{Case, Placed, Verdict};

/// Groups of lines of which each is told that it cannot be read; the others are told together.
const MOST_TOLD: usize = 20;

/// What a stair is read with.
pub struct Site<'a> {
    /// Entities of the stair role, in the order of the file.
    pub entities: &'a [&'a Entity],
    /// Placed blocks.
    pub inserts: &'a [Insert],
    /// Whether a layer is taken for stairs.
    pub is_stair: &'a dyn Fn(&str) -> bool,
    /// Deck edges.
    pub chains: &'a [Chain],
    /// Walls.
    pub walls: &'a [Wall],
    /// Between the plan's coordinates and the drawing's.
    pub frame: Frame,
    /// Settings.
    pub settings: &'a Settings,
}

/// A flight with what is known of its sides.
struct Built {
    flight: Flight,
    placed: Placed,
    /// Sides that somebody wants a guard on.
    wanted: Option<Sides>,
}

/// Reads the stairs: flights, and the zones that keep the deck edge free.
pub fn stairs(site: &Site<'_>, findings: &mut Vec<Finding>) -> (Vec<Flight>, Vec<Zone>) {
    let decks: Vec<Level> = if site.entities.is_empty() && site.settings.flights.is_empty() {
        Vec::new()
    } else {
        site.chains.iter().map(Level::of_chain).collect()
    };
    let decks = Levels::from(decks);
    let mut finds = found::find(site, &decks);
    let landings = finds.landings.iter().map(|l| Level::of_landing(l));
    let levels = Levels::from(decks.iter().cloned().chain(landings).collect::<Vec<_>>());
    findings.extend(found::partly_read(&finds, site));
    let flights = std::mem::take(&mut finds.flights);
    let known = jobs::matched(&site.settings.flights, flights, site.frame, findings);
    let drawn: Vec<&Drawn> = known.iter().map(|(f, _)| &f.drawn).collect();
    let said = words::assigned(&words::words(site), &drawn, site, findings);
    if finds.left_out > 0 {
        findings.push(too_many(&finds));
    }
    let strokes = |found: &Found| -> Vec<&Stroke> { found.groups.iter().flat_map(|g| finds.strokes_of(*g)).collect() };
    let mut cases: Vec<Case<'_>> = Vec::with_capacity(known.len());
    for ((found, job), (said, way_at)) in known.iter().zip(&said) {
        let strokes = strokes(found);
        let arrow = |d: &Drawn| words::arrow(d, &strokes, said.way, *way_at);
        let case = Case {
            drawn: found.drawn.clone(),
            other: found.other.clone(),
            job: *job,
            arrows: [arrow(&found.drawn), found.other.as_ref().and_then(arrow)],
        };
        findings.extend(found::middle_rail(&case, said.way.is_some(), &strokes, site));
        cases.push(case);
    }
    let verdicts = tops::decided(&cases, &levels, site.settings.touch.millimetres(), findings);
    let said: Vec<Said> = said.into_iter().map(|(s, _)| s).collect();
    let (mut built, mut out) = build(&cases, &said, &verdicts, site, findings);
    guards(&mut built, site, &levels, findings);
    for (i, b) in built.iter().enumerate() {
        out.extend(flight_zones(i, b, &levels, site));
    }
    let mut read = vec![false; finds.groups.len()];
    for group in known.iter().flat_map(|(f, _)| f.groups.iter().copied()) {
        if let Some(flag) = read.get_mut(group) {
            *flag = true;
        }
    }
    // What the job draws itself need not be read.
    let job_draws = built.iter().filter(|b| b.placed.drawn.kind == Kind::Job);
    let job_draws: Vec<Point> =
        job_draws.map(|b| b.placed.drawn.at(b.flight.length().millimetres() / 2.0, 0.0)).collect();
    out.extend(landing_zones(&finds, &levels, site));
    out.extend(unread(&finds, &read, &job_draws, site, findings));
    (built.into_iter().map(|b| b.flight).collect(), out)
}

/// Flights whose steps are known, and the zones of those whose steps are not.
fn build(
    cases: &[Case<'_>],
    said: &[Said],
    verdicts: &[Verdict],
    site: &Site<'_>,
    findings: &mut Vec<Finding>,
) -> (Vec<Built>, Vec<Zone>) {
    let (mut built, mut out) = (Vec::new(), Vec::new());
    let feet: Vec<usize> = verdicts
        .iter()
        .filter_map(|v| match v {
            Verdict::Placed(p) => p.foot.map(|t| t.level),
            _ => None,
        })
        .collect();
    for ((case, said), verdict) in cases.iter().zip(said).zip(verdicts) {
        let placed = match verdict {
            Verdict::Placed(placed) => placed,
            // What leads from no edge keeps none free, though one may run along it.
            Verdict::OffEdge => {
                out.push(zone(Vec::new(), case.drawn.place.clone(), None));
                continue;
            }
            Verdict::Unclear(why) => {
                findings.push(unclear(&case.drawn, why));
                out.push(zone(case.drawn.rectangle([0.0; 2]), case.drawn.place.clone(), None));
                continue;
            }
        };
        let drawn = &placed.drawn;
        let serial = placed.goes_on || placed.foot.is_some() || placed.top.is_some_and(|t| feet.contains(&t.level));
        let known = steps::Known { drawn, said, job: case.job, serial };
        let flight =
            steps::figures(&known, site, findings).and_then(|f| flight(built.len() + 1, placed, &f, case.job, site));
        match flight {
            Some(flight) => {
                let wanted = case.job.and_then(|j| j.guard).or(said.guard);
                built.push(Built { flight, placed: Placed::clone(placed), wanted });
            }
            None => out.push(zone(drawn.rectangle([0.0; 2]), drawn.place.clone(), None)),
        }
    }
    (built, out)
}

fn too_many(finds: &Finds) -> Finding {
    let message = format!(
        "{} more flights than the {} that are read of one plan are not laid out",
        finds.left_out,
        found::MOST_FLIGHTS
    );
    Finding::incomplete(Code::StairNotLaidOut, Place::none(), message).hint("lay the plan out in parts")
}

fn unclear(drawn: &Drawn, why: &str) -> Finding {
    let message = format!("this stair is not laid out: {why}; the deck edge is kept free");
    Finding::incomplete(Code::StairNotLaidOut, drawn.place.clone(), message).hint(
        "draw an arrow with DN or UP along it, or give a point on it with `at` and the direction in which it falls with \
         `down` in a `[[stair]]` of the job file",
    )
}

fn flight(
    number: usize,
    placed: &Placed,
    figures: &steps::Figures,
    job: Option<&StairJob>,
    site: &Site<'_>,
) -> Option<Flight> {
    let drawn = &placed.drawn;
    let mut flight = Flight {
        id: format!("F{number}"),
        risers: figures.risers,
        steps: figures.steps,
        pitch: Pitch::new(figures.steps.riser, figures.steps.tread)?,
        top: [drawn.at(0.0, drawn.half), drawn.at(0.0, -drawn.half)],
        down: drawn.axis,
        guards: Sides::Both,
        walls: Sides::None,
        handrails: job.and_then(|j| j.handrail),
        riser_variation: figures.riser_variation,
        tread_variation: figures.tread_variation,
        place: drawn.place.clone(),
    };
    flight.walls = sides::along_walls(&flight, site.walls, site.settings.touch);
    Some(flight)
}

/// Says which sides get a guard: those that stand free, unless somebody wants it otherwise.
fn guards(built: &mut [Built], site: &Site<'_>, levels: &Levels, findings: &mut Vec<Finding>) {
    let undecided: Vec<Flight> = built.iter().filter(|b| b.wanted.is_none()).map(|b| b.flight.clone()).collect();
    let mut shared = sides::shared(&undecided, findings).into_iter();
    for b in built {
        let place = || b.flight.place.clone();
        if let Some(wanted) = b.wanted {
            b.flight.guards = wanted;
            continue;
        }
        let joined = shared.next().unwrap_or(Sides::None);
        b.flight.guards = sides::without(sides::without(Sides::Both, b.flight.walls), joined);
        if b.placed.drawn.kind == Kind::Side {
            b.flight.guards = Sides::Left;
            let message =
                format!("flight {} is drawn as one line, so it has no width: one side of it gets a guard", b.flight.id);
            findings.push(Finding::note(Code::StairCompleted, place(), message).hint(
                "draw its tread lines or its outline, or give `at` and both ends of its `top` nosing in a `[[stair]]` of the \
                 job file",
            ));
        }
        if beside_deck(&b.placed, levels, site.settings.touch) {
            let message = format!(
                "a deck edge runs along flight {}; it gets a guard as any other edge, and so does that side of the flight",
                b.flight.id
            );
            findings.push(
                Finding::note(Code::StairCompleted, place(), message)
                    .hint("say with `guard` in a `[[stair]]` of the job file which sides of the flight get one"),
            );
        }
    }
}

/// Whether a deck edge runs along one of its sides, over a quarter of its length or more.
fn beside_deck(placed: &Placed, levels: &Levels, touch: Length) -> bool {
    let d = &placed.drawn;
    let reach = touch.millimetres();
    let runs = |(a, b): &(Point, Point)| {
        let ((s, p), (t, q)) = (d.local(*a), d.local(*b));
        let on = |aside: f64| (p - aside).abs() <= reach && (q - aside).abs() <= reach;
        let common = s.max(t).min(d.depth()) - s.min(t).max(0.0);
        cross(unit(*b - *a), d.axis).abs() < 0.035 && (on(d.half) || on(-d.half)) && common > d.depth() / 4.0
    };
    d.half > 0.0 && levels.iter().filter(|l| l.deck).any(|l| l.chords.iter().any(runs))
}

fn zone(hull: Vec<Point>, place: Place, flight: Option<usize>) -> Zone {
    let mut hull = hull;
    hull.dedup();
    Zone { hull, strokes: Vec::new(), has_arc: false, role: Role::Stair, place, flight }
}

/// The deck edge is free where the flight's rectangle meets it, between the rail lines of its sides. Where a deck edge
/// runs along the flight, only its head and foot keep the edge free: one can fall from the deck onto the steps.
fn flight_zones(index: usize, built: &Built, levels: &Levels, site: &Site<'_>) -> Vec<Zone> {
    let Built { flight, placed, .. } = built;
    let (side, own) = (site.settings.system.post.side, site.settings.stairs.inset);
    let inset = own.unwrap_or(-side.half()) + side.half();
    let inward = |guarded: bool| if guarded { inset.millimetres() } else { 0.0 };
    let inward = [inward(flight.guards.right()), inward(flight.guards.left())];
    let on_deck = |t: Option<levels::Touch>| t.filter(|t| levels.get(t.level).is_some_and(|l| l.deck));
    let (top, foot) = (on_deck(placed.top), on_deck(placed.foot));
    if top.is_none() && foot.is_none() && placed.drawn.kind != Kind::Job {
        // It goes on from a landing that is no deck.
        return Vec::new();
    }
    let drawn = &placed.drawn;
    let depth = if drawn.kind == Kind::Job { flight.length().millimetres() } else { drawn.depth() };
    // From edge to edge, where the first or last nosing stands a little before it.
    let short = |t: Option<levels::Touch>| t.map_or(0.0, |t| t.gap).max(0.0);
    let near = |gap: f64| if gap > drawn.spacing() / 2.0 { 0.0 } else { gap };
    let (before, after) = (near(short(top)), near(short(foot)));
    let drawn = Drawn { start: drawn.at(-before, 0.0), lines: vec![0.0, before + depth + after], ..drawn.clone() };
    if !beside_deck(placed, levels, site.settings.touch) {
        return vec![zone(drawn.rectangle(inward), flight.place.clone(), Some(index))];
    }
    let strip = |from: f64| {
        let strip = Drawn { start: drawn.at(from, 0.0), lines: vec![0.0, 1.0], ..drawn.clone() };
        zone(strip.rectangle(inward), flight.place.clone(), Some(index))
    };
    let foot = foot.map(|_| strip(drawn.depth() - 1.0));
    top.map(|_| strip(0.0)).into_iter().chain(foot).collect()
}

/// A landing drawn with the stair that lies on a deck edge keeps it free, too.
fn landing_zones(finds: &Finds, levels: &Levels, site: &Site<'_>) -> Vec<Zone> {
    let touch = site.settings.touch.millimetres();
    let on_deck = |corners: &[Point]| {
        let next = corners.iter().cycle().skip(1);
        corners.iter().zip(next).any(|(a, b)| {
            let middle = (*a + *b) / 2.0;
            levels.iter().filter(|l| l.deck).flat_map(|l| &l.chords).any(|(p, q)| {
                let (distance, _) = crate::base::plane::to_segment(middle, *p, *q);
                distance <= touch && dot(unit(*b - *a), unit(*q - *p)).abs() > 0.99
            })
        })
    };
    let on_deck = finds.landings.iter().filter(|l| on_deck(l));
    on_deck.map(|l| zone(l.clone(), l.first().map_or_else(Place::none, |p| Place::at(*p)), None)).collect()
}

/// The straight strokes of a group, each with the number of its entity.
fn own_strokes(finds: &Finds, group: usize) -> Vec<(Point, Point, usize)> {
    finds.strokes_of(group).filter(|s| s.straight && s.a != s.b).map(|s| (s.a, s.b, s.entity)).collect()
}

/// Groups of lines that no flight was found in: they keep the deck edge free as far as their own lines run along it, and
/// are told.
fn unread(
    finds: &Finds,
    read: &[bool],
    job_draws: &[Point],
    site: &Site<'_>,
    findings: &mut Vec<Finding>,
) -> Vec<Zone> {
    let mut out = Vec::new();
    for (g, chosen) in finds.groups.iter().enumerate().filter(|(g, _)| read.get(*g) != Some(&true)) {
        let own: Vec<&Entity> = chosen.iter().filter_map(|i| site.entities.get(*i).copied()).collect();
        let points: Vec<Point> = own.iter().flat_map(|e| zones::points_of(e)).collect();
        let Some((first, at)) = own.first().zip(points.first()) else { continue };
        let (hull, place) = (zones::hull(&points), first.place(*at));
        if hull.len() > 2 && job_draws.iter().any(|p| strokes::holds(&hull, *p)) {
            continue;
        }
        let odd = finds.odd.iter().find(|o| finds.group_of.get(o.entity) == Some(&Some(g)));
        out.push(Zone { strokes: own_strokes(finds, g), ..zone(hull, place.clone(), None) });
        if out.len() > MOST_TOLD {
            continue;
        }
        let why = odd.map_or("no tread lines, rectangle or sloping line was found in it", |o| o.why.as_str());
        let place = odd.map_or(place.clone(), |o| place.with_point(o.at));
        let message = format!("this stair is not laid out: {why}; the deck edge is kept free");
        findings.push(Finding::incomplete(Code::StairNotLaidOut, place, message).hint(
            "draw each nosing as a line from side to side, or the flight as a rectangle, or give the `top` nosing of the \
             flight in a `[[stair]]` of the job file",
        ));
    }
    if out.len() > MOST_TOLD {
        let message = format!("{} more groups of lines on the stair layers are no stairs", out.len() - MOST_TOLD);
        findings.push(
            Finding::incomplete(Code::StairNotLaidOut, Place::none(), message)
                .hint("draw the stairs on a layer of their own: --layer stair=NAME"),
        );
    }
    out
}
