//! A fault of the program in one plan must not end the work on the others.

use std::any::Any;
use std::cell::RefCell;
use std::panic::{self, AssertUnwindSafe};

thread_local! {
    /// Where in the source the last panic of this thread was.
    static PLACE: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// Panics are told by who catches them, not as they happen.
pub fn quiet() {
    panic::set_hook(Box::new(|info| PLACE.set(info.location().map(ToString::to_string))));
}

/// Does the work; a panic in it becomes a message. What the work has borrowed and changed must not be used after one.
pub fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    panic::catch_unwind(AssertUnwindSafe(work)).map_err(|payload| {
        let place = PLACE.take().map(|place| format!(" ({place})")).unwrap_or_default();
        format!("a fault of plumbrail: {}{place}", said(payload.as_ref()))
    })
}

/// What to do about it.
pub const HINT: &str = "please report it with the plan; the other plans are not affected";

fn said(payload: &(dyn Any + Send)) -> &str {
    let text = payload.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| payload.downcast_ref::<&str>().copied()).unwrap_or("it does not say what")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_a_message_and_the_next_work_goes_on() {
        let number = 7;
        let told = guarded(|| -> i32 { panic!("no such post: {number}") }).unwrap_err();
        assert!(told.starts_with("a fault of plumbrail: no such post: 7"), "{told}");
        let told = guarded(|| -> i32 { panic!("plain") }).unwrap_err();
        assert!(told.starts_with("a fault of plumbrail: plain"), "{told}");
        assert_eq!(guarded(|| 3), Ok(3));
    }
}
