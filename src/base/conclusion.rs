//! What all findings of a job come to, in a word and in a sentence: every output says it from here, so that all say the same.

use super::{Finding, Frame, Place, Severity, decimal};

/// What all findings of a job come to: a yes must be earned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conclusion {
    /// All that was drawn is laid out, and all limits that were checked hold.
    Complete,
    /// All that was drawn is laid out, and a limit is broken.
    LimitsBroken,
    /// Something that was drawn is not laid out, whatever the limits say of the rest.
    Incomplete,
}

impl Conclusion {
    /// By all findings of a job.
    pub fn of(findings: &[Finding]) -> Self {
        if !is_complete(findings) {
            Self::Incomplete
        } else if limits_hold(findings) {
            Self::Complete
        } else {
            Self::LimitsBroken
        }
    }

    /// Its words in lines that tell more.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Complete => "complete",
            Self::LimitsBroken => "limits broken",
            Self::Incomplete => "incomplete",
        }
    }
}

/// Whether all that was drawn is laid out: no finding says that something is missing.
pub fn is_complete(findings: &[Finding]) -> bool {
    findings.iter().all(|f| f.severity != Severity::Incomplete)
}

/// Whether every limit holds that was checked: no finding is an error.
pub fn limits_hold(findings: &[Finding]) -> bool {
    findings.iter().all(|f| f.severity != Severity::Error)
}

/// The sentence that stands above all that was found. `unchecked` is how many limits were not checked; the frame, where
/// there is one, gives places in drawing units.
///
/// # Examples
/// ```
/// use plumbrail::base::headline;
/// assert_eq!(headline(&[], 3, None), "complete, all checked limits met (3 not checked)");
/// ```
pub fn headline(findings: &[Finding], unchecked: usize, frame: Option<&Frame>) -> String {
    let all = |severity| findings.iter().filter(move |f| f.severity == severity);
    let count = |severity| all(severity).map(|f| f.count).sum::<usize>();
    let (missing, broken) = (count(Severity::Incomplete), count(Severity::Error));
    match Conclusion::of(findings) {
        Conclusion::Complete => format!("complete, all checked limits met ({unchecked} not checked)"),
        Conclusion::LimitsBroken => {
            let first = all(Severity::Error).next().map_or_else(String::new, |f| told(f, frame));
            format!("limits broken: {broken} (first: {first})")
        }
        Conclusion::Incomplete => {
            let first = all(Severity::Incomplete).next();
            let mut text = format!("incomplete: {}", first.map_or_else(String::new, |f| told(f, frame)));
            match missing - first.map_or(0, |f| f.count) {
                0 => {}
                more => text.push_str(&format!("; and {more} more")),
            }
            if broken > 0 {
                text.push_str(&format!(". Limits are broken, too: {broken}"));
            }
            text
        }
    }
}

fn told(finding: &Finding, frame: Option<&Frame>) -> String {
    // A sentence goes on behind it.
    format!("{}{}", finding.message.trim_end_matches('.'), spot(&finding.place, frame))
}

/// Where, in brackets behind a message; empty where nothing is known of it.
pub fn spot(place: &Place, frame: Option<&Frame>) -> String {
    let at = place.at.zip(frame).map(|(at, frame)| {
        let at = frame.to_drawing(at);
        format!("at {}, {}", decimal(at.x, 3), decimal(at.y, 3))
    });
    let parts = [
        place.panel.as_ref().map(|p| format!("panel {p}")),
        place.post.as_ref().map(|p| format!("post {p}")),
        place.handle.map(|h| format!("handle {h:X}")),
        place.layer.as_ref().map(|l| format!("layer {l}")),
        at,
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { String::new() } else { format!(" ({})", parts.join(", ")) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::routine::MOST_ALIKE;
    use crate::base::{Code, capped, plane::point};

    #[test]
    fn each_state_has_its_sentence() {
        let missing = |text: &str| Finding::incomplete(Code::StairNotLaidOut, Place::none(), text);
        let broken = |text: &str| Finding::error(Code::OpeningTooWide, Place::panel("S3"), text);
        let warned = Finding::warning(Code::NotChecked, Place::none(), "not checked");
        let said = |findings: &[Finding]| (Conclusion::of(findings).words(), headline(findings, 0, None));
        let all = |word, text: &str| (word, text.to_owned());
        assert_eq!(said(&[warned]), all("complete", "complete, all checked limits met (0 not checked)"));
        assert_eq!(
            said(&[broken("5 in found."), broken("6 in found")]),
            all("limits broken", "limits broken: 2 (first: 5 in found (panel S3))")
        );
        assert_eq!(said(&[missing("a stair is not read")]), all("incomplete", "incomplete: a stair is not read"));
        assert_eq!(
            said(&[broken("5 in found"), missing("a stair"), missing("a gate"), missing("a wall")]),
            all("incomplete", "incomplete: a stair; and 2 more. Limits are broken, too: 1")
        );
    }

    #[test]
    fn what_is_told_in_one_counts_as_many() {
        let broken = Finding::error(Code::OpeningTooWide, Place::panel("S3"), "5 in found");
        let all = capped(vec![broken; 3 * MOST_ALIKE]);
        assert_eq!(
            headline(&all, 0, None),
            format!("limits broken: {} (first: 5 in found (panel S3))", 3 * MOST_ALIKE)
        );
        let missing = Finding::incomplete(Code::StairNotLaidOut, Place::none(), "a stair");
        let all = capped(vec![missing; 3 * MOST_ALIKE]);
        assert_eq!(headline(&all, 0, None), format!("incomplete: a stair; and {} more", 3 * MOST_ALIKE - 1));
    }

    #[test]
    fn a_place_is_told_in_drawing_units() {
        let place = Place { handle: Some(0x1f), layer: Some("STAIR".to_owned()), ..Place::at(point(25.4, 50.8)) };
        let frame = Frame { origin: point(100.0, 0.0), ..Frame::default() };
        let at = frame.to_drawing(point(25.4, 50.8));
        let told = format!(" (handle 1F, layer STAIR, at {}, {})", decimal(at.x, 3), decimal(at.y, 3));
        assert_eq!(spot(&place, Some(&frame)), told);
        assert_eq!(spot(&place, None), " (handle 1F, layer STAIR)");
        assert_eq!(spot(&Place::none(), Some(&frame)), "");
    }
}
