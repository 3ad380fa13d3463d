//! MTEXT: the lines of a paragraph as one entity, broken where the sheet breaks them (DXF reference, "MTEXT").

use super::entity::{Common, degrees};
use super::records::{Spot, Writer};
use super::{Tags, text};
use crate::base::plane;
use crate::sheet::{Align, TextSpec, VAlign};

/// Distance of base lines in capital heights at a spacing of 1 (DXF reference, MTEXT group 44: 5/3).
const SPACING: f64 = 5.0 / 3.0;

impl Writer<'_> {
    /// Hangs on the top of its first line's capitals.
    pub(super) fn paragraph(&mut self, tags: &mut Tags<'_>, common: &Common<'_>, spot: &Spot<'_>, lines: &[TextSpec]) {
        let (Some(first), Some(second)) = (lines.first(), lines.get(1)) else {
            return lines.iter().for_each(|line| self.text(tags, common, spot, line));
        };
        let (style, _) = self.style(first.bold);
        let up = match first.anchor.valign {
            VAlign::Base => first.height,
            VAlign::Middle => first.height / 2.0,
            VAlign::Top => 0.0,
        };
        let top = first.at + plane::left(plane::direction(first.rotation)) * up;
        common.head(tags, "MTEXT", self.handles.take());
        tags.subclass("AcDbMText");
        tags.point(10, spot.at(top));
        tags.real(40, spot.size(first.height));
        // No width: no program may break the lines anew.
        tags.real(41, 0.0);
        tags.int(
            71,
            match first.anchor.align {
                Align::Left => 1,
                Align::Centre => 2,
                Align::Right => 3,
            },
        );
        // From left to right.
        tags.int(72, 1);
        // A line each, all but the last in a group that more text follows.
        for (place, line) in lines.iter().enumerate() {
            let content = escaped(&text::content(&line.content));
            let is_last = place + 1 == lines.len();
            tags.text(if is_last { 1 } else { 3 }, &if is_last { content } else { format!("{content}\\P") });
        }
        tags.name(7, &style);
        if degrees(first.rotation) > 0.0 {
            tags.real(50, degrees(first.rotation));
        }
        if tags.target().has_owners() {
            // Lines exactly so far apart, whatever is in them.
            tags.int(73, 2);
            tags.real(44, plane::distance(first.at, second.at) / (first.height * SPACING));
        }
        common.tail(tags);
    }
}

/// Signs that would be read as formatting.
fn escaped(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    for c in line.chars() {
        if matches!(c, '\\' | '{' | '}') {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn braces_and_backslashes_are_no_formatting() {
        assert_eq!(escaped(r"a\P {b} %%c"), r"a\\P \{b\} %%c");
    }
}
