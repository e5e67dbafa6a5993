//! The form of a thread in its axial plane: flanks, depths, crests and roots.
//!
//! Everything scales with the pitch; a family that adds a constant clearance gives it in mm
//! beside the factor.

use super::Side;
use super::limits::Band;

/// Height of the sharp 60° V: H = √3/2 · P (ISO 68-1, ASME B1.1).
pub const SHARP_V: f64 = 0.866_025_403_784_438_6;
/// Depth of the basic 60° profile, 5/8 H: what the nut needs and a go gauge checks (ISO 68-1).
pub const NUT_HEIGHT: f64 = 5.0 / 8.0 * SHARP_V;
/// Depth of a 60° external thread with a root of radius H/6, 17/24 H (ISO 68-1 design profile).
pub const ROUNDED_ROOT: f64 = 17.0 / 24.0 * SHARP_V;
/// The teaching rule for the depth of a 60° thread, 3/4 H (root and crest flats P/8).
pub const TEACHING_RULE: f64 = 3.0 / 4.0 * SHARP_V;

/// A length that is a factor of the pitch plus a constant.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Measure {
    /// Factor of the pitch.
    pub per_pitch: f64,
    /// Constant part in mm.
    pub plus_mm: f64,
}

impl Measure {
    /// A plain factor of the pitch.
    #[must_use]
    pub const fn of_pitch(per_pitch: f64) -> Self {
        Measure {
            per_pitch,
            plus_mm: 0.0,
        }
    }

    /// The length in mm at a pitch in mm.
    #[must_use]
    pub fn at(self, pitch_mm: f64) -> f64 {
        self.per_pitch * pitch_mm + self.plus_mm
    }
}

/// A measure with the bounds between which it is accepted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spread {
    /// Smallest.
    pub min: Measure,
    /// By the standard's drawing.
    pub design: Measure,
    /// Largest.
    pub max: Measure,
}

impl Spread {
    /// Three factors of the pitch: smallest, design, largest.
    #[must_use]
    pub const fn of_pitch(min: f64, design: f64, max: f64) -> Self {
        Spread {
            min: Measure::of_pitch(min),
            design: Measure::of_pitch(design),
            max: Measure::of_pitch(max),
        }
    }

    /// Anything from nothing up to a length in mm, which is also what the drawing shows.
    #[must_use]
    pub const fn up_to(max_mm: f64) -> Self {
        let max = Measure {
            per_pitch: 0.0,
            plus_mm: max_mm,
        };
        Spread {
            min: Measure::of_pitch(0.0),
            design: max,
            max,
        }
    }

    /// The bounds in mm at a pitch in mm.
    #[must_use]
    pub fn band(self, pitch_mm: f64) -> Band {
        Band::between(self.min.at(pitch_mm), self.max.at(pitch_mm))
    }
}

/// The two flanks as ISO 5408 names them on assembly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flank {
    /// The flank that faces the mating part when the two are about to be screwed together.
    Leading,
    /// The other one.
    Following,
}

/// Straight flanks, each with its angle from the normal to the axis in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flanks {
    /// Angle of the leading flank.
    pub leading_deg: f64,
    /// Angle of the following (trailing) flank.
    pub trailing_deg: f64,
    /// Which flank carries the load, where the form is made for load from one direction.
    pub pressure: Option<Flank>,
}

impl Flanks {
    /// Two equal flanks.
    #[must_use]
    pub const fn symmetric(half_angle_deg: f64) -> Self {
        Flanks {
            leading_deg: half_angle_deg,
            trailing_deg: half_angle_deg,
            pressure: None,
        }
    }

    /// Angle between the flanks in degrees.
    #[must_use]
    pub fn included_deg(self) -> f64 {
        self.leading_deg + self.trailing_deg
    }

    /// Height of the sharp V as a factor of the pitch.
    #[must_use]
    pub fn sharp_height(self) -> f64 {
        1.0 / (self.leading_deg.to_radians().tan() + self.trailing_deg.to_radians().tan())
    }
}

/// How a crest or a root ends: with a flat, a radius, either of the two, or as it comes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct End {
    /// Width of the flat along the axis.
    pub flat: Option<Measure>,
    /// Radius.
    pub radius: Option<Spread>,
}

impl End {
    /// A flat of so many pitches.
    #[must_use]
    pub const fn flat(per_pitch: f64) -> Self {
        End {
            flat: Some(Measure::of_pitch(per_pitch)),
            radius: None,
        }
    }

    /// A radius.
    #[must_use]
    pub const fn radius(radius: Spread) -> Self {
        End {
            flat: None,
            radius: Some(radius),
        }
    }
}

/// The profile of one side.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Profile {
    /// Radial depth from the nominal crest to the root.
    pub depth: Spread,
    /// The crest.
    pub crest: End,
    /// The root.
    pub root: End,
}

/// The form of a thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Form {
    /// Straight flanks; `None` where the form is made of arcs.
    pub flanks: Option<Flanks>,
    /// Profile of the external thread.
    pub external: Profile,
    /// Profile of the internal thread.
    pub internal: Profile,
    /// Taper on the diameter per length along the axis: 1/16 for 1:16, 0 for a parallel thread.
    pub taper: f64,
    /// Where the numbers come from.
    pub source: &'static str,
}

impl Form {
    /// The profile of one side.
    #[must_use]
    pub fn side(&self, side: Side) -> &Profile {
        match side {
            Side::External => &self.external,
            Side::Internal => &self.internal,
        }
    }

    /// Height of the sharp V in mm, where straight flanks meet in one.
    #[must_use]
    pub fn sharp_height_mm(&self, pitch_mm: f64) -> Option<f64> {
        let height = self.flanks?.sharp_height() * pitch_mm;
        height.is_finite().then_some(height)
    }

    /// The radial depths in mm that are accepted for a side, from its nominal crest. An internal
    /// thread is cut from a bore that has its own tolerance:
    /// [`Thread::depth_band`](super::thread::Thread::depth_band) takes that into account.
    #[must_use]
    pub fn depth_band(&self, side: Side, pitch_mm: f64) -> Band {
        self.side(side).depth.band(pitch_mm)
    }

    /// The radial depth in mm of the standard's drawing.
    #[must_use]
    pub fn design_depth(&self, side: Side, pitch_mm: f64) -> f64 {
        self.side(side).depth.design.at(pitch_mm)
    }

    /// Root diameter in mm of an external thread of this major diameter by the standard's drawing.
    #[must_use]
    pub fn root_diameter(&self, major_mm: f64, pitch_mm: f64) -> f64 {
        major_mm - 2.0 * self.design_depth(Side::External, pitch_mm)
    }

    /// Width in mm of the flat tip of the tool, for forms that are cut with one: flat roots between
    /// steep flanks, together less than 40° (our own choice). Wider forms are cut with a nose.
    #[must_use]
    pub fn tip_flat_mm(&self, side: Side, pitch_mm: f64) -> Option<f64> {
        let steep = self.flanks?.included_deg() < 40.0;
        let flat = self.side(side).root.flat?.at(pitch_mm);
        (steep && flat > 0.0).then_some(flat)
    }

    /// Tool nose radii in mm that leave the root the standard asks for; `None` where it asks for
    /// no radius. The upper bound is the largest nose, the lower bound the smallest root radius.
    #[must_use]
    pub fn nose_radius(&self, side: Side, pitch_mm: f64) -> Option<Band> {
        self.side(side).root.radius.map(|r| r.band(pitch_mm))
    }
}

/// Lead angle in degrees at a diameter: tan λ = lead / (π · diameter).
#[must_use]
pub fn lead_angle_deg(lead_mm: f64, diameter_mm: f64) -> f64 {
    (lead_mm / (std::f64::consts::PI * diameter_mm))
        .atan()
        .to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sharp_heights_of_common_flanks() {
        // ISO 68-1, BS 84, DIN 103, DIN 513, ASME B1.5 and B1.9: factors of the pitch.
        for (leading, trailing, height) in [
            (30.0, 30.0, 0.866_025),
            (27.5, 27.5, 0.960_491),
            (15.0, 15.0, 1.866_025),
            (14.5, 14.5, 1.933_357),
            (3.0, 30.0, 1.587_911),
            (7.0, 45.0, 0.890_643),
        ] {
            let flanks = Flanks {
                leading_deg: leading,
                trailing_deg: trailing,
                pressure: None,
            };
            assert!((flanks.sharp_height() - height).abs() < 1e-6);
        }
    }

    #[test]
    fn named_depths() {
        // ISO 68-1 and threads of 60°: 0.541266, 0.613435 and 0.649519 of the pitch.
        assert!((NUT_HEIGHT - 0.541_266).abs() < 1e-6);
        assert!((ROUNDED_ROOT - 0.613_435).abs() < 1e-6);
        assert!((TEACHING_RULE - 0.649_519).abs() < 1e-6);
    }
}
