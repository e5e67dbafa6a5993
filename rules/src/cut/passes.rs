//! How books split the depth of a thread into passes.
//!
//! The steps are those of a table that many vocational textbooks print for 60° threads (from
//! memory, no edition at hand): an orientation for steel, not a limit.

use lexer::law::{Law, depths};
use lexer::section::{Purpose, Val};
use lexer::units::Radial;

/// What to call the table in a finding.
pub const BOOK: &str = "table of vocational textbooks for 60° threads, from memory";

/// First radial step in mm by pitch in mm.
const FIRST_STEPS: [(f64, f64); 7] = [
    (1.0, 0.35),
    (1.5, 0.4),
    (2.0, 0.45),
    (2.5, 0.5),
    (3.0, 0.6),
    (3.5, 0.75),
    (4.0, 0.75),
];

/// Smallest roughing step in mm that still cuts rather than rubs: 0.05 mm, less in proportion to the
/// pitch below 1 mm (common practice, no source).
#[must_use]
pub fn least_step(pitch: f64) -> f64 {
    0.05 * pitch.min(1.0)
}

/// Finishing cut in mm: 0.05 mm, less in proportion to the pitch below 1 mm (common practice, no
/// source).
#[must_use]
pub fn finishing_cut(pitch: f64) -> f64 {
    0.05 * pitch.min(1.0)
}

/// First radial step in mm of the textbook table for a pitch in mm: straight lines between its
/// rows, in proportion to the pitch below 1 mm, and that of 4 mm above it, where the table ends.
#[must_use]
pub fn first_step(pitch: f64) -> f64 {
    let (least, step) = FIRST_STEPS[0];
    if pitch <= least {
        return step * pitch / least;
    }
    FIRST_STEPS
        .windows(2)
        .find(|pair| pitch <= pair[1].0)
        .map_or(FIRST_STEPS[FIRST_STEPS.len() - 1].1, |pair| {
            let ((p0, s0), (p1, s1)) = (pair[0], pair[1]);
            s0 + (s1 - s0) * (pitch - p0) / (p1 - p0)
        })
}

/// The law of a plain split: chips of equal area from the table's first step, no step below
/// [`least_step`], a [`finishing_cut`] and one spring pass.
#[must_use]
pub fn plain_law(pitch: f64) -> Law {
    let exact = |mm: f64| Val::Exact(Radial::from_mm(mm));
    Law::SquareRoot {
        first: exact(first_step(pitch)),
        min: exact(least_step(pitch)),
        finish: exact(finishing_cut(pitch)),
        repeats: Val::Exact(2),
    }
}

/// The depths of [`plain_law`] for a height in mm.
#[must_use]
pub fn plain_split(pitch: f64, height: f64) -> Vec<(Radial, Purpose)> {
    depths(&plain_law(pitch), Radial::from_mm(height))
}

/// `count` steps in mm that cut chips of equal area with a sharp V: depth of pass n =
/// height · √(n / count).
#[must_use]
pub fn even_steps(height: f64, count: usize) -> Vec<f64> {
    let depth = |n: usize| height * (n as f64 / count as f64).sqrt();
    (1..=count).map(|n| depth(n) - depth(n - 1)).collect()
}

/// `count` steps in mm to `height` mm that all load the tool alike. `load` gives the load of going
/// from one depth to another in mm; it must grow with the second and fall with the first. The cap
/// is found by halving; empty without a count or a height.
#[must_use]
pub fn even_loads(height: f64, count: usize, load: impl Fn(f64, f64) -> f64) -> Vec<f64> {
    if count == 0 || height <= 0.0 || height.is_nan() {
        return Vec::new();
    }
    // The depth that a cap reaches from a depth, no deeper than a little beyond the height.
    let reach = |before: f64, cap: f64| {
        let (mut low, mut high) = (before, 2.0 * height);
        for _ in 0..100 {
            let middle = f64::midpoint(low, high);
            if load(before, middle) <= cap {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    };
    let depths = |cap: f64| -> Vec<f64> {
        let mut depth = 0.0;
        let next = |_| {
            depth = reach(depth, cap);
            depth
        };
        (0..count).map(next).collect()
    };
    let (mut low, mut high) = (0.0, load(0.0, height));
    for _ in 0..100 {
        let cap = f64::midpoint(low, high);
        if depths(cap)[count - 1] < height {
            low = cap;
        } else {
            high = cap;
        }
    }
    let mut before = 0.0;
    let mut steps: Vec<f64> = depths(high)
        .into_iter()
        .map(|depth| {
            let step = depth.min(height) - before;
            before = depth.min(height);
            step
        })
        .collect();
    if let Some(last) = steps.last_mut() {
        *last += height - before;
    }
    steps
}

/// Passes that a law `first · n^(1 / exponent)` needs for a height in mm, without a smallest step:
/// (height / first)^exponent, rounded up. 2 is chips of equal area.
#[must_use]
pub fn passes_from_first(height: f64, first: f64, exponent: f64) -> usize {
    // A height that is met to the last digit needs no pass more.
    let passes = (height / first).powf(exponent);
    (passes - 1e-9).ceil().max(1.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_steps_of_the_table_and_between() {
        for (pitch, want) in [
            (0.5, 0.175),
            (1.0, 0.35),
            (1.25, 0.375),
            (2.0, 0.45),
            (3.175, 0.6525),
            (4.0, 0.75),
            (6.0, 0.75),
        ] {
            assert!((first_step(pitch) - want).abs() < 1e-9, "{pitch}");
        }
    }

    /// Worked by hand: pitch 2, height 1.227: 0.45 · √n to 1.177 in 7 passes, finish, spring.
    #[test]
    fn a_plain_split() {
        let split = plain_split(2.0, 1.227);
        let mm: Vec<f64> = split.iter().map(|(depth, _)| depth.mm()).collect();
        assert_eq!(split.len(), 9);
        for (got, want) in mm
            .iter()
            .zip([0.45, 0.636, 0.779, 0.9, 1.006, 1.102, 1.177])
        {
            assert!((got - want).abs() < 1e-3, "{got} is not {want}");
        }
        assert_eq!(split[7].1, Purpose::Finish);
        assert_eq!(split[8].1, Purpose::Spring);
    }

    /// Equal areas for height 1.22687 in six passes, worked apart from this code.
    #[test]
    fn even_steps_of_a_sharp_v() {
        let got = even_steps(1.22687, 6);
        for (got, want) in got.iter().zip([0.501, 0.207, 0.159, 0.134, 0.118, 0.107]) {
            assert!((got - want).abs() < 6e-4, "{got} is not {want}");
        }
    }
}
