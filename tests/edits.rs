//! Edits that a person makes in a grafted drawing are read back and obeyed. The edits are made and saved by ezdxf, as
//! another program would.

use std::fs;
use std::path::PathBuf;

use plumbrail::base::{Code, Severity};
use plumbrail::cad;
use plumbrail::catalog::{Job, Settings, rules_named, system_named};
use plumbrail::guard::PostOrigin;
use plumbrail::{Outcome, PlanFile, lay_out, lay_out_file};

use crate::interop::{scratch, script};

fn settings() -> Settings {
    Settings::new(Job::default(), system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap()
}

fn again(bytes: &[u8]) -> Outcome {
    lay_out(bytes, "plan.dxf", &settings()).unwrap()
}

fn grafted(bytes: &[u8], outcome: &Outcome) -> Vec<u8> {
    outcome.rail_dxf(bytes, &settings()).unwrap().0
}

/// The demo deck, grafted, edited and saved by ezdxf.
fn edited(name: &str, edits: &[&str]) -> Vec<u8> {
    let plan = fs::read(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/lakeside/plan.dxf")).unwrap();
    edited_from(&plan, name, edits)
}

fn edited_from(plan: &[u8], name: &str, edits: &[&str]) -> Vec<u8> {
    let folder = scratch(name);
    let (before, after) = (folder.join("before.dxf"), folder.join("after.dxf"));
    fs::write(&before, grafted(plan, &again(plan))).unwrap();
    let mut args: Vec<&dyn AsRef<std::ffi::OsStr>> = vec![&before, &after];
    args.extend(edits.iter().map(|e| e as &dyn AsRef<std::ffi::OsStr>));
    script("edit_layout.py", &args);
    fs::read(after).unwrap()
}

fn ids(outcome: &Outcome) -> (Vec<&str>, Vec<&str>) {
    let layout = &outcome.layout;
    (layout.posts.iter().map(|p| p.id.as_str()).collect(), layout.panels.iter().map(|p| p.panel.id.as_str()).collect())
}

fn told(outcome: &Outcome, code: Code) -> Vec<&str> {
    outcome.findings.iter().filter(|f| f.code == code).map(|f| f.message.as_str()).collect()
}

#[test]
fn a_saved_drawing_without_edits_gives_the_same_layout() {
    let first = again(&edited("edits-none", &[]));
    let plan = fs::read(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/lakeside/plan.dxf")).unwrap();
    let fresh = again(&plan);
    assert_eq!(first.layout.posts, fresh.layout.posts);
    assert_eq!(first.layout.panels, fresh.layout.panels);
    assert!(told(&first, Code::EditObeyed).is_empty());
}

#[test]
fn a_moved_post_is_kept_with_its_id_and_so_in_later_runs() {
    // P10 stands between S9 and S10 on the left side, which runs along x = 4.
    let bytes = edited("edits-move", &["--move", "P10", "0", "-8"]);
    let first = again(&bytes);
    let post = first.layout.posts.iter().find(|p| p.id == "P10").unwrap();
    assert_eq!(post.origin, PostOrigin::Kept);
    assert!((post.at.y / 25.4 - (-56.875 - 8.0)).abs() < 1e-6, "{}", post.at.y / 25.4);
    assert_eq!(told(&first, Code::EditObeyed), ["post P10 was moved; it is kept where it stands"]);
    let spans: Vec<f64> = ["S9", "S10"]
        .iter()
        .map(|id| first.layout.panels.iter().find(|p| p.panel.id == *id).unwrap().panel.span.inches())
        .collect();
    assert_eq!(spans, [46.625, 62.625]);
    assert_eq!(first.layout.posts.len(), 12);
    // The next run finds it where it was kept, and says nothing more of it.
    let second = again(&grafted(&bytes, &first));
    assert_eq!(second.layout.posts, first.layout.posts);
    assert!(told(&second, Code::EditObeyed).is_empty());
}

#[test]
fn an_erased_line_post_stays_away_where_the_longest_panel_allows() {
    // The left side is 113.75 in clear between wall and P9: one bay would be longer than 84.
    let first = again(&edited("edits-erase", &["--erase", "P10"]));
    assert_eq!(told(&first, Code::EditNotObeyed).len(), 1);
    assert_eq!(first.layout.posts.len(), 12);
    // A post added half way along S9 (54.625 in) and erased later leaves the span as it was.
    let bytes = edited("edits-add", &["--copy", "P10", "0", "-29.625"]);
    let with = again(&bytes);
    assert_eq!(with.layout.posts.len(), 13);
    assert_eq!(ids(&with).0.iter().filter(|id| **id == "P13").count(), 1);
    assert_eq!(told(&with, Code::EditObeyed), ["this post was added; it is kept like a drawn one"]);
    let without = again(&edited_from(&bytes, "edits-add-erase", &["--erase", "P13"]));
    assert_eq!(without.layout.posts.len(), 12);
}

#[test]
fn an_erased_tag_leaves_the_span_open_and_says_so_in_every_run() {
    let bytes = edited("edits-untag", &["--untag", "S4"]);
    let first = again(&bytes);
    assert!(!ids(&first).1.contains(&"S4"));
    assert_eq!(first.layout.open.len(), 1);
    assert_eq!(first.layout.posts.len(), 12);
    assert!(first.findings.iter().any(|f| f.code == Code::NotChecked && f.message.contains("what closes S4")));
    let second = again(&grafted(&bytes, &first));
    assert_eq!(second.layout.open, first.layout.open);
    assert_eq!(ids(&second), ids(&first));
}

/// Frame and text are one thing: whichever of them is erased, the tag is.
#[test]
fn a_tag_without_its_frame_is_no_tag() {
    for (name, edits) in
        [("edits-unframe", &["--unframe", "S4"][..]), ("edits-untag-unframe", &["--untag", "S4", "--unframe", "S4"])]
    {
        let first = again(&edited(name, edits));
        assert!(!ids(&first).1.contains(&"S4") && first.layout.open.len() == 1, "{name}");
        assert_eq!(told(&first, Code::EditObeyed), ["the tag of S4 was erased: this span is left open"], "{name}");
    }
}

#[test]
fn a_drawing_moved_as_a_whole_is_no_edit() {
    let moved = again(&edited("edits-shift", &["--shift", "1000", "-500"]));
    assert!(told(&moved, Code::EditObeyed).is_empty(), "{:?}", told(&moved, Code::EditObeyed));
    assert_eq!(moved.layout.posts.len(), 12);
    assert!(moved.layout.posts.iter().all(|p| p.origin != PostOrigin::Kept));
}

/// From the list of blocks, without our XDATA: on S6, which runs along x = 100 from y = -164 to -116.
#[test]
fn a_post_block_placed_anew_is_a_post() {
    let bytes = edited("edits-insert", &["--insert", "100", "-140"]);
    let first = again(&bytes);
    assert_eq!(told(&first, Code::EditObeyed), ["a post of ours was placed here anew; it is kept like a drawn one"]);
    assert_eq!(first.layout.posts.len(), 13);
    assert!(first.layout.posts.iter().any(|p| p.id == "P13" && p.origin == PostOrigin::Kept));
    let second = again(&grafted(&bytes, &first));
    assert_eq!(second.layout.posts, first.layout.posts);
}

/// As many programs save it: without XDATA. What stood there is known by the texts of a block, else by what the plan gives.
#[test]
fn rails_without_marks_are_known_and_replaced_when_that_is_confirmed() {
    for (name, how) in [("unmarked", "--unmark"), ("forgotten", "--forget")] {
        let bytes =
            edited(name, &["--move", "P10", "0", "-8", "--untag", "S4", "--text", "RAIL-TEXT", "ask the owner", how]);
        let file = PlanFile::new(&bytes, "plan.dxf");
        let asked = lay_out_file(&file, &settings()).unwrap();
        let lost = asked.findings.iter().find(|f| f.code == Code::MarksLost).unwrap();
        assert_eq!(lost.severity, Severity::Incomplete, "{name}");
        assert!(lost.message.contains("of 12 posts") && lost.message.contains("11 of them stand"), "{}", lost.message);
        assert!(lost.hint.as_ref().unwrap().contains("--replace-rails"), "{name}");
        let refusal = asked.rail_dxf(&bytes, &settings()).unwrap_err();
        assert_eq!(refusal.finding.code, Code::MarksLost, "{name}");

        let outcome = lay_out_file(&PlanFile { replace_rails: true, ..file }, &settings()).unwrap();
        assert_eq!(outcome.layout.posts.len(), 12, "{name}");
        let moved = outcome.layout.posts.iter().find(|p| p.id == "P10").unwrap();
        assert!((moved.at.y / 25.4 - (-56.875 - 8.0)).abs() < 1e-6 && moved.origin == PostOrigin::Kept, "{name}");
        assert_eq!(outcome.layout.open.iter().map(|o| o.id.as_str()).collect::<Vec<_>>(), ["S4"], "{name}");
        let guest = outcome.findings.iter().find(|f| f.code == Code::LayerShared).unwrap();
        assert!(guest.message.contains("none of our rails; it stays"), "{}", guest.message);
        // The new drawing has one set of rails, and the note.
        let (new, _) = outcome.rail_dxf(&bytes, &settings()).unwrap();
        let text = String::from_utf8_lossy(&new).into_owned();
        assert_eq!(text.matches("\nask the owner\n").count(), 1, "{name}");
        assert_eq!(text.matches("\nRAIL-MARKS\n").count(), text.matches("\nRAIL-POST-4_5IN\n").count() - 12, "{name}");
        let third = again(&new);
        assert_eq!((&third.layout.posts, &third.layout.open), (&outcome.layout.posts, &outcome.layout.open), "{name}");
        assert!(third.findings.iter().all(|f| f.code != Code::MarksLost), "{name}");
    }
}

#[test]
fn rails_on_layers_of_other_names_are_none_of_the_users() {
    let names = ["LINE", "PANEL", "POST", "DIMS", "TEXT"];
    for (name, to) in [("underscores", "rail_"), ("bound", "deck$0$RAIL-"), ("prefix", "A-RAIL-"), ("other", "X-")] {
        let renames: Vec<String> =
            names.iter().flat_map(|n| ["--rename".into(), format!("RAIL-{n}"), format!("{to}{n}")]).collect();
        let mut edits: Vec<&str> = renames.iter().map(String::as_str).collect();
        edits.push("--unmark");
        let bytes = edited(name, &edits);
        let file = PlanFile { replace_rails: true, ..PlanFile::new(&bytes, "plan.dxf") };
        let outcome = lay_out_file(&file, &settings()).unwrap();
        assert_eq!((outcome.layout.posts.len(), outcome.layout.panels.len()), (12, 12), "{name}");
        assert!(
            told(&outcome, Code::EditObeyed).is_empty() && told(&outcome, Code::RailNotLaidOut).is_empty(),
            "{name}"
        );
        let (new, _) = outcome.rail_dxf(&bytes, &settings()).unwrap();
        let text = String::from_utf8_lossy(&new).into_owned();
        assert!(!text.contains(&format!("\n{to}POST\n")) && text.contains("\nRAIL-POST\n"), "{name}");
    }
}

/// A writer that says inches of a drawing in millimetres.
#[test]
fn a_changed_unit_is_refused_until_it_is_stated() {
    let plan = fs::read(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/metric/plan.dxf")).unwrap();
    for how in ["--unmark", "--forget"] {
        let saved = edited_from(&plan, "changed-unit", &[how]);
        let text = String::from_utf8(saved).unwrap();
        let at = text.find("$INSUNITS").unwrap();
        let bytes = format!("{}{}", &text[..at], text[at..].replacen("\n4\n", "\n1\n", 1));
        let refusal = lay_out(bytes.as_bytes(), "plan.dxf", &settings()).unwrap_err();
        assert_eq!(refusal.finding.code, Code::UnitsDoubtful, "{how}");
        let job = Job { units: Some("mm".to_owned()), ..Job::default() };
        let mm = Settings::new(job, system_named("composite-36").unwrap(), rules_named("irc-2021").unwrap()).unwrap();
        assert_eq!(lay_out(bytes.as_bytes(), "plan.dxf", &mm).unwrap().layout.posts.len(), 6, "{how}");
    }
}

/// How many things stand on rail layers, without the callouts of what was found.
fn rails_in(bytes: &[u8]) -> usize {
    let options =
        cad::ReadOptions { units: None, wanted: &|_| false, hidden_too: &|_| false, externals: &cad::no_externals };
    let drawing = cad::read(bytes, &options).unwrap();
    let rails = drawing.layers.iter().filter(|l| l.name.contains("RAIL-") && l.name != "RAIL-NOTE");
    rails.flat_map(|layer| &layer.counts).map(|(_, count)| count).sum()
}

/// Two sets in one drawing, or one of which a program has dropped some marks: never both stay.
#[test]
fn rails_of_which_some_carry_marks_are_taken_out_whole() {
    let plain = edited("edits-plain", &["--move", "P10", "0", "-8"]);
    let one_set = rails_in(&grafted(&plain, &again(&plain)));
    for (name, how) in [("doubled", "--double"), ("half", "--unmark-half")] {
        let bytes = edited(name, &["--move", "P10", "0", "-8", "--text", "RAIL-TEXT", "ask the owner", how]);
        let file = PlanFile::new(&bytes, "plan.dxf");
        let asked = lay_out_file(&file, &settings()).unwrap();
        let lost = asked.findings.iter().find(|f| f.code == Code::MarksLost).unwrap();
        assert_eq!(lost.severity, Severity::Incomplete, "{name}");
        assert!(
            lost.message.contains("others do not") && lost.message.contains("11 of them stand"),
            "{}",
            lost.message
        );
        assert_eq!(asked.rail_dxf(&bytes, &settings()).unwrap_err().finding.code, Code::MarksLost, "{name}");

        let outcome = lay_out_file(&PlanFile { replace_rails: true, ..file }, &settings()).unwrap();
        let moved = outcome.layout.posts.iter().find(|p| p.id == "P10").unwrap();
        assert!((moved.at.y / 25.4 - (-56.875 - 8.0)).abs() < 1e-6 && moved.origin == PostOrigin::Kept, "{name}");
        assert_eq!(outcome.layout.posts.len(), 12, "{name}");
        let (new, _) = outcome.rail_dxf(&bytes, &settings()).unwrap();
        assert_eq!(rails_in(&new), one_set + 1, "{name}: one set, and the user's note");
        let third = again(&new);
        assert_eq!(third.layout.posts, outcome.layout.posts, "{name}");
        assert!(third.findings.iter().all(|f| f.code != Code::MarksLost), "{name}");
    }
}

/// What the user writes on a layer of ours stays, and is told, whatever became of the marks.
#[test]
fn guests_are_told_and_stay_even_on_a_frozen_layer() {
    for (name, edits) in [("guests-marked", &[][..]), ("guests-frozen", &["--freeze", "RAIL-TEXT", "--unmark"])] {
        let edits = [&["--text", "RAIL-TEXT", "ask the owner"][..], edits].concat();
        let bytes = edited(name, &edits);
        let file = PlanFile { replace_rails: true, ..PlanFile::new(&bytes, "plan.dxf") };
        let outcome = lay_out_file(&file, &settings()).unwrap();
        let guests = told(&outcome, Code::LayerShared);
        assert_eq!(guests, ["what stands here on layer RAIL-TEXT is none of our rails; it stays"], "{name}");
        let (new, _) = outcome.rail_dxf(&bytes, &settings()).unwrap();
        assert_eq!(String::from_utf8_lossy(&new).matches("\nask the owner\n").count(), 1, "{name}");
        assert_eq!(outcome.layout.posts.len(), 12, "{name}");
    }
}

/// `layout.dxf` attached to the plan, bound, and taken apart (ezdxf, module xref).
#[test]
fn an_attached_layout_is_known_while_it_is_attached_and_when_it_is_bound() {
    let folder = scratch("attached");
    let plan = fs::read(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/lakeside/plan.dxf")).unwrap();
    let outcome = again(&plan);
    let names = ["plan.dxf", "layout.dxf", "attached.dxf", "bound.dxf", "exploded.dxf"].map(|name| folder.join(name));
    fs::write(&names[0], &plan).unwrap();
    fs::write(&names[1], crate::paper::layout_dxf(&outcome)).unwrap();
    script("attach_layout.py", &names.each_ref().map(|name| name as &dyn AsRef<std::ffi::OsStr>));
    let layout = fs::read(&names[1]).unwrap();
    let [attached, bound, exploded] = [2, 3, 4].map(|n: usize| fs::read(&names[n]).unwrap());

    let externals = |_: &cad::Reference<'_>| Ok(cad::External { file: "layout.dxf".into(), bytes: layout.clone() });
    let file = PlanFile { externals: &externals, replace_rails: true, ..PlanFile::new(&attached, "plan.dxf") };
    let seen = lay_out_file(&file, &settings()).unwrap();
    assert_eq!(seen.layout.posts, outcome.layout.posts);
    let refusal = seen.rail_dxf(&attached, &settings()).unwrap_err();
    assert_eq!(refusal.finding.code, Code::RailsAttached);
    assert!(refusal.finding.message.contains("external reference layout"), "{}", refusal.finding.message);

    let one_set = rails_in(&grafted(&plan, &outcome));
    let file = PlanFile::new(&bound, "plan.dxf");
    let asked = lay_out_file(&file, &settings()).unwrap();
    assert!(told(&asked, Code::MarksLost)[0].contains("attached to this one and then bound"));
    assert_eq!(asked.rail_dxf(&bound, &settings()).unwrap_err().finding.code, Code::MarksLost);
    let replaced = lay_out_file(&PlanFile { replace_rails: true, ..file }, &settings()).unwrap();
    assert_eq!(replaced.layout.posts, outcome.layout.posts);
    assert_eq!(rails_in(&replaced.rail_dxf(&bound, &settings()).unwrap().0), one_set);

    // Taken apart, it stands in the drawing with its marks, elevations and all.
    let anew = again(&exploded);
    assert_eq!(anew.layout.posts, outcome.layout.posts);
    let text = String::from_utf8(grafted(&exploded, &anew)).unwrap();
    let entities = &text[text.find("\nENTITIES\n").unwrap()..];
    assert_eq!(entities.matches("\nRAIL-POST-4_5IN\n").count(), 12);
    assert!(!entities.contains("$0$RAIL-POST"));
}
