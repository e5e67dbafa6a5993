//! Would the GO gauge enter, would the NO-GO stop?
//!
//! The GO gauge checks the whole form at once: it enters when the groove takes a gauge of its pitch
//! diameter and its crest clears the root. The NO-GO has short flanks and checks the simple pitch
//! diameter alone (ISO 1502 and ASME B1.2, from memory). What is reported holds for the sum, not
//! for wear, burrs, a lead that drifts, or tool and work that give way.

use super::finished::{Blank, Finished, Functional, finished, functional};
use super::groove::Groove;
use crate::standards::Side;
use crate::standards::form::Flanks;
use crate::standards::limits::Limits;

/// What a gauge does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gauge {
    /// It goes on or in.
    Enters,
    /// It stops.
    Stops,
    /// The limits for it are not known.
    Unknown,
}

/// The finished thread beside its limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Verdict {
    /// The thread.
    pub finished: Finished,
    /// The gauge that just fits; none for flanks that do not open.
    pub functional: Option<Functional>,
    /// How far the pitch diameter lies outside its limits in mm, negative below them.
    pub pitch_excess: f64,
    /// The GO gauge; it should enter.
    pub go: Gauge,
    /// The NO-GO gauge; it should stop.
    pub no_go: Gauge,
    /// What to add to the diameters of the program (a wear offset on the diameter) in mm, so that
    /// the pitch diameter comes to the middle of its limits; none where they are open.
    pub offset: Option<f64>,
}

/// Sums of this size in mm are rounding, not a verdict.
const SAME: f64 = 5e-4;

/// The verdict on a groove; `None` where [`finished`] is.
#[must_use]
pub fn verdict(
    groove: &Groove,
    blank: Blank,
    flanks: Flanks,
    leading_ahead: bool,
    limits: &Limits,
) -> Option<Verdict> {
    let finished = finished(groove, blank)?;
    let band = limits.pitch;
    // The crest of the GO ring is the largest minor diameter of the bolt, that of the GO plug the
    // least major diameter of the nut.
    let gauge_crest = match blank.side {
        Side::External => limits.minor.max,
        Side::Internal => limits.major.min,
    };
    let functional =
        gauge_crest.and_then(|crest| functional(groove, blank, flanks, leading_ahead, crest));
    let (go_limit, no_go_limit) = match blank.side {
        Side::External => (band.max, band.min),
        Side::Internal => (band.min, band.max),
    };
    // How much larger than the limit, counted towards more material.
    let over = |diameter: f64, limit: f64| match blank.side {
        Side::External => diameter - limit,
        Side::Internal => limit - diameter,
    };
    let go = match (functional, go_limit) {
        (Some(fits), Some(limit)) => {
            if fits.clears_root && over(fits.pitch, limit) <= SAME {
                Gauge::Enters
            } else {
                Gauge::Stops
            }
        }
        _ => Gauge::Unknown,
    };
    let no_go = match no_go_limit {
        Some(limit) if over(finished.pitch, limit) >= -SAME => Gauge::Stops,
        Some(_) => Gauge::Enters,
        None => Gauge::Unknown,
    };
    let excess = band.excess(finished.pitch);
    Some(Verdict {
        finished,
        functional,
        pitch_excess: if excess.abs() <= SAME { 0.0 } else { excess },
        go,
        no_go,
        offset: band.middle().map(|middle| middle - finished.pitch),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gauge::groove::Placement;
    use crate::gauge::profile::Profile;
    use crate::measure::tool::{Nose, tip_diameter};
    use crate::measure::vee::Vee;
    use crate::standards::designation::parse;

    fn judged(name: &str, side: Side, nose: f64, change: f64) -> Verdict {
        let thread = parse(name, Some(side)).unwrap();
        let limits = thread.limits(side);
        let flanks = thread.form().flanks.unwrap();
        let pitch = thread.pitch.mm();
        let crest = match side {
            Side::External => thread.major.mm(),
            Side::Internal => thread.basic().minor,
        };
        let blank = Blank { side, crest, pitch };
        let nose = Nose::Radius(nose);
        let middle = limits.pitch.middle().unwrap() + change;
        let tip = tip_diameter(Vee::between(flanks).unwrap(), pitch, side, nose, middle);
        let placement = Placement {
            u: 0.0,
            depth: blank.depth(tip),
        };
        let groove = Groove::cut(Profile::of(flanks, nose, true), [placement]);
        verdict(&groove, blank, flanks, true, &limits).unwrap()
    }

    /// M20x2.5-6g: 18.334 / 18.164 (ISO 965-2). In the middle the GO enters and the NO-GO stops;
    /// 0.1 up the GO stops, 0.1 down the NO-GO enters; the offset leads back to the middle.
    #[test]
    fn bolts() {
        let right = judged("M20x2.5-6g", Side::External, 0.3, 0.0);
        assert_eq!((right.go, right.no_go), (Gauge::Enters, Gauge::Stops));
        assert!((right.finished.pitch - 18.249).abs() < 1e-3);
        assert!(right.offset.unwrap().abs() < 1e-9);
        let large = judged("M20x2.5-6g", Side::External, 0.3, 0.1);
        assert_eq!((large.go, large.no_go), (Gauge::Stops, Gauge::Stops));
        assert!((large.offset.unwrap() + 0.1).abs() < 1e-9);
        assert!((large.pitch_excess - 0.015).abs() < 1e-3);
        let small = judged("M20x2.5-6g", Side::External, 0.3, -0.1);
        assert_eq!((small.go, small.no_go), (Gauge::Enters, Gauge::Enters));
    }

    #[test]
    fn nuts() {
        let right = judged("M20x2.5-6H", Side::Internal, 0.15, 0.0);
        assert_eq!((right.go, right.no_go), (Gauge::Enters, Gauge::Stops));
        let small = judged("M20x2.5-6H", Side::Internal, 0.15, -0.2);
        assert_eq!((small.go, small.no_go), (Gauge::Stops, Gauge::Stops));
        let large = judged("M20x2.5-6H", Side::Internal, 0.15, 0.2);
        assert_eq!((large.go, large.no_go), (Gauge::Enters, Gauge::Enters));
    }

    /// The right pitch diameter with a nose far too round: the GO stops all the same.
    #[test]
    fn a_nose_too_round_stops_the_go() {
        let round = judged("M20x2.5-6g", Side::External, 0.6, 0.0);
        assert_eq!((round.go, round.no_go), (Gauge::Stops, Gauge::Stops));
        assert_eq!(round.pitch_excess, 0.0);
    }
}
