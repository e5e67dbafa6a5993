//! Limits of size of Acme threads, in inches until the end.
//!
//! The formulas for 2G reproduce published limits; those for 3G and 4G are from memory and agree
//! with the published allowances. Allowances, tolerances and basic diameters are rounded to four
//! decimals before they are added, as in the tables (the external minor diameter, which has no
//! table of its own, after).

use lexer::units::Units;

use super::super::Side;
use super::super::limits::{Band, Limits, round_to};
use super::super::thread::Thread;
use super::{STUB, clearance, has_class, height};

const GENERAL: &str = "ASME B1.5 (general purpose Acme, formulas for allowance and tolerances)";
const CENTRALIZING: &str =
    "ASME B1.5 (centralizing Acme, Machinery's Handbook 27, tables 8a, 10 and 12)";
const STUB_SOURCE: &str = "ASME B1.8 (stub Acme), tolerances of ASME B1.5";

/// Upper ends of the ranges of diameters in sixteenths of an inch: the allowance of a range is that
/// of its middle (ASME B1.5 table 10, Machinery's Handbook 27; the last range is from memory).
const RANGES: [f64; 21] = [
    0.0, 3.0, 5.0, 7.0, 9.0, 11.0, 13.0, 15.0, 17.0, 19.0, 21.0, 23.0, 25.0, 30.0, 34.0, 38.0,
    42.0, 46.0, 52.0, 60.0, 68.0,
];
const LAST_RANGES: [f64; 2] = [76.0, 88.0];

fn four(inches: f64) -> f64 {
    round_to(inches, 1e-4)
}

/// A digit 5 at the very end goes down in the table of centralizing threads.
fn four_down(inches: f64) -> f64 {
    four(inches - 1e-9)
}

/// The middle of the range that a diameter lies in, the diameter itself above the ranges.
fn middle_of_range(d: f64) -> f64 {
    let sixteenths = 16.0 * d;
    let ends: Vec<f64> = RANGES.into_iter().chain(LAST_RANGES).collect();
    let range = ends
        .windows(2)
        .find(|ends| ends[0] < sixteenths && sixteenths <= ends[1] + 1e-9);
    range.map_or(d, |ends| (ends[0] + ends[1]) / 32.0)
}

/// Factors of √D in the allowance, and of √D and √P in the tolerance of the pitch diameter.
fn factors(digit: char) -> (f64, f64, f64) {
    match digit {
        '2' => (0.008, 0.006, 0.030),
        '3' => (0.006, 0.0028, 0.014),
        _ => (0.004, 0.002, 0.010),
    }
}

fn pitch_tolerance(digit: char, d: f64, p: f64) -> f64 {
    let (_, by_diameter, by_pitch) = factors(digit);
    by_diameter * d.sqrt() + by_pitch * p.sqrt()
}

/// Tolerance in inches of the external minor diameter in the class with the widest one.
pub(super) fn external_minor_tolerance(thread: &Thread) -> f64 {
    let (d, p) = (thread.major.mm() / 25.4, thread.pitch.mm() / 25.4);
    let factor = if thread.series == STUB { 1.0 } else { 1.5 };
    factor * pitch_tolerance('2', d, p)
}

/// Limits of a class; both sides have the same classes.
pub(super) fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    let mut letters = class.chars();
    let (Some(digit), Some(kind)) = (letters.next(), letters.next()) else {
        return limits;
    };
    if !has_class(thread.series, class) {
        let series = thread.series;
        limits
            .notes
            .push(format!("{class} is no class of {series} threads"));
        return limits;
    }
    let stub = thread.series == STUB;
    limits.sources.push(match (stub, kind) {
        (true, _) => STUB_SOURCE,
        (false, 'C') => CENTRALIZING,
        _ => GENERAL,
    });
    // Only the screw of class 2G rests on published limits as a whole.
    limits.unverified = stub || class != "2G" || side == Side::Internal;
    notes(thread, &mut limits, class, stub);
    let (d, p) = (thread.major.mm() / 25.4, thread.pitch.mm() / 25.4);
    let size = Inches {
        d,
        p,
        clearance: clearance(p),
        height: height(thread),
        tolerance: pitch_tolerance(digit, d, p),
        stub,
        centralizing: (kind == 'C').then_some(digit),
    };
    match side {
        Side::External => size.external(factors(digit).0, &mut limits),
        Side::Internal => size.internal(&mut limits),
    }
    for diameter in [
        &mut limits.major,
        &mut limits.pitch,
        &mut limits.minor,
        &mut limits.root,
    ] {
        *diameter = diameter.map(|inch| four(inch) * 25.4);
    }
    limits
}

fn notes(thread: &Thread, limits: &mut Limits, class: &str, stub: bool) {
    if thread.starts > 1 {
        let note = "ASME B1.5 states the limits for one start and leaves it to judgement to use \
                    them for several";
        limits.notes.push(note.to_owned());
    }
    if !thread.is_standard_size() {
        let note =
            "the size is in no series: the tolerance is by the formula with its own diameter";
        limits.notes.push(note.to_owned());
    }
    if class.starts_with(['3', '4']) {
        let note = "the tolerance of the pitch diameter in this class is from memory";
        limits.notes.push(note.to_owned());
    } else if class.ends_with('C') {
        let note = "that the pitch diameter has the tolerance of class 2G is from memory";
        limits.notes.push(note.to_owned());
    }
    if stub {
        let note = "the tolerances of the crests and roots of stub Acme are from memory";
        limits.notes.push(note.to_owned());
    } else if limits.side == Side::Internal && class.ends_with('G') {
        let note = "the tolerances of the major and minor diameter of the nut are from memory";
        limits.notes.push(note.to_owned());
    }
}

/// Everything in inches.
struct Inches {
    d: f64,
    p: f64,
    clearance: f64,
    height: f64,
    /// Of the pitch diameter.
    tolerance: f64,
    stub: bool,
    /// Digit of a centralizing class.
    centralizing: Option<char>,
}

impl Inches {
    fn pitch(&self) -> f64 {
        four(self.d - self.height * self.p)
    }

    /// Tolerance of the crests: 0.05 P, 0.005 in at least.
    fn crest(&self) -> f64 {
        four((0.05 * self.p).max(0.005))
    }

    fn external(&self, allowance: f64, limits: &mut Limits) {
        let major = match self.centralizing {
            Some('2') => four_down(0.0035 * self.d.sqrt()),
            Some('3') => four_down(0.0015 * self.d.sqrt()),
            Some(_) => four_down(0.0010 * self.d.sqrt()),
            None => self.crest(),
        };
        limits.major = Band::between(self.d - major, self.d);
        let most = self.pitch() - four(allowance * middle_of_range(self.d).sqrt());
        limits.pitch = Band::between(most - four(self.tolerance), most);
        let most = four(self.d - 2.0 * self.height * self.p) - self.clearance;
        let width = if self.stub { 1.0 } else { 1.5 } * self.tolerance;
        limits.minor = Band::between(most - width, most);
        limits.root = limits.minor;
    }

    fn internal(&self, limits: &mut Limits) {
        let (above, width) = match self.centralizing {
            Some(digit) => {
                let play = match digit {
                    '2' | '3' => 0.0035,
                    _ => 0.0020,
                };
                let root = self.d.sqrt();
                (four_down(0.0010 * root), four_down(play * root))
            }
            None if self.stub => (self.clearance, four(self.tolerance)),
            None => (self.clearance, self.clearance),
        };
        let least = self.d + above;
        limits.major = Band::between(least, least + width);
        limits.root = limits.major;
        limits.pitch = Band::between(self.pitch(), self.pitch() + four(self.tolerance));
        let opened = match self.centralizing {
            Some(_) => four_down(0.1 * self.p),
            None => 0.0,
        };
        let bore = four(self.d - 2.0 * self.height * self.p) + opened;
        limits.minor = Band::between(bore, bore + self.crest());
    }
}
