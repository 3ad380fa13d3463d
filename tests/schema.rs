//! The schemas in schemas/ are those of the types, and the built-in data and outputs keep to them (checked by an
//! outside validator in `interop`).

use std::path::Path;

use plumbrail::write::json;

/// Compares with the file; `PLUMBRAIL_BLESS=1` writes it anew.
#[test]
fn schema_files_are_those_of_the_types() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("schemas");
    for (name, bytes) in [
        ("layout.schema.json", json::layout_schema()),
        ("job.schema.json", json::job_schema()),
        ("rail-system.schema.json", json::system_schema()),
        ("rule-set.schema.json", json::rules_schema()),
        ("message.schema.json", json::message_schema()),
        ("batch-in.schema.json", json::request_schema()),
        ("batch-out.schema.json", json::reply_schema()),
    ] {
        let path = folder.join(name);
        if std::env::var_os("PLUMBRAIL_BLESS").is_some() {
            std::fs::create_dir_all(&folder).unwrap();
            std::fs::write(&path, &bytes).unwrap();
        }
        let on_disk = std::fs::read(&path).unwrap_or_default();
        assert!(on_disk == bytes, "{name} is not up to date: run PLUMBRAIL_BLESS=1 cargo test schema");
    }
}
