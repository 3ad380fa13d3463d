//! Ends and corners of a rail line as fixed posts, one at a corner or two held back from it.

use crate::base::plane::unit;
use crate::base::{Code, Finding, Length, Point};
use crate::catalog::{CornerPosts, Settings};

use super::line::{End, RailLine};
use super::nodes::{Course, Fixed, Node, NodePost};
use super::track::{Track, is_smooth};
use super::types::{PostKind, PostOrigin};

/// Where two tracks meet.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Joint {
    /// They touch: a post of the line.
    Smooth,
    /// One post in the corner.
    One,
    /// Two posts, each this far back, in mm.
    Two(f64),
}

/// Fixed points of a rail line, and what lies between them.
pub fn planned(line: &RailLine, settings: &Settings, findings: &mut Vec<Finding>) -> Fixed {
    let side = settings.system.post.side;
    let count = line.tracks.len();
    let joint_at = |i: usize, findings: &mut Vec<Finding>| {
        let pair = line.tracks.get(i).zip(line.tracks.get((i + 1) % count.max(1)));
        pair.map_or(Joint::One, |(before, after)| joint(before, after, line, settings, findings))
    };
    // Joint `i` lies behind track `i`; an open line has none behind its last.
    let joints: Vec<Joint> =
        (0..if line.closed { count } else { count.saturating_sub(1) }).map(|i| joint_at(i, findings)).collect();
    let half = side.millimetres() / 2.0;
    // An end post's outer face stands flush with the end of the run, so the post stands half its side back.
    let at_end = |end: End| if end == End::Free { half } else { 0.0 };
    let back = |joint: Option<&Joint>| if let Some(Joint::Two(by)) = joint { *by } else { 0.0 };
    let mut run =
        Fixed { nodes: Vec::new(), courses: Vec::new(), closed: line.closed, place: line.place.clone(), slope: None };
    for (i, track) in line.tracks.iter().enumerate() {
        let (first, last) = (i == 0 && !line.closed, i + 1 == count && !line.closed);
        let before = if i > 0 { joints.get(i - 1) } else { joints.last().filter(|_| line.closed) };
        let from = if first { at_end(line.start) } else { back(before) };
        let to = track.length() - if last { at_end(line.end) } else { back(joints.get(i)) };
        if first {
            run.nodes.push(end_node(line.start, track.at(from), side));
        } else if let Some(Joint::Two(_)) = before {
            // A closed run begins with the second post of its first corner.
            run.nodes.push(post(track.at(from), PostKind::Corner, side));
        } else if i == 0 {
            run.nodes.push(post(track.at(from), kind(before), side));
        }
        run.courses.push(course(track, from, to));
        if last {
            run.nodes.push(end_node(line.end, track.at(to), side));
            continue;
        }
        match joints.get(i) {
            Some(Joint::Two(_)) => {
                run.nodes.push(post(track.at(to), PostKind::Corner, side));
                run.courses.push(Course::Gap);
            }
            joint if i + 1 < count => run.nodes.push(post(track.at(to), kind(joint), side)),
            _ => {}
        }
    }
    run
}

fn kind(joint: Option<&Joint>) -> PostKind {
    if matches!(joint, Some(Joint::Smooth)) { PostKind::Line } else { PostKind::Corner }
}

fn course(track: &Track, from: f64, to: f64) -> Course {
    if track.is_straight() {
        Course::Straight
    } else if to > from {
        Course::Curve(track.part(from, to))
    } else {
        Course::Chord
    }
}

fn post(at: Point, kind: PostKind, side: Length) -> Node {
    Node::Post(NodePost { at, kind, origin: PostOrigin::Planned, side, rotation: None, handle: None, known: None })
}

fn end_node(end: End, at: Point, side: Length) -> Node {
    match end {
        End::Wall(face) => Node::Wall { at, face },
        End::Free => post(at, PostKind::End, side),
    }
}

fn joint(before: &Track, after: &Track, line: &RailLine, settings: &Settings, findings: &mut Vec<Finding>) -> Joint {
    if is_smooth(unit(before.end_way()), unit(after.start_way())) {
        return Joint::Smooth;
    }
    if settings.corner_posts == CornerPosts::One {
        return Joint::One;
    }
    let setback = settings.corner_setback.millimetres();
    let least = 2.0 * setback + settings.system.post.side.millimetres();
    if before.length().min(after.length()) >= least {
        return Joint::Two(setback);
    }
    findings.push(
        Finding::note(
            Code::PostsTooNear,
            line.place.clone().with_point(after.at(0.0)),
            "an edge beside this corner is too short for two posts at either end; the corner gets one",
        )
        .hint("use a smaller corner-setback, or one post at each corner"),
    );
    Joint::One
}
