//! Chip area of a groove cut by a tool with straight flanks and a sharp or rounded tip.
//!
//! Plane geometry; the areas do not depend on the infeed, which only moves the tool along the axis.

use crate::standards::form::Flanks;

/// Area in mm² of the groove that a tool tip leaves at `depth` mm below the crest: a sharp V, or a
/// V with a nose of radius `nose` mm tangent to both flanks. 0 above the crest.
///
/// For a rounded nose each half of the groove is worked out by itself, because the arc leaves the
/// steeper flank higher up: at r (1 − sin a) above the tip it is r cos a wide, below it is half a
/// segment of the circle, above it the flank opens by tan a.
#[must_use]
pub fn groove(flanks: Flanks, nose: f64, depth: f64) -> f64 {
    if depth <= 0.0 {
        return 0.0;
    }
    let half = |flank_deg: f64| {
        let flank = flank_deg.to_radians();
        let touch = nose * (1.0 - flank.sin());
        let above = (depth - touch).max(0.0);
        half_segment(nose, depth.min(touch))
            + above * nose * flank.cos()
            + above * above * flank.tan() / 2.0
    };
    half(flanks.leading_deg) + half(flanks.trailing_deg)
}

/// Half of the segment of a circle of radius `r` up to a height above its lowest point.
fn half_segment(r: f64, height: f64) -> f64 {
    if r <= 0.0 || height <= 0.0 {
        return 0.0;
    }
    let below = r - height;
    (r * r * (below / r).acos() - below * (2.0 * r * height - height * height).sqrt()) / 2.0
}

/// Area in mm² of the groove that a tool with a flat tip leaves at `depth` mm below the crest: a
/// trapezium, flat · depth + depth² · (tan a + tan b) / 2; rounded corners are not taken into
/// account. 0 above the crest.
#[must_use]
pub fn flat_groove(flanks: Flanks, flat: f64, depth: f64) -> f64 {
    if depth <= 0.0 {
        return 0.0;
    }
    let slope = flanks.leading_deg.to_radians().tan() + flanks.trailing_deg.to_radians().tan();
    flat * depth + depth * depth * slope / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIXTY: Flanks = Flanks::symmetric(30.0);

    fn near(got: f64, want: f64) {
        assert!((got - want).abs() < 5e-7, "{got} is not {want}");
    }

    /// Plane geometry, worked apart from this code: h²·tan 30°; r = 0.2 at depths on both sides
    /// of the tangent point.
    #[test]
    fn areas_worked_by_hand() {
        near(groove(SIXTY, 0.0, 1.226_87), 0.869_033);
        near(groove(SIXTY, 0.2, 1.0), 0.803_990);
        near(groove(SIXTY, 0.2, 0.05), 0.009_066);
        near(groove(SIXTY, 0.2, -1.0), 0.0);
    }

    /// Unequal flanks. By hand for 3°/30°, r = 0.5, 2 mm deep: 0.1832715 + 0.7620382 + 0.0610339 on
    /// the steep side, 0.0767731 + 0.7577722 + 0.8840677 on the other. The others by adding up
    /// 400,000 strips, apart from this code.
    #[test]
    fn unequal_flanks() {
        let flanks = |leading_deg, trailing_deg| Flanks {
            leading_deg,
            trailing_deg,
            pressure: None,
        };
        near(groove(flanks(3.0, 30.0), 0.5, 2.0), 2.724_956_5);
        near(groove(flanks(30.0, 3.0), 0.5, 2.0), 2.724_956_5);
        near(groove(flanks(7.0, 45.0), 0.3, 1.5), 1.831_282);
        near(groove(flanks(7.0, 45.0), 0.3, 0.15), 0.055_592);
        near(groove(flanks(7.0, 45.0), 0.0, 1.0), 0.561_392);
        near(groove(flanks(0.0, 0.0), 0.0, 1.0), 0.0);
    }

    #[test]
    fn the_two_formulas_meet_at_the_tangent_point() {
        let meet = 0.2 * (1.0 - 30f64.to_radians().sin());
        near(
            groove(SIXTY, 0.2, meet - 1e-9),
            groove(SIXTY, 0.2, meet + 1e-9),
        );
    }

    /// Tr 40x7: a flat of 2.294 mm, 4 mm deep between flanks of 15° (by hand); square: a rectangle.
    #[test]
    fn flat_tips() {
        near(flat_groove(Flanks::symmetric(15.0), 2.294, 4.0), 13.463_187);
        near(flat_groove(Flanks::symmetric(0.0), 3.0, 3.0), 9.0);
        near(flat_groove(Flanks::symmetric(15.0), 2.294, -1.0), 0.0);
    }
}
