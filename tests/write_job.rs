//! `inspect --write-job` on strange plans: the job file that it proposes leads to the layout of the same deck on layers
//! with good names.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::program::{Ran, arg, folder, run, run_in, same};

/// One thing of a plan, in metres, with what it is.
#[derive(Clone)]
struct Drawn {
    role: &'static str,
    text: fn(&str, &[[f64; 2]]) -> String,
    points: Vec<[f64; 2]>,
}

fn closed(layer: &str, points: &[[f64; 2]]) -> String {
    polyline(layer, points, 1)
}

fn polyline(layer: &str, points: &[[f64; 2]], flag: i32) -> String {
    let vertices: String = points.iter().map(|[x, y]| format!("10\n{x}\n20\n{y}\n")).collect();
    format!(
        "0\nLWPOLYLINE\n100\nAcDbEntity\n8\n{layer}\n100\nAcDbPolyline\n90\n{}\n70\n{flag}\n{vertices}",
        points.len()
    )
}

/// Loose lines from each point to the next one; a closed outline repeats its first point.
fn loose(layer: &str, points: &[[f64; 2]]) -> String {
    let line = |w: &[[f64; 2]]| {
        let [[ax, ay], [bx, by]] = [w[0], w[1]];
        format!(
            "0\nLINE\n100\nAcDbEntity\n8\n{layer}\n100\nAcDbLine\n10\n{ax}\n20\n{ay}\n30\n0\n11\n{bx}\n21\n{by}\n31\n0\n"
        )
    };
    points.windows(2).map(line).collect()
}

/// A square post of 9 cm as a block.
fn block(layer: &str, points: &[[f64; 2]]) -> String {
    let one = |[x, y]: &[f64; 2]| {
        format!(
            "0\nINSERT\n100\nAcDbEntity\n8\n{layer}\n100\nAcDbBlockReference\n2\nPFOSTEN\n10\n{x}\n20\n{y}\n30\n0\n"
        )
    };
    points.iter().map(one).collect()
}

/// What a flight of four risers says of itself.
fn words(layer: &str, points: &[[f64; 2]]) -> String {
    let [x, y] = points[0];
    format!(
        "0\nTEXT\n100\nAcDbEntity\n8\n{layer}\n100\nAcDbText\n10\n{x}\n20\n{y}\n30\n0\n40\n0.1\n1\n4R 170mm x 280mm\n100\nAcDbText\n"
    )
}

fn thing(role: &'static str, text: fn(&str, &[[f64; 2]]) -> String, points: &[[f64; 2]]) -> Drawn {
    Drawn { role, text, points: points.to_vec() }
}

fn boxed(left: f64, low: f64, right: f64, high: f64) -> [[f64; 2]; 4] {
    [[left, low], [right, low], [right, high], [left, high]]
}

fn post(x: f64, y: f64) -> Drawn {
    thing("post", closed, &boxed(x - 0.045, y - 0.045, x + 0.045, y + 0.045))
}

/// A deck of 6 m x 4 m with a bevelled corner.
const DECK: [[f64; 2]; 5] = [[0.0, 0.0], [4.8, 0.0], [6.0, 1.2], [6.0, 4.0], [0.0, 4.0]];

fn deck() -> Drawn {
    thing("edge", closed, &DECK)
}

fn house() -> Drawn {
    thing("wall", closed, &boxed(-1.5, 4.0, 9.5, 11.0))
}

/// Three lines, one tread of 28 cm from the edge and from each other.
fn stair() -> Vec<Drawn> {
    let tread = |k: i32| thing("stair", loose, &[[1.5, -0.28 * f64::from(k)], [2.7, -0.28 * f64::from(k)]]);
    (1..=3).map(tread).chain([thing("stair", words, &[[2.1, -0.5]])]).collect()
}

/// The drawing with each role on its layer; `insunits` as the header says it, `scale` drawing units in a metre.
fn drawing(things: &[Drawn], layer: &dyn Fn(&str) -> String, insunits: i32, scale: f64) -> String {
    let one = |t: &Drawn| {
        let points: Vec<[f64; 2]> = t.points.iter().map(|p| p.map(|v| v * scale)).collect();
        (t.text)(&layer(t.role), &points)
    };
    let half = 0.045 * scale;
    let square = polyline("0", &boxed(-half, -half, half, half), 1);
    format!(
        "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n{insunits}\n0\nENDSEC\n\
         0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n100\nAcDbEntity\n8\n0\n100\nAcDbBlockBegin\n2\nPFOSTEN\n70\n0\n10\n0\n20\n0\n30\n0\n3\nPFOSTEN\n\
         {square}0\nENDBLK\n100\nAcDbEntity\n8\n0\n100\nAcDbBlockEnd\n0\nENDSEC\n\
         0\nSECTION\n2\nENTITIES\n{}0\nENDSEC\n0\nEOF\n",
        things.iter().map(one).collect::<String>()
    )
}

fn good(role: &str) -> String {
    match role {
        "edge" => "DECK-EDGE".to_owned(),
        other => other.to_uppercase(),
    }
}

/// Posts and panels of a layout, without what depends on the file.
fn layout(home: &Path, args: &[&str]) -> Value {
    let all: Vec<String> = ["layout", "plan.dxf", "--formats", "json", "--out", "out"]
        .iter()
        .chain(args)
        .map(|a| (*a).to_owned())
        .collect();
    let ran = run_in(home, &all, b"");
    assert!(ran.status < 2, "{}", ran.err);
    let json: Value = serde_json::from_slice(&fs::read(home.join("out/layout.json")).unwrap()).unwrap();
    let keep = ["units", "posts", "panels", "stairs", "cut_plan", "order"];
    keep.iter()
        .filter_map(|key| Some(((*key).to_owned(), json.get(*key)?.clone())))
        .collect::<serde_json::Map<_, _>>()
        .into()
}

/// A folder with a plan in it.
fn home(text: &str) -> tempfile::TempDir {
    let home = folder();
    fs::write(home.path().join("plan.dxf"), text).unwrap();
    home
}

fn propose(home: &Path) -> (Ran, String) {
    let ran = run_in(home, &["inspect", "plan.dxf", "--write-job", "job.toml"], b"");
    let job = fs::read_to_string(home.join("job.toml")).unwrap_or_default();
    (ran, job)
}

/// Proposes a job for the strange plan and compares with the meant things on good layers in metres.
#[track_caller]
fn leads_to(strange: &str, meant: &[Drawn], insunits: i32, scale: f64) -> (Ran, String) {
    let home_strange = home(strange);
    let (ran, job) = propose(home_strange.path());
    assert!(ran.status < 2, "{}{}", ran.out, ran.err);
    let found = layout(home_strange.path(), &["--job", "job.toml"]);
    let home_good = home(&drawing(meant, &good, insunits, scale));
    let expected = layout(home_good.path(), &[]);
    assert!(expected["panels"].as_array().unwrap().len() >= 3);
    assert!(found == expected, "{}\n{job}\n{found:#}\n{expected:#}", ran.out);
    (ran, job)
}

fn whole() -> Vec<Drawn> {
    [deck(), house(), post(0.1016, 0.1016), post(5.8984, 3.0)].into_iter().chain(stair()).collect()
}

fn german(role: &str) -> String {
    let name = match role {
        "edge" => "Terrasse",
        "wall" => "Haus",
        "post" => "Pfosten",
        "stair" => "Treppe",
        _ => "Grundstück",
    };
    name.to_owned()
}

#[test]
fn metres_without_a_unit_on_german_layers() {
    let (ran, job) = leads_to(&drawing(&whole(), &german, 0, 1.0), &whole(), 6, 1.0);
    assert_eq!((ran.status, ran.err.as_str()), (0, ""), "{}", ran.out);
    for line in
        ["units = \"m\"", "edge = [\"Terrasse\"]", "wall = [\"Haus\"]", "post = [\"Pfosten\"]", "stair = [\"Treppe\"]"]
    {
        assert!(job.lines().any(|l| l.starts_with(line)), "{line}\n{job}");
    }
    assert!(job.contains("# units = \"ft\"  # the deck would be 6 ft x 4 ft"), "{job}");
}

#[test]
fn numbers_as_names_are_told_by_what_is_drawn() {
    let number = |role: &str| ["edge", "wall", "post", "stair"].iter().position(|r| *r == role).unwrap().to_string();
    for (insunits, scale) in [(0, 1.0), (4, 1000.0), (1, 1.0 / 0.0254)] {
        let stated = if insunits == 0 { 6 } else { insunits };
        leads_to(&drawing(&whole(), &number, insunits, scale), &whole(), stated, scale);
    }
}

/// Templates say inches in drawings that are made in millimetres.
#[test]
fn a_unit_that_makes_no_deck_is_put_right() {
    let (_, job) = leads_to(&drawing(&whole(), &german, 1, 1000.0), &whole(), 4, 1000.0);
    assert!(job.contains("in is said, which would make the deck 500 ft x 333.33 ft; with mm it is 6 m x 4 m"), "{job}");
}

#[test]
fn all_on_layer_0() {
    let zero = |_: &str| "0".to_owned();
    let (_, job) = leads_to(&drawing(&whole(), &zero, 4, 1000.0), &whole(), 4, 1000.0);
    assert!(job.contains("[[layers.pick]]\nlayer = \"0\"\nedge = [["), "{job}");
    // Posts as blocks, whose own layer 0 becomes the layer of the reference.
    let blocks: Vec<Drawn> = [deck(), house(), thing("post", block, &[[0.1016, 0.1016], [5.8984, 3.0]])]
        .into_iter()
        .chain(stair())
        .collect();
    leads_to(&drawing(&blocks, &zero, 0, 1000.0), &blocks, 4, 1000.0);
}

#[test]
fn posts_as_blocks_on_a_layer_without_a_meaning() {
    let things = [deck(), house(), thing("post", block, &[[0.1016, 0.1016], [3.0, 0.1016], [5.8984, 3.0]])];
    let name = |role: &str| if role == "post" { "B".to_owned() } else { german(role) };
    let (_, job) = leads_to(&drawing(&things, &name, 0, 1.0), &things, 6, 1.0);
    assert!(job.contains("post = [\"B\"]"), "{job}");
}

/// The outline gapes by 5 mm at each corner.
#[test]
fn loose_lines_with_gaps() {
    let gap = 0.005;
    let mut outline: Vec<Drawn> = Vec::new();
    for (i, a) in DECK.iter().enumerate() {
        let b = DECK[(i + 1) % DECK.len()];
        let [dx, dy] = [b[0] - a[0], b[1] - a[1]];
        let t = gap / 2.0 / dx.hypot(dy);
        outline.push(thing("edge", loose, &[[a[0] + dx * t, a[1] + dy * t], [b[0] - dx * t, b[1] - dy * t]]));
    }
    let name = |role: &str| if role == "edge" { "A-1".to_owned() } else { "A-2".to_owned() };
    let strange: Vec<Drawn> = outline.into_iter().chain([house()]).collect();
    let (_, job) = leads_to(&drawing(&strange, &name, 4, 1000.0), &[deck(), house()], 4, 1000.0);
    assert!(job.lines().any(|l| l.starts_with("join = \"1/4in\"") || l.starts_with("join = \"6.35mm\"")), "{job}");
}

/// The lot is ten times as large, on a layer of its own or on the deck's; a sheet with its title block stands around.
#[test]
fn lots_and_frames_are_no_decks() {
    let lot = || thing("lot", closed, &boxed(-20.0, -15.0, 40.0, 25.0));
    let frame = [
        thing("frame", closed, &boxed(-22.0, -18.0, 42.0, 27.0)),
        thing("frame", closed, &boxed(30.0, -18.0, 42.0, -14.0)),
        thing("frame", loose, &[[30.0, -16.0], [42.0, -16.0]]),
        thing("frame", words, &[[31.0, -17.0]]),
    ];
    let meant = [deck(), house(), post(0.1016, 0.1016), post(5.8984, 3.0)];
    let strange: Vec<Drawn> = meant.iter().cloned().chain([lot()]).chain(frame).collect();
    let apart =
        |role: &str| format!("A-{}", ["edge", "wall", "post", "lot", "frame"].iter().position(|r| *r == role).unwrap());
    let (_, job) = leads_to(&drawing(&strange, &apart, 0, 1.0), &meant, 6, 1.0);
    assert!(job.contains("edge = [\"A-0\"]"), "{job}");
    let together = |role: &str| match role {
        "edge" | "lot" | "frame" => "L1".to_owned(),
        other => other.to_uppercase(),
    };
    leads_to(&drawing(&strange, &together, 6, 1.0), &meant, 6, 1.0);
}

#[test]
fn a_flight_without_a_rise_is_a_line_to_fill_in() {
    let mut things = whole();
    things.pop();
    let strange = drawing(&things, &german, 0, 1.0);
    let home = home(&strange);
    let (ran, job) = propose(home.path());
    assert_eq!(ran.status, 1);
    let line = 1 + job.lines().position(|l| l.starts_with("# FILL IN: how high this flight is")).unwrap();
    let said = format!(
        "job.toml: error[layer-empty]: not all could be told; fill in line {line}\n  hint: each begins with FILL IN and says what is missing\n"
    );
    same(&ran.err, &said);
    // Filled in, it is a job like any other.
    let filled = job
        .replace("# [[stair]]\n# at", "[[stair]]\nat")
        .replace("# total-rise = \"2100mm\"", "total-rise = \"680mm\"");
    assert_ne!(filled, job);
    fs::write(home.path().join("job.toml"), filled).unwrap();
    let panels = layout(home.path(), &["--job", "job.toml"])["panels"].clone();
    assert!(panels.as_array().unwrap().iter().any(|p| p["kind"] == "raked"), "{panels:#}");
}

#[test]
fn what_cannot_be_told_is_left_to_be_filled_in() {
    // Two boxes alike, and nothing that says which one is the deck.
    let two = [thing("edge", closed, &boxed(0.0, 0.0, 6.0, 4.0)), thing("wall", closed, &boxed(20.0, 0.0, 26.0, 4.0))];
    let name = |role: &str| if role == "edge" { "A".to_owned() } else { "B".to_owned() };
    let strange = home(&drawing(&two, &name, 6, 1.0));
    let (ran, job) = propose(strange.path());
    assert_eq!(ran.status, 1, "{}", ran.out);
    assert!(ran.err.contains("fill in line"), "{}", ran.err);
    for layer in ["A", "B"] {
        let line = format!("# edge = [\"{layer}\"]  # closed outline of 6 m x 4 m, nothing at it; passes [");
        assert!(job.contains(&line), "{job}");
    }
    fs::write(strange.path().join("job.toml"), job.replace("# edge = [\"B\"]", "edge = [\"B\"]")).unwrap();
    assert_eq!(layout(strange.path(), &["--job", "job.toml"])["posts"].as_array().map(Vec::len).unwrap() % 2, 0);
    // Nothing that could be a deck at all.
    let small = home(&drawing(&[thing("edge", loose, &[[0.0, 0.0], [1e-4, 0.0]])], &name, 0, 1.0));
    let (ran, job) = propose(small.path());
    assert_eq!(ran.status, 1);
    assert!(job.contains("# FILL IN: nothing in the drawing has the size of a deck in any unit"), "{job}");
    assert!(job.contains("# FILL IN: which layer holds the deck edge"), "{job}");
}

#[test]
fn a_file_that_is_there_stays_unless_it_may_go() {
    let home = home(&drawing(&whole(), &german, 0, 1.0));
    fs::write(home.path().join("job.toml"), "mine").unwrap();
    let (ran, job) = propose(home.path());
    assert_eq!((ran.status, job.as_str()), (2, "mine"));
    same(&ran.err, "error: job.toml is there already; choose another name, or let it be replaced with --force\n");
    let ran = run_in(home.path(), &["inspect", "plan.dxf", "--write-job", "job.toml", "--force"], b"");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        fs::read_to_string(home.path().join("job.toml"))
            .unwrap()
            .starts_with("# Proposed by `plumbrail inspect plan.dxf")
    );
    let ran = run_in(home.path(), &["inspect", "plan.dxf", "--write-job", "plan.dxf", "--force"], b"");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("plan.dxf is the plan itself"), "{}", ran.err);
    let ran = run_in(home.path(), &["inspect", "plan.dxf", "--write-job", "new.toml", "--inset", "3in"], b"");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("--write-job takes --units, --system, --rules and --layer"), "{}", ran.err);
}

#[test]
fn what_was_said_stands_in_the_file() {
    let home = home(&drawing(&whole(), &german, 0, 1.0));
    let args = [
        "inspect",
        "plan.dxf",
        "--write-job",
        "job.toml",
        "--units",
        "m",
        "--system",
        "metal-42",
        "--layer",
        "wall=H*",
    ];
    let ran = run_in(home.path(), &args, b"");
    let job = fs::read_to_string(home.path().join("job.toml")).unwrap();
    assert!(ran.status < 2, "{}", ran.err);
    for line in ["system = \"metal-42\"", "wall = [\"H*\"]", "units = \"m\""] {
        assert!(job.lines().any(|l| l.starts_with(line)), "{line}\n{job}");
    }
}

/// Plans that need no job get one that changes nothing.
#[test]
fn good_plans_keep_their_layout() {
    for case in ["lakeside", "l-shape", "opening", "drawn-posts", "loose-lines", "z-open", "stair-lines", "hot-tub"] {
        let (home, plan) = (folder(), crate::program::plan(case));
        let job = arg(home.path().join("job.toml"));
        let ran = run(&["inspect", &plan, "--write-job", &job]);
        assert!(ran.status < 2, "{case}: {}", ran.err);
        let of = |more: &[&str], out: &str| -> Value {
            let out = arg(home.path().join(out));
            let args: Vec<&str> =
                ["layout", &plan, "--formats", "json", "--out", &out].into_iter().chain(more.iter().copied()).collect();
            assert!(run(&args).status < 2, "{case}");
            serde_json::from_slice(&fs::read(Path::new(&out).join("layout.json")).unwrap()).unwrap()
        };
        let (with, without) = (of(&["--job", &job], "a"), of(&[], "b"));
        for key in ["posts", "panels", "order"] {
            assert!(with[key] == without[key], "{case}: {key}\n{}", fs::read_to_string(&job).unwrap());
        }
    }
}

/// The text of a fixture with each layer that things stand on called otherwise.
fn relayered(case: &str, name: impl Fn(&str) -> String) -> String {
    let text = fs::read(crate::program::root().join(crate::program::plan(case))).unwrap();
    let text = String::from_utf8(text).unwrap();
    let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
    let pair = |pair: &[&str]| {
        let value = if pair[0].trim() == "8" { name(pair[1]) } else { pair[1].to_owned() };
        format!("{}\n{value}\n", pair[0])
    };
    lines.chunks(2).map(pair).collect()
}

/// The demo has framing, furniture, dimensions, symbols and a house with doors beside its deck.
#[test]
fn good_plans_under_strange_names() {
    let zero = ["lakeside", "l-shape", "wall-to-wall", "stair-lines", "double-wall", "curved", "neck", "nested-blocks"];
    let numbers = ["lakeside", "stair-landing", "hot-tub", "metric", "loose-lines"];
    let cases = zero.map(|c| (c, true)).into_iter().chain(numbers.map(|c| (c, false)));
    for (case, all_on_zero) in cases {
        let sum = |layer: &str| layer.bytes().fold(0_u32, |sum, b| (31 * sum + u32::from(b)) % 10_007);
        let number = |layer: &str| if layer == "0" { "0".to_owned() } else { format!("X{}", sum(layer)) };
        let text = relayered(case, |layer| if all_on_zero { "0".to_owned() } else { number(layer) });
        let strange = home(&text);
        let (ran, job) = propose(strange.path());
        assert!(ran.status < 2, "{case}: {}", ran.err);
        let good = home(&fs::read_to_string(crate::program::root().join(crate::program::plan(case))).unwrap());
        let (found, meant) = (layout(strange.path(), &["--job", "job.toml"]), layout(good.path(), &[]));
        for key in ["posts", "panels", "order"] {
            assert!(found[key] == meant[key], "{case}: {key}\n{}{job}", ran.out);
        }
    }
}

/// Two halves of a deck look like a deck and its house.
#[test]
fn halves_of_a_deck_are_not_taken_for_a_house() {
    let strange = home(&relayered("touching-boxes", |_| "A".to_owned()));
    let (ran, job) = propose(strange.path());
    assert_eq!(ran.status, 1);
    assert!(ran.err.contains("fill in line") && job.contains("# edge = [\"A\"]"), "{job}");
}

/// A thing on a part of an edge may be an opening, but a gap in the guard is not guessed.
#[test]
fn openings_without_a_name_are_only_told() {
    let strange = home(&relayered("opening", |layer| layer.replace("OPENING", "X1").replace("GATE", "X2")));
    let (ran, job) = propose(strange.path());
    assert!(ran.out.contains("  opening, perhaps: ") && job.contains("on a part of an edge"), "{}{job}", ran.out);
    assert!(!job.lines().any(|l| l.starts_with("opening = ")), "{job}");
}

#[test]
fn an_unusable_plan_says_what_to_run_next() {
    let home = home(&drawing(&whole(), &german, 0, 1.0));
    let ran = run_in(home.path(), &["inspect", "plan.dxf"], b"");
    assert_eq!(ran.status, 3);
    let end = "Next: plumbrail inspect plan.dxf --write-job job.toml\n";
    assert!(
        ran.out.ends_with(end) && ran.out.contains("  edge: Terrasse: a closed outline of 6 m x 4 m"),
        "{}",
        ran.out
    );
    let ran = run_in(home.path(), &["layout", "plan.dxf"], b"");
    assert_eq!(ran.status, 3);
    assert!(ran.err.contains("`plumbrail inspect PLAN --write-job job.toml` propose it"), "{}", ran.err);
    let ran = run_in(home.path(), &["layout", "plan.dxf", "--units", "m"], b"");
    assert_eq!(ran.status, 3);
    assert!(ran.err.contains("`plumbrail inspect PLAN --write-job job.toml` propose it"), "{}", ran.err);
}
