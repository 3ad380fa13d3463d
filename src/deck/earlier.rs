//! What an earlier layout was when it was written: what its marks in the drawing tell, or its `layout.json`.

use std::collections::BTreeSet;

use crate::base::Point;
use crate::cad::{Fact, Ours};

/// A post of an earlier layout.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierPost {
    /// Its id.
    pub id: String,
    /// Who set it.
    pub set_by: SetBy,
    /// Where it was written.
    pub at: Point,
}

/// Who set a post of an earlier layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SetBy {
    /// The planner.
    Planner,
    /// The user, by an edit of a layout before that.
    Edit,
    /// The user's own drawing.
    Drawing,
}

impl SetBy {
    /// By its word in marks: that of a post's origin.
    fn by_word(word: &str) -> Self {
        match word {
            "kept" => Self::Edit,
            "drawn" => Self::Drawing,
            _ => Self::Planner,
        }
    }
}

/// An earlier layout, in local mm.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Earlier {
    /// Its posts.
    pub posts: Vec<EarlierPost>,
    /// Ids and ends of its panels.
    pub panels: Vec<(String, Point, Point)>,
    /// Places where the user had erased a line post.
    pub erased: Vec<(String, Point)>,
    /// Spans that were to stay open: id, left and right end.
    pub open: Vec<(String, Point, Point)>,
}

impl Earlier {
    /// What the marks tell: each post carries its origin and the place where it was written, each panel its ends and the
    /// posts that the planner set there, so that posts are known that are no longer in the drawing.
    pub fn of_marks(ours: &[Ours]) -> Self {
        let mut earlier = Self::default();
        let mut known: BTreeSet<&str> = BTreeSet::new();
        for (record, origin, at) in ours.iter().filter_map(written) {
            if known.insert(&record.id) {
                let (id, set_by) = (record.id.clone(), SetBy::by_word(origin));
                earlier.posts.push(EarlierPost { id, set_by, at });
            }
        }
        for record in ours {
            match (record.kind.as_str(), record.facts.as_slice()) {
                ("panel", [Fact::At(left), Fact::At(right), rest @ ..]) => {
                    earlier.panels.push((record.id.clone(), *left, *right));
                    for pair in rest.chunks(2) {
                        let [Fact::Text(id), Fact::At(at)] = pair else { continue };
                        match id.strip_prefix("erased ") {
                            Some(id) => earlier.erased.push((id.to_owned(), *at)),
                            None if known.insert(id) => {
                                let (id, set_by) = (id.clone(), SetBy::Planner);
                                earlier.posts.push(EarlierPost { id, set_by, at: *at });
                            }
                            None => {}
                        }
                    }
                }
                ("open", [Fact::At(left), Fact::At(right), ..]) => {
                    earlier.open.push((record.id.clone(), *left, *right));
                }
                _ => {}
            }
        }
        earlier
    }

    /// The same in a drawing that was moved as a whole.
    #[must_use]
    pub fn moved(mut self, by: Point) -> Self {
        self.posts.iter_mut().for_each(|post| post.at = post.at + by);
        self.erased.iter_mut().for_each(|(_, at)| *at = *at + by);
        for (_, left, right) in self.panels.iter_mut().chain(&mut self.open) {
            (*left, *right) = (*left + by, *right + by);
        }
        self
    }
}

/// A post with its origin and the place where it was written.
pub fn written(record: &Ours) -> Option<(&Ours, &str, Point)> {
    match record.facts.as_slice() {
        [Fact::Text(origin), Fact::At(at), ..] if record.insert && record.kind == "post" => Some((record, origin, *at)),
        _ => None,
    }
}
