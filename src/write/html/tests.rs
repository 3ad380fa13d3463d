//! That everything is on the page, and that nothing a user writes can become more than text there.

use super::*;
use crate::base::{Code, Place};
use crate::catalog::layer_names;
use crate::deck::Plan;
use crate::parts::Item;
use crate::proof;
use crate::sheet::{compose, level_sample, stair_samples};

const NASTY: &str = "</script><img src=x onerror=alert(1)>\"' <!-- {{ title }}";

fn page(layout: &Layout, found: &[Finding], names: &BTreeMap<Layer, String>) -> String {
    let proof = proof::prove(layout);
    let other = layout.in_other_units();
    let plan = Plan::empty(layout.plan.frame);
    let [set, others] = [layout, &other].map(|l| compose(&plan, l, found));
    let bytes = report(&Report {
        own: Side { layout, set: &set },
        other: Side { layout: &other, set: &others },
        findings: found,
        proof: &proof,
        names,
    });
    String::from_utf8(bytes.unwrap()).unwrap()
}

/// As the template escapes it.
fn escaped(text: &str) -> String {
    let pairs = [("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ("\"", "&quot;"), ("'", "&#x27;"), ("/", "&#x2f;")];
    pairs.iter().fold(text.to_owned(), |text, (sign, name)| text.replace(sign, name))
}

#[test]
fn what_a_user_writes_stays_text() {
    let mut layout = level_sample();
    layout.project.name = Some(NASTY.to_owned());
    layout.project.client = Some(NASTY.to_owned());
    layout.plan.file = NASTY.to_owned();
    layout.system.title = NASTY.to_owned();
    for post in &mut layout.posts {
        post.id = format!("{}{NASTY}", post.id);
    }
    for at in &mut layout.panels {
        at.span.id = format!("{}{NASTY}", at.span.id);
        at.panel.id = at.span.id.clone();
        at.kit = Some(NASTY.to_owned());
    }
    for line in &mut layout.order {
        line.item = Item::Kit { name: NASTY.to_owned() };
    }
    let place = Place { layer: Some(NASTY.to_owned()), panel: Some(NASTY.to_owned()), ..Place::default() };
    let found = [Finding::error(Code::SideUnknown, place, NASTY).hint(NASTY)];
    let layers = crate::catalog::OutputLayers { rail_post: Some(NASTY.to_owned()), ..Default::default() };
    let page = page(&layout, &found, &layer_names(&layers, None));
    assert!(!page.contains("<img"), "an element of the user's");
    // What is in the page's own style and script has no such sign, so each is one of ours.
    assert_eq!(page.matches("<script").count(), 2);
    assert_eq!(page.matches("</script").count(), 2);
    assert_eq!(page.matches("<!--").count(), 0);
    assert!(page.contains(&escaped(NASTY)), "the text itself is there");
    // No event handler: between `<` and `>` the word stands in quoted values only.
    for tag in page.split('<').skip(1).filter_map(|t| t.split('>').next()) {
        let outside: String = tag.split('"').step_by(2).collect();
        assert!(!outside.contains("onerror"), "{tag}");
    }
}

#[test]
fn everything_is_on_the_page_in_either_unit() {
    for layout in stair_samples().into_iter().chain([level_sample()]) {
        let found = [
            Finding::warning(Code::GapJoined, Place::panel(&layout.panels[0].span.id), "one thing").hint("do that"),
            Finding::note(Code::EdgeOpen, Place::none(), "another thing"),
        ];
        let page = page(&layout, &found, &BTreeMap::new());
        let other = layout.in_other_units();
        for at in &layout.panels {
            assert!(page.contains(&format!("id=\"panel-{}\"", at.span.id)));
            let marks = crate::write::csv::worked(&at.panel, &layout.system).into_iter().flat_map(|row| row.4);
            for mark in marks {
                for text in [layout.measure.mark_text(mark), other.measure.mark_text(mark)] {
                    assert!(page.contains(&format!(">{}<", escaped(&text))), "{} {text}", at.span.id);
                }
            }
        }
        for post in &layout.posts {
            assert!(page.contains(&format!("data-kind=\"post\" data-object=\"{}\"", post.id)));
        }
        for line in &layout.order {
            let name = line.pack_name.clone().unwrap_or_else(|| line.item.text());
            assert!(page.contains(&escaped(&name)), "{name}");
        }
        for stick in &layout.cut_plan.sticks {
            assert!(page.contains(&escaped(&stick.stock)));
        }
        for finding in &found {
            assert!(page.contains(&finding.message) && page.contains(finding.code.text()));
        }
        for caution in CAUTIONS {
            // At the top, and at the foot of what is printed on pages of its own.
            assert!(page.matches(&escaped(caution)).count() > layout.panels.len(), "{caution}");
        }
    }
}

/// HTML: an id is there once. The layers are in every drawing of the page, so there they have none.
#[test]
fn no_id_is_there_twice() {
    for layout in stair_samples().into_iter().chain([level_sample()]) {
        let page = page(&layout, &[], &BTreeMap::new());
        let mut ids: Vec<&str> = page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
        let count = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), count);
        assert!(page.contains("data-layer=\"RAIL-POST\""));
    }
}

/// Against a look at every character, at the ends of the pieces, too.
#[test]
fn control_characters_are_taken_out() {
    let kept = |c: &char| !c.is_control() || matches!(c, '\n' | '\t');
    for sign in ['\0', '\u{1b}', '\u{7f}', '\u{80}', '\u{9f}', '\u{a0}', '\u{b0}', '\n', '\t', 'x'] {
        for before in [0, 1, GLANCE - 2, GLANCE - 1, GLANCE, 2 * GLANCE - 1] {
            for after in ["", "y"] {
                let text = format!("{}{sign}{after}", "a".repeat(before));
                let slow: String = text.chars().filter(kept).collect();
                assert_eq!(without_controls(text), slow, "{sign:?} behind {before}");
            }
        }
    }
    assert_eq!(without_controls(String::new()), "");
}

#[test]
fn the_same_layout_gives_the_same_bytes() {
    let layout = level_sample();
    assert_eq!(page(&layout, &[], &BTreeMap::new()), page(&layout, &[], &BTreeMap::new()));
}

#[test]
fn nothing_is_loaded_and_only_our_own_script_runs() {
    let page = page(&level_sample(), &[], &BTreeMap::new());
    assert!(page.contains("default-src 'none'") || page.contains("default-src &#x27;none&#x27;"));
    for word in [" src=", "@import", "url(http", "//cdn", "<link", "<iframe", " style=", " onclick="] {
        assert!(!page.contains(word), "{word}");
    }
    // SVG's namespace is a name, not an address that anything is loaded from.
    assert_eq!(
        page.matches("http").count() - page.matches("http-equiv").count(),
        page.matches("www.w3.org/2000/svg").count()
    );
    for text in [STYLE, SCRIPT] {
        assert!(!text.contains("</") && !text.contains("<!--"));
    }
}

#[test]
fn ticks_belong_to_a_plan_and_its_layout() {
    let key = |layout: &Layout| {
        let page = page(layout, &[], &BTreeMap::new());
        page.split("plumbrail:").nth(1).unwrap().split('"').next().unwrap().to_owned()
    };
    let layout = level_sample();
    let mut other_plan = layout.clone();
    other_plan.plan.sha256 = "f".repeat(64);
    let mut other_layout = layout.clone();
    other_layout.panels.pop();
    assert_eq!(key(&layout).len(), 64);
    assert_ne!(key(&layout), key(&other_plan));
    assert_ne!(key(&layout), key(&other_layout));
}

/// RFC 4648, section 10.
#[test]
fn base_64() {
    for (text, code) in [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")] {
        assert_eq!(base64(text.as_bytes()), code);
    }
}
