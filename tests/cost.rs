//! Small plans that ask for any amount of work: what is done for them is counted and bounded, and what is left out is said.

use plumbrail::base::{Code, Severity};
use plumbrail::{Outcome, sheet, write};

use crate::drawn::{Insunits, corners, edge, polylines};
use crate::hostile::{deck_and, has, proved};
use crate::program::{arg, folder, run};

/// More of one code and weight are counted in one more finding.
const MOST_ALIKE: usize = 200;

/// A block of a circle that is placed in rows of rows of itself, so many in each direction.
fn nested(rows: u32) -> String {
    let block = |name: &str, of: &str| format!("0\nBLOCK\n8\n0\n2\n{name}\n70\n0\n10\n0\n20\n0\n{of}0\nENDBLK\n8\n0\n");
    let array = |layer: &str, name: &str, at: i32, step: u32| {
        format!(
            "0\nINSERT\n8\n{layer}\n2\n{name}\n10\n{at}\n20\n{at}\n70\n{rows}\n71\n{rows}\n44\n{step}\n45\n{step}\n"
        )
    };
    let blocks = block("DOT", "0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n2\n") + &block("FIELD", &array("POST", "DOT", 0, 1));
    let blocks = format!("0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n");
    deck_and(&array("0", "FIELD", -3000, rows)).replacen(
        "0\nSECTION\n2\nENTITIES\n",
        &format!("{blocks}0\nSECTION\n2\nENTITIES\n"),
        1,
    )
}

/// Whatever was left out: the layout says so, its lists are short, and its numbers count all of it.
fn is_bounded(outcome: &Outcome) {
    assert!(!outcome.is_good() && outcome.headline().starts_with("incomplete: "), "{}", outcome.headline());
    for code in Code::ALL {
        for severity in [Severity::Warning, Severity::Incomplete, Severity::Error] {
            let alike = outcome.findings.iter().filter(|f| (f.code, f.severity) == (*code, severity)).count();
            assert!(alike <= MOST_ALIKE + 1, "{alike} {code}");
        }
    }
    let (plan, _) = sheet::plan_of(&outcome.plan, &outcome.layout, &outcome.findings);
    let signs = plan.items.iter().filter(|item| item.object.as_ref().is_some_and(|o| o.kind == "finding")).count();
    assert!(signs <= 200 * 4, "{signs}");
}

#[test]
fn arrays_of_arrays_end() {
    let outcome = proved(nested(12).as_bytes()).unwrap();
    assert!(has(&outcome, Code::OverBudget), "{}", outcome.headline());
    // 12 by 12 of 12 by 12 are drawn.
    assert_eq!(outcome.plan.posts.len(), 20_000);
    is_bounded(&outcome);
}

/// A deck with posts beside it that are not used, apart enough that each could have a sign.
fn strays(count: u32, apart: f64) -> String {
    let place = |i: u32| (20.0 + f64::from(i % 80) * apart, -60.0 - f64::from(i / 80) * apart);
    let point = |i: u32| format!("0\nPOINT\n8\nPOST\n10\n{}\n20\n{}\n", place(i).0, place(i).1);
    deck_and(&(0..count).map(point).collect::<String>())
}

/// What is found many times costs a drawing no more than what is found a few dozen times; all of it is in the data, and the
/// drawing's list says how many more there are.
#[test]
fn a_drawing_shows_a_few_dozen_of_a_kind_and_tells_of_the_others() {
    let drawn = |count: u32| {
        let outcome = proved(strays(count, 9.0).as_bytes()).unwrap();
        let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
        let is_serious = |f: &&plumbrail::base::Finding| f.severity > Severity::Note;
        let found: usize = outcome.findings.iter().filter(is_serious).map(|f| f.count).sum();
        let signed = |item: &&sheet::Item| item.object.as_ref().is_some_and(|o| o.kind == "finding");
        let pages = sheet::permit_set(&outcome.layout, &set, &outcome.findings, &outcome.proof);
        let svg = write::svg::document(&[&set.plan], &[]);
        (outcome, found, set.plan.items.iter().filter(signed).count(), set.plan.items.len(), pages.len(), svg)
    };
    let (few, many) = (drawn(150), drawn(4000));
    assert!(many.4 <= few.4 + 3, "{} {} pages", few.4, many.4);
    assert_eq!(few.2, many.2, "signs");
    assert!(many.3 <= few.3 + 8, "{} {}", few.3, many.3);
    let listed = many.5.matches("this drawn post stands").count();
    assert!((10..60).contains(&listed), "{listed}");
    // The line may be broken.
    let words: Vec<&str> =
        many.5.split("<text").filter_map(|t| Some(t.split_once('>')?.1.split_once('<')?.0)).collect();
    let more = format!("and {} more like these: see report.html or layout.json", many.1 - listed);
    assert!(words.join(" ").contains(&more), "{more}");
    // The data has each that is told, and counts the others.
    let json = String::from_utf8(write::json::layout(&many.0.layout, &many.0.findings, &many.0.proof)).unwrap();
    assert!(json.matches("this drawn post stands").count() >= MOST_ALIKE);
    assert!(json.contains("3800 more of this kind are not told one by one"));
}

#[test]
fn thousands_of_posts_beside_the_deck_are_counted() {
    let outcome = proved(strays(4000, 1.0).as_bytes()).unwrap();
    is_bounded(&outcome);
    let told = |severity| outcome.findings.iter().filter(|f| f.severity == severity).map(|f| f.count).sum::<usize>();
    assert_eq!(told(Severity::Incomplete), outcome.plan.posts.len());
    assert!(
        outcome.headline().contains(&format!("; and {} more", outcome.plan.posts.len() - 1)),
        "{}",
        outcome.headline()
    );
}

/// The same by the program: its messages are short, and its last line and its status tell of all.
#[test]
fn messages_are_short_and_true() {
    let folder = folder();
    let plan = folder.path().join("plan.dxf");
    std::fs::write(&plan, nested(12)).unwrap();
    for form in ["text", "json"] {
        let ran = run(&["check", &arg(&plan), "--message-format", form]);
        assert_eq!(ran.status, 1, "{}", ran.err);
        assert!(ran.err.lines().count() < 1000, "{}", ran.err.lines().count());
        assert!(ran.err.contains("more of this kind are not told one by one"), "{}", ran.err);
    }
}

/// Twice as many decks, twice as much of everything that is made of them.
#[test]
fn decks_cost_the_same_each() {
    let decks = |count: u32| {
        let deck = |i: u32| {
            let (x, y) = (f64::from(i % 4) * 300.0, f64::from(i / 4) * 300.0);
            edge(&corners(x, y, x + 180.0, y + 120.0), true)
        };
        let plan = polylines(&(0..count).map(deck).collect::<Vec<_>>(), Insunits::Inch);
        let outcome = proved(plan.as_bytes()).unwrap();
        let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
        [outcome.layout.panels.len(), outcome.proof.checks.len(), outcome.findings.len(), set.plan.items.len()]
    };
    for (few, many) in decks(4).into_iter().zip(decks(8)) {
        assert!(few > 0 && many * 10 < few * 26, "{few} {many}");
    }
}

/// What a job says of itself may be of any length: it is cut to its room once, and no list ends the work.
#[test]
fn endless_texts_of_a_job_are_cut() {
    let (words, word) = ("terrace ".repeat(50_000), "x".repeat(300_000));
    let job = format!("[project]\nname = \"{words}\"\naddress = \"{word}\"\nclient = \"{word}\"\n");
    let settings = plumbrail::settings(&job, "", "").unwrap();
    let outcome = plumbrail::lay_out(deck_and("").as_bytes(), "plan.dxf", &settings).unwrap();
    let set = sheet::compose(&outcome.plan, &outcome.layout, &outcome.findings);
    for page in sheet::permit_set(&outcome.layout, &set, &outcome.findings, &outcome.proof) {
        let longest = page.texts().into_iter().map(|text| text.content.chars().count()).max().unwrap();
        assert!(longest < 1000, "{}: {longest}", page.number);
    }
    assert!(write::xlsx::schedule(&outcome.layout).is_ok());
}
