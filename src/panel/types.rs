//! What a panel is made of. All marks are measured along the rail's centre line from its left end, left as seen
//! standing on the deck looking out, and all lie on the mark grid.

use crate::base::{Angle, Length};
use crate::catalog::{BalusterStyle, MemberRole};
use crate::guard::Rake;

use super::infill::PanelInfill;

/// What a panel has to fill.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// Span id.
    pub id: String,
    /// Clear distance between the two faces, along the rail line.
    pub clear: Length,
    /// Signed angle at the left face: positive when the outer edge (away from the deck) is the longer one there.
    pub skew_left: Angle,
    /// The same at the right face.
    pub skew_right: Angle,
    /// The slope on a stair; `clear` is measured level.
    pub rake: Option<Rake>,
}

/// One member cut to length.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Which member.
    pub member: MemberRole,
    /// Length on the centre line.
    pub length: Length,
    /// Length of the longer edge.
    pub long_point: Length,
    /// Length of the shorter edge.
    pub short_point: Length,
    /// From tip to tip along the rail: what the stock must have.
    pub tip_to_tip: Length,
    /// Saw angle at the left end, signed like [`Opening::skew_left`]; 0 is square.
    pub left: Angle,
    /// Saw angle at the right end.
    pub right: Angle,
    /// How far the left tip lies outside the centre line's end: a mark measured from the tip is longer by this.
    pub left_tip: Length,
    /// On a stair both ends are cut plumb, at this angle to square in the elevation; 0 on a level panel. What the plumb
    /// cut adds to the stock's length is in [`Cut::tip_to_tip`]; marks on either face run from that face's own end.
    pub plumb: Angle,
}

/// The balusters of a panel.
#[derive(Debug, Clone, PartialEq)]
pub struct Balusters {
    /// How they were divided.
    pub style: BalusterStyle,
    /// On-centre spacing that the marks come from (`even`: gap plus width), before rounding to marks.
    pub spacing: Length,
    /// Length of each; for another infill the clear height between bottom and top rail, plumb.
    pub length: Length,
    /// Centres as running marks; empty for another infill.
    pub marks: Vec<Length>,
    /// Clear space from the left face to the first, along the centre line.
    pub end_gap_left: Length,
    /// Clear space from the last to the right face.
    pub end_gap_right: Length,
    /// Widest clear space of all, end gaps included.
    pub widest_gap: Length,
}

/// What joint a bracket is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum BracketKind {
    /// Square.
    Level,
    /// Angled in plan.
    Angled,
    /// On a stair.
    Raked,
}

impl BracketKind {
    /// Its word in lists and files.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Level => "level",
            Self::Angled => "angled",
            Self::Raked => "raked",
        }
    }
}

/// A bracket at one end of one member.
#[derive(Debug, Clone, PartialEq)]
pub struct BracketAt {
    /// Which member it holds.
    pub member: MemberRole,
    /// At the left end.
    pub left: bool,
    /// Set back from the rail's end by this.
    pub setback: Length,
    /// Its kind.
    pub kind: BracketKind,
    /// Its holes as running marks from the rail's left end.
    pub holes: Vec<Length>,
}

/// The rail assembly that fills one span.
///
/// On a stair, `span`, the clearances and the gaps of the balusters are level, `height` and `bottom_gap` are plumb from the
/// nosing line, and all else (rail length, spacing and every running mark) is along the slope.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Span id.
    pub id: String,
    /// The clear opening.
    pub span: Length,
    /// Rail length on the centre line.
    pub length: Length,
    /// Clearance left at the left end.
    pub clearance_left: Length,
    /// Clearance left at the right end.
    pub clearance_right: Length,
    /// Members from low to high.
    pub cuts: Vec<Cut>,
    /// What fills it.
    pub infill: PanelInfill,
    /// Its balusters.
    pub balusters: Balusters,
    /// Support block centres.
    pub blocks: Vec<Length>,
    /// Height of each block, from what it stands on to the lowest member's underside, plumb; empty where the stair
    /// beneath is not known.
    pub block_heights: Vec<Length>,
    /// Cap screws.
    pub cap_screws: Vec<Length>,
    /// Brackets, by member from low to high, left before right.
    pub brackets: Vec<BracketAt>,
    /// Height of the finished top above the deck.
    pub height: Length,
    /// Clear space under the lowest member.
    pub bottom_gap: Length,
    /// The slope, on a stair.
    pub rake: Option<Rake>,
}

impl Panel {
    /// A mark along the rail as level distance from the rail's left end; the same on a level panel.
    pub fn level_mark(&self, mark: Length) -> Length {
        self.rake.map_or(mark, |rake| rake.pitch.level(mark))
    }
}
