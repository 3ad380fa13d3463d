//! What is passed by makes no difference: of every drawing the same is found as in a scan of all of it, and a large plan takes
//! no memory beside its own bytes.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::process::Command;

use plumbrail::base::Refusal;
use plumbrail::cad::scan::{DAMAGED_HANDLE, Index, Kind, Needs, Record, SectionKind, index, index_of};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use super::interop::{ok, scratch, script};
use super::program::{arg, fixtures, folder, plan, root};
use super::speed_plan as speed;

/// Layers to ask for: by a word in the name, all, none.
const ASKED: [&str; 5] = ["DECK", "0", "", "TEXT", "no layer is called so"];

/// Names of what a record is and holds, without the numbers that differ from index to index.
fn told(index: &Index, at: usize) -> String {
    let record = &index.records[at];
    let Record { handle, owner, line, layer, paper, ours, .. } = record;
    let (kind, name, range) = (index.kind_text(record.kind), index.name(record.name), index.range(at));
    format!("{kind} {name:?} {range:?} {handle:X} {owner:X} line {line} layer {layer} {paper} {ours}")
}

/// All that is said of the drawing beside its records.
fn facts(index: &Index) -> String {
    let start = |at: usize| index.range(at).start;
    let sections = index.sections.iter().map(|s| format!("{:?} {} {}", s.kind, s.name, start(s.records.start)));
    let ends = index.sections.iter().map(|s| format!("{}", start(s.records.end)));
    let tables =
        index.tables.iter().map(|t| format!("{} {} {:?} {:?}", t.name, start(t.head), t.count, t.end.map(start)));
    let blocks = index.blocks.iter().map(|b| {
        let name = index.name(b.name);
        let is = [b.external, b.overlay, b.layout];
        format!("{name} {} {} {:?} {:?} {is:?}", start(b.head), start(b.records.end), b.end.map(start), b.base)
    });
    let parts: Vec<String> = sections.chain(ends).chain(tables).chain(blocks).collect();
    let layers: Vec<_> = index.layers.iter().map(|l| (&l.name, l.record.map(start), l.state, &l.linetype)).collect();
    format!(
        "{:?} {:?} {} {:?} {} {layers:?} {:?} {parts:#?}",
        index.form,
        index.version,
        index.encoding.name(),
        index.header,
        index.end,
        index.findings
    )
}

/// Entities by layer and kind.
fn counts(index: &Index) -> BTreeMap<(u32, String), usize> {
    let mut counts = BTreeMap::new();
    let model = index.section_records(SectionKind::Entities);
    let blocks = index.blocks.iter().filter(|b| !b.layout).flat_map(|b| b.records.clone());
    for record in model.chain(blocks).map(|at| &index.records[at]) {
        if !record.paper && !record.is_part() && record.kind != Kind::Skipped {
            *counts.entry((record.layer, index.kind_text(record.kind).to_owned())).or_insert(0) += 1;
        }
    }
    for ((layer, kind), count) in &index.skipped {
        *counts.entry((*layer, index.kind_text(*kind).to_owned())).or_insert(0) += count;
    }
    counts
}

/// Folded names of the blocks that hold something wanted, by themselves or by the blocks placed in them.
fn leading(index: &Index, wanted: &dyn Fn(&str) -> bool) -> BTreeSet<String> {
    let name = |name: u32| index.name(name).trim().to_uppercase();
    let mut leading = BTreeSet::new();
    loop {
        let before = leading.len();
        let mut met = BTreeSet::new();
        for block in &index.blocks {
            // The first one of a name counts.
            if !met.insert(name(block.name)) || block.layout {
                continue;
            }
            let holds = |record: &Record| {
                let layer = index.layer(record).map(|layer| layer.name.as_str());
                let placed = record.kind == Kind::Insert && leading.contains(&name(record.name));
                !record.is_part()
                    && !record.ours
                    && (placed || layer.is_some_and(|layer| layer != "0" && wanted(layer)))
            };
            if block.external || index.records[block.records.clone()].iter().any(holds) {
                leading.insert(name(block.name));
            }
        }
        if leading.len() == before {
            return leading;
        }
    }
}

/// Records that must be kept.
fn needed(index: &Index, Needs { wanted, inside, host }: Needs<'_>) -> Vec<usize> {
    let mut needed = Vec::new();
    let leading = leading(index, wanted);
    let leads = |record: &Record| {
        let name = index.name(record.name).trim().to_uppercase();
        let block = index.blocks_by_name().get(&name).map(|b| index.blocks[*b].head);
        let ours = name.starts_with("RAIL-POST-") || host && block.is_some_and(|head| index.records[head].ours);
        record.kind == Kind::Insert && (leading.contains(&name) || ours)
    };
    for section in &index.sections {
        let mut with_parts = false;
        for at in section.records.clone() {
            let record = &index.records[at];
            let layer = index.layer(record).map(|layer| layer.name.as_str());
            let in_block = section.kind == SectionKind::Blocks;
            with_parts = match section.kind {
                SectionKind::Header | SectionKind::Tables => true,
                SectionKind::Objects | SectionKind::Other => host,
                _ if record.is_part() => with_parts,
                _ => {
                    let structural = matches!(record.kind, Kind::Section | Kind::EndSec | Kind::Block | Kind::EndBlk);
                    structural
                        || record.ours
                        || leads(record)
                        || layer.is_some_and(wanted)
                        || (layer == Some("0") && (in_block || inside))
                }
            };
            if with_parts {
                needed.push(at);
            }
        }
    }
    needed
}

/// What a record that is put in must keep clear of: whether there are handles, the highest that is not damaged; and whether
/// there are subclass markers.
fn handles(index: &Index) -> (bool, Option<u64>, bool) {
    let all = || index.records.iter().map(|record| record.handle);
    (all().any(|handle| handle != 0), all().filter(|handle| *handle < DAMAGED_HANDLE).max(), index.subclasses)
}

/// Compares all ways for all that may be wanted; how many records were passed by.
fn compare(name: &str, bytes: &[u8]) -> usize {
    let full: Result<Index, Refusal> = index(bytes);
    let mut passed = 0;
    let ways = [(false, false), (true, false), (false, true)];
    for (word, (inside, host)) in ASKED.iter().flat_map(|word| ways.map(|way| (word, way))) {
        let wanted = |layer: &str| layer.contains(word);
        let needs = Needs { wanted: &wanted, inside, host };
        let part = index_of(bytes, needs);
        let (full, part) = match (&full, part) {
            (Ok(full), Ok(part)) => (full, part),
            (Err(full), Err(part)) => {
                assert_eq!(full, &part, "{name}");
                continue;
            }
            (full, part) => panic!("{name}, {word:?}: {:?} {:?}", full.as_ref().err(), part.err()),
        };
        assert_eq!(facts(full), facts(&part), "{name}, {word:?}");
        assert_eq!(counts(full), counts(&part), "{name}, {word:?}");
        let mut at = 0;
        for span in part.spans(bytes.len()) {
            assert_eq!(span.start, at, "{name}, {word:?}");
            at = span.end;
        }
        assert_eq!(at, bytes.len());
        let kept = (0..part.records.len()).filter(|at| part.records[*at].kind != Kind::Skipped);
        let kept: BTreeMap<usize, String> = kept.map(|at| (part.range(at).start, told(&part, at))).collect();
        if host {
            assert_eq!(handles(full), handles(&part), "{name}, {word:?}");
        }
        for at in needed(full, needs) {
            assert_eq!(kept.get(&full.range(at).start), Some(&told(full, at)), "{name}, {word:?}");
        }
        passed += full.records.len().saturating_sub(part.records.len());
    }
    passed
}

#[test]
fn fixtures_are_read_alike() {
    let passed: usize = fixtures()
        .iter()
        .map(|case| compare(case, &fs::read(root().join(plan(case))).unwrap()))
        .chain([compare("xref/deck", &fs::read(root().join("fixtures/xref/deck.dxf")).unwrap())])
        .sum();
    assert!(passed > 1_000, "only {passed} records were passed by");
}

#[test]
fn the_corpus_is_read_alike() {
    let folder = scratch("skipping");
    script("make_corpus.py", &[&folder]);
    let mut drawings: Vec<_> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    drawings.sort();
    assert!(drawings.len() >= 60, "only {} drawings", drawings.len());
    let passed: usize = drawings.iter().map(|d| compare(&arg(d), &fs::read(d).unwrap())).sum();
    assert!(passed > 10_000, "only {passed} records were passed by");
}

/// Sections in another order: what is wanted is told behind what it is about.
#[test]
fn a_layer_table_behind_the_entities_counts_as_well() {
    let layers = "0\nSECTION\n2\nTABLES\n0\nTABLE\n2\nLAYER\n70\n1\n0\nLAYER\n2\nDECK\n70\n0\n0\nENDTAB\n0\nENDSEC\n";
    let entities = "0\nSECTION\n2\nENTITIES\n0\nLINE\n8\nDeck\n0\nLINE\n8\nWALL\n0\nPOLYLINE\n8\ndeck\n0\nVERTEX\n8\nX\n0\nSEQEND\n\
        0\nLINE\n8\ndeck\n0\nENDSEC\n";
    let header = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$DWGCODEPAGE\n3\nANSI_1251\n0\nENDSEC\n";
    for parts in [[header, layers, entities], [layers, entities, header], [entities, layers, header]] {
        let text = format!("{}0\nEOF\n", parts.concat());
        compare("sections", text.as_bytes());
    }
}

/// Bytes and lines changed at random: the same refusal with the same line, or the same found.
#[test]
fn damaged_drawings_are_read_alike() {
    let plain: Vec<Vec<u8>> =
        ["lakeside", "binary", "r12", "nested-blocks"].map(|case| fs::read(root().join(plan(case))).unwrap()).into();
    let config = Config { cases: 150, failure_persistence: None, ..Config::default() };
    let seed = TestRng::from_seed(RngAlgorithm::ChaCha, &[5; 32]);
    let mut runner = TestRunner::new_with_rng(config, seed);
    let bytes = "0128\n\r -{}".bytes().collect::<Vec<u8>>();
    let changes = prop::collection::vec((any::<prop::sample::Index>(), prop::sample::select(bytes), 0..3_u8), 1..4);
    let run = |(which, changes): (usize, Vec<(prop::sample::Index, u8, u8)>)| {
        let mut bytes = plain[which].clone();
        for (at, byte, how) in changes {
            let at = at.index(bytes.len());
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => drop(bytes.remove(at)),
            }
        }
        compare("damaged", &bytes);
        Ok(())
    };
    runner.run(&(0..plain.len(), changes), run).unwrap();
}

/// Peak of resident memory of a run, in bytes.
fn peak(plan: &str, formats: &str) -> usize {
    let out = folder();
    let count = "import resource, subprocess, sys\nsubprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL, \
        stderr=subprocess.DEVNULL)\nprint(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024)";
    let told = ok(Command::new("python3")
        .args(["-c", count, env!("CARGO_BIN_EXE_plumbrail"), "layout", plan, "--formats", formats, "--out"])
        .arg(out.path()));
    String::from_utf8(told.stdout).unwrap().trim().parse().unwrap()
}

#[test]
fn a_large_plan_takes_the_memory_of_its_bytes() {
    const BYTES: usize = 30_000_000;
    let folder = folder();
    let large = arg(folder.path().join("large.dxf"));
    fs::write(&large, speed::make(BYTES)).unwrap();
    let demo = arg(root().join(plan("lakeside")));
    for formats in ["json", "json,rail"] {
        let more = peak(&large, formats).saturating_sub(peak(&demo, formats)) as f64 / BYTES as f64;
        assert!(more < 1.1, "{formats}: {more} bytes more for each byte of the plan");
    }
}
