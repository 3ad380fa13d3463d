//! TOML text -> checked catalog types, and the built-in systems and rule sets.

use std::fmt;

use serde::de::DeserializeOwned;

use super::{Circumstances, GraspSection, Job, MemberRole, RailSystem, RuleFile, RuleSet, infill};
use crate::base::{Length, brief};

/// The first one is the default.
const SYSTEMS: [(&str, &str); 4] = [
    ("composite-36", include_str!("systems/composite-36.toml")),
    ("metal-42", include_str!("systems/metal-42.toml")),
    ("cable-36", include_str!("systems/cable-36.toml")),
    ("frame-42", include_str!("systems/frame-42.toml")),
];

/// The first one is the default.
const RULES: [(&str, &str); 13] = [
    ("irc-2021", include_str!("rules/irc-2021.toml")),
    ("irc-2018", include_str!("rules/irc-2018.toml")),
    ("irc-2024", include_str!("rules/irc-2024.toml")),
    ("ibc-2018", include_str!("rules/ibc-2018.toml")),
    ("ibc-2021", include_str!("rules/ibc-2021.toml")),
    ("california-residential", include_str!("rules/california-residential.toml")),
    ("ada-2010", include_str!("rules/ada-2010.toml")),
    ("osha-1910", include_str!("rules/osha-1910.toml")),
    ("canada-nbc", include_str!("rules/canada-nbc.toml")),
    ("england-k", include_str!("rules/england-k.toml")),
    ("australia-ncc", include_str!("rules/australia-ncc.toml")),
    ("newzealand-f4", include_str!("rules/newzealand-f4.toml")),
    ("france-nf-p01-012", include_str!("rules/france-nf-p01-012.toml")),
];

/// No part of a rail is larger: 100 m, some five of the longest trucks. It keeps sums in range and drawings finite.
const LARGEST: Length = Length::from_nanometres(100_000_000_000);

/// Why a catalog file cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CatalogError {
    /// What is wrong; for TOML errors with line, column and the line itself.
    pub message: String,
    /// What to do.
    pub hint: Option<String>,
    /// For TOML errors, line and column, without a word of what stands there.
    pub place: Option<String>,
}

impl CatalogError {
    pub(super) fn new(message: impl Into<String>) -> Self {
        Self { message: brief(&message.into()), hint: None, place: None }
    }

    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

impl fmt::Display for CatalogError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for CatalogError {}

/// Built-in rail systems: name and TOML text, the default first.
pub const fn builtin_systems() -> &'static [(&'static str, &'static str)] {
    &SYSTEMS
}

/// Built-in rule sets: name and TOML text, the default first.
pub const fn builtin_rules() -> &'static [(&'static str, &'static str)] {
    &RULES
}

fn parse<T: DeserializeOwned>(text: &str, file: &str) -> Result<T, CatalogError> {
    toml::from_str(text).map_err(|e| {
        let told = e.to_string();
        // Where the error has a place, the first line says it, and those after it quote.
        let place = e.span().and(told.lines().next()).map(str::to_owned);
        CatalogError { place, ..CatalogError::new(format!("{file}: {}", told.trim_end())) }
    })
}

fn named<'a>(all: &'a [(&str, &'a str)], kind: &str, name: &str) -> Result<&'a str, CatalogError> {
    all.iter().find(|(n, _)| *n == name).map(|(_, text)| *text).ok_or_else(|| {
        let names: Vec<_> = all.iter().map(|(n, _)| *n).collect();
        CatalogError::new(format!("there is no {kind} named `{name}`"))
            .hint(format!("built in: {}; a file's name must end in .toml", names.join(", ")))
    })
}

/// A built-in rail system.
///
/// # Errors
/// When there is none of that name.
pub fn system_named(name: &str) -> Result<RailSystem, CatalogError> {
    read_system(named(&SYSTEMS, "rail system", name)?, name)
}

/// The file of a built-in rule set.
///
/// # Errors
/// When there is none of that name.
pub fn rule_file_named(name: &str) -> Result<RuleFile, CatalogError> {
    read_rule_file(named(&RULES, "rule set", name)?, name)
}

/// A built-in rule set as it holds where nothing of the case is stated.
///
/// # Errors
/// When there is none of that name.
pub fn rules_named(name: &str) -> Result<RuleSet, CatalogError> {
    rule_file_named(name)?.resolve(&Circumstances::default())
}

/// Reads a job file.
///
/// # Errors
/// When it is not valid TOML, has an unknown key, or a value is not of its kind.
pub fn read_job(text: &str, file: &str) -> Result<Job, CatalogError> {
    parse(text, file)
}

/// Reads a rule set's file.
///
/// # Errors
/// As [`read_job`]; also when a value is none, two entries could hold at once, or something is removed from nothing.
pub fn read_rule_file(text: &str, file: &str) -> Result<RuleFile, CatalogError> {
    let rules: RuleFile = parse(text, file)?;
    match rules.check() {
        Err(flaw) => Err(CatalogError { message: format!("{file}: {}", flaw.message), ..flaw }),
        Ok(()) => Ok(rules),
    }
}

/// Reads a rail system.
///
/// # Errors
/// As [`read_job`]; also when its figures do not make a panel.
pub fn read_system(text: &str, file: &str) -> Result<RailSystem, CatalogError> {
    let system: RailSystem = parse(text, file)?;
    match flaw(&system) {
        Some(flaw) => Err(CatalogError::new(format!("{file}: rail system `{}`: {flaw}", system.name))),
        None => Ok(system),
    }
}

/// The first thing in a system that would make every panel of it wrong.
fn flaw(s: &RailSystem) -> Option<String> {
    if let Some(length) = lengths(s).into_iter().find(|l| l.abs() > LARGEST) {
        return Some(format!("{length} is more than any part of a rail measures ({LARGEST})"));
    }
    let positive = [
        ("height", s.height),
        ("longest-panel", s.longest_panel),
        ("shortest-panel", s.shortest_panel),
        ("post side", s.post.side),
        ("bracket reach", s.bracket.reach),
    ];
    if let Some((name, _)) = positive.iter().find(|(_, l)| *l <= Length::ZERO) {
        return Some(format!("{name} must be more than nothing"));
    }
    let not_negative = [s.bottom_gap, s.end_clearance, s.post.inset, s.post.above, s.bracket.setback]
        .into_iter()
        .chain(s.members.iter().map(|m| m.height));
    if not_negative.into_iter().any(|l| l < Length::ZERO) {
        return Some("a gap, clearance, inset, setback or height is negative".to_owned());
    }
    if s.shortest_panel > s.longest_panel {
        return Some("shortest-panel is longer than longest-panel".to_owned());
    }
    if s.baluster_length() <= Length::ZERO {
        return Some(format!(
            "height {} less the bottom gap and all members leaves {} for the {}",
            s.height,
            s.baluster_length(),
            if s.baluster.is_some() { "balusters" } else { "infill" }
        ));
    }
    infill::flaw(s).or_else(|| members_flaw(s)).or_else(|| tables_flaw(s)).or_else(|| stairs_flaw(s))
}

/// Every length that a system states.
fn lengths(s: &RailSystem) -> Vec<Length> {
    let mut all = vec![s.height, s.bottom_gap, s.longest_panel, s.shortest_panel, s.end_clearance];
    all.extend([s.post.side, s.post.inset]);
    all.extend(infill::lengths(s));
    all.extend([s.bracket.setback, s.bracket.reach, s.bracket.width, s.bracket.fastener.pilot]);
    all.extend(s.bracket.holes.iter().flat_map(|h| [h.along, h.across]));
    all.extend(s.members.iter().flat_map(|m| [m.height, m.width]));
    all.extend(s.members.iter().filter_map(|m| m.baluster_holes.as_ref()).map(|f| f.pilot));
    if let Some(blocks) = &s.blocks {
        all.extend([blocks.width, blocks.screw_clearance, blocks.fastener.pilot]);
        all.extend(blocks.counts.iter().map(|row| row.up_to));
    }
    all.extend(s.cap_screws.iter().flat_map(|c| [c.longest_spacing, c.screw_clearance, c.pilot]));
    all.extend(s.kits.iter().map(|k| k.length).chain(s.stock.iter().map(|l| l.length)));
    all.push(s.post.above);
    if let Some(raked) = &s.raked {
        all.extend([raked.height, raked.bottom_gap, raked.longest_panel, raked.steepest.rise(), raked.steepest.run()]);
        all.extend([raked.bracket.setback, raked.bracket.reach]);
        all.extend(raked.punched_spacing);
        all.extend(raked.bracket.holes.iter().flat_map(|h| [h.along, h.across]));
    }
    if let Some(rail) = &s.handrail {
        all.extend([rail.height, rail.clearance, rail.bracket_spacing, rail.bracket_end]);
    }
    all
}

fn members_flaw(s: &RailSystem) -> Option<String> {
    if !s.members.is_sorted_by(|a, b| a.role < b.role) {
        return Some("members stand from low to high, each once: support-rail, bottom-rail, top-rail, cap".to_owned());
    }
    for role in [MemberRole::BottomRail, MemberRole::TopRail] {
        if s.member(role).is_none() {
            return Some(format!("it has no {}: the infill needs a bottom and a top rail", role.text()));
        }
    }
    if s.members.iter().any(|m| m.width <= Length::ZERO) {
        return Some("a member's width must be more than nothing".to_owned());
    }
    if let Some(role) = s.bracket.members.iter().find(|r| s.member(**r).is_none()) {
        return Some(format!("brackets hold the {}, which the system does not have", role.text()));
    }
    let has_cap = s.member(MemberRole::Cap).is_some();
    if has_cap != s.cap_screws.is_some() {
        return Some("a cap needs cap-screws, and cap-screws need a cap".to_owned());
    }
    None
}

fn tables_flaw(s: &RailSystem) -> Option<String> {
    if let Some(blocks) = &s.blocks {
        if blocks.counts.is_empty() || !blocks.counts.is_sorted_by(|a, b| a.up_to < b.up_to) {
            return Some("blocks need at least one count row, shortest first".to_owned());
        }
        if blocks.width <= Length::ZERO {
            return Some("blocks width must be more than nothing".to_owned());
        }
    }
    if s.cap_screws.as_ref().is_some_and(|c| c.longest_spacing <= Length::ZERO) {
        return Some("cap-screws longest-spacing must be more than nothing".to_owned());
    }
    supply_flaw(s)
}

/// What is sold must be enough to build a panel from.
fn supply_flaw(s: &RailSystem) -> Option<String> {
    if !s.kits.is_sorted_by(|a, b| a.length <= b.length) {
        return Some("kits stand shortest first".to_owned());
    }
    for member in &s.members {
        let sold =
            s.kits.iter().any(|k| k.holds(member.role)) || s.stock.iter().any(|l| l.member == member.role.into());
        if !sold {
            return Some(format!(
                "nothing is sold to cut the {} from: add a kit or a stock length",
                member.role.text()
            ));
        }
    }
    let lengths = s.kits.iter().map(|k| k.length).chain(s.stock.iter().map(|l| l.length));
    if lengths.into_iter().any(|l| l <= Length::ZERO) {
        return Some("a kit's or stock's length must be more than nothing".to_owned());
    }
    let figures = s.kits.iter().flat_map(|k| [k.price, k.weight_kg]);
    let figures = figures.chain(s.stock.iter().flat_map(|l| [l.price, l.weight_kg]));
    let figures = figures.chain(s.packs.iter().flat_map(|p| [p.price, p.weight_kg])).flatten();
    // More than a thousand million of any currency is a slip of the pen, and sums must stay exact in hundredths.
    if figures.into_iter().any(|f| !f.is_finite() || !(0.0..=1e9).contains(&f)) {
        return Some("a price or weight is negative or absurd".to_owned());
    }
    // A price that rounds to nothing would be no price to choose by.
    let free = |price: Option<f64>| price.is_some_and(|p| p < 0.005);
    let sold = s.kits.iter().map(|k| (&k.name, k.price)).chain(s.stock.iter().map(|l| (&l.name, l.price)));
    if let Some((name, _)) = sold.into_iter().find(|(_, price)| free(*price)) {
        return Some(format!(
            "`{name}` has the price 0; leave its price out, and lengths are reckoned with, or list what there is with --stock"
        ));
    }
    if let Some(pack) = s.packs.iter().find(|p| p.count == 0) {
        return Some(format!("pack `{}` holds nothing", pack.name));
    }
    let doubled = s.packs.iter().enumerate().find(|(i, p)| s.packs.iter().take(*i).any(|q| q.of == p.of));
    doubled.map(|(_, p)| format!("pack `{}`: its part is sold in another pack as well; keep one", p.name))
}

fn stairs_flaw(s: &RailSystem) -> Option<String> {
    if let Some(raked) = &s.raked {
        let positive = [raked.height, raked.longest_panel, raked.bracket.reach];
        if positive.into_iter().chain(raked.punched_spacing).any(|l| l <= Length::ZERO) {
            return Some("raked height, longest-panel, reach and punched-spacing must be more than nothing".to_owned());
        }
        if raked.bottom_gap < Length::ZERO || raked.bracket.setback < Length::ZERO {
            return Some("raked bottom-gap or setback is negative".to_owned());
        }
        if raked.longest_panel < s.shortest_panel {
            return Some("raked longest-panel is shorter than shortest-panel".to_owned());
        }
        // The steepest slope makes the members' stack the highest.
        let members = raked.steepest.along(s.members.iter().map(|m| m.height).sum());
        if raked.height - raked.bottom_gap - members <= Length::ZERO {
            return Some(format!("raked height {} leaves nothing for the infill at {}", raked.height, raked.steepest));
        }
    }
    let rail = s.handrail.as_ref()?;
    let section = match rail.section {
        GraspSection::Round(diameter) => [diameter; 2],
        GraspSection::Other { perimeter, across } => [perimeter, across],
    };
    let positive = section.into_iter().chain([rail.height, rail.bracket_spacing]);
    if positive.into_iter().any(|l| l <= Length::ZERO) {
        return Some("a handrail's section, height and bracket-spacing must be more than nothing".to_owned());
    }
    (rail.clearance < Length::ZERO || rail.bracket_end < Length::ZERO)
        .then(|| "a handrail's clearance or bracket-end is negative".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_built_in_files_are_valid_and_named_as_listed() {
        for (name, _) in builtin_systems() {
            assert_eq!(system_named(name).unwrap().name, *name);
        }
        for (name, _) in builtin_rules() {
            assert_eq!(rules_named(name).unwrap().name, *name);
        }
    }

    /// Closed form: 36 less a gap of 2-1/2 and members of 1-1/2, 1-1/4 and 1 leaves 29-3/4; height 42 leaves 35-3/4.
    #[test]
    fn the_baluster_length_is_what_the_stack_leaves() {
        let mut system = system_named("composite-36").unwrap();
        assert_eq!(system.baluster_length(), Length::INCH.fraction(119, 4));
        system.height = Length::INCH * 42;
        assert_eq!(system.baluster_length(), Length::INCH.fraction(143, 4));
    }

    #[test]
    fn errors_name_file_line_and_what_to_write() {
        let text = SYSTEMS[0].1.replacen("height = \"36in\"", "height = \"36\"", 1);
        let message = read_system(&text, "my.toml").unwrap_err().message;
        assert!(
            message.contains("my.toml") && message.contains("line 6") && message.contains("it has no unit"),
            "{message}"
        );
        let place = |text: &str| read_system(text, "my.toml").unwrap_err().place;
        assert_eq!(place(&text).as_deref(), Some("TOML parse error at line 6, column 10"));
        assert_eq!(place("root:x:0:0\n").as_deref(), Some("TOML parse error at line 1, column 11"));
        assert_eq!(place("height = \"1in\"\n").as_deref(), Some("TOML parse error at line 1, column 1"));
        let text = SYSTEMS[0].1.replace("bottom-gap", "botom-gap");
        let message = read_system(&text, "my.toml").unwrap_err().message;
        assert!(message.contains("botom-gap"), "{message}");
        let text = SYSTEMS[0].1.replace("bottom-gap = \"2-1/2in\"", "bottom-gap = \"33-1/4in\"");
        let message = read_system(&text, "my.toml").unwrap_err().message;
        assert!(message.contains("leaves -1in for the balusters"), "{message}");
    }
}
