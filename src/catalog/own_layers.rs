//! Layers of ours in drawings that other programs have saved, under the names that these and jobs give them.

use std::collections::{BTreeMap, BTreeSet};

use super::layer_names::by_standard;
use super::{Layer, LayerStandard};
use crate::cad::own_name;

/// Whose things stand on a layer that we write on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Claim {
    /// It is ours: what the user puts there is a guest.
    Ours,
    /// It is the user's, and ours by the job or by a standard.
    Shared,
}

/// Layers of a drawing on which we write, or an earlier run has written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnLayers {
    /// By plain name.
    known: BTreeMap<String, (Layer, Claim)>,
}

/// Layers that every layout has with posts, without those that a drawing can lack.
const CORE: [Layer; 3] = [Layer::Line, Layer::Panel, Layer::Post];

/// These, too, where the names before them say nothing of rails.
const MORE: [Layer; 2] = [Layer::Dims, Layer::Text];

impl Default for OwnLayers {
    fn default() -> Self {
        Self::new(&BTreeMap::new())
    }
}

impl OwnLayers {
    /// Our own names, and `given` ones, which share a layer with the user.
    pub fn new(given: &BTreeMap<Layer, String>) -> Self {
        let shared = given.iter().map(|(layer, name)| (plain(name), (*layer, Claim::Shared)));
        let ours = Layer::ALL.map(|layer| (layer.name().to_owned(), (layer, Claim::Ours)));
        Self { known: shared.chain(ours).collect() }
    }

    /// With what the names of all layers of a drawing tell: where our layers stand together behind one prefix, or by the
    /// names of a standard, an earlier run has written them. Gives whether there are more than before.
    pub fn learn<'a>(&mut self, names: impl IntoIterator<Item = &'a str>) -> bool {
        let before = self.known.clone();
        let names: BTreeSet<String> = names.into_iter().map(plain).collect();
        let has = |prefix: &str, layers: &[Layer]| layers.iter().all(|l| names.contains(&behind(prefix, *l)));
        let prefixes = names.iter().filter_map(|name| name.strip_suffix(tail(Layer::Post))).filter(|p| *p != "RAIL");
        for prefix in prefixes {
            if has(prefix, &CORE) && (prefix.ends_with("RAIL") || has(prefix, &MORE)) {
                self.known.extend(Layer::ALL.map(|layer| (behind(prefix, layer), (layer, Claim::Ours))));
            }
        }
        let standard = |layer| by_standard(LayerStandard::Ncs, layer);
        if CORE.iter().all(|layer| names.contains(standard(*layer))) {
            for layer in Layer::ALL {
                let name = standard(layer);
                // Annotations of all kinds stand on the other ones.
                let claim = if name.starts_with(standard(Layer::Panel)) { Claim::Ours } else { Claim::Shared };
                self.known.insert(name.to_owned(), (layer, claim));
            }
        }
        self.known != before
    }

    /// Which of our layers a name stands for, with `_` for `-`, in any case, and within a reference: `reference|layer` while
    /// it is attached, `reference$0$layer` when it was bound.
    pub fn of(&self, name: &str) -> Option<(Layer, Claim)> {
        self.known.get(&plain(name)).copied()
    }

    /// Whether it is ours alone, so that nothing on it is a part of the user's plan.
    pub fn is_ours(&self, name: &str) -> bool {
        self.of(name).is_some_and(|(_, claim)| claim == Claim::Ours)
    }
}

/// What stands behind the prefix in the name of a layer of ours: `-POST`.
fn tail(layer: Layer) -> &'static str {
    layer.name().trim_start_matches("RAIL")
}

fn behind(prefix: &str, layer: Layer) -> String {
    format!("{prefix}{}", tail(layer))
}

/// A name without its reference, in capitals, with `-` for what programs write in its place.
fn plain(name: &str) -> String {
    let own = name.rsplit_once('|').map_or(name, |(_, own)| own);
    own_name(own).to_uppercase().replace(['_', ' '], "-")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn our_layers_are_known_as_other_programs_write_them() {
        let own = OwnLayers::default();
        for name in ["RAIL-POST", "rail_post", "Rail Post", "deck|RAIL-POST", "deck$0$RAIL-POST", "a$0$b$12$RAIL_POST"]
        {
            assert_eq!(own.of(name), Some((Layer::Post, Claim::Ours)), "{name}");
        }
        for name in
            ["RAIL-POSTS", "A-RAIL-POST", "RAIL", "RAIL-EXISTING", "POST", "deck$RAIL-POST", "deck$x$RAIL-POST", "$0$"]
        {
            assert_eq!(own.of(name), None, "{name}");
        }
    }

    #[test]
    fn layers_that_stand_together_are_ours_under_any_prefix() {
        let family =
            |prefix: &str, tails: &[&str]| -> Vec<String> { tails.iter().map(|t| format!("{prefix}{t}")).collect() };
        let learned = |names: &[String]| {
            let mut own = OwnLayers::default();
            (own.learn(names.iter().map(String::as_str)), own)
        };
        let (more, own) = learned(&family("A-RAIL", &["-LINE", "_PANEL", "-POST"]));
        assert!(more && own.is_ours("A_RAIL_POST") && own.is_ours("A-RAIL-NOTE") && !own.is_ours("A-LINE"));
        // A name that says nothing of rails needs them all.
        let (more, _) = learned(&family("X", &["-LINE", "-PANEL", "-POST"]));
        assert!(!more);
        let (more, own) = learned(&family("x", &["-LINE", "-PANEL", "-POST", "-DIMS", "-TEXT"]));
        assert!(more && own.is_ours("X-POST"));
        // Of the user's, a layer of posts alone.
        assert!(!learned(&family("A-RAIL", &["-POST", "-LINE"])).0);
    }

    #[test]
    fn names_of_a_standard_and_of_a_job_share_layers_with_the_user() {
        let mut own = OwnLayers::new(&[(Layer::Post, "A-DECK-POST".to_owned())].into());
        assert_eq!(own.of("A_DECK_POST"), Some((Layer::Post, Claim::Shared)));
        assert!(own.learn(["A-FLOR-HRAL", "A-FLOR-HRAL-CNTR", "A-FLOR-HRAL-POST", "A-ANNO-TEXT"]));
        assert!(own.is_ours("A-FLOR-HRAL-POST") && own.is_ours("A-FLOR-HRAL"));
        assert_eq!(own.of("A-ANNO-TEXT"), Some((Layer::Text, Claim::Shared)));
        assert!(!own.learn(["A-FLOR-HRAL", "A-FLOR-HRAL-CNTR", "A-FLOR-HRAL-POST"]));
    }
}
