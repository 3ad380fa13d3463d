//! `plumbrail inspect --write-job`: a job file for a strange plan, with the reasons, tried before it is written.

use std::path::Path;

use anyhow::{Result, bail};
use plumbrail::Outcome;
use plumbrail::base::{Code, Finding, Severity, Unit, decimal, visible_line};
use plumbrail::cad::{self, Drawing};
use plumbrail::catalog::{self, LayerPick};
use plumbrail::deck::{self, Guess, Role};

use super::super::{count, print};
use crate::args::{Inspect, MessageFormat, Shared};
use crate::config::{self, Status};
use crate::input::Input;
use crate::messages;
use crate::output::{self, File};

/// What begins a line that somebody must fill in.
const FILL_IN: &str = "# FILL IN: ";

/// Roles in the order of the file, with what happens without one.
const ROLES: [(Role, &str); 5] = [
    (Role::Edge, "there is no layout without it"),
    (Role::Wall, "none found: the guard goes along every edge"),
    (Role::Opening, "none found: no edge is kept free"),
    (Role::Post, "none found: every post is planned"),
    (Role::Stair, "none found: no edge is kept free"),
];

/// What a drawing with every layer probably is; one that says no unit is read as if it were in inches.
pub fn guess(input: &Input, given: Option<Unit>) -> Result<(Drawing, Guess), plumbrail::base::Refusal> {
    let externals = |r: &cad::Reference<'_>| input.external(r);
    let wanted = |_: &str| true;
    let read = |units| {
        cad::read(
            &input.bytes,
            &cad::ReadOptions { units, wanted: &wanted, hidden_too: &|_| false, externals: &externals },
        )
    };
    let (drawing, stated) = match read(given) {
        Ok(drawing) => (drawing, true),
        Err(refusal) if refusal.finding.code == Code::UnitsMissing => (read(Some(Unit::Inch))?, false),
        Err(refusal) => return Err(refusal),
    };
    let stated = stated.then_some(drawing.frame.unit);
    let mut guess = deck::guess(&drawing, stated);
    // What the user says is not in the drawing.
    if let Some(unit) = &mut guess.unit {
        unit.needed |= given.is_some();
    }
    Ok((drawing, guess))
}

/// A few lines for somebody whose plan cannot be laid out as it is.
pub fn told(guess: &Guess, plan: &Path) -> String {
    let mut out = String::from("\nWhat it could be\n");
    if let Some(unit) = &guess.unit {
        out.push_str(&format!("  unit: {}: {}\n", unit.unit.sign(), unit.why));
    }
    for role in &guess.roles {
        role.why.iter().for_each(|why| out.push_str(&format!("  {}: {}\n", role.role.word(), visible_line(why))));
    }
    if guess.roles.is_empty() {
        guess.others.iter().for_each(|o| {
            out.push_str(&format!("  {}, perhaps: {}: {}\n", o.role.word(), visible_line(&o.layer), o.what));
        });
    }
    if guess.unit.is_none() {
        out.push_str("  nothing in it has the size of a deck in any unit\n");
    }
    out.push_str(&format!("Next: plumbrail inspect {} --write-job job.toml\n", shown(plan)));
    out
}

/// A path as a shell takes it, on one line: it also stands in a comment of the job file, which a line end would end.
fn shown(path: &Path) -> String {
    let text = visible_line(&path.to_string_lossy()).into_owned();
    let plain = |c: char| c.is_alphanumeric() || "/._-+~:\\".contains(c);
    if text.chars().all(plain) { text } else { format!("'{}'", text.replace('\'', "'\\''")) }
}

/// Writes the job file and tells what it gives.
pub fn run(args: &Inspect, target: &Path, input: &Input, format: MessageFormat) -> Result<Status> {
    if target.exists() && !args.force {
        bail!("{} is there already; choose another name, or let it be replaced with --force", target.display());
    }
    let kept = kept(&args.shared)?;
    let given = args.shared.units.as_deref().and_then(Unit::from_sign);
    let (drawing, guess) = match guess(input, given) {
        Ok(found) => found,
        Err(refusal) => {
            messages::refusal(&args.plan, &refusal, format);
            return Err(refusal.into());
        }
    };
    let page = Page { drawing: &drawing, guess: &guess, plan: &args.plan, target, kept: &kept };
    let tried = try_it(&page.text(None), input, target)?;
    let text = page.text(Some(&tried));
    let file = File::new(target.to_string_lossy().into_owned(), text.clone().into_bytes());
    output::write_apart(&[file], &args.plan)?;
    let mut out = format!("{} written\n", target.display());
    if let Some(unit) = &guess.unit {
        out.push_str(&format!("  unit: {}: {}\n", unit.unit.sign(), unit.why));
    }
    for role in &guess.roles {
        role.why.iter().for_each(|why| out.push_str(&format!("  {}: {}\n", role.role.word(), visible_line(why))));
    }
    for pick in &guess.picks {
        let (left, layer) = (count(page.left(pick), "thing"), visible_line(&pick.layer));
        out.push_str(&format!("  layer {layer}: single things are picked; {left} on it are used for nothing\n"));
    }
    for other in guess.others.iter().filter(|o| o.role != Role::Edge || guess.roles.is_empty()) {
        out.push_str(&format!("  {}, perhaps: {}: {}\n", other.role.word(), visible_line(&other.layer), other.what));
    }
    tried.lines.iter().for_each(|line| out.push_str(&format!("{line}\n")));
    let to_fill: Vec<usize> =
        text.lines().enumerate().filter(|(_, l)| l.starts_with(FILL_IN)).map(|(i, _)| i + 1).collect();
    if to_fill.is_empty() {
        out.push_str(&format!("Next: read it, then plumbrail layout {} --job {}\n", shown(&args.plan), shown(target)));
    }
    print(&out)?;
    if to_fill.is_empty() {
        return Ok(tried.status);
    }
    let lines: Vec<String> = to_fill.iter().map(usize::to_string).collect();
    let finding = Finding::error(
        Code::LayerEmpty,
        plumbrail::base::Place::none(),
        format!("not all could be told; fill in {} {}", plural(to_fill.len(), "line"), lines.join(", ")),
    );
    messages::findings(target, None, &[finding.hint("each begins with FILL IN and says what is missing")], format);
    Ok(Status::Short)
}

fn plural(number: usize, what: &str) -> String {
    if number == 1 { what.to_owned() } else { format!("{what}s") }
}

/// Options that go into the file as they are given.
struct Kept {
    system: String,
    rules: String,
    layers: Vec<(String, String)>,
}

fn kept(shared: &Shared) -> Result<Kept> {
    let plain = Shared { units: None, system: None, rules: None, layers: Vec::new(), ..shared.clone() };
    if format!("{plain:?}") != format!("{:?}", Shared::default()) {
        bail!("--write-job takes --units, --system, --rules and --layer; write the rest into the job file");
    }
    let name = |given: &Option<String>, all: &[(&str, &str)]| -> Result<String> {
        let first = all.first().map(|(name, _)| (*name).to_owned()).unwrap_or_default();
        let Some(name) = given.clone() else { return Ok(first) };
        // A file is found from the job file's folder, which may be another one.
        let path = Path::new(&name);
        if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
            return Ok(path.canonicalize()?.display().to_string());
        }
        Ok(name)
    };
    let pair = |entry: &String| {
        let (role, pattern) = entry.split_once('=')?;
        Some((role.to_owned(), pattern.to_owned()))
    };
    config::settings(shared)?;
    Ok(Kept {
        system: name(&shared.system, catalog::builtin_systems())?,
        rules: name(&shared.rules, catalog::builtin_rules())?,
        layers: shared.layers.iter().filter_map(pair).collect(),
    })
}

/// What the file gives.
struct Tried {
    lines: Vec<String>,
    status: Status,
    /// A point on each flight whose rise is not known, in drawing units.
    flights: Vec<[f64; 2]>,
}

/// Lays the plan out with a job's text, as `layout --job` does.
fn try_it(text: &str, input: &Input, target: &Path) -> Result<Tried> {
    let job = catalog::read_job(text, &target.display().to_string())?;
    let settings =
        config::settings_of(&Shared::default(), job, target.parent().unwrap_or(Path::new("")), &config::read_text)?;
    Ok(match input.lay_out("plan.dxf", &settings, usize::MAX) {
        Ok(outcome) => tried(&outcome),
        Err(error) => {
            Tried { lines: vec![format!("Tried: not laid out: {error}")], status: Status::Short, flights: Vec::new() }
        }
    })
}

fn tried(outcome: &Outcome) -> Tried {
    let of = |severity: Severity| outcome.findings.iter().filter(move |f| f.severity == severity);
    let mut lines = vec![format!(
        "Tried: {}, {}, {}, {} incomplete, {}, {}",
        count(outcome.layout.posts.len(), "post"),
        count(outcome.layout.panels.len(), "panel"),
        count(of(Severity::Error).count(), "error"),
        of(Severity::Incomplete).count(),
        count(of(Severity::Warning).count(), "warning"),
        count(of(Severity::Note).count(), "note")
    )];
    lines.push(format!("  {}", outcome.headline()));
    for finding in of(Severity::Error).chain(of(Severity::Incomplete)).chain(of(Severity::Warning)).take(12) {
        lines.push(format!("  {}[{}]: {}", finding.severity.word(), finding.code, finding.message));
    }
    let frame = outcome.plan.frame;
    let rise = outcome.findings.iter().filter(|f| f.code == Code::StairRiseUnknown).filter_map(|f| f.place.at);
    let flights = rise.map(|at| frame.to_drawing(at)).map(|p| [p.x, p.y]).collect();
    Tried { lines, status: Status::by(&outcome.findings), flights }
}

/// The text of the job file.
struct Page<'a> {
    drawing: &'a Drawing,
    guess: &'a Guess,
    plan: &'a Path,
    target: &'a Path,
    kept: &'a Kept,
}

/// A comment must hold no control characters.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn quoted(text: &str) -> String {
    toml_edit::Value::from(text).to_string()
}

fn list(names: &[String]) -> String {
    format!("[{}]", names.iter().map(|n| quoted(n)).collect::<Vec<_>>().join(", "))
}

fn pair([x, y]: &[f64; 2]) -> String {
    let number = |v: f64| {
        let text = decimal(v, 6);
        if text.contains('.') { text } else { format!("{text}.0") }
    };
    format!("[{}, {}]", number(*x), number(*y))
}

fn points(at: &[[f64; 2]]) -> String {
    format!("[{}]", at.iter().map(pair).collect::<Vec<_>>().join(", "))
}

impl Page<'_> {
    fn text(&self, tried: Option<&Tried>) -> String {
        let (plan, target) = (shown(self.plan), shown(self.target));
        let mut out = format!(
            "# Proposed by `plumbrail inspect {plan} --write-job {target}`: guesses with their reasons.\n\
             # Read it, correct what is wrong, then: plumbrail layout {plan} --job {target}\n"
        );
        out = plain_lines(&out);
        if let Some(tried) = tried {
            tried.lines.iter().for_each(|line| out.push_str(&format!("# {}\n", plain(line))));
        }
        self.unit(&mut out);
        self.choices(&mut out);
        self.layers(&mut out);
        for pick in &self.guess.picks {
            out.push_str(&pick_text(&self.without_given(pick), self.left(pick)));
        }
        self.empty_layers(&mut out);
        if let Some(tried) = tried {
            self.stairs(&tried.flights, &mut out);
        }
        out
    }

    /// Flights of which the drawing does not say how high they are.
    fn stairs(&self, flights: &[[f64; 2]], out: &mut String) {
        let imperial = self.guess.unit.as_ref().is_none_or(|u| u.unit.is_imperial());
        let example = if imperial { "84in" } else { "2100mm" };
        for at in flights {
            out.push_str(&format!(
                "\n{FILL_IN}how high this flight is, from the ground or landing to the deck; then take the marks away\n\
                 # [[stair]]\n# at = {}\n# total-rise = \"{example}\"\n",
                pair(at)
            ));
        }
    }

    fn unit(&self, out: &mut String) {
        out.push_str("\n# The drawing's unit: one of in, ft, mm, cm, m.\n");
        let Some(unit) = &self.guess.unit else {
            out.push_str(&format!(
                "{FILL_IN}nothing in the drawing has the size of a deck in any unit\n# units = \"mm\"\n"
            ));
            return;
        };
        out.push_str(&format!("# {}\n", plain(&unit.why)));
        for (one, size) in &unit.sizes {
            let chosen = *one == unit.unit;
            let mark = if chosen && unit.needed { "" } else { "# " };
            out.push_str(&format!("{mark}units = \"{}\"  # the deck would be {size}\n", one.sign()));
        }
    }

    fn choices(&self, out: &mut String) {
        let others = |all: &[(&str, &str)], own: &str| -> Vec<String> {
            all.iter().map(|(n, _)| (*n).to_owned()).filter(|n| n != own).collect()
        };
        let (system, rules) = (&self.kept.system, &self.kept.rules);
        out.push_str(&format!(
            "\n# Rail system: a built-in one, all of them invented, or a file of yours (docs/rail-system.md).\nsystem = {}\n",
            quoted(system)
        ));
        out.push_str(&format!("# others: {}\n", others(catalog::builtin_systems(), system).join(", ")));
        out.push_str(&format!(
            "\n# Rule set: a built-in one or a file of yours (docs/rule-sets.md).\nrules = {}\n",
            quoted(rules)
        ));
        out.push_str(&format!("# others: {}\n", others(catalog::builtin_rules(), rules).join(", ")));
        out.push_str(
            "\n# From the deck edge to the rail line; the system's own without it.\n# inset = \"3in\"\n\
             # How a stretch is divided: equal, stock or cost.\n# bays = \"equal\"\n\
             # On which side of an open edge the deck lies, seen along the drawn direction: left or right.\n\
             # inside = \"left\"\n",
        );
        out.push_str("# Ends of edges that are so near are one corner.\n");
        match self.guess.join {
            Some(join) => {
                out.push_str(&format!("join = \"{join}\"  # the lines of the outline gape by more than 1/16in\n"));
            }
            None => out.push_str("# join = \"1/16in\"\n"),
        }
    }

    /// The layers' own lines of the table of layers.
    fn layers(&self, out: &mut String) {
        out.push_str("\n# What each layer is: names, or patterns with * and ?.\n[layers]\n");
        for (role, without) in ROLES {
            let given: Vec<String> =
                self.kept.layers.iter().filter(|(r, _)| r == role.word()).map(|(_, p)| p.clone()).collect();
            let guessed = self.guess.roles.iter().find(|g| g.role == role);
            let word = role.word();
            match guessed {
                _ if !given.is_empty() => {
                    out.push_str(&format!("# {word}: as it was said\n{word} = {}\n", list(&given)));
                }
                Some(found) => {
                    found.why.iter().for_each(|why| out.push_str(&format!("# {word}: {}\n", plain(why))));
                    if found.layers.is_empty() {
                        out.push_str(&format!("# {word}: by points on single things, see below\n"));
                    } else {
                        out.push_str(&format!("{word} = {}\n", list(&found.layers)));
                    }
                }
                None if role == Role::Edge => {
                    out.push_str(&format!("{FILL_IN}which layer holds the deck edge; {without}\n"));
                    if self.guess.others.is_empty() {
                        out.push_str("# edge = [\"NAME\"]\n");
                    }
                }
                None => out.push_str(&format!("# {word}: {without}\n# {word} = [\"NAME\"]\n")),
            }
            for other in self.guess.others.iter().filter(|o| o.role == role) {
                let (layer, what) = (list(std::slice::from_ref(&other.layer)), plain(&other.what));
                let at = other.at.map_or_else(String::new, |at| format!("; passes {}", pair(&at)));
                out.push_str(&format!("# {word} = {layer}  # {what}{at}\n"));
            }
            if role == Role::Edge && guessed.is_none() && self.guess.others.len() > 1 {
                out.push_str(
                    "# Of several outlines on one layer, point at the deck: edge = [[x, y]] in a [[layers.pick]]\n",
                );
                out.push_str("# with layer = \"NAME\" at the end of this file (docs/prepare-a-plan.md).\n");
            }
        }
        out.push_str("# keep-out = [\"NAME\"]  # closed shapes in which no line post may stand\n");
        out.push_str("# joist = [\"NAME\"]  # line posts move onto the centres of joists\n");
    }

    /// How many lines and shapes of a picked layer are used for nothing.
    fn left(&self, pick: &LayerPick) -> usize {
        let used = |i: usize| self.guess.roles.iter().any(|r| r.things.contains(&i));
        let is_shape = |e: &cad::Entity| e.layer == pick.layer && !matches!(e.shape, cad::Shape::Text { .. });
        self.drawing.entities.iter().enumerate().filter(|(i, e)| is_shape(e) && !used(*i)).count()
    }

    /// A pick without the roles whose layers the user named.
    fn without_given(&self, pick: &LayerPick) -> LayerPick {
        let mut pick = pick.clone();
        for (role, _) in &self.kept.layers {
            match role.as_str() {
                "edge" => pick.edge.clear(),
                "wall" => pick.wall.clear(),
                "opening" => pick.opening.clear(),
                "post" => pick.post.clear(),
                "stair" => pick.stair.clear(),
                _ => {}
            }
        }
        pick
    }

    /// The layers that are used for nothing.
    fn empty_layers(&self, out: &mut String) {
        let used = |name: &String| {
            self.guess.roles.iter().any(|r| r.layers.contains(name))
                || self.guess.picks.iter().any(|p| p.layer == *name)
        };
        let left: Vec<String> = self
            .drawing
            .layers
            .iter()
            .filter(|l| !l.counts.is_empty() && !used(&l.name))
            .map(|l| {
                let counts: Vec<String> = l.counts.iter().map(|(kind, n)| format!("{n} {kind}")).collect();
                format!("#   {}: {}\n", plain(&l.name), plain(&counts.join(", ")))
            })
            .collect();
        if !left.is_empty() {
            out.push_str(&format!("\n# Layers that are used for nothing:\n{}", left.concat()));
        }
    }
}

/// A head that a file's name cannot break out of.
fn plain_lines(text: &str) -> String {
    text.lines().map(|line| format!("{}\n", plain(line))).collect()
}

fn pick_text(pick: &LayerPick, left: usize) -> String {
    let mut out = format!(
        "\n# Layer {} holds things of several kinds. Only what passes through these points counts (drawing units).\n\
         [[layers.pick]]\nlayer = {}\n",
        plain(&pick.layer),
        quoted(&pick.layer)
    );
    if left > 0 {
        let things = count(left, "other thing");
        out.push_str(&format!("# {things} on it count for nothing: is a landing, an opening or a stair among them?\n"));
    }
    for (key, at) in [
        ("edge", &pick.edge),
        ("wall", &pick.wall),
        ("opening", &pick.opening),
        ("post", &pick.post),
        ("stair", &pick.stair),
    ] {
        let mark = if at.is_empty() { "# " } else { "" };
        out.push_str(&format!("{mark}{key} = {}\n", points(at)));
    }
    out
}
