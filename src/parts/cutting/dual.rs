//! Worths of the pieces that prove a bound, in whole numbers.
//!
//! Let each piece be worth p and no filling of a stick of kind b be worth more than V(b). Then in any plan each stick
//! costs its filling's worth plus at least r(b) = cost(b) - V(b), so a plan costs at least the worth of all pieces plus
//! the r(b) of its sticks. Where r(b) would be negative and sticks are without limit, all worths are first scaled down
//! until it is not (Farley 1990, "A note on bounding a class of linear programming problems, including cutting stock
//! problems", Operations Research 38). The worths come from a linear program in floating point; what they prove does
//! not depend on it.

use super::model::{Model, Rest};

/// The worth of one stick's filling is kept below this, so that tables hold it.
const WORTH: f64 = (1_u32 << 30) as f64;

/// Worths and what they leave of each kind of stick's cost, both in 2^-`exp` of the cost unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Dual {
    /// By item.
    pub worth: Vec<i64>,
    /// By kind of stick: at least so much of its cost is above the worth of any filling.
    pub slack: Vec<i64>,
    /// Scale.
    pub exp: i32,
}

/// Worths in whole numbers, ready for a table.
pub(super) struct Scaled {
    /// Active items, in the order of the model.
    pub profits: Vec<(usize, u32)>,
    /// Scale.
    pub exp: i32,
}

/// `cost` in 2^-`exp` units, rounded down.
pub(super) fn scale(cost: i64, exp: i32) -> i64 {
    if exp >= 0 {
        let scaled = i128::from(cost) << exp.min(60);
        i64::try_from(scaled).unwrap_or(i64::MAX)
    } else {
        cost >> (-exp).min(62)
    }
}

/// 2^-`exp` units as a cost, rounded up.
fn unscale_up(value: i128, exp: i32) -> i64 {
    let cost = if exp >= 0 {
        let one = 1_i128 << exp.min(60);
        value.div_euclid(one) + i128::from(value.rem_euclid(one) > 0)
    } else {
        value << (-exp).min(62)
    };
    i64::try_from(cost).unwrap_or(if cost > 0 { i64::MAX } else { i64::MIN })
}

/// Rounds worths in cost units down to whole numbers, as fine as a table can hold.
pub(super) fn scaled(model: &Model, worths: &[(usize, f64)]) -> Scaled {
    let longest = model.longest() as f64;
    let dense = |&(item, worth): &(usize, f64)| worth * (longest / model.weight(item).max(1) as f64).max(1.0);
    let most = worths.iter().map(dense).fold(1e-9, f64::max);
    let exp = (WORTH / most).log2().floor().clamp(-40.0, 40.0) as i32;
    let factor = f64::from(exp).exp2();
    let miss = scale(model.miss, exp);
    let whole = |&(item, worth): &(usize, f64)| (item, ((worth * factor).max(0.0) as i64).min(miss).max(0) as u32);
    Scaled { profits: worths.iter().map(whole).collect(), exp }
}

impl Dual {
    /// From worths and the most that a filling of each kind of stick can be worth.
    pub fn new(model: &Model, rest: &Rest, scaled: &Scaled, mosts: &[u32]) -> Self {
        let costs: Vec<i64> = model.bins.iter().map(|b| scale(b.cost, scaled.exp)).collect();
        // The smallest cost / most of all kinds without limit, where it is below 1.
        let mut ratio = (1_i64, 1_i64);
        for ((&cost, &most), &high) in costs.iter().zip(mosts).zip(&rest.high) {
            let most = i64::from(most);
            if high == u32::MAX
                && cost < most
                && i128::from(cost) * i128::from(ratio.1) < i128::from(ratio.0) * i128::from(most)
            {
                ratio = (cost, most);
            }
        }
        let down = |v: i64| i64::try_from(i128::from(v) * i128::from(ratio.0) / i128::from(ratio.1)).unwrap_or(0);
        let mut worth = vec![0; model.items.len()];
        for &(item, profit) in &scaled.profits {
            if let Some(w) = worth.get_mut(item) {
                *w = down(i64::from(profit));
            }
        }
        // Each rounded-down worth is at most the true one, so a filling is worth at most the scaled `most`.
        let slack =
            costs.iter().zip(mosts).map(|(cost, most)| cost - down(i64::from(*most)) - i64::from(ratio != (1, 1)));
        let slack = slack.zip(&rest.high).map(|(s, high)| if *high == u32::MAX { s.max(0) } else { s }).collect();
        Self { worth, slack, exp: scaled.exp }
    }

    /// Worth of what one stick is cut into.
    pub fn value(&self, takes: &[(usize, u32)]) -> i64 {
        takes.iter().map(|&(item, count)| self.worth.get(item).copied().unwrap_or(0) * i64::from(count)).sum()
    }

    /// What any plan for `rest` costs at least; `rest` may have less left than what the worths were found for.
    pub fn bound(&self, rest: &Rest) -> i64 {
        rest.spent.saturating_add(unscale_up(self.total(rest), self.exp))
    }

    /// The same without what is spent and without rounding, to compare bounds.
    pub fn exactly(&self, rest: &Rest) -> f64 {
        self.total(rest) as f64 * f64::from(-self.exp).exp2()
    }

    /// The bound of what is left, in this scale.
    pub fn total(&self, rest: &Rest) -> i128 {
        let lost = |(slack, high): (&i64, &u32)| i128::from(*slack).min(0) * i128::from(*high);
        self.pieces(rest) + self.slack.iter().zip(&rest.high).map(lost).sum::<i128>()
    }

    /// Worth of the pieces left.
    pub fn pieces(&self, rest: &Rest) -> i128 {
        self.worth.iter().zip(&rest.demand).map(|(w, d)| i128::from(*w) * i128::from(*d)).sum()
    }

    /// The most that a filling of a kind of stick can be worth.
    pub fn most(&self, model: &Model, bin: usize) -> i64 {
        scale(model.cost(bin), self.exp).saturating_sub(self.slack.get(bin).copied().unwrap_or(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_round_to_the_safe_side() {
        assert_eq!((scale(3, 2), scale(13, -2), scale(-1, -1)), (12, 3, -1));
        assert_eq!((unscale_up(13, 2), unscale_up(12, 2), unscale_up(-1, 2), unscale_up(3, -2)), (4, 3, 0, 12));
    }
}
