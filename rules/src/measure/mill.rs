//! Arithmetic of thread milling: feed at the tool's centre, distortion of the flank.

use std::f64::consts::TAU;

use crate::standards::Side;

/// Feed of the tool's centre for a feed at its edge: the edge of a cutter in a hole goes farther
/// than its centre, round a bolt less far (geometry: F · (D ∓ d) / D).
#[must_use]
pub fn centre_feed(side: Side, edge_feed: f64, thread: f64, cutter: f64) -> f64 {
    match side {
        Side::Internal => edge_feed * (thread - cutter) / thread,
        Side::External => edge_feed * (thread + cutter) / thread,
    }
}

/// By how much a cutter with straight flanks cuts away from the flank of an internal thread, in mm
/// of radius: k² · r / (2 · e · R) with k = P / 2π · cot(half angle), r the cutter's radius, R the
/// thread's, e = R - r. Derived, checked numerically; no published source is known. `None` where
/// the cutter does not fit into the thread.
#[must_use]
pub fn overcut(thread: f64, cutter: f64, pitch: f64, half_angle: f64) -> Option<f64> {
    let (big, small) = (thread / 2.0, cutter / 2.0);
    let apart = big - small;
    if apart <= 0.0 || small <= 0.0 || half_angle <= 0.0 {
        return None;
    }
    let k = pitch / TAU / half_angle.tan();
    Some(k * k * small / (2.0 * apart * big))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked examples: M24x3 with a cutter of 16 mm at 200 mm/min, M10x1.5 with 7.5 mm at 150;
    /// outside M24x3 (root diameter 20.319 mm) with 16 mm at 200.
    #[test]
    fn feeds_at_the_centre() {
        assert!((centre_feed(Side::Internal, 200.0, 24.0, 16.0) - 66.667).abs() < 0.001);
        assert!((centre_feed(Side::Internal, 150.0, 10.0, 7.5) - 37.5).abs() < 1e-9);
        let root = 24.0 - 1.226_869 * 3.0;
        assert!((centre_feed(Side::External, 200.0, root, 16.0) - 357.49).abs() < 0.01);
    }

    /// Rotating a straight flank along the path and taking the envelope numerically gives 0.05175,
    /// 0.02570, 0.05715 and 0.02851 mm; the closed form lies within 1 % of it.
    #[test]
    fn overcuts_against_a_numeric_envelope() {
        for (thread, cutter, pitch, numeric) in [
            (10.0, 7.5, 1.5, 0.05175),
            (10.0, 6.0, 1.5, 0.02570),
            (24.0, 16.0, 3.0, 0.05715),
            (24.0, 12.0, 3.0, 0.02851),
        ] {
            let closed = overcut(thread, cutter, pitch, 30f64.to_radians()).unwrap();
            assert!(
                (closed / numeric - 1.0).abs() < 0.01,
                "{thread} {cutter}: {closed}"
            );
        }
        assert_eq!(overcut(10.0, 10.0, 1.5, 0.5), None);
    }

    /// The envelope itself, for one case: the deepest that the flank of the cutter reaches beyond
    /// the flank of the thread, over all angles of the cutter about the hole.
    #[test]
    fn the_closed_form_against_an_envelope_worked_here() {
        let (thread, cutter, pitch) = (24.0f64, 16.0f64, 3.0f64);
        let (big, small) = (thread / 2.0, cutter / 2.0);
        let apart = big - small;
        let tan = 30f64.to_radians().tan();
        // At the radius R of the thread's flank the cutter, turned by t, stands z = P t / 2π
        // higher and reaches r(t) = distance from its centre; its flank is thinner by
        // (small - r) tan on each side.
        let mut most = 0.0f64;
        for n in 0..200_000 {
            let t = f64::from(n) * 1e-6 * 5.0;
            let distance = (apart * apart + big * big - 2.0 * apart * big * t.cos()).sqrt();
            let lift = pitch * t / TAU;
            most = most.max(lift - (distance - small) * tan);
        }
        let radial = most / tan;
        let closed = overcut(thread, cutter, pitch, 30f64.to_radians()).unwrap();
        assert!((radial / closed - 1.0).abs() < 0.02, "{radial} {closed}");
    }
}
