//! Everything on the stair layers that may be a flight, and the landings between.

use std::collections::BTreeMap;

use crate::base::plane::{distance, dot, left, unit};
use crate::base::{Code, Finding, Point};
use crate::cad::{Entity, Shape};

use super::Site;
use super::drawn::{Drawn, Kind};
use super::levels::{Levels, touched};
use super::lines::{Odd, TREAD_MM, families};
use super::outlines::{Sloping, rectangles};
use super::strokes::{Stroke, groups, holds, strokes};
use super::tops::Case;

/// Flights that are read of one plan: those of some hundred houses. Each is compared with the others.
pub const MOST_FLIGHTS: usize = 2_000;

/// Entities of a group in which outlines are looked for; a stair without tread lines is drawn with few.
const MOST_IN_OUTLINE: usize = 2_000;

/// Shorter lines (10 in) are arrow heads and marks, no treads.
const LEAST_TREAD_MM: f64 = 254.0;

/// A line this far (3 in) from a flight's rectangle is beside it.
const BESIDE_MM: f64 = 76.2;

/// Two lines alone are a flight when they are a tread apart that somebody could mean: 8 in or more.
const LEAST_ALONE_MM: f64 = 203.2;

/// Two lines so far apart (10 in to 12 ft) can be the sides of one flight.
const WIDTH_MM: std::ops::RangeInclusive<f64> = 254.0..=3657.6;

/// A flight as drawn, and its groups.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// As drawn.
    pub drawn: Drawn,
    /// An outline along its other sides.
    pub other: Option<Drawn>,
    /// Its groups of lines; none for what only the job draws.
    pub groups: Vec<usize>,
}

/// What was found.
pub struct Finds {
    /// Strokes of all entities.
    pub strokes: Vec<Stroke>,
    /// Entities that belong together.
    pub groups: Vec<Vec<usize>>,
    /// By entity: its group.
    pub group_of: Vec<Option<usize>>,
    /// By group: its strokes, by number.
    by_group: Vec<Vec<usize>>,
    /// Flights, in the order of the file.
    pub flights: Vec<Found>,
    /// Corners of landings drawn with the stair.
    pub landings: Vec<Vec<Point>>,
    /// Stacks of lines that are no stair.
    pub odd: Vec<Odd>,
    /// Flights beyond [`MOST_FLIGHTS`].
    pub left_out: usize,
}

impl Finds {
    /// The strokes of a group.
    pub fn strokes_of(&self, group: usize) -> impl Iterator<Item = &Stroke> {
        self.by_group.get(group).into_iter().flatten().filter_map(|i| self.strokes.get(*i))
    }
}

/// Lines of a stair beside its flights that are neither treads of them nor landings: turning treads, or a flight of too few
/// lines to be one.
pub fn partly_read(finds: &Finds, site: &Site<'_>) -> Vec<Finding> {
    let mut by_group: BTreeMap<usize, (Vec<&Drawn>, Vec<&Stroke>)> = BTreeMap::new();
    for flight in finds.flights.iter().filter(|f| f.drawn.kind == Kind::Treads && f.drawn.lines.len() > 2) {
        for group in &flight.groups {
            by_group.entry(*group).or_default().0.push(&flight.drawn);
        }
    }
    for stroke in finds.strokes.iter().filter(|s| s.straight && !s.ring && distance(s.a, s.b) >= LEAST_TREAD_MM) {
        let group = finds.group_of.get(stroke.entity).copied().flatten();
        if let Some((flights, beside)) = group.and_then(|g| by_group.get_mut(&g)) {
            let middle = (stroke.a + stroke.b) / 2.0;
            let along = |d: &&Drawn| {
                let (way, (_, aside)) = (unit(stroke.b - stroke.a), d.local(middle));
                dot(way, d.axis).abs() > 0.98 && aside.abs() <= d.half + BESIDE_MM
            };
            let in_landing = finds.landings.iter().any(|l| holds(l, middle));
            if !flights.iter().any(|d| d.distance(middle) <= BESIDE_MM || along(d)) && !in_landing {
                beside.push(stroke);
            }
        }
    }
    let told = |(flights, beside): (Vec<&Drawn>, Vec<&Stroke>)| {
        let first = beside.first()?;
        let place = site.entities.get(first.entity)?.place((first.a + first.b) / 2.0);
        let treads: usize = flights.iter().map(|d| d.lines.len()).sum();
        let message = format!(
            "only a part of this stair is laid out: {treads} parallel treads are read, {} other lines beside them are not",
            beside.len()
        );
        Some(Finding::incomplete(Code::StairNotLaidOut, place, message).hint(
            "turning treads are not laid out yet: draw the straight flights alone, or give each flight in a `[[stair]]` of the \
             job file; put other lines on another layer",
        ))
    };
    by_group.into_values().filter_map(told).collect()
}

/// Looks for flights: by tread lines, else by outlines, else by lines with a slope, else by one line before an edge.
pub fn find(site: &Site<'_>, decks: &Levels) -> Finds {
    let strokes = strokes(site.entities);
    let groups = groups(site.entities, &strokes);
    let mut group_of = vec![None; site.entities.len()];
    for (g, entity) in groups.iter().enumerate().flat_map(|(g, all)| all.iter().map(move |e| (g, *e))) {
        if let Some(slot) = group_of.get_mut(entity) {
            *slot = Some(g);
        }
    }
    let (all, odd) = families(&strokes, site.entities);
    let mut on_deck = |drawn: &Drawn| on_deck(drawn, decks, site);
    let odd_in: Vec<usize> = odd.iter().filter_map(|o| group_of.get(o.entity).copied().flatten()).collect();
    let mut by_group = vec![Vec::new(); groups.len()];
    for (i, stroke) in strokes.iter().enumerate() {
        let group = group_of.get(stroke.entity).copied().flatten();
        group.and_then(|g| by_group.get_mut(g)).into_iter().for_each(|list| list.push(i));
    }
    let (flights, landings) = (Vec::new(), Vec::new());
    let mut finds = Finds { strokes, groups, group_of, by_group, flights, landings, odd, left_out: 0 };
    for drawn in all {
        let fits = drawn.lines.len() > 2 || (drawn.spacing() >= LEAST_ALONE_MM && on_deck(&drawn));
        let group = finds.group_of.get(drawn.entity).copied().flatten();
        // Where a part of a stair cannot be read, none of it is laid out by halves.
        let whole = group.is_none_or(|g| !odd_in.contains(&g));
        if !fits || !whole {
            continue;
        }
        if finds.flights.len() >= MOST_FLIGHTS {
            finds.left_out += 1;
        } else if !finds.flights.iter().any(|f| f.drawn.overlaps(&drawn)) {
            finds.flights.push(Found { drawn, other: None, groups: group.into_iter().collect() });
        }
    }
    let mut has_lines = vec![false; finds.groups.len()];
    for group in finds.flights.iter().flat_map(|f| f.groups.iter().copied()) {
        if let Some(flag) = has_lines.get_mut(group) {
            *flag = true;
        }
    }
    for (g, has_lines) in has_lines.iter().enumerate() {
        let Some(chosen) = finds.groups.get(g).filter(|c| c.len() <= MOST_IN_OUTLINE && !odd_in.contains(&g)) else {
            continue;
        };
        // One line alone is no outline.
        let alone = chosen.len() == 1 && chosen.first().and_then(|i| site.entities.get(*i)).is_some_and(|e| is_line(e));
        let boxes = if alone { Vec::new() } else { rectangles(site.entities, chosen, site.settings.join) };
        if *has_lines {
            let of_flights = |d: &Drawn| finds.flights.iter().any(|f| f.drawn.overlaps(d));
            finds.landings.extend(boxes.iter().filter(|[d, _]| !of_flights(d)).map(|[d, _]| d.rectangle([0.0; 2])));
        } else if finds.flights.len() + boxes.len() > MOST_FLIGHTS {
            finds.left_out += boxes.len().max(1);
        } else {
            let found = if boxes.is_empty() { others(site, &finds, chosen, &mut on_deck) } else { outermost(boxes) };
            finds.flights.extend(found.into_iter().map(|(drawn, other)| Found { drawn, other, groups: vec![g] }));
        }
    }
    let slopes: Vec<Sloping> = site.entities.iter().enumerate().filter_map(|(i, e)| Sloping::of(e, i)).collect();
    finds.flights.iter_mut().for_each(|f| take_slope(f, &slopes));
    finds.flights.sort_by_key(|f| f.drawn.entity);
    pair_sides(&mut finds.flights);
    finds
}

/// A line along a flight, well within its width, that is no arrow: a middle rail.
pub fn middle_rail(case: &Case<'_>, has_way: bool, strokes: &[&Stroke], site: &Site<'_>) -> Option<Finding> {
    let drawn = &case.drawn;
    if drawn.kind != Kind::Treads || drawn.lines.len() < 3 || 2.0 * drawn.half < WIDE_MM {
        return None;
    }
    let is_rail = |s: &&Stroke| {
        let ((low, p), (high, q)) = (drawn.local(s.a), drawn.local(s.b));
        let along = low.max(high).min(drawn.depth()) - low.min(high).max(0.0);
        let within = p.abs().max(q.abs()) <= WITHIN * drawn.half && dot(unit(s.b - s.a), drawn.axis).abs() > 0.98;
        s.straight && !s.ring && within && along >= MOST_OF * drawn.depth()
    };
    let all: Vec<&Stroke> = strokes.iter().copied().filter(is_rail).collect();
    // One of them may be the arrow: with a head, or with the word that says which way it points.
    let arrows = usize::from(case.arrows.iter().any(Option::is_some) || has_way);
    let rail = all.get(arrows)?;
    let place = site.entities.get(rail.entity)?.place((rail.a + rail.b) / 2.0);
    let message =
        "a line runs along this stair within its width and is no arrow: if it is a middle rail, that is not laid out";
    Some(Finding::incomplete(Code::RailNotLaidOut, place, message).hint(
        "middle rails are not laid out yet; give an arrow its head, and put lines that are no rail on another layer",
    ))
}

/// A stair narrower than this (5 ft) has no middle rail; lines along it are stringers.
const WIDE_MM: f64 = 1_524.0;

/// A middle rail stands within this part of the half width, and runs over this part of the depth.
const WITHIN: f64 = 0.85;
const MOST_OF: f64 = 0.75;

fn is_line(entity: &Entity) -> bool {
    matches!(&entity.shape, Shape::Path { vertices, .. } if vertices.len() == 2)
}

fn on_deck(drawn: &Drawn, decks: &Levels, site: &Site<'_>) -> bool {
    let touch = site.settings.touch.millimetres();
    let reach = if drawn.lines.len() == 1 { *TREAD_MM.end() } else { drawn.spacing() + touch };
    [false, true].into_iter().any(|last| touched(decks, drawn, last, touch, reach).is_some())
}

/// Of outlines within outlines the outer ones.
fn outermost(boxes: Vec<[Drawn; 2]>) -> Vec<(Drawn, Option<Drawn>)> {
    let mut boxes = boxes;
    let size = |d: &Drawn| d.depth() * d.half;
    boxes.sort_by(|[a, _], [b, _]| size(b).total_cmp(&size(a)).then(a.entity.cmp(&b.entity)));
    let mut out: Vec<(Drawn, Option<Drawn>)> = Vec::new();
    for [drawn, other] in boxes {
        if !out.iter().any(|(d, _)| d.overlaps(&drawn)) {
            out.push((drawn, Some(other)));
        }
    }
    out
}

/// Lines with a slope, or one line alone before a deck edge.
fn others(
    site: &Site<'_>,
    finds: &Finds,
    chosen: &[usize],
    on_deck: &mut dyn FnMut(&Drawn) -> bool,
) -> Vec<(Drawn, Option<Drawn>)> {
    let slopes: Vec<Sloping> = chosen.iter().filter_map(|i| Sloping::of(site.entities.get(*i).copied()?, *i)).collect();
    if let Some(side) = slopes.first().and_then(|s| s.side(site.entities)) {
        return vec![(side, None)];
    }
    let [entity] = chosen else { return Vec::new() };
    let first = finds.strokes.partition_point(|s| s.entity < *entity);
    let own: Vec<&Stroke> = finds.strokes.iter().skip(first).take_while(|s| s.entity == *entity).take(2).collect();
    let [stroke] = own.as_slice() else { return Vec::new() };
    let Some(place) = site.entities.get(*entity).map(|e| e.place((stroke.a + stroke.b) / 2.0)) else {
        return Vec::new();
    };
    let length = distance(stroke.a, stroke.b);
    let drawn = Drawn {
        kind: Kind::Treads,
        start: (stroke.a + stroke.b) / 2.0,
        axis: left(unit(stroke.b - stroke.a)),
        half: length / 2.0,
        lines: vec![0.0],
        heights: Vec::new(),
        falls: None,
        entity: *entity,
        place,
    };
    let fits = stroke.straight && length >= 254.0 && on_deck(&drawn);
    if fits { vec![(drawn, None)] } else { Vec::new() }
}

/// Two lines with a slope, side by side, are the two sides of one flight.
fn pair_sides(flights: &mut Vec<Found>) {
    let mut i = 0;
    while let Some(own) = flights.get(i) {
        let both = |f: &Found| (f.drawn.kind == Kind::Side).then(|| between(&own.drawn, &f.drawn)).flatten();
        let is_side = own.drawn.kind == Kind::Side;
        let found = flights.iter().enumerate().skip(i + 1).find_map(|(j, f)| Some((j, both(f).filter(|_| is_side)?)));
        if let Some((j, drawn)) = found {
            let groups = flights.remove(j).groups;
            if let Some(own) = flights.get_mut(i) {
                own.drawn = drawn;
                own.groups.extend(groups);
            }
        }
        i += 1;
    }
}

/// The flight between two lines that are its sides.
fn between(side: &Drawn, other: &Drawn) -> Option<Drawn> {
    let (along, aside) = side.local(other.start);
    let (foot, _) = side.local(other.at(other.depth(), 0.0));
    let parallel = dot(other.axis, side.axis) > 0.999;
    let level = along.abs() <= 25.4 && (foot - side.depth()).abs() <= 25.4;
    (parallel && level && WIDTH_MM.contains(&aside.abs())).then(|| Drawn {
        kind: Kind::Outline,
        start: side.at(0.0, aside / 2.0),
        half: aside.abs() / 2.0,
        ..side.clone()
    })
}

/// A line with a slope on a flight tells its fall, and along which of its sides an outline lies.
fn take_slope(found: &mut Found, slopes: &[Sloping]) {
    if found.drawn.falls.is_some() {
        return;
    }
    let of = |d: &Drawn| slopes.iter().find_map(|s| s.falls_of(d));
    if let Some(falls) = of(&found.drawn) {
        (found.drawn.falls, found.other) = (Some(falls), None);
    } else if let Some(other) = found.other.take_if(|o| of(o).is_some()) {
        found.drawn = Drawn { falls: of(&other), ..other };
    }
}
