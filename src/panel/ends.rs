//! What happens at the rail's ends: cuts and brackets.

use super::{BracketAt, BracketKind, Cut, Opening};
use crate::base::{Angle, Length, Mark};
use crate::catalog::{Bracket, Member};

/// Below this a joint counts as square: saws are set to a tenth of a degree at best (common practice).
const SQUARE_DEGREES: f64 = 0.05;

/// One member cut to `length` on the centre line, its ends parallel to the faces they meet.
///
/// Since the cut is parallel to the face, the clearance along the rail is the same over the whole width: a skew takes
/// nothing from the rail beyond the end clearance.
pub(super) fn cut(member: &Member, length: Length, opening: &Opening) -> Cut {
    let (left, right) = (opening.skew_left, opening.skew_right);
    let offset = |angle: Angle| member.width.scaled(angle.tan() / 2.0);
    let (at_left, at_right) = (offset(left), offset(right));
    let outer = length + at_left + at_right;
    let inner = length - at_left - at_right;
    Cut {
        member: member.role,
        length,
        long_point: outer.max(inner),
        short_point: outer.min(inner),
        tip_to_tip: length + at_left.abs() + at_right.abs(),
        left,
        right,
        left_tip: at_left.abs(),
        plumb: Angle::ZERO,
    }
}

/// Both brackets of one member, left before right; holes in the order of the system's pattern.
pub(super) fn brackets(
    member: &Member,
    bracket: &Bracket,
    length: Length,
    opening: &Opening,
    mark: Mark,
) -> [BracketAt; 2] {
    let holes: Vec<Length> = bracket.holes.iter().map(|hole| mark.round(bracket.setback + hole.along)).collect();
    let mirrored = holes.iter().map(|&hole| length - hole).collect();
    let at = |left: bool, skew: Angle, holes: Vec<Length>| BracketAt {
        member: member.role,
        left,
        setback: bracket.setback,
        kind: if skew.abs().degrees() > SQUARE_DEGREES { BracketKind::Angled } else { BracketKind::Level },
        holes,
    };
    [at(true, opening.skew_left, holes), at(false, opening.skew_right, mirrored)]
}
