//! Lengths within a sentence, in one unit: a length is exact in whichever unit it was stated, and the words of a finding are
//! made where the job's unit is not known.

use super::{Length, Measure};

/// The sentence with its lengths in the unit of `other`. What is told in both units already stays.
pub fn in_unit(sentence: &str, other: &Measure) -> String {
    rewritten(sentence, other, &|_| true)
}

/// The sentence with the lengths that are in the other trade's unit in that of the job; all else stays as it is, and so do
/// the words that are quoted from the drawing.
pub fn in_one_unit(sentence: &str, job: &Measure) -> String {
    let strange = if job.unit.is_imperial() { "mm" } else { "in" };
    if !sentence.contains(strange) {
        return sentence.to_owned();
    }
    // What shows how lengths are written keeps its units, and so does what is quoted: every second part stands in backticks.
    if let Some((told, shown)) = sentence.split_once("for example") {
        return format!("{}for example{shown}", in_one_unit(told, job));
    }
    let parts = sentence.split('`').enumerate();
    let parts =
        parts.map(|(i, part)| if i % 2 == 1 { part.to_owned() } else { rewritten(part, job, &|unit| unit == strange) });
    parts.collect::<Vec<_>>().join("`")
}

fn rewritten(sentence: &str, other: &Measure, is_meant: &dyn Fn(&str) -> bool) -> String {
    let mut out = String::with_capacity(sentence.len());
    let words: Vec<&str> = sentence.split_inclusive(' ').collect();
    let mut at = 0;
    while let Some(word) = words.get(at) {
        let next = words.get(at + 1).copied().unwrap_or_default();
        let (before, core, after) = bare(word);
        let length = with_sign(core).filter(|_| !next.starts_with('(') || with_sign(bare(next).1).is_none());
        let length = length.filter(|_| is_meant(if core.ends_with("mm") { "mm" } else { "in" }));
        let apart = after == " " && number(core) && unit_ends(core, next) && is_meant(bare(next).1);
        let apart = apart && !is_told_twice(&words, at);
        if let Some(length) = length.filter(|_| !is_second(&words, at)) {
            out.push_str(&format!("{before}{}{after}", other.with_unit(length)));
        } else if let Some(length) = Length::parse(&format!("{core}{}", bare(next).1), None).ok().filter(|_| apart) {
            out.push_str(&format!("{before}{}{}", other.with_unit(length), bare(next).2));
            at += 1;
        } else {
            out.push_str(word);
        }
        at += 1;
    }
    out
}

/// A word, and the signs that stand before and behind it.
fn bare(word: &str) -> (&str, &str, &str) {
    let start = word.len() - word.trim_start_matches(['(', '`', '[']).len();
    let (before, rest) = word.split_at(start);
    let core = rest.trim_end_matches([' ', ',', '.', ';', ':', ')', '`', ']']);
    let (core, after) = rest.split_at(core.len());
    (before, core, after)
}

/// A length with its unit, as our own messages write it.
fn with_sign(word: &str) -> Option<Length> {
    let value = word.strip_suffix("in").or_else(|| word.strip_suffix("mm"))?;
    number(value).then(|| Length::parse(word, None).ok()).flatten()
}

fn number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    digits.starts_with(|c: char| c.is_ascii_digit()) && digits.chars().all(|c| c.is_ascii_digit() || "./-".contains(c))
}

/// Whether the next word is the unit of a number. `in` is a word as well: it is a unit behind a decimal, and before a stop.
fn unit_ends(number: &str, next: &str) -> bool {
    let (before, unit, after) = bare(next);
    let is_stop = number.contains('.') || after.starts_with([',', '.', ';', ':', ')']) || after.is_empty();
    before.is_empty() && (unit == "mm" || unit == "in" && is_stop)
}

/// Whether this number with its unit apart is told in both units: `1.05 in (26.7 mm)`.
fn is_told_twice(words: &[&str], at: usize) -> bool {
    let is_one = |at: usize| {
        let unit = words.get(at + 1).map_or("", |word| bare(word).1);
        words.get(at).is_some_and(|word| number(bare(word).1)) && ["in", "mm"].contains(&unit)
    };
    let is_aside = |at: usize| words.get(at).is_some_and(|word| word.starts_with('(')) && is_one(at);
    is_one(at) && is_aside(at + 2) || is_aside(at) && at.checked_sub(2).is_some_and(is_one)
}

/// Whether this is the other unit of the length before it: `1.05in (26.7mm)`.
fn is_second(words: &[&str], at: usize) -> bool {
    let is_aside = words.get(at).is_some_and(|word| word.starts_with('('));
    is_aside && at.checked_sub(1).and_then(|i| words.get(i)).is_some_and(|word| with_sign(bare(word).1).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::{Mark, Unit};

    #[test]
    fn lengths_are_told_in_the_other_unit_and_all_else_stays() {
        let measure = |unit, mark: &str| Measure { unit, mark: Mark::new(Length::parse(mark, None).unwrap()).unwrap() };
        let (metric, imperial) = (measure(Unit::Millimetre, "1mm"), measure(Unit::Inch, "1/16in"));
        for (own, other) in [
            ("moved: 29-11/16in -> 27-7/16in, 60-1/2in.", "moved: 754.0625 mm -> 696.9125 mm, 1536.7 mm."),
            ("S1 is 63in on site (7in less)", "S1 is 1600.2 mm on site (177.8 mm less)"),
            ("stands 1.08in (27.5mm) off the line", "stands 1.08in (27.5mm) off the line"),
            ("limit 4 in, found 4.0625 in here", "limit 101.6 mm, found 103.1875 mm here"),
            ("1 in 4 runs, 3 in the wall; -1/2in", "1 in 4 runs, 3 in the wall; -12.7 mm"),
            ("layer A-5in, 3in-wide, in 2021, R312.1.3 in", "layer A-5in, 3in-wide, in 2021, R312.1.3 in"),
        ] {
            assert_eq!(in_unit(own, &metric), other);
        }
        assert_eq!(in_unit("from 254mm to 508 mm", &imperial), "from 10 in to 20 in");
        assert_eq!(in_unit("", &imperial), "");
    }

    #[test]
    fn no_sentence_of_a_job_mixes_units() {
        let measure = |unit, mark: &str| Measure { unit, mark: Mark::new(Length::parse(mark, None).unwrap()).unwrap() };
        let (metric, imperial) = (measure(Unit::Millimetre, "1mm"), measure(Unit::Inch, "1/16in"));
        for (own, in_inches, in_mm) in [
            (
                "stand 113.578409mm on centre instead of 4-1/2in",
                "stand 4.4716 in on centre instead of 4-1/2in",
                "stand 113.578409mm on centre instead of 114.3 mm",
            ),
            (
                "5.91 in (150.1 mm) off, more than 100mm",
                "5.91 in (150.1 mm) off, more than 3.937 in",
                "5.91 in (150.1 mm) off, more than 100mm",
            ),
            (
                "a text `12 mm and 4in` is no size",
                "a text `12 mm and 4in` is no size",
                "a text `12 mm and 4in` is no size",
            ),
            (
                "10mm: write for example 63in or 1600mm",
                "0.3937 in: write for example 63in or 1600mm",
                "10mm: write for example 63in or 1600mm",
            ),
            ("moved: 29in -> 100.5 mm", "moved: 29in -> 3.9567 in", "moved: 736.6 mm -> 100.5 mm"),
        ] {
            assert_eq!((in_one_unit(own, &imperial).as_str(), in_one_unit(own, &metric).as_str()), (in_inches, in_mm));
        }
    }
}
