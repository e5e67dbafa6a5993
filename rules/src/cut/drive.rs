//! How an axis gets in step with the spindle: distances by two models of the drive.
//!
//! First-order lag with a time constant, and constant acceleration. Derived; with a time constant
//! of 1/30 s the first gives the expressions lead × rpm / 1800 and, for a lead error of 1 %,
//! lead × rpm / 500, which control manuals and the issue tracker of the open RS274/NGC interpreter
//! know (from memory).

/// Time constant in s where no machine is configured (the classic manuals' value, from memory).
pub const TIME_CONSTANT: f64 = 1.0 / 30.0;
/// Acceleration in mm/s² where no machine is configured (common practice, no source).
pub const ACCELERATION: f64 = 1000.0;
/// Lead error at the first full thread that run-in distances allow (common practice).
pub const LEAD_ERROR: f64 = 0.01;

/// Speed of the axis in mm/s at a lead in mm and a speed in 1/min.
#[must_use]
pub fn speed(lead: f64, rpm: f64) -> f64 {
    lead.abs() * rpm / 60.0
}

/// How far in mm the axis stays behind at `speed` mm/s with a time constant in s: v·τ.
#[must_use]
pub fn lag(speed: f64, time_constant: f64) -> f64 {
    speed * time_constant
}

/// Distance in mm until the relative lead error has fallen to `error`: v·τ·(−1 − ln error). The
/// small term + error of the exact expression is left out, as the manuals do.
#[must_use]
pub fn settling(speed: f64, time_constant: f64, error: f64) -> f64 {
    lag(speed, time_constant) * (-1.0 - error.ln())
}

/// The same without leaving out the small term: v·τ·(−1 − ln error + error), derived.
#[must_use]
pub fn settling_exact(speed: f64, time_constant: f64, error: f64) -> f64 {
    lag(speed, time_constant) * (-1.0 - error.ln() + error)
}

/// The highest speed in 1/min at which a lead in mm stays within a feed in mm/min: feed / lead.
#[must_use]
pub fn highest_rpm(feed: f64, lead: f64) -> f64 {
    feed / lead.abs()
}

/// Distance in mm to reach `speed` mm/s at an acceleration in mm/s²: v² / (2·a).
#[must_use]
pub fn ramp(speed: f64, acceleration: f64) -> f64 {
    speed * speed / (2.0 * acceleration)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lead 2 at 1000 1/min, worked apart from this code: lag 1.111; run-in 3.236, 3.555, 4.006
    /// and 4.776 for 2, 1.5, 1 and 0.5 %; ramp 0.556 at 1 m/s².
    #[test]
    fn distances_at_a_lead_of_2_and_1000_turns() {
        let near = |got: f64, want: f64| assert!((got - want).abs() < 5e-4, "{got} is not {want}");
        let v = speed(2.0, 1000.0);
        near(lag(v, TIME_CONSTANT), 1.111);
        for (error, want) in [(0.02, 3.236), (0.015, 3.555), (0.01, 4.006), (0.005, 4.776)] {
            near(settling(v, TIME_CONSTANT, error), want);
        }
        near(ramp(v, ACCELERATION), 0.556);
    }
}
