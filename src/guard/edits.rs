//! The user's edits of an earlier layout, as far as they concern spans: erased posts, open spans, and ids that stay.

use std::collections::{BTreeMap, BTreeSet};

use crate::base::plane::{distance, to_segment};
use crate::base::{Code, Extent, Finding, Length, Near, Place, Point};
use crate::deck::Edits;

use super::bays::{self, Stretch};
use super::types::{Guard, OpenSpan};

/// A post's place of an earlier run lies on a stretch when it is this near to it (1/2 in): it stood on the rail line.
const ON_LINE_MM: f64 = 12.7;

/// A span is that of an earlier run when their middles are this near (2 in): less than any span is long.
const SAME_SPAN_MM: f64 = 50.8;

/// A post or span follows one of an earlier layout that is this far off (4 ft): what a deck is widened by, and less than
/// half of a usual bay.
const FOLLOWS_MM: f64 = 1219.2;

/// Bays of a stretch without the line posts that the user erased from it, if the longest panel and keep-out zones allow.
pub fn without_erased(
    spans: Vec<Length>,
    (a, b): (Point, Point),
    stretch: &Stretch<'_>,
    edits: &Edits,
    findings: &mut Vec<Finding>,
) -> (Vec<Length>, Vec<(String, Point)>) {
    let gone: Vec<(String, Point)> = edits.erased.iter().filter(|(_, p)| inside(*p, a, b)).cloned().collect();
    let count = i64::try_from(gone.len()).unwrap_or(i64::MAX);
    let bays = i64::try_from(spans.len()).unwrap_or(i64::MAX);
    if gone.is_empty() || bays < 2 {
        return (spans, Vec::new());
    }
    let wanted = bays::divided(stretch.clear, stretch.post, (bays - count).max(1));
    let names: Vec<&str> = gone.iter().map(|(id, _)| id.as_str()).collect();
    let place = gone.first().map_or_else(Place::none, |(_, p)| Place::at(*p));
    if wanted.iter().all(|s| *s <= stretch.longest + Length::NOISE) && stretch.allows(&wanted) {
        let message = format!("erased post(s) {}: the stretch is divided without", names.join(", "));
        findings.push(Finding::note(Code::EditObeyed, place, message));
        return (wanted, gone);
    }
    let span = wanted.first().copied().unwrap_or(stretch.clear);
    let message = format!(
        "erased post(s) {} would leave spans of {} (the longest is {}), or posts in a keep-out zone; they are set again",
        names.join(", "),
        span.told(),
        stretch.longest
    );
    let finding = Finding::warning(Code::EditNotObeyed, place, message);
    findings.push(finding.hint("move a post instead of erasing it, or leave the span open by erasing its panel's tag"));
    (spans, Vec::new())
}

/// On the stretch, clear of its ends.
fn inside(p: Point, a: Point, b: Point) -> bool {
    let (d, _) = to_segment(p, a, b);
    d <= ON_LINE_MM && distance(p, a) > SAME_SPAN_MM && distance(p, b) > SAME_SPAN_MM
}

/// Erased posts that no stretch could do without.
pub fn not_obeyed(edits: &Edits, guard: &Guard, told: &[Finding]) -> Vec<Finding> {
    let obeyed: BTreeSet<&str> = guard.erased.iter().map(|(id, _)| id.as_str()).collect();
    let told_at: Vec<Point> =
        told.iter().filter(|f| f.code == Code::EditNotObeyed).filter_map(|f| f.place.at).collect();
    let left = edits.erased.iter().filter(|(id, at)| !obeyed.contains(id.as_str()) && !told_at.contains(at));
    left.map(|(id, at)| {
        let message = format!("post {id} was erased, but an end, a corner or a span needs it; it is set again");
        Finding::warning(Code::EditNotObeyed, Place::at(*at), message)
    })
    .collect()
}

/// Takes the spans out that are to stay open.
pub fn take_open(guard: &mut Guard, edits: &Edits) {
    let middle = |a: Point, b: Point| (a + b) / 2.0;
    for (id, left, right) in &edits.open {
        let same = |s: &super::Span| distance(middle(s.left, s.right), middle(*left, *right)) <= SAME_SPAN_MM;
        if let Some(i) = guard.spans.iter().position(same) {
            let span = guard.spans.remove(i);
            guard.open.push(OpenSpan { id: id.clone(), left: span.left, right: span.right });
        }
    }
}

/// Gives posts and spans the ids that they had, and tells which are new or gone; new ones are numbered on from the highest.
/// Without an earlier layout the numbers follow the runs.
pub fn keep_ids(guard: &mut Guard, edits: &Edits, findings: &mut Vec<Finding>) {
    let posts: Vec<Point> = guard.posts.iter().map(|p| p.at).collect();
    let erased: BTreeSet<&str> = edits.erased.iter().map(|(id, _)| id.as_str()).collect();
    let post_ids = ids(&Things { letter: 'P', list: &posts, known: &edits.posts, taken: &[] }, |at, (id, known)| {
        let off = distance(*at, *known);
        // One that was erased comes back at its own place only.
        Some(off).filter(|d| *d <= ON_LINE_MM || *d <= FOLLOWS_MM && !erased.contains(id.as_str()))
    });
    let before: Vec<String> = guard.posts.iter().map(|p| p.id.clone()).collect();
    for (post, id) in guard.posts.iter_mut().zip(&post_ids) {
        post.id.clone_from(id);
    }
    let taken: Vec<String> = guard.open.iter().map(|o| o.id.clone()).collect();
    let spans: Vec<(Point, Point)> = guard.spans.iter().map(|s| (s.left, s.right)).collect();
    let list = Things { letter: 'S', list: &spans, known: &edits.panels, taken: &taken };
    let span_ids = ids(&list, |(left, right), (_, known)| {
        // A span that holds the middle of an earlier one is that one, though a post at its end was moved.
        let (off, middle) = (to_segment(*known, *left, *right).0, distance((*left + *right) / 2.0, *known));
        if off <= SAME_SPAN_MM { Some(middle / 2.0) } else { Some(off.max(middle)).filter(|d| *d <= FOLLOWS_MM) }
    });
    let spans_before: Vec<String> = guard.spans.iter().map(|s| s.id.clone()).collect();
    for (span, id) in guard.spans.iter_mut().zip(&span_ids) {
        span.id.clone_from(id);
    }
    let obeyed: BTreeSet<&str> = guard.erased.iter().map(|(id, _)| id.as_str()).collect();
    let kept = edits.posts.iter().filter(|(id, _)| !obeyed.contains(id.as_str()));
    let changes = [("post", changed(kept, &post_ids, &[])), ("panel", changed(edits.panels.iter(), &span_ids, &taken))];
    let posts: BTreeMap<String, String> = before.into_iter().zip(post_ids).collect();
    let spans: BTreeMap<String, String> = spans_before.into_iter().zip(span_ids).collect();
    for finding in findings.iter_mut() {
        for (name, renamed) in [(&mut finding.place.post, &posts), (&mut finding.place.panel, &spans)] {
            if let Some(new) = name.as_ref().and_then(|old| renamed.get(old)) {
                *name = Some(new.clone());
            }
        }
    }
    for (what, change) in changes {
        let told = change
            .map(|change| format!("beside the earlier layout, of the {what}s {change}; the others keep their ids"));
        findings.extend(told.map(|message| Finding::note(Code::IdsChanged, Place::none(), message)));
    }
}

/// Which ids are new, and which are gone; nothing without an earlier layout.
fn changed<'a>(known: impl Iterator<Item = &'a (String, Point)>, now: &[String], open: &[String]) -> Option<String> {
    let known: BTreeSet<&str> = known.map(|(id, _)| id.as_str()).collect();
    let now: BTreeSet<&str> = now.iter().chain(open).map(String::as_str).collect();
    let listed = |ids: Vec<&&str>, what: &str| {
        let mut ids: Vec<&str> = ids.into_iter().copied().collect();
        ids.sort_by_key(|id| (id.len(), *id));
        let is_one = ids.len() == 1;
        (!ids.is_empty()).then(|| format!("{} {} {what}", ids.join(", "), if is_one { "is" } else { "are" }))
    };
    let all = [listed(now.difference(&known).collect(), "new"), listed(known.difference(&now).collect(), "gone")];
    let all: Vec<String> = all.into_iter().flatten().collect();
    (!known.is_empty() && !all.is_empty()).then(|| all.join(" and "))
}

/// Things that are to have ids.
struct Things<'a, T> {
    /// With which ids begin.
    letter: char,
    list: &'a [T],
    /// Ids and places of earlier things.
    known: &'a [(String, Point)],
    /// Ids that nothing may get.
    taken: &'a [String],
}

/// Ids of things: of the earlier thing that is nearest by `distance`, which tells none for one that cannot be meant, each
/// given once; else the next number.
fn ids<T: Extent>(things: &Things<'_, T>, distance: impl Fn(&T, &(String, Point)) -> Option<f64>) -> Vec<String> {
    let Things { letter, list, known, taken } = *things;
    let mut used: BTreeSet<&str> = taken.iter().map(String::as_str).collect();
    let mut pairs: Vec<(f64, usize, &str)> = Vec::new();
    let places = Near::from(known.iter().map(|(_, at)| *at).collect::<Vec<Point>>());
    for (i, thing) in list.iter().enumerate() {
        let near = places.around(thing.extent(), FOLLOWS_MM);
        pairs.extend(near.filter_map(|(k, _)| {
            let known = known.get(k)?;
            Some((distance(thing, known)?, i, known.0.as_str()))
        }));
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut found: Vec<Option<String>> = vec![None; list.len()];
    for (_, i, id) in pairs {
        if let Some(free) = found.get_mut(i).filter(|f| f.is_none())
            && used.insert(id)
        {
            *free = Some(id.to_owned());
        }
    }
    let number = |id: &String| id.strip_prefix(letter).and_then(|n| n.parse::<usize>().ok());
    let mut next = known.iter().map(|(id, _)| id).chain(taken).filter_map(number).max().unwrap_or(0);
    found
        .into_iter()
        .map(|id| {
            id.unwrap_or_else(|| {
                next += 1;
                format!("{letter}{next}")
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::point;

    /// A stretch of 160 in clear in three bays of 50, its posts centred 52.5 and 107.5 from the left face; the first was
    /// erased.
    fn without_first(longest: i64, keep_out: &[(Length, Length)]) -> (Vec<f64>, Vec<Finding>) {
        let inches = |n: i64| Length::INCH * n;
        let stretch = Stretch {
            clear: inches(160),
            post: inches(5),
            longest: inches(longest),
            shortest: inches(8),
            stock: &[],
            keep_out,
            joists: &[],
            symmetric: false,
        };
        let at = |x: f64| point(x * 25.4, 0.0);
        let edits = Edits { erased: vec![("P2".to_owned(), at(52.5))], ..Edits::none() };
        let mut findings = Vec::new();
        let ends = (at(-2.5), at(162.5));
        let (spans, _) = without_erased(vec![inches(50); 3], ends, &stretch, &edits, &mut findings);
        (spans.iter().map(|s| s.inches()).collect(), findings)
    }

    #[test]
    fn an_erased_post_stays_away_where_the_longest_panel_and_the_zones_allow() {
        let (spans, findings) = without_first(96, &[]);
        assert_eq!(spans, [77.5, 77.5]);
        assert_eq!(findings[0].code, Code::EditObeyed);
        let middle = [(Length::INCH * 75, Length::INCH * 85)];
        for (longest, zones) in [(60, &[][..]), (96, &middle[..])] {
            let (spans, findings) = without_first(longest, zones);
            assert_eq!(spans, [50.0; 3]);
            assert_eq!(findings[0].code, Code::EditNotObeyed);
        }
    }
}
