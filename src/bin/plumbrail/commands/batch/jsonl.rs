//! `--jsonl`: a record a line in, an answer a line out, in the same order.
//!
//! One thread reads, some work, this one puts the answers in order and writes. What is between them is bounded by
//! [`Window`]. Whenever no answer is ready the output is flushed, so that who waits for an answer before the next record
//! is sent gets it.

use std::collections::BTreeMap;
use std::io::{self, BufReader, BufWriter, Write};
use std::sync::mpsc::{self, Receiver, Sender, TryRecvError};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread;

use anyhow::{Context, Result, ensure};

use super::lines::{self, Line};
use super::record::Desk;
use super::{STACK_BYTES, jobs};
use crate::args::Batch;
use crate::config::Status;

/// Records that may be under way for each worker: enough that one slow plan does not make the others wait.
const AHEAD: usize = 16;

/// Lines that are under way may take so many times the cap of one.
const LINES_AT_CAP: usize = 2;

/// To the writer.
enum Message {
    /// Answer to a record, and how long the record was.
    Answer(u64, usize, Vec<u8>),
    /// No record follows; so many there were.
    End(io::Result<u64>),
}

/// A record with its number, from 0.
type Job = (u64, Line);

pub fn run(args: &Batch) -> Result<Status> {
    let desk = Arc::new(Desk::new(args)?);
    let workers = jobs(args);
    let window = Arc::new(Window::new(workers * AHEAD, desk.most_bytes().saturating_mul(LINES_AT_CAP)));
    let (to_work, work) = mpsc::channel::<Job>();
    let (answer, answers) = mpsc::channel::<Message>();
    let work = Arc::new(Mutex::new(work));
    for _ in 0..workers {
        let (desk, work, answer) = (Arc::clone(&desk), Arc::clone(&work), answer.clone());
        let worker = move || answer_all(&desk, &work, &answer);
        thread::Builder::new().stack_size(STACK_BYTES).spawn(worker).context("cannot start a thread")?;
    }
    let (gate, most) = (Arc::clone(&window), desk.most_bytes());
    // Nobody waits for this thread: when the output breaks it may be waiting for a line that never comes.
    let reader = move || drop(answer.send(Message::End(read_all(&gate, most, &to_work))));
    thread::Builder::new().spawn(reader).context("cannot start a thread")?;
    write_all(&answers, &window)?;
    Ok(Status::Done)
}

fn answer_all(desk: &Desk, work: &Mutex<Receiver<Job>>, answer: &Sender<Message>) {
    loop {
        let job = work.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok((number, line)) = job else { break };
        let held = held(&line);
        if answer.send(Message::Answer(number, held, desk.answer(number + 1, line))).is_err() {
            break;
        }
    }
}

/// Bytes that a line holds in memory.
const fn held(line: &Line) -> usize {
    match line {
        Line::Text(text) => text.len(),
        Line::TooLong(_) => 0,
    }
}

/// Hands every line of standard input to the workers.
fn read_all(window: &Window, most: usize, work: &Sender<Job>) -> io::Result<u64> {
    let mut input = BufReader::with_capacity(1 << 16, io::stdin().lock());
    let mut number = 0;
    while let Some(line) = lines::next(&mut input, most)? {
        window.enter(held(&line));
        if work.send((number, line)).is_err() {
            break;
        }
        number += 1;
    }
    Ok(number)
}

/// Writes the answers in the order of their records.
fn write_all(answers: &Receiver<Message>, window: &Window) -> Result<()> {
    let mut out = BufWriter::with_capacity(1 << 16, io::stdout().lock());
    let mut early = BTreeMap::new();
    let mut next = 0;
    let mut end = None;
    loop {
        let message = match answers.try_recv() {
            Ok(message) => message,
            Err(TryRecvError::Disconnected) => break,
            Err(TryRecvError::Empty) => {
                out.flush().context(CLOSED)?;
                let Ok(message) = answers.recv() else { break };
                message
            }
        };
        match message {
            Message::Answer(number, held, text) => drop(early.insert(number, (held, text))),
            Message::End(read) => end = Some(read),
        }
        while let Some((held, text)) = early.remove(&next) {
            out.write_all(&text).context(CLOSED)?;
            window.leave(held);
            next += 1;
        }
    }
    out.flush().context(CLOSED)?;
    let read = end.context("the input was not read to its end")?.context("cannot read standard input")?;
    ensure!(next == read, "{read} records were read, but only {next} answered: a fault of plumbrail, please report it");
    Ok(())
}

const CLOSED: &str = "standard output cannot be written; the answers are not complete";

/// How much may be under way: records that were read and not yet answered.
struct Window {
    most_records: usize,
    most_bytes: usize,
    under_way: Mutex<(usize, usize)>,
    has_room: Condvar,
}

impl Window {
    fn new(most_records: usize, most_bytes: usize) -> Self {
        Self { most_records, most_bytes, under_way: Mutex::default(), has_room: Condvar::new() }
    }

    /// Waits for room; a record that is alone always finds it.
    fn enter(&self, bytes: usize) {
        let is_full = |(records, held): &mut (usize, usize)| {
            *records > 0 && (*records >= self.most_records || held.saturating_add(bytes) > self.most_bytes)
        };
        let under_way = self.under_way.lock().unwrap_or_else(PoisonError::into_inner);
        let mut under_way = self.has_room.wait_while(under_way, is_full).unwrap_or_else(PoisonError::into_inner);
        under_way.0 += 1;
        under_way.1 += bytes;
    }

    fn leave(&self, bytes: usize) {
        let mut under_way = self.under_way.lock().unwrap_or_else(PoisonError::into_inner);
        under_way.0 = under_way.0.saturating_sub(1);
        under_way.1 = under_way.1.saturating_sub(bytes);
        self.has_room.notify_one();
    }
}
