//! Where fixed posts stand: ends, corners, walls and drawn posts. Between two of them lies a stretch for bays.

use crate::base::plane::{angle_of, distance, norm, to_segment, unit};
use crate::base::{Angle, Code, Extent, Finding, Length, Near, Place, Point};
use crate::catalog::Settings;
use crate::deck::DrawnPost;

use super::corners;
use super::line::RailLine;
use super::slope::Slope;
use super::track::Track;
use super::types::{PostKind, PostOrigin};

const QUARTER: Angle = Angle::from_degrees(90.0);

/// A drawn post this far off the rail line (1/16 in) bends the rail enough to be told.
const OFF_LINE_MM: f64 = 1.6;

/// A fixed point of a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Node {
    /// A post.
    Post(NodePost),
    /// The face of a wall with this direction.
    Wall {
        /// Where the rail line meets it.
        at: Point,
        /// Direction of the face.
        face: Point,
    },
}

/// A post of a run before it has a number.
#[derive(Debug, Clone, PartialEq)]
pub struct NodePost {
    /// Centre.
    pub at: Point,
    /// Why it stands there.
    pub kind: PostKind,
    /// Who set it.
    pub origin: PostOrigin,
    /// Side.
    pub side: Length,
    /// Its turn, if drawn with one.
    pub rotation: Option<Angle>,
    /// Handle of the drawn entity.
    pub handle: Option<u64>,
    /// Index into [`Guard::posts`](super::Guard::posts) of one that stands there already.
    pub known: Option<usize>,
}

impl Node {
    /// Where the rail line passes it.
    pub const fn at(&self) -> Point {
        match self {
            Self::Post(p) => p.at,
            Self::Wall { at, .. } => *at,
        }
    }
}

/// What lies between two fixed points.
#[derive(Debug, Clone, PartialEq)]
pub enum Course {
    /// A straight stretch, to be divided into bays.
    Straight,
    /// A curve, to be divided into straight panels.
    Curve(Track),
    /// One straight panel of a curve, not to be divided.
    Chord,
    /// The two posts of a corner: no panel.
    Gap,
}

/// A run with its fixed points.
#[derive(Debug, Clone, PartialEq)]
pub struct Fixed {
    /// Left to right.
    pub nodes: Vec<Node>,
    /// What lies behind each of them; behind the last only in a closed run.
    pub courses: Vec<Course>,
    /// Whether the last is joined to the first.
    pub closed: bool,
    /// Where its first edge stands in the drawing.
    pub place: Place,
    /// The slope that it follows, on a stair.
    pub slope: Option<Slope>,
}

/// Ends and corners of each rail line, with drawn posts in their places; drawn posts on a rail line between them become
/// line posts.
pub fn fixed(lines: &[RailLine], posts: &[&DrawnPost], settings: &Settings, findings: &mut Vec<Finding>) -> Vec<Fixed> {
    let mut runs: Vec<Fixed> = lines.iter().map(|line| corners::planned(line, settings, findings)).collect();
    let mut taken = vec![false; posts.len()];
    let posts = Near::from(posts.to_vec());
    for run in &mut runs {
        for node in &mut run.nodes {
            take_drawn(node, &posts, settings, &mut taken, findings);
        }
    }
    let mut between: Vec<(usize, usize, f64, &DrawnPost)> = Vec::new();
    let laps = laps(&runs);
    for (post, _) in posts.iter().copied().zip(&taken).filter(|(_, taken)| !**taken) {
        match laps.nearest(post.at, |lap| lap.nearest(post.at).0) {
            Some((d, _, lap)) if d <= settings.snap.millimetres() => {
                off_line(post, d, findings);
                between.push((lap.run, lap.segment, lap.nearest(post.at).1, post));
            }
            found => findings.push(unused(post, found.map(|f| f.0), settings)),
        }
    }
    // From the far end, so that the segment numbers before stay right.
    between.sort_by(|a, b| (b.0, b.1).cmp(&(a.0, a.1)).then(b.2.total_cmp(&a.2)));
    for (run, segment, along, post) in between {
        if let Some(run) = runs.get_mut(run) {
            run.nodes.insert(segment + 1, Node::Post(drawn(post, PostKind::Line, settings)));
            let behind = match run.courses.get_mut(segment) {
                Some(Course::Curve(track)) => {
                    let behind = Course::Curve(track.part(along, track.length()));
                    *track = track.part(0.0, along);
                    behind
                }
                Some(other) => other.clone(),
                None => Course::Straight,
            };
            run.courses.insert(segment + 1, behind);
        }
    }
    runs
}

pub fn drawn(post: &DrawnPost, kind: PostKind, settings: &Settings) -> NodePost {
    NodePost {
        at: post.at,
        kind,
        origin: if post.kept { PostOrigin::Kept } else { PostOrigin::Drawn },
        side: post.side_mm.map_or(settings.system.post.side, Length::measured),
        rotation: post.rotation,
        // A post of ours is written anew at each run, under another handle.
        handle: post.place.handle.filter(|_| !post.kept),
        known: None,
    }
}

/// The nearest drawn post within the snap distance takes the node's place.
fn take_drawn(
    node: &mut Node,
    posts: &Near<&DrawnPost>,
    settings: &Settings,
    taken: &mut [bool],
    findings: &mut Vec<Finding>,
) {
    let at = node.at();
    let snap = settings.snap.millimetres();
    let free = posts.around([at], snap).filter(|(i, _)| !taken.get(*i).copied().unwrap_or(true));
    let near =
        free.map(|(i, p)| (distance(p.at, at), i, *p)).filter(|(d, ..)| *d <= snap).min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((d, i, post)) = near else { return };
    if let Some(t) = taken.get_mut(i) {
        *t = true;
    }
    match node {
        Node::Post(p) => {
            if p.kind == PostKind::Corner {
                off_line(post, d, findings);
            }
            *p = drawn(post, p.kind, settings);
        }
        Node::Wall { at, face } => {
            let new = drawn(post, PostKind::End, settings);
            wall_gap(&new, *at, *face, settings, findings);
            *node = Node::Post(new);
        }
    }
}

pub fn off_line(post: &DrawnPost, off: f64, findings: &mut Vec<Finding>) {
    if off > OFF_LINE_MM {
        findings.push(Finding::note(
            Code::PostOffLine,
            post.place.clone(),
            format!(
                "this drawn post stands {} off the rail line as planned; it is kept, and the rails are laid through its centre",
                both(off)
            ),
        ));
    }
}

/// Between a drawn post at a wall and the wall no panel stands: the gap itself must be small enough.
fn wall_gap(post: &NodePost, at: Point, face: Point, settings: &Settings, findings: &mut Vec<Finding>) {
    let half = post.side.millimetres() / 2.0;
    let across = crate::base::plane::cross(unit(face), post.at - at).abs();
    let gap = across - half;
    let limit = settings.rules.limit(crate::catalog::LimitKind::Opening);
    if let Some(limit) = limit.filter(|l| gap >= l.value.millimetres()) {
        findings.push(
            Finding::error(
                Code::GapLeftOpen,
                Place::at(post.at),
                format!("between this drawn post and the wall a gap of {} stays open", both(gap)),
            )
            .hint("move the post to the wall, or leave it out so that the rail ends on the wall")
            .rule(crate::base::RuleRef {
                set: settings.rules.name.clone(),
                section: limit.section.clone(),
                limit: limit.value,
                actual: Length::measured(gap),
            }),
        );
    }
}

pub fn unused(post: &DrawnPost, off: Option<f64>, settings: &Settings) -> Finding {
    let message = match off {
        Some(off) => format!(
            "this drawn post stands {} from the nearest rail line, more than the snap distance of {}; it is not used",
            both(off),
            settings.snap
        ),
        None => "this drawn post is not used: there is no rail line".to_owned(),
    };
    Finding::incomplete(Code::PostNotUsed, post.place.clone(), message)
        .hint("move it onto the rail line, or raise `snap` in the job file")
}

/// A plan distance in both units: findings of this stage do not know yet how the job prints.
fn both(mm: f64) -> String {
    format!("{} in ({} mm)", crate::base::decimal(mm / 25.4, 2), crate::base::decimal(mm, 1))
}

/// The rail line between two fixed points of a run.
struct Lap<'a> {
    run: usize,
    segment: usize,
    from: Point,
    to: Point,
    course: &'a Course,
}

impl Lap<'_> {
    /// Distance of a point from it, and the distance along it of the nearest place.
    fn nearest(&self, p: Point) -> (f64, f64) {
        match self.course {
            Course::Curve(track) => track.nearest(p),
            _ => {
                let (d, t) = to_segment(p, self.from, self.to);
                (d, t * distance(self.from, self.to))
            }
        }
    }
}

impl Extent for Lap<'_> {
    fn extent(&self) -> impl Iterator<Item = Point> {
        let curve = if let Course::Curve(track) = self.course { Some(track.extent()) } else { None };
        [self.from, self.to].into_iter().chain(curve.into_iter().flatten())
    }
}

/// Where a post may stand between the fixed points.
fn laps(runs: &[Fixed]) -> Near<Lap<'_>> {
    let laps = runs.iter().enumerate().flat_map(|(number, run)| {
        let next = run.nodes.iter().skip(1).chain(run.nodes.first().filter(|_| run.closed));
        let courses = run.nodes.iter().zip(next).zip(&run.courses).enumerate();
        // Between the two posts of a corner no third one stands.
        courses.filter(|(_, (_, course))| **course != Course::Gap).map(move |(segment, ((a, b), course))| Lap {
            run: number,
            segment,
            from: a.at(),
            to: b.at(),
            course,
        })
    });
    laps.collect::<Vec<_>>().into()
}

/// Turn of a post that balances the skews of the rails going out from it in directions `a` and `b`: half way between
/// them, or an eighth turn further, whichever gives the smaller skew (a right angle gives none, 135 degrees give 22.5).
pub fn balanced(a: Point, b: Point) -> Angle {
    let (a, b) = (angle_of(a), angle_of(b));
    let half = (b - a) / 2.0;
    let middle = a + half;
    let skew = |turn: Angle| (a - turn).folded(QUARTER).abs();
    let eighth = middle + Angle::from_degrees(45.0);
    // On a tie (135 degrees) a face, not an edge, looks along the bisector; a nanoradian keeps the choice stable.
    let turn = if skew(eighth) < skew(middle) - Angle::from_radians(1e-9) { eighth } else { middle };
    turn.folded(QUARTER)
}

/// Turn of a post from its neighbours along the rail line.
pub fn rotation(post: &NodePost, before: Option<Point>, after: Option<Point>) -> Angle {
    if let Some(turn) = post.rotation {
        return turn.folded(QUARTER);
    }
    let out = |to: Point| (norm(to - post.at) > 0.0).then(|| to - post.at);
    match (before.and_then(out), after.and_then(out)) {
        (Some(a), Some(b)) => balanced(a, b),
        (Some(d), None) | (None, Some(d)) => angle_of(d).folded(QUARTER),
        (None, None) => Angle::ZERO,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::{direction, point};

    fn skews(interior: f64) -> (f64, f64) {
        let (a, b) = (direction(Angle::from_degrees(17.0)), direction(Angle::from_degrees(17.0 + interior)));
        let turn = balanced(a, b);
        ((angle_of(a) - turn).folded(QUARTER).degrees(), (angle_of(b) - turn).folded(QUARTER).degrees())
    }

    /// Check values: right angle 0/0, 135 degrees 22.5/22.5; the skews are equal and opposite at any angle.
    #[test]
    fn corner_posts_balance_the_skews() {
        for (interior, skew) in [(90.0, 0.0), (135.0, 22.5), (180.0, 0.0), (120.0, 15.0), (60.0, 15.0), (150.0, 15.0)] {
            let (a, b) = skews(interior);
            assert!((a.abs() - skew).abs() < 1e-6, "{interior}: {a}");
            assert!((a + b).abs() < 1e-6, "{interior}: {a} {b}");
        }
    }

    #[test]
    fn a_lone_post_follows_its_rail() {
        let post = NodePost {
            at: point(0.0, 0.0),
            kind: PostKind::End,
            origin: PostOrigin::Planned,
            side: Length::INCH,
            rotation: None,
            handle: None,
            known: None,
        };
        let turn = rotation(&post, None, Some(point(1.0, 1.0)));
        assert!((turn.degrees() - 45.0).abs() < 1e-9);
    }
}
