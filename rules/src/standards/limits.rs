//! What a standard allows: bands, basic diameters and limits of size.

use lexer::units::Units;

use super::Side;

/// A range with open ends: `None` means that the standard sets no bound there, or that it could
/// not be found; the notes of the [`Limits`] say which.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Band {
    /// Lower bound.
    pub min: Option<f64>,
    /// Upper bound.
    pub max: Option<f64>,
}

impl Band {
    /// Nothing known.
    pub const OPEN: Band = Band {
        min: None,
        max: None,
    };

    /// Both bounds.
    #[must_use]
    pub const fn between(min: f64, max: f64) -> Self {
        Band {
            min: Some(min),
            max: Some(max),
        }
    }

    /// No upper bound.
    #[must_use]
    pub const fn from(min: f64) -> Self {
        Band {
            min: Some(min),
            max: None,
        }
    }

    /// Whether `value` lies inside, the bounds included.
    #[must_use]
    pub fn holds(self, value: f64) -> bool {
        self.excess(value) == 0.0
    }

    /// How far `value` lies outside: negative below the band, positive above, 0 inside.
    #[must_use]
    pub fn excess(self, value: f64) -> f64 {
        match (self.min, self.max) {
            (Some(min), _) if value < min => value - min,
            (_, Some(max)) if value > max => value - max,
            _ => 0.0,
        }
    }

    /// The middle, where both bounds are known.
    #[must_use]
    pub fn middle(self) -> Option<f64> {
        Some((self.min? + self.max?) / 2.0)
    }

    /// The same band with `change` applied to the bounds that are known.
    #[must_use]
    pub fn map(self, change: impl Fn(f64) -> f64) -> Band {
        Band {
            min: self.min.map(&change),
            max: self.max.map(&change),
        }
    }
}

/// Diameters without deviations, in mm. For a tapered thread they hold in its gauge plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Basic {
    /// Major diameter.
    pub major: f64,
    /// Pitch diameter.
    pub pitch: f64,
    /// Minor diameter of the internal thread.
    pub minor: f64,
    /// Root diameter of the external thread by its design form.
    pub root: f64,
}

/// Limits of size of one side of a thread, in mm whatever its own units are.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Which side they are for.
    pub side: Side,
    /// The tolerance class they are for.
    pub class: String,
    /// Whether the class is the standard's default because none was written for this side.
    pub class_assumed: bool,
    /// Units in which the standard states and rounds the limits.
    pub units: Units,
    /// Major diameter.
    pub major: Band,
    /// Pitch diameter.
    pub pitch: Band,
    /// Minor diameter. For an external thread the upper bound is what a go gauge demands.
    pub minor: Band,
    /// Root diameter. External: of a thread whose root is rounded as the standard designs it.
    /// Internal: how far beyond the major diameter the root may go, where a source says so.
    pub root: Band,
    /// Where the numbers come from.
    pub sources: Vec<&'static str>,
    /// What is missing, assumed or computed off the tables.
    pub notes: Vec<String>,
    /// Whether some number rests on memory or on a rule that was not confirmed.
    pub unverified: bool,
}

impl Limits {
    /// No limit known yet.
    #[must_use]
    pub(super) fn open(side: Side, class: &str, units: Units) -> Self {
        Limits {
            side,
            class: class.to_owned(),
            class_assumed: false,
            units,
            major: Band::OPEN,
            pitch: Band::OPEN,
            minor: Band::OPEN,
            root: Band::OPEN,
            sources: Vec::new(),
            notes: Vec::new(),
            unverified: false,
        }
    }
}

/// Rounds to a multiple of `step`, a value halfway between two multiples to the even one.
pub(super) fn round_to(value: f64, step: f64) -> f64 {
    let steps = value / step;
    let below = steps.floor();
    let rest = steps - below;
    let whole = if (rest - 0.5).abs() < 1e-6 {
        below + below.rem_euclid(2.0)
    } else {
        steps.round()
    };
    // Division by the inverse gives the nearest double to the decimal, multiplication does not.
    whole / (1.0 / step).round()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_go_to_the_even_neighbour() {
        assert_eq!(round_to(0.00675, 1e-4), 0.0068);
        assert_eq!(round_to(0.00725, 1e-4), 0.0072);
        assert_eq!(round_to(-0.048, 1e-3), -0.048);
        assert_eq!(round_to(22.0034, 1e-3), 22.003);
    }

    #[test]
    fn bands_measure_how_far_outside() {
        let band = Band::between(1.0, 2.0);
        assert_eq!(band.excess(0.5), -0.5);
        assert_eq!(band.excess(2.5), 0.5);
        assert!(band.holds(1.0) && band.holds(2.0) && Band::from(1.0).holds(1e9));
        assert!(!Band::from(1.0).holds(0.9));
    }
}
