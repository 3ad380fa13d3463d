//! How long a bay the sticks that a system sells can fill.

use crate::base::Length;
use crate::catalog::{MemberRole, Settings, Stocked};

use super::slope::Slope;

/// The longest stick that a member can be cut from, less what is trimmed.
fn longest_stick(settings: &Settings, role: MemberRole, is_raked: bool) -> Option<Length> {
    let system = &settings.system;
    let kits = system.kits.iter().filter(|kit| kit.serves.fits(is_raked) && kit.holds(role)).map(|kit| kit.length);
    let stock = system.stock.iter().filter(|s| s.member == Stocked::from(role)).map(|s| s.length);
    kits.chain(stock).max().map(|longest| longest - settings.shop.trim * 2)
}

/// The longest clear length whose members can be cut from tip to tip, with the tangent of its saw angles, summed over both
/// ends; `None` where nothing is sold. A plumb cut takes a member's height times the slope more.
pub fn reach(settings: &Settings, slope: Option<&Slope>, tangents: f64) -> Option<Length> {
    let pitch = slope.map_or(0.0, |s| s.flight.pitch.angle().radians().abs());
    let level = settings.system.members.iter().filter_map(|member| {
        let stick = longest_stick(settings, member.role, slope.is_some())?.millimetres();
        let along = stick - member.height.millimetres() * pitch.tan();
        Length::from_millimetres(along * pitch.cos() - member.width.millimetres() / 2.0 * tangents)
    });
    level.min().map(|level| level + settings.system.end_clearance * 2)
}
