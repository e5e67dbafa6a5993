//! Chip area of a groove cut by a tool with straight flanks and a sharp or rounded tip.
//!
//! Plane geometry; the areas do not depend on the infeed, which only moves the tool along the axis.

use crate::standards::form::Flanks;

/// Area in mm² of the groove that a tool tip leaves at `depth` mm below the crest: a sharp V, or a
/// V with a nose of radius `nose` mm tangent to both flanks. 0 above the crest.
///
/// For a rounded nose: below the height where the arc meets the flanks it is a segment of the
/// circle, above it the sharp V from the virtual tip less what the nose does not fill.
#[must_use]
pub fn groove(flanks: Flanks, nose: f64, depth: f64) -> f64 {
    if depth <= 0.0 {
        return 0.0;
    }
    let (a, b) = (
        flanks.leading_deg.to_radians(),
        flanks.trailing_deg.to_radians(),
    );
    let slope = a.tan() + b.tan();
    if nose <= 0.0 {
        return depth * depth * slope / 2.0;
    }
    let half = (a + b) / 2.0;
    let arc_height = nose * (1.0 - half.sin());
    if depth <= arc_height {
        let r = nose;
        return r * r * ((r - depth) / r).acos()
            - (r - depth) * (2.0 * r * depth - depth * depth).sqrt();
    }
    let virtual_tip = nose * (1.0 / half.sin() - 1.0);
    let unfilled = nose * nose * (half.tan().recip() - (std::f64::consts::PI - 2.0 * half) / 2.0);
    let tall = depth + virtual_tip;
    tall * tall * slope / 2.0 - unfilled
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
