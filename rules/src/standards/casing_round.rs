//! Round casing and tubing threads: API Spec 5B, 8 and 10 threads per inch on a cone of 1:16; the
//! tubing threads of GOST 633 have the same form.
//!
//! Diameters and lengths are from memory. Those of casing agree with a published table of couplings
//! (a coupling is twice as long as a thread and half an inch), and the hand-tight pitch diameters
//! follow from them.

mod names;

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flanks, Form, Measure, Profile, SHARP_V, Spread};
use super::limits::{Band, Basic, Limits};
use super::planes::{Datum, GaugePlanes, Plane};
use super::thread::Thread;
use super::{Side, Size, Standard, either_side};
use names::{read, write};

/// What the project knows of round casing and tubing threads.
pub(super) static STANDARD: Standard = Standard {
    name: "API round casing and tubing",
    standards: "API Spec 5B, GOST 633",
    units: Units::Inch,
    several_starts: false,
    initials: "NHН0123456789",
    read,
    write,
    form,
    basic,
    gauge,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes,
    special: |_, _, _| None,
};

const TAPER: f64 = 1.0 / 16.0;

/// Truncations of crest and root in inches: 0.120 P and a constant (API Spec 5B, from memory).
const CREST: (f64, f64) = (0.120, 0.005);
const ROOT: (f64, f64) = (0.120, 0.002);

/// Height in inches, 0.626 P - 0.007: the heights of 1.810 and 1.412 mm stand on a public gauge page.
/// The accepted height reaches 0.004 in to the shallow and 0.002 in to the deep side (from memory).
fn form(_: &Thread) -> Form {
    let height = |off: f64| Measure {
        per_pitch: 0.626,
        plus_mm: 25.4 * (off - 0.007),
    };
    // A circle between flanks of 60° takes away as much as its radius.
    let arc = |(per_pitch, plus): (f64, f64)| Measure {
        per_pitch,
        plus_mm: 25.4 * plus,
    };
    let round = |truncation| {
        End::radius(Spread {
            min: Measure::of_pitch(0.0),
            design: arc(truncation),
            max: arc(truncation),
        })
    };
    let profile = Profile {
        depth: Spread {
            min: height(-0.004),
            design: height(0.0),
            max: height(0.002),
        },
        crest: round(CREST),
        root: round(ROOT),
    };
    Form {
        flanks: Some(Flanks::symmetric(30.0)),
        external: profile,
        internal: profile,
        taper: TAPER,
        source: "API Spec 5B (form from memory; the heights agree with a public gauge page)",
    }
}

/// In the plane in which the full crests end: there the crest is as large as the pipe. Crests inside
/// are truncated as much as outside.
fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    let sharp = SHARP_V * p;
    let cut = |(per_pitch, plus): (f64, f64)| per_pitch * p + 25.4 * plus;
    let pitch = d - (sharp - 2.0 * cut(CREST));
    let depth = 0.626 * p - 0.007 * 25.4;
    Basic {
        major: d,
        pitch,
        minor: pitch - (sharp - 2.0 * cut(CREST)),
        root: d - 2.0 * depth,
    }
}

/// What a thread is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// Short and long casing, in API 5CT SC and LC.
    Short,
    Long,
    /// Tubing, plain and with an upset end.
    Plain,
    Upset,
    /// Tubing of GOST 633, plain and upset.
    Nkt,
    NktUpset,
}

/// A size: name, outside diameter of the pipe or of its upset end, threads per inch, and the length
/// L4 to the vanish point in inches, 0 where it is not known here.
struct Row {
    kind: Kind,
    name: &'static str,
    diameter: Outside,
    per_inch: i64,
    length: f64,
}

#[derive(Clone, Copy)]
enum Outside {
    /// In 1e-4 in.
    Inches(i64),
    /// In µm.
    Millimetres(i64),
}

impl Outside {
    fn diameter(self) -> Diameter {
        Diameter(match self {
            Outside::Inches(count) => super::inch::ten_thousandths_inch(count),
            Outside::Millimetres(um) => Length::from_pm(um * 1_000_000),
        })
    }
}

const fn casing(kind: Kind, name: &'static str, outside: i64, length: f64) -> Row {
    tubing(kind, name, outside, 8, length)
}

const fn tubing(kind: Kind, name: &'static str, outside: i64, per_inch: i64, length: f64) -> Row {
    Row {
        kind,
        name,
        diameter: Outside::Inches(outside),
        per_inch,
        length,
    }
}

const fn nkt(kind: Kind, name: &'static str, um: i64, per_inch: i64) -> Row {
    Row {
        kind,
        name,
        diameter: Outside::Millimetres(um),
        per_inch,
        length: 0.0,
    }
}

use Kind::{Long, Nkt, NktUpset, Plain, Short, Upset};

/// The lengths of short casing are those of the usual weights: the lightest weights of 4 1/2, 5, 7,
/// 8 5/8 and 10 3/4 are shorter.
#[rustfmt::skip]
const ROWS: [Row; 53] = [
    casing(Short, "4 1/2 STC", 45_000, 2.625),
    casing(Short, "5 STC", 50_000, 2.75),
    casing(Short, "5 1/2 STC", 55_000, 2.875),
    casing(Short, "6 5/8 STC", 66_250, 3.125),
    casing(Short, "7 STC", 70_000, 3.125),
    casing(Short, "7 5/8 STC", 76_250, 3.25),
    casing(Short, "8 5/8 STC", 86_250, 3.375),
    casing(Short, "9 5/8 STC", 96_250, 3.375),
    casing(Short, "10 3/4 STC", 107_500, 3.5),
    casing(Short, "11 3/4 STC", 117_500, 3.5),
    casing(Short, "13 3/8 STC", 133_750, 3.5),
    casing(Short, "16 STC", 160_000, 4.0),
    casing(Short, "18 5/8 STC", 186_250, 4.0),
    casing(Short, "20 STC", 200_000, 4.0),
    casing(Long, "4 1/2 LTC", 45_000, 3.0),
    casing(Long, "5 LTC", 50_000, 3.375),
    casing(Long, "5 1/2 LTC", 55_000, 3.5),
    casing(Long, "6 5/8 LTC", 66_250, 3.875),
    casing(Long, "7 LTC", 70_000, 4.0),
    casing(Long, "7 5/8 LTC", 76_250, 4.125),
    casing(Long, "8 5/8 LTC", 86_250, 4.5),
    casing(Long, "9 5/8 LTC", 96_250, 4.75),
    casing(Long, "20 LTC", 200_000, 5.25),
    tubing(Plain, "1.050 NUE", 10_500, 10, 1.094),
    tubing(Plain, "1.315 NUE", 13_150, 10, 1.125),
    tubing(Plain, "1.660 NUE", 16_600, 10, 1.25),
    tubing(Plain, "1.900 NUE", 19_000, 10, 1.375),
    tubing(Plain, "2 3/8 NUE", 23_750, 10, 1.625),
    tubing(Plain, "2 7/8 NUE", 28_750, 10, 2.063),
    tubing(Plain, "3 1/2 NUE", 35_000, 10, 2.313),
    tubing(Plain, "4 NUE", 40_000, 8, 2.375),
    tubing(Plain, "4 1/2 NUE", 45_000, 8, 2.563),
    tubing(Upset, "1.050 EUE", 13_150, 10, 1.125),
    tubing(Upset, "1.315 EUE", 14_690, 10, 1.25),
    tubing(Upset, "1.660 EUE", 18_120, 10, 1.375),
    tubing(Upset, "1.900 EUE", 20_940, 10, 1.438),
    tubing(Upset, "2 3/8 EUE", 25_940, 8, 1.938),
    tubing(Upset, "2 7/8 EUE", 30_940, 8, 2.125),
    tubing(Upset, "3 1/2 EUE", 37_500, 8, 2.375),
    tubing(Upset, "4 EUE", 42_500, 8, 2.5),
    tubing(Upset, "4 1/2 EUE", 47_500, 8, 2.625),
    nkt(Nkt, "33", 33_400, 10),
    nkt(Nkt, "42", 42_200, 10),
    nkt(Nkt, "48", 48_300, 10),
    nkt(Nkt, "60", 60_300, 10),
    nkt(Nkt, "73", 73_000, 10),
    nkt(Nkt, "102", 101_600, 8),
    nkt(Nkt, "114", 114_300, 8),
    nkt(NktUpset, "60 B", 65_900, 8),
    nkt(NktUpset, "73 B", 78_600, 8),
    nkt(NktUpset, "89 B", 95_250, 8),
    nkt(NktUpset, "102 B", 107_950, 8),
    nkt(NktUpset, "114 B", 120_650, 8),
];

const SOURCE: &str = "API Spec 5B (sizes and lengths, from memory; casing agrees with a public \
                      table of coupling lengths)";

fn row(thread: &Thread) -> Option<&'static Row> {
    ROWS.iter().find(|row| Some(row.name) == thread.name)
}

/// Length from the end of the full crests to the vanish point, and from the hand-tight plane to it,
/// in inches (from memory). The second is given for casing alone.
fn from_vanish_point(row: &Row) -> (f64, Option<f64>) {
    let full = if row.per_inch == 8 { 0.625 } else { 0.5 };
    let hand_tight = match row.kind {
        Short | Long if row.diameter.diameter().mm() < 7.5 * 25.4 => Some(1.079),
        Short | Long => Some(1.146),
        _ => None,
    };
    (full, hand_tight)
}

/// Places are counted from the end of the pipe; a coupling is gauged from its face, at a distance that
/// is not known here, so that its planes are those of the pipe that it holds.
fn gauge(thread: &Thread, side: Side) -> Option<GaugePlanes> {
    let row = row(thread).filter(|row| row.length > 0.0)?;
    let (full, hand_tight) = from_vanish_point(row);
    let mm = |inches: f64| 25.4 * inches;
    let gauge = Plane {
        name: "end of the full crests, L7",
        z_mm: mm(row.length - full),
        at: basic(thread),
    };
    let mut planes = GaugePlanes::new(side, TAPER, Datum::SmallEnd, gauge);
    // One turn either way.
    let turn = thread.pitch.mm();
    planes.travel = Band::between(planes.gauge.z_mm - turn, planes.gauge.z_mm + turn);
    planes.add("end of the pipe", 0.0);
    if let Some(hand_tight) = hand_tight {
        planes.add("hand-tight plane, L1", mm(row.length - hand_tight));
    }
    planes.add("vanish point, L4", mm(row.length));
    planes.useful_mm = Some(planes.gauge.z_mm);
    planes.sources = vec![SOURCE];
    planes.unverified = true;
    planes
        .notes
        .push("lengths and the travel of one turn are from memory".to_owned());
    if side == Side::Internal {
        let note = "the planes are those of the pipe in the coupling, from the pipe's end";
        planes.notes.push(note.to_owned());
    }
    Some(planes)
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    limits.sources = vec![form(thread).source];
    limits.unverified = true;
    let note = "a taper thread is judged by the stand-off of its gauge, by height, taper and lead; \
                there are no limits of diameters";
    limits.notes.push(note.to_owned());
    limits
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |row: &Row| {
            Some(Size {
                name: Some(row.name),
                major: row.diameter.diameter(),
                pitch: Lead::per_inch(row.per_inch * 10_000)?,
                series: "",
                rank: 3,
            })
        };
        ROWS.iter().filter_map(size).collect()
    });
    &SIZES
}

#[cfg(test)]
mod tests;
