//! A layout with a stair, made by hand for this stage's tests. The marks are plausible, not planned.

use super::sample::{Maker, finish};
use crate::base::plane::{self, point};
use crate::base::{Angle, Length, Measure, Place, Unit};
use crate::catalog::{BalusterStyle, Hole, LimitKind, MemberRole, RailSystem, Sides};
use crate::deck::{Flight, Steps};
use crate::guard::{Before, Falls, Handrail, PostKind, Rake, Run, Span, Support};
use crate::panel::{Balusters, BracketAt, BracketKind, Cut, Panel, PanelInfill};
use crate::parts::{Layout, LayoutPanel};

/// A flight that falls along -y from a deck's edge at y = 0, guarded on both sides, a handrail on each.
pub fn stairs(system: &str, measure: Measure, risers: u32, steps: Steps) -> Layout {
    let system: RailSystem = toml::from_str(system).unwrap();
    let flight = Flight {
        id: "F1".to_owned(),
        risers,
        steps,
        pitch: steps.pitch().unwrap(),
        top: [point(36.0 * 25.4, 0.0), point(0.0, 0.0)],
        down: point(0.0, -1.0),
        guards: Sides::Both,
        walls: Sides::None,
        handrails: None,
        riser_variation: Length::ZERO,
        tread_variation: Length::ZERO,
        place: Place::none(),
    };
    let mut side = Side { maker: Maker { system, measure, posts: Vec::new(), panels: Vec::new() }, flight };
    let runs = [(0, true), (1, false)].map(|(run, is_left)| side.run(run, is_left)).to_vec();
    let Side { maker, flight } = side;
    let mut layout = finish(maker, Vec::new());
    layout.runs = runs;
    layout.handrails = [true, false].into_iter().zip(1..).map(|(left, n)| handrail(&flight, left, n)).collect();
    layout.flights = vec![flight];
    layout
}

/// A side of a flight in the making.
struct Side {
    maker: Maker,
    flight: Flight,
}

impl Side {
    fn half_post(&self) -> f64 {
        self.maker.system.post.side.millimetres() / 2.0
    }

    /// Posts from the head, `inset` behind the deck's edge, to the foot, and the panels between them.
    fn run(&mut self, run: usize, is_left: bool) -> Run {
        let half = self.half_post();
        let x = if is_left { 36.0 * 25.4 + half } else { -half };
        let (head, foot) = (self.maker.system.post.inset.millimetres(), -self.flight.length().millimetres() - half);
        let longest = self.maker.system.raked.as_ref().unwrap().longest_panel.millimetres();
        let clear = head - foot - 2.0 * half;
        let bays = (clear / longest).ceil();
        let step = (head - foot) / bays;
        let mut supports: Vec<(Support, f64)> =
            (0..=bays as u32).map(|i| head - f64::from(i) * step).map(|y| (self.post(x, y, y == head), y)).collect();
        if !is_left {
            supports.reverse();
        }
        for pair in supports.windows(2) {
            self.bay(run, x, pair[0], pair[1]);
        }
        let line = supports.iter().map(|(_, y)| point(x, *y));
        Run { number: run + 1, line: line.collect(), closed: false, flight: Some(0) }
    }

    /// A post on what it stands, as high as the upper one of its rails asks.
    fn post(&mut self, x: f64, y: f64, is_head: bool) -> Support {
        let kind = if is_head { PostKind::End } else { PostKind::Stair };
        let support = self.maker.post(kind, x / 25.4, y / 25.4, 0.0);
        let (half, steps) = (self.half_post(), self.flight.steps);
        let passed = (-y / steps.tread.millimetres()).ceil().clamp(0.0, f64::from(self.flight.risers));
        let up = if is_head { half - y } else { -half - y };
        let (raked, above) = (self.maker.system.raked.as_ref().unwrap(), self.maker.system.post.above);
        let top = (raked.height + above).millimetres() - up * self.flight.pitch.angle().tan();
        let height = Length::from_millimetres(top + passed * steps.riser.millimetres()).unwrap();
        self.maker.posts.last_mut().unwrap().height = self.maker.measure.mark.ceil(height);
        support
    }

    fn bay(&mut self, run: usize, x: f64, from: (Support, f64), to: (Support, f64)) {
        let way = (to.1 - from.1).signum() * self.half_post();
        let (left, right) = (point(x, from.1 + way), point(x, to.1 - way));
        let falls = if way < 0.0 { Falls::Right } else { Falls::Left };
        let upper = if falls == Falls::Right { left } else { right };
        let rake = Rake {
            pitch: self.flight.pitch,
            falls,
            steps: Some(self.flight.steps),
            start: Length::from_millimetres(-upper.y),
        };
        let id = format!("S{}", self.maker.panels.len() + 1);
        let clear = Length::measured(plane::distance(left, right));
        let panel = panel(&id, clear, rake, &self.maker, self.flight.risers);
        let span = Span {
            id,
            run,
            from: from.0,
            to: to.0,
            left,
            right,
            clear,
            skew_left: Angle::ZERO,
            skew_right: Angle::ZERO,
            rake: Some(rake),
        };
        let kit = self.maker.system.kits.iter().find(|k| k.length >= panel.length).map(|k| k.name.clone());
        self.maker.panels.push(LayoutPanel { span, panel, measured: None, kit, price: None });
    }
}

fn handrail(flight: &Flight, left: bool, number: u32) -> Handrail {
    let inches = |value: i64| Length::INCH * value;
    Handrail {
        id: format!("H{number}"),
        flight: 0,
        left,
        before: Before::Guard,
        line: [0.0, flight.length().millimetres()].map(|along| flight.at(left, along, 60.0)),
        height: inches(36),
        length: flight.pitch.along(flight.length()),
        extension_top: inches(12),
        extension_bottom: inches(12),
        brackets: vec![inches(6), inches(48), inches(90)],
    }
}

/// A panel with balusters in equal level gaps.
fn panel(id: &str, clear: Length, rake: Rake, maker: &Maker, risers: u32) -> Panel {
    let (system, measure) = (&maker.system, &maker.measure);
    let raked = system.raked.as_ref().unwrap();
    let pitch = rake.pitch;
    let length = measure.mark.floor(pitch.along(clear - system.end_clearance * 2));
    let clearance = (clear - pitch.level(length)).half();
    let plumb = pitch.angle();
    let cuts = system.members.iter().map(|m| Cut {
        member: m.role,
        length,
        long_point: length,
        short_point: length,
        tip_to_tip: length + m.height.scaled(plumb.tan()),
        left: Angle::ZERO,
        right: Angle::ZERO,
        left_tip: Length::ZERO,
        plumb,
    });
    let screws = system.cap_screws.as_ref().map_or(Vec::new(), |s| {
        let gaps = -(-length).whole_steps(s.longest_spacing);
        (1..gaps).map(|i| measure.mark.round(length.fraction(i, gaps) + Length::INCH)).collect()
    });
    let count =
        system.blocks.as_ref().and_then(|b| b.counts.iter().find(|c| c.up_to >= length)).map_or(0, |c| c.blocks);
    let blocks: Vec<Length> =
        (1..=i64::from(count)).map(|i| measure.mark.round(length.fraction(i, i64::from(count) + 1))).collect();
    let members: Length = system.members.iter().map(|m| pitch.along(m.height)).sum();
    let steps = rake.steps.unwrap();
    let block_height = |mark: &Length| {
        let level = clearance + pitch.level(*mark);
        let down = rake.start.unwrap() + if rake.falls == Falls::Right { level } else { clear - level };
        let passed = (down.millimetres() / steps.tread.millimetres()).ceil().clamp(0.0, f64::from(risers));
        raked.bottom_gap + steps.riser.scaled(passed) - pitch.fall(down)
    };
    Panel {
        id: id.to_owned(),
        span: clear,
        length,
        clearance_left: clearance,
        clearance_right: clear - pitch.level(length) - clearance,
        cuts: cuts.collect(),
        infill: PanelInfill::Balusters,
        balusters: Balusters {
            length: raked.height - raked.bottom_gap - members,
            ..balusters(clear, clearance, length, rake, maker)
        },
        block_heights: blocks.iter().map(block_height).collect(),
        blocks,
        cap_screws: screws,
        brackets: brackets(length, &raked.bracket.holes, raked.bracket.setback, system),
        height: raked.height,
        bottom_gap: raked.bottom_gap,
        rake: Some(rake),
    }
}

fn balusters(clear: Length, clearance: Length, length: Length, rake: Rake, maker: &Maker) -> Balusters {
    let rules: crate::catalog::RuleSet = toml::from_str(include_str!("../catalog/rules/irc-2021.toml")).unwrap();
    let limit = rules.limit(LimitKind::StairOpening).unwrap().value - Length::from_nanometres(6_000_000);
    let width = maker.system.baluster_width();
    let count = (clear - limit).whole_steps(width + limit) + 1;
    let gap = (clear - width * count) / (count + 1);
    let mark = |i: i64| {
        let level = gap * (i + 1) + width * i + width.half() - clearance;
        maker.measure.mark.round(rake.pitch.along(level))
    };
    let marks: Vec<Length> = (0..count).map(mark).collect();
    let level = |mark: Length| clearance + rake.pitch.level(mark);
    let left = level(marks[0]) - width.half();
    let right = clear - level(marks[marks.len() - 1]) - width.half();
    let between = marks.windows(2).map(|w| level(w[1]) - level(w[0]) - width);
    assert!(marks.last().unwrap() < &length);
    Balusters {
        style: BalusterStyle::Even,
        spacing: rake.pitch.along(gap + width),
        length: Length::ZERO,
        end_gap_left: left,
        end_gap_right: right,
        widest_gap: between.chain([left, right]).max().unwrap(),
        marks,
    }
}

fn brackets(length: Length, pattern: &[Hole], setback: Length, system: &RailSystem) -> Vec<BracketAt> {
    let held = |role: &MemberRole| system.bracket.members.contains(role);
    let roles = system.members.iter().map(|m| m.role).filter(held);
    let holes: Vec<Length> = pattern.iter().map(|h| h.along + setback).collect();
    let at = |member, left: bool| {
        let holes = holes.iter().map(|h| if left { *h } else { length - *h }).collect();
        BracketAt { member, left, setback, kind: BracketKind::Raked, holes }
    };
    roles.flat_map(|role| [true, false].map(|left| at(role, left))).collect()
}

/// Steps as riser, tread and nosing in a unit.
pub fn steps(riser: f64, tread: f64, nosing: f64, unit: Unit) -> Steps {
    let length = |value: f64| Length::from_millimetres(value * unit.millimetres()).unwrap();
    Steps { riser: length(riser), tread: length(tread), nosing: length(nosing) }
}

/// Kinds of stairs: 11 risers with the slope 3-4-5, six with nosings, a metric one, one with few steps, and the first one
/// without anything known beneath its panels.
pub fn all() -> Vec<Layout> {
    use super::sample::{INCH, METAL, METRIC, TEST_RAIL};
    let mut bare = stairs(TEST_RAIL, INCH, 11, steps(7.5, 10.0, 0.0, Unit::Inch));
    bare.flights.clear();
    bare.handrails.clear();
    for panel in &mut bare.panels {
        let rake = panel.panel.rake.map(|rake| Rake { steps: None, start: None, ..rake });
        (panel.panel.rake, panel.span.rake) = (rake, rake);
        panel.panel.block_heights.clear();
    }
    vec![
        stairs(TEST_RAIL, INCH, 11, steps(7.5, 10.0, 0.0, Unit::Inch)),
        stairs(TEST_RAIL, INCH, 6, steps(7.625, 10.0, 1.0, Unit::Inch)),
        stairs(METAL, METRIC, 9, steps(180.0, 270.0, 25.0, Unit::Millimetre)),
        stairs(METAL, INCH, 3, steps(7.0, 11.0, 0.75, Unit::Inch)),
        bare,
    ]
}
