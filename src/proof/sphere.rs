//! The largest sphere between a stair and the rail above it.
//!
//! In elevation: x level from the top nosing downhill, y up from it, in millimetres. The stair is an outline of level and
//! upright pieces and of corners, the rail's underside a slanting line above it, the faces at the panel's ends two uprights.
//! A sphere that touches the rail at some place grows until it meets the outline; each piece of the outline tells by a
//! polynomial of that place how far. The largest of all stands where two of these polynomials cross.

use crate::base::Point;
use crate::base::plane::{dot, point, right, unit};
use crate::deck::Steps;

/// More steps than this are not measured beneath one panel.
const MOST_STEPS: f64 = 200.0;
/// A touching point this near to the end of its piece still lies on it, in millimetres.
const TOUCH_MM: f64 = 1e-9;
/// Pieces of the outline that one sphere can touch lie no further apart than this in their order: three steps.
const NEAR: usize = 12;

/// A stair in elevation.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stair {
    riser: f64,
    tread: f64,
    nosing: f64,
    /// The nosing at which the steps begin, behind which it is level; steps without a beginning have none.
    begins: bool,
    /// Number of risers, after which it is level again, if they are known.
    risers: Option<u32>,
}

impl Stair {
    /// Steps below the edge of a deck; they go on without end where their number is not known.
    pub fn below(steps: Steps, risers: Option<u32>) -> Self {
        Self { begins: true, risers, ..Self::endless(steps) }
    }

    /// Steps without beginning and end.
    pub fn endless(steps: Steps) -> Self {
        let (riser, tread) = (steps.riser.millimetres(), steps.tread.millimetres());
        Self { riser, tread, nosing: steps.nosing.millimetres(), begins: false, risers: None }
    }

    /// Height of what one stands on at `x`.
    pub fn surface(&self, x: f64) -> f64 {
        // The nosing itself, and what is off it by the noise of f64, belongs to its tread.
        let step = (x / self.tread - 1e-9).ceil();
        let first = if self.begins { step.max(0.0) } else { step };
        -first.min(self.risers.map_or(f64::INFINITY, f64::from)) * self.riser
    }

    /// Height of the line through the nosings at `x`.
    pub fn nosing_line(&self, x: f64) -> f64 {
        -x * self.riser / self.tread
    }

    /// What bounds the space between two faces from below and from the sides.
    fn outline(&self, from: f64, to: f64) -> Vec<Piece> {
        let mut pieces = vec![Piece::Facing { x: from, low: f64::NEG_INFINITY, high: f64::INFINITY }];
        let around = self.tread + self.nosing;
        let step = |x: f64| (x / self.tread) as i64;
        let (mut first, mut last) = (step(from - around) - 1, step(to + around) + 1);
        if self.begins {
            first = first.max(0);
        }
        if let Some(risers) = self.risers {
            last = last.min(i64::from(risers) - 1);
        }
        let mut behind = f64::NEG_INFINITY;
        for k in first..=last {
            let (x, y) = (k as f64 * self.tread, -(k as f64) * self.riser);
            pieces.push(Piece::Level { y, from: behind, to: x });
            pieces.push(Piece::Corner(point(x, y)));
            behind = x - self.nosing;
            pieces.push(Piece::Facing { x: behind, low: y - self.riser, high: y });
        }
        pieces.push(Piece::Level { y: -((last + 1) as f64) * self.riser, from: behind, to: f64::INFINITY });
        pieces.push(Piece::Against(to));
        pieces
    }

    /// The underside of a rail `gap` above the nosing line, plumb, that begins at `from`.
    fn rail(&self, from: f64, gap: f64) -> Rail {
        let along = unit(point(self.tread, -self.riser));
        Rail { start: point(from, self.nosing_line(from) + gap), along, down: right(along) }
    }

    /// Diameter of the largest sphere that lies on the deck, behind the top nosing, against the face at `from`: the space
    /// between deck and rail is highest there. `None` where the face stands so near to the nosing that none does.
    pub fn over_deck(&self, from: f64, gap: f64) -> Option<f64> {
        let rail = self.rail(from, gap);
        let pieces = [
            Piece::Facing { x: from, low: f64::NEG_INFINITY, high: f64::INFINITY },
            Piece::Level { y: 0.0, from, to: 0.0 },
        ];
        let [face, deck] = pieces.each_ref().map(|piece| piece.law(&rail));
        let [_, level] = &pieces;
        let place = crossings(&face, &deck).into_iter().find(|s| *s >= 0.0).filter(|_| self.begins)?;
        level.met(&rail, &deck, place).map(|radius| 2.0 * radius)
    }

    /// Diameter of the largest sphere beneath a rail `gap` above the nosing line, plumb, between faces at `from` and `to`;
    /// `None` where there is no space, or too many steps.
    pub fn largest(&self, from: f64, to: f64, gap: f64) -> Option<f64> {
        let fits = self.riser > 0.0 && self.tread > 0.0 && from < to && (to - from) / self.tread < MOST_STEPS;
        if !fits || !from.is_finite() || !gap.is_finite() {
            return None;
        }
        let rail = self.rail(from, gap);
        let end = (to - from) / rail.along.x;
        let pieces = self.outline(from, to);
        let laws: Vec<[f64; 3]> = pieces.iter().map(|piece| piece.law(&rail)).collect();
        let (walls, last) = ([0, pieces.len() - 1], pieces.len() - 1);
        let mut places = vec![0.0, end];
        for (i, one) in laws.iter().enumerate() {
            let near =
                laws.iter().enumerate().filter(|(j, _)| *j > i && (*j - i <= NEAR || walls.contains(&i) || *j == last));
            places.extend(near.flat_map(|(_, other)| crossings(one, other)).filter(|s| (0.0..=end).contains(s)));
        }
        let radius = |s: f64| {
            let met = pieces.iter().zip(&laws).filter_map(|(piece, law)| piece.met(&rail, law, s));
            met.fold(f64::INFINITY, f64::min)
        };
        let widest = places.into_iter().map(radius).fold(0.0, f64::max);
        widest.is_finite().then_some(2.0 * widest)
    }
}

/// The underside of the rail.
struct Rail {
    start: Point,
    along: Point,
    /// Square to it, towards the stair.
    down: Point,
}

impl Rail {
    fn at(&self, s: f64) -> Point {
        self.start + self.along * s
    }
}

/// A piece of what bounds the space.
enum Piece {
    /// Seen from above.
    Level {
        y: f64,
        from: f64,
        to: f64,
    },
    /// Seen from downhill.
    Facing {
        x: f64,
        low: f64,
        high: f64,
    },
    /// The lower end of the space, seen from uphill.
    Against(f64),
    Corner(Point),
}

impl Piece {
    /// Radius of the sphere that touches the rail at `s` and this piece, as polynomial in `s`, lowest power first.
    fn law(&self, rail: &Rail) -> [f64; 3] {
        // A plane with normal n, seen from its free side: the centre's distance from it grows with r by down·n.
        let plane = |on: Point, n: Point| {
            let by = 1.0 - dot(rail.down, n);
            [dot(rail.start - on, n) / by, dot(rail.along, n) / by, 0.0]
        };
        match *self {
            Self::Level { y, .. } => plane(point(0.0, y), point(0.0, 1.0)),
            Self::Facing { x, .. } => plane(point(x, 0.0), point(1.0, 0.0)),
            Self::Against(x) => plane(point(x, 0.0), point(-1.0, 0.0)),
            Self::Corner(p) => {
                let off = rail.start - p;
                let twice = -2.0 * dot(rail.down, off);
                [dot(off, off) / twice, 2.0 * dot(off, rail.along) / twice, 1.0 / twice]
            }
        }
    }

    /// That radius, if the sphere touches the piece within its ends.
    fn met(&self, rail: &Rail, law: &[f64; 3], s: f64) -> Option<f64> {
        let [c, b, a] = *law;
        let radius = (a * s + b) * s + c;
        let centre = rail.at(s) + rail.down * radius;
        let within = |value: f64, low: f64, high: f64| value >= low - TOUCH_MM && value <= high + TOUCH_MM;
        let touches = match *self {
            Self::Level { from, to, .. } => within(centre.x, from, to),
            Self::Facing { low, high, .. } => within(centre.y, low, high),
            Self::Against(_) | Self::Corner(_) => true,
        };
        // Behind a piece, and above a corner that the rail lies on, nothing is met.
        (touches && radius.is_finite() && radius > -TOUCH_MM).then_some(radius.max(0.0))
    }
}

/// Where two polynomials of the second degree have the same value.
fn crossings(one: &[f64; 3], other: &[f64; 3]) -> Vec<f64> {
    let ([c, b, a], [z, y, x]) = (*one, *other);
    let (c, b, a) = (c - z, b - y, a - x);
    let scale = one.iter().chain(other).fold(0.0_f64, |most, v| most.max(v.abs()));
    if a.abs() <= 1e-14 * scale {
        return if b == 0.0 { Vec::new() } else { vec![-c / b] };
    }
    let square = b * b - 4.0 * a * c;
    if square < 0.0 {
        return Vec::new();
    }
    // The form that does not cancel.
    let q = -0.5 * (b + b.signum() * square.sqrt());
    [q / a, c / q].into_iter().filter(|s| s.is_finite()).collect()
}
