//! Checks that fail along with others: that figures are those of the system, or agree among themselves; and that no
//! limit is passed over in silence.

use super::record::{Question, Record};
use super::sample::{self, inches};
use super::{Asks, LimitRow, Required, Verdict, prove, sample_stairs, summary_by_limit};
use crate::base::{Length, Point, plane::point};
use crate::catalog::{BalusterStyle, CountKind, LimitKind};
use crate::guard::Post;
use crate::parts::{Item, Layout, OrderLine};

/// What fails of everything.
fn failed(layout: &Layout) -> Vec<String> {
    let proof = prove(layout);
    proof.checks.into_iter().filter(|c| c.verdict == Verdict::Fail).map(|c| c.what).collect()
}

fn spoil(mut layout: Layout, change: impl FnOnce(&mut Layout)) -> Vec<String> {
    change(&mut layout);
    failed(&layout)
}

#[test]
fn blocks_and_cap_screws_stand_at_their_divisions() {
    let places = ["places of blocks and cap screws"];
    // Both a block in mid gap and a cap screw at its third of 60 in.
    assert_eq!(spoil(sample::layout(), |l| l.panels[0].panel.blocks[0] += inches(0.125)), places);
    assert_eq!(spoil(sample::layout(), |l| l.panels[0].panel.cap_screws[0] -= inches(0.125)), places);
}

#[test]
fn stated_style_and_spacing_are_those_of_the_marks() {
    let spacing = ["stated spacing of the balusters"];
    assert_eq!(spoil(sample::layout(), |l| l.panels[0].panel.balusters.spacing += inches(0.125)), spacing);
    // All gaps of the first panel but the end ones, which are a full inch less.
    let style = ["division of the balusters"];
    assert_eq!(spoil(sample::layout(), |l| l.panels[0].panel.balusters.style = BalusterStyle::Even), style);
}

#[test]
fn heights_are_those_of_the_system() {
    assert_eq!(spoil(sample::layout(), |l| l.system.height = inches(37.0)), ["height of the panel"; 2]);
    assert_eq!(spoil(sample::layout(), |l| l.system.bottom_gap = inches(2.0)), ["gap beneath the panel"; 2]);
    let raked = spoil(sample_stairs::layout(), |l| l.system.raked.as_mut().unwrap().height = inches(36.0625));
    assert_eq!(raked, ["height of the panel"; 2]);
    let rail = spoil(sample_stairs::layout(), |l| l.handrails[0].height = inches(35.0));
    assert_eq!(rail, ["the system's own height of H1"]);
}

#[test]
fn posts_stand_on_their_line_as_high_as_they_must() {
    let high = ["height of the post beyond what is needed"];
    assert_eq!(spoil(sample::layout(), |l| l.posts[0].height += inches(0.0625)), high);
    // On a stair it may be cut on the next mark.
    assert!(spoil(sample_stairs::layout(), |l| l.posts[2].height += inches(0.0625)).is_empty());
    assert_eq!(spoil(sample_stairs::layout(), |l| l.posts[2].height += inches(0.25)), high);
    let off = spoil(sample::layout(), |l| l.runs[0].line[0].y += 1.0);
    assert!(
        off.contains(&"line of run 1".to_owned()) && off.contains(&"posts off the line of the run".to_owned()),
        "{off:?}"
    );
    let brackets = spoil(sample_stairs::layout(), |l| l.handrails[0].brackets[1] += inches(1.0));
    assert_eq!(brackets, ["brackets off equal divisions of H1"]);
}

/// A post within another one, and one in the middle of a panel.
#[test]
fn nothing_stands_in_anything_else() {
    let with =
        |at: Point| spoil(sample::layout(), |l| l.posts.push(Post { id: "P9".to_owned(), at, ..l.posts[0].clone() }));
    let rooms = |at: Point| with(at).iter().filter(|what| what.starts_with("room of")).cloned().collect::<Vec<_>>();
    let good = sample::layout();
    assert_eq!(
        rooms(good.posts[0].at + point(50.0, 0.0)),
        ["room of the post", "room of the post", "room of the panel"]
    );
    let middle = (good.panels[0].span.left + good.panels[0].span.right) / 2.0;
    assert_eq!(rooms(middle), ["room of the panel"]);
    assert!(rooms(middle + point(0.0, 500.0)).is_empty());
    // The same panel twice.
    let twice = spoil(sample::layout(), |l| {
        let mut again = l.panels[0].clone();
        (again.span.id, again.panel.id) = ("S9".to_owned(), "S9".to_owned());
        l.panels.push(again);
    });
    assert_eq!(twice.iter().filter(|what| *what == "room of the panel").count(), 2, "{twice:?}");
}

#[test]
fn a_panel_lies_on_the_line_of_its_run() {
    let found = spoil(sample_stairs::layout(), |l| l.panels[1].span.run = 9);
    assert!(found.contains(&"panels".to_owned()), "{found:?}");
}

/// Needed of each thing, counted by hand: 21 balusters, 2 posts, 5 square and 3 angled brackets of 2 screws each.
#[test]
fn everything_is_in_the_order() {
    let needed = [
        ("Level box 66 in", 2),
        ("Post sleeve 5in", 2),
        ("Post cap for 5in", 2),
        ("Post base trim for 5in", 2),
        ("Bracket, level", 4),
        ("Bracket, angled", 4),
        ("Support block", 2),
        ("Screw #10 x 1 in", 16),
        ("Screw #7 x 1-1/4 in", 2),
        ("Screw #7 x 2-1/2 in", 21),
        // Heads of the balusters, and three cap screws of the same name.
        ("Screw #7 x 1-3/4 in", 24),
    ];
    let line = |l: &Layout, item: &str| l.order.iter().position(|line| line.item.text() == item).unwrap();
    let good = sample::layout();
    assert_eq!(good.order.len(), needed.len());
    for (item, count) in needed {
        assert_eq!(good.order[line(&good, item)].quantity, count, "{item}");
        let missing = format!("{item} in the order");
        let spoilt = |change: &dyn Fn(&mut OrderLine)| {
            spoil(good.clone(), |l| {
                let at = line(l, item);
                change(&mut l.order[at]);
            })
        };
        for off in [-1, 1] {
            let found = spoilt(&|line| line.quantity = line.quantity.checked_add_signed(off).unwrap());
            assert_eq!(found.first(), Some(&missing), "{item}");
        }
        // As many as needed, but in packs that hold fewer, at another price or of another finish.
        let packs = ["packs, prices and finish in the order"];
        assert_eq!(spoilt(&|line| line.packs -= 1), packs, "{item}");
        assert_eq!(spoilt(&|line| line.pack += 1), packs, "{item}");
        assert_eq!(spoilt(&|line| line.price = Some(0.01)), packs, "{item}");
        assert_eq!(spoilt(&|line| line.finish = Some("gold".to_owned())), packs, "{item}");
        let none = spoil(good.clone(), |l| drop(l.order.remove(line(l, item))));
        assert_eq!(none.first(), Some(&missing), "{item}");
    }
    let more = spoil(good, |l| l.order.push(OrderLine::new(Item::CableFitting, None)));
    assert!(more.contains(&"what nothing needs in the order".to_owned()), "{more:?}");
    // With the kits' balusters gone there are none.
    let found = spoil(sample::layout(), |l| l.system.kits.iter_mut().for_each(|kit| kit.balusters = 0));
    assert_eq!(found, ["Baluster 29in, beyond the kits in the order"]);
}

fn row<'a>(rows: &'a [LimitRow], what: &str) -> &'a LimitRow {
    rows.iter().find(|row| row.what == what).unwrap_or_else(|| panic!("{what}"))
}

#[test]
fn every_limit_of_the_rule_set_is_in_the_summary() {
    for layout in [sample::layout(), sample_stairs::layout()] {
        let rows = summary_by_limit(&prove(&layout));
        let asked: Vec<Asks> = rows.iter().filter_map(|row| row.source.as_ref()).map(|s| s.asks).collect();
        for limit in &layout.rules.limits {
            assert_eq!(asked.iter().filter(|asks| **asks == Asks::Limit(limit.what)).count(), 1, "{:?}", limit.what);
        }
        for kind in layout.rules.counts.iter().map(|count| count.what) {
            assert_eq!(asked.iter().filter(|asks| **asks == Asks::Count(kind)).count(), 1, "{kind:?}");
        }
    }
}

#[test]
fn the_summary_tells_the_worst_place() {
    let mut layout = sample::layout();
    let rows = summary_by_limit(&prove(&layout));
    let opening = row(&rows, "opening");
    // 3-3/4 in and the tolerance of 1/16 in against 4 in; beneath the panels there are 3 in, in the runs nothing.
    assert_eq!((opening.actual, opening.worst), (Some(inches(3.75)), Some(inches(3.8125))));
    assert_eq!((opening.margin, opening.checks, &opening.verdict), (Some(inches(0.1875)), 5, &Verdict::Pass));
    assert_eq!(opening.source.as_ref().unwrap().evidence.unwrap().text(), "quoted");
    let height = row(&rows, "guard height");
    assert_eq!((&height.required, height.margin), (&Required::AtLeast(inches(36.0)), Some(Length::ZERO)));
    for stair in ["riser height", "handrail sides", "stair triangle"] {
        assert_eq!(row(&rows, stair).verdict, Verdict::NotChecked("no stair".to_owned()), "{stair}");
    }
    layout.panels[1].panel.balusters.marks[3] += inches(0.5);
    let rows = summary_by_limit(&prove(&layout));
    let opening = row(&rows, "opening");
    assert_eq!((&opening.verdict, opening.failed, opening.place.panel.as_deref()), (&Verdict::Fail, 1, Some("S2")));
    assert_eq!(opening.margin, Some(inches(-0.3125)));
}

#[test]
fn what_only_decides_is_told_as_such() {
    let layout = sample_stairs::layout();
    let proof = prove(&layout);
    let why = |asks: Asks| {
        let check = proof.untouched.iter().find(|c| c.source.as_ref().is_some_and(|s| s.asks == asks)).unwrap();
        match &check.verdict {
            Verdict::NotChecked(why) => why.clone(),
            other => panic!("{other:?}"),
        }
    };
    let condition = "applied as the condition of another limit";
    assert_eq!(why(Asks::Limit(LimitKind::NosingFreeTread)), condition);
    assert_eq!(why(Asks::Limit(LimitKind::HandrailPerimeterMin)), "the handrail is round");
    assert!(
        proof.untouched.iter().all(|c| c.source.as_ref().unwrap().asks != Asks::Count(CountKind::HandrailFromRisers))
    );
}

/// With a tolerance of 1/16 in: 3-15/16 comes to just 4 at worst, 4 to more than that.
#[test]
fn just_the_limit_fails_where_the_sphere_must_not_pass() {
    let layout = sample::layout();
    let verdict = |required: fn(Length) -> Required, actual: f64| {
        let mut record = Record::new(&layout);
        record.space(Question::own("a gap"), required(inches(4.0)), inches(actual));
        record.finish(&layout).holds()
    };
    assert!(verdict(Required::Under, 3.9374) && verdict(Required::AtMost, 3.9374));
    assert!(!verdict(Required::Under, 3.9375) && verdict(Required::AtMost, 3.9375));
    assert!(!verdict(Required::Under, 3.9376) && !verdict(Required::AtMost, 3.9376));
    assert!(!verdict(Required::Under, 4.0) && !verdict(Required::AtMost, 4.0));
    let opening = layout.rules.limit(LimitKind::Opening).unwrap();
    assert_eq!(super::closed_to(opening), Required::Under(inches(4.0)));
}
