//! What the passes leave behind: the pitch diameter that follows from the last diameter and the
//! tool nose, and the nose that a pitch diameter asks for.
//!
//! Plane geometry of a tool with straight, equal flanks whose tip stands at the last diameter, with
//! no wear offset. The sharp V lies beyond the tip by r · (1/sin a - 1), a being the flank angle.

use crate::standards::Side;
use crate::standards::form::Flanks;

/// Pitch diameter in mm that a tool of nose radius `nose` mm leaves when its tip ends at the
/// diameter `tip` mm; none where the flanks are unequal.
#[must_use]
pub fn pitch_diameter(flanks: Flanks, pitch: f64, side: Side, tip: f64, nose: f64) -> Option<f64> {
    let height = flanks.sharp_height() * pitch;
    let short = 2.0 * nose * per_nose(flanks)?;
    Some(match side {
        Side::External => tip + height - short,
        Side::Internal => tip - height + short,
    })
}

/// Nose radius in mm that leaves the pitch diameter `wanted` mm when the tip ends at `tip` mm;
/// negative where even a sharp tool cuts too deep.
#[must_use]
pub fn nose_for(flanks: Flanks, pitch: f64, side: Side, tip: f64, wanted: f64) -> Option<f64> {
    let sharp = pitch_diameter(flanks, pitch, side, tip, 0.0)?;
    let short = match side {
        Side::External => sharp - wanted,
        Side::Internal => wanted - sharp,
    };
    Some(short / (2.0 * per_nose(flanks)?))
}

/// Radial distance from the tip to the sharp V, per mm of nose radius.
fn per_nose(flanks: Flanks) -> Option<f64> {
    let equal = (flanks.leading_deg - flanks.trailing_deg).abs() < 1e-9;
    equal.then(|| 1.0 / flanks.leading_deg.to_radians().sin() - 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIXTY: Flanks = Flanks::symmetric(30.0);

    /// M20x2.5 cut to 16.933 mm, worked apart from this code: d2 = X + H - 2r with H = 2.16506.
    #[test]
    fn pitch_diameters_worked_by_hand() {
        for (nose, expected) in [
            (0.0, 19.098),
            (0.05, 18.998),
            (0.3125, 18.473),
            (0.36085, 18.376),
        ] {
            let got = pitch_diameter(SIXTY, 2.5, Side::External, 16.933, nose).unwrap();
            assert!((got - expected).abs() < 6e-4, "{got}");
            let back = nose_for(SIXTY, 2.5, Side::External, 16.933, got).unwrap();
            assert!((back - nose).abs() < 1e-9);
        }
    }

    /// A nut of ISO 68-1 with a root radius of H/8 ends at its nominal diameter: M36x3 has
    /// D2 = 34.051 (ISO 724).
    #[test]
    fn a_nut_with_a_root_radius_of_an_eighth_of_h() {
        let nose = 0.866_025_4 * 3.0 / 8.0;
        let got = pitch_diameter(SIXTY, 3.0, Side::Internal, 36.0, nose).unwrap();
        assert!((got - 34.051).abs() < 6e-4, "{got}");
    }

    /// 55°: d2 = d - 0.640327 P and a root radius of 0.137329 P (BS 84), 1 in with 8 threads.
    #[test]
    fn whitworth_form() {
        let pitch = 25.4 / 8.0;
        let tip = 25.4 - 2.0 * 0.640_327 * pitch;
        let flanks = Flanks::symmetric(27.5);
        let got = pitch_diameter(flanks, pitch, Side::External, tip, 0.137_329 * pitch).unwrap();
        assert!((got - (25.4 - 0.640_327 * pitch)).abs() < 1e-4, "{got}");
    }
}
