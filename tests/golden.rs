//! What comes out for each fixture, as readable text. `PLUMBRAIL_BLESS=1 cargo test --test all golden` writes it anew;
//! a change in it is to be checked by hand, since these are the holes that somebody drills.

use std::fs;

use plumbrail::base::decimal;
use serde_json::Value;

use crate::program::{arg, fixtures, folder, plan, run, same_as_file};

/// Options with which a fixture is laid out; an empty list for the most.
pub fn options(case: &str) -> &'static [&'static str] {
    match case {
        "cable" => &["--system", "cable-36"],
        "framed" => &["--system", "frame-42"],
        "z-open" => &["--inset", "3in"],
        "unitless" | "r12" => &["--units", "in"],
        "wrong-layers" => &["--layer", "edge=OUTLINE", "--layer", "wall=BUILDING"],
        _ => &[],
    }
}

#[test]
fn layouts_of_all_fixtures() {
    for case in fixtures() {
        let out = folder();
        let mut args = vec!["layout".to_owned(), plan(&case)];
        args.extend(options(&case).iter().map(|o| (*o).to_owned()));
        let shown = format!("$ plumbrail {}\n", args.join(" "));
        args.extend(["--formats".to_owned(), "json".to_owned(), "--out".to_owned(), arg(out.path())]);
        let ran = run(&args);
        assert!(ran.status <= 1, "{case}: {}", ran.err);
        let text = fs::read_to_string(out.path().join("layout.json")).unwrap();
        let layout: Value = serde_json::from_str(&text).unwrap();
        same_as_file(&format!("{shown}{}", summary(&layout)), &case, "layout.txt");
    }
}

/// The layout's posts and panels, a line each.
fn summary(layout: &Value) -> String {
    let mut out = format!(
        "lengths in {}, marks of {}; plan in {}\n",
        text(&layout["units"]),
        number(&layout["mark"]),
        text(&layout["plan"]["drawing_units"])
    );
    for run in list(&layout["runs"]) {
        let kind = if run["closed"] == true { "closed" } else { "open" };
        let line: Vec<String> = list(&run["line"]).iter().map(point).collect();
        out.push_str(&format!("\nrun {} {kind}: {}\n", run["number"], line.join(" ")));
    }
    out.push_str("\npost  kind  origin  at  turned  side\n");
    for post in list(&layout["posts"]) {
        out.push_str(&format!(
            "{} {} {} {} {} {}\n",
            text(&post["id"]),
            text(&post["kind"]),
            text(&post["origin"]),
            point(post),
            number(&post["rotation"]),
            number(&post["side"])
        ));
    }
    out.push_str("\npanel  from-to  span  rail | balusters: first last  end gaps  widest | blocks | skews\n");
    for panel in list(&layout["panels"]) {
        out.push_str(&panel_line(panel));
    }
    out
}

fn panel_line(panel: &Value) -> String {
    let balusters = &panel["balusters"];
    let marks = list(&balusters["marks"]);
    let end = |mark: Option<&Value>| mark.map_or_else(|| "-".to_owned(), number);
    let blocks: Vec<String> = list(&panel["blocks"]).iter().map(number).collect();
    let infill = infill(panel);
    assert_eq!(balusters["count"], marks.len());
    format!(
        "{} {}-{} {} {} | {}: {} {}  {} {}  {} | {} | {} {}\n{infill}",
        text(&panel["id"]),
        text(&panel["from"]),
        text(&panel["to"]),
        number(&panel["span"]),
        number(&panel["length"]),
        balusters["count"],
        end(marks.first()),
        end(marks.last()),
        number(&balusters["end_gap_left"]),
        number(&balusters["end_gap_right"]),
        number(&balusters["widest_gap"]),
        if blocks.is_empty() { "-".to_owned() } else { blocks.join(" ") },
        number(&panel["skew_left"]),
        number(&panel["skew_right"])
    )
}

/// A line more where the infill is cables or frames.
fn infill(panel: &Value) -> String {
    let marks = |what: &Value| list(what).iter().map(number).collect::<Vec<_>>().join(" ");
    if let Some(c) = panel.get("cables") {
        let (heights, slats) = (marks(&c["heights"]), marks(&c["slats"]));
        let [length, free, widest] = ["length", "longest_run", "widest_gap"].map(|key| number(&c[key]));
        return format!(
            "  {} cables of {length} at {heights} | slats {slats} | free {free}, gap {widest}\n",
            c["count"]
        );
    }
    if let Some(f) = panel.get("frames") {
        let [width, height] = ["width", "height"].map(|key| number(&f[key]));
        let gaps = ["end_gap_left", "end_gap_right", "widest_gap"].map(|key| number(&f[key])).join(" ");
        let (edges, clips) = (marks(&f["edges"]), marks(&f["clips"]));
        return format!("  {} frames of {width} x {height} at {edges} | clips {clips} | gaps {gaps}\n", f["count"]);
    }
    String::new()
}

fn list(value: &Value) -> &[Value] {
    value.as_array().unwrap()
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap()
}

/// Four decimals: more than any saw needs, and fewer than the last digits of f64.
fn number(value: &Value) -> String {
    decimal(value.as_f64().unwrap(), 4)
}

fn point(value: &Value) -> String {
    format!("({}, {})", number(&value["x"]), number(&value["y"]))
}
