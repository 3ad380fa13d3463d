//! What each layer of the drawing is taken for, and why.

use super::picks;
use crate::catalog::{LayerPatterns, LayerPick, OwnLayers};

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
    /// Ramps, which are told and not laid out.
    Ramp,
    /// Rails that the designer drew, which are told where no guard is laid out.
    Rail,
}

impl Role {
    /// All roles; where a layer's name fits several, the first one of this order wins.
    pub const ALL: [Self; 9] = [
        Self::Edge,
        Self::Opening,
        Self::Post,
        Self::Stair,
        Self::Wall,
        Self::KeepOut,
        Self::Joist,
        Self::Ramp,
        Self::Rail,
    ];

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
            Self::Ramp => "ramp",
            Self::Rail => "rail",
        }
    }

    /// Words of a layer's name that are looked for until the job says otherwise: all words of one of these lists.
    /// `A-FLOR-STRS` is the stair layer of the US National CAD Standard.
    pub const fn default_words(self) -> &'static [&'static [&'static str]] {
        match self {
            Self::Edge => &[&["DECK", "EDGE"]],
            Self::Opening => &[&["OPENING"], &["GATE"]],
            Self::Post => &[&["POST"]],
            Self::Stair => &[&["STAIR"], &["FLOR", "STRS"]],
            Self::Wall => &[&["WALL"], &["HOUSE"]],
            Self::KeepOut => &[&["KEEP", "OUT"]],
            // Joists decide where posts stand only when the job says so.
            Self::Joist => &[],
            Self::Ramp => &[&["RAMP"]],
            Self::Rail => &[&["RAIL"], &["RAILING"], &["HANDRAIL"], &["GUARDRAIL"], &["BALUSTRADE"]],
        }
    }

    /// Words beside which a word of this role means something else: a retaining wall is no house.
    const fn other_words(self) -> &'static [&'static str] {
        match self {
            Self::Wall => &["RETAINING", "RETAIN", "GARDEN", "SEA", "BELOW", "FOUNDATION", "FNDN", "FOOTING"],
            _ => &[],
        }
    }
}

/// Forms in which a word of a role is written beside itself and its plural.
const FORMS: [(&str, &[&str]); 2] = [("STAIR", &["STAIRCASE", "STAIRWAY"]), ("DECK", &["DECKING"])];

/// Words that are written as one.
const JOINED: [(&str, [&str; 2]); 4] = [
    ("DECKEDGE", ["DECK", "EDGE"]),
    ("EDGEDECK", ["DECK", "EDGE"]),
    ("KEEPOUT", ["KEEP", "OUT"]),
    ("HOUSEWALL", ["HOUSE", "WALL"]),
];

/// The words of a layer's name in capitals: what stands between other signs, between letters and digits, and before a
/// capital behind a small letter.
fn words(name: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut before = ' ';
    for c in name.chars() {
        let kind = |c: char| (c.is_alphabetic(), c.is_numeric());
        let begins = kind(c) != kind(before) || (before.is_lowercase() && c.is_uppercase());
        if c.is_alphanumeric() {
            match words.last_mut().filter(|_| !begins) {
                Some(word) => word.extend(c.to_uppercase()),
                None => words.push(c.to_uppercase().collect()),
            }
        }
        before = c;
    }
    let joined = |word: &String| JOINED.iter().find(|(one, _)| word.strip_suffix('S').unwrap_or(word) == *one);
    let parts: Vec<String> = words.iter().filter_map(joined).flat_map(|(_, two)| two.map(str::to_owned)).collect();
    words.extend(parts);
    words
}

/// Whether a word of a name is one of a role: itself, its plural or a form of it.
fn is_word(word: &str, wanted: &str) -> bool {
    let alike = |form: &str| word == form || word.strip_suffix('S') == Some(form);
    alike(wanted) || FORMS.iter().any(|(of, forms)| *of == wanted && forms.iter().any(|form| alike(form)))
}

/// How a layer's name is recognised.
#[derive(Debug, Clone, PartialEq)]
enum Sign {
    /// By a pattern of the job: `*` and `?`, without regard to case.
    Pattern(String),
    /// By words.
    Words(&'static [&'static str]),
}

impl Sign {
    fn fits(&self, role: Role, name: &str) -> bool {
        match self {
            Self::Pattern(pattern) => matches(pattern, name),
            Self::Words(wanted) => {
                let words = words(name);
                let has = |wanted: &str| words.iter().any(|w| is_word(w, wanted));
                wanted.iter().all(|w| has(w)) && !role.other_words().iter().any(|w| words.iter().any(|o| o == w))
            }
        }
    }

    /// For messages.
    fn text(&self) -> String {
        match self {
            Self::Pattern(pattern) => pattern.clone(),
            Self::Words(words) => words.join(" and "),
        }
    }
}

/// A layer's role and how it came to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// The role.
    pub role: Role,
    /// The pattern that its name fits, or the words in it.
    pub pattern: String,
    /// Whether it is the job's own pattern.
    pub from_job: bool,
    /// Another role that the name fits as well.
    pub also: Option<Role>,
}

/// How the layers of a job are recognised.
#[derive(Debug, Clone, PartialEq)]
pub struct Roles {
    signs: Vec<(Role, Sign)>,
    picks: Vec<LayerPick>,
    own: OwnLayers,
}

impl Roles {
    /// The job's patterns, and the default words for the roles that the job leaves out; `own` are the layers of ours.
    pub fn new(job: &LayerPatterns, own: OwnLayers) -> Self {
        let (mut signs, no_pattern) = (Vec::new(), Vec::new());
        for role in Role::ALL {
            let own = match role {
                Role::Edge => &job.edge,
                Role::Opening => &job.opening,
                Role::Post => &job.post,
                Role::Stair => &job.stair,
                Role::Wall => &job.wall,
                Role::KeepOut => &job.keep_out,
                Role::Joist => &job.joist,
                // No pattern names what is not laid out.
                Role::Ramp | Role::Rail => &no_pattern,
            };
            if own.is_empty() {
                signs.extend(role.default_words().iter().map(|words| (role, Sign::Words(words))));
            } else {
                signs.extend(own.iter().map(|p| (role, Sign::Pattern(p.clone()))));
            }
        }
        // The job's own word comes before any default.
        signs.sort_by_key(|(_, sign)| !matches!(sign, Sign::Pattern(_)));
        Self { signs, picks: job.picks.clone(), own }
    }

    /// Layers on which we write.
    pub const fn own(&self) -> &OwnLayers {
        &self.own
    }

    /// The same for a drawing in which our layers have names that nobody has said; `None` where it has no such.
    pub fn learned<'a>(&self, names: impl IntoIterator<Item = &'a str>) -> Option<Self> {
        let mut roles = self.clone();
        roles.own.learn(names).then_some(roles)
    }

    /// Whether what stands on a layer is read: the parts of the plan, and what an earlier run has left.
    pub fn wants(&self, layer: &str) -> bool {
        self.of(layer).is_some() || self.own.of(layer).is_some()
    }

    /// Layers on which only what the job points at counts.
    pub fn picks(&self) -> &[LayerPick] {
        &self.picks
    }

    /// What a layer is taken for; layers that we write ourselves only when the job names them. The layers of
    /// external references, `reference|layer`, are known with and without the name of the reference to the job's patterns,
    /// and without it to the default ones: a file named `house` has not only walls in it.
    pub fn of(&self, layer: &str) -> Option<Taken> {
        if let Some(role) = picks::role_of(&self.picks, layer) {
            return Some(Taken { role, pattern: format!("points on {layer}"), from_job: true, also: None });
        }
        let own = layer.rsplit_once('|').map_or(layer, |(_, own)| own);
        let ours = self.own.is_ours(layer);
        let mut fits = self.signs.iter().filter(|(role, sign)| {
            let from_job = matches!(sign, Sign::Pattern(_));
            (from_job || !ours) && (sign.fits(*role, own) || (from_job && sign.fits(*role, layer)))
        });
        let (role, sign) = fits.next()?;
        let from_job = matches!(sign, Sign::Pattern(_));
        let other = fits.find(|(other, own)| other != role && matches!(own, Sign::Pattern(_)) == from_job);
        Some(Taken { role: *role, pattern: sign.text(), from_job, also: other.map(|(other, _)| *other) })
    }

    /// The role of which a layer's name holds a word within other ones, as `AGGREGATE` holds `GATE`, so that it is not
    /// taken for it.
    pub fn nearly(&self, layer: &str) -> Option<Role> {
        let name = layer.to_uppercase();
        let holds = |sign: &Sign| match sign {
            Sign::Words(wanted) => wanted.iter().all(|w| name.contains(w)),
            Sign::Pattern(_) => false,
        };
        let ours = self.own.is_ours(layer);
        self.signs.iter().find(|(_, sign)| !ours && holds(sign)).map(|(role, _)| *role)
    }

    /// The patterns or words of one role, for messages.
    pub fn patterns(&self, role: Role) -> Vec<String> {
        self.signs.iter().filter(|(r, _)| *r == role).map(|(_, sign)| sign.text()).collect()
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
    fn words_count_at_their_borders() {
        let roles = Roles::new(&LayerPatterns::default(), OwnLayers::default());
        let role = |name: &str| roles.of(name).map(|t| t.role);
        for (name, taken) in [
            ("DECK-EDGE", Some(Role::Edge)),
            ("A-Deck Edges", Some(Role::Edge)),
            ("deckEdge", Some(Role::Edge)),
            ("DECKEDGE2", Some(Role::Edge)),
            ("A_FLOR_STRS", Some(Role::Stair)),
            ("L1-STAIRS-NEW", Some(Role::Stair)),
            ("Walls", Some(Role::Wall)),
            ("A-WALL-EXTR", Some(Role::Wall)),
            ("HOUSE", Some(Role::Wall)),
            ("POSTS", Some(Role::Post)),
            ("GATE1", Some(Role::Opening)),
            ("KEEPOUT", Some(Role::KeepOut)),
        ] {
            assert_eq!(role(name), taken, "{name}");
        }
        assert_eq!((role("IRRIGATION"), roles.nearly("IRRIGATION")), (None, None));
        let strange = ["AGGREGATE", "IRRIGATE", "WAREHOUSE-GRID", "SEAWALL", "SEA-WALL", "DRYWALL"];
        for name in strange.into_iter().chain(["RETAINING-WALL-BELOW", "POSTAL", "NAVIGATE", "UPSTAIRSX"]) {
            assert_eq!(role(name), None, "{name}");
            assert!(roles.nearly(name).is_some(), "{name}");
        }
        assert_eq!(roles.nearly("TEXT"), None);
    }

    #[test]
    fn layers_of_references_are_known_by_both_names() {
        let defaults = Roles::new(&LayerPatterns::default(), OwnLayers::default());
        assert_eq!(defaults.of("house|A-DECK-EDGE").map(|t| (t.role, t.also)), Some((Role::Edge, None)));
        assert_eq!(defaults.of("house|TEXT"), None);
        assert_eq!(defaults.of("deck|RAIL-POST"), None);
        let layers = LayerPatterns { edge: vec!["new|X-WALL".into(), "RAND".into()], ..LayerPatterns::default() };
        let roles = Roles::new(&layers, OwnLayers::default());
        assert_eq!(roles.of("new|x-wall").unwrap().role, Role::Edge);
        assert_eq!(roles.of("old|X-WALL").unwrap().role, Role::Wall);
        assert_eq!(roles.of("site|Rand").unwrap().role, Role::Edge);
    }

    #[test]
    fn the_jobs_pattern_wins_and_our_own_layers_are_left_alone() {
        let roles =
            Roles::new(&LayerPatterns { edge: vec!["RAND*".into()], ..LayerPatterns::default() }, OwnLayers::default());
        assert_eq!(roles.of("RAND-1").unwrap().role, Role::Edge);
        assert_eq!(roles.of("DECK-EDGE"), None);
        assert_eq!(roles.of("RAIL-POST"), None);
        assert_eq!(roles.of("S-POST").unwrap().role, Role::Post);
        assert_eq!(roles.of("HOUSE-STAIR").unwrap().also, Some(Role::Wall));
    }
}
