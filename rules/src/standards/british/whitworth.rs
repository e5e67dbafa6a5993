//! Whitworth threads: BS 84 (BSW, BSF and Whitworth specials) and the 26 threads per inch of British
//! Standard brass. All have the same form, which pipe threads share.

use std::sync::LazyLock;

use lexer::units::Units;

use super::super::form::{End, Flanks, Form, Profile, Spread};
use super::super::limits::{Band, Basic, Limits, round_to};
use super::super::reader::Reader;
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side, parallel};
use super::{Pair, listed, read_hand, read_size, write};

/// What the project knows of Whitworth threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "Whitworth",
    standards: "BS 84",
    units: Units::Inch,
    several_starts: false,
    initials: "BW.0123456789",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes,
    special: |_, _, _| None,
};

/// Height of the sharp V of 55°.
const SHARP: f64 = 0.960_491;
/// Depth of the form, two thirds of the sharp V.
pub(in super::super) const DEPTH: f64 = 0.640_327;
/// Radius at crest and root.
const RADIUS: f64 = 0.137_329;

/// Depths and radii of the form. A nose of half its radius has to go deeper by half of the
/// rounding, H/12, to reach the same flanks (derived; that far is common practice, no source).
const DEPTHS: Spread = Spread::of_pitch(DEPTH, DEPTH, DEPTH + SHARP / 12.0);
const RADII: Spread = Spread::of_pitch(RADIUS / 2.0, RADIUS, RADIUS);

const PROFILE: Profile = Profile {
    depth: DEPTHS,
    crest: End::radius(RADII),
    root: End::radius(RADII),
};

/// The form of BS 84, of ISO 228-1 and, across the axis, of ISO 7-1.
pub(in super::super) const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(27.5)),
    external: PROFILE,
    internal: PROFILE,
    taper: 0.0,
    source: "BS 84 (Whitworth form)",
};

/// BSW (BS 84:2007, a public list of pitches).
#[rustfmt::skip]
const BSW: [Pair; 30] = [
    (6250, 6000), (9375, 4800), (12500, 4000), (15625, 3200), (18750, 2400),
    (21875, 2400), (25000, 2000), (31250, 1800), (37500, 1600), (43750, 1400),
    (50000, 1200), (56250, 1200), (62500, 1100), (68750, 1100), (75000, 1000),
    (87500, 900), (100000, 800), (112500, 700), (125000, 700), (137500, 600),
    (150000, 600), (162500, 500), (175000, 500), (200000, 450), (225000, 400),
    (250000, 400), (275000, 350), (300000, 350), (350000, 325), (400000, 300),
];

/// BSF (the same list).
#[rustfmt::skip]
const BSF: [Pair; 29] = [
    (18750, 3200), (21875, 2800), (25000, 2600), (28125, 2600), (31250, 2200),
    (37500, 2000), (43750, 1800), (50000, 1600), (56250, 1600), (62500, 1400),
    (68750, 1400), (75000, 1200), (81250, 1200), (87500, 1100), (100000, 1000),
    (112500, 900), (125000, 900), (137500, 800), (150000, 800), (162500, 800),
    (175000, 700), (200000, 700), (225000, 600), (250000, 600), (275000, 600),
    (300000, 500), (325000, 500), (350000, 450), (400000, 450),
];

/// Brass, 26 threads per inch throughout; the diameters are from memory.
#[rustfmt::skip]
const BSB: [Pair; 10] = [
    (25000, 2600), (31250, 2600), (37500, 2600), (43750, 2600), (50000, 2600),
    (56250, 2600), (62500, 2600), (75000, 2600), (87500, 2600), (100000, 2600),
];

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let series = [
            listed(&BSW, "BSW", 5),
            listed(&BSF, "BSF", 5),
            listed(&BSB, "BSB", 7),
        ];
        series.concat()
    });
    &SIZES
}

const SERIES: [&str; 5] = ["BSW", "BSF", "BSB", "WHIT", "WHITWORTH"];

/// Reads `1/2-12 BSW`, `BSF 1/4`, `1/2-20 WHIT`, with a class such as `(medium)`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let mut thread = read_size(reader, Family::Whitworth, &SERIES, &["WHIT"])?;
    loop {
        let read = read_hand(reader, &mut thread)
            || (!thread.written.class && read_class(reader, &mut thread));
        if !read {
            return Some(thread);
        }
    }
}

/// Classes of bolts and of nuts.
const BOLTS: [&str; 3] = ["close", "medium", "free"];
const NUTS: [&str; 2] = ["medium", "normal"];

fn read_class(reader: &mut Reader<'_>, thread: &mut Thread) -> bool {
    let start = reader.place();
    reader.separator();
    let bracket = reader.eat('(');
    let word = |reader: &mut Reader<'_>| {
        reader
            .eat_one(&["CLOSE", "MEDIUM", "FREE", "NORMAL"])
            .map(str::to_ascii_lowercase)
    };
    let first = word(reader);
    let second = first.is_some() && reader.eat('/');
    let second = second.then(|| word(reader)).flatten();
    let Some(first) = first.filter(|_| !bracket || reader.eat(')')) else {
        reader.back_to(start);
        return false;
    };
    let of = |classes: &[&str], class: &String| classes.contains(&class.as_str());
    match second {
        // A fit is written with the nut first.
        Some(second) if of(&NUTS, &first) && of(&BOLTS, &second) => {
            (thread.internal, thread.external) = (Some(first), Some(second));
        }
        Some(_) => {
            reader.back_to(start);
            return false;
        }
        None => {
            thread.external = Some(first.clone()).filter(|class| of(&BOLTS, class));
            thread.internal = Some(first).filter(|class| of(&NUTS, class));
            thread.side = match (&thread.external, &thread.internal) {
                (Some(_), None) => Some(Side::External),
                (None, Some(_)) => Some(Side::Internal),
                _ => None,
            };
        }
    }
    thread.written.class = true;
    true
}

fn basic(thread: &Thread) -> Basic {
    let (d, depth) = (thread.major.mm(), DEPTH * thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - depth,
        minor: d - 2.0 * depth,
        root: d - 2.0 * depth,
    }
}

/// Medium bolts in normal nuts are the usual fit (from memory). Brass has no classes.
fn default_class(thread: &Thread, side: Side) -> &'static str {
    match (thread.series, side) {
        ("BSB", _) => "",
        (_, Side::External) => "medium",
        (_, Side::Internal) => "normal",
    }
}

const SOURCE: &str = "BS 84:2007 (tolerance formulas, from a public note)";

/// Tolerances in inches by the formulas of BS 84. The order of rounding is not published here: the
/// sums are rounded once to four decimals.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    let grade = match (side, class) {
        (Side::External, "close") => 2.0 / 3.0,
        (_, "medium") => 1.0,
        (Side::External, "free") | (Side::Internal, "normal") => 1.5,
        (_, "") => {
            let note = "no limits are known for British Standard brass threads";
            limits.notes.push(note.to_owned());
            return limits;
        }
        _ => {
            let note = format!("{class} is no {} class of BS 84", side.name());
            limits.notes.push(note);
            return limits;
        }
    };
    limits.sources.push(SOURCE);
    limits.unverified = true;
    let (d, p) = (thread.major.mm() / 25.4, thread.pitch.mm() / 25.4);
    let depth = DEPTH * p;
    let unit = |d: f64| 0.002 * d.cbrt() + 0.003 * d.sqrt() + 0.005 * p.sqrt();
    let tolerance = grade * unit(d);
    limits.notes.push(
        "BS 84 tolerances for an engagement of one diameter; that the tables use it is from memory"
            .to_owned(),
    );
    match side {
        Side::External => {
            let close = class == "close";
            let allowance = if close || d > 0.75 {
                0.0
            } else {
                0.3 * unit(d.max(0.25))
            };
            if allowance > 0.0 {
                let note = "bolts up to 3/4 in lie 0.3 of the medium tolerance below the basic \
                            size (from memory)";
                limits.notes.push(note.to_owned());
            }
            let below = |basic: f64, width: f64| {
                let most = basic - allowance;
                Band::between(most - width, most)
            };
            let root = if close { 0.013 } else { 0.02 };
            limits.major = below(d, tolerance + 0.01 * p.sqrt());
            limits.pitch = below(d - depth, tolerance);
            limits.minor = below(d - 2.0 * depth, tolerance + root * p.sqrt());
            limits.root = limits.minor;
        }
        Side::Internal => {
            let tpi = 1.0 / p;
            let plus = match tpi {
                tpi if tpi > 25.5 => 0.004,
                tpi if tpi > 21.5 => 0.005,
                _ => 0.007,
            };
            if class == "medium" {
                let note = "the source gives medium nuts 1 T in one place and 1.25 T in another";
                limits.notes.push(note.to_owned());
            }
            let minor = d - 2.0 * depth;
            limits.major.min = Some(d);
            limits.pitch = Band::between(d - depth, d - depth + tolerance);
            limits.minor = Band::between(minor, minor + 0.2 * p + plus);
        }
    }
    for diameter in [
        &mut limits.major,
        &mut limits.pitch,
        &mut limits.minor,
        &mut limits.root,
    ] {
        *diameter = diameter.map(|inch| round_to(inch, 1e-4) * 25.4);
    }
    limits
}
