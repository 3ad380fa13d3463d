//! Spoilings of panels: level ones, ones that meet a face at an angle, and raked ones.

use plumbrail::base::{Angle, Length};
use plumbrail::catalog::{BalusterStyle, MemberRole};
use plumbrail::guard::Support;
use plumbrail::panel::{BracketAt, BracketKind, Cut, Panel};
use plumbrail::parts::{Layout, LayoutPanel};

use super::{Spoiling, add, bit};

type Which = (&'static str, fn(&LayoutPanel) -> bool);

/// Kinds of panels; the last one of each kind is spoiled.
const KINDS: [Which; 3] = [
    ("level", |at| at.span.rake.is_none() && at.span.skew_left == Angle::ZERO && at.span.skew_right == Angle::ZERO),
    ("angled", |at| at.span.skew_left != Angle::ZERO || at.span.skew_right != Angle::ZERO),
    ("raked", |at| at.span.rake.is_some()),
];

/// All of them.
pub fn list() -> Vec<Spoiling> {
    let mut list = Vec::new();
    for which in KINDS {
        marks(&mut list, which);
        figures(&mut list, which);
        for role in [MemberRole::SupportRail, MemberRole::BottomRail, MemberRole::TopRail, MemberRole::Cap] {
            cuts(&mut list, which, role);
        }
        blocks(&mut list, which);
        cap_screws(&mut list, which);
        brackets(&mut list, which);
        spans(&mut list, which);
        whole(&mut list, which);
    }
    list
}

/// Adds one that changes the panel, given 1/8 in.
fn on(
    list: &mut Vec<Spoiling>,
    (kind, is_one): Which,
    name: &str,
    change: impl Fn(&mut LayoutPanel, Length) -> Option<()> + 'static,
) {
    add(list, format!("{name} ({kind})"), move |layout| {
        let bit = bit(layout);
        change(layout.panels.iter_mut().rev().find(|at| is_one(at))?, bit)
    });
}

/// The same for what the panel stage builds.
fn built(
    list: &mut Vec<Spoiling>,
    which: Which,
    name: &str,
    change: impl Fn(&mut Panel, Length) -> Option<()> + 'static,
) {
    on(list, which, name, move |at, bit| change(&mut at.panel, bit));
}

fn marks(list: &mut Vec<Spoiling>, which: Which) {
    type Pick = fn(&mut Panel) -> Option<usize>;
    let places: [(&str, Pick); 3] = [
        ("first", |_| Some(0)),
        ("middle", |p| Some(p.balusters.marks.len() / 2)),
        ("last", |p| p.balusters.marks.len().checked_sub(1)),
    ];
    for (place, pick) in places {
        for (way, sign) in [("right", 1), ("left", -1)] {
            built(list, which, &format!("{place} baluster 1/8 in to the {way}"), move |p, bit| {
                let i = pick(p)?;
                p.balusters.marks.get_mut(i).map(|mark| *mark += bit * sign)
            });
        }
        built(list, which, &format!("{place} baluster dropped"), move |p, _| {
            let i = pick(p)?;
            (i < p.balusters.marks.len()).then(|| p.balusters.marks.remove(i)).map(|_| ())
        });
        built(list, which, &format!("{place} baluster twice"), move |p, _| {
            let i = pick(p)?;
            let mark = *p.balusters.marks.get(i)?;
            p.balusters.marks.insert(i, mark);
            Some(())
        });
    }
    built(list, which, "one baluster more, in a gap", |p, _| {
        let (a, b) = (*p.balusters.marks.get(1)?, *p.balusters.marks.get(2)?);
        p.balusters.marks.insert(2, (a + b) / 2);
        Some(())
    });
    built(list, which, "two balusters in the wrong order", |p, _| {
        (p.balusters.marks.len() > 3).then(|| p.balusters.marks.swap(1, 2))
    });
    for (way, sign) in [("right", 1), ("left", -1)] {
        built(list, which, &format!("all balusters 1/8 in to the {way}"), move |p, bit| {
            p.balusters.marks.iter_mut().for_each(|mark| *mark += bit * sign);
            Some(())
        });
    }
    built(list, which, "a baluster off the grid", |p, bit| p.balusters.marks.get_mut(1).map(|mark| *mark += bit / 5));
    built(list, which, "no balusters", |p, _| {
        p.balusters.marks.clear();
        Some(())
    });
}

fn figures(list: &mut Vec<Spoiling>, which: Which) {
    type Figure = fn(&mut Panel) -> &mut Length;
    let all: [(&str, Figure); 11] = [
        ("span", |p| &mut p.span),
        ("rail length", |p| &mut p.length),
        ("left clearance", |p| &mut p.clearance_left),
        ("right clearance", |p| &mut p.clearance_right),
        ("height", |p| &mut p.height),
        ("bottom gap", |p| &mut p.bottom_gap),
        ("baluster length", |p| &mut p.balusters.length),
        ("baluster spacing", |p| &mut p.balusters.spacing),
        ("left end gap", |p| &mut p.balusters.end_gap_left),
        ("right end gap", |p| &mut p.balusters.end_gap_right),
        ("widest gap", |p| &mut p.balusters.widest_gap),
    ];
    for (what, figure) in all {
        for (way, sign) in [("more", 1), ("less", -1)] {
            built(list, which, &format!("{what} 1/8 in {way}"), move |p, bit| {
                // With a single baluster there is no spacing that could be measured.
                let has_spacing = p.balusters.marks.len() > 1 || what != "baluster spacing";
                has_spacing.then(|| *figure(p) += bit * sign)
            });
        }
    }
    built(list, which, "clearance taken from one end to the other", |p, _| {
        (p.clearance_left, p.clearance_right) = (Length::ZERO, p.clearance_left + p.clearance_right);
        Some(())
    });
    built(list, which, "even gaps stated where ends differ", |p, bit| {
        let differ = (p.balusters.widest_gap - p.balusters.end_gap_left).abs() > bit;
        differ.then(|| p.balusters.style = BalusterStyle::Even)
    });
}

fn cuts(list: &mut Vec<Spoiling>, which: Which, role: MemberRole) {
    let cut = move |p: &mut Panel| p.cuts.iter().position(|cut| cut.member == role);
    type Figure = fn(&mut Cut) -> &mut Length;
    let figures: [(&str, Figure); 5] = [
        ("length", |c| &mut c.length),
        ("long point", |c| &mut c.long_point),
        ("short point", |c| &mut c.short_point),
        ("tip to tip", |c| &mut c.tip_to_tip),
        ("left tip", |c| &mut c.left_tip),
    ];
    for (what, figure) in figures {
        for (way, sign) in [("more", 1), ("less", -1)] {
            built(list, which, &format!("{what} of the {} 1/8 in {way}", role.text()), move |p, bit| {
                let i = cut(p)?;
                p.cuts.get_mut(i).map(|cut| *figure(cut) += bit * sign)
            });
        }
    }
    type Saw = fn(&mut Cut) -> &mut Angle;
    let saws: [(&str, Saw); 3] =
        [("left saw angle", |c| &mut c.left), ("right saw angle", |c| &mut c.right), ("plumb cut", |c| &mut c.plumb)];
    for (what, saw) in saws {
        built(list, which, &format!("{what} of the {} off by a degree", role.text()), move |p, _| {
            let i = cut(p)?;
            let saw = saw(p.cuts.get_mut(i)?);
            *saw = *saw + Angle::from_degrees(1.0);
            Some(())
        });
        built(list, which, &format!("{what} of the {} the other way", role.text()), move |p, _| {
            let i = cut(p)?;
            let saw = saw(p.cuts.get_mut(i)?);
            *saw = -*saw;
            Some(())
        });
    }
    built(list, which, &format!("{} not cut", role.text()), move |p, _| cut(p).map(|i| p.cuts.remove(i)).map(|_| ()));
    built(list, which, &format!("{} cut twice", role.text()), move |p, _| {
        let i = cut(p)?;
        let again = p.cuts.get(i)?.clone();
        p.cuts.insert(i, again);
        Some(())
    });
}

fn blocks(list: &mut Vec<Spoiling>, which: Which) {
    for (way, sign) in [("right", 1), ("left", -1)] {
        built(list, which, &format!("block 1/8 in to the {way}"), move |p, bit| {
            p.blocks.first_mut().map(|mark| *mark += bit * sign)
        });
        built(list, which, &format!("block 1/8 in {}", if sign > 0 { "higher" } else { "lower" }), move |p, bit| {
            p.block_heights.first_mut().map(|height| *height += bit * sign)
        });
    }
    built(list, which, "block dropped", |p, _| p.blocks.pop().and_then(|_| p.block_heights.pop()).map(|_| ()));
    built(list, which, "block without a height", |p, _| p.block_heights.pop().map(drop));
    built(list, which, "one block more", |p, _| {
        let (mark, height) = (*p.blocks.last()?, *p.block_heights.last()?);
        p.blocks.push((mark + p.length) / 2);
        p.block_heights.push(height);
        Some(())
    });
    built(list, which, "block at a baluster's screw", |p, _| {
        let mark = *p.balusters.marks.get(p.balusters.marks.len() / 2)?;
        p.blocks.first_mut().map(|block| *block = mark)
    });
}

fn cap_screws(list: &mut Vec<Spoiling>, which: Which) {
    for (way, sign) in [("right", 1), ("left", -1)] {
        built(list, which, &format!("cap screw 1/8 in to the {way}"), move |p, bit| {
            p.cap_screws.first_mut().map(|mark| *mark += bit * sign)
        });
    }
    built(list, which, "cap screw dropped", |p, _| p.cap_screws.pop().map(drop));
    built(list, which, "cap screw twice", |p, _| {
        let mark = *p.cap_screws.last()?;
        p.cap_screws.push(mark);
        Some(())
    });
    built(list, which, "cap screw at a baluster's screw", |p, _| {
        let mark = *p.balusters.marks.get(p.balusters.marks.len() / 2)?;
        p.cap_screws.first_mut().map(|screw| *screw = mark)
    });
    built(list, which, "cap screw beyond the rail", |p, bit| {
        let length = p.length;
        p.cap_screws.last_mut().map(|screw| *screw = length + bit)
    });
}

fn brackets(list: &mut Vec<Spoiling>, which: Which) {
    for (place, is_last) in [("first", false), ("last", true)] {
        let with = move |p: &mut Panel, change: &dyn Fn(&mut BracketAt)| {
            let one = if is_last { p.brackets.last_mut() } else { p.brackets.first_mut() };
            one.map(change)
        };
        for kind in [BracketKind::Level, BracketKind::Angled, BracketKind::Raked] {
            built(list, which, &format!("{place} bracket called {}", kind.text()), move |p, _| {
                with(p, &|b| b.kind = kind)
            });
        }
        built(list, which, &format!("{place} bracket at the other end"), move |p, _| with(p, &|b| b.left = !b.left));
        built(list, which, &format!("{place} bracket set back further"), move |p, bit| with(p, &|b| b.setback += bit));
        built(list, which, &format!("{place} bracket on the cap"), move |p, _| {
            with(p, &|b| b.member = MemberRole::Cap)
        });
        built(list, which, &format!("hole of the {place} bracket 1/8 in off"), move |p, bit| {
            with(p, &|b| b.holes.iter_mut().take(1).for_each(|hole| *hole += bit))
        });
        built(list, which, &format!("hole of the {place} bracket dropped"), move |p, _| {
            with(p, &|b| b.holes.truncate(b.holes.len() - 1))
        });
        built(list, which, &format!("{place} bracket removed"), move |p, _| {
            let i = if is_last { p.brackets.len().checked_sub(1)? } else { 0 };
            (i < p.brackets.len()).then(|| drop(p.brackets.remove(i)))
        });
        built(list, which, &format!("{place} bracket twice"), move |p, _| {
            let again = if is_last { p.brackets.last()? } else { p.brackets.first()? }.clone();
            p.brackets.push(again);
            Some(())
        });
    }
}

fn spans(list: &mut Vec<Spoiling>, which: Which) {
    for (way, sign) in [("more", 1), ("less", -1)] {
        on(list, which, &format!("clear distance 1/8 in {way}"), move |at, bit| {
            at.span.clear += bit * sign;
            Some(())
        });
        on(list, which, &format!("left end of the span 1/8 in {way} to the right"), move |at, bit| {
            let along = (at.span.right - at.span.left) / at.span.clear.millimetres();
            at.span.left = at.span.left + along * (bit * sign).millimetres();
            Some(())
        });
        on(list, which, &format!("right end of the span 1/8 in {way} to the right"), move |at, bit| {
            let along = (at.span.right - at.span.left) / at.span.clear.millimetres();
            at.span.right = at.span.right + along * (bit * sign).millimetres();
            Some(())
        });
    }
    on(list, which, "span beside its line", |at, _| {
        let along = (at.span.right - at.span.left) / at.span.clear.millimetres();
        let off = plumbrail::base::plane::left(along) * 12.0;
        (at.span.left, at.span.right) = (at.span.left + off, at.span.right + off);
        Some(())
    });
    on(list, which, "left skew off by a degree", |at, _| {
        at.span.skew_left = at.span.skew_left + Angle::from_degrees(1.0);
        Some(())
    });
    on(list, which, "right skew off by a degree", |at, _| {
        at.span.skew_right = at.span.skew_right - Angle::from_degrees(1.0);
        Some(())
    });
    on(list, which, "ends of the span exchanged", |at, _| {
        (at.span.from, at.span.to) = (at.span.to, at.span.from);
        Some(())
    });
    on(list, which, "ends of the line exchanged", |at, _| {
        (at.span.left, at.span.right) = (at.span.right, at.span.left);
        Some(())
    });
    on(list, which, "a wall said to stand where a post does", |at, _| {
        at.span.from.post().map(|_| at.span.from = Support::Wall)
    });
    on(list, which, "a post that is not there", |at, _| {
        at.span.to = Support::Post(10_000);
        Some(())
    });
    on(list, which, "another run", |at, _| {
        at.span.run += 1;
        Some(())
    });
}

fn whole(list: &mut Vec<Spoiling>, which: Which) {
    let (kind, is_one) = which;
    let find = move |layout: &Layout| layout.panels.iter().rposition(is_one);
    add(list, format!("panel removed ({kind})"), move |layout| find(layout).map(|i| drop(layout.panels.remove(i))));
    add(list, format!("panel twice ({kind})"), move |layout| {
        let again = layout.panels.get(find(layout)?)?.clone();
        layout.panels.push(again);
        Some(())
    });
    on(list, which, "panel of another name", |at, _| {
        at.panel.id.push('x');
        Some(())
    });
    on(list, which, "kit of no such name", |at, _| {
        at.kit = Some("another kit".to_owned());
        Some(())
    });
    on(list, which, "no kit", |at, _| at.kit.take().map(drop));
    add(list, format!("kit too short ({kind})"), move |layout| {
        let i = find(layout)?;
        let needed = layout.panels.get(i)?.panel.cuts.iter().map(|cut| cut.tip_to_tip).max()?;
        let name = layout.system.kits.iter().rfind(|kit| kit.length < needed)?.name.clone();
        layout.panels.get_mut(i)?.kit = Some(name);
        Some(())
    });
    on(list, which, "built for another opening than measured", |at, bit| {
        at.measured = Some(plumbrail::catalog::Measured { narrow: at.span.clear - bit, wide: at.span.clear });
        Some(())
    });
    on(list, which, "opening measured far wider at one height", |at, bit| {
        at.measured = Some(plumbrail::catalog::Measured { narrow: at.span.clear, wide: at.span.clear + bit * 32 });
        Some(())
    });
}
