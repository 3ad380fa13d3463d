//! What the job file says of single flights, matched with what is drawn.

use crate::base::plane::{distance, left, point, unit};
use crate::base::{Code, Finding, Frame, Place, Point, decimal};
use crate::catalog::StairJob;

use super::drawn::{Drawn, Kind};
use super::found::Found;

/// A point of the job is on a flight when it is within it, or so near: 6 in.
const NEAR_MM: f64 = 152.4;

/// Coordinates beyond this are none (10 km from the plan's origin).
const FAR_MM: f64 = 1e7;

/// Gives each `[[stair]]` its flight; those that are drawn by the job alone follow at the end.
pub fn matched<'a>(
    jobs: &'a [StairJob],
    found: Vec<Found>,
    frame: Frame,
    findings: &mut Vec<Finding>,
) -> Vec<(Found, Option<&'a StairJob>)> {
    let mut out: Vec<(Found, Option<&StairJob>)> = found.into_iter().map(|f| (f, None)).collect();
    for (i, job) in jobs.iter().enumerate() {
        let name = format!("`[[stair]]` number {}", i + 1);
        let top = match job.top.map(|t| top_of(t, frame, i)) {
            None => None,
            Some(Some(top)) => Some(top),
            Some(None) => {
                findings
                    .push(useless(Place::none(), format!("{name}: its `top` is no line of two points on the plan")));
                continue;
            }
        };
        let at = job.at.map(|[x, y]| frame.to_local(point(x, y))).filter(|p| is_near(*p));
        let hit = at.and_then(|at| {
            let near = out.iter().enumerate().filter(|(_, (f, _))| f.drawn.kind != Kind::Job);
            let near = near.map(|(i, (f, _))| (i, f.drawn.distance(at))).filter(|(_, d)| *d <= NEAR_MM);
            near.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(i, _)| i)
        });
        match (hit.and_then(|i| out.get_mut(i)), top) {
            (Some((_, Some(_))), _) => {
                let place = at.map_or_else(Place::none, Place::at);
                findings.push(useless(place, format!("{name} is given for a flight that another one is given for")));
            }
            (Some((found, said)), top) => {
                *said = Some(job);
                if let Some(mut drawn) = top {
                    drawn.entity = found.drawn.entity;
                    drawn.place = found.drawn.place.clone();
                    (found.drawn, found.other) = (drawn, None);
                }
            }
            (None, Some(drawn)) => out.push((Found { drawn, other: None, groups: Vec::new() }, Some(job))),
            (None, None) => {
                let where_ = job.at.map_or_else(String::new, |[x, y]| format!(" {}, {}", decimal(x, 3), decimal(y, 3)));
                let message = match job.at {
                    Some(_) => format!("{name}: no stair that can be read is drawn at{where_}"),
                    None => format!("{name} says neither where it is drawn (`at`) nor where its `top` is"),
                };
                let place = at.map_or_else(Place::none, Place::at);
                findings.push(useless(place, message));
            }
        }
    }
    out
}

fn useless(place: Place, message: String) -> Finding {
    Finding::incomplete(Code::StairNotLaidOut, place, message).hint(
        "give `at` as a point on the drawn flight, or `top` as the left and right end of its top nosing, in drawing units",
    )
}

fn is_near(p: Point) -> bool {
    p.x.abs() <= FAR_MM && p.y.abs() <= FAR_MM
}

/// A flight from its top nosing, left and right as seen from the top looking down.
fn top_of([l, r]: [[f64; 2]; 2], frame: Frame, number: usize) -> Option<Drawn> {
    let [l, r] = [l, r].map(|[x, y]| frame.to_local(point(x, y)));
    let width = distance(l, r);
    if !is_near(l) || !is_near(r) || width < 1.0 {
        return None;
    }
    let middle = (l + r) / 2.0;
    Some(Drawn {
        kind: Kind::Job,
        start: middle,
        axis: left(unit(r - l)),
        half: width / 2.0,
        lines: vec![0.0],
        heights: Vec::new(),
        falls: None,
        entity: usize::MAX - 1_000_000 + number.min(1_000_000),
        place: Place::at(middle),
    })
}
