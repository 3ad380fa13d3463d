//! Who may ask for what: only a page that this server gave out, and only what is on the list here.

use super::http::{Answer, BODY, Head};

/// What a request can be for. No path among it leads to the disk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Route {
    /// The page.
    Page,
    /// Its style.
    Style,
    /// Its script.
    Script,
    /// What changes, as server-sent events.
    Events,
    /// One of the files in memory, by name.
    File(String),
    /// Other settings, in a body of this length.
    Settings(usize),
    /// The settings go into the job file.
    Job,
}

/// What every request must know.
#[derive(Debug, Clone)]
pub struct Guard {
    /// Port of this server.
    pub port: u16,
    /// Stands before every path.
    pub token: String,
}

impl Guard {
    /// What a request asks for, if it may.
    pub fn check(&self, head: &Head) -> Result<Route, Answer> {
        // A page of elsewhere whose name was made to lead here has its own name in Host.
        let ours = [format!("127.0.0.1:{}", self.port), format!("localhost:{}", self.port)];
        let is_ours = |name: &str| ours.iter().any(|our| our.eq_ignore_ascii_case(name));
        if !head.only("host").is_some_and(is_ours) {
            return Err(Answer::text(403, "only this machine may ask, by 127.0.0.1 or localhost"));
        }
        let from_us = |origin: &str| origin.strip_prefix("http://").is_some_and(is_ours);
        if !head.all("origin").all(from_us) {
            return Err(Answer::text(403, "another page may not ask"));
        }
        let path = head.target.strip_prefix('/').and_then(|rest| rest.split_once('/'));
        let Some((_, path)) = path.filter(|(token, _)| same(token, &self.token)) else {
            return Err(Answer::text(403, "open the address that the program printed"));
        };
        match (head.method.as_str(), path) {
            ("GET", "") => Ok(Route::Page),
            ("GET", "page.css") => Ok(Route::Style),
            ("GET", "page.js") => Ok(Route::Script),
            ("GET", "events") => Ok(Route::Events),
            ("GET", path) => path
                .strip_prefix("files/")
                .and_then(plain)
                .map(Route::File)
                .ok_or_else(|| Answer::text(404, "there is no such page")),
            ("POST", "settings") => body(head).map(Route::Settings),
            ("POST", "job") => body(head).map(|_| Route::Job),
            _ => Err(Answer::text(405, "this is not done here")),
        }
    }
}

/// Whether two texts are the same, in a time that does not tell where they differ.
fn same(one: &str, other: &str) -> bool {
    one.len() == other.len() && one.bytes().zip(other.bytes()).fold(0, |all, (a, b)| all | (a ^ b)) == 0
}

/// Length of a body of JSON, which no form of another page can send.
fn body(head: &Head) -> Result<usize, Answer> {
    if head.all("transfer-encoding").next().is_some() {
        return Err(Answer::text(411, "send the length of the body"));
    }
    let length = head.only("content-length").and_then(|text| text.parse::<u64>().ok());
    let length = length.ok_or_else(|| Answer::text(411, "send the length of the body"))?;
    let fits = usize::try_from(length).ok().filter(|length| *length <= BODY);
    let length = fits.ok_or_else(|| Answer::text(413, &format!("at most {BODY} bytes are taken")))?;
    match head.only("content-type").map(|kind| kind.split(';').next().unwrap_or(kind).trim()) {
        Some("application/json") => Ok(length),
        _ => Err(Answer::text(415, "send application/json")),
    }
}

/// A name in a path, whose `%20` are spaces and so on; none that leads upwards or is no text.
fn plain(name: &str) -> Option<String> {
    let mut out = Vec::with_capacity(name.len());
    let mut bytes = name.bytes();
    while let Some(byte) = bytes.next() {
        let digit = |b: Option<u8>| b.and_then(|b| char::from(b).to_digit(16));
        out.push(match byte {
            b'%' => u8::try_from(digit(bytes.next())? * 16 + digit(bytes.next())?).ok()?,
            byte => byte,
        });
    }
    String::from_utf8(out).ok().filter(|name| name.split(['/', '\\']).all(|part| part != ".."))
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOST: (&str, &str) = ("host", "127.0.0.1:4711");

    fn asked(method: &str, target: &str, headers: &[(&str, &str)]) -> Result<Route, u16> {
        let guard = Guard { port: 4711, token: "abc123".to_owned() };
        guard.check(&Head::of(method, target, headers)).map_err(|answer| answer.status)
    }

    #[test]
    fn what_is_on_the_list_is_given() {
        assert_eq!(asked("GET", "/abc123/", &[HOST]), Ok(Route::Page));
        assert_eq!(asked("GET", "/abc123/events", &[("host", "LOCALHOST:4711")]), Ok(Route::Events));
        let name = Route::File("panels/S 1.svg".to_owned());
        assert_eq!(asked("GET", "/abc123/files/panels/S%201.svg", &[HOST]), Ok(name));
        let json = ("content-type", "application/json; charset=utf-8");
        let from_us = ("origin", "http://127.0.0.1:4711");
        let settings = asked("POST", "/abc123/settings", &[HOST, json, ("content-length", "12"), from_us]);
        assert_eq!(settings, Ok(Route::Settings(12)));
        assert_eq!(asked("POST", "/abc123/job", &[HOST, json, ("content-length", "0")]), Ok(Route::Job));
    }

    #[test]
    fn a_host_an_origin_and_a_token_must_be_ours() {
        let foreign = [
            "example.org",
            "127.0.0.1",
            "127.0.0.1:80",
            "127.0.0.1:4711.example.org",
            "[::1]:4711",
            "0.0.0.0:4711",
            "",
        ];
        for host in foreign {
            assert_eq!(asked("GET", "/abc123/", &[("host", host)]), Err(403), "{host}");
        }
        assert_eq!(asked("GET", "/abc123/", &[]), Err(403));
        assert_eq!(asked("GET", "/abc123/", &[HOST, HOST]), Err(403), "two of them");
        for origin in ["http://example.org", "null", "https://127.0.0.1:4711", "http://127.0.0.1:1"] {
            assert_eq!(asked("GET", "/abc123/", &[HOST, ("origin", origin)]), Err(403), "{origin}");
        }
        for target in
            ["/", "/abc123", "/abc124/", "/abc12/", "//", "abc123/", "/ABC123/", "http://127.0.0.1:4711/abc123/"]
        {
            assert_eq!(asked("GET", target, &[HOST]), Err(403), "{target}");
        }
    }

    #[test]
    fn no_path_leads_anywhere() {
        for path in [
            "files/../x",
            "files/%2e%2e/x",
            "files/..%5cx",
            "files/%zz",
            "files/%ff",
            "files/%2",
            "../",
            "other",
            "page.css/..",
        ] {
            assert_eq!(asked("GET", &format!("/abc123/{path}"), &[HOST]), Err(404), "{path}");
        }
        for method in ["PUT", "DELETE", "OPTIONS", "HEAD", "POST"] {
            assert_eq!(asked(method, "/abc123/", &[HOST]), Err(405), "{method}");
        }
    }

    #[test]
    fn bodies_have_a_length_a_limit_and_a_kind() {
        let json = ("content-type", "application/json");
        let sent = |headers: &[(&str, &str)]| asked("POST", "/abc123/settings", &[&[HOST], headers].concat());
        assert_eq!(sent(&[json]), Err(411));
        assert_eq!(sent(&[json, ("content-length", "5"), ("transfer-encoding", "chunked")]), Err(411));
        for length in ["-1", "x", "99999999999999999999999"] {
            assert_eq!(sent(&[json, ("content-length", length)]), Err(411), "{length}");
        }
        for length in ["65537", "1073741824", "18446744073709551615"] {
            assert_eq!(sent(&[json, ("content-length", length)]), Err(413), "{length}");
        }
        assert_eq!(sent(&[json, ("content-length", "65536")]), Ok(Route::Settings(65536)));
        for kind in ["text/plain", "application/x-www-form-urlencoded"] {
            assert_eq!(sent(&[("content-type", kind), ("content-length", "5")]), Err(415), "{kind}");
        }
    }
}
