//! x
use super::Drawing;
use crate::base::Finding;
use crate::parts::Layout;
pub const CAUTIONS: [&str; 1] = ["x"];
pub fn tables(layout: &Layout, findings: &[Finding]) -> Drawing {
    super::plan(layout, findings)
}
