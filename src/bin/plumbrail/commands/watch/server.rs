//! What a browser on this machine is answered.

use std::io::Write;
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{self, Sender};
use std::sync::{Arc, OnceLock};
use std::thread;
use std::time::Duration;

use anyhow::{Context, Result};
use minijinja::{Environment, UndefinedBehavior, context};
use plumbrail::base::visible;
use plumbrail::sheet::CAUTIONS;
use plumbrail::write::html::{PAN, STYLE};

use super::board::{Board, json};
use super::clock;
use super::form::Changes;
use super::guard::{Guard, Route};
use super::http::{self, Answer, Head};
use super::waiting::{Place, Waiting};
use super::worker::Wake;

const PAGE: &str = include_str!("page/page.html.jinja");
const OWN_STYLE: &str = include_str!("page/page.css");
const OWN_SCRIPT: &str = include_str!("page/page.js");

/// So many connections of the page at a time: it takes one or two, and a person has some pages open.
const MOST: usize = 64;
/// After so long without news a sign of life is sent, by which a page that has gone is found.
const QUIET: Duration = Duration::from_secs(15);
/// Before the next connection is tried where the system gave none.
const NONE_GIVEN: Duration = Duration::from_millis(50);
/// The worker answers between two layouts; so long one is waited for.
const LAYOUT: Duration = Duration::from_secs(60);

/// The server.
pub struct Server {
    listener: TcpListener,
    room: Arc<Room>,
}

/// What every connection needs.
struct Room {
    guard: Guard,
    page: String,
    board: Arc<Board>,
    wake: Sender<Wake>,
    /// Connections that have not shown the token.
    waiting: Arc<Waiting>,
    /// Those that have.
    open: AtomicUsize,
}

impl Server {
    /// Takes a port of this machine, which no other machine can reach.
    pub fn open(port: Option<u16>, plan: &Path, board: Arc<Board>, wake: Sender<Wake>) -> Result<Self> {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, port.unwrap_or(0)));
        let listener = TcpListener::bind(address).with_context(|| format!("cannot serve on {address}"))?;
        let port = listener.local_addr()?.port();
        let (guard, page) = (Guard { port, token: token()? }, page(plan)?);
        let room = Room { guard, page, board, wake, waiting: Arc::default(), open: AtomicUsize::new(0) };
        Ok(Self { listener, room: Arc::new(room) })
    }

    /// Where the page is.
    pub fn address(&self) -> String {
        let Guard { port, token } = &self.room.guard;
        format!("http://127.0.0.1:{port}/{token}/")
    }

    /// Answers from now on.
    pub fn start(self) -> Result<()> {
        let Self { listener, room } = self;
        thread::Builder::new().name("server".to_owned()).spawn(move || {
            for stream in listener.incoming() {
                let Ok((stream, place)) = stream.and_then(|s| room.waiting.enter(&s).map(|place| (s, place))) else {
                    clock::pause(NONE_GIVEN);
                    continue;
                };
                let room = Arc::clone(&room);
                let answer = move || connection(stream, place, &room);
                // Where there is no thread the connection is closed.
                drop(thread::Builder::new().name("connection".to_owned()).spawn(answer));
            }
        })?;
        Ok(())
    }
}

/// 128 random bits.
fn token() -> Result<String> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).map_err(|e| anyhow::anyhow!("the system gives no random numbers: {e}"))?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

fn page(plan: &Path) -> Result<String> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    // The name ends in .html, so every text is escaped.
    environment.add_template("page.html", PAGE)?;
    let name = visible(&plan.file_name().unwrap_or_default().to_string_lossy()).into_owned();
    Ok(environment.get_template("page.html")?.render(context! { name, cautions => CAUTIONS })?)
}

fn style() -> &'static str {
    static TEXT: OnceLock<String> = OnceLock::new();
    TEXT.get_or_init(|| format!("{STYLE}{OWN_STYLE}"))
}

fn script() -> &'static str {
    static TEXT: OnceLock<String> = OnceLock::new();
    TEXT.get_or_init(|| format!("{PAN}{OWN_SCRIPT}"))
}

/// One request. Whatever goes wrong with it ends it alone.
fn connection(mut stream: TcpStream, place: Place, room: &Room) {
    let asked = http::read_head(&mut stream).and_then(|(head, begun)| Ok((room.guard.check(&head)?, head, begun)));
    let (route, head, begun) = match asked {
        Ok(asked) => asked,
        // A stranger keeps its place in the line while it is answered.
        Err(answer) => return drop(http::send(&mut stream, &answer)),
    };
    drop(place);
    let is_full = room.open.fetch_add(1, Ordering::SeqCst) >= MOST;
    let full = || Err(Answer::text(503, "too many pages are open"));
    let answer = if is_full { full() } else { answer(&mut stream, room, route, &head, begun) };
    // A browser that has gone needs no answer.
    match answer {
        Ok(None) => drop(events(&mut stream, &room.board)),
        Ok(Some(answer)) | Err(answer) => drop(http::send(&mut stream, &answer)),
    }
    room.open.fetch_sub(1, Ordering::SeqCst);
}

/// The answer; none where events are wanted.
fn answer(
    stream: &mut TcpStream,
    room: &Room,
    route: Route,
    head: &Head,
    begun: Vec<u8>,
) -> Result<Option<Answer>, Answer> {
    let text = |kind: &'static str, text: &str| Ok(Some(Answer::new(200, kind, text.as_bytes().to_vec())));
    match route {
        Route::Page => text("text/html; charset=utf-8", &room.page),
        Route::Style => text("text/css; charset=utf-8", style()),
        Route::Script => text("text/javascript; charset=utf-8", script()),
        Route::Events => Ok(None),
        Route::File(name) => match room.board.file(&name) {
            Some(bytes) => Ok(Some(Answer::file(&name, bytes))),
            None => Err(Answer::text(404, "there is no such file, or it is not made so far")),
        },
        Route::Settings(length) => {
            let body = http::read_body(stream, begun, head, length)?;
            let changes: Changes = serde_json::from_slice(&body).map_err(|e| told(422, &e.to_string()))?;
            asked(room, |reply| Wake::Settings(changes, reply)).map(Some)
        }
        Route::Job => asked(room, Wake::WriteJob).map(Some),
    }
}

/// Asks the worker and waits for what it says.
fn asked(room: &Room, question: impl FnOnce(Sender<Result<String>>) -> Wake) -> Result<Answer, Answer> {
    let busy = || told(503, "the plan is being laid out; try again");
    let (reply, replied) = mpsc::channel();
    room.wake.send(question(reply)).map_err(|_| busy())?;
    match replied.recv_timeout(LAYOUT).map_err(|_| busy())? {
        Ok(text) => Ok(told(200, &text)),
        Err(error) => Err(told(422, &format!("{error:#}"))),
    }
}

/// A text for the page.
fn told(status: u16, text: &str) -> Answer {
    Answer::new(status, "application/json", json(&serde_json::json!({ "text": text })).into_bytes())
}

/// Sends what stands on the board, and then whatever changes, until the page goes.
fn events(stream: &mut TcpStream, board: &Board) -> std::io::Result<()> {
    http::begin_events(stream)?;
    let mut seen = 0;
    loop {
        let news = board.since(seen, QUIET);
        let mut text = String::new();
        for (number, topic, data) in &news {
            // JSON of one line: no event can end within it.
            text.push_str(&format!("event: {}\ndata: {data}\n\n", topic.name()));
            seen = *number;
        }
        if news.is_empty() {
            text.push_str(": still here\n\n");
        }
        stream.write_all(text.as_bytes())?;
        stream.flush()?;
    }
}
