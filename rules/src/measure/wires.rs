//! Measuring the pitch diameter over three wires, and of an internal thread over two balls.
//!
//! External: M = d2 + w · (1 + cos((α − β)/2) / sin((α + β)/2)) − H, for equal flanks the handbook
//! formula M = d2 + w · (1 + 1/sin α) − (P/2) · cot α. Internal, from the far side of one ball to
//! the far side of the other: M = D2 − w · (cos((α − β)/2) / sin((α + β)/2) − 1) + H. The lead
//! angle enters by [`Vee::along_helix`]. The external formula is that of the handbooks (from
//! memory) and agrees with two printed ones, see the tests; the internal one is derived as its
//! mirror.

use std::cmp::Ordering;
use std::f64::consts::PI;

use super::vee::Vee;
use crate::standards::Side;
use crate::standards::form::{End, Form};
use crate::standards::limits::{Band, Limits};
use crate::standards::thread::Thread;

/// Smallest and largest usable wire of a 60° thread in pitches (handbook values: 0.560 and 0.900
/// over threads per inch).
const USABLE_60: [f64; 2] = [0.560, 0.900];

/// A measurement over wires (external) or balls (internal); all in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wires {
    /// The diameter that touches the flanks at the pitch line, where an error of the flank angle
    /// disturbs least; where that is not usable, the nearest that is.
    pub best: f64,
    /// Diameters that rest on the flanks and stand out beyond the crests.
    pub usable: Band,
    /// The diameter that the figures below are for.
    pub wire: f64,
    /// What is read at the limits of the pitch diameter.
    pub over: Band,
    /// What is read at the basic pitch diameter.
    pub over_basic: f64,
    /// The part of the readings that comes from the lead angle.
    pub lead_term: f64,
}

impl Wires {
    /// Whether the wire rests on the flanks and can be reached.
    #[must_use]
    pub fn fits(&self) -> bool {
        self.usable.holds(self.wire)
    }
}

/// The measurement of one side of a thread over its best wire, or over the one given.
///
/// # Errors
/// Why the thread cannot be measured so.
pub fn wires(
    thread: &Thread,
    side: Side,
    limits: &Limits,
    wire: Option<f64>,
) -> Result<Wires, String> {
    let form = thread.form();
    let Some(vee) = Vee::of(&form) else {
        return Err("the form has no flanks on which a wire could rest".to_owned());
    };
    if form.taper != 0.0 {
        let why = "a wire on a taper thread touches the two sides at different diameters; the \
                   formula for that is not known here";
        return Err(why.to_owned());
    }
    let (pitch, lead, basic) = (thread.pitch.mm(), thread.lead().mm(), thread.basic());
    let (crest, root) = match side {
        Side::External => (basic.major - basic.pitch, basic.pitch - basic.root),
        Side::Internal => (basic.pitch - basic.minor, basic.major - basic.pitch),
    };
    let [least, most] = usable(vee, &form, side, pitch, [crest / 2.0, root / 2.0]);
    if least.partial_cmp(&most) != Some(Ordering::Less) {
        return Err("no wire both rests on the flanks and stands out beyond the crests".to_owned());
    }
    let best = best_wire(vee, pitch).clamp(least, most);
    let wire = wire.unwrap_or(best);
    let read = |d2: f64| match side {
        Side::External => over_wires(vee, pitch, lead, d2, wire),
        Side::Internal => over_balls(vee, pitch, lead, d2, wire),
    };
    let flat = match side {
        Side::External => over_wires(vee, pitch, 0.0, basic.pitch, wire),
        Side::Internal => over_balls(vee, pitch, 0.0, basic.pitch, wire),
    };
    Ok(Wires {
        best,
        usable: Band::between(least, most),
        wire,
        over: limits.pitch.map(read),
        over_basic: read(basic.pitch),
        lead_term: read(basic.pitch) - flat,
    })
}

/// Diameter of the wire that touches the flanks at the pitch line: w = P / (2 cos α) for equal
/// flanks. With unequal flanks it cannot touch both there; then the two heights lie as far above
/// as below it (derived. For 7°/45° handbooks give 0.54147 P, from memory; any wire of the usable
/// range measures as well).
#[must_use]
pub fn best_wire(vee: Vee, pitch: f64) -> f64 {
    let (low, high) = vee.touches();
    2.0 * vee.sharp_height(pitch) / (low + high)
}

/// What is read over three wires at a pitch diameter, see the module.
#[must_use]
pub fn over_wires(vee: Vee, pitch: f64, lead: f64, pitch_diameter: f64, wire: f64) -> f64 {
    let seen = vee.along_helix((lead / (PI * pitch_diameter)).atan());
    pitch_diameter + wire * (1.0 + seen.seat()) - vee.sharp_height(pitch)
}

/// What is read over two balls in an internal thread at a pitch diameter, see the module.
#[must_use]
pub fn over_balls(vee: Vee, pitch: f64, lead: f64, pitch_diameter: f64, ball: f64) -> f64 {
    let seen = vee.along_helix((lead / (PI * pitch_diameter)).atan());
    pitch_diameter - ball * (seen.seat() - 1.0) + vee.sharp_height(pitch)
}

/// By how much of the pitch a wire must stand out beyond the crests (our own choice).
const PROUD: f64 = 0.02;

/// The smallest and the largest wire that touches the straight part of the flanks and stands out
/// beyond the crests, where the crest lies `crest` above the pitch line and the root `root` below
/// it (derived), within the handbook range of a 60° thread.
fn usable(vee: Vee, form: &Form, side: Side, pitch: f64, [crest, root]: [f64; 2]) -> [f64; 2] {
    let line = vee.sharp_height(pitch) / 2.0;
    let (low, high) = vee.touches();
    let profile = form.side(side);
    // How far a rounded end takes away from the straight flank; the lower flank angle loses most.
    let rounded = |end: &End| {
        let radius = end.radius.map_or(0.0, |spread| spread.design.at(pitch));
        let least = vee.angles()[0].min(vee.angles()[1]);
        if end.flat.is_some() {
            0.0
        } else {
            radius * (1.0 - least.sin())
        }
    };
    let flank_top = line + crest - rounded(&profile.crest);
    let flank_foot = line - root + rounded(&profile.root);
    let proud = 2.0 * (line + crest + PROUD * pitch) / (vee.seat() + 1.0);
    let (mut least, mut most) = (proud.max(2.0 * flank_foot / low), 2.0 * flank_top / high);
    if vee
        .angles()
        .iter()
        .all(|angle| (angle.to_degrees() - 30.0).abs() < 1e-9)
    {
        least = least.max(USABLE_60[0] * pitch);
        most = most.min(USABLE_60[1] * pitch);
    }
    [least, most]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;
    use crate::standards::form::Flanks;

    fn vee(leading_deg: f64, trailing_deg: f64) -> Vee {
        let flanks = Flanks {
            leading_deg,
            trailing_deg,
            pressure: None,
        };
        Vee::between(flanks).unwrap()
    }

    fn near(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() < within, "{got} is not {want}");
    }

    /// M20x2.5-6g worked apart from this code: d2 18.334 and 18.164, best wire 1.4434.
    #[test]
    fn three_wires_of_m20() {
        let m20 = parse("M20x2.5-6g", None).unwrap();
        let limits = m20.limits(Side::External);
        let wires = wires(&m20, Side::External, &limits, None).unwrap();
        near(wires.best, 1.4434, 5e-5);
        let (min, max) = (wires.over.min.unwrap(), wires.over.max.unwrap());
        near(max, 20.4991 + 0.0020, 1e-4);
        near(min, 20.3291 + 0.0021, 1e-4);
        near(wires.lead_term, 0.0020, 5e-5);
        assert!(wires.fits());
    }

    /// A US Army ordnance text gives M = D + 3 W − 1.5155/N for 60° threads of basic size; the
    /// handbook "Turning and Boring" (public domain) M = D − 1.6008 P + 3.1657 W for Whitworth.
    #[test]
    fn printed_formulas() {
        for (name, w) in [("1/2-13 UNC", 1.2), ("M24x3", 1.7), ("7/16-14 UNC", 1.143)] {
            let thread = parse(name, None).unwrap();
            let (d, p) = (thread.major.mm(), thread.pitch.mm());
            let ours = over_wires(vee(30.0, 30.0), p, 0.0, thread.basic().pitch, w);
            near(ours, d + 3.0 * w - 1.5155 * p, 1e-4 * p);
        }
        let (d, p, w) = (12.7, 25.4 / 12.0, 1.2);
        let d2 = d - 0.640_327 * p;
        let ours = over_wires(vee(27.5, 27.5), p, 0.0, d2, w);
        near(ours, d - 1.6008 * p + 3.1657 * w, 2e-4);
    }

    /// The usual approximation of the lead-angle term, (w/2) · tan² λ · cos α · cot α, is met at
    /// small angles.
    #[test]
    fn lead_angle_term() {
        let (p, d2, w, a) = (2.5, 18.334, 1.443, 30f64.to_radians());
        let with = over_wires(vee(30.0, 30.0), p, p, d2, w);
        let without = over_wires(vee(30.0, 30.0), p, 0.0, d2, w);
        let tan = p / (PI * d2);
        near(
            with - without,
            w / 2.0 * tan * tan * a.cos() / a.tan(),
            1e-5,
        );
    }

    /// Over balls an internal thread reads less than over wires an external one of the same size:
    /// the balls lie in the material's grooves, a ball of no size reads the sharp diameter.
    #[test]
    fn balls_mirror_wires() {
        let v = vee(30.0, 30.0);
        near(over_balls(v, 2.0, 0.0, 28.701, 0.0), 28.701 + 1.732, 1e-3);
        near(over_wires(v, 2.0, 0.0, 28.701, 0.0), 28.701 - 1.732, 1e-3);
        let sum = over_balls(v, 2.0, 0.0, 28.7, 1.1) + over_wires(v, 2.0, 0.0, 28.7, 1.1);
        near(sum, 2.0 * 28.7 + 2.0 * 1.1, 1e-9);
    }

    #[test]
    fn a_wire_too_small_or_too_large_does_not_fit() {
        let m24 = parse("M24x3-6g", None).unwrap();
        let limits = m24.limits(Side::External);
        for (w, fits) in [(1.6, false), (1.7, true), (2.6, true), (2.8, false)] {
            let wires = wires(&m24, Side::External, &limits, Some(w)).unwrap();
            assert_eq!(wires.fits(), fits, "{w}");
        }
    }
}
