//! What each layer of the drawing is taken for, and why.

use super::picks;
use crate::catalog::{LayerPatterns, LayerPick};

/// What a layer is read for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Deck edges.
    Edge,
    /// Openings that stay free.
    Opening,
    /// Posts.
    Post,
    /// Stairs.
    Stair,
    /// House walls.
    Wall,
    /// Zones in which no line post may stand.
    KeepOut,
    /// Joists, whose centres line posts prefer.
    Joist,
}

impl Role {
    /// All roles; where a layer's name fits several, the first one of this order wins.
    pub const ALL: [Self; 7] =
        [Self::Edge, Self::Opening, Self::Post, Self::Stair, Self::Wall, Self::KeepOut, Self::Joist];

    /// Its word in `--layer` and in messages.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Edge => "edge",
            Self::Opening => "opening",
            Self::Post => "post",
            Self::Stair => "stair",
            Self::Wall => "wall",
            Self::KeepOut => "keep-out",
            Self::Joist => "joist",
        }
    }

    /// Patterns that are used until the job says otherwise; `A-FLOR-STRS` is the stair layer of the US National CAD
    /// Standard.
    pub const fn default_patterns(self) -> &'static [&'static str] {
        match self {
            Self::Edge => &["*DECK*EDGE*", "*EDGE*DECK*"],
            Self::Opening => &["*OPENING*", "*GATE*"],
            Self::Post => &["*POST*"],
            Self::Stair => &["*STAIR*", "*A-FLOR-STRS*"],
            Self::Wall => &["*WALL*", "*HOUSE*"],
            Self::KeepOut => &["*KEEP*OUT*"],
            // Joists decide where posts stand only when the job says so.
            Self::Joist => &[],
        }
    }
}

/// A layer's role and how it came to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// The role.
    pub role: Role,
    /// The pattern that its name fits.
    pub pattern: String,
    /// Whether the pattern is the job's own.
    pub from_job: bool,
    /// Another role that the name fits as well.
    pub also: Option<Role>,
}

/// The patterns of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct Roles {
    patterns: Vec<(Role, String, bool)>,
    picks: Vec<LayerPick>,
}

impl Roles {
    /// The job's patterns, and the defaults for the roles that the job leaves out.
    pub fn new(job: &LayerPatterns) -> Self {
        let mut patterns = Vec::new();
        for role in Role::ALL {
            let own = match role {
                Role::Edge => &job.edge,
                Role::Opening => &job.opening,
                Role::Post => &job.post,
                Role::Stair => &job.stair,
                Role::Wall => &job.wall,
                Role::KeepOut => &job.keep_out,
                Role::Joist => &job.joist,
            };
            if own.is_empty() {
                patterns.extend(role.default_patterns().iter().map(|p| (role, (*p).to_owned(), false)));
            } else {
                patterns.extend(own.iter().map(|p| (role, p.clone(), true)));
            }
        }
        // The job's own word comes before any default.
        patterns.sort_by_key(|(_, _, from_job)| !from_job);
        Self { patterns, picks: job.picks.clone() }
    }

    /// Layers on which only what the job points at counts.
    pub fn picks(&self) -> &[LayerPick] {
        &self.picks
    }

    /// What a layer is taken for; layers that we write ourselves (`RAIL-*`) only when the job names them. The layers of
    /// external references, `reference|layer`, are known with and without the name of the reference to the job's patterns,
    /// and without it to the default ones: a file named `house` has not only walls in it.
    pub fn of(&self, layer: &str) -> Option<Taken> {
        if let Some(role) = picks::role_of(&self.picks, layer) {
            return Some(Taken { role, pattern: format!("points on {layer}"), from_job: true, also: None });
        }
        let own = layer.rsplit_once('|').map_or(layer, |(_, own)| own);
        let ours = own.get(..5).is_some_and(|head| head.eq_ignore_ascii_case("RAIL-"));
        let mut fits = self.patterns.iter().filter(|(_, p, from_job)| {
            let whole = || *from_job && matches(p, layer);
            (*from_job || !ours) && (matches(p, own) || whole())
        });
        let (role, pattern, from_job) = fits.next()?;
        let also = fits.find(|(other, _, own)| other != role && own == from_job).map(|(other, ..)| *other);
        Some(Taken { role: *role, pattern: pattern.clone(), from_job: *from_job, also })
    }

    /// The patterns of one role, for messages.
    pub fn patterns(&self, role: Role) -> Vec<&str> {
        self.patterns.iter().filter(|(r, ..)| *r == role).map(|(_, p, _)| p.as_str()).collect()
    }
}

/// Whether `name` fits `pattern`: `*` any run of characters, `?` one, without regard to case.
fn matches(pattern: &str, name: &str) -> bool {
    let pattern: Vec<char> = pattern.to_lowercase().chars().collect();
    let name: Vec<char> = name.to_lowercase().chars().collect();
    let (mut p, mut n) = (0, 0);
    // Where the last star stands and how much of the name it has taken: on a mismatch it takes one more.
    let mut star: Option<(usize, usize)> = None;
    while let Some(c) = name.get(n) {
        match pattern.get(p) {
            Some('*') => {
                star = Some((p, n));
                p += 1;
            }
            Some(want) if *want == '?' || want == c => {
                p += 1;
                n += 1;
            }
            _ => {
                let Some((at, taken)) = star else { return false };
                star = Some((at, taken + 1));
                p = at + 1;
                n = taken + 1;
            }
        }
    }
    pattern.iter().skip(p).all(|c| *c == '*')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_match_without_regard_to_case() {
        for (pattern, name, fits) in [
            ("*DECK*EDGE*", "a-deck-edge", true),
            ("*DECK*EDGE*", "Deck edge", true),
            ("*DECK*EDGE*", "DECK", false),
            ("A-?ALL", "a-wall", true),
            ("A-?ALL", "a-all", false),
            ("*", "", true),
            ("a*b*c", "aXbYbZc", true),
            ("a*b*c", "aXbYbZ", false),
            ("ÄUSSEN*", "äussenkante", true),
        ] {
            assert_eq!(matches(pattern, name), fits, "{pattern} {name}");
        }
    }

    #[test]
    fn odd_names_match_as_they_are() {
        for (pattern, name, fits) in [
            ("Deck  edge ", "deck  edge ", true),
            ("Deck edge", "Deck  edge", false),
            ("*", "a|b", true),
            ("**", "x", true),
            ("", "", true),
            ("", "x", false),
            ("???", "äöü", true),
            ("TERRASSE*KANTE", "terrasse – außen – kante", true),
            ("ДЕК-*", "дек-край", true),
            ("床板*", "床板 外周", true),
            ("[a-c]*", "b", false),
            ("a.c", "abc", false),
            ("*a*a*a*a*a*a*a*a*b", &"a".repeat(255), false),
        ] {
            assert_eq!(matches(pattern, name), fits, "{pattern:?} {name:?}");
        }
    }

    #[test]
    fn layers_of_references_are_known_by_both_names() {
        let defaults = Roles::new(&LayerPatterns::default());
        assert_eq!(defaults.of("house|A-DECK-EDGE").map(|t| (t.role, t.also)), Some((Role::Edge, None)));
        assert_eq!(defaults.of("house|TEXT"), None);
        assert_eq!(defaults.of("deck|RAIL-POST"), None);
        let layers = LayerPatterns { edge: vec!["new|X-WALL".into(), "RAND".into()], ..LayerPatterns::default() };
        let roles = Roles::new(&layers);
        assert_eq!(roles.of("new|x-wall").unwrap().role, Role::Edge);
        assert_eq!(roles.of("old|X-WALL").unwrap().role, Role::Wall);
        assert_eq!(roles.of("site|Rand").unwrap().role, Role::Edge);
    }

    #[test]
    fn the_jobs_pattern_wins_and_our_own_layers_are_left_alone() {
        let roles = Roles::new(&LayerPatterns { edge: vec!["RAND*".into()], ..LayerPatterns::default() });
        assert_eq!(roles.of("RAND-1").unwrap().role, Role::Edge);
        assert_eq!(roles.of("DECK-EDGE"), None);
        assert_eq!(roles.of("RAIL-POST"), None);
        assert_eq!(roles.of("S-POST").unwrap().role, Role::Post);
        assert_eq!(roles.of("HOUSE-STAIR").unwrap().also, Some(Role::Wall));
    }
}
