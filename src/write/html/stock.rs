//! How each stick is used: one bar a stick, with its pieces, saw cuts and rest, all to one scale.

use serde::Serialize;

use super::Report;
use super::both::Both;
use crate::base::{Length, decimal};
use crate::parts::{Source, Stick};

/// Width of the longest stick; a row of the template is as wide.
const WIDTH: f64 = 1000.0;
/// Room that a character of a label needs in its bar.
const CHARACTER: f64 = 9.5;
/// A saw cut is not drawn thinner than this, or it could not be seen.
const CUT: f64 = 2.0;

/// A stick.
#[derive(Serialize)]
pub(super) struct Bar {
    pub number: usize,
    pub name: String,
    pub member: &'static str,
    pub length: Both,
    pub width: String,
    pub pieces: Vec<Piece>,
    pub cuts: Vec<[String; 2]>,
    pub rest: Option<Piece>,
    pub kept: bool,
}

/// A piece, or the rest.
#[derive(Serialize)]
pub(super) struct Piece {
    /// Panel or handrail.
    pub of: String,
    pub x: String,
    pub middle: String,
    pub width: String,
    pub length: Both,
    /// What fits into it: id and length, the id alone, or nothing.
    pub label: Option<Both>,
}

/// Every stick in the order of the cut plan.
pub(super) fn bars(report: &Report<'_>) -> Vec<Bar> {
    let sticks = &report.own.layout.cut_plan.sticks;
    let longest = sticks.iter().map(|s| s.length).max().unwrap_or(Length::INCH).millimetres().max(1.0);
    (1..).zip(sticks).map(|(number, stick)| bar(report, number, stick, WIDTH / longest)).collect()
}

fn bar(report: &Report<'_>, number: usize, stick: &Stick, scale: f64) -> Bar {
    let place = |length: Length| length.millimetres() * scale;
    let piece = |of: &str, at: Length, length: Length| {
        let (x, width) = (place(at), place(length));
        let shown = report.both(|m| m.mark_text(length));
        let long = report.both(|m| format!("{of} {}", m.mark_text(length)));
        let fits = |text: &str| text.chars().count() as f64 * CHARACTER < width;
        let label = if fits(&long.own) && long.alt.as_deref().is_none_or(fits) {
            Some(long)
        } else {
            fits(of).then(|| Both { own: of.to_owned(), alt: None })
        };
        let middle = decimal(x + width / 2.0, 2);
        Piece { of: of.to_owned(), x: decimal(x, 2), middle, width: decimal(width, 2), length: shown, label }
    };
    // What lies between two pieces, and before the rest, the saw takes.
    let mut cuts = Vec::new();
    let mut end = Length::ZERO;
    let rest_at = stick.length - stick.offcut;
    let ends = stick.pieces.iter().map(|p| (p.at, p.at + p.length));
    for (from, to) in ends.chain([(rest_at, stick.length)]) {
        if from > end {
            let width = place(from - end);
            let drawn = width.max(CUT);
            cuts.push([decimal(place(end) - (drawn - width) / 2.0, 2), decimal(drawn, 2)]);
        }
        end = to;
    }
    Bar {
        number,
        name: match stick.source {
            Source::Kit(number) => format!("{}, no. {number}", stick.stock),
            Source::Stock => stick.stock.clone(),
            Source::OnHand => "on hand".to_owned(),
        },
        member: stick.member.text(),
        length: report.both(|m| m.mark_text(stick.length)),
        width: decimal(place(stick.length), 2),
        pieces: stick.pieces.iter().map(|p| piece(&p.of, p.at, p.length)).collect(),
        cuts,
        rest: (stick.offcut > Length::ZERO).then(|| piece("rest", rest_at, stick.offcut)),
        kept: stick.kept,
    }
}
