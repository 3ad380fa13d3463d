//! What happens at the rail's ends: cuts and brackets.

use super::{BracketAt, BracketKind, Cut, Opening};
use crate::base::{Angle, Length, Mark};
use crate::catalog::{Hole, Member};

/// Below this a joint counts as square: saws are set to a tenth of a degree at best (common practice).
const SQUARE_DEGREES: f64 = 0.05;

/// One member cut to `length` on the centre line, its ends parallel to the faces they meet.
///
/// Since the cut is parallel to the face, the clearance along the rail is the same over the whole width: a skew takes
/// nothing from the rail beyond the end clearance. On a stair both cuts are plumb: what a skew makes level is longer along
/// the slope, and in the elevation the member is a parallelogram whose tips lie height · tan(pitch) further apart than its
/// faces are long.
pub(super) fn cut(member: &Member, length: Length, opening: &Opening) -> Cut {
    let (left, right) = (opening.skew_left, opening.skew_right);
    let pitch = opening.rake.map(|rake| rake.pitch);
    let factor = pitch.map_or(1.0, |pitch| pitch.factor());
    let offset = |angle: Angle| member.width.scaled(angle.tan() / 2.0 * factor);
    let (at_left, at_right) = (offset(left), offset(right));
    let outer = length + at_left + at_right;
    let inner = length - at_left - at_right;
    Cut {
        member: member.role,
        length,
        long_point: outer.max(inner),
        short_point: outer.min(inner),
        tip_to_tip: length
            + at_left.abs()
            + at_right.abs()
            + pitch.map_or(Length::ZERO, |pitch| pitch.fall(member.height)),
        left,
        right,
        left_tip: at_left.abs(),
        plumb: pitch.map_or(Angle::ZERO, |pitch| pitch.angle()),
    }
}

/// A bracket's pattern along the rail: the level one or the raked one of a system.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pattern<'a> {
    /// From the rail's end to the bracket.
    pub setback: Length,
    /// From the rail's end to where it ends.
    pub reach: Length,
    /// Its holes.
    pub holes: &'a [Hole],
}

/// Both brackets of one member, left before right; holes in the order of the system's pattern.
pub(super) fn brackets(
    member: &Member,
    pattern: Pattern<'_>,
    length: Length,
    opening: &Opening,
    mark: Mark,
) -> [BracketAt; 2] {
    let holes: Vec<Length> = pattern.holes.iter().map(|hole| mark.round(pattern.setback + hole.along)).collect();
    let mirrored = holes.iter().map(|&hole| length - hole).collect();
    let at = |left: bool, skew: Angle, holes: Vec<Length>| BracketAt {
        member: member.role,
        left,
        setback: pattern.setback,
        kind: match opening.rake {
            Some(_) => BracketKind::Raked,
            None if skew.abs().degrees() > SQUARE_DEGREES => BracketKind::Angled,
            None => BracketKind::Level,
        },
        holes,
    };
    [at(true, opening.skew_left, holes), at(false, opening.skew_right, mirrored)]
}
