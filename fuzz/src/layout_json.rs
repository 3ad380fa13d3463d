//! `layout.json` as `check` reads it.

use plumbrail::catalog;
use plumbrail::parts::{self, record::Record};
use plumbrail::{proof, write};

/// A layout that is read is proved, and is the same when it is written and read again.
pub fn check(bytes: &[u8]) {
    let Ok(record) = serde_json::from_slice::<Record>(bytes) else { return };
    let system = catalog::system_named(&record.system).unwrap_or_else(|_| super::all_settings()[0].system.clone());
    let Ok(file) = catalog::rule_file_named(&record.rules) else { return };
    let Ok(rules) = file.resolve(&record.rule_case.unwrap_or_default()) else { return };
    let layout = match parts::layout(&record, system.clone(), rules.clone()) {
        Ok(layout) => layout,
        Err(error) => return assert!(!error.to_string().is_empty()),
    };
    let proof = proof::prove(&layout);
    assert!(!proof.summary().is_empty());
    let written = write::json::layout(&layout, &proof.findings, &proof);
    let again: Record = serde_json::from_slice(&written).expect("what we write fits the types");
    let again = parts::layout(&again, system, rules).expect("what we write is read");
    assert_eq!(proof::prove(&again).summary(), proof.summary());
}
