//! Good layouts with one thing spoiled at a time: the proof finds each of them.
//!
//! A spoiling has a name and changes one place of a layout. It is found when a check fails that did not fail before, or
//! when something that was checked no longer is. The lists are in the modules below; what cannot be found stands in
//! [`UNSEEN`] with the reason.

mod order;
mod panels;
mod posts;
mod stairs;

use std::collections::BTreeSet;
use std::fs;

use plumbrail::base::Length;
use plumbrail::catalog::{BalusterStyle, Job, Settings, rules_named, system_named};
use plumbrail::parts::Layout;
use plumbrail::proof::{Proof, Verdict, prove};

use crate::program::{plan, root};

type Spoil = Box<dyn Fn(&mut Layout) -> Option<()>>;

/// One way to spoil a layout; `None` where the layout has nothing of the kind.
pub struct Spoiling {
    /// What is done, with the kind of place.
    pub name: String,
    /// Does it.
    pub spoil: Spoil,
}

/// Adds a spoiling to a list.
pub fn add(list: &mut Vec<Spoiling>, name: impl Into<String>, spoil: impl Fn(&mut Layout) -> Option<()> + 'static) {
    list.push(Spoiling { name: name.into(), spoil: Box::new(spoil) });
}

/// Two or three marks: 1/8 in, or 3 mm.
pub fn bit(layout: &Layout) -> Length {
    if layout.measure.unit.is_imperial() { Length::INCH / 8 } else { Length::from_nanometres(3_000_000) }
}

/// What no proof of a layout can find, with the reason.
const UNSEEN: [(&str, &str); 0] = [];

/// Fixtures with their system and style.
const CASES: [(&str, &str, Option<BalusterStyle>); 9] = [
    ("lakeside", "composite-36", None),
    ("l-shape", "metal-42", None),
    ("z-open", "composite-36", Some(BalusterStyle::Even)),
    ("circle", "composite-36", None),
    ("metric", "metal-42", None),
    ("wall-to-wall", "composite-36", None),
    ("stair-lines", "composite-36", None),
    ("stair-landing", "composite-36", Some(BalusterStyle::Even)),
    ("stair-wall", "composite-36", None),
];

fn layout((fixture, system, balusters): (&str, &str, Option<BalusterStyle>)) -> Layout {
    let job = Job { balusters, ..Job::default() };
    let settings = Settings::new(job, system_named(system).unwrap(), rules_named("irc-2021").unwrap()).unwrap();
    let bytes = fs::read(root().join(plan(fixture))).unwrap();
    plumbrail::lay_out(&bytes, "plan.dxf", &settings).unwrap().layout
}

/// What fails and what is not checked, with the place.
fn said(proof: &Proof) -> BTreeSet<(String, String)> {
    let not_passed = proof.checks.iter().filter(|check| check.verdict != Verdict::Pass);
    let place = |place: &plumbrail::base::Place| format!("{:?} {:?}", place.panel, place.post);
    not_passed.map(|check| (format!("{} {:?}", check.what, check.verdict), place(&check.place))).collect()
}

#[test]
fn every_spoiling_is_found() {
    let mut names = BTreeSet::new();
    let (mut tried, mut failed, mut missed) = (0, 0, Vec::new());
    for case in CASES {
        let good = layout(case);
        let before = prove(&good);
        assert!(before.holds(), "{case:?}: {:?}", said(&before));
        let before = said(&before);
        let mut list = panels::list();
        list.extend(posts::list());
        list.extend(stairs::list());
        list.extend(order::list(&good));
        for Spoiling { name, spoil } in list {
            let mut layout = good.clone();
            if spoil(&mut layout).is_none() || layout == good {
                continue;
            }
            tried += 1;
            names.insert(name.clone());
            let proof = prove(&layout);
            failed += usize::from(!proof.holds());
            let is_found = !proof.holds() || said(&proof).difference(&before).next().is_some();
            if !is_found && !UNSEEN.iter().any(|(unseen, _)| *unseen == name) {
                missed.push(format!("{name}, in {} with {}", case.0, case.1));
            }
        }
    }
    println!("{tried} spoilings of {} kinds: {failed} fail, {} missed", names.len(), missed.len());
    assert!(missed.is_empty(), "{} of {tried} are missed:\n{}", missed.len(), missed.join("\n"));
    assert!(names.len() >= 200, "{} kinds only", names.len());
}
