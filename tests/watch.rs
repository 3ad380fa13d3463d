//! `watch`: every save is laid out and shown, what cannot be used keeps the last good one, and only the page that the program
//! gave out is answered.

use std::collections::BTreeSet;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::Duration;

use serde_json::{Value, json};

use crate::interop::scratch;
use crate::program::{arg, folder, plan, root, run};

/// Answers take milliseconds; nothing is measured by this.
const AGAINST_HANGING: Duration = Duration::from_secs(600);

/// A program that watches a copy of a fixture's plan.
struct Watching {
    child: Child,
    out: BufReader<ChildStdout>,
    folder: PathBuf,
    plan: PathBuf,
    port: String,
    token: String,
}

impl Watching {
    fn start(name: &str, options: &[&str]) -> Self {
        let folder = scratch(&format!("watch-{name}"));
        let file = folder.join("deck.dxf");
        fs::copy(root().join(plan("l-shape")), &file).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_plumbrail"))
            .args(["watch", file.to_str().unwrap(), "--formats", "svg,json,rail"])
            .args(options)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let (mut port, mut token) = (String::new(), String::new());
        if options.contains(&"--serve") {
            let mut line = String::new();
            out.read_line(&mut line).unwrap();
            let address = line.trim_end().strip_prefix("http://127.0.0.1:").unwrap();
            let (p, t) = address.strip_suffix('/').unwrap().split_once('/').unwrap();
            assert!(t.len() == 32 && t.bytes().all(|b| b.is_ascii_hexdigit()), "{t}");
            (port, token) = (p.to_owned(), t.to_owned());
        }
        Self { child, out, folder, plan: file, port, token }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(format!("127.0.0.1:{}", self.port)).unwrap();
        stream.set_read_timeout(Some(AGAINST_HANGING)).unwrap();
        stream
    }

    /// Sends a request as it stands, and gives what comes back, or as much as comes before the connection breaks.
    fn raw(&self, request: &[u8]) -> String {
        let mut stream = self.connect();
        drop(stream.write_all(request));
        let mut answer = Vec::new();
        drop(stream.read_to_end(&mut answer));
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// Status and body of an answer to the page.
    fn ask(&self, method: &str, path: &str, body: &str) -> (u16, String) {
        let Self { port, token, .. } = self;
        let answer = self.raw(
            format!(
                "{method} /{token}/{path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Type: application/json\r\n\
                 Content-Length: {}\r\n\r\n{body}",
                body.len()
            )
            .as_bytes(),
        );
        let (head, body) = answer.split_once("\r\n\r\n").unwrap();
        (status(head), body.to_owned())
    }

    fn events(&self) -> Events {
        let mut stream = self.connect();
        let Self { port, token, .. } = self;
        stream.write_all(format!("GET /{token}/events HTTP/1.1\r\nHost: localhost:{port}\r\n\r\n").as_bytes()).unwrap();
        Events(BufReader::new(stream))
    }

    /// The next line that the program prints.
    fn line(&mut self) -> String {
        let mut line = String::new();
        self.out.read_line(&mut line).unwrap();
        line
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

fn status(head: &str) -> u16 {
    head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or_else(|| panic!("no answer: {head}"))
}

/// What the page hears.
struct Events(BufReader<TcpStream>);

impl Events {
    fn next(&mut self) -> (String, Value) {
        let mut topic = String::new();
        loop {
            let mut line = String::new();
            assert!(self.0.read_line(&mut line).unwrap() > 0, "the program ended");
            if let Some(name) = line.strip_prefix("event: ") {
                name.trim_end().clone_into(&mut topic);
            } else if let Some(data) = line.strip_prefix("data: ") {
                return (topic, serde_json::from_str(data).unwrap());
            }
        }
    }

    fn until(&mut self, topic: &str, fits: impl Fn(&Value) -> bool) -> Value {
        loop {
            let (name, data) = self.next();
            if name == topic && fits(&data) {
                return data;
            }
        }
    }

    fn plan(&mut self) -> Value {
        self.until("plan", |_| true)
    }

    fn state(&mut self, state: &str) -> Value {
        self.until("status", |data| data["state"] == state)
    }
}

/// The plan with its deck wider by some sixteenths of an inch.
fn wider(sixteenths: u32) -> String {
    let text = fs::read_to_string(root().join(plan("l-shape"))).unwrap();
    let far = "240.0";
    assert!(text.contains(far), "the deck of l-shape has no side at {far}");
    text.replace(far, &format!("{}", 240.0 + f64::from(sixteenths) / 16.0))
}

#[test]
fn fifty_saves_by_writing_and_fifty_by_renaming_are_each_shown() {
    let watching = Watching::start("saves", &["--serve"]);
    let mut events = watching.events();
    let mut met = BTreeSet::from([events.plan()["svg"].to_string()]);
    for save in 1..=100 {
        if save % 2 == 0 {
            fs::write(&watching.plan, wider(save)).unwrap();
        } else {
            let new = watching.folder.join("deck.new");
            fs::write(&new, wider(save)).unwrap();
            fs::rename(&new, &watching.plan).unwrap();
        }
        assert!(met.insert(events.plan()["svg"].to_string()), "save {save} was shown as an older one");
    }
    // What was written at last is the newest.
    events.until("files", |list| list.as_array().is_some_and(|l| !l.is_empty()));
    let layout: Value =
        serde_json::from_slice(&fs::read(watching.folder.join("deck-rail/layout.json")).unwrap()).unwrap();
    let other = folder();
    run(&["layout", &arg(&watching.plan), "--formats", "json", "--out", &arg(&other)]);
    let once: Value = serde_json::from_slice(&fs::read(other.path().join("layout.json")).unwrap()).unwrap();
    assert_eq!(layout, once);
}

#[test]
fn what_cannot_be_used_keeps_the_last_good_layout() {
    let watching = Watching::start("rubbish", &["--serve"]);
    let mut events = watching.events();
    events.plan();
    events.until("files", |list| list.as_array().is_some_and(|l| !l.is_empty()));
    let (status, good) = watching.ask("GET", "files/plan.svg", "");
    assert_eq!(status, 200);
    let whole = wider(0);
    for (bad, why) in [("no drawing\n", "DXF"), ("", "empty"), (&whole[..whole.len() / 2], "cut off")] {
        fs::write(&watching.plan, bad).unwrap();
        let told = events.state("kept")["why"].to_string();
        assert!(told.contains(why), "{told}");
        assert_eq!(watching.ask("GET", "files/plan.svg", ""), (200, good.clone()));
        assert_eq!(fs::read_to_string(watching.folder.join("deck-rail/plan.svg")).unwrap(), good);
        // A page that is opened now gets the layout and the message.
        let mut late = watching.events();
        assert_eq!(late.plan()["panels"], 14);
        late.state("kept");
    }
    fs::remove_file(&watching.plan).unwrap();
    assert!(events.state("kept")["why"].to_string().contains("cannot read"));
    // A save in two steps is waited for, and nothing is told to be wrong.
    fs::write(&watching.plan, &whole[..whole.len() / 2]).unwrap();
    events.state("waiting");
    fs::write(&watching.plan, wider(8)).unwrap();
    events.plan();
    events.state("shown");
}

#[test]
fn the_form_is_shown_and_written_on_request_only() {
    let watching = Watching::start("form", &["--serve", "--inset", "2in"]);
    let mut events = watching.events();
    assert_eq!(events.plan()["values"]["inset"], "2in");
    events.until("files", |list| list.as_array().is_some_and(|l| !l.is_empty()));
    let out = watching.folder.join("deck-rail/layout.json");
    let written = fs::read(&out).unwrap();
    let wanted = json!({ "system": "metal-42", "inset": "5in" }).to_string();
    assert_eq!(watching.ask("POST", "settings", &wanted).0, 200);
    let told = events.plan();
    assert_eq!((&told["values"]["system"], &told["values"]["inset"]), (&json!("metal-42"), &json!("5in")));
    events.until("files", |list| list.as_array().is_some_and(|l| !l.is_empty()));
    assert_eq!(fs::read(&out).unwrap(), written, "a preview is not written");
    assert!(!watching.folder.join("deck.job.toml").exists());
    let shown: Value = serde_json::from_str(&watching.ask("GET", "files/layout.json", "").1).unwrap();
    assert_eq!(shown["system"], "metal-42");
    // Nothing that a request names is looked for on the disk.
    for (body, why) in [
        (json!({ "system": "../../mine.toml" }), "there is no rail system"),
        (json!({ "rules": "/etc/passwd" }), "there is no rule set"),
        (json!({ "job": "x.toml" }), "unknown field"),
        (json!({ "inset": "wide" }), "not a length"),
        (json!({ "balusters": "centred", "system": "cable-36" }), "has no balusters"),
        (json!([]), "invalid"),
    ] {
        let (status, text) = watching.ask("POST", "settings", &body.to_string());
        assert_eq!(status, 422, "{body}");
        assert!(text.contains(why), "{body}: {text}");
    }
    let (status, text) = watching.ask("POST", "job", "{}");
    assert_eq!(status, 200);
    assert!(text.contains("deck.job.toml; name it with --job") && text.contains("leave --inset out"), "{text}");
    let job = fs::read_to_string(watching.folder.join("deck.job.toml")).unwrap();
    assert_eq!(job, "system = \"metal-42\"\ninset = \"5in\"\n");
    let told = events.plan();
    assert_eq!((&told["changes"], &told["values"]["inset"]), (&json!({}), &json!("5in")));
    events.until("files", |list| list.as_array().is_some_and(|l| !l.is_empty()));
    let written: Value = serde_json::from_slice(&fs::read(&out).unwrap()).unwrap();
    assert_eq!(written["system"], "metal-42");
    assert_eq!(watching.ask("POST", "job", "{}").0, 422, "nothing was changed since");
    // The job file is watched like the plan.
    fs::write(watching.folder.join("deck.job.toml"), "inset = \"4in\"\n").unwrap();
    assert_eq!(events.plan()["values"]["inset"], "4in");
}

#[test]
fn only_the_page_of_the_program_is_answered() {
    let watching = Watching::start("guard", &["--serve"]);
    let mut events = watching.events();
    events.until("files", |list| list.as_array().is_some_and(|l| !l.is_empty()));
    let Watching { port, token, .. } = &watching;
    let asked = |request: String| status(&watching.raw(request.as_bytes()));
    assert_eq!(asked(format!("GET /{token}/ HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n")), 200);
    for host in ["example.org", "127.0.0.1", &format!("example.org:{port}")] {
        assert_eq!(asked(format!("GET /{token}/ HTTP/1.1\r\nHost: {host}\r\n\r\n")), 403, "{host}");
    }
    for path in ["/", "/files/layout.json", "/0123456789abcdef0123456789abcdef/", &format!("/{}/", &token[..31])] {
        assert_eq!(asked(format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n")), 403, "{path}");
    }
    for path in [
        "files/../deck.dxf",
        "files/..%2fdeck.dxf",
        "files/%2e%2e/%2e%2e/etc/passwd",
        "files//etc/passwd",
        "files/deck.dxf",
    ] {
        let (status, body) = watching.ask("GET", path, "");
        assert!(status == 404 && !body.contains("SECTION"), "{path}: {status}");
    }
    let origin = format!("POST /{token}/job HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://example.org\r\n\r\n");
    assert_eq!(asked(origin), 403);
    // What is no request, or never ends.
    assert_eq!(asked("rubbish\r\n\r\n".to_owned()), 400);
    assert_eq!(asked(format!("GET /{token}/ HTTP/1.1\r\n{}", "x: y\r\n".repeat(10_000))), 400);
    assert_eq!(asked(format!("GET /{} HTTP/1.1\r\n", "x".repeat(100_000))), 431);
    let held: Vec<TcpStream> = (0..20).map(|_| watching.connect()).collect();
    assert_eq!(watching.ask("GET", "page.js", "").0, 200, "others that say nothing are in nobody's way");
    drop(held);
}

/// More connections than are kept say nothing, or begin and do not end, or keep on after they were refused: the page is
/// answered, and what it held before goes on.
#[test]
fn a_hundred_connections_that_wait_are_in_nobody_s_way() {
    let watching = Watching::start("idle", &["--serve"]);
    let mut events = watching.events();
    events.plan();
    let Watching { port, token, .. } = &watching;
    let begun = format!("GET /{token}/ HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n");
    let refused = "GET / HTTP/1.1\r\nHost: example.org\r\n\r\n";
    for request in ["", "GET ", &begun, refused] {
        let hold = |_| {
            let mut stream = watching.connect();
            // Those that came first are ended by those that came later.
            drop(stream.write_all(request.as_bytes()));
            stream
        };
        let held: Vec<TcpStream> = (0..100).map(hold).collect();
        for path in ["", "page.js", "page.css"] {
            assert_eq!(watching.ask("GET", path, "").0, 200, "100 times {request:?}");
        }
        drop(held);
    }
    fs::write(&watching.plan, wider(16)).unwrap();
    events.plan();
}

#[test]
fn a_body_of_a_gigabyte_is_refused_and_never_held() {
    let watching = Watching::start("large", &["--serve"]);
    watching.events().plan();
    let Watching { port, token, .. } = &watching;
    for (length, status_wanted) in [("1073741824", 413), ("99999999999999999999", 411)] {
        let mut stream = watching.connect();
        let head = format!(
            "POST /{token}/settings HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Type: application/json\r\n\
             Content-Length: {length}\r\n\r\n"
        );
        stream.write_all(head.as_bytes()).unwrap();
        let mut sender = stream.try_clone().unwrap();
        let sent = std::thread::spawn(move || {
            let block = vec![b' '; 1 << 20];
            (0..1024).take_while(|_| sender.write_all(&block).is_ok()).count()
        });
        let mut answer = [0; 15];
        stream.read_exact(&mut answer).unwrap();
        assert_eq!(status(&String::from_utf8_lossy(&answer)), status_wanted);
        sent.join().unwrap();
    }
    let about = fs::read_to_string(format!("/proc/{}/status", watching.child.id())).unwrap();
    let peak = about.lines().find_map(|l| l.strip_prefix("VmHWM:")).and_then(|l| l.split_whitespace().next()).unwrap();
    let peak_kib: u64 = peak.parse().unwrap();
    assert!(peak_kib < 200 << 10, "{peak_kib} KiB were held");
    assert_eq!(watching.ask("GET", "", "").0, 200);
}

#[test]
fn without_a_page_the_files_are_written_again_at_each_save() {
    let mut watching = Watching::start("plain", &[]);
    let first = watching.line();
    assert!(first.contains("14 panels") && first.contains("files written to"), "{first}");
    let out = watching.folder.join("deck-rail/plan.svg");
    let before = fs::read(&out).unwrap();
    fs::write(&watching.plan, wider(16)).unwrap();
    watching.line();
    assert_ne!(fs::read(&out).unwrap(), before);
}

#[test]
fn what_cannot_be_watched_is_told() {
    for (plan, why) in
        [("-", "a plan that is a file"), ("none.dxf", "cannot read none.dxf"), ("fixtures", "is no file")]
    {
        let ran = run(&["watch", plan]);
        assert_eq!(ran.status, 2, "{plan}");
        assert!(ran.err.contains(why), "{}", ran.err);
    }
    assert_eq!(run(&["watch", &plan("l-shape"), "--out", "-"]).status, 2);
    assert_eq!(run(&["watch", &plan("l-shape"), "--port", "1"]).status, 2, "a port is nothing without --serve");
}
