//! Acme threads: ASME B1.5 (general purpose 2G to 4G, centralizing 2C to 4C) and stub Acme,
//! ASME B1.8.

mod limits;
mod reading;

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Units};

use super::form::{End, Flanks, Form, Measure, Profile, Spread};
use super::inch::ten_thousandths_inch;
use super::limits::Basic;
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side, parallel};

/// What the project knows of Acme threads.
pub(super) static STANDARD: Standard = Standard {
    name: "Acme",
    standards: "ASME B1.5, ASME B1.8",
    units: Units::Inch,
    several_starts: true,
    initials: "AS.0123456789",
    read: reading::read,
    write: reading::write,
    form,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits: limits::limits,
    default_class: |_, _| "2G",
    sizes,
    special,
};

/// The two forms, by the names of their series.
const ACME: &str = "ACME";
const STUB: &str = "STUB ACME";

/// Basic height as a factor of the pitch.
fn height(thread: &Thread) -> f64 {
    if thread.series == STUB { 0.3 } else { 0.5 }
}

/// Clearance at crests and roots, on the diameter, in inches: more from 10 threads per inch on.
fn clearance(pitch_in: f64) -> f64 {
    if 1.0 / pitch_in > 10.001 {
        0.010
    } else {
        0.020
    }
}

/// Basic flats: half the pitch, less what the flanks take over half the height.
fn flat(thread: &Thread) -> f64 {
    0.5 - height(thread) * half_angle()
}

/// Tangent of 14.5°.
fn half_angle() -> f64 {
    14.5f64.to_radians().tan()
}

/// External roots clear the nut by the clearance and may go deeper by their tolerance. Internal
/// roots clear the screw by the clearance and may go as far again; of centralizing threads they
/// stay near the screw.
fn form(thread: &Thread) -> Form {
    let (height, flat) = (height(thread), flat(thread));
    let clearance = clearance(thread.pitch.mm() / 25.4);
    let more = |inches: f64| Measure {
        per_pitch: height,
        plus_mm: 25.4 * inches,
    };
    // Flat of a root that lies so much deeper.
    let narrowed = |inches: f64| Measure {
        per_pitch: flat,
        plus_mm: -25.4 * 2.0 * half_angle() * inches,
    };
    let tolerance = limits::external_minor_tolerance(thread);
    Form {
        flanks: Some(Flanks::symmetric(14.5)),
        external: Profile {
            depth: Spread {
                min: more(0.0),
                design: more(clearance / 2.0),
                max: more((clearance + tolerance) / 2.0),
            },
            crest: End::flat(flat),
            root: End {
                flat: Some(narrowed(clearance / 2.0)),
                radius: None,
            },
        },
        internal: Profile {
            depth: Spread {
                min: more(0.0),
                design: more(0.0),
                max: more(clearance),
            },
            crest: End::flat(flat),
            root: End {
                flat: Some(narrowed(clearance / 2.0)),
                radius: None,
            },
        },
        taper: 0.0,
        source: match thread.series {
            STUB => "ASME B1.8 (stub Acme form)",
            _ => "ASME B1.5 (Acme form)",
        },
    }
}

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    let height = height(thread);
    Basic {
        major: d,
        pitch: d - height * p,
        minor: d - 2.0 * height * p,
        root: form(thread).root_diameter(d, p),
    }
}

/// Diameters in 1e-4 in with their threads per inch (ASME B1.5 table 3, Machinery's Handbook 27;
/// above 1 1/8 in the pairs agree with public tables).
#[rustfmt::skip]
const PAIRS: [(i64, i64); 23] = [
    (2500, 16), (3125, 14), (3750, 12), (4375, 12), (5000, 10), (6250, 8), (7500, 6), (8750, 6),
    (10000, 5), (11250, 5), (12500, 5), (13750, 4), (15000, 4), (17500, 4), (20000, 4),
    (22500, 3), (25000, 3), (27500, 3), (30000, 2), (35000, 2), (40000, 2), (45000, 2),
    (50000, 2),
];

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let mut all = Vec::new();
        for (series, rank) in [(ACME, 2), (STUB, 4)] {
            let size = |(diameter, tpi): &(i64, i64)| {
                Some(Size {
                    name: None,
                    major: Diameter(ten_thousandths_inch(*diameter)),
                    pitch: Lead::per_inch(tpi * 10_000)?,
                    series,
                    rank,
                })
            };
            all.extend(PAIRS.iter().filter_map(size));
        }
        all
    });
    &SIZES
}

/// Special sizes are made to eighths of an inch with the pitches of the series (common practice).
fn special(major_mm: f64, pitch_mm: f64, tolerance_mm: f64) -> Option<Thread> {
    let eighth = 25.4 / 8.0;
    let major = Diameter::from_mm((major_mm / eighth).round() * eighth);
    let close = |p: &Lead| (p.mm() - pitch_mm).abs() <= tolerance_mm;
    let pitch = sizes().iter().map(|s| s.pitch).find(close)?;
    let sound = pitch.mm() < major.mm() / 2.0;
    sound.then(|| Thread::new(Family::Acme, ACME, major, pitch))
}

/// Whether a class exists for a series: general purpose and centralizing Acme, stub Acme 2G alone.
fn has_class(series: &str, class: &str) -> bool {
    match series {
        STUB => class == "2G",
        _ => matches!(class, "2G" | "3G" | "4G" | "2C" | "3C" | "4C"),
    }
}

/// The two sides carry the same class.
fn class_of(thread: &Thread) -> Option<&str> {
    let external = thread.written_class(Side::External);
    external.or(thread.written_class(Side::Internal))
}
