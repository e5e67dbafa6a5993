//! Limits of size of unified threads by the formulas of ASME B1.1, in inches until the end.
//!
//! Order of rounding, found by comparing with published values: the 2A pitch diameter tolerance
//! to six decimals, then the allowance, every tolerance and the heights to four, and only then the
//! sums. A digit 5 at the very end is rounded to the even neighbour; among the standard sizes this
//! touches 12-24 3A, 1-8 2A, 1 1/8-7 2A and the 3B minor diameter at 20 threads per inch (the rule
//! itself is from memory of handbook values for 1 1/8-7 UNC-2A).

use lexer::units::{Length, Units};

use super::super::Side;
use super::super::form::{NUT_HEIGHT, SHARP_V};
use super::super::inch::threads_per_inch;
use super::super::limits::{Band, Limits, round_to};
use super::super::thread::{Engagement, Thread};
use super::UNR_DEPTH;

const SOURCE: &str = "ASME B1.1 (formulas for allowance and tolerances)";
const ENGAGEMENT_SOURCE: &str = "FED-STD-H28/2 (length of engagement)";

/// A class: its digit and which side it is for.
fn digit(class: &str, side: Side) -> Option<u8> {
    let letter = match side {
        Side::External => b'A',
        Side::Internal => b'B',
    };
    match class.as_bytes() {
        [digit @ b'1'..=b'3', last] if *last == letter => Some(digit - b'0'),
        _ => None,
    }
}

/// Whether a class exists for a side.
pub(super) fn exists(class: &str, side: Side) -> bool {
    digit(class, side).is_some()
}

/// Factor of a class on the pitch diameter tolerance of 2A.
fn class_factor(digit: u8, side: Side) -> f64 {
    match (side, digit) {
        (Side::External, 1) => 1.5,
        (Side::External, 2) => 1.0,
        (Side::External, _) => 0.75,
        (Side::Internal, 1) => 1.95,
        (Side::Internal, 2) => 1.3,
        (Side::Internal, _) => 0.975,
    }
}

/// Everything in inches.
struct Inches {
    d: f64,
    p: f64,
    tpi: f64,
}

fn four(value: f64) -> f64 {
    round_to(value, 1e-4)
}

/// A diameter in mm rounded to four decimals of an inch.
pub(super) fn four_decimals(mm: f64) -> f64 {
    four(mm / 25.4) * 25.4
}

impl Inches {
    /// Pitch diameter tolerance of class 2A over the length of engagement of the tables.
    fn t2a(&self, series: &str) -> f64 {
        // The diameter for UNC, UNF, 4-UN, 6-UN and 8-UN, nine pitches for all others.
        let by_diameter = matches!(series, "UNC" | "UNF" | "UNRC" | "UNRF")
            || (matches!(series, "UN" | "UNR") && [4.0, 6.0, 8.0].contains(&self.tpi));
        let engagement = if by_diameter { self.d } else { 9.0 * self.p };
        let sum = self.d.cbrt() + engagement.sqrt() + 10.0 * self.p.powf(2.0 / 3.0);
        round_to(0.0015 * sum, 1e-6)
    }

    fn minor_tolerance(&self, digit: u8) -> f64 {
        let (d, p, tpi) = (self.d, self.p, self.tpi);
        let wide = 0.05 * p.powf(2.0 / 3.0) + 0.03 * p / d - 0.002;
        let coarse = 0.25 * p - 0.4 * p * p;
        match digit {
            3 if tpi >= 13.0 => wide.min(0.394 * p).max(0.23 * p - 1.5 * p * p),
            3 => wide.min(0.394 * p).max(0.12 * p),
            _ if d < 0.25 => wide.min(0.394 * p).max(coarse),
            _ if tpi >= 4.0 => coarse,
            _ => 0.15 * p,
        }
    }
}

/// Factor on the pitch diameter tolerance for a length of engagement, with a note where it does
/// not rest on a source.
fn engagement_factor(length: f64, pitch: f64) -> (f64, Option<&'static str>) {
    match length / pitch {
        n if n < 5.0 => (
            1.0,
            Some("an engagement below 5 pitches: tolerance not reduced (from memory)"),
        ),
        n if n <= 15.0 => (1.0, None),
        n if n <= 30.0 => (1.25, None),
        _ => (
            1.5,
            Some("an engagement above 30 pitches: tolerance times 1.5 (from memory)"),
        ),
    }
}

/// Limits of a class over the length of engagement of the tables, or the one stated.
pub(super) fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    let Some(digit) = digit(class, side) else {
        let note = format!("{class} is no {} class of ASME B1.1", side.name());
        limits.notes.push(note);
        return limits;
    };
    limits.sources.push(SOURCE);
    let p = thread.pitch.mm() / 25.4;
    let size = Inches {
        d: thread.major.mm() / 25.4,
        p,
        tpi: threads_per_inch(thread.pitch).map_or(1.0 / p, |n| n as f64 / 10_000.0),
    };
    if thread.starts > 1 {
        limits.unverified = true;
        let note = "the tolerances of the single-start thread are used: no rule for several \
                    starts is known for UN";
        limits.notes.push(note.to_owned());
    }
    let t2a = size.t2a(thread.series);
    let mut factor = class_factor(digit, side);
    if let Some(Engagement::Length(length)) = thread.engagement {
        factor *= lengthened(length, &size, &mut limits);
    }
    let tolerance = four(factor * t2a);
    let pitch = size.d - four(0.75 * SHARP_V * p);
    match side {
        Side::External => external(thread, digit, &size, (t2a, tolerance, pitch), &mut limits),
        Side::Internal => internal(digit, &size, (tolerance, pitch), &mut limits),
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

fn lengthened(length: Length, size: &Inches, limits: &mut Limits) -> f64 {
    let (factor, note) = engagement_factor(length.mm() / 25.4, size.p);
    limits.sources.push(ENGAGEMENT_SOURCE);
    if let Some(note) = note {
        limits.unverified = true;
        limits.notes.push(note.to_owned());
    }
    factor
}

/// The allowance is 0.3 of the 2A tolerance for 1A and 2A alike and lies on all three diameters.
fn external(
    thread: &Thread,
    digit: u8,
    size: &Inches,
    (t2a, tolerance, pitch): (f64, f64, f64),
    limits: &mut Limits,
) {
    let allowance = if digit == 3 { 0.0 } else { four(0.3 * t2a) };
    let crest_factor = if digit == 1 { 0.090 } else { 0.060 };
    let major = size.d - allowance;
    let most = pitch - allowance;
    limits.major = Band::between(major - four(crest_factor * size.p.powf(2.0 / 3.0)), major);
    limits.pitch = Band::between(most - tolerance, most);
    let least_root = most - tolerance - four(0.75 * SHARP_V * size.p);
    limits.root = Band::between(least_root, major - four(2.0 * UNR_DEPTH * size.p));
    limits.minor = Band::between(
        least_root,
        four(size.d - 2.0 * NUT_HEIGHT * size.p) - allowance,
    );
    if thread.series.starts_with("UNR") {
        limits.minor = limits.root;
    }
}

/// Minor diameters of 1B and 2B are published to three decimals from 0.138 in on.
fn internal(digit: u8, size: &Inches, (tolerance, pitch): (f64, f64), limits: &mut Limits) {
    limits.major.min = Some(size.d);
    limits.pitch = Band::between(pitch, pitch + tolerance);
    let minor = size.d - 2.0 * NUT_HEIGHT * size.p;
    let width = size.minor_tolerance(digit);
    limits.minor = if digit != 3 && size.d >= 0.138 {
        Band::between(round_to(minor, 1e-3), round_to(minor + width, 1e-3))
    } else {
        Band::between(four(minor), four(minor) + four(width))
    };
}
