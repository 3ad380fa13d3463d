//! Rail systems, rule sets and job settings, as data.
//!
//! Takes TOML text; gives checked types; refuses unknown fields, lengths without units and systems that cannot be
//! built, each with file, line and what to write instead.

mod infill;
mod job;
mod layer_names;
mod load;
mod measured;
mod on_hand;
mod own_layers;
mod paper;
mod rules;
mod stairs;
mod supply;
mod system;

pub use infill::{CableSpec, FrameSpec, InfillSpec, Slat};
pub use job::{
    BalusterStyle, Bays, CornerPosts, FreeEnds, Inside, Job, LayerPatterns, LayerPick, Project, Revision, Settings,
};
pub use layer_names::{Layer, LayerStandard, OutputLayers, layer_names};
pub use load::{
    CatalogError, builtin_rules, builtin_systems, read_job, read_rule_file, read_system, rule_file_named, rules_named,
    system_named,
};
pub use measured::{Measured, Measurements, read_measured};
pub use on_hand::{OnHand, read_on_hand};
pub use own_layers::{Claim, OwnLayers};
pub use paper::Paper;
pub use rules::{
    Assumed, Circumstances, Count, CountEntry, CountKind, Evidence, Exact, GuardPlace, Limit, LimitEntry, LimitKind,
    Load, LoadEntry, LoadKind, LoadUnit, RuleFile, RuleKind, RuleSet, Use,
};
pub use stairs::{Sides, StairJob, StairsJob};
pub use supply::{Pack, Packed, Part, ShopJob, ShopSettings, StockLength, Stocked};
pub use system::{
    BalusterSpec, BlockStep, Blocks, Bracket, CapScrews, Fastener, GraspSection, HandrailSpec, Hole, Kit, Member,
    MemberRole, PostSpec, RailSystem, Raked, RakedBracket, Section, Serves,
};
