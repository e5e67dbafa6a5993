//! Seconds of a threading pass.
//!
//! Per pass: the stroke at lead × rpm, half the time to get to speed, the rapid moves out, back
//! and in, and the wait for the one-turn mark. A rapid over a distance is a triangle of speed or a
//! trapezium. Derived; the model is to be calibrated against a stop-watch.

/// What the machine does between the strokes.
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

    /// Seconds of one pass besides the stroke itself: `(retract + return + infeed, wait)` for a
    /// radial clearance and a stroke in mm, at `rpm`.
    #[must_use]
    pub fn between(&self, clearance: f64, stroke: f64, rpm: f64) -> f64 {
        2.0 * self.rapid(clearance, self.x)
            + self.rapid(stroke, self.z)
            + 60.0 * self.wait_turns / rpm
    }

    /// Seconds lost while the axis gets to `speed` mm/s.
    #[must_use]
    pub fn run_up(&self, speed: f64) -> f64 {
        speed / (2.0 * self.thread_acceleration)
    }
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
                * (stroke / speed + rapids.run_up(speed) + rapids.between(clearance, stroke, rpm))
        };
        assert!((seconds(500.0, 55.0, 10.0, 20.0) - 78.05).abs() < 0.005);
        assert!((seconds(1000.0, 48.0, 2.5, 9.0) - 16.90).abs() < 0.005);
    }
}
