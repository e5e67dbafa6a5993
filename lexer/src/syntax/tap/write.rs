//! Blocks that tap holes, in a shop's way of writing, read back before they are handed out.

use crate::evidence::Family;
use crate::program::Settings;
use crate::section::tapping::{Hand, Way};
use crate::section::{Kind, Section};
use crate::syntax::write::{Cannot, Style, Text};
use crate::units::{Diameter, Lead, Length, Units};

/// What is to be tapped.
#[derive(Debug, Clone, PartialEq)]
pub struct TapPlan {
    /// How to write it: [`Way::Cycle`], [`Way::Stroke`] or [`Way::Interpolated`].
    pub way: Way,
    /// Hand of the thread.
    pub hand: Hand,
    /// Advance per turn.
    pub lead: Lead,
    /// Turns per minute.
    pub rpm: u32,
    /// X and Y of the holes. On a turning machine one hole at X0.
    pub places: Vec<(Length, Length)>,
    /// R plane.
    pub clear: Length,
    /// The tip of the tap at the bottom.
    pub bottom: Length,
    /// Whether the cycle is to be synchronised (M29); the two other ways are in any case.
    pub rigid: bool,
    /// Whether the feed is written per minute.
    pub per_minute: bool,
    /// Depth of a peck.
    pub peck: Option<Length>,
}

/// Writes the blocks from the speed to the cancel. They expect the tap in the spindle above the
/// work, absolute positions (G90) and the plane across Z.
///
/// # Errors
///
/// When the family of controls has no such way, or the feed cannot be written to its digits.
pub fn write(plan: &TapPlan, style: &Style) -> Result<String, Cannot> {
    fits(plan, style)?;
    let mut text = Text::new(style);
    let turning = match (plan.hand, plan.way) {
        // The sign of K or the code turns the spindle.
        (_, Way::Interpolated) => None,
        (Hand::Right, _) => Some("M3"),
        (Hand::Left, _) => Some("M4"),
    };
    let mut start = vec![style.code(970), format!("S{}", plan.rpm)];
    start.extend(turning.map(str::to_owned));
    text.line(&start);
    let lathe = style.family.turns() && style.family != Family::Interpreter;
    let place = |at: (Length, Length)| {
        let x = style.x(Diameter(if style.radius_mode {
            at.0.double()
        } else {
            at.0
        }));
        if lathe {
            vec![x]
        } else {
            vec![x, style.position('Y', at.1)]
        }
    };
    match plan.way {
        Way::Cycle => cycle(plan, style, &mut text, lathe, place),
        _ => {
            for &at in &plan.places {
                let mut over = vec![style.code(0)];
                over.extend(place(at));
                text.line(&over);
                text.rapid_z(plan.clear);
                let z = style.position('Z', plan.bottom);
                if plan.way == Way::Stroke {
                    text.line(&[style.code(331), z, style.lead('K', plan.lead)]);
                } else {
                    let lead = match plan.hand {
                        Hand::Right => plan.lead,
                        Hand::Left => Lead::per_turn(-plan.lead.length()),
                    };
                    let k = style.lead('K', lead);
                    text.line(&[style.code(3310), z, k.clone(), format!("S{}", plan.rpm)]);
                    let back = style.position('Z', plan.clear);
                    text.line(&[style.code(3320), back, k]);
                }
            }
        }
    }
    proved(text.finish(), plan, style)
}

fn fits(plan: &TapPlan, style: &Style) -> Result<(), Cannot> {
    if style.incremental {
        return Cannot::because("positions are distances here (G91); only positions are written");
    }
    let interpreter = style.family == Family::Interpreter;
    match plan.way {
        Way::Stroke if !interpreter => {
            return Cannot::because("only the open RS274/NGC interpreter knows this stroke");
        }
        Way::Interpolated if interpreter => {
            return Cannot::because("the open RS274/NGC interpreter does not know these codes");
        }
        Way::Cycle | Way::Stroke | Way::Interpolated => {}
        _ => return Cannot::because("this way of tapping is read only"),
    }
    if plan.rigid && interpreter && plan.way == Way::Cycle {
        return Cannot::because("the cycle of the open RS274/NGC interpreter is not synchronised");
    }
    if plan.peck.is_some() && (plan.way != Way::Cycle || !plan.rigid) {
        return Cannot::because("only a synchronised cycle pecks");
    }
    if plan.places.is_empty() || plan.rpm == 0 || plan.bottom >= plan.clear {
        return Cannot::because("a tap needs a place, a speed and a depth below its R plane");
    }
    let lathe = style.family.turns() && !interpreter;
    let on_axis = plan
        .places
        .iter()
        .all(|at| at.0.is_zero() && at.1.is_zero());
    if lathe && !(plan.places.len() == 1 && on_axis) {
        return Cannot::because("on a turning machine one hole on the axis is written");
    }
    Ok(())
}

fn cycle(
    plan: &TapPlan,
    style: &Style,
    text: &mut Text<'_>,
    lathe: bool,
    place: impl Fn((Length, Length)) -> Vec<String>,
) {
    let mode = match (style.family, plan.per_minute) {
        (Family::SystemA, true) => 980,
        (Family::SystemA, false) => 990,
        (_, true) => 940,
        (_, false) => 950,
    };
    if lathe {
        let mut over = vec![style.code(0)];
        over.extend(place((Length::ZERO, Length::ZERO)));
        over.push(style.position('Z', plan.clear));
        text.line(&over);
    }
    text.line(&[style.code(mode)]);
    if plan.rigid {
        text.line(&["M29".to_owned(), format!("S{}", plan.rpm)]);
    }
    let code = match (plan.hand, lathe) {
        (Hand::Left, false) => 740,
        _ => 840,
    };
    for (index, &at) in plan.places.iter().enumerate() {
        if index > 0 {
            text.line(&place(at));
            continue;
        }
        let mut words = vec![style.code(code)];
        if !lathe {
            words.extend(place(at));
        }
        words.push(style.position('Z', plan.bottom));
        if !lathe {
            words.push(style.position('R', plan.clear));
        }
        if let Some(peck) = plan.peck {
            words.push(style.position('Q', peck));
        }
        words.push(feed(plan, style));
        text.line(&words);
    }
    text.line(&[style.code(800)]);
}

fn feed(plan: &TapPlan, style: &Style) -> String {
    if !plan.per_minute {
        return style.lead('F', plan.lead);
    }
    let feed = Length::from_mm(plan.lead.mm() * f64::from(plan.rpm));
    style.lead('F', Lead::per_turn(feed))
}

/// The text, where it reads as what was asked for.
fn proved(text: String, plan: &TapPlan, style: &Style) -> Result<String, Cannot> {
    let settings = Settings {
        family: Some(style.family),
        diameter_mode: Some(!style.radius_mode),
        units: Some(style.units),
        decimal: Some(style.decimal_rule()),
        ..Settings::default()
    };
    let program = crate::read(text.as_bytes(), &settings);
    let [section] = program.sections.as_slice() else {
        return Cannot::because("the blocks would not be read as one thread");
    };
    check(section, plan, style)?;
    Ok(text)
}

fn check(section: &Section, plan: &TapPlan, style: &Style) -> Result<(), Cannot> {
    let Some(tapping) = section.tapping.as_ref() else {
        return Cannot::because("the blocks would be read in another way");
    };
    let least = match style.units {
        Units::Inch => 2e-6 * 25.4,
        Units::Millimetre => 1e-4,
    };
    let lead = section.cut.lead.get().map(Lead::mm);
    let near = lead.is_some_and(|lead| (lead - plan.lead.mm()).abs() <= least);
    let digit = style.last_digit();
    let holes = tapping.holes.len() == plan.places.len()
        && tapping.holes.iter().all(|hole| {
            hole.bottom
                .get()
                .is_some_and(|z| z.near(plan.bottom, digit))
                && hole.clear.get().is_none_or(|z| z.near(plan.clear, digit))
        });
    let hand = tapping.hand.get() == Some(plan.hand);
    if section.kind == Kind::Tapped && near && holes && hand {
        Ok(())
    } else {
        Cannot::because("the words, rounded to their digits, do not say what is asked for")
    }
}
