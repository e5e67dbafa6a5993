//! The hole before tapping, and how much of a full thread it leaves.
//!
//! Two bases are in use for "per cent of thread", and they differ by a fifth: the height of the
//! basic profile of the thread (5/8 H, 1.0825 P on the diameter for M and UN), and in the USA 3/4 H
//! (1.299 P), on which a full thread of 60° has 83.3 %.

use lexer::units::Units;

use super::drill_sizes::{nearest_inch, nearest_metric};
use super::vee::Vee;
use crate::standards::Side;
use crate::standards::form::{NUT_HEIGHT, TEACHING_RULE};
use crate::standards::limits::{Band, Limits};
use crate::standards::thread::Thread;

pub use super::drill_sizes::Drill;

/// What counts as 100 % of thread, on the diameter and in pitches.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Basis(pub f64);

impl Basis {
    /// The full basic height of M and UN, 5/8 H on each side: 1.0825 P.
    pub const FULL_HEIGHT: Basis = Basis(2.0 * NUT_HEIGHT);
    /// 3/4 H on each side, 1.299 P: the basis of FED-STD-H28/2 and of tables in the USA.
    pub const THREE_QUARTERS: Basis = Basis(2.0 * TEACHING_RULE);

    /// The hole in mm that leaves so many per cent: D − k · P · % / 100.
    #[must_use]
    pub fn hole(self, major: f64, pitch: f64, percent: f64) -> f64 {
        major - self.0 * pitch * percent / 100.0
    }

    /// The per cent that a hole leaves: (D − hole) / (k · P) · 100.
    #[must_use]
    pub fn percent(self, major: f64, pitch: f64, hole: f64) -> f64 {
        (major - hole) / (self.0 * pitch) * 100.0
    }
}

/// A hole for a tap.
#[derive(Debug, Clone, PartialEq)]
pub struct Hole {
    /// Limits of the minor diameter of the internal thread: they decide on the hole.
    pub limits: Limits,
    /// The drill, where one that is usually kept lies inside the limits.
    pub drill: Option<Drill>,
    /// Per cent of the family's own basic height that the drill leaves.
    pub percent_basic: Option<f64>,
    /// Per cent on the basis of 3/4 H, for 60° threads.
    pub percent_three_quarters: Option<f64>,
    /// How the drill was chosen.
    pub rule: &'static str,
}

const METRIC_RULE: &str = "D - P, to the next usual drill (common practice)";
const INCH_RULE: &str = "usual drill nearest to 75 % on the basis of 1.299P (common practice)";
const UPPER_RULE: &str = "usual drill near three quarters of the minor diameter's tolerance \
                          (common practice)";
const NO_DRILL: &str = "no usual drill lies inside the limits: bore or ream the hole";

/// The hole for tapping the internal thread, in the class that holds for it; `None` for a taper
/// thread, and where the standard gives no limits of its minor diameter.
///
/// The drill is D − P for metric 60° threads and 75 % of 3/4 H for inch ones, where a drill that
/// is usually kept lies inside the limits of the minor diameter; for all other threads a drill
/// near three quarters of the tolerance. All three are common practice; the first two give the
/// drills of the usual tables.
#[must_use]
pub fn tap_hole(thread: &Thread) -> Option<Hole> {
    let limits = thread.limits(Side::Internal);
    let form = thread.form();
    let (Some(min), Some(max)) = (limits.minor.min, limits.minor.max) else {
        return None;
    };
    if form.taper != 0.0 || min <= 0.0 {
        return None;
    }
    let vee = Vee::of(&form)?;
    let basic = thread.basic();
    let pitch = thread.pitch.mm();
    let fits = |size: f64| (min - 1e-9..=max + 1e-9).contains(&size);
    let sixty = vee
        .angles()
        .iter()
        .all(|angle| (angle.to_degrees() - 30.0).abs() < 1e-9);
    let metric = thread.units() == Units::Millimetre;
    let (target, rule) = match (sixty, metric) {
        (true, true) => (basic.major - pitch, METRIC_RULE),
        (true, false) => (
            Basis::THREE_QUARTERS.hole(basic.major, pitch, 75.0),
            INCH_RULE,
        ),
        (false, _) => (f64::NAN, UPPER_RULE),
    };
    let (target, rule) = if fits(target) {
        (target, rule)
    } else {
        (min + 0.75 * (max - min), UPPER_RULE)
    };
    let drill = if metric {
        nearest_metric(target, fits)
    } else {
        nearest_inch(target, fits)
    };
    let full = Basis((basic.major - basic.minor) / pitch);
    let left = |basis: Basis| {
        let drill = drill.as_ref();
        drill.map(|drill| basis.percent(basic.major, pitch, drill.size))
    };
    Some(Hole {
        percent_basic: left(full),
        percent_three_quarters: left(Basis::THREE_QUARTERS).filter(|_| sixty),
        rule: if drill.is_some() { rule } else { NO_DRILL },
        drill,
        limits,
    })
}

impl Hole {
    /// Limits of the hole in mm.
    #[must_use]
    pub fn band(&self) -> Band {
        self.limits.minor
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    fn drill(name: &str) -> (f64, String) {
        let hole = tap_hole(&parse(name, None).unwrap()).unwrap();
        let drill = hole.drill.unwrap();
        (drill.size, drill.name)
    }

    /// Drills that the usual handbook tables give for the coarse and fine series (from memory of
    /// such tables; the metric ones are also those of ISO 2306, from memory).
    #[test]
    fn drills_of_the_usual_tables() {
        for (name, size) in [
            ("M2", 1.6),
            ("M2.5", 2.05),
            ("M3", 2.5),
            ("M4", 3.3),
            ("M5", 4.2),
            ("M6", 5.0),
            ("M8", 6.8),
            ("M10", 8.5),
            ("M10x1.25", 8.8),
            ("M12", 10.2),
            ("M12x1.25", 10.8),
            ("M16", 14.0),
            ("M20", 17.5),
            ("M24", 21.0),
            ("M24x1.5", 22.5),
            ("M30", 26.5),
            ("M42", 37.5),
            ("M48", 43.0),
        ] {
            assert_eq!(drill(name), (size, String::new()), "{name}");
        }
        for (name, drill_name) in [
            ("2-56 UNC", "#50"),
            ("4-40 UNC", "#43"),
            ("6-32 UNC", "#36"),
            ("8-32 UNC", "#29"),
            ("10-24 UNC", "#25"),
            ("10-32 UNF", "#21"),
            ("12-24 UNC", "#16"),
            ("1/4-20 UNC", "#7"),
            ("1/4-28 UNF", "#3"),
            ("5/16-18 UNC", "F"),
            ("5/16-24 UNF", "I"),
            ("3/8-16 UNC", "5/16"),
            ("3/8-24 UNF", "Q"),
            ("7/16-14 UNC", "U"),
            ("7/16-20 UNF", "25/64"),
            ("1/2-13 UNC", "27/64"),
            ("1/2-20 UNF", "29/64"),
            ("5/8-11 UNC", "17/32"),
            ("3/4-10 UNC", "21/32"),
            ("7/8-9 UNC", "49/64"),
            ("1-8 UNC", "7/8"),
        ] {
            assert_eq!(drill(name).1, drill_name, "{name}");
        }
    }

    /// M10x1.5 drilled 8.5 has 77 % in the USA (handbook arithmetic) and 92 % of its own height.
    #[test]
    fn per_cent_on_both_bases() {
        let hole = tap_hole(&parse("M10x1.5-6H", None).unwrap()).unwrap();
        assert!((hole.percent_three_quarters.unwrap() - 76.98).abs() < 0.01);
        assert!((hole.percent_basic.unwrap() - 92.38).abs() < 0.01);
        assert_eq!(hole.limits.class, "6H");
    }

    #[test]
    fn a_hole_without_a_usual_drill_is_said() {
        let hole = tap_hole(&parse("M33x0.75", None).unwrap()).unwrap();
        assert_eq!((hole.drill, hole.rule), (None, NO_DRILL));
    }
}
