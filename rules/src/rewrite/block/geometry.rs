//! Diameters, speed, infeed and run-in of a block that is written from a designation.

use lexer::evidence::Family;
use lexer::section::{Side, Syntax};
use lexer::units::Units;

use super::{Order, Speed};
use crate::cut::drive::{ACCELERATION, LEAD_ERROR, TIME_CONSTANT, ramp, settling, speed};
use crate::facts::Facts;
use crate::measure::tool::{Fit, Nose, cut};
use crate::standards::planes::Datum;
use crate::standards::thread::Thread;

/// Diameters in mm at the end of the stroke, and the depth between crest and root.
pub(super) struct Shape {
    pub(super) crest: f64,
    pub(super) root: f64,
    pub(super) start_x: f64,
    pub(super) depth: f64,
}

/// Crest, root and start of a thread.
///
/// The root is where the nose leaves the middle of the pitch diameter's limits; without a nose it is
/// the standard's drawing.
pub(super) fn shape(order: &Order, digit: f64, notes: &mut Vec<String>) -> Result<Shape, String> {
    let (thread, side) = (&order.thread, order.side);
    let (basic, pitch) = (thread.basic(), thread.pitch.mm());
    if !thread.exists_on(side) {
        return Err(format!(
            "{} is no {} thread",
            thread.designation(),
            side.name()
        ));
    }
    if !(order.length > 0.0 && order.length < 5000.0) {
        return Err("the length of the thread is not a length above 0".into());
    }
    let depth = depth(thread, side, order.nose, notes)?;
    let depth = (depth / digit).round() * digit;
    let moved = at_end(order)?;
    let clearance = order.clearance.unwrap_or(pitch.max(1.0));
    let (grid, plain) = match order.style.units {
        Units::Millimetre => (0.5, 1e-3),
        Units::Inch => (0.508, 2.54e-3),
    };
    Ok(match side {
        Side::External => {
            let crest = basic.major + moved;
            Shape {
                crest,
                root: crest - 2.0 * depth,
                start_x: ((crest + 2.0 * clearance) / grid - 1e-9).ceil() * grid,
                depth,
            }
        }
        Side::Internal => {
            let crest = basic.minor + moved;
            let room = clearance.min(crest / 4.0);
            let start = crest - 2.0 * room;
            let round = (start / grid + 1e-9).floor() * grid;
            Shape {
                crest,
                root: crest + 2.0 * depth,
                start_x: if round > 0.25 * crest {
                    round
                } else {
                    (start / plain).round() * plain
                },
                depth,
            }
        }
    })
}

/// Depth in mm between crest and root: with it the nose leaves the middle of the pitch diameter's
/// limits; without a nose it is the standard's drawing.
pub(in crate::rewrite) fn depth(
    thread: &Thread,
    side: Side,
    nose: Option<f64>,
    notes: &mut Vec<String>,
) -> Result<f64, String> {
    let (form, pitch) = (thread.form(), thread.pitch.mm());
    let drawn = form.design_depth(side, pitch);
    let by_nose = nose.and_then(|nose| {
        let limits = thread.limits(side);
        let nose = if form.tip_flat_mm(side, pitch).is_some() {
            return None;
        } else {
            Nose::Radius(nose)
        };
        cut(thread, side, &limits, nose, "as given")
    });
    match by_nose.map(|cut| (cut.depth_middle, cut.fit)) {
        Some((depth, Fit::Fits)) => {
            notes.push(format!(
                "depth {depth:.4} mm: the nose leaves the pitch diameter in the middle of its limits"
            ));
            Ok(depth)
        }
        Some((_, Fit::TooDeep { by, .. })) => {
            notes.push(format!(
                "depth {drawn:.4} mm by the standard's drawing: with this nose the middle of the pitch \
                 diameter would need {by:.3} mm more on the diameter than the root allows; widen the \
                 groove along the axis or take a rounder nose"
            ));
            Ok(drawn)
        }
        Some((_, Fit::TooLarge)) => {
            Err("the nose is larger than the root of this thread takes".into())
        }
        None => {
            notes.push(format!(
                "depth {drawn:.4} mm by the standard's drawing ({}): the pitch diameter depends on the \
                 nose of the tool; state it",
                form.source
            ));
            Ok(drawn)
        }
    }
}

/// How much the diameters at the end of a tapered thread differ from those in its gauge plane, when
/// its end face lies at Z0.
fn at_end(order: &Order) -> Result<f64, String> {
    let taper = order.thread.form().taper;
    if taper == 0.0 {
        return Ok(0.0);
    }
    let planes = order.thread.gauge_planes(order.side);
    let planes = planes.ok_or("where the gauge plane of this tapered thread lies is not known")?;
    let gauge = planes.gauge.z_mm;
    // Places grow towards the larger diameters: into the part for a bolt, out of it for a nut.
    let end = match (order.side, planes.datum) {
        (Side::External, Datum::SmallEnd) => order.length - gauge,
        (Side::Internal, Datum::LargeEnd) => -order.length - gauge,
        _ => {
            return Err(
                "its gauge plane counts from the other end, whose place along the axis is not known"
                    .into(),
            );
        }
    };
    Ok(end * taper)
}

/// Turns per minute, within the machine's limits.
///
/// The surface speed holds at `diameter` mm; the lowest of the limits decides.
pub(in crate::rewrite) fn rpm(
    wanted: Speed,
    diameter: f64,
    limits: Vec<(f64, String)>,
    notes: &mut Vec<String>,
) -> Result<f64, String> {
    let lowest = limits.into_iter().min_by(|(a, _), (b, _)| a.total_cmp(b));
    match wanted {
        Speed::Rpm(rpm) => {
            if !(rpm > 0.0 && rpm <= 1e6) {
                return Err("the speed is not a number of turns above 0".into());
            }
            if let Some((most, from)) = lowest.filter(|(most, _)| rpm > *most) {
                return Err(format!("{rpm} 1/min is more than {most:.0} 1/min: {from}"));
            }
            Ok(rpm)
        }
        Speed::Surface(speed) => {
            if !(speed > 0.0 && speed <= 1e4) {
                return Err("the surface speed is not a number above 0".into());
            }
            let rpm = speed * 1000.0 / (std::f64::consts::PI * diameter);
            let (rpm, from) = match lowest.filter(|(most, _)| rpm > *most) {
                Some((most, from)) => (most, from),
                None => (rpm, format!("{speed} m/min at {diameter:.2} mm")),
            };
            let rpm = if rpm >= 20.0 {
                (rpm / 10.0).floor() * 10.0
            } else {
                rpm.floor().max(1.0)
            };
            notes.push(format!("speed {rpm} 1/min: {from}"));
            Ok(rpm)
        }
    }
}

/// The machine's limits of turns per minute, each with its source; `lead` in mm is what the axis goes
/// in a turn, where the feed follows the spindle.
pub(in crate::rewrite) fn speed_limits(facts: &Facts, lead: Option<f64>) -> Vec<(f64, String)> {
    let machine = facts.machine.as_ref();
    let most = machine.and_then(|machine| Some((machine.max_rpm?, facts.cite("max_rpm"))));
    let by_feed = machine.and_then(|machine| {
        let feed = machine.max_thread_feed? / lead?;
        Some((feed, facts.cite("max_thread_feed_mm_min")))
    });
    most.into_iter().chain(by_feed).collect()
}

/// Tool angles that the six digits of the two-block cycle take (from memory of control manuals),
/// degrees.
const TOOL_ANGLES: [f64; 5] = [29.0, 30.0, 55.0, 60.0, 80.0];
/// How much the infeed must stay below the flank so that the other flank does not rub, degrees
/// (common practice, no source).
const FREE: f64 = 2.0;

/// Infeed angle in degrees.
pub(super) fn infeed(order: &Order, notes: &mut Vec<String>) -> Result<f64, String> {
    let flanks = order.thread.form().flanks;
    let flank = flanks.map_or(0.0, |flanks| flanks.leading_deg.min(flanks.trailing_deg));
    match order.infeed {
        Some(angle) if angle >= 0.0 && angle <= flank => Ok(angle),
        Some(angle) => Err(format!(
            "an infeed of {angle}° lies beyond the flank of {flank}°"
        )),
        // The lead along the cone would change with every start that the infeed moves.
        None if order.thread.form().taper != 0.0
            && order.syntax == Syntax::Strokes
            && order.style.family == Family::Interpreter =>
        {
            notes.push("infeed: straight in, so that the lead along the cone is the same".into());
            Ok(0.0)
        }
        None => {
            let halves = TOOL_ANGLES.iter().map(|angle| angle / 2.0);
            let usual = halves
                .filter(|half| *half <= flank - FREE)
                .fold(0.0, f64::max);
            notes.push(if usual == 0.0 {
                "infeed: straight in; state another where the pitch is coarse".to_owned()
            } else {
                format!("infeed: {usual}° along the flank of {flank}°, common practice")
            });
            Ok(usual)
        }
    }
}

/// Distance from Z0 to the start of the strokes, mm.
pub(super) fn run_in(
    order: &Order,
    facts: &Facts,
    rpm: f64,
    depth: f64,
    infeed: f64,
    notes: &mut Vec<String>,
) -> f64 {
    if let Some(start) = order.start {
        return start;
    }
    let machine = facts.machine.as_ref();
    let tau = machine.and_then(|machine| machine.servo_time_constant);
    let acceleration = machine.and_then(|machine| machine.acceleration);
    let v = speed(order.thread.lead().mm(), rpm);
    let lag = settling(v, tau.unwrap_or(TIME_CONSTANT), LEAD_ERROR);
    let ramp = ramp(v, acceleration.map_or(ACCELERATION, |a| a * 1000.0));
    let shift = depth * infeed.to_radians().tan();
    let (grid, unit) = match order.style.units {
        Units::Millimetre => (0.5, "mm"),
        Units::Inch => (1.27, "mm"),
    };
    let start = ((lag.max(ramp) + shift) / grid).ceil() * grid;
    let whose = if tau.is_some() || acceleration.is_some() {
        format!("by the drive of the machine ({})", facts.source)
    } else {
        "by the usual model of a drive, no machine is configured".to_owned()
    };
    notes.push(format!(
        "run-in {start:.2} {unit} {whose}: look for a centre or a tailstock there"
    ));
    start
}
