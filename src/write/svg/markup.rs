//! Elements and attributes written straight into bytes: the user's plan may have hundreds of thousands of lines behind the
//! rails, and a tree of nodes for each of them would cost more than all else. Whoever writes an element names its attributes
//! in alphabetical order, so that a picture's bytes do not depend on who wrote it.

use crate::write::paper;

/// What is written so far.
#[derive(Debug, Default)]
pub(super) struct Markup {
    out: Vec<u8>,
}

impl Markup {
    /// Begins an element; attributes follow, then [`Self::empty`] or [`Self::inside`].
    pub(super) fn open(&mut self, name: &str) {
        self.raw("<");
        self.raw(name);
    }

    /// An attribute with any text for its value.
    pub(super) fn attribute(&mut self, name: &str, value: &str) {
        self.value(name, |out| {
            for byte in value.bytes() {
                match byte {
                    b'"' => out.raw("&quot;"),
                    b'\'' => out.raw("&apos;"),
                    other => out.sign(other),
                }
            }
        });
    }

    /// An attribute that is a number.
    pub(super) fn number(&mut self, name: &str, value: f64) {
        self.value(name, |out| out.decimal(value));
    }

    /// An attribute whose value is written in pieces.
    pub(super) fn value(&mut self, name: &str, write: impl FnOnce(&mut Self)) {
        self.raw(" ");
        self.raw(name);
        self.raw("=\"");
        write(self);
        self.raw("\"");
    }

    /// Ends an element that holds nothing.
    pub(super) fn empty(&mut self) {
        self.raw("/>");
    }

    /// Ends the attributes; what the element holds follows.
    pub(super) fn inside(&mut self) {
        self.raw(">");
    }

    /// Ends an element that holds something.
    pub(super) fn close(&mut self, name: &str) {
        self.raw("</");
        self.raw(name);
        self.raw(">");
    }

    /// Text as a reader sees it.
    pub(super) fn escaped(&mut self, text: &str) {
        text.bytes().for_each(|byte| self.sign(byte));
    }

    /// A byte of a text: all that means something to a reader of markup is ASCII.
    fn sign(&mut self, byte: u8) {
        match byte {
            b'&' => self.raw("&amp;"),
            b'<' => self.raw("&lt;"),
            b'>' => self.raw("&gt;"),
            other => self.out.push(other),
        }
    }

    /// A number of paper millimetres.
    pub(super) fn decimal(&mut self, value: f64) {
        paper::push_number(&mut self.out, value);
    }

    /// Bytes that mean what they say.
    pub(super) fn raw(&mut self, text: &str) {
        self.out.extend_from_slice(text.as_bytes());
    }

    /// An element that stands on lines of its own inside another, left out where `write` puts nothing into it.
    pub(super) fn group(&mut self, head: impl FnOnce(&mut Self), write: impl FnOnce(&mut Self)) {
        let before = self.out.len();
        self.raw("\n");
        self.open("g");
        head(self);
        self.inside();
        let begun = self.out.len();
        write(self);
        if self.out.len() == begun {
            self.out.truncate(before);
        } else {
            self.raw("\n");
            self.close("g");
        }
    }

    /// All that was written.
    pub(super) fn finish(self) -> String {
        // Nothing but whole texts was put in, so nothing can be lost here.
        String::from_utf8(self.out).unwrap_or_else(|e| String::from_utf8_lossy(e.as_bytes()).into_owned())
    }
}
