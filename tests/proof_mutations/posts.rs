//! Spoilings of posts and runs, and of what holds for the whole layout.

use plumbrail::base::plane::{left, point, unit};
use plumbrail::base::{Angle, Length, Mark, Point};
use plumbrail::guard::{Post, PostKind, PostOrigin};
use plumbrail::parts::Layout;

use super::{Spoiling, add, bit};

const KINDS: [PostKind; 4] = [PostKind::End, PostKind::Corner, PostKind::Line, PostKind::Stair];

/// All of them.
pub fn list() -> Vec<Spoiling> {
    let mut list = Vec::new();
    for kind in KINDS {
        posts(&mut list, kind);
    }
    runs(&mut list);
    whole(&mut list);
    list
}

fn on(
    list: &mut Vec<Spoiling>,
    kind: PostKind,
    name: &str,
    change: impl Fn(&mut Post, Length) -> Option<()> + 'static,
) {
    add(list, format!("{name} ({} post)", kind.text()), move |layout| {
        let bit = bit(layout);
        change(layout.posts.iter_mut().find(|post| post.kind == kind)?, bit)
    });
}

fn posts(list: &mut Vec<Spoiling>, kind: PostKind) {
    let ways = [("east", 1.0, 0.0), ("west", -1.0, 0.0), ("north", 0.0, 1.0), ("south", 0.0, -1.0)];
    for (way, x, y) in ways {
        // Far enough that what runs past a post's face is no longer on it.
        on(list, kind, &format!("2 in to the {way}"), move |post, bit| {
            post.at = post.at + point(x, y) * (bit * 16).millimetres();
            Some(())
        });
    }
    // Along the rail that it holds, the least bit matters.
    for (way, sign) in [("to", 1.0), ("from", -1.0)] {
        add(list, format!("1/8 in {way} its panel ({} post)", kind.text()), move |layout| {
            let bit = bit(layout).millimetres();
            let i = layout.posts.iter().position(|post| post.kind == kind)?;
            let panel =
                layout.panels.iter().find(|at| at.span.from.post() == Some(i) || at.span.to.post() == Some(i))?;
            let along = unit(panel.span.right - panel.span.left);
            let along = if panel.span.from.post() == Some(i) { along } else { -along };
            let post = layout.posts.get_mut(i)?;
            post.at = post.at + along * (sign * bit);
            Some(())
        });
    }
    on(list, kind, "turned by 2 degrees", |post, _| {
        post.rotation = post.rotation + Angle::from_degrees(2.0);
        Some(())
    });
    on(list, kind, "turned by 45 degrees", |post, _| {
        post.rotation = post.rotation + Angle::from_degrees(45.0);
        Some(())
    });
    on(list, kind, "1/8 in wider", |post, bit| {
        post.side += bit;
        Some(())
    });
    on(list, kind, "1/8 in narrower", |post, bit| {
        post.side -= bit;
        Some(())
    });
    on(list, kind, "1/2 in lower", |post, bit| {
        post.height -= bit * 4;
        Some(())
    });
    on(list, kind, "of no height", |post, _| {
        post.height = Length::ZERO;
        Some(())
    });
    on(list, kind, "gone", |post, _| {
        post.at = post.at + point(1e6, 1e6);
        Some(())
    });
    on(list, kind, "named like another", |post, _| {
        post.id = if post.id == "P1" { "P2" } else { "P1" }.to_owned();
        Some(())
    });
}

fn runs(list: &mut Vec<Spoiling>) {
    add(list, "a corner of the rail line 6 in off", |layout| {
        let line = &mut layout.runs.first_mut()?.line;
        let i = line.len() / 2;
        line.get_mut(i).map(|p| *p = *p + point(150.0, 150.0))
    });
    add(list, "the rail line goes on", |layout| {
        let run = layout.runs.first_mut().filter(|run| !run.closed)?;
        let end: Point = *run.line.last()?;
        let before = *run.line.get(run.line.len().checked_sub(2)?)?;
        run.line.push(end + left(unit(end - before)) * 500.0);
        Some(())
    });
    add(list, "an open run closed, or a closed one open", |layout| {
        let run = layout.runs.first_mut().filter(|run| run.line.len() > 2)?;
        run.closed = !run.closed;
        Some(())
    });
    add(list, "a run without its line", |layout| layout.runs.first_mut().map(|run| run.line.clear()));
    add(list, "a run left out", |layout| layout.runs.pop().map(drop));
    add(list, "the run of a flight called level", |layout| {
        layout.runs.iter_mut().find_map(|run| run.flight.take()).map(drop)
    });
    add(list, "the run of a flight given to another", |layout| {
        layout.runs.iter_mut().find_map(|run| run.flight.as_mut()).map(|flight| *flight += 1)
    });
}

fn whole(list: &mut Vec<Spoiling>) {
    add(list, "no panels", |layout: &mut Layout| {
        layout.panels.clear();
        Some(())
    });
    add(list, "two posts exchanged", |layout| {
        let at = layout.posts.first()?.at;
        let last = layout.posts.last_mut()?;
        let other = std::mem::replace(&mut last.at, at);
        layout.posts.first_mut().map(|post| post.at = other)
    });
    add(list, "a tolerance of an inch", |layout| {
        layout.tolerance = Length::INCH;
        Some(())
    });
    add(list, "marks of an inch", |layout| {
        layout.measure.mark = Mark::new(Length::INCH)?;
        Some(())
    });
    add(list, "a drawn post called planned, so that its sleeve is to buy", |layout| {
        let post = layout.posts.iter_mut().find(|post| post.origin == PostOrigin::Drawn)?;
        post.origin = PostOrigin::Planned;
        Some(())
    });
}
