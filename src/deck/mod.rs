//! Entities -> a strict [`Plan`]: what each layer means, chained edges with the deck on their right-hand side, walls,
//! openings, stairs and drawn posts.
//!
//! Takes the drawing that `cad` read and the settings; gives a plan on which later stages cannot fail; refuses a
//! drawing without a usable deck edge. Every oddity that was put right or left out is a finding.

mod before;
mod chain;
mod cross;
mod crossings;
mod earlier;
mod edits;
mod ends;
mod fit;
mod flight;
mod grid;
mod guess;
mod inner;
mod layers;
mod levels;
mod model;
mod overlap;
mod picks;
mod plan;
mod posts;
mod rings;
mod roles;
mod side;
mod size;
mod stairs;
mod unlaid;
mod unmarked;
mod walls;
mod zones;

pub use before::{Before, Lost, LostLayout};
pub use cross::{Crossing, crosses_at_most, first_crossing};
pub use earlier::{Earlier, EarlierPost, SetBy};
pub use edits::Edits;
pub use ends::ChainEnd;
pub use flight::{Flight, Steps};
pub use grid::{Cell, Grid, cell_of, cells};
pub use guess::{Guess, Other, RoleGuess, UnitGuess, guess};
pub use layers::read;
pub use model::{CHORD_MM, Chain, DrawnPost, Edge, Outline, Plan, Wall, WallKind, Zone};
pub use plan::plan;
pub use roles::{Role, Roles, Taken};
pub use unmarked::{Unmarked, unmarked};
