//! What a plating or coating adds to a thread.
//!
//! A layer of thickness t stands on every surface. Crests and roots grow by 2 t on the diameter.
//! On a flank the layer lies at right angles to the flank, so that the groove narrows by
//! t / cos α + t / cos β along the axis and the pitch diameter grows by
//! 2 t · (1/cos α + 1/cos β) / (tan α + tan β): 2 t / sin α for equal flanks, 4 t at 60°, about 8 t
//! at 29°. Internal diameters shrink by as much. (Derived; ASME B1.1 section 7 and ISO 4042 use
//! the factor 4.)

use super::vee::Vee;
use crate::standards::Side;
use crate::standards::limits::{Band, Basic, Limits};
use crate::standards::thread::Thread;

/// Thickness of a layer on a surface, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coating {
    /// Thinnest.
    pub min: f64,
    /// Thickest.
    pub max: f64,
}

/// One diameter before and after coating, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coated {
    /// What the layer adds (external) or takes away (internal) on the diameter, thinnest and
    /// thickest.
    pub change: Band,
    /// Where the limits hold after coating: the limits to cut to.
    pub cut_to: Band,
    /// How much is missing where no band is left to cut to: the thickness spreads more than the
    /// tolerance allows.
    pub short_by: Option<f64>,
    /// Where the limits hold before coating: what the coating makes of them.
    pub becomes: Band,
    /// How far that passes the basic size, which coated threads must not (ISO 965-1, ASME B1.1).
    pub past_basic: Option<f64>,
}

/// What a coating does to a thread.
#[derive(Debug, Clone, PartialEq)]
pub struct CoatedThread {
    /// The layer.
    pub coating: Coating,
    /// Change of the pitch diameter per thickness; `None` for flanks that do not open.
    pub factor: Option<f64>,
    /// Major diameter.
    pub major: Coated,
    /// Pitch diameter.
    pub pitch: Option<Coated>,
    /// Minor diameter.
    pub minor: Coated,
}

/// Change of crests and roots per thickness, on the diameter.
const CREST_FACTOR: f64 = 2.0;

/// Change of the pitch diameter per thickness, see the module.
#[must_use]
pub fn pitch_factor(vee: Vee) -> f64 {
    let [a, b] = vee.angles();
    2.0 * (1.0 / a.cos() + 1.0 / b.cos()) / vee.opening()
}

/// The diameters of one side of a thread before and after coating.
#[must_use]
pub fn coated(thread: &Thread, side: Side, limits: &Limits, coating: Coating) -> CoatedThread {
    let factor = Vee::of(&thread.form()).map(pitch_factor);
    let Basic {
        major,
        pitch,
        minor,
        ..
    } = thread.basic();
    let one = |band, basic, factor| change(side, band, basic, coating, factor);
    CoatedThread {
        coating,
        factor,
        major: one(limits.major, major, CREST_FACTOR),
        pitch: factor.map(|factor| one(limits.pitch, pitch, factor)),
        minor: one(limits.minor, minor, CREST_FACTOR),
    }
}

fn change(side: Side, limits: Band, basic: f64, coating: Coating, factor: f64) -> Coated {
    let (thin, thick) = (factor * coating.min, factor * coating.max);
    // External diameters grow and their largest is in danger, internal ones shrink.
    let (cut_to, becomes, past) = match side {
        Side::External => (
            shifted(limits, -thin, -thick),
            shifted(limits, thin, thick),
            limits.max.map(|max| max + thick - basic),
        ),
        Side::Internal => (
            shifted(limits, thick, thin),
            shifted(limits, -thick, -thin),
            limits.min.map(|min| basic - (min - thick)),
        ),
    };
    let short = match (cut_to.min, cut_to.max) {
        (Some(min), Some(max)) => (min - max > 1e-9).then_some(min - max),
        _ => None,
    };
    Coated {
        change: Band::between(thin, thick),
        cut_to,
        short_by: short,
        becomes,
        past_basic: past.filter(|past| *past > 1e-9),
    }
}

fn shifted(band: Band, min: f64, max: f64) -> Band {
    Band {
        min: band.min.map(|value| value + min),
        max: band.max.map(|value| value + max),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;
    use crate::standards::form::Flanks;

    fn near(got: f64, want: f64) {
        assert!((got - want).abs() < 1e-9, "{got} is not {want}");
    }

    /// 4 t at 60° (ASME B1.1 section 7), about 8 t at 29°; ISO 4042 asks deviations of 20, 40 and
    /// 100 µm for layers of 5, 10 and 25 µm.
    #[test]
    fn factors() {
        let factor = |half: f64| pitch_factor(Vee::between(Flanks::symmetric(half)).unwrap());
        near(factor(30.0), 4.0);
        assert!((factor(14.5) - 7.99).abs() < 0.01);
        for (layer, deviation) in [(5.0, 20.0), (10.0, 40.0), (25.0, 100.0)] {
            near(factor(30.0) * layer, deviation);
        }
    }

    /// M20x2.5-6g, d2 18.334 and 18.164 (ISO 965-1), with 5 to 8 µm.
    #[test]
    fn external() {
        let m20 = parse("M20x2.5-6g", None).unwrap();
        let limits = m20.limits(Side::External);
        let layer = Coating {
            min: 0.005,
            max: 0.008,
        };
        let coated = coated(&m20, Side::External, &limits, layer);
        let pitch = coated.pitch.unwrap();
        near(pitch.cut_to.max.unwrap(), 18.334 - 0.032);
        near(pitch.cut_to.min.unwrap(), 18.164 - 0.020);
        near(pitch.becomes.max.unwrap(), 18.334 + 0.032);
        // The deviation g of 42 µm takes up the layer.
        assert_eq!((pitch.short_by, pitch.past_basic), (None, None));
        near(coated.major.cut_to.max.unwrap(), 19.958 - 0.016);
    }

    #[test]
    fn internal_shrinks() {
        let m20 = parse("M20x2.5-6H", None).unwrap();
        let limits = m20.limits(Side::Internal);
        let layer = Coating {
            min: 0.0,
            max: 0.010,
        };
        let coated = coated(&m20, Side::Internal, &limits, layer);
        let pitch = coated.pitch.unwrap();
        let (min, max) = (limits.pitch.min.unwrap(), limits.pitch.max.unwrap());
        near(pitch.cut_to.min.unwrap(), min + 0.040);
        near(pitch.cut_to.max.unwrap(), max);
        near(pitch.becomes.min.unwrap(), min - 0.040);
        // H has no deviation: any layer passes the basic size.
        assert!((pitch.past_basic.unwrap() - 0.040).abs() < 1e-3);
    }

    /// A pitch diameter tolerance of 0.170 cannot take a layer that spreads over 0.050.
    #[test]
    fn a_band_that_vanishes_is_said() {
        let m20 = parse("M20x2.5-6g", None).unwrap();
        let limits = m20.limits(Side::External);
        let layer = Coating {
            min: 0.010,
            max: 0.060,
        };
        let coated = coated(&m20, Side::External, &limits, layer);
        let pitch = coated.pitch.unwrap();
        near(pitch.short_by.unwrap(), 4.0 * 0.050 - 0.170);
        assert!((pitch.past_basic.unwrap() - (0.240 - 0.042)).abs() < 1e-3);
        assert_eq!(coated.major.short_by, None);
    }
}
