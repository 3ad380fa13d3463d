//! Spoilings of flights, of the slope of raked panels, and of handrails.

use plumbrail::base::plane::{left, right};
use plumbrail::base::{Length, Pitch};
use plumbrail::catalog::Sides;
use plumbrail::deck::Flight;
use plumbrail::guard::{Before, Falls, Handrail, Rake};
use plumbrail::parts::Layout;

use super::{Spoiling, add, bit};

/// All of them.
pub fn list() -> Vec<Spoiling> {
    let mut list = Vec::new();
    steps(&mut list);
    flights(&mut list);
    rakes(&mut list);
    ways(&mut list);
    handrails(&mut list);
    brackets(&mut list);
    list
}

fn flight(list: &mut Vec<Spoiling>, name: &str, change: impl Fn(&mut Flight, Length) -> Option<()> + 'static) {
    add(list, name, move |layout| {
        let bit = bit(layout);
        change(layout.flights.first_mut()?, bit)
    });
}

fn steps(list: &mut Vec<Spoiling>) {
    type Figure = fn(&mut Flight) -> &mut Length;
    let figures: [(&str, Figure); 3] =
        [("riser", |f| &mut f.steps.riser), ("tread", |f| &mut f.steps.tread), ("nosing", |f| &mut f.steps.nosing)];
    for (what, figure) in figures {
        for (way, sign) in [("more", 1), ("less", -1)] {
            flight(list, &format!("{what} of the flight 1/8 in {way}"), move |f, bit| {
                *figure(f) += bit * sign;
                Some(())
            });
        }
    }
    flight(list, "steps and slope of the flight changed together", |f, bit| {
        f.steps.riser -= bit;
        f.pitch = f.steps.pitch()?;
        Some(())
    });
    flight(list, "slope of the flight changed", |f, bit| {
        f.pitch = Pitch::new(f.pitch.rise() + bit, f.pitch.run())?;
        Some(())
    });
    flight(list, "one riser more", |f, _| {
        f.risers += 1;
        Some(())
    });
    flight(list, "one riser less", |f, _| {
        f.risers -= 1;
        Some(())
    });
    flight(list, "one riser", |f, _| {
        f.risers = 1;
        Some(())
    });
    flight(list, "risers that differ by 1/2 in", |f, bit| {
        f.riser_variation = bit * 4;
        Some(())
    });
    flight(list, "treads that differ by 1/2 in", |f, bit| {
        f.tread_variation = bit * 4;
        Some(())
    });
}

fn flights(list: &mut Vec<Spoiling>) {
    flight(list, "top nosing 6 in further down", |f, bit| {
        let off = f.down * (bit * 48).millimetres();
        f.top = f.top.map(|p| p + off);
        Some(())
    });
    flight(list, "top nosing 6 in to the side", |f, bit| {
        let off = left(f.down) * (bit * 48).millimetres();
        f.top = f.top.map(|p| p + off);
        Some(())
    });
    flight(list, "ends of the top nosing exchanged", |f, _| {
        f.top.reverse();
        Some(())
    });
    flight(list, "falls the other way", |f, _| {
        f.down = -f.down;
        Some(())
    });
    flight(list, "falls to the side", |f, _| {
        f.down = right(f.down);
        Some(())
    });
    flight(list, "no side guarded", |f, _| {
        f.guards = Sides::None;
        Some(())
    });
    flight(list, "both sides guarded", |f, _| {
        f.guards = Sides::Both;
        Some(())
    });
    flight(list, "a handrail wanted on both sides", |f, _| {
        f.handrails = Some(Sides::Both);
        Some(())
    });
    add(list, "flight left out", |layout| layout.flights.pop().map(drop));
    add(list, "flight twice", |layout| {
        let again = layout.flights.first()?.clone();
        layout.flights.push(again);
        Some(())
    });
}

fn rakes(list: &mut Vec<Spoiling>) {
    type Change = fn(&mut Rake, Length) -> Option<()>;
    let changes: [(&str, Change); 6] = [
        ("falls the other way", |rake, _| {
            rake.falls = if rake.falls == Falls::Left { Falls::Right } else { Falls::Left };
            Some(())
        }),
        ("is steeper", |rake, bit| {
            Pitch::new(rake.pitch.rise() + bit, rake.pitch.run()).map(|pitch| rake.pitch = pitch)
        }),
        ("is flatter", |rake, bit| {
            Pitch::new(rake.pitch.rise() - bit, rake.pitch.run()).map(|pitch| rake.pitch = pitch)
        }),
        ("has other steps", |rake, bit| rake.steps.as_mut().map(|steps| steps.nosing += bit)),
        ("begins 1/8 in further down", |rake, bit| rake.start.as_mut().map(|start| *start += bit)),
        ("begins 1/8 in further up", |rake, bit| rake.start.as_mut().map(|start| *start -= bit)),
    ];
    for (what, change) in changes {
        for (whose, on_span, on_panel) in
            [("its span", true, false), ("its panel", false, true), ("span and panel", true, true)]
        {
            add(list, format!("rake of {whose} {what}"), move |layout| {
                let bit = bit(layout);
                let at = layout.panels.iter_mut().find(|at| at.span.rake.is_some())?;
                let spans = at.span.rake.iter_mut().filter(|_| on_span);
                let mut both = spans.chain(at.panel.rake.iter_mut().filter(|_| on_panel));
                both.try_for_each(|rake| change(rake, bit))
            });
        }
    }
    add(list, "a raked panel called level", |layout| {
        let at = layout.panels.iter_mut().find(|at| at.span.rake.is_some())?;
        (at.span.rake, at.panel.rake) = (None, None);
        Some(())
    });
    add(list, "a level panel called raked", |layout: &mut Layout| {
        let rake = layout.panels.iter().find_map(|at| at.span.rake)?;
        let at = layout.panels.iter_mut().find(|at| at.span.rake.is_none())?;
        (at.span.rake, at.panel.rake) = (Some(rake), Some(rake));
        Some(())
    });
    add(list, "raked bottom rail lowered into the steps", |layout| {
        let at = layout.panels.iter_mut().find(|at| at.span.rake.is_some())?;
        let by = at.panel.bottom_gap + Length::INCH;
        at.panel.bottom_gap -= by;
        at.panel.height -= by;
        Some(())
    });
    add(list, "raked bottom rail raised by an inch, with all above it", |layout| {
        let at = layout.panels.iter_mut().find(|at| at.span.rake.is_some())?;
        at.panel.bottom_gap += Length::INCH;
        at.panel.height += Length::INCH;
        Some(())
    });
    add(list, "cap of a raked panel an inch lower", |layout| {
        let at = layout.panels.iter_mut().find(|at| at.span.rake.is_some())?;
        at.panel.balusters.length -= Length::INCH;
        at.panel.height -= Length::INCH;
        Some(())
    });
}

fn rail(list: &mut Vec<Spoiling>, name: &str, change: impl Fn(&mut Handrail, &Flight, Length) -> Option<()> + 'static) {
    add(list, name, move |layout| {
        let bit = bit(layout);
        let flight = layout.flights.get(layout.handrails.first()?.flight)?.clone();
        change(layout.handrails.first_mut()?, &flight, bit)
    });
}

/// From the side of the flight that a handrail stands at to the other one.
fn inward(rail: &Handrail, flight: &Flight) -> plumbrail::base::Point {
    if rail.left { flight.across() } else { -flight.across() }
}

fn ways(list: &mut Vec<Spoiling>) {
    rail(list, "handrail begins a step further down", |rail, flight, bit| {
        rail.line[0] = rail.line[0] + flight.down * (bit * 80).millimetres();
        Some(())
    });
    rail(list, "handrail ends a step further up", |rail, flight, bit| {
        rail.line[1] = rail.line[1] - flight.down * (bit * 80).millimetres();
        Some(())
    });
    rail(list, "handrail 1/2 in nearer to what it stands before", |rail, flight, bit| {
        let off = inward(rail, flight) * (bit * -4).millimetres();
        rail.line = rail.line.map(|p| p + off);
        Some(())
    });
    rail(list, "handrail aslant", |rail, flight, bit| {
        rail.line[1] = rail.line[1] + inward(rail, flight) * (bit * 4).millimetres();
        Some(())
    });
    rail(list, "handrail on the other side", |rail, _, _| {
        rail.left = !rail.left;
        Some(())
    });
    rail(list, "handrail before something else", |rail, _, _| {
        rail.before = if rail.before == Before::Guard { Before::Wall } else { Before::Guard };
        Some(())
    });
    rail(list, "handrail of another flight", |rail, _, _| {
        rail.flight += 1;
        Some(())
    });
    add(list, "handrail removed", |layout| layout.handrails.pop().map(drop));
    add(list, "handrail twice", |layout| {
        let again = layout.handrails.first()?.clone();
        layout.handrails.push(again);
        Some(())
    });
}

fn handrails(list: &mut Vec<Spoiling>) {
    for (way, sign) in [("more", 1), ("less", -1)] {
        rail(list, &format!("height of the handrail 1/8 in {way}"), move |rail, _, bit| {
            rail.height += bit * sign;
            Some(())
        });
        rail(list, &format!("height of the handrail 3 in {way}"), move |rail, _, bit| {
            rail.height += bit * (24 * sign);
            Some(())
        });
        rail(list, &format!("length of the handrail 1/8 in {way}"), move |rail, _, bit| {
            rail.length += bit * sign;
            Some(())
        });
    }
    rail(list, "extension at the top into the flight", |rail, _, bit| {
        rail.extension_top -= bit;
        Some(())
    });
    rail(list, "extension at the foot into the flight", |rail, _, bit| {
        rail.extension_bottom -= bit;
        Some(())
    });
}

fn brackets(list: &mut Vec<Spoiling>) {
    rail(list, "first bracket of the handrail removed", |rail, _, _| {
        (!rail.brackets.is_empty()).then(|| rail.brackets.remove(0)).map(|_| ())
    });
    rail(list, "last bracket of the handrail removed", |rail, _, _| rail.brackets.pop().map(drop));
    rail(list, "all brackets of the handrail removed", |rail, _, _| {
        rail.brackets.clear();
        Some(())
    });
    rail(list, "bracket of the handrail off the grid", |rail, _, bit| {
        rail.brackets.first_mut().map(|mark| *mark -= bit / 5)
    });
    rail(list, "bracket of the handrail too far in", |rail, _, bit| {
        rail.brackets.first_mut().map(|mark| *mark += bit * 8)
    });
    rail(list, "bracket of the handrail beyond its end", |rail, _, bit| {
        let total = rail.extension_top + rail.length + rail.extension_bottom;
        rail.brackets.last_mut().map(|mark| *mark = total + bit * 8)
    });
    rail(list, "two brackets of the handrail in one place", |rail, _, _| {
        let first = *rail.brackets.first()?;
        rail.brackets.insert(0, first);
        Some(())
    });
}
