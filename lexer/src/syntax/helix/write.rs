//! Blocks that mill a thread on a helix, with the tool's centre programmed (G40), in a shop's way
//! of writing, read back before they are handed out.
//!
//! In a hole the tool goes from its middle on a half circle out to the helix and on another back;
//! outside it comes and goes on a quarter circle that touches the helix. On these arcs it advances
//! by the lead times the angle about the axis over 360° (geometry).

use crate::evidence::Family;
use crate::program::Settings;
use crate::section::tapping::Hand;
use crate::section::{Kind, Side};
use crate::syntax::write::{Cannot, Style, Text};
use crate::units::{Diameter, Lead, Length};

/// What is to be milled.
#[derive(Debug, Clone, PartialEq)]
pub struct MillPlan {
    /// Axis of the thread.
    pub centre: (Length, Length),
    /// Bolt or hole.
    pub side: Side,
    /// Hand of the thread.
    pub hand: Hand,
    /// Whether the cutter climbs, turning right-handed (M3).
    pub climb: bool,
    /// Radius of the path of the tool's centre.
    pub radius: Length,
    /// Advance per turn.
    pub lead: Lead,
    /// Where the thread ends below, the bottom of the helix.
    pub bottom: Length,
    /// Whole turns.
    pub turns: u32,
    /// Height at which the tool goes to its place.
    pub clear: Length,
    /// Feed of the tool's centre per minute.
    pub feed: Length,
    /// Distance of the way onto a bolt.
    pub approach: Length,
}

/// Writes the blocks from the place over the axis to the rapid out. They expect the cutter turning
/// (M3), absolute positions (G90), feed per minute, and the plane across Z.
///
/// # Errors
///
/// When the family of controls turns, or the words cannot be written to their digits.
pub fn write(plan: &MillPlan, style: &Style) -> Result<String, Cannot> {
    if style.family.turns() && style.family != Family::Interpreter {
        return Cannot::because("a helix is written for a milling machine");
    }
    if style.incremental {
        return Cannot::because("positions are distances here (G91); only positions are written");
    }
    let outside = plan.side == Side::External;
    if plan.turns == 0
        || plan.radius <= Length::ZERO
        || plan.clear <= plan.bottom
        || outside && plan.approach <= Length::ZERO
    {
        return Cannot::because("a helix needs turns, a radius, and room above it");
    }
    let counterclockwise = plan.climb != outside;
    let up = counterclockwise == (plan.hand == Hand::Right);
    let lead = plan.lead.mm();
    let turn = Length::from_mm(lead);
    let full = turn * i64::from(plan.turns);
    let (start, sign) = if up {
        (plan.bottom, 1)
    } else {
        (plan.bottom + full, -1)
    };
    let code = if counterclockwise { 30 } else { 20 };
    let on = Way::of(plan, counterclockwise);
    let lift = Length::from_mm(lead * on.degrees / 360.0) * sign;
    let mut text = Text::new(style);
    let xy = |point: (Length, Length)| {
        let x = if style.radius_mode {
            point.0.double()
        } else {
            point.0
        };
        [style.x(Diameter(x)), style.position('Y', point.1)]
    };
    let z = |z: Length| style.position('Z', z);
    let [x, y] = xy(on.from);
    text.line(&[style.code(0), x, y]);
    text.rapid_z(plan.clear);
    text.rapid_z(start - lift);
    let first = (plan.centre.0 + plan.radius, plan.centre.1);
    let f = style.lead('F', Lead::per_turn(plan.feed));
    let [x, y] = xy(first);
    let words = [
        style.code(on.code),
        x,
        y,
        z(start),
        style.position('I', on.offset.0),
        style.position('J', on.offset.1),
        f,
    ];
    text.line(&words);
    for n in 1..=i64::from(plan.turns) {
        let [x, y] = xy(first);
        let to = start + turn * n * sign;
        text.line(&[
            style.code(code),
            x,
            y,
            z(to),
            style.position('I', -plan.radius),
            style.position('J', Length::ZERO),
        ]);
    }
    let [x, y] = xy(on.to);
    text.line(&[
        style.code(on.code),
        x,
        y,
        z(start + full * sign + lift),
        style.position('I', on.back.0),
        style.position('J', on.back.1),
    ]);
    text.rapid_z(plan.clear);
    proved(text.finish(), plan, style, counterclockwise)
}

/// The arcs onto the helix and off it.
struct Way {
    code: i32,
    from: (Length, Length),
    to: (Length, Length),
    /// From the start of the arc to its centre.
    offset: (Length, Length),
    /// The same for the arc back.
    back: (Length, Length),
    /// Angle about the axis.
    degrees: f64,
}

impl Way {
    fn of(plan: &MillPlan, counterclockwise: bool) -> Way {
        let (centre, r) = (plan.centre, plan.radius);
        if plan.side == Side::Internal {
            // A half circle over the radius: a quarter turn about the axis.
            return Way {
                code: if counterclockwise { 30 } else { 20 },
                from: centre,
                to: centre,
                offset: (r.half(), Length::ZERO),
                back: (-r.half(), Length::ZERO),
                degrees: 90.0,
            };
        }
        let e = plan.approach;
        let side = if counterclockwise { -1 } else { 1 };
        let out = r.mm() + e.mm();
        Way {
            code: if counterclockwise { 20 } else { 30 },
            from: (centre.0 + r + e, centre.1 + e * side),
            to: (centre.0 + r + e, centre.1 - e * side),
            offset: (Length::ZERO, -(e * side)),
            back: (e, Length::ZERO),
            degrees: (e.mm() / out).atan().to_degrees(),
        }
    }
}

/// The text, where it reads as what was asked for.
fn proved(
    text: String,
    plan: &MillPlan,
    style: &Style,
    counterclockwise: bool,
) -> Result<String, Cannot> {
    let settings = Settings {
        family: Some(style.family),
        diameter_mode: Some(!style.radius_mode),
        units: Some(style.units),
        decimal: Some(style.decimal_rule()),
        ..Settings::default()
    };
    let whole = format!("(THREAD MILL)\nG97 S1000 M3\n{text}");
    let program = crate::read(whole.as_bytes(), &settings);
    let [section] = program.sections.as_slice() else {
        return Cannot::because("the blocks would not be read as one thread");
    };
    let Some(milling) = section.milling.as_ref() else {
        return Cannot::because("the blocks would be read in another way");
    };
    let [helix] = milling.helices.as_slice() else {
        return Cannot::because("the blocks would not be read as one helix");
    };
    let digit = style.last_digit();
    let lead = (helix.pitch_mm().abs() - plan.lead.mm()).abs() <= 2.0 * digit.mm();
    let turns = (helix.turns() - f64::from(plan.turns)).abs() < 1e-3;
    let bottom = helix.start.min(helix.end).near(plan.bottom, digit);
    let same = section.kind == Kind::Milled
        && section.side() == Some(plan.side)
        && milling.hand.get() == Some(plan.hand)
        && milling.climb.get() == Some(plan.climb)
        && milling.counterclockwise == counterclockwise;
    if same && lead && turns && bottom {
        Ok(text)
    } else {
        Cannot::because("the words, rounded to their digits, do not say what is asked for")
    }
}
