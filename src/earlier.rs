//! What an earlier layout in the drawing was when its marks are lost: by its `layout.json`, else by what this very plan
//! gives anew.

use crate::base::{Code, Finding, Place, Refusal, Unit};
use crate::cad::{Drawing, unit_of_post};
use crate::catalog::Settings;
use crate::deck::{self, Before, Earlier, EarlierPost, LostLayout, Roles, SetBy, Unmarked};
use crate::guard::{Guard, PostOrigin};
use crate::{PlanFile, guards};

/// Finds out what the earlier layout was of which this is left; `None` when its marks tell, or there was none.
///
/// # Errors
/// When the plan is none, as [`deck::plan`].
pub fn lost(
    left: &Unmarked,
    (drawing, roles): (&Drawing, &Roles),
    file: &PlanFile<'_>,
    settings: &Settings,
) -> Result<Option<LostLayout>, Refusal> {
    if !left.is_layout() {
        return Ok(None);
    }
    let known =
        |earlier, source| Ok(Some(LostLayout { left: left.clone(), earlier, source, confirmed: file.replace_rails }));
    if left.is_part() {
        let [marks, texts] = [&drawing.ours, &drawing.marks.ours].map(|ours| Earlier::of_marks(ours));
        let best = if left.fits(&texts) > left.fits(&marks) { texts } else { marks };
        return known(best, "the marks that are left".to_owned());
    }
    let beside = || if drawing.marks.ours.is_empty() { (file.beside)() } else { None };
    if let Some(before) = file.before.cloned().or_else(beside) {
        let source = format!("the layout.json of {}", before.plan);
        let earlier = [before.scaled(&drawing.frame), before.as_written(&drawing.frame)];
        let [scaled, as_written] = earlier.each_ref().map(|earlier| left.fits(earlier));
        let [in_scale, literal] = earlier;
        // A program that scales what it reads has changed the unit rightly.
        if scaled > 0 && scaled >= as_written {
            return known(in_scale, source);
        }
        check(before.unit, || format!("layout.json of {}", before.plan), (drawing, settings), Place::none())?;
        return known(literal, source);
    }
    if let (Some(place), None) = (left.scaled(), settings.units) {
        let message = "nothing on the layer of our posts has the size of a post: the program that saved the drawing has \
                       changed its unit, or it was scaled";
        let finding = Finding::error(Code::UnitsDoubtful, place.clone(), message);
        return Err(Refusal::new(finding.hint("measure one length in the drawing, and say its unit with --units")));
    }
    if !drawing.marks.ours.is_empty() {
        let source = "the marks that it has kept as texts".to_owned();
        return known(Earlier::of_marks(&drawing.marks.ours), source);
    }
    let (bare, _) = deck::plan(drawing, roles, Before::Ignored, settings)?;
    let (guard, _) = guards(&bare, settings.measure(bare.frame.unit), settings);
    known(of(&guard), "what this plan gives anew".to_owned())
}

fn of(guard: &Guard) -> Earlier {
    let set_by = |origin| match origin {
        PostOrigin::Planned => SetBy::Planner,
        PostOrigin::Kept => SetBy::Edit,
        PostOrigin::Drawn => SetBy::Drawing,
    };
    let posts = guard.posts.iter().map(|p| EarlierPost { id: p.id.clone(), set_by: set_by(p.origin), at: p.at });
    let panels = guard.spans.iter().map(|s| (s.id.clone(), s.left, s.right));
    Earlier { posts: posts.collect(), panels: panels.collect(), ..Earlier::default() }
}

/// Some programs write another unit than they have read and leave the coordinates. The names of the blocks of an earlier
/// layout's posts know better.
///
/// # Errors
/// When they say another unit than the drawing, and nobody has said which one counts.
pub fn check_unit(drawing: &Drawing, settings: &Settings) -> Result<(), Refusal> {
    if let Some(unit) = drawing.marks.unit {
        check(unit, || "its marks".to_owned(), (drawing, settings), Place::none())?;
    }
    let posts = drawing.ours.iter().filter(|ours| ours.kind == "post");
    let known = posts.filter_map(|post| Some((unit_of_post(&post.block)?, post))).next();
    known.map_or(Ok(()), |(unit, post)| {
        let place = Place { handle: post.origin.handle, line: post.origin.line, ..Place::none() };
        check(unit, || format!("block {} in it", post.block), (drawing, settings), place)
    })
}

fn check(
    earlier: Unit,
    source: impl Fn() -> String,
    (drawing, settings): (&Drawing, &Settings),
    place: Place,
) -> Result<(), Refusal> {
    let unit = drawing.frame.unit;
    if earlier == unit || settings.units.is_some() {
        return Ok(());
    }
    let [earlier, unit] = [earlier, unit].map(Unit::sign);
    let message = format!(
        "the drawing says that its unit is {unit}, but its rails were written in {earlier} ({}): the program that saved it has \
         changed the unit",
        source()
    );
    let hint = format!("measure one length in the drawing, and say --units {earlier} or --units {unit}");
    Err(Refusal::new(Finding::error(Code::UnitsDoubtful, place, message).hint(hint)))
}
