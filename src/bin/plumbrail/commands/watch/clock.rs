//! The clock: how long to wait for a save or a request. What is laid out never depends on it.

#![allow(clippy::disallowed_methods)]

use std::time::{Duration, Instant};

/// Time that has passed.
#[derive(Debug, Clone, Copy)]
pub struct Timer(Instant);

impl Timer {
    /// Starts now.
    pub fn start() -> Self {
        Self(Instant::now())
    }

    /// Whether so much has passed.
    pub fn is_over(self, limit: Duration) -> bool {
        self.0.elapsed() >= limit
    }

    /// What is left of a limit, if anything.
    pub fn left(self, limit: Duration) -> Option<Duration> {
        limit.checked_sub(self.0.elapsed()).filter(|left| !left.is_zero())
    }
}

/// Waits.
pub fn pause(time: Duration) {
    std::thread::sleep(time);
}
