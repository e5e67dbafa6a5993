//! Where along a tapered thread its diameters hold.

use super::Side;
use super::limits::{Band, Basic};

/// The plane from which places along a tapered thread are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Datum {
    /// The small end: the end face of an external thread.
    SmallEnd,
    /// The large end: the face of an internal thread, the shoulder of a shouldered connection.
    LargeEnd,
}

/// A plane across a tapered thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// What the standard calls it, with its letter: `gauge plane, L1`.
    pub name: &'static str,
    /// Place along the axis in mm from the datum; it grows towards the larger diameters.
    pub z_mm: f64,
    /// Diameters there in mm.
    pub at: Basic,
}

/// The planes of one side of a tapered thread.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugePlanes {
    /// Which side they are for.
    pub side: Side,
    /// Taper on the diameter per length along the axis: 1/16 for 1:16.
    pub taper: f64,
    /// Where `z_mm` is counted from.
    pub datum: Datum,
    /// The plane in which the basic diameters of the thread hold.
    pub gauge: Plane,
    /// How far the gauge plane of a piece may lie from its place, in mm along the axis.
    pub travel: Band,
    /// The other planes that the standard names, from the smallest diameter to the largest.
    pub others: Vec<Plane>,
    /// Least length of useful thread in mm, where the standard gives it.
    pub useful_mm: Option<f64>,
    /// Where the numbers come from.
    pub sources: Vec<&'static str>,
    /// What is missing, derived or from memory.
    pub notes: Vec<String>,
    /// Whether some number rests on memory or on a rule that was not confirmed.
    pub unverified: bool,
}

/// Pitches of a stroke before the first and behind the last plane.
const RUN_IN: f64 = 3.0;
const RUN_OUT: f64 = 2.0;

impl GaugePlanes {
    /// Planes with their gauge plane alone: `at` holds the diameters there.
    #[must_use]
    pub(super) fn new(side: Side, taper: f64, datum: Datum, gauge: Plane) -> Self {
        GaugePlanes {
            side,
            taper,
            datum,
            gauge,
            travel: Band::OPEN,
            others: Vec::new(),
            useful_mm: None,
            sources: Vec::new(),
            notes: Vec::new(),
            unverified: false,
        }
    }

    /// Diameters in mm at a place along the axis.
    #[must_use]
    pub fn at(&self, z_mm: f64) -> Basic {
        let change = self.taper * (z_mm - self.gauge.z_mm);
        let Basic {
            major,
            pitch,
            minor,
            root,
        } = self.gauge.at;
        Basic {
            major: major + change,
            pitch: pitch + change,
            minor: minor + change,
            root: root + change,
        }
    }

    /// Names a plane at a place along the axis.
    pub(super) fn add(&mut self, name: &'static str, z_mm: f64) {
        let at = self.at(z_mm);
        self.others.push(Plane { name, z_mm, at });
        self.others.sort_by(|a, b| a.z_mm.total_cmp(&b.z_mm));
    }

    /// How much smaller and how much larger than in the gauge plane the diameters become between
    /// the outermost planes, in mm; the first is not above 0, the second not below.
    #[must_use]
    pub fn reach(&self) -> (f64, f64) {
        let shift = |plane: &Plane| self.taper * (plane.z_mm - self.gauge.z_mm);
        let shifts = self.others.iter().map(shift);
        shifts.fold((0.0, 0.0), |(low, high), s| (s.min(low), s.max(high)))
    }

    /// The same for a stroke at this pitch, which begins before the first plane and ends behind the
    /// last (common practice, no source).
    #[must_use]
    pub fn reach_of_stroke(&self, pitch_mm: f64) -> (f64, f64) {
        let (low, high) = self.reach();
        let turn = self.taper * pitch_mm;
        (low - RUN_IN * turn, high + RUN_OUT * turn)
    }

    /// The radius word of a cutting cycle in mm for a stroke of this length along the axis, run-in
    /// and run-out included: half of the difference of the diameters at its ends.
    #[must_use]
    pub fn radius_over(&self, stroke_mm: f64) -> f64 {
        self.taper * stroke_mm / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn diameters_grow_from_the_small_end() {
        // R 1/2 of ISO 7-1: 20.955 mm at the gauge plane, 8.2 mm from the small end.
        let at = Basic {
            major: 20.955,
            pitch: 19.793,
            minor: 18.631,
            root: 18.631,
        };
        let gauge = Plane {
            name: "gauge plane",
            z_mm: 8.2,
            at,
        };
        let mut planes = GaugePlanes::new(Side::External, 1.0 / 16.0, Datum::SmallEnd, gauge);
        planes.add("useful thread", 13.2);
        planes.add("small end", 0.0);
        assert!((planes.others[0].at.pitch - 19.2805).abs() < 1e-9);
        let (low, high) = planes.reach();
        assert!((low + 0.5125).abs() < 1e-9 && (high - 0.3125).abs() < 1e-9);
        assert!((planes.radius_over(32.0) - 1.0).abs() < 1e-9);
    }
}
