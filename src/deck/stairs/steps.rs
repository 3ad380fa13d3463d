//! How many steps a flight has, and how large they are.

use crate::base::{Code, Finding, Length, Unit, decimal};
use crate::catalog::{LimitKind, Settings, StairJob};
use crate::deck::flight::Steps;

use super::Site;
use super::drawn::{Drawn, Kind};
use super::text::Said;
use super::words::differ;

/// Highest step that is one: 20 in.
const HIGHEST: Length = Length::from_nanometres(508_000_000);

/// Shallowest tread that is one: 3 in.
const SHALLOWEST: Length = Length::from_nanometres(76_200_000);

/// Most risers of a flight.
const MOST: u32 = 500;

/// Highest riser of a flight that says only its total rise, where the rule set has no limit: 7-3/4 in.
const USUAL_RISER: Length = Length::from_nanometres(196_850_000);

/// Steps of a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Figures {
    /// Number of risers, at least two.
    pub risers: u32,
    /// Their size.
    pub steps: Steps,
    /// Largest difference between two risers, where the lines have heights.
    pub riser_variation: Length,
    /// Largest difference between two treads.
    pub tread_variation: Length,
}

/// All that is known of one flight.
pub struct Known<'a> {
    /// As drawn, the top first.
    pub drawn: &'a Drawn,
    /// What texts and attributes say.
    pub said: &'a Said,
    /// What the job says.
    pub job: Option<&'a StairJob>,
    /// Whether other flights lie between it and the deck or the ground: then the rise of the whole stair is not its own.
    pub serial: bool,
}

/// Works out the steps; `None` where that cannot be, which is told.
pub fn figures(known: &Known<'_>, site: &Site<'_>, findings: &mut Vec<Finding>) -> Option<Figures> {
    let Known { drawn, said, .. } = known;
    let job = known.job.cloned().unwrap_or_default();
    let defaults = &site.settings.stairs;
    let lines = (drawn.kind == Kind::Treads).then(|| u32::try_from(drawn.lines.len()).unwrap_or(u32::MAX));
    let several = lines.is_some_and(|n| n > 1);
    let line_tread = several.then(|| Length::measured(drawn.spacing()));
    let tread = job.tread.or(line_tread).or(said.tread);
    let own_total = job.total_rise.filter(|_| job.riser.is_none()).or(said.total);
    let own_riser = job.riser.or(said.riser.filter(|_| job.total_rise.is_none()));
    let total = own_total.or(defaults.total_rise.filter(|_| !known.serial));
    let mut risers = job.risers.or(lines.filter(|n| *n > 1)).or(said.risers).or(lines);
    if risers.is_none() {
        risers = completed(known, site, [own_riser.or(defaults.riser), total, tread], findings);
    }
    let Some(risers) = risers else {
        findings.push(no_count(drawn, site));
        return None;
    };
    if risers == 1 {
        findings.push(one_riser(drawn));
        return None;
    }
    let treads = i64::from(risers) - 1;
    let measured = || Length::measured(drawn.depth()).fraction(1, treads);
    let tread = tread.or_else(|| (drawn.kind != Kind::Job && drawn.depth() > 0.0).then(measured));
    let Some(tread) = tread else {
        findings.push(no_count(drawn, site));
        return None;
    };
    let sloped = drawn.falls.map(|f| tread.scaled(f));
    let shared = |total: Length| total.fraction(1, i64::from(risers));
    let riser = own_riser.or(own_total.map(shared)).or(sloped).or(defaults.riser).or(total.map(shared));
    let Some(riser) = riser else {
        findings.push(no_rise(drawn, known.serial && defaults.total_rise.is_some(), site));
        return None;
    };
    let nosing = job.nosing.or(said.nosing).or(defaults.nosing).unwrap_or(Length::ZERO);
    let steps = Steps { riser, tread, nosing };
    if let Some(why) = no_steps(risers, &steps) {
        let finding =
            Finding::incomplete(Code::StairNotLaidOut, drawn.place.clone(), format!("{why}; no rail is laid along it"));
        findings
            .push(finding.hint("correct the text on the stair layer, its heights, or the `[[stair]]` of the job file"));
        return None;
    }
    tell_differences(known, risers, &steps, findings);
    Some(Figures {
        risers,
        steps,
        riser_variation: spread(&drawn.heights),
        tread_variation: if several { spread(&drawn.lines) } else { Length::ZERO },
    })
}

/// Why these are no steps.
fn no_steps(risers: u32, steps: &Steps) -> Option<String> {
    let Steps { riser, tread, nosing } = steps;
    if risers == 0 || risers > MOST {
        return Some(format!("this stair is said to have {risers} risers; 2 to {MOST} are read"));
    }
    if *riser <= Length::ZERO || *riser > HIGHEST {
        return Some(format!("a riser of {} is no step", riser.told()));
    }
    if *tread < SHALLOWEST || tread.millimetres() > 1e5 {
        return Some(format!("a tread of {} is no step", tread.told()));
    }
    (*nosing < Length::ZERO || nosing >= tread)
        .then(|| format!("a nosing of {} does not fit a tread of {}", nosing.told(), tread.told()))
}

/// The number of risers where nothing says it.
fn completed(
    known: &Known<'_>,
    site: &Site<'_>,
    [riser, total, tread]: [Option<Length>; 3],
    findings: &mut Vec<Finding>,
) -> Option<u32> {
    let drawn = known.drawn;
    let depth = Some(drawn.depth()).filter(|d| *d > 0.0 && drawn.kind != Kind::Job);
    let whole = |n: f64| (n.is_finite() && n >= 1.0).then_some(n.min(1e6) as u32);
    let over = |a: Length, b: Length| a.nanometres() as f64 / b.nanometres() as f64;
    let limit = site.settings.rules.limit(LimitKind::RiserHeight).map_or(USUAL_RISER, |l| l.value);
    // From the top nosing to the lowest one a flight falls one riser less than its total rise.
    let fall = drawn.falls.zip(depth).map(|(f, d)| f * d);
    let (count, from) = if let (Some(total), Some(riser)) = (total, riser) {
        (over(total, riser).round(), "its total rise and the height of a riser".to_owned())
    } else if let (Some(depth), Some(tread)) = (depth, tread) {
        (1.0 + (depth / tread.millimetres()).round(), "its depth and the tread".to_owned())
    } else if let Some(total) = total {
        (
            over(total, limit).ceil(),
            format!("its total rise of {} and risers of at most {}", total.told(), limit.told()),
        )
    } else if let (Some(fall), Some(riser)) = (fall, riser) {
        (1.0 + (fall / riser.millimetres()).round(), "its heights and the height of a riser".to_owned())
    } else {
        let fall = fall.filter(|f| *f > 0.0)?;
        let count = 1.0 + (fall / limit.millimetres() - 1e-6).ceil();
        (count, format!("its heights and risers of at most {}", limit.told()))
    };
    let count = whole(count)?;
    let message = format!("nothing says how many risers this stair has; {count} follow from {from}");
    findings.push(
        Finding::note(Code::StairCompleted, drawn.place.clone(), message).hint(
            "write the number on the stair layer, for example `11R`, or `risers` in a `[[stair]]` of the job file",
        ),
    );
    Some(count)
}

/// Largest difference between two of the steps between these places.
fn spread(places: &[f64]) -> Length {
    let steps = || places.iter().zip(places.iter().skip(1)).map(|(a, b)| (b - a).abs());
    let (low, high) = (steps().fold(f64::INFINITY, f64::min), steps().fold(0.0, f64::max));
    let spread = if high > low { Length::measured(high - low) } else { Length::ZERO };
    if spread <= Length::NOISE { Length::ZERO } else { spread }
}

/// Two statements that do not fit are told, with the one that is used.
fn tell_differences(known: &Known<'_>, risers: u32, steps: &Steps, findings: &mut Vec<Finding>) {
    let Known { drawn, said, job, .. } = known;
    let hint = "correct the drawing or the text, so that what is built is what is drawn";
    let lines = u32::try_from(drawn.lines.len()).ok().filter(|n| drawn.kind == Kind::Treads && *n > 1);
    for (n, who) in [(said.risers, "the text says"), (job.and_then(|j| j.risers), "the job says")] {
        if let (Some(n), Some(lines)) = (n, lines)
            && n != lines
        {
            // Steps that somebody counts and that are not read may be turning ones.
            let message = format!("{who} {n} risers and the lines show {lines}; {risers} are laid out");
            let finding = Finding::incomplete(Code::StairStepsDiffer, drawn.place.clone(), message);
            findings.push(finding.hint(hint));
        }
    }
    let mut tell = |message: String| {
        findings.push(Finding::warning(Code::StairStepsDiffer, drawn.place.clone(), message).hint(hint));
    };
    let drawn_tread = lines.map(|_| Length::measured(drawn.spacing())).or_else(|| {
        let is_outline = matches!(drawn.kind, Kind::Outline | Kind::Side);
        is_outline.then(|| Length::measured(drawn.depth()).fraction(1, i64::from(risers.max(2)) - 1))
    });
    for (tread, who) in [(said.tread, "the text says"), (job.and_then(|j| j.tread), "the job says")] {
        if let (Some(tread), Some(shown)) = (tread, drawn_tread)
            && differ(tread, shown)
        {
            let used = steps.tread.told();
            tell(format!(
                "{who} a tread of {} and the drawing shows {}; {used} is laid out",
                tread.told(),
                shown.told()
            ));
        }
    }
    let sloped = drawn.falls.map(|f| steps.tread.scaled(f));
    if let Some(sloped) = sloped.filter(|s| differ(*s, steps.riser)) {
        let (used, sloped) = (steps.riser.told(), sloped.told());
        tell(format!(
            "a riser is said to be {used} high, and the heights of the drawing give {sloped}; {used} is laid out"
        ));
    }
    // Texts round each riser to a sixteenth.
    let total = job.and_then(|j| j.total_rise).or(said.total);
    let sum = steps.riser * i64::from(risers);
    if let Some(total) = total.filter(|t| (*t - sum).abs() > Length::INCH.fraction(i64::from(risers), 16)) {
        tell(format!(
            "{risers} risers of {} make {}, and the total rise is said to be {}; the risers are laid out",
            steps.riser.told(),
            sum.told(),
            total.told()
        ));
    }
}

fn one_riser(drawn: &Drawn) -> Finding {
    Finding::note(
        Code::StairOneRiser,
        drawn.place.clone(),
        "this stair has one riser, so there is no slope that a rail could follow; the deck edge is kept free for it",
    )
}

/// The place of a flight as the job file takes it.
fn at(drawn: &Drawn, site: &Site<'_>) -> String {
    let p = site.frame.to_drawing(drawn.centre());
    format!("`[[stair]]` with `at = [{}, {}]`", decimal(p.x, 3), decimal(p.y, 3))
}

/// A text for the example, and the height of a riser in it.
fn example(settings: &Settings, unit: Unit) -> (&'static str, &'static str) {
    if settings.measure(unit).unit.is_imperial() { ("11R 7-5/8 x 10", "7-5/8in") } else { ("12R 190 x 250", "190mm") }
}

fn layer(drawn: &Drawn) -> String {
    drawn.place.layer.as_ref().map_or_else(|| "the stair layer".to_owned(), |l| format!("layer {l}"))
}

fn no_count(drawn: &Drawn, site: &Site<'_>) -> Finding {
    let (text, _) = example(site.settings, site.frame.unit);
    Finding::incomplete(
        Code::StairRiseUnknown,
        drawn.place.clone(),
        "the number and size of this stair's steps are not known, so no rail is laid along it; the deck edge is kept free",
    )
    .hint(format!(
        "write for example the text `{text}` on {} beside it, or give `risers`, `riser` and `tread` in a {} of the job file",
        layer(drawn),
        at(drawn, site)
    ))
}

fn no_rise(drawn: &Drawn, has_total: bool, site: &Site<'_>) -> Finding {
    let (text, riser) = example(site.settings, site.frame.unit);
    let message = if has_total {
        "the height of this stair's risers is not known: `total-rise` of `[stairs]` is that of several flights; no rail is \
         laid along it, and the deck edge is kept free"
    } else {
        "the height of this stair's risers is not known, so no rail is laid along it; the deck edge is kept free"
    };
    Finding::incomplete(Code::StairRiseUnknown, drawn.place.clone(), message).hint(format!(
        "write for example the text `{text}` on {} beside it, or give a {} and `riser = \"{riser}\"` in the job file",
        layer(drawn),
        at(drawn, site)
    ))
}
