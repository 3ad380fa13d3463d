//! The hand-made stair passes; with one number broken, exactly the checks of that number fail.

use super::sample_stairs::layout;
use super::{Verdict, prove};

#[test]
fn debug() {
    let proof = prove(&layout());
    for c in &proof.checks {
        if c.verdict != Verdict::Pass {
            println!("{c:?}");
        }
    }
    for c in &proof.checks {
        println!(
            "{:?} {} {:?} {:?} {:?}",
            c.verdict,
            c.what,
            c.actual.map(|a| a.inches()),
            c.worst.map(|a| a.inches()),
            c.required
        );
    }
}
