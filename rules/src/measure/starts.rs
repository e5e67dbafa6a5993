//! Threads of several starts: where each one begins.

use crate::standards::thread::Thread;

/// One start of a thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// Angle of the spindle from the first start, degrees.
    pub angle_deg: f64,
    /// The same as a shift of the starting point along the axis, mm: so many pitches.
    pub shift: f64,
}

/// The starts of a thread: start k turns by 360 k / n degrees, or shifts by k pitches (derived:
/// a turn advances by the lead, n pitches).
#[must_use]
pub fn starts(thread: &Thread) -> Vec<Start> {
    let count = thread.starts.clamp(1, MOST);
    let start = |k: u32| Start {
        angle_deg: 360.0 * f64::from(k) / f64::from(count),
        shift: f64::from(k) * thread.pitch.mm(),
    };
    (0..count).map(start).collect()
}

/// More starts than this are not listed.
const MOST: u32 = 64;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn three_starts() {
        let thread = parse("M16xPh3P1-6g", None).unwrap();
        let all = starts(&thread);
        let angles: Vec<f64> = all.iter().map(|start| start.angle_deg).collect();
        let shifts: Vec<f64> = all.iter().map(|start| start.shift).collect();
        assert_eq!(angles, [0.0, 120.0, 240.0]);
        assert_eq!(shifts, [0.0, 1.0, 2.0]);
        assert_eq!(starts(&parse("M16", None).unwrap()).len(), 1);
    }
}
