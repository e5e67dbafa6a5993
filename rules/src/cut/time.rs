//! Seconds of a threading pass.
//!
//! Per pass: the stroke at lead × rpm, half the time to get to speed, the rapid moves out, back
//! and in, and the wait for the one-turn mark. A rapid over a distance is a triangle of speed or a
//! trapezium. Derived; the model is to be calibrated against a stop-watch.

/// What the machine does between the strokes, and how its time compares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rapids {
    /// Rapid along X, mm/s.
    pub x: f64,
    /// Rapid along Z, mm/s.
    pub z: f64,
    /// Acceleration in rapid, mm/s².
    pub acceleration: f64,
    /// Acceleration while threading, mm/s².
    pub thread_acceleration: f64,
    /// Turns waited for the one-turn mark on average.
    pub wait_turns: f64,
    /// Measured over computed time: all seconds of a section are multiplied by it.
    pub factor: f64,
}

/// Seconds of one pass besides the stroke itself.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Between {
    /// Out of the thread.
    pub retract: f64,
    /// Back along it.
    pub back: f64,
    /// In to the depth of the next pass.
    pub infeed: f64,
    /// Until the one-turn mark comes by.
    pub wait: f64,
}

impl Between {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.retract + self.back + self.infeed + self.wait
    }

    /// The sum of two.
    #[must_use]
    pub fn plus(self, other: Between) -> Between {
        Between {
            retract: self.retract + other.retract,
            back: self.back + other.back,
            infeed: self.infeed + other.infeed,
            wait: self.wait + other.wait,
        }
    }

    /// Each part multiplied.
    #[must_use]
    pub fn times(self, factor: f64) -> Between {
        Between {
            retract: self.retract * factor,
            back: self.back * factor,
            infeed: self.infeed * factor,
            wait: self.wait * factor,
        }
    }
}

impl Rapids {
    /// Values of a medium turning machine, used where no fact is known (common practice, no
    /// source): 12 and 15 m/min, 3 m/s² in rapid, 1 m/s² while threading, half a turn.
    pub const DEFAULT: Rapids = Rapids {
        x: 200.0,
        z: 250.0,
        acceleration: 3000.0,
        thread_acceleration: 1000.0,
        wait_turns: 0.5,
        factor: 1.0,
    };

    /// Seconds of a rapid over `distance` mm at `speed` mm/s.
    #[must_use]
    pub fn rapid(&self, distance: f64, speed: f64) -> f64 {
        let distance = distance.abs();
        if distance < speed * speed / self.acceleration {
            2.0 * (distance / self.acceleration).sqrt()
        } else {
            distance / speed + speed / self.acceleration
        }
    }

    /// What lies between the strokes, for a radial clearance and a stroke in mm, at `rpm`.
    #[must_use]
    pub fn between(&self, clearance: f64, stroke: f64, rpm: f64) -> Between {
        let out = self.rapid(clearance, self.x);
        Between {
            retract: out,
            back: self.rapid(stroke, self.z),
            infeed: out,
            wait: 60.0 * self.wait_turns / rpm,
        }
    }

    /// Seconds lost while the axis gets to `speed` mm/s.
    #[must_use]
    pub fn run_up(&self, speed: f64) -> f64 {
        speed / (2.0 * self.thread_acceleration)
    }
}

/// How computed seconds compare with a stop-watch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibration {
    /// What to multiply computed seconds by.
    pub factor: f64,
    /// The largest difference that is left, in s.
    pub residual: f64,
    /// The largest difference that is left, as a part of the measured time.
    pub relative: f64,
}

/// The one factor of a machine from pairs of computed and measured seconds, by least squares:
/// Σ e·m / Σ e². `None` without a pair of seconds above 0.
#[must_use]
pub fn calibrate(pairs: &[(f64, f64)]) -> Option<Calibration> {
    let usable = |pair: &&(f64, f64)| {
        pair.0.is_finite() && pair.1.is_finite() && pair.0 > 0.0 && pair.1 > 0.0
    };
    let pairs: Vec<(f64, f64)> = pairs.iter().filter(usable).copied().collect();
    if pairs.is_empty() {
        return None;
    }
    let both: f64 = pairs
        .iter()
        .map(|(computed, measured)| computed * measured)
        .sum();
    let square: f64 = pairs.iter().map(|(computed, _)| computed * computed).sum();
    let factor = both / square;
    let left = |(computed, measured): &(f64, f64)| (measured - factor * computed).abs();
    Some(Calibration {
        factor,
        residual: pairs.iter().map(left).fold(0.0, f64::max),
        relative: pairs
            .iter()
            .map(|pair| left(pair) / pair.1)
            .fold(0.0, f64::max),
    })
}

/// Seconds to tap a hole to `depth` mm and come out at the same lead in mm and speed in 1/min, with
/// `reversal` seconds for the spindle to turn round: 2 · depth / (lead · rpm) and the reversal
/// (geometry).
#[must_use]
pub fn tapping(depth: f64, lead: f64, rpm: f64, reversal: f64) -> f64 {
    2.0 * 60.0 * depth / (lead * rpm) + reversal
}

/// Feed in mm/min of the middle of a thread mill that runs on a circle of diameter `circle` mm and is
/// to cut at `feed` mm/min where its edge touches the diameter `diameter` mm: slower in a nut,
/// faster round a bolt (geometry).
#[must_use]
pub fn centre_feed(feed: f64, circle: f64, diameter: f64) -> f64 {
    feed * circle / diameter
}

/// Seconds of one turn of a helix of radius `radius` mm that advances `pitch` mm, at `feed` mm/min of
/// the middle of the cutter: √((2πr)² + P²) / feed.
#[must_use]
pub fn helix_turn(radius: f64, pitch: f64, feed: f64) -> f64 {
    (2.0 * std::f64::consts::PI * radius).hypot(pitch) / feed * 60.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// M30×2 over 40 mm, worked apart from this code: 500 rpm, 12 mm before and 3 mm behind,
    /// 20 passes, 10 mm out: 78.05 s; 1000 rpm, 5 and 3 mm, 9 passes, 2.5 mm out: 16.90 s.
    #[test]
    fn a_thread_before_and_after() {
        let seconds = |rpm: f64, stroke: f64, clearance: f64, passes: f64| {
            let speed = rpm * 2.0 / 60.0;
            let rapids = Rapids::DEFAULT;
            passes
                * (stroke / speed
                    + rapids.run_up(speed)
                    + rapids.between(clearance, stroke, rpm).total())
        };
        assert!((seconds(500.0, 55.0, 10.0, 20.0) - 78.05).abs() < 0.005);
        assert!((seconds(1000.0, 48.0, 2.5, 9.0) - 16.90).abs() < 0.005);
    }

    /// Two machines of the same kind, one 10 % slow: the factor comes out, and what is left.
    #[test]
    fn one_factor_from_stop_watched_times() {
        let exact = calibrate(&[(10.0, 11.0), (20.0, 22.0)]).unwrap();
        assert!((exact.factor - 1.1).abs() < 1e-12 && exact.residual < 1e-12);
        // 10·12 + 20·22 = 560 over 500: 1.12; left over 0.8 and 0.4 s.
        let rough = calibrate(&[(10.0, 12.0), (20.0, 22.0), (0.0, 5.0)]).unwrap();
        assert!((rough.factor - 1.12).abs() < 1e-12);
        assert!((rough.residual - 0.8).abs() < 1e-12);
        assert!((rough.relative - 0.8 / 12.0).abs() < 1e-12);
        assert_eq!(calibrate(&[(0.0, 1.0), (f64::NAN, 1.0)]), None);
    }
}
