//! What the layers are taken for, and what stands on them and is not read: told, so that a yes can be trusted.

use crate::base::{Code, Finding, Place, Refusal, Unit};
use crate::cad::{self, Drawing, Externals, Unread};
use crate::catalog::Settings;

use super::roles::{Role, Roles};

/// So many layers are named in one note.
const NAMED: usize = 12;

/// Kinds that show sizes or the sheet, never a part of the deck.
const ABOUT: [&str; 7] =
    ["DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "TOLERANCE", "VIEWPORT", "ACAD_TABLE", "OLE2FRAME"];

/// Kinds that fill what lines show.
const FILLS: [&str; 5] = ["HATCH", "SOLID", "TRACE", "MPOLYGON", "WIPEOUT"];

/// Reads a drawing for a plan: what stands on layers that mean something, by their names or because an earlier run of ours
/// has written them.
///
/// # Errors
/// As [`cad::read`].
pub fn read(
    bytes: &[u8],
    externals: &Externals<'_>,
    units: Option<Unit>,
    settings: &Settings,
) -> Result<(Drawing, Roles), Refusal> {
    let read = |roles: &Roles| {
        let wanted = |layer: &str| roles.wants(layer);
        // What an earlier run has left is there, shown or not.
        let hidden_too = |layer: &str| roles.own().is_ours(layer) && roles.of(layer).is_none();
        cad::read(bytes, &cad::ReadOptions { units, wanted: &wanted, hidden_too: &hidden_too, externals })
    };
    let roles = Roles::new(&settings.layers, settings.own_layers());
    let drawing = read(&roles)?;
    let names = drawing.layers.iter().map(|layer| layer.name.as_str());
    match roles.learned(names) {
        Some(learned) => Ok((read(&learned)?, learned)),
        None => Ok((drawing, roles)),
    }
}

/// One note of what each layer is taken for, a warning for each name that fits two roles, and what is not read.
pub fn told(drawing: &Drawing, roles: &Roles) -> Vec<Finding> {
    let used = || drawing.layers.iter().filter(|l| !l.counts.is_empty());
    let doubtful = used().filter_map(|l| {
        let taken = roles.of(&l.name)?;
        Some(doubtful(&l.name, taken.role, taken.also?))
    });
    let mut findings: Vec<Finding> = doubtful.collect();
    let taken: Vec<String> =
        used().filter_map(|l| Some(format!("{} as {}", l.name, roles.of(&l.name)?.role.word()))).collect();
    let passed: Vec<String> = used()
        .filter(|l| roles.of(&l.name).is_none())
        .filter_map(|l| Some(format!("{} as {}", l.name, roles.nearly(&l.name)?.word())))
        .collect();
    if !taken.is_empty() {
        let not = if passed.is_empty() { String::new() } else { format!("; not taken: {}", listed(&passed)) };
        findings.push(Finding::note(Code::LayersTaken, Place::none(), format!("taken: {}{not}", listed(&taken))));
    }
    findings.extend(drawing.unread.iter().filter_map(|u| Some(unread(u, roles.of(&u.layer)?.role))));
    findings
}

fn listed(names: &[String]) -> String {
    let more = names.len().saturating_sub(NAMED);
    let shown = names.iter().take(NAMED).map(String::as_str).collect::<Vec<_>>().join(", ");
    if more == 0 { shown } else { format!("{shown} and {more} more") }
}

fn doubtful(layer: &str, role: Role, also: Role) -> Finding {
    let place = Place { layer: Some(layer.to_owned()), ..Place::default() };
    let message =
        format!("the layer's name fits both {} and {}; it is taken for {}", role.word(), also.word(), role.word());
    // Something on a ramp is not level, whatever it is.
    let told = if also == Role::Ramp { Finding::incomplete } else { Finding::warning };
    told(Code::LayerDoubtful, place, message).hint(match also {
        Role::Ramp | Role::Rail => format!("put what is no {} on a layer of another name", also.word()),
        _ => format!("say what it is with --layer \"{}={layer}\" or in the job file", also.word()),
    })
}

/// A kind that is not read may be a part of the deck. Of a wall a filling shows no more than its lines, and a wall that is
/// not seen only means more guard.
fn unread(unread: &Unread, role: Role) -> Finding {
    let Unread { kind, layer, count, origin } = unread;
    let place = Place { handle: origin.handle, line: origin.line, layer: Some(layer.clone()), ..Place::none() };
    let message = match count {
        1 => format!("1 {kind} on layer {layer}, which is read as {}, is not read", role.word()),
        n => format!(
            "{n} {kind} on layer {layer}, which is read as {}, are not read; the first stands here",
            role.word()
        ),
    };
    let is_fill = FILLS.contains(&kind.as_str()) && matches!(role, Role::Wall | Role::Joist);
    if ABOUT.contains(&kind.as_str()) {
        return Finding::note(Code::RecordNotRead, place, message);
    }
    let finding = if is_fill { Finding::warning } else { Finding::incomplete };
    finding(Code::RecordNotRead, place, message)
        .hint("explode it into lines or polylines, or put it on another layer if it is no part of the deck")
}
