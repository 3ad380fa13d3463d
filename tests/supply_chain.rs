//! What we build on: where it comes from, under which licence, what runs while it is built, and that `sbom.cdx.json` says the
//! same. `PLUMBRAIL_BLESS=1` writes that file anew.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::{Value, json};

use crate::program::{root, same};

const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// Crates that run a program of theirs while they are built. A new one: read its build script, then name it here.
const WITH_BUILD_SCRIPT: [&str; 37] = [
    "ahash",
    "anyhow",
    "constant_time_eq",
    "crc32fast",
    "crossbeam-deque",
    "crossbeam-epoch",
    "crossbeam-utils",
    "dxf",
    "encoding_rs",
    "generic-array",
    "getrandom",
    "heapless",
    "httparse",
    "iana-time-zone-haiku",
    "inotify-sys",
    "libc",
    "libm",
    "matrixmultiply",
    "nix",
    "num-traits",
    "portable-atomic",
    "portable-atomic-util",
    "proc-macro2",
    "quote",
    "rayon-core",
    "ref-cast",
    "rustix",
    "rustversion",
    "serde",
    "serde_core",
    "serde_json",
    "slotmap",
    "thiserror",
    "wasm-bindgen",
    "wasm-bindgen-shared",
    "zerocopy",
    "zmij",
];

/// How a build script would reach the network. `git rev-parse`, which one of them calls, does not.
const NETWORK: [&str; 10] =
    ["std::net", "TcpStream", "reqwest", "ureq", "hyper", "\"curl", "\"wget", "\"clone", "\"fetch", "git2"];

/// What cargo knows: packages by their id, and what each depends on.
struct Graph {
    packages: BTreeMap<String, Value>,
    nodes: BTreeMap<String, Vec<Value>>,
    root: String,
}

fn text(value: &Value) -> String {
    value.as_str().unwrap().to_owned()
}

impl Graph {
    /// For all platforms, with `Cargo.lock` as it is.
    fn new(options: &[&str]) -> Self {
        let cargo = std::env::var_os("CARGO").unwrap();
        let mut command = Command::new(cargo);
        command.args(["metadata", "--locked", "--format-version", "1"]).args(options).current_dir(root());
        let output = command.output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let all: Value = serde_json::from_slice(&output.stdout).unwrap();
        let by_id = |list: &Value| {
            list.as_array().unwrap().iter().map(|v| (text(&v["id"]), v.clone())).collect::<BTreeMap<_, _>>()
        };
        let nodes = by_id(&all["resolve"]["nodes"]);
        Self {
            packages: by_id(&all["packages"]),
            nodes: nodes.into_iter().map(|(id, node)| (id, node["deps"].as_array().unwrap().clone())).collect(),
            root: text(&all["resolve"]["root"]),
        }
    }

    /// What a package depends on by these kinds: null is usual, `build` and `dev` are the others.
    fn needs(&self, id: &str, kinds: &[Value]) -> BTreeSet<String> {
        let is_of = |dep: &&Value| dep["dep_kinds"].as_array().unwrap().iter().any(|k| kinds.contains(&k["kind"]));
        self.nodes[id].iter().filter(is_of).map(|dep| text(&dep["pkg"])).collect()
    }

    /// All that the program needs by these kinds, itself included.
    fn reached(&self, kinds: &[Value]) -> BTreeSet<String> {
        let (mut seen, mut ahead) = (BTreeSet::new(), vec![self.root.clone()]);
        while let Some(id) = ahead.pop() {
            if seen.insert(id.clone()) {
                ahead.extend(self.needs(&id, kinds));
            }
        }
        seen
    }

    fn name(&self, id: &str) -> (String, String) {
        (text(&self.packages[id]["name"]), text(&self.packages[id]["version"]))
    }

    fn purl(&self, id: &str) -> String {
        let (name, version) = self.name(id);
        // The only character in versions that has another meaning there.
        format!("pkg:cargo/{name}@{}", version.replace('+', "%2B"))
    }

    fn licence(&self, id: &str) -> String {
        // Older crates write a slash.
        text(&self.packages[id]["license"]).replace('/', " OR ")
    }

    fn others(&self) -> impl Iterator<Item = (&String, &Value)> {
        self.packages.iter().filter(|(id, _)| **id != self.root)
    }
}

/// What `deny.toml` lets in, and what it lets in of one crate alone.
fn allowed() -> (BTreeSet<String>, BTreeSet<(String, String)>) {
    let file: Value = toml::from_str(&fs::read_to_string(root().join("deny.toml")).unwrap()).unwrap();
    let list = |value: &Value| value.as_array().unwrap().clone();
    let allow = list(&file["licenses"]["allow"]).iter().map(text).collect();
    let exceptions = list(&file["licenses"]["exceptions"]);
    let of = |e: &Value| list(&e["allow"]).iter().map(|l| (text(&e["crate"]), text(l))).collect::<Vec<_>>();
    (allow, exceptions.iter().flat_map(of).collect())
}

#[test]
fn every_crate_is_of_the_registry_and_under_a_licence_that_we_may_ship() {
    let graph = Graph::new(&["--all-features"]);
    let (allow, exceptions) = allowed();
    for (id, package) in graph.others() {
        assert_eq!(package["source"], REGISTRY, "{id}");
        let (name, licence) = (graph.name(id).0, graph.licence(id));
        let may = |one: &str| allow.contains(one) || exceptions.contains(&(name.clone(), one.to_owned()));
        let is_met = licence.split(" AND ").all(|all| all.trim_matches(['(', ')']).split(" OR ").any(may));
        assert!(is_met, "{name}: {licence}");
    }
}

/// A build of ours needs the registry's crates and nothing else: no script of theirs fetches anything.
#[test]
fn nothing_is_downloaded_while_building() {
    let graph = Graph::new(&["--all-features"]);
    let mut found = BTreeSet::new();
    for (id, package) in graph.others() {
        for target in package["targets"].as_array().unwrap() {
            if target["kind"] != json!(["custom-build"]) {
                continue;
            }
            found.insert(graph.name(id).0);
            let path = text(&target["src_path"]);
            let script = fs::read_to_string(Path::new(&path)).unwrap();
            let reaching: Vec<_> = NETWORK.into_iter().filter(|word| script.contains(word)).collect();
            assert!(reaching.is_empty(), "{path} has {reaching:?}");
        }
    }
    assert_eq!(found.iter().map(String::as_str).collect::<Vec<_>>(), WITH_BUILD_SCRIPT);
    assert!(!root().join("build.rs").exists());
}

/// SHA-256 of each crate as the registry holds it, by name and version.
fn checksums() -> BTreeMap<(String, String), String> {
    let lock: Value = toml::from_str(&fs::read_to_string(root().join("Cargo.lock")).unwrap()).unwrap();
    let packages = lock["package"].as_array().unwrap().iter();
    let with_sum = packages.filter(|p| p.get("checksum").is_some());
    with_sum.map(|p| ((text(&p["name"]), text(&p["version"])), text(&p["checksum"]))).collect()
}

/// CycloneDX 1.6. Required is what the usual build has in it, its macros included; optional what a cargo feature adds;
/// excluded what only runs while building.
fn bill_of_materials() -> String {
    let (usual, all) = (Graph::new(&[]), Graph::new(&["--all-features"]));
    let (run, build) = ([Value::Null], [Value::Null, json!("build")]);
    let (required, optional, everything) = (usual.reached(&run), all.reached(&run), all.reached(&build));
    let sums = checksums();
    let component = |id: &String| {
        let (name, version) = all.name(id);
        let sum = &sums[&all.name(id)];
        let scope = match (required.contains(id), optional.contains(id)) {
            (true, _) => "required",
            (false, true) => "optional",
            (false, false) => "excluded",
        };
        json!({
            "type": "library",
            "bom-ref": all.purl(id),
            "name": name,
            "version": version,
            "scope": scope,
            "hashes": [{ "alg": "SHA-256", "content": sum }],
            "licenses": [{ "expression": all.licence(id) }],
            "purl": all.purl(id),
        })
    };
    let by_purl: BTreeMap<String, &String> = everything.iter().map(|id| (all.purl(id), id)).collect();
    let depends = |id: &String| {
        let on: BTreeSet<String> = all.needs(id, &build).iter().map(|id| all.purl(id)).collect();
        json!({ "ref": all.purl(id), "dependsOn": on })
    };
    let (name, version) = all.name(&all.root);
    let own = json!({
        "type": "application",
        "bom-ref": all.purl(&all.root),
        "name": name,
        "version": version,
        "licenses": [{ "expression": all.licence(&all.root) }],
        "purl": all.purl(&all.root),
    });
    let bill = json!({
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": { "component": own },
        "components": by_purl.values().filter(|id| ***id != all.root).map(|id| component(id)).collect::<Vec<_>>(),
        "dependencies": by_purl.values().map(|id| depends(id)).collect::<Vec<_>>(),
    });
    format!("{}\n", serde_json::to_string_pretty(&bill).unwrap())
}

#[test]
fn the_bill_of_materials_is_true() {
    let (path, bill) = (root().join("sbom.cdx.json"), bill_of_materials());
    if std::env::var_os("PLUMBRAIL_BLESS").is_some() {
        fs::write(&path, &bill).unwrap();
    }
    same(&fs::read_to_string(path).unwrap_or_default(), &bill);
}
