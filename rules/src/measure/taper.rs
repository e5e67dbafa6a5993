//! Taper threads: the taper in the ways it is written, and the taper word of a cycle.

/// The taper of a thread. It is stated on the diameter, per length along the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taper {
    /// Change of diameter per length: 1/16 for 1:16.
    pub on_diameter: f64,
}

impl Taper {
    /// The taper of a form; `None` for a parallel thread.
    #[must_use]
    pub fn of(on_diameter: f64) -> Option<Taper> {
        (on_diameter != 0.0 && on_diameter.is_finite()).then_some(Taper { on_diameter })
    }

    /// Angle between the cone and its axis in degrees, 1.7899° for 1:16.
    #[must_use]
    pub fn half_angle_deg(self) -> f64 {
        (self.on_diameter / 2.0).atan().to_degrees()
    }

    /// Inches on the diameter per foot of length.
    #[must_use]
    pub fn inches_per_foot(self) -> f64 {
        12.0 * self.on_diameter
    }

    /// Length over which the diameter changes by one: 16 for 1:16.
    #[must_use]
    pub fn one_in(self) -> f64 {
        1.0 / self.on_diameter
    }

    /// The taper word of a cycle: the change of radius over a stroke, R = stroke · taper / 2. The
    /// stroke is the whole way of the tool from start to end, the run-in included. Its sign is
    /// left to the syntax that writes it.
    #[must_use]
    pub fn word(self, stroke: f64) -> f64 {
        stroke * self.on_diameter / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 7-1 and ASME B1.20.1: 1:16 is 1°47'24" and 3/4 in per foot; rotary shouldered
    /// connections have 2 or 3 in per foot (API Spec 7-2).
    #[test]
    fn usual_tapers() {
        let pipe = Taper::of(1.0 / 16.0).unwrap();
        assert!((pipe.half_angle_deg() - (1.0 + 47.0 / 60.0 + 24.0 / 3600.0)).abs() < 2e-4);
        assert!((pipe.inches_per_foot() - 0.75).abs() < 1e-12);
        assert!((pipe.one_in() - 16.0).abs() < 1e-12);
        assert!((Taper::of(1.0 / 6.0).unwrap().inches_per_foot() - 2.0).abs() < 1e-12);
        assert_eq!(Taper::of(0.0), None);
    }

    /// R = 26 / 32 for 20 mm of thread and 6 mm of run-in at 1:16 (plane geometry).
    #[test]
    fn the_word_covers_the_run_in() {
        let pipe = Taper::of(1.0 / 16.0).unwrap();
        assert!((pipe.word(20.0 + 6.0) - 0.8125).abs() < 1e-12);
    }
}
