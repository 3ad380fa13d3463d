//! Results -> finished drawings: positioned shapes on named layers, dimensions, tables.
//!
//! Takes the layout and its findings; gives drawings in which every position and every text is final; refuses nothing.

mod alike;
mod alone;
mod board;
mod callout;
mod caution;
#[cfg(test)]
mod checks;
mod compose;
mod context;
mod dimension;
mod drilling;
mod elevation;
mod flight;
mod flight_dims;
mod flight_notes;
mod flights;
mod grid;
mod infill;
mod label;
mod limits;
mod model;
mod order_tables;
mod page;
mod permit;
mod plan;
mod rails;
mod raked;
mod raked_dims;
mod raked_stair;
mod room;
mod running;
#[cfg(test)]
mod sample;
#[cfg(test)]
mod sample_stairs;
mod scale;
mod section;
mod stair_tables;
mod stretch;
mod support;
mod tables;
mod tag;
mod template;
mod text;

pub use alike::{Alike, alike};
pub use alone::alone;
pub use caution::CAUTIONS;
pub use compose::{Set, compose, compose_with, may_be_drawn, plan_of, rails, rails_of};
pub use context::context;
pub use elevation::elevation;
pub use flight::flight_elevations;
pub use grid::{Column, Table};
pub use model::{
    Align, Anchor, Dimension, Drawing, Item, Layer, Linetype, ObjectId, PostMark, Shape, TagMark, TextSpec, VAlign,
};
pub use page::{Page, PageText, View};
pub use permit::permit_set;
pub use plan::{plan, plan_beside};
pub use rails::member_name;
pub use section::section;
pub use stair_tables::degrees;
pub use support::support_name;
pub use tables::{end_cut, limit_tables, schedules};
pub use template::{TemplatePaper, templates};
pub use text::size_text;
#[cfg(test)]
pub(crate) use {sample::level_sample, sample_stairs::all as stair_samples};
