//! Our marks once more, as texts in a block that is placed nowhere: many programs that write no XDATA keep blocks and
//! texts. A text is `kind;id;fact;fact`, where a fact is a word or `@x,y`, a point in drawing units; what is longer than a
//! text may be goes on in the next one of the same kind and id.

use super::Fact;
use super::index::{Index, Kind};
use super::ours::Ours;
use super::tag::Source;
use super::{Origin, text};
use crate::base::plane::point;
use crate::base::{Angle, Frame, Point, Unit, decimal};

/// Name of the block.
pub const MARKS_BLOCK: &str = "RAIL-MARKS";

/// Longest text in bytes: what every version and program takes.
const LONGEST: usize = 240;

/// Kind of the text that tells the drawing's unit.
const UNIT: &str = "unit";

/// Whether a block of this name holds them.
pub fn is_marks_name(name: &str) -> bool {
    text::own_name(name).to_uppercase().replace('_', "-") == MARKS_BLOCK
}

/// Texts of one object with its facts, whose places are in drawing units.
pub fn texts(kind: &str, id: &str, facts: &[Fact]) -> Vec<String> {
    let head = format!("{kind};{id}");
    let mut all = vec![head.clone()];
    for fact in facts {
        let word = match fact {
            Fact::Text(text) => format!(";{text}"),
            Fact::At(at) => format!(";@{},{}", decimal(at.x, 8), decimal(at.y, 8)),
        };
        match all.last_mut().filter(|last| last.len() + word.len() <= LONGEST) {
            Some(last) => last.push_str(&word),
            None => all.push(format!("{head}{word}")),
        }
    }
    all
}

/// The text that tells the unit.
pub fn unit_text(unit: Unit) -> String {
    format!("{UNIT};{}", unit.sign())
}

/// What the block of an earlier run says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MarksAsText {
    /// The drawing's unit when it was written.
    pub unit: Option<Unit>,
    /// Posts, panels and open spans as their marks told them; where they stand now is not known.
    pub ours: Vec<Ours>,
}

/// Reads them.
pub fn read(index: &Index, bytes: &[u8], frame: &Frame) -> MarksAsText {
    let source = Source { bytes, form: index.form };
    let mut marks = MarksAsText::default();
    let blocks = index.blocks.iter().filter(|block| is_marks_name(index.name(block.name)));
    for at in blocks.flat_map(|block| block.records.clone()) {
        let Some(record) = index.records.get(at).filter(|r| matches!(r.kind, Kind::Text | Kind::MText)) else {
            continue;
        };
        // An MTEXT stands in pieces of which the last one has group 1.
        let tags = source.tags(index.range(at), record.line).flatten().filter(|tag| matches!(tag.code, 1 | 3));
        let content: String = tags.map(|tag| text::decode(source.trimmed(&tag), index.encoding).into_owned()).collect();
        let content = if record.kind == Kind::MText { text::mtext_plain(&content) } else { content };
        marks.add(content.trim(), frame, record.origin());
    }
    marks
}

impl MarksAsText {
    fn add(&mut self, content: &str, frame: &Frame, origin: Origin) {
        let mut words = content.split(';');
        let (Some(kind), Some(id)) = (words.next(), words.next()) else { return };
        if kind == UNIT {
            self.unit = Unit::from_sign(id);
            return;
        }
        let facts = words.map(|word| fact(word).placed(|p| frame.to_local(p)));
        if let Some(last) = self.ours.last_mut().filter(|last| last.kind == kind && last.id == id) {
            return last.facts.extend(facts);
        }
        self.ours.push(Ours {
            insert: kind == "post",
            kind: kind.to_owned(),
            id: id.to_owned(),
            facts: facts.collect(),
            at: Point::default(),
            rotation: Angle::ZERO,
            origin,
            layer: String::new(),
            block: String::new(),
        });
    }
}

fn fact(word: &str) -> Fact {
    let number = |text: &str| text.parse::<f64>().ok().filter(|v| v.is_finite());
    let at = word.strip_prefix('@').and_then(|rest| rest.split_once(','));
    let at = at.and_then(|(x, y)| Some(point(number(x)?, number(y)?)));
    at.map_or_else(|| Fact::Text(word.to_owned()), Fact::At)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back_however_long_it_is() {
        let mut facts = vec![Fact::At(point(-0.1, 1.0 / 3.0)), Fact::At(point(1e5, 0.0))];
        facts.extend((0..60).flat_map(|n| [Fact::Text(format!("erased P{n}")), Fact::At(point(f64::from(n), 0.5))]));
        let all = texts("panel", "S4", &facts);
        assert!(all.len() > 5 && all.iter().all(|text| text.len() <= LONGEST), "{}", all.len());
        let mut marks = MarksAsText::default();
        let frame = Frame { unit: Unit::Millimetre, ..Frame::default() };
        for text in [unit_text(Unit::Millimetre)].iter().chain(&all).chain(&texts("post", "P1", &[])) {
            marks.add(text, &frame, Origin::default());
        }
        assert_eq!((marks.unit, marks.ours.len()), (Some(Unit::Millimetre), 2));
        let [panel, post] = &marks.ours[..] else { panic!("two objects") };
        assert_eq!((panel.kind.as_str(), panel.id.as_str(), panel.facts.len()), ("panel", "S4", facts.len()));
        for (read, written) in panel.facts.iter().zip(&facts) {
            match (read, written) {
                (Fact::At(a), Fact::At(b)) => assert!((a.x - b.x).abs() < 1e-7 && (a.y - b.y).abs() < 1e-7),
                (a, b) => assert_eq!(a, b),
            }
        }
        assert!(post.insert && post.id == "P1");
    }
}
