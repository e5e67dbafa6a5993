//! The V between two straight flanks: the geometry that wires, tool noses and coatings share.
//!
//! Heights are radial and count from the sharp apex of the groove, where the two flanks would
//! meet. The pitch line lies half the sharp height above it.

use crate::standards::form::{Flanks, Form};

/// Two straight flanks that open outward, each with its angle from the normal to the axis in
/// radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vee {
    leading: f64,
    trailing: f64,
}

/// Flanks that open less than this per side of the pitch (tangents added) make no V that a wire
/// could rest in or a depth could widen: a square thread.
const LEAST_OPENING: f64 = 0.02;

impl Vee {
    /// The flanks of a form; `None` where it has no straight flanks, or flanks that do not open.
    #[must_use]
    pub fn of(form: &Form) -> Option<Vee> {
        form.flanks.and_then(Vee::between)
    }

    /// The V between two flanks; `None` where they do not open.
    #[must_use]
    pub fn between(flanks: Flanks) -> Option<Vee> {
        let usual = 0.0..85.0;
        let vee = Vee {
            leading: flanks.leading_deg.to_radians(),
            trailing: flanks.trailing_deg.to_radians(),
        };
        let opens = usual.contains(&flanks.leading_deg)
            && usual.contains(&flanks.trailing_deg)
            && vee.opening() > LEAST_OPENING;
        opens.then_some(vee)
    }

    /// Width of the groove per height: tan α + tan β.
    #[must_use]
    pub fn opening(self) -> f64 {
        self.leading.tan() + self.trailing.tan()
    }

    /// Height of the sharp V in mm: H = P / (tan α + tan β).
    #[must_use]
    pub fn sharp_height(self, pitch: f64) -> f64 {
        pitch / self.opening()
    }

    /// Half the angle between the flanks in radians.
    #[must_use]
    pub fn half_included(self) -> f64 {
        (self.leading + self.trailing) / 2.0
    }

    /// Height of the centre of a circle that rests on both flanks, per radius:
    /// cos((α − β) / 2) / sin((α + β) / 2), for equal flanks 1 / sin α (plane geometry).
    #[must_use]
    pub fn seat(self) -> f64 {
        ((self.leading - self.trailing) / 2.0).cos() / self.half_included().sin()
    }

    /// Heights per radius at which a circle that rests on both flanks touches them: the lower one
    /// and the higher one, equal for equal flanks.
    #[must_use]
    pub fn touches(self) -> (f64, f64) {
        let along = 1.0 / self.half_included().tan();
        let (a, b) = (along * self.leading.cos(), along * self.trailing.cos());
        (a.min(b), a.max(b))
    }

    /// The V as it is seen along the helix: tan α becomes tan α · cos λ at the lead angle λ in
    /// radians, because the groove is cut in the plane of the axis but a wire lies in the plane at
    /// right angles to itself (derived; for equal flanks it is the exact lead-angle term
    /// √(1/sin² α + cot² α · tan² λ) of FED-STD-H28, from memory).
    #[must_use]
    pub fn along_helix(self, lead_angle: f64) -> Vee {
        let seen = |angle: f64| (angle.tan() * lead_angle.cos()).atan();
        Vee {
            leading: seen(self.leading),
            trailing: seen(self.trailing),
        }
    }

    /// Both flank angles in radians, the leading one first.
    #[must_use]
    pub fn angles(self) -> [f64; 2] {
        [self.leading, self.trailing]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vee(leading_deg: f64, trailing_deg: f64) -> Option<Vee> {
        Vee::between(Flanks {
            leading_deg,
            trailing_deg,
            pressure: None,
        })
    }

    #[test]
    fn square_and_impossible_flanks_are_no_v() {
        assert_eq!(vee(0.0, 0.0), None);
        assert_eq!(vee(30.0, 95.0), None);
        assert_eq!(vee(f64::NAN, 30.0), None);
        assert!(vee(3.0, 30.0).is_some());
    }

    #[test]
    fn a_circle_touches_both_flanks() {
        // The distance of the centre from each flank is the radius, whatever the angles.
        for (a, b) in [(30.0, 30.0), (7.0, 45.0), (3.0, 30.0)] {
            let vee = vee(a, b).unwrap();
            let [a, b] = vee.angles();
            let (low, high) = vee.touches();
            let heights = [a, b].map(|angle| vee.seat() - angle.sin());
            assert!((heights[0].min(heights[1]) - low.min(high)).abs() < 1e-12);
            assert!((heights[0].max(heights[1]) - high).abs() < 1e-12);
        }
    }
}
