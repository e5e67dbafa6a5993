//! The tool: how deep a nose of a given shape must go so that the pitch diameter comes right, the
//! largest nose that the root takes, the lead angle and the clearance of the flanks.
//!
//! A nose does not reach the sharp apex of the groove. Its tip stands above the apex by
//! t = r · (cos((α − β)/2) / sin((α + β)/2) − 1) for a radius r (r at 60°), by
//! t = f / (tan α + tan β) for a flat f (0.866 f at 60°). So the tip runs at the diameter
//! X = d2 − H + 2 t for an external pitch diameter d2, at X = D2 + H − 2 t for an internal one
//! (derived). The sum takes the tool to be measured at its tip and all offsets to be zero.

use super::vee::Vee;
use crate::standards::Side;
use crate::standards::form::{Measure, lead_angle_deg};
use crate::standards::limits::{Band, Limits};
use crate::standards::thread::Thread;

/// The tip of a tool between its two flanks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Nose {
    /// A radius in mm that runs into both flanks; 0 for a sharp tip.
    Radius(f64),
    /// A flat of this width in mm along the axis.
    Flat(f64),
}

impl Nose {
    /// How far the tip stands above the sharp apex in mm, see the module.
    #[must_use]
    pub fn short_of_apex(self, vee: Vee) -> f64 {
        match self {
            Nose::Radius(radius) => radius * (vee.seat() - 1.0),
            Nose::Flat(width) => width / vee.opening(),
        }
    }
}

/// The pitch diameter in mm that a nose leaves whose tip runs at the diameter `tip`.
#[must_use]
pub fn pitch_diameter(vee: Vee, pitch: f64, side: Side, nose: Nose, tip: f64) -> f64 {
    let reach = vee.sharp_height(pitch) - 2.0 * nose.short_of_apex(vee);
    match side {
        Side::External => tip + reach,
        Side::Internal => tip - reach,
    }
}

/// The diameter in mm at which the tip of a nose must run to leave a pitch diameter.
#[must_use]
pub fn tip_diameter(vee: Vee, pitch: f64, side: Side, nose: Nose, pitch_diameter: f64) -> f64 {
    let reach = vee.sharp_height(pitch) - 2.0 * nose.short_of_apex(vee);
    match side {
        Side::External => pitch_diameter - reach,
        Side::Internal => pitch_diameter + reach,
    }
}

/// The nose radius in mm that leaves the pitch diameter `wanted` when the tip runs at the diameter
/// `tip`; negative where even a sharp tip cuts too deep.
#[must_use]
pub fn radius_for(vee: Vee, pitch: f64, side: Side, tip: f64, wanted: f64) -> f64 {
    let sharp = pitch_diameter(vee, pitch, side, Nose::Radius(0.0), tip);
    let short = match side {
        Side::External => sharp - wanted,
        Side::Internal => wanted - sharp,
    };
    short / (2.0 * (vee.seat() - 1.0))
}

/// How the root that a nose leaves goes with the limits of the thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fit {
    /// Inside them, as far as they are known.
    Fits,
    /// The root lies deeper than the limits of the root allow: the nose is finer than the root.
    /// The other way is to stop at that limit and to widen the groove along the axis.
    TooDeep {
        /// How much deeper, on the diameter, mm.
        by: f64,
        /// Diameter of the root at its limit, mm.
        stop_at: f64,
        /// How much the groove is then to be widened along the axis in all, mm.
        widen: f64,
    },
    /// The nose is wider or rounder than the root leaves room for: a gauge would foul.
    TooLarge,
}

/// What a tool cuts to, for one nose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cut {
    /// The nose.
    pub nose: Nose,
    /// What the nose is to the form, as words for a table.
    pub label: &'static str,
    /// Diameter of the tip for the smallest and the largest pitch diameter, mm; open where the
    /// limits are.
    pub tip: Band,
    /// Diameter of the tip for the middle of the pitch diameter's limits, or for the basic one
    /// where there are none, mm.
    pub middle: f64,
    /// Diameter that the depths count from, mm: the basic major diameter of an external thread,
    /// the basic minor diameter of an internal one.
    pub from: f64,
    /// Radial depths for the two ends of `tip`, mm.
    pub depth: Band,
    /// Radial depth for `middle`, mm; twice that on the diameter.
    pub depth_middle: f64,
    /// How it goes with the limits of the root.
    pub fit: Fit,
}

/// Half of the least angle between flanks, in radians, at which tools have a sharp tip: 20°.
const LEAST_SHARP: f64 = std::f64::consts::PI / 9.0;

/// The noses that the form itself names: a sharp tip, the radii of its root, the flat of its root.
#[must_use]
pub fn usual_noses(thread: &Thread, side: Side) -> Vec<(Nose, &'static str)> {
    let pitch = thread.pitch.mm();
    let root = thread.form().side(side).root;
    // No tool for a narrow form is sharp: its root is a flat or a round.
    let sharp = Vee::of(&thread.form()).is_some_and(|vee| vee.half_included() > LEAST_SHARP);
    let mut noses: Vec<(Nose, &'static str)> = Vec::new();
    noses.extend(sharp.then_some((Nose::Radius(0.0), "sharp")));
    let mut last = 0.0;
    for (radius, label) in nose_radii(thread, side).into_iter().flatten() {
        if radius > last + 1e-6 {
            noses.push((Nose::Radius(radius), label));
            last = radius;
        }
    }
    if let Some(flat) = root.flat.map(|flat| flat.at(pitch)).filter(|f| *f > 1e-6) {
        noses.push((Nose::Flat(flat), "root flat"));
    }
    noses
}

/// The root radii that the form states, where they make a whole nose: those beside a flat may be
/// the radii of its corners.
fn nose_radii(thread: &Thread, side: Side) -> Option<[(f64, &'static str); 3]> {
    let root = thread.form().side(side).root;
    let radius = root.radius?;
    let at = |measure: Measure| measure.at(thread.pitch.mm());
    let whole = root.flat.is_none() || 2.0 * at(radius.max) > room(thread, side)?;
    whole.then(|| {
        [
            (at(radius.min), "smallest root"),
            (at(radius.design), "design root"),
            (at(radius.max), "largest root"),
        ]
    })
}

/// The largest radius in mm of a nose whose arc begins beyond the crest of a go gauge of basic
/// size: r = (d1 − d2 + H) / (2 h) for an external thread, (D2 − D + H) / (2 h) for an internal
/// one, where h is the height per radius at which the arc leaves the flanks (derived; H/6 for the
/// external thread of 60°, as ISO 68-1 has it).
fn room(thread: &Thread, side: Side) -> Option<f64> {
    let basic = thread.basic();
    let vee = Vee::of(&thread.form())?;
    let gap = match side {
        Side::External => basic.minor - basic.pitch,
        Side::Internal => basic.pitch - basic.major,
    };
    let room = (vee.sharp_height(thread.pitch.mm()) + gap) / (2.0 * vee.touches().1);
    (room > 0.0).then_some(room)
}

/// The largest nose radius in mm that the root takes: what the form states, or else the largest
/// whose arc begins beyond the crest of a go gauge (derived).
#[must_use]
pub fn largest_radius(thread: &Thread, side: Side) -> Option<f64> {
    let stated = nose_radii(thread, side).map(|radii| radii[2].0);
    stated.or_else(|| room(thread, side))
}

/// The widest flat in mm of a nose that leaves the go gauge its room in the middle of the pitch
/// diameter's limits; `None` where the limits are not known.
#[must_use]
pub fn largest_flat(thread: &Thread, side: Side, limits: &Limits) -> Option<f64> {
    let vee = Vee::of(&thread.form())?;
    let height = vee.sharp_height(thread.pitch.mm());
    let middle = limits.pitch.middle()?;
    let gap = match side {
        Side::External => limits.minor.max? - middle,
        Side::Internal => middle - limits.major.min?,
    };
    Some((gap + height) * vee.opening() / 2.0).filter(|flat| *flat > 0.0)
}

/// What a tool with a nose cuts to; `None` where the flanks do not open.
#[must_use]
pub fn cut(
    thread: &Thread,
    side: Side,
    limits: &Limits,
    nose: Nose,
    label: &'static str,
) -> Option<Cut> {
    let vee = Vee::of(&thread.form())?;
    let (pitch, basic) = (thread.pitch.mm(), thread.basic());
    let tip_at = |d2: f64| tip_diameter(vee, pitch, side, nose, d2);
    let wanted = limits.pitch.middle().unwrap_or(basic.pitch);
    let (tip, middle) = (limits.pitch.map(tip_at), tip_at(wanted));
    let from = match side {
        Side::External => basic.major,
        Side::Internal => basic.minor,
    };
    let below = |x: f64| match side {
        Side::External => (from - x) / 2.0,
        Side::Internal => (x - from) / 2.0,
    };
    let depths = match side {
        Side::External => (tip.max, tip.min),
        Side::Internal => (tip.min, tip.max),
    };
    Some(Cut {
        nose,
        label,
        tip,
        middle,
        from,
        depth: Band {
            min: depths.0.map(below),
            max: depths.1.map(below),
        },
        depth_middle: below(middle),
        fit: fit(thread, side, limits, vee, nose, (middle, wanted)),
    })
}

fn fit(
    thread: &Thread,
    side: Side,
    limits: &Limits,
    vee: Vee,
    nose: Nose,
    (tip, pitch_diameter): (f64, f64),
) -> Fit {
    // Tables of the older standards round limits to 0.01 mm, noses are stated to 0.001 mm.
    const SLACK: f64 = 0.005;
    const NOSE_SLACK: f64 = 0.0005;
    let deepest = match side {
        Side::External => limits.root.min.or(limits.minor.min),
        Side::Internal => limits.root.max,
    };
    let (beyond, shallow) = match side {
        Side::External => (
            deepest.map(|deepest| deepest - tip),
            limits.minor.max.map(|most| tip - most),
        ),
        Side::Internal => (
            deepest.map(|deepest| tip - deepest),
            limits.major.min.map(|least| least - tip),
        ),
    };
    let large = match nose {
        Nose::Radius(radius) => {
            largest_radius(thread, side).is_some_and(|most| radius > most + NOSE_SLACK)
        }
        Nose::Flat(_) => false,
    };
    if large || shallow.is_some_and(|by| by > SLACK) {
        return Fit::TooLarge;
    }
    match (deepest, beyond) {
        (Some(stop_at), Some(by)) if by > SLACK => {
            let width = match nose {
                Nose::Flat(width) => width,
                Nose::Radius(_) => nose.short_of_apex(vee) * vee.opening(),
            };
            // The groove is half a pitch wide at the pitch diameter.
            let height = (pitch_diameter - stop_at).abs() / 2.0;
            let widen = thread.pitch.mm() / 2.0 - width - height * vee.opening();
            Fit::TooDeep { by, stop_at, widen }
        }
        _ => Fit::Fits,
    }
}

/// Allowance in degrees on top of the lead angle for the clearance of a flank (common practice).
pub const CLEARANCE_MARGIN_DEG: f64 = 1.0;

/// Lead angles and what they ask of the tool, in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeadAngles {
    /// At the basic pitch diameter: tan λ = lead / (π · d2).
    pub at_pitch: f64,
    /// At the smallest diameter of the profile, where it is largest.
    pub at_root: f64,
    /// Clearance that the leading flank of a tool needs which is not tilted into the lead angle:
    /// the lead angle at the smallest diameter and a margin of 1° (the margin is common practice).
    pub clearance: f64,
    /// Relief at the tip that gives this clearance on the flank that has least of it; `None`
    /// where it would be 30° or more, so that the tool must be tilted.
    pub relief: Option<f64>,
}

/// The lead angles of one side of a thread.
#[must_use]
pub fn lead_angles(thread: &Thread, side: Side) -> LeadAngles {
    let (lead, basic) = (thread.lead().mm(), thread.basic());
    let smallest = match side {
        Side::External => basic.root,
        Side::Internal => basic.minor,
    };
    let at_root = lead_angle_deg(lead, smallest);
    let clearance = at_root + CLEARANCE_MARGIN_DEG;
    let relief = Vee::of(&thread.form()).and_then(|vee| {
        let [a, b] = vee.angles();
        let relief = (clearance.to_radians().tan() / a.min(b).tan()).atan();
        Some(relief.to_degrees()).filter(|relief| *relief < 30.0)
    });
    LeadAngles {
        at_pitch: thread.lead_angle_deg(),
        at_root,
        clearance,
        relief,
    }
}

/// Clearance in degrees that relief at the tip gives on a flank: tan c = tan relief · tan α, with
/// α the angle of the flank from the normal to the axis (derived).
#[must_use]
pub fn flank_clearance_deg(relief_deg: f64, flank_deg: f64) -> f64 {
    (relief_deg.to_radians().tan() * flank_deg.to_radians().tan())
        .atan()
        .to_degrees()
}

#[cfg(test)]
mod tests;
