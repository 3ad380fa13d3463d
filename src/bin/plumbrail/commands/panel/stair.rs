//! The stair that `plumbrail panel` is told of.

use anyhow::{Result, ensure};
use plumbrail::base::Length;
use plumbrail::deck::Steps;

use crate::args::Stair;

/// No riser or tread is smaller than an inch.
const LEAST: Length = Length::INCH;

/// Twice the highest riser that anybody climbs.
const HIGHEST: Length = Length::from_nanometres(24 * Length::INCH.nanometres());

/// A tread as deep as this is a landing.
const DEEPEST: Length = Length::from_nanometres(120 * Length::INCH.nanometres());

/// Riser, tread and nosing; nothing where the panel is level.
///
/// # Errors
/// When they are such as no stair has.
pub fn steps(stair: &Stair) -> Result<Option<Steps>> {
    let (riser, tread) = match (stair.slope, stair.rise, stair.tread) {
        (Some(slope), ..) => (slope.rise(), slope.run()),
        (None, Some(rise), Some(tread)) => (rise, tread),
        _ => return Ok(None),
    };
    ensure!(
        (LEAST..=HIGHEST).contains(&riser),
        "a riser of {} is none of a stair; give one step's, from {LEAST} to {HIGHEST}",
        riser.told()
    );
    ensure!(
        (LEAST..=DEEPEST).contains(&tread),
        "a tread of {} is none of a stair; give one step's, from {LEAST} to {DEEPEST}",
        tread.told()
    );
    let nosing = stair.nosing.unwrap_or_default();
    ensure!(
        nosing >= Length::ZERO && nosing < tread,
        "a nosing of {} is none; give how far it stands beyond the riser beneath it, less than the tread",
        nosing.told()
    );
    Ok(Some(Steps { riser, tread, nosing }))
}

/// A single opening must lie on its flight.
///
/// # Errors
/// When it is longer than all the treads, the landing at the foot counted as one.
pub fn check_fits(opening: Length, risers: Option<u32>, steps: &Steps) -> Result<()> {
    let Some(risers) = risers else { return Ok(()) };
    let flight = steps.tread * i64::from(risers);
    ensure!(
        opening <= flight,
        "an opening of {} is longer than a flight of {risers} risers with treads of {}, {}",
        opening.told(),
        steps.tread.told(),
        flight.told()
    );
    Ok(())
}
