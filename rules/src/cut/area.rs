//! Chip area of a groove cut by a tool with straight flanks and a sharp or rounded tip.
//!
//! Plane geometry; the areas do not depend on the infeed, which only moves the tool along the axis.

use crate::gauge::profile::Profile;
use crate::measure::tool::Nose;
use crate::standards::form::Flanks;

/// Area in mm² of the groove that a tool tip leaves at `depth` mm below the crest: a sharp V, or a
/// V with a nose of radius `nose` mm tangent to both flanks. 0 above the crest.
#[must_use]
pub fn groove(flanks: Flanks, nose: f64, depth: f64) -> f64 {
    Profile::of(flanks, Nose::Radius(nose), true).area(depth)
}

/// Area in mm² of the groove that a tool with a flat tip leaves at `depth` mm below the crest: a
/// trapezium, flat · depth + depth² · (tan a + tan b) / 2; rounded corners are not taken into
/// account. 0 above the crest.
#[must_use]
pub fn flat_groove(flanks: Flanks, flat: f64, depth: f64) -> f64 {
    Profile::of(flanks, Nose::Flat(flat), true).area(depth)
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
