//! `plumbrail inspect --lint`: the strict check of a drawing's structure.

use anyhow::Result;
use plumbrail::base::visible_line;
use plumbrail::{cad, write::lint};
use serde_json::json;

use super::print;
use crate::args::{Inspect, MessageFormat};
use crate::config::Status;
use crate::input::Input;
use crate::messages;

pub fn run(args: &Inspect, input: &Input, format: MessageFormat) -> Result<Status> {
    if let Err(refusal) = cad::is_drawing(&input.bytes) {
        messages::refusal(&args.plan, &refusal, format);
        return Err(refusal.into());
    }
    messages::findings(&args.plan, None, &input.findings, format);
    let errors = lint::lint(&input.bytes);
    let file = args.plan.display().to_string();
    let handle = |e: &lint::LintError| e.handle.map(|h| format!("{h:X}"));
    if args.json {
        let all: Vec<_> =
            errors.iter().map(|e| json!({ "line": e.line, "handle": handle(e), "message": e.message })).collect();
        print(&format!("{:#}\n", json!({ "file": file, "errors": all })))?;
    } else {
        let mut out = String::new();
        for error in &errors {
            let line = error.line.map_or_else(String::new, |l| format!(":{l}"));
            let handle = handle(error).map_or_else(String::new, |h| format!(" (handle {h})"));
            let said = format!("{file}{line}: error: {}{handle}", error.message);
            out.push_str(&format!("{}\n", visible_line(&said)));
        }
        let count = match errors.len() {
            0 => "no error".to_owned(),
            1 => "1 error".to_owned(),
            n => format!("{n} errors"),
        };
        out.push_str(&format!("{}: {count} in the structure\n", visible_line(&file)));
        print(&out)?;
    }
    Ok(if errors.is_empty() { Status::Done } else { Status::Short })
}
