//! What loads come to at the posts and rails of a layout: information for who designs the fastening, never a design.

use crate::base::{Length, Measure, decimal};
use crate::parts::Layout;

/// Concentrated load on the top of a guard, in any direction: 200 lb. IRC table R301.5, IBC 1607; other codes ask for
/// other loads, so what follows from it says whose it is.
const TOP_LOAD_LB: f64 = 200.0;
/// One pound-force inch in newton metres (exact: 0.453 592 37 kg, 9.806 65 m/s², 0.025 4 m).
const NEWTON_METRES: f64 = 0.453_592_37 * 9.806_65 * 0.025_4;

/// What stands beside every number of this kind.
pub const NO_DESIGN: &str = "Loads shown are information, never a design: the rail system manufacturer's listing and the \
                             local code decide.";

/// A bending moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// In pound-force inches.
    pub pound_inches: f64,
}

impl Moment {
    /// In newton metres.
    pub fn newton_metres(self) -> f64 {
        self.pound_inches * NEWTON_METRES
    }

    /// In the job's units.
    pub fn text(self, measure: Measure) -> String {
        if measure.unit.is_imperial() {
            format!("{} lb-in", decimal(self.pound_inches, 0))
        } else {
            format!("{} N m", decimal(self.newton_metres(), 0))
        }
    }
}

/// What a load comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LoadValue {
    /// A bending moment.
    Moment(Moment),
    /// By how much something may give way.
    Deflection(Length),
}

/// One number about loads.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// What it is, with the measures that it stands on.
    pub what: String,
    /// Where the load or the formula comes from.
    pub basis: &'static str,
    /// The number.
    pub value: LoadValue,
}

impl Load {
    /// Its number in the job's units.
    pub fn text(&self, measure: Measure) -> String {
        match self.value {
            LoadValue::Moment(moment) => moment.text(measure),
            LoadValue::Deflection(length) => measure.with_unit(length),
        }
    }
}

/// Moment at the foot of a post from the concentrated load on the rail at `height`: force times lever.
fn post_base(height: Length) -> Moment {
    Moment { pound_inches: TOP_LOAD_LB * height.inches() }
}

/// Moment in the middle of a rail, simply supported over `span`, from the concentrated load there: P·L/4.
fn rail(span: Length) -> Moment {
    Moment { pound_inches: TOP_LOAD_LB * span.inches() / 4.0 }
}

/// Deflection at the middle of the top rail that ASTM E985 (withdrawn 2015) allowed: h/24 + L/96.
fn rail_deflection(height: Length, span: Length) -> Length {
    height / 24 + span / 96
}

/// Numbers for the tallest panel and the longest span of a layout; none without panels. What takes the couple at a
/// post's foot is not in the layout, so no bolt force is shown.
pub fn loads(layout: &Layout) -> Vec<Load> {
    let shown = |length: Length| layout.measure.with_unit(length);
    let tallest = layout.panels.iter().map(|at| at.panel.height).max();
    let longest = layout.panels.iter().map(|at| at.span.clear).max();
    let (Some(height), Some(span)) = (tallest, longest) else { return Vec::new() };
    // Both at their largest on one panel.
    let softest = layout.panels.iter().max_by_key(|at| rail_deflection(at.panel.height, at.span.clear));
    let top_load = "200 lb on the top, IRC table R301.5";
    let mut rows = vec![
        Load {
            what: format!("moment at the foot of a post, rail top at {}", shown(height)),
            basis: top_load,
            value: LoadValue::Moment(post_base(height)),
        },
        Load {
            what: format!("moment in a rail of {} clear, simply supported", shown(span)),
            basis: top_load,
            value: LoadValue::Moment(rail(span)),
        },
    ];
    rows.extend(softest.map(|at| Load {
        what: format!("deflection of a top rail at {} over {} clear", shown(at.panel.height), shown(at.span.clear)),
        basis: "at most height/24 + span/96, ASTM E985 (withdrawn 2015)",
        value: LoadValue::Deflection(rail_deflection(at.panel.height, at.span.clear)),
    }));
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::{Mark, Unit};

    fn inches(value: i64) -> Length {
        Length::INCH * value
    }

    /// 200 lb (IRC table R301.5) at 36 and 42 in, and in the middle of 72 in: closed forms.
    #[test]
    fn moments_of_the_top_load() {
        assert_eq!(post_base(inches(36)).pound_inches, 7_200.0);
        assert_eq!(post_base(inches(42)).pound_inches, 8_400.0);
        assert_eq!(rail(inches(72)).pound_inches, 3_600.0);
        assert!((post_base(inches(36)).newton_metres() - 813.49).abs() < 0.01);
        let metric = Measure { unit: Unit::Millimetre, mark: Mark::MILLIMETRE };
        assert_eq!(post_base(inches(36)).text(metric), "813 N m");
    }

    /// ASTM E985 (withdrawn 2015): h/24 + L/96.
    #[test]
    fn deflections_of_the_withdrawn_standard() {
        assert_eq!(rail_deflection(inches(36), inches(72)), Length::INCH.fraction(9, 4));
        assert_eq!(rail_deflection(inches(42), inches(96)), Length::INCH.fraction(11, 4));
    }
}
