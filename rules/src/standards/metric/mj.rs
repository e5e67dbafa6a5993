//! Metric threads for aerospace MJ: ISO 5855, ASME B1.21M. The tolerances are those of ISO 965-1,
//! the root of the external thread is rounded, and the bore is larger than that of M.

use std::sync::LazyLock;

use lexer::units::Units;

use super::super::form::{End, Flanks, Form, Profile, SHARP_V, Spread, TEACHING_RULE};
use super::super::limits::{Band, Basic, Limits};
use super::super::reader::{Looks, Reader};
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side, parallel};
use super::reading::{check_core, read_size, read_tail, write_with};

/// What the project knows of MJ threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "metric aerospace MJ",
    standards: "ISO 5855, ASME B1.21M, ISO 965-1",
    units: Units::Millimetre,
    several_starts: true,
    initials: "M",
    read,
    write: |thread| write_with(thread, "MJ"),
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes,
    special: |_, _, _| None,
};

/// Depth of the external thread with the largest root radius, 2/3 H.
const DEPTH: f64 = 2.0 / 3.0 * SHARP_V;
/// Depth of the internal thread, 9/16 H.
const NUT_DEPTH: f64 = 9.0 / 16.0 * SHARP_V;
/// Smallest and largest root radius, as factors of the pitch.
pub(in super::super) const LEAST_RADIUS: f64 = 0.15011;
pub(in super::super) const MOST_RADIUS: f64 = 0.18042;

const SOURCE: &str = "ISO 5855, FED-STD-H28/21 (root and bore of MJ)";

/// Depths with the tolerances of the pitch diameter reach from 2/3 H to about 3/4 H (class 4h6h at
/// a pitch of 1 mm: 0.643 P, derived).
pub(in super::super) const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(30.0)),
    external: Profile {
        depth: Spread::of_pitch(DEPTH, DEPTH, TEACHING_RULE),
        crest: End::flat(0.125),
        root: End::radius(Spread::of_pitch(LEAST_RADIUS, MOST_RADIUS, MOST_RADIUS)),
    },
    internal: Profile {
        depth: Spread::of_pitch(NUT_DEPTH, NUT_DEPTH, TEACHING_RULE),
        crest: End::flat(5.0 / 16.0),
        root: End::radius(Spread::of_pitch(0.0, SHARP_V / 8.0, SHARP_V / 8.0)),
    },
    taper: 0.0,
    source: SOURCE,
};

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.75 * SHARP_V * p,
        minor: d - 2.0 * NUT_DEPTH * p,
        root: d - 2.0 * DEPTH * p,
    }
}

/// FED-STD-H28/21: 4h6h, and 4H6H up to 5 mm, 4H5H above.
fn default_class(thread: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "4h6h",
        Side::Internal if thread.major.mm() <= 5.0 => "4H6H",
        Side::Internal => "4H5H",
    }
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = super::limits_of(thread, side, class, &basic(thread), external_root);
    if limits.pitch.max.is_some() {
        limits.sources.push(SOURCE);
    }
    // How far the root of the nut may go beyond the major diameter is not known here.
    if side == Side::Internal {
        limits.root = Band::OPEN;
    }
    limits
}

/// The rounded root touches the flanks: its bottom lies one radius above the sharp corner, so
/// d3 = d2 − H + 2 R, from the largest pitch diameter with the largest radius and the other way
/// round.
fn external_root(basic: &Basic, shift: f64, width: Option<f64>, pitch: f64) -> (Band, Band) {
    let most = basic.pitch + shift;
    let root =
        |pitch_diameter: f64, radius: f64| pitch_diameter - SHARP_V * pitch + 2.0 * radius * pitch;
    let band = Band {
        min: width.map(|width| root(most - width, LEAST_RADIUS)),
        max: Some(root(most, MOST_RADIUS)),
    };
    (band, band)
}

/// Pairs of ISO 261 from 1.6 mm on: ISO 5855-2 makes its own choice of them, which is not known
/// here.
fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let listed = super::sizes().iter();
        let listed = listed.filter(|s| s.major.mm() >= 1.6 && s.series != "miniature");
        let rarer = |size: &Size| Size {
            series: "",
            rank: size.rank + 20,
            ..*size
        };
        listed.map(rarer).collect()
    });
    &SIZES
}

/// Reads `MJ6x1-4h6h`; the pitch is always written.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    if !reader.eat_word("MJ") {
        return None;
    }
    let (mut thread, _) = read_size(reader, Family::MetricJ, "MJ")?;
    if !thread.written.pitch {
        return reader.complain("the pitch of an MJ thread must be written");
    }
    check_core(reader, &thread, "MJ")?;
    read_tail(reader, &mut thread)?;
    reader.looks = if thread.has_usual_pitch() {
        Looks::Named
    } else {
        Looks::Foreign
    };
    Some(thread)
}
