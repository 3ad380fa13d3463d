//! What the name of a layer says, in a few languages that drawings are made in.

use crate::catalog::{LayerPatterns, OwnLayers};

use super::super::roles::{Role, Roles};

/// Parts of names by what they say: English, German, French, Spanish, Italian, Dutch, Swedish (from memory).
const HINTS: [(Hint, &[&str]); 7] = [
    (Hint::Role(Role::Stair), &["stair", "treppe", "stufe", "escalier", "escalera", "scala", "trap", "steps", "trapp"]),
    (
        Hint::Role(Role::Post),
        &["post", "pfosten", "stütze", "poteau", "poste", "montant", "palo", "paal", "stolpe", "stolp"],
    ),
    (
        Hint::Role(Role::Opening),
        &[
            "opening",
            "gate",
            "öffnung",
            "tor",
            "durchgang",
            "porte",
            "portillon",
            "puerta",
            "cancello",
            "poort",
            "grind",
        ],
    ),
    // What belongs to the ground and the sheet is looked for before the edge: `Grundstücksgrenze` has an edge in it.
    (
        Hint::Other,
        &[
            "lot",
            "property",
            "boundary",
            "grundst",
            "grenze",
            "parzelle",
            "parcelle",
            "limite",
            "perceel",
            "tomt",
            "title",
            "border",
            "frame",
            "rahmen",
            "blatt",
            "schrift",
            "cadre",
            "cartouche",
            "viewport",
            "dim",
            "bema",
            "maß",
            "cote",
            "text",
            "note",
            "hatch",
            "schraff",
            "joist",
            "balken",
            "beam",
            "board",
            "diele",
            "solive",
            "footing",
            "fundament",
            "achse",
            "grid",
            "tree",
            "baum",
        ],
    ),
    (
        Hint::Role(Role::Wall),
        &[
            "wall", "house", "haus", "wand", "mauer", "gebäude", "building", "mur", "maison", "casa", "pared", "muro",
            "huis", "gevel", "vägg", "hus",
        ],
    ),
    (
        Hint::Role(Role::Edge),
        &[
            "deck",
            "terras",
            "edge",
            "kante",
            "rand",
            "umriss",
            "outline",
            "contour",
            "bord",
            "balkon",
            "balcon",
            "veranda",
            "patio",
            "altan",
            "platform",
            "plattform",
        ],
    ),
    (Hint::Role(Role::KeepOut), &["keep-out", "keepout", "sperr"]),
];

/// What a name says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hint {
    /// A role.
    Role(Role),
    /// Something that no rail depends on.
    Other,
}

/// What a layer's name says: by the patterns that are read without a job, else by parts of it.
pub fn hint(name: &str) -> Option<Hint> {
    if let Some(taken) = Roles::new(&LayerPatterns::default(), OwnLayers::default()).of(name) {
        return Some(Hint::Role(taken.role));
    }
    let name = name.to_lowercase();
    // Short words are looked for as words of their own: `tor` is in `Motor`.
    let says = |part: &&str| {
        if part.chars().count() > 3 {
            name.contains(*part)
        } else {
            name.split(|c: char| !c.is_alphabetic()).any(|word| word == *part)
        }
    };
    HINTS.iter().find(|(_, parts)| parts.iter().any(&says)).map(|(hint, _)| *hint)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_several_languages() {
        for (name, said) in [
            ("A-DECK-EDGE", Some(Hint::Role(Role::Edge))),
            ("Terrasse", Some(Hint::Role(Role::Edge))),
            ("Grundstücksgrenze", Some(Hint::Other)),
            ("HAUS", Some(Hint::Role(Role::Wall))),
            ("Pfosten 9x9", Some(Hint::Role(Role::Post))),
            ("Treppe", Some(Hint::Role(Role::Stair))),
            ("Motor", None),
            ("Tor", Some(Hint::Role(Role::Opening))),
            ("mur", Some(Hint::Role(Role::Wall))),
            ("0", None),
            ("A-1", None),
        ] {
            assert_eq!(hint(name), said, "{name}");
        }
    }
}
