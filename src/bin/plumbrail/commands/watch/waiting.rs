//! Connections that have not shown the page's token: only so many are kept, and who says nothing gives way to who comes.

use std::collections::BTreeMap;
use std::io;
use std::net::{Shutdown, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Browsers open some before they need them.
const MOST: usize = 32;

/// Those that wait, in the order in which they came.
#[derive(Debug, Default)]
pub struct Waiting(Mutex<Line>);

#[derive(Debug, Default)]
struct Line {
    came: u64,
    streams: BTreeMap<u64, TcpStream>,
}

/// A place among them, until it is dropped.
#[derive(Debug)]
pub struct Place {
    waiting: Arc<Waiting>,
    number: u64,
}

impl Waiting {
    /// Takes one more; where there are too many, the connection that came first is ended.
    pub fn enter(self: &Arc<Self>, stream: &TcpStream) -> io::Result<Place> {
        let stream = stream.try_clone()?;
        let mut line = self.line();
        line.came += 1;
        let number = line.came;
        line.streams.insert(number, stream);
        if line.streams.len() > MOST
            && let Some((_, first)) = line.streams.pop_first()
        {
            // Its thread wakes up from reading or writing, and ends. Where the other side has gone it does so anyway.
            drop(first.shutdown(Shutdown::Both));
        }
        Ok(Place { waiting: Arc::clone(self), number })
    }

    fn line(&self) -> MutexGuard<'_, Line> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        self.waiting.line().streams.remove(&self.number);
    }
}
