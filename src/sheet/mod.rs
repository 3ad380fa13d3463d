//! Results -> finished drawings: positioned shapes on named layers, dimensions, tables.
//!
//! Takes the layout and its findings; gives drawings in which every position and every text is final; refuses nothing.

mod model;

pub use model::{
    Align, Anchor, Dimension, Drawing, Item, Layer, Linetype, ObjectId, PostMark, Shape, TextSpec, VAlign,
};
