//! `layout.json` and its schema.

use sha2::{Digest, Sha256};

use crate::base::Finding;
use crate::parts::{self, Layout, record::Record};

/// The layout and its findings as indented JSON with a line end.
pub fn layout(layout: &Layout, findings: &[Finding]) -> Vec<u8> {
    pretty(&parts::record(layout, findings))
}

/// JSON Schema of `layout.json`.
pub fn layout_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(Record))
}

/// JSON Schema of the job file.
pub fn job_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(crate::catalog::Job))
}

/// JSON Schema of a rail system file.
pub fn system_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(crate::catalog::RailSystem))
}

/// JSON Schema of a rule set file.
pub fn rules_schema() -> Vec<u8> {
    pretty(&schemars::schema_for!(crate::catalog::RuleFile))
}

/// SHA-256 in hexadecimal.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

fn pretty<T: serde::Serialize>(value: &T) -> Vec<u8> {
    // Records and schemas have text keys only, so they always serialize; were one not to, the file would be empty.
    let mut bytes = serde_json::to_vec_pretty(value).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}
