//! `plumbrail inspect`: what the program sees, and what it takes for what and why.

mod job;

use anyhow::Result;
use comfy_table::{Table, presets};
use plumbrail::PlanFile;
use plumbrail::base::{Code, Finding, Refusal, Unit, capped, decimal, visible_line};
use plumbrail::cad::{self, Drawing, LayerInfo, Shape};
use plumbrail::catalog::{Settings, Sides};
use plumbrail::deck::{self, Plan, Roles};
use serde_json::json;

use super::{lint, print};
use crate::args::{Inspect, MessageFormat};
use crate::config::{self, Status};
use crate::input::Input;
use crate::messages;

/// What could be seen, and why the rest could not.
struct Seen {
    drawing: Drawing,
    roles: Roles,
    plan: Option<Plan>,
    findings: Vec<Finding>,
    usable: bool,
}

pub fn run(args: &Inspect, format: MessageFormat) -> Result<Status> {
    let input = Input::open_or_say(&args.plan, &args.source, format)?;
    if args.lint {
        return lint::run(args, &input, format);
    }
    if let Some(target) = &args.write_job {
        return job::run(args, target, &input, format);
    }
    let settings = config::settings(&args.shared)?;
    let name = args.plan.file_name().unwrap_or_default().to_string_lossy();
    let seen = match see(&input, &name, &settings) {
        Ok(seen) => seen,
        Err(error) => {
            if let Some(refusal) = error.downcast_ref::<Refusal>() {
                messages::refusal(&args.plan, refusal, format);
            }
            return Err(error);
        }
    };
    let roles = &seen.roles;
    if args.json {
        print(&format!("{:#}\n", as_json(&seen, roles)))?;
    } else {
        let mut out = text(&seen, roles);
        if !seen.usable
            && let Ok((_, guess)) = job::guess(&input, settings.units)
        {
            out.push_str(&job::told(&guess, &args.plan));
        }
        print(&out)?;
    }
    let frame = seen.plan.as_ref().map(|p| p.frame);
    messages::findings(&args.plan, frame.as_ref(), &seen.findings, format);
    Ok(if seen.usable { Status::by(&seen.findings) } else { Status::Unusable })
}

/// Reads as far as it goes: a unitless drawing is shown as if drawn in inches, one without an edge without a plan.
fn see(input: &Input, name: &str, settings: &Settings) -> Result<Seen> {
    let externals = |r: &cad::Reference<'_>| input.external(r);
    let read = |units| deck::read(&input.bytes, &externals, units, settings);
    let mut findings = input.findings.clone();
    let mut usable = true;
    let (drawing, roles) = match read(settings.units) {
        Ok(read) => read,
        Err(refusal) if refusal.finding.code == Code::UnitsMissing => {
            usable = false;
            findings.push(*refusal.finding);
            read(Some(Unit::Inch))?
        }
        Err(refusal) => return Err(refusal.into()),
    };
    findings.extend(drawing.findings.iter().cloned());
    let plan_of = |file: &PlanFile<'_>| plumbrail::plan_of(file, (&drawing, &roles), settings);
    let plan = match input.as_plan(name, usize::MAX, plan_of)? {
        Ok((plan, found)) => {
            findings.extend(found);
            Some(plan)
        }
        Err(refusal) => {
            usable = false;
            findings.push(*refusal.finding);
            findings.extend(refusal.others);
            None
        }
    };
    Ok(Seen { drawing, roles, plan, findings: capped(findings), usable })
}

fn unit(seen: &Seen) -> &'static str {
    let unknown = seen.findings.iter().any(|f| f.code == Code::UnitsMissing);
    if unknown { "none" } else { seen.drawing.frame.unit.sign() }
}

/// Lower left and upper right corner of what was read, in drawing units.
fn extents(drawing: &Drawing) -> Option<[f64; 4]> {
    let points = drawing.entities.iter().flat_map(|e| match &e.shape {
        Shape::Path { vertices, .. } => vertices.iter().map(|v| v.at).collect(),
        Shape::Curve { points, .. } => points.clone(),
        Shape::Circle { centre, .. } => vec![*centre],
        Shape::Point(at) | Shape::Text { at, .. } => vec![*at],
    });
    points.map(|p| drawing.frame.to_drawing(p)).fold(None, |box_, p| {
        let [x0, y0, x1, y1] = box_.unwrap_or([p.x, p.y, p.x, p.y]);
        Some([x0.min(p.x), y0.min(p.y), x1.max(p.x), y1.max(p.y)])
    })
}

fn state(layer: &LayerInfo) -> String {
    let s = layer.state;
    let words = [(s.frozen, "frozen"), (s.off, "off"), (s.no_plot, "not plotted")];
    words.into_iter().filter(|(on, _)| *on).map(|(_, w)| w).collect::<Vec<_>>().join(", ")
}

fn taken(layer: &LayerInfo, roles: &Roles) -> (String, String) {
    match roles.of(&layer.name) {
        None => ("-".to_owned(), String::new()),
        Some(t) => {
            let whose = match (t.from_job, t.pattern.contains(' ')) {
                (true, _) => "the job's pattern",
                (false, true) => "the words",
                (false, false) => "the word",
            };
            (t.role.word().to_owned(), format!("{whose} {}", t.pattern))
        }
    }
}

fn text(seen: &Seen, roles: &Roles) -> String {
    let d = &seen.drawing;
    let kind = if d.binary { "binary" } else { "ASCII" };
    let mut out = format!(
        "DXF {} ({}), {kind}, text {}\nDrawing unit: {}\n",
        d.version.name(),
        d.version.acadver(),
        d.encoding,
        unit(seen)
    );
    if let Some([x0, y0, x1, y1]) = extents(d) {
        let n = |v: f64| decimal(v, 3);
        out.push_str(&format!(
            "What was read reaches from {}, {} to {}, {} ({} x {})\n",
            n(x0),
            n(y0),
            n(x1),
            n(y1),
            n(x1 - x0),
            n(y1 - y0)
        ));
    }
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_header(["layer", "taken for", "why", "state", "records"]);
    for layer in &d.layers {
        let (role, why) = taken(layer, roles);
        let counts: Vec<String> = layer.counts.iter().map(|(k, n)| format!("{n} {k}")).collect();
        table.add_row([visible_line(&layer.name).into_owned(), role, why, state(layer), counts.join(", ")]);
    }
    out.push_str(&format!("\n{}\n", table.trim_fmt()));
    if let Some(plan) = &seen.plan {
        out.push_str(&plan_text(plan));
    }
    out
}

fn plan_text(plan: &Plan) -> String {
    let size = |mm: f64| format!("{} {}", decimal(mm / plan.frame.unit.millimetres(), 3), plan.frame.unit.sign());
    let mut out = String::from("\nDeck edges, the deck on the right-hand side\n");
    for (i, chain) in plan.chains.iter().enumerate() {
        let length: f64 = chain.edges.iter().map(|e| plumbrail::base::plane::distance(e.a, e.b)).sum();
        let kind = if chain.is_closed() { "closed outline" } else { "open edge" };
        out.push_str(&format!("  {}: {kind}, {} edges, {} long\n", i + 1, chain.edges.len(), size(length)));
    }
    out.push_str(&format!("{} wall faces, {} openings and stairs\n", plan.walls.len(), plan.zones.len()));
    out.push_str(&format!("{} drawn posts\n", plan.posts.len()));
    for post in &plan.posts {
        let at = plan.frame.to_drawing(post.at);
        let side = post.side_mm.map_or_else(|| "size of the system".to_owned(), |s| format!("side {}", size(s)));
        let turn = post.rotation.map_or_else(String::new, |r| format!(", turned {} degrees", decimal(r.degrees(), 2)));
        let handle = post.place.handle.map_or_else(String::new, |h| format!(", handle {h:X}"));
        out.push_str(&format!("  at {}, {}: {side}{turn}{handle}\n", decimal(at.x, 3), decimal(at.y, 3)));
    }
    if !plan.flights.is_empty() {
        out.push_str(&format!("{} flights of stairs\n", plan.flights.len()));
    }
    for f in &plan.flights {
        let degrees = decimal(f.pitch.angle().degrees(), 2);
        let (riser, tread) = (f.steps.riser.told(), f.steps.tread.told());
        let (risers, guard) = (f.risers, sides(f.guards));
        out.push_str(&format!(
            "  {}: {risers} risers of {riser}, treads of {tread}, {degrees} degrees, guard: {guard}\n",
            f.id
        ));
    }
    out
}

const fn sides(sides: Sides) -> &'static str {
    match sides {
        Sides::None => "none",
        Sides::Left => "left",
        Sides::Right => "right",
        Sides::Both => "both",
    }
}

fn as_json(seen: &Seen, roles: &Roles) -> serde_json::Value {
    let d = &seen.drawing;
    let layers: Vec<_> = d
        .layers
        .iter()
        .map(|l| {
            let (role, why) = taken(l, roles);
            let records: serde_json::Map<_, _> = l.counts.iter().map(|(k, n)| (k.clone(), json!(n))).collect();
            json!({
                "name": l.name, "taken_for": role, "why": why, "frozen": l.state.frozen, "off": l.state.off,
                "plotted": !l.state.no_plot, "records": records,
            })
        })
        .collect();
    let edges = seen.plan.as_ref().map(|p| {
        p.chains.iter().map(|c| json!({ "closed": c.is_closed(), "edges": c.edges.len() })).collect::<Vec<_>>()
    });
    let posts = seen.plan.as_ref().map(|p| {
        let post = |post: &deck::DrawnPost| {
            let at = p.frame.to_drawing(post.at);
            json!({
                "x": at.x, "y": at.y, "side": post.side_mm.map(|s| s / p.frame.unit.millimetres()),
                "rotation": post.rotation.map(|r| r.degrees()), "handle": post.place.handle.map(|h| format!("{h:X}")),
            })
        };
        p.posts.iter().map(post).collect::<Vec<_>>()
    });
    let flights = seen.plan.as_ref().map(|p| {
        let flight = |f: &deck::Flight| {
            json!({
                "id": f.id, "risers": f.risers, "riser": p.frame.size(f.steps.riser),
                "tread": p.frame.size(f.steps.tread), "pitch": f.pitch.angle().degrees(), "guard": f.guards,
            })
        };
        p.flights.iter().map(flight).collect::<Vec<_>>()
    });
    json!({
        "version": d.version.acadver(), "binary": d.binary, "encoding": d.encoding, "units": unit(seen),
        "extents": extents(d), "layers": layers, "edges": edges, "posts": posts, "flights": flights, "usable": seen.usable,
        "findings": seen.findings.iter().map(|f| json!({
            "code": f.code.text(), "severity": f.severity.word(), "message": f.message, "hint": f.hint,
            "line": f.place.line, "handle": f.place.handle.map(|h| format!("{h:X}")), "layer": f.place.layer,
        })).collect::<Vec<_>>(),
    })
}
