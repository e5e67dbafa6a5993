//! How a cycle splits the thread height into depths.

use crate::section::{Purpose, Val};
use crate::units::{Length, Radial};

/// Most passes that are listed for one section; more is reported as a fault of the program.
pub const PASS_LIMIT: usize = 10_000;

/// A law of depths. All depths are radial, below the crest.
#[derive(Debug, Clone, PartialEq)]
pub enum Law {
    /// Each pass is written out.
    List,
    /// `first·√n`, steps no smaller than `min`, `finish` left for the last cut, repeated.
    /// The two-block cycle.
    SquareRoot {
        /// Depth of the first cut.
        first: Val<Radial>,
        /// Smallest step.
        min: Val<Radial>,
        /// Left for the finishing cut.
        finish: Val<Radial>,
        /// Passes at full height; 0 counts as 1.
        repeats: Val<u32>,
    },
    /// Methods 1 and 2 `first·√n`, 3 and 4 `first·n`. The one-block cycle.
    Method {
        /// Depth of the first cut.
        first: Val<Radial>,
        /// 1 to 4.
        method: u8,
    },
    /// `first·n^(1/degression)`, then full height, then spring passes. The open RS274/NGC
    /// interpreter's cycle.
    Power {
        /// Depth of the first cut.
        first: Val<Radial>,
        /// 1 is constant depth, 2 constant area; below 1 counts as 1.
        degression: f64,
        /// Passes at full height after the first one; -1 drops even that one.
        springs: i64,
    },
    /// A given number of roughing passes, then the finishing allowance, then passes without new
    /// depth: equal depths, or `√(n / rough)` for equal chip areas. The cycle called by its name.
    Counted {
        /// Roughing passes.
        rough: Val<u32>,
        /// Whether the passes take equal areas rather than equal depths.
        equal_areas: bool,
        /// Left for the finishing cut.
        finish: Val<Radial>,
        /// Passes at full height at the end.
        springs: Val<u32>,
    },
}

/// Depths of a law in order. Empty when the height or the first cut is unknown or not positive.
/// Cut off at [`PASS_LIMIT`].
///
/// The square-root law's clamp and the finishing cut follow the usual description of the cycle in
/// control manuals (from memory); the power law follows the observed output of the open
/// RS274/NGC interpreter.
#[must_use]
pub fn depths(law: &Law, height: Radial) -> Vec<(Radial, Purpose)> {
    let full = height.0;
    if full <= Length::ZERO {
        return Vec::new();
    }
    let mut all = Vec::new();
    match law {
        Law::List => {}
        Law::SquareRoot {
            first,
            min,
            finish,
            repeats,
        } => {
            let Some(first) = first.get().filter(|first| first.0 > Length::ZERO) else {
                return all;
            };
            let min = min.get().map_or(Length::ZERO, |min| min.0);
            let finish = finish.get().map_or(Length::ZERO, |finish| finish.0);
            let stop = if finish < full {
                full - finish
            } else {
                Length::ZERO
            };
            let mut depth = Length::ZERO;
            let mut n = 0u32;
            while depth < stop && all.len() < PASS_LIMIT {
                n += 1;
                let ideal = root(first.0, n, 2.0);
                let clamped = depth + min;
                depth = if ideal - depth < min { clamped } else { ideal };
                depth = depth.min(stop);
                all.push((Radial(depth), Purpose::Rough));
            }
            let count = repeats.get().unwrap_or(1).max(1) as usize;
            for n in 0..count.min(PASS_LIMIT) {
                let purpose = match n {
                    0 if depth < full => Purpose::Finish,
                    _ => Purpose::Spring,
                };
                all.push((Radial(full), purpose));
            }
        }
        Law::Method { first, method } => {
            let Some(first) = first.get().filter(|first| first.0 > Length::ZERO) else {
                return all;
            };
            let degression = if *method >= 3 { 1.0 } else { 2.0 };
            power(&mut all, first.0, degression, full);
            all.push((height, Purpose::Rough));
        }
        Law::Power {
            first,
            degression,
            springs,
        } => {
            let Some(first) = first.get().filter(|first| first.0 > Length::ZERO) else {
                return all;
            };
            power(&mut all, first.0, degression.max(1.0), full);
            let at_full = springs.saturating_add(1).clamp(0, PASS_LIMIT as i64);
            for n in 0..at_full {
                let purpose = if n == 0 {
                    Purpose::Rough
                } else {
                    Purpose::Spring
                };
                all.push((height, purpose));
            }
        }
        Law::Counted {
            rough,
            equal_areas,
            finish,
            springs,
        } => {
            let Some(rough) = rough.get() else {
                return all;
            };
            let finish = finish.get().map_or(Length::ZERO, |finish| finish.0);
            counted(&mut all, full, rough, *equal_areas, finish);
            let springs = springs.get().unwrap_or(0) as usize;
            all.extend(std::iter::repeat_n(
                (height, Purpose::Spring),
                springs.min(PASS_LIMIT),
            ));
        }
    }
    all.truncate(PASS_LIMIT);
    all
}

/// Roughing to the full height less the finishing allowance, then the finishing cut.
fn counted(
    all: &mut Vec<(Radial, Purpose)>,
    full: Length,
    rough: u32,
    equal_areas: bool,
    finish: Length,
) {
    let left = if finish > Length::ZERO && finish < full {
        finish
    } else {
        Length::ZERO
    };
    let total = full - left;
    for n in 1..=rough.min(PASS_LIMIT as u32) {
        let depth = match (n == rough, equal_areas) {
            (true, _) => total,
            (false, true) => {
                let part = (f64::from(n) / f64::from(rough)).sqrt();
                Length::from_pm((total.pm() as f64 * part).round() as i64)
            }
            (false, false) => {
                let part = i128::from(total.pm()) * i128::from(n);
                let half = i128::from(rough / 2);
                Length::from_pm(((part + half) / i128::from(rough)) as i64)
            }
        };
        all.push((Radial(depth), Purpose::Rough));
    }
    if !left.is_zero() {
        all.push((Radial(full), Purpose::Finish));
    } else if rough == 0 {
        all.push((Radial(full), Purpose::Rough));
    }
}

fn power(all: &mut Vec<(Radial, Purpose)>, first: Length, degression: f64, full: Length) {
    let mut n = 1u32;
    while all.len() < PASS_LIMIT {
        let depth = root(first, n, degression);
        if depth >= full {
            break;
        }
        all.push((Radial(depth), Purpose::Rough));
        n += 1;
    }
}

/// `first·n^(1/degression)`, exact for n = 1 and for degression 1.
fn root(first: Length, n: u32, degression: f64) -> Length {
    if n == 1 {
        return first;
    }
    if degression == 1.0 {
        return first * i64::from(n);
    }
    Length::from_pm((first.pm() as f64 * f64::from(n).powf(1.0 / degression)).round() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square_root(first: f64, min: f64, finish: f64, repeats: u32) -> Law {
        Law::SquareRoot {
            first: Val::Exact(Radial::from_mm(first)),
            min: Val::Exact(Radial::from_mm(min)),
            finish: Val::Exact(Radial::from_mm(finish)),
            repeats: Val::Exact(repeats),
        }
    }

    fn mm(law: &Law, height: f64) -> Vec<f64> {
        depths(law, Radial::from_mm(height))
            .iter()
            .map(|(depth, _)| (depth.mm() * 1000.0).round() / 1000.0)
            .collect()
    }

    /// Worked by hand from the law, height 1.227 mm: 10 passes with a last step of 0.027 for a
    /// first cut of 0.4 and a clamp of 0.05; 24 passes for 0.1; 9 for a clamp of 0.1.
    #[test]
    fn clamped_square_root_law() {
        let all = mm(&square_root(0.4, 0.05, 0.0, 0), 1.227);
        assert_eq!(
            all,
            [
                0.4, 0.566, 0.693, 0.8, 0.894, 0.98, 1.058, 1.131, 1.2, 1.227, 1.227
            ]
        );
        let count = |first, min| mm(&square_root(first, min, 0.0, 1), 1.227).len() - 1;
        assert_eq!(count(0.2, 0.05), 21);
        assert_eq!(count(0.1, 0.05), 24);
        assert_eq!(count(0.1, 0.0), 151);
        assert_eq!(count(0.4, 0.1), 9);
    }

    #[test]
    fn finishing_allowance_is_the_last_cut() {
        let law = square_root(0.3, 0.1, 0.05, 2);
        let all = depths(&law, Radial::from_mm(0.92));
        let purposes: Vec<_> = all.iter().map(|(_, purpose)| *purpose).collect();
        assert_eq!(
            mm(&law, 0.92),
            [0.3, 0.424, 0.524, 0.624, 0.724, 0.824, 0.87, 0.92, 0.92]
        );
        assert_eq!(purposes[7..], [Purpose::Finish, Purpose::Spring]);
    }

    #[test]
    fn methods_of_the_one_block_cycle() {
        let law = |method| Law::Method {
            first: Val::Exact(Radial::from_mm(0.25)),
            method,
        };
        assert_eq!(depths(&law(1), Radial::from_mm(1.0)).len(), 16);
        assert_eq!(mm(&law(3), 1.0), [0.25, 0.5, 0.75, 1.0]);
    }

    /// Worked by hand, height 0.92 with 0.05 left: 0.87 · n/5, and 0.87 · √(n/5).
    #[test]
    fn counted_passes() {
        let law = |rough, equal_areas, finish, springs| Law::Counted {
            rough: Val::Exact(rough),
            equal_areas,
            finish: Val::Exact(Radial::from_mm(finish)),
            springs: Val::Exact(springs),
        };
        assert_eq!(
            mm(&law(5, false, 0.05, 1), 0.92),
            [0.174, 0.348, 0.522, 0.696, 0.87, 0.92, 0.92]
        );
        assert_eq!(
            mm(&law(5, true, 0.05, 0), 0.92),
            [0.389, 0.55, 0.674, 0.778, 0.87, 0.92]
        );
        let purposes: Vec<_> = depths(&law(1, true, 0.05, 1), Radial::from_mm(0.92))
            .into_iter()
            .map(|(_, purpose)| purpose)
            .collect();
        assert_eq!(purposes, [Purpose::Rough, Purpose::Finish, Purpose::Spring]);
        assert_eq!(mm(&law(2, false, 0.0, 0), 0.92), [0.46, 0.92]);
        assert_eq!(mm(&law(0, false, 0.0, 0), 0.92), [0.92]);
        assert_eq!(
            depths(&law(u32::MAX, true, 0.0, u32::MAX), Radial::from_mm(1.0)).len(),
            PASS_LIMIT
        );
    }

    #[test]
    fn nothing_can_run_away() {
        let law = square_root(1e-9, 0.0, 0.0, 0);
        assert_eq!(depths(&law, Radial::from_mm(1.0)).len(), PASS_LIMIT);
        assert!(depths(&square_root(0.0, 0.0, 0.0, 1), Radial::from_mm(1.0)).is_empty());
        assert!(depths(&square_root(0.3, 0.0, 0.0, 1), Radial::from_mm(-1.0)).is_empty());
    }
}
