//! Words that every stage uses: exact lengths, angles, points, findings and the one number printer.
//!
//! Takes nothing, gives types, refuses lengths that are not written the way the trade writes them.

mod angle;
mod both;
mod conclusion;
mod edge;
mod finding;
mod frame;
mod length;
mod near;
mod piece;
mod pitch;
pub mod plane;
mod print;
mod routine;
mod sentence;

pub use angle::Angle;
pub(crate) use both::both;
pub use conclusion::{Conclusion, headline, is_complete, limits_hold, spot};
pub use edge::{of_cell, to_cell, visible, visible_line};
pub use finding::{Code, Finding, Place, Refusal, RuleRef, Severity};
pub use frame::{Frame, Unit};
pub use length::{Length, LengthError, Mark};
pub use near::{Extent, Near, widened};
pub use piece::{Arc, Piece};
pub use pitch::Pitch;
pub use plane::Point;
pub use print::{Measure, brief, decimal, feet_inches, inches, push_decimal};
pub use routine::{capped, counted};
pub use sentence::{in_one_unit, in_unit};
