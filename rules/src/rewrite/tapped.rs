//! A tapped thread from its designation and facts: the drill, the cycle, and the way out.

use lexer::evidence::Family;
use lexer::section::Kind;
use lexer::section::tapping::{self, Way};
use lexer::syntax::tap::{TapPlan, write};
use lexer::units::{Length, Units};

use super::block::{Block, Speed, geometry};
use super::note;
use super::rotating::{Around, MOST, Station, Wanted, prove};
use crate::checks::text::number;
use crate::facts::{Facts, ToolKind};
use crate::measure::drill::{Hole, tap_hole};
use crate::standards::thread::Thread;
use crate::standards::{Hand, Side};

/// What to tap. Lengths in mm.
#[derive(Debug, Clone)]
pub struct TapOrder {
    /// The thread.
    pub thread: Thread,
    /// Where, and with which tool.
    pub station: Station,
    /// Length of full thread from Z0.
    pub length: f64,
    /// Chamfer of the tap in pitches: its threads there are not full.
    pub chamfer: Option<f64>,
    /// Speed; a surface speed holds at the major diameter.
    pub speed: Speed,
    /// The code to tap with; none for the one that the family of controls has.
    pub way: Option<Way>,
    /// Whether the tap sits in a floating holder, so that the feed need not follow the spindle.
    pub floating: bool,
    /// Whether the feed is written per minute; none for what is usual there.
    pub per_minute: Option<bool>,
    /// Depth of a peck.
    pub peck: Option<f64>,
}

/// Writes a block that taps.
///
/// # Errors
/// Which fact is missing, or why the family of controls or the thread cannot be tapped so.
pub fn tapped(order: &TapOrder, facts: &Facts) -> Result<Block, String> {
    let (thread, station) = (&order.thread, &order.station);
    let style = &station.style;
    if !thread.exists_on(Side::Internal) {
        return Err(format!(
            "{} is no internal thread: a tap cuts internal threads only",
            thread.designation()
        ));
    }
    if thread.form().taper != 0.0 {
        return Err(format!(
            "{} is tapered: how deep its tap goes is set with the gauge, not by a depth that could be \
             worked out here",
            thread.designation()
        ));
    }
    if !(order.length > 0.0 && order.length < MOST) {
        return Err("the length of the thread is not a length above 0".into());
    }
    if order.peck.is_some_and(|peck| !(peck > 0.0 && peck < MOST)) {
        return Err("--peck needs a length above 0".into());
    }
    let mut notes = Vec::new();
    let fact = station.fact(facts, &[ToolKind::Tap, ToolKind::RollTap]);
    let known = fact.and_then(|tool| tool.tap_chamfer_threads);
    if let (None, Some(chamfer), Some(tool)) = (order.chamfer, known, fact) {
        let from = tool.cite("tap_chamfer_threads");
        notes.push(format!("chamfer of {} pitches: {from}", number(chamfer, 2)));
    }
    let chamfer = order.chamfer.or(known).ok_or(
        "the chamfer of the tap is missing: --chamfer, in pitches; 0 where --length is how deep its \
         tip goes",
    )?;
    if !(0.0..=20.0).contains(&chamfer) {
        return Err("a chamfer is 0 to 20 pitches long".into());
    }
    let places = station.places()?;
    station.tool(&mut notes)?;
    let lead = thread.lead().mm();
    // Two turns to get to speed, a little more for short leads (our own choice).
    let (clear, retract) = station.heights((2.0 * lead).max(3.0), &mut notes)?;
    let mut limits = geometry::speed_limits(facts, Some(lead));
    let slower = facts.machine.as_ref().and_then(|m| m.max_tapping_rpm);
    limits.extend(slower.map(|most| (most, facts.cite("max_tapping_rpm"))));
    let rpm = geometry::rpm(order.speed, thread.major.mm(), limits, &mut notes)?;
    if rpm.fract() != 0.0 || rpm < 1.0 {
        return Err("a tap turns at whole turns per minute".into());
    }
    let interpreter = style.family == Family::Interpreter;
    let way = order.way.unwrap_or(if interpreter && !order.floating {
        Way::Stroke
    } else {
        Way::Cycle
    });
    if way != Way::Cycle && places.len() > 1 && retract > clear {
        return Err(
            "this way of writing goes from hole to hole at --start: leave --retract out, or state a \
             higher start"
                .into(),
        );
    }
    if order.floating && way != Way::Cycle {
        return Err("a floating holder is for the cycle; this code follows the spindle".into());
    }
    // What usually holds: per turn where the work turns, per minute where the tool does.
    let per_minute = order.per_minute.unwrap_or(!station.turns());
    // Length and chamfer as the note has them, and the tip never above what they ask for.
    let length = station.on_digit(order.length).mm();
    let chamfer = (chamfer * 100.0).round() / 100.0;
    let digit = style.units.least_increment().mm();
    let deep = length + chamfer * thread.pitch.mm();
    let deep = (deep / digit - 1e-6).ceil() * digit;
    let plan = TapPlan {
        way,
        hand: match thread.hand {
            Hand::Right => tapping::Hand::Right,
            Hand::Left => tapping::Hand::Left,
        },
        lead: thread.lead(),
        // Whole and within 1 to 1e6 by the checks above.
        rpm: rpm as u32,
        places,
        clear,
        bottom: station.on_digit(-deep),
        rigid: !order.floating && way == Way::Cycle,
        per_minute,
        peck: order.peck.map(|peck| station.on_digit(peck)),
    };
    let cut = write(&plan, style).map_err(|cannot| cannot.0)?;
    let hole = tap_hole(thread);
    hole_notes(order, &plan, hole.as_ref(), &mut notes);
    notes.push(format!(
        "feed {} mm a turn x {rpm} 1/min = {} mm/min",
        number(lead, 4),
        number(lead * rpm, 3)
    ));
    if thread.hand == Hand::Left {
        notes.push(
            "left-hand: look whether the spindle of this machine turns the way in that the block asks for"
                .into(),
        );
    }
    let units = style.units;
    let parts = [
        note::length("LENGTH", length, units),
        format!("CHAMFER {}", number(chamfer, 2)),
    ];
    let name = note::naming(thread, Side::Internal, &parts);
    if name.is_none() {
        notes
            .push("its designation cannot stand in a comment: name it in the configuration".into());
    }
    let drill = hole.and_then(|hole| hole.drill).map(|drill| {
        let size = note::length("TAP DRILL", drill.size, units);
        match drill.name.strip_prefix('#') {
            Some(number) => format!("{size} NO {number}"),
            None if drill.name.is_empty() => size,
            None => format!("{size} {}", drill.name),
        }
    });
    let mode_after = match (station.turns(), per_minute, way) {
        (_, _, Way::Stroke | Way::Interpolated) => None,
        (false, false, _) => Some(940),
        (true, true, _) if style.family == Family::SystemA => Some(990),
        (true, true, _) => Some(950),
        _ => None,
    };
    let wanted = Wanted {
        thread,
        side: Side::Internal,
        kind: Kind::Tapped,
        count: plan.places.len(),
        named: name.is_some(),
    };
    let text = station.framed(&Around {
        comments: name.into_iter().chain(drill).collect(),
        speed: None,
        first: plan.places.first().copied().unwrap_or_default(),
        clear,
        retract,
        finds_place: false,
        cycle: way == Way::Cycle,
        cut: &cut,
        mode_after,
    });
    let mut block = Block {
        text,
        depths: Vec::new(),
        peak_mm2: None,
        seconds: None,
        rpm,
        notes,
        findings: Vec::new(),
    };
    prove(&mut block, &wanted, style, facts)?;
    Ok(block)
}

/// The hole to drill before, and how deep.
fn hole_notes(order: &TapOrder, plan: &TapPlan, hole: Option<&Hole>, notes: &mut Vec<String>) {
    let size = |mm: f64| match order.station.style.units {
        Units::Millimetre => format!("{} mm", number(mm, 3)),
        Units::Inch => format!("{} in", number(mm / 25.4, 4)),
    };
    match hole.map(|hole| (hole, &hole.drill)) {
        Some((hole, Some(drill))) => {
            let name = if drill.name.is_empty() {
                String::new()
            } else {
                format!(" ({})", drill.name)
            };
            notes.push(format!(
                "tap drill {}{name} for a tap that cuts: {}; a forming tap wants another hole",
                size(drill.size),
                hole.rule
            ));
        }
        Some((hole, None)) => {
            let band = hole.band();
            if let (Some(min), Some(max)) = (band.min, band.max) {
                notes.push(format!(
                    "hole {} to {}: {}",
                    size(min),
                    size(max),
                    hole.rule
                ));
            }
        }
        None => notes.push("the hole before tapping is not known for this thread".into()),
    }
    let pitch = order.thread.pitch.mm();
    let (turns, room) = if order.floating {
        (2.0, "two pitches")
    } else {
        (1.0, "a pitch")
    };
    let bottom = plan.bottom - Length::from_mm(turns * pitch);
    notes.push(format!(
        "tip to Z-{}; a blind hole drilled to Z-{} at least at its full diameter: {room} to turn \
         round (common practice, no source)",
        size(plan.bottom.abs().mm()),
        size(bottom.abs().mm())
    ));
}

#[cfg(test)]
mod tests;
