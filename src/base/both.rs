//! Two things at the same time.

use std::panic::resume_unwind;
use std::thread;

/// Does both, the first one in a thread of its own where there can be one. Neither sees the other, so what comes out is the
/// same; a panic of either goes on as if there were no thread.
pub fn both<A: Send, B>(first: impl Fn() -> A + Sync, second: impl FnOnce() -> B) -> (A, B) {
    thread::scope(|scope| match thread::Builder::new().spawn_scoped(scope, &first) {
        Ok(running) => {
            let second = second();
            (running.join().unwrap_or_else(|panic| resume_unwind(panic)), second)
        }
        Err(_) => (first(), second()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_are_done_and_a_panic_is_handed_on() {
        assert_eq!(both(|| 1, || "two"), (1, "two"));
        assert!(std::panic::catch_unwind(|| both(|| panic!("first"), || 2)).is_err());
        assert!(std::panic::catch_unwind(|| both(|| 1, || panic!("second"))).is_err());
    }
}
