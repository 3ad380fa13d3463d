//! Posts and spans of stairs on a deck of 240 x 120, against figures worked out by hand.

use super::{Falls, Guard, PostKind, Support, lay_out};
use crate::base::plane::{point, unit};
use crate::base::{Code, Finding, Frame, Length, Mark, Place, Point};
use crate::catalog::{Job, RailSystem, Settings, Sides, StairsJob};
use crate::deck::{Chain, DrawnPost, Edge, Flight, Plan, Role, Steps, Zone};

fn inches(value: f64) -> Length {
    Length::from_millimetres(value * 25.4).unwrap()
}

fn at(x: f64, y: f64) -> Point {
    point(x, y) * 25.4
}

/// 11 risers of 7-5/8 on treads of 10, falling from the deck's lower edge between x 100 and `right`.
fn flight(right: f64) -> Flight {
    let steps = Steps { riser: inches(7.625), tread: inches(10.0), nosing: inches(1.0) };
    Flight {
        id: "F1".to_owned(),
        risers: 11,
        steps,
        pitch: steps.pitch().unwrap(),
        top: [at(right, 0.0), at(100.0, 0.0)],
        down: point(0.0, -1.0),
        guards: Sides::Both,
        walls: Sides::None,
        handrails: None,
        riser_variation: Length::ZERO,
        tread_variation: Length::ZERO,
        place: Place::none(),
    }
}

fn plan(flight: Flight, posts: &[Point]) -> Plan {
    let corners = [at(0.0, 0.0), at(0.0, 120.0), at(240.0, 120.0), at(240.0, 0.0)];
    let edges = corners.iter().zip(corners.iter().cycle().skip(1)).map(Edge::straight).collect();
    let [left, right] = flight.top;
    let far = flight.down * flight.length().millimetres();
    let zone = Zone {
        strokes: Vec::new(),
        has_arc: false,
        hull: vec![left, right, right + far, left + far],
        role: Role::Stair,
        place: Place::none(),
        flight: Some(0),
    };
    let drawn = |at: &Point| DrawnPost { at: *at, side_mm: None, rotation: None, place: Place::none(), kept: false };
    Plan {
        chains: vec![Chain { edges, ends: None }],
        zones: vec![zone].into(),
        flights: vec![flight],
        posts: posts.iter().map(drawn).collect(),
        ..Plan::empty(Frame::default())
    }
}

fn laid(plan: &Plan, job: Job) -> (Guard, Vec<Finding>) {
    let system: RailSystem = toml::from_str(include_str!("../../tests/systems/test-rail.toml")).unwrap();
    let rules = toml::from_str(include_str!("../catalog/rules/irc-2021.toml")).unwrap();
    lay_out(plan, &Settings::new(job, system, rules).unwrap())
}

fn raked(guard: &Guard, falls: Falls) -> Vec<&super::Span> {
    guard.spans.iter().filter(|s| s.rake.is_some_and(|r| r.falls == falls)).collect()
}

#[test]
fn each_side_runs_from_the_decks_end_post_to_a_post_at_the_lowest_nosing() {
    let (guard, findings) = laid(&plan(flight(136.0), &[]), Job::default());
    assert!(findings.iter().all(|f| f.code == Code::RakeTransition), "{findings:?}");
    // Posts flush with the opening stand 2-1/2 beside it, 4 behind the edge; faces at -1-1/2 and 100: 101-1/2 clear, more
    // than the longest raked panel of 90, so two bays of (101.5 - 5) / 2.
    for (falls, x) in [(Falls::Right, 138.5), (Falls::Left, 97.5)] {
        let spans = raked(&guard, falls);
        assert_eq!(spans.iter().map(|s| s.clear).collect::<Vec<_>>(), [inches(48.25); 2]);
        assert!(spans.iter().all(|s| s.skew_left.degrees() == 0.0 && s.skew_right.degrees() == 0.0));
        let mut starts: Vec<f64> = spans.iter().map(|s| s.rake.unwrap().start.unwrap().inches()).collect();
        starts.sort_by(f64::total_cmp);
        assert_eq!(starts, [-1.5, 51.75]);
        let posts: Vec<usize> = spans.iter().flat_map(|s| [s.from, s.to]).filter_map(|s| s.post()).collect();
        let [head, foot] = if falls == Falls::Right { [posts[0], posts[3]] } else { [posts[3], posts[0]] };
        let (head, foot, between) = (&guard.posts[head], &guard.posts[foot], &guard.posts[posts[1]]);
        assert_eq!((head.kind, foot.kind, between.kind), (PostKind::End, PostKind::Stair, PostKind::Stair));
        assert_eq!((head.at, foot.at), (at(x, 4.0), at(x, -102.5)));
        // 36 above the nosing line, 1-1/2 over the rail: at the head 1-1/2 behind the nosing; at the foot one riser up;
        // between, uphill face at 46.75 on the fifth tread.
        // One mark more, since balusters are cut to the mark above, and on the mark above.
        let post = |exact: f64| Mark::SIXTEENTH.ceil(inches(exact + 0.0625));
        assert_eq!(head.height, post(36.0 + 1.5 * 0.7625 + 1.5));
        assert_eq!(foot.height, post(7.625 + 36.0 + 1.5));
        assert_eq!(between.height, post(5.0 * 7.625 - 46.75 * 0.7625 + 36.0 + 1.5));
        // The stair lies to the right of a span's direction.
        let way = unit(spans[0].right - spans[0].left);
        assert_eq!(way.y < 0.0, falls == Falls::Right);
    }
    // No other post at the head.
    assert_eq!(guard.posts.iter().filter(|p| p.kind == PostKind::Stair).count(), 4);
    assert_eq!(guard.runs.iter().filter(|r| r.flight == Some(0)).count(), 2);
}

#[test]
fn a_stair_at_the_decks_corner_shares_the_post_of_the_next_edge() {
    // The flight takes the edge up to the corner (240, 0): the run along x 240 begins with a post at (236, 2.5).
    let (guard, _) = laid(&plan(flight(240.0), &[]), Job::default());
    let spans = raked(&guard, Falls::Right);
    let head = &guard.posts[spans[0].from.post().unwrap()];
    assert_eq!((head.kind, head.at), (PostKind::End, at(236.0, 2.5)));
    assert!(spans.iter().all(|s| s.left.x == 236.0 * 25.4));
}

#[test]
fn drawn_posts_take_their_places_on_the_stair() {
    let drawn = [at(138.5, -104.0), at(138.5, -40.0), at(97.5, -400.0)];
    let (guard, findings) = laid(&plan(flight(136.0), &drawn), Job::default());
    let spans = raked(&guard, Falls::Right);
    // Faces at 37.5 and 42.5 of the post at 40, and at 101.5 of that at the foot.
    assert_eq!(spans.iter().map(|s| s.clear).collect::<Vec<_>>(), [inches(39.0), inches(59.0)]);
    let unused: Vec<_> = findings.iter().filter(|f| f.code == Code::PostNotUsed).collect();
    assert_eq!(unused.len(), 1);
}

#[test]
fn inset_and_foot_move_the_rail_line() {
    let stairs = StairsJob { inset: Some(inches(-2.0)), foot: Some(inches(3.0)), ..StairsJob::default() };
    let mut flight = flight(136.0);
    flight.guards = Sides::Left;
    let (guard, _) = laid(&plan(flight, &[]), Job { stairs: Some(stairs), ..Job::default() });
    assert!(raked(&guard, Falls::Left).is_empty());
    let spans = raked(&guard, Falls::Right);
    let Support::Post(foot) = spans.last().unwrap().to else { panic!("a post") };
    // The deck's own end post, half an inch aside, still holds the rail.
    assert_eq!(guard.posts[foot].at, at(138.5, -105.5));
}

#[test]
fn a_handrail_is_set_where_the_rules_ask_for_one() {
    let (guard, _) = laid(&plan(flight(136.0), &[]), Job::default());
    let [rail] = &guard.handrails[..] else { panic!("one: {:?}", guard.handrails) };
    // Round 1-1/2, 2-1/4 clear of the posts, which stand flush with the flight's right side.
    assert!(!rail.left);
    assert_eq!(rail.line, [at(103.0, 0.0), at(103.0, -100.0)]);
    // 100 level over 7-5/8 on 10.
    assert!((rail.length.inches() - 100.0_f64.hypot(76.25)).abs() < 1e-6);
    assert_eq!(rail.brackets.first(), Some(&inches(6.0)));
    assert!(rail.brackets.windows(2).all(|b| b[1] - b[0] <= inches(48.0) + inches(0.0625)));
    let mut low = flight(136.0);
    low.risers = 3;
    assert!(laid(&plan(low, &[]), Job::default()).0.handrails.is_empty());
}

/// The second flight leaves a landing of 36 square, at the foot of the first, to the left: the inner rails meet in one post
/// at the landing's corner, flush with both flights.
#[test]
fn one_newel_holds_both_rails_at_the_inner_corner_of_a_landing() {
    let mut plan = plan(flight(136.0), &[]);
    let upper = plan.flights[0].clone();
    plan.flights.push(Flight {
        id: "F2".to_owned(),
        top: [at(136.0, -100.0), at(136.0, -136.0)],
        down: point(1.0, 0.0),
        guards: Sides::Left,
        ..upper
    });
    let (guard, findings) = laid(&plan, Job::default());
    let first = raked(&guard, Falls::Right);
    let joined = |a: &&&super::Span| first.iter().any(|b| b.run != a.run && b.from == a.to);
    let shared = first.iter().find(joined).and_then(|s| s.to.post());
    let newel = &guard.posts[shared.expect("a post that both runs use")];
    assert_eq!((newel.kind, newel.at), (PostKind::Stair, at(138.5, -97.5)));
    assert!(findings.iter().all(|f| f.code != Code::RailsCollide));
    // Without it the second rail would begin 4 behind its top nosing, beyond the first rail.
    let crossing = super::stairs::crossing(&Guard {
        spans: vec![
            super::Span { left: at(138.5, 0.0), right: at(138.5, -100.0), ..first[0].clone() },
            super::Span { left: at(132.0, -97.5), right: at(200.0, -97.5), ..first[0].clone() },
        ],
        ..Guard::default()
    });
    assert_eq!(crossing.len(), 1);
}
