//! One request and one answer a connection, within limits: as much of HTTP/1.1 as a browser on this machine needs.

use std::io::{self, ErrorKind, Read, Write};
use std::net::{Shutdown, TcpStream};
use std::time::Duration;

use super::clock::Timer;

/// Longest head of a request: browsers send one or two thousand bytes.
const HEAD: usize = 16 * 1024;
/// Longest body of a request: the form's is a hundred bytes.
pub const BODY: usize = 64 * 1024;
/// So long a request may take: it comes from this machine.
const PATIENCE: Duration = Duration::from_secs(5);

/// Head of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// `GET` and so on.
    pub method: String,
    /// Path, as it was sent.
    pub target: String,
    headers: Vec<(String, String)>,
}

impl Head {
    /// Reads one from bytes; `None` when there is more to come. Also tells where the body begins.
    fn parse(bytes: &[u8]) -> Result<Option<(Self, usize)>, Answer> {
        let mut headers = [httparse::EMPTY_HEADER; 64];
        let mut request = httparse::Request::new(&mut headers);
        let bad = || Answer::text(400, "this is no request");
        let httparse::Status::Complete(end) = request.parse(bytes).map_err(|_| bad())? else { return Ok(None) };
        let text = |value: &[u8]| String::from_utf8(value.to_vec()).map_err(|_| bad());
        let mut named = Vec::new();
        for header in request.headers.iter() {
            named.push((header.name.to_ascii_lowercase(), text(header.value)?));
        }
        let (Some(method), Some(target)) = (request.method, request.path) else { return Err(bad()) };
        Ok(Some((Self { method: method.to_owned(), target: target.to_owned(), headers: named }, end)))
    }

    /// Values of a header, whose name is in small letters.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.headers.iter().filter(move |(n, _)| n == name).map(|(_, value)| value.as_str())
    }

    /// The only value of a header; `None` also when it is there twice.
    pub fn only<'a>(&'a self, name: &'a str) -> Option<&'a str> {
        let mut all = self.all(name);
        all.next().filter(|_| all.next().is_none())
    }

    #[cfg(test)]
    pub fn of(method: &str, target: &str, headers: &[(&str, &str)]) -> Self {
        let headers = headers.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect();
        Self { method: method.to_owned(), target: target.to_owned(), headers }
    }
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// Status of HTTP.
    pub status: u16,
    kind: &'static str,
    body: Vec<u8>,
    /// Name under which the browser keeps it.
    download: Option<String>,
}

impl Answer {
    /// A text of one line.
    pub fn text(status: u16, text: &str) -> Self {
        Self::new(status, "text/plain; charset=utf-8", format!("{text}\n").into_bytes())
    }

    /// Bytes of a kind.
    pub const fn new(status: u16, kind: &'static str, body: Vec<u8>) -> Self {
        Self { status, kind, body, download: None }
    }

    /// A file to keep; its name is one of ours, or holds no more than letters, digits and `.-_ `.
    pub fn file(name: &str, body: Vec<u8>) -> Self {
        let last = name.rsplit('/').next().unwrap_or(name);
        let plain = |c: char| if c.is_ascii_alphanumeric() || ".-_ ".contains(c) { c } else { '_' };
        let download = Some(last.chars().map(plain).collect());
        Self { status: 200, kind: "application/octet-stream", body, download }
    }

    fn write_to(&self, out: &mut impl Write) -> io::Result<()> {
        let mut head = head(self.status, self.kind);
        head.push_str(&format!("Content-Length: {}\r\n", self.body.len()));
        if let Some(name) = &self.download {
            head.push_str(&format!("Content-Disposition: attachment; filename=\"{name}\"\r\n"));
        }
        head.push_str("\r\n");
        out.write_all(head.as_bytes())?;
        out.write_all(&self.body)?;
        out.flush()
    }
}

/// Nothing but what this server sends is loaded or run by the page, nobody frames it, and its address, in which the token
/// stands, is told to nobody.
fn head(status: u16, kind: &str) -> String {
    let reason = match status {
        200 => "OK",
        400 => "Bad Request",
        403 => "Forbidden",
        404 => "Not Found",
        405 => "Method Not Allowed",
        408 => "Request Timeout",
        411 => "Length Required",
        413 => "Content Too Large",
        415 => "Unsupported Media Type",
        422 => "Unprocessable Content",
        431 => "Request Header Fields Too Large",
        _ => "Service Unavailable",
    };
    format!(
        "HTTP/1.1 {status} {reason}\r\nContent-Type: {kind}\r\nConnection: close\r\nCache-Control: no-store\r\n\
         X-Content-Type-Options: nosniff\r\nReferrer-Policy: no-referrer\r\nX-Frame-Options: DENY\r\n\
         Cross-Origin-Resource-Policy: same-origin\r\nContent-Security-Policy: default-src 'none'; script-src 'self'; \
         style-src 'self'; connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; \
         frame-ancestors 'none'\r\n"
    )
}

/// Reads the head of a request, and what of its body came with it.
pub fn read_head(stream: &mut TcpStream) -> Result<(Head, Vec<u8>), Answer> {
    let timer = Timer::start();
    let (mut bytes, mut block) = (Vec::new(), [0; 2048]);
    loop {
        if let Some((head, end)) = Head::parse(&bytes)? {
            return Ok((head, bytes.split_off(end)));
        }
        if bytes.len() >= HEAD {
            return Err(Answer::text(431, "the head of the request is too long"));
        }
        bytes.extend(read(stream, &mut block, timer)?);
    }
}

/// Reads a body of a length that was checked; `begun` is what came with the head.
pub fn read_body(stream: &mut TcpStream, begun: Vec<u8>, head: &Head, length: usize) -> Result<Vec<u8>, Answer> {
    if head.only("expect").is_some_and(|e| e.eq_ignore_ascii_case("100-continue")) {
        let go_on = stream.write_all(b"HTTP/1.1 100 Continue\r\n\r\n");
        go_on.map_err(|_| Answer::text(400, "the request ended too early"))?;
    }
    let timer = Timer::start();
    let (mut body, mut block) = (begun, [0; 2048]);
    while body.len() < length {
        body.extend(read(stream, &mut block, timer)?);
    }
    body.truncate(length);
    Ok(body)
}

/// Some bytes of a request.
fn read<'a>(stream: &mut TcpStream, block: &'a mut [u8], timer: Timer) -> Result<&'a [u8], Answer> {
    let late = || Answer::text(408, "the request took too long");
    let left = timer.left(PATIENCE).ok_or_else(late)?;
    stream.set_read_timeout(Some(left)).map_err(|_| late())?;
    match stream.read(block) {
        Ok(0) => Err(Answer::text(400, "the request ended too early")),
        Ok(n) => Ok(block.get(..n).unwrap_or_default()),
        Err(e) if matches!(e.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => Err(late()),
        Err(_) => Err(Answer::text(400, "the request ended too early")),
    }
}

/// Sends an answer. What the other side still sends is passed over for a while, since it hears nothing before it has sent all.
pub fn send(stream: &mut TcpStream, answer: &Answer) -> io::Result<()> {
    stream.set_write_timeout(Some(PATIENCE))?;
    answer.write_to(stream)?;
    stream.shutdown(Shutdown::Write)?;
    let timer = Timer::start();
    let mut block = vec![0; 1 << 16];
    while read(stream, &mut block, timer).is_ok() {}
    Ok(())
}

/// Begins an answer that goes on: events for the page, one after the other.
pub fn begin_events(stream: &mut TcpStream) -> io::Result<()> {
    stream.set_write_timeout(Some(PATIENCE))?;
    stream.set_nodelay(true)?;
    stream.write_all(format!("{}\r\nretry: 1000\n\n", head(200, "text/event-stream")).as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_are_read_whole_or_not_at_all() {
        let text = b"GET /x HTTP/1.1\r\nHost: a\r\nhost: b\r\nX-One: 1\r\n\r\nrest";
        let (head, end) = Head::parse(text).unwrap().unwrap();
        assert_eq!((head.method.as_str(), head.target.as_str(), &text[end..]), ("GET", "/x", &b"rest"[..]));
        assert_eq!((head.only("host"), head.only("x-one"), head.only("y")), (None, Some("1"), None));
        for cut in 0..end {
            assert!(Head::parse(&text[..cut]).unwrap().is_none(), "{cut}");
        }
        assert_eq!(Head::parse(b"\x16\x03\x01\x02").unwrap_err().status, 400);
        assert_eq!(Head::parse(b"GET /\xff HTTP/1.1\r\nHost: \xff\r\n\r\n").map(|_| ()).unwrap_err().status, 400);
    }

    #[test]
    fn a_name_of_a_download_ends_no_header() {
        let mut out = Vec::new();
        Answer::file("sheets/a\"\r\nX: y.svg", b"1".to_vec()).write_to(&mut out).unwrap();
        let text = String::from_utf8(out).unwrap();
        assert!(text.contains("filename=\"a___X_ y.svg\"\r\n\r\n1"), "{text}");
    }
}
