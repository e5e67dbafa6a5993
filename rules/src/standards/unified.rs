//! Unified inch threads UN and UNR: ASME B1.1.

mod limits;
mod reading;
mod series;
pub(super) mod unj;
mod writing;

use lexer::units::{Diameter, Lead, Units};

use super::form::{
    End, Flanks, Form, Measure, NUT_HEIGHT, Profile, SHARP_V, Spread, TEACHING_RULE,
};
use super::limits::Basic;
use super::thread::Thread;
use super::{Family, Side, Standard, either_side, parallel};

/// What the project knows of unified threads.
pub(super) static STANDARD: Standard = Standard {
    name: "unified inch",
    standards: "ASME B1.1",
    units: Units::Inch,
    several_starts: true,
    initials: "U#.0123456789",
    read: reading::read,
    write: writing::write,
    form,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits: limits::limits,
    default_class,
    sizes: series::sizes,
    special,
};

/// Depth of the UNR external thread, 11/16 H (ASME B1.1).
const UNR_DEPTH: f64 = 11.0 / 16.0 * SHARP_V;

/// Roots of the external thread: UN is drawn with a flat of P/4 and may be rounded, UNR must be.
/// The smallest radius of UNR, H/8, is from memory; the largest, 3/16 H, is what its depth leaves
/// room for (derived).
const ROOT_RADIUS: Spread = Spread::of_pitch(SHARP_V / 8.0, SHARP_V / 6.0, 3.0 / 16.0 * SHARP_V);

fn form(thread: &Thread) -> Form {
    let rounded = thread.series.starts_with("UNR");
    let depth = if rounded { UNR_DEPTH } else { NUT_HEIGHT };
    Form {
        flanks: Some(Flanks::symmetric(30.0)),
        external: Profile {
            depth: Spread::of_pitch(NUT_HEIGHT, depth, TEACHING_RULE),
            crest: End::flat(0.125),
            root: End {
                flat: (!rounded).then_some(Measure::of_pitch(0.25)),
                radius: Some(ROOT_RADIUS),
            },
        },
        internal: Profile {
            depth: Spread::of_pitch(NUT_HEIGHT, NUT_HEIGHT, TEACHING_RULE),
            crest: End::flat(0.25),
            // The largest radius that still clears the major diameter, H/8 (derived).
            root: End {
                flat: Some(Measure::of_pitch(0.125)),
                radius: Some(Spread::of_pitch(0.0, SHARP_V / 8.0, SHARP_V / 8.0)),
            },
        },
        taper: 0.0,
        source: "ASME B1.1 (UN and UNR form)",
    }
}

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.75 * SHARP_V * p,
        minor: d - 2.0 * NUT_HEIGHT * p,
        root: form(thread).root_diameter(d, p),
    }
}

/// FED-STD-H28/2: classes 2A and 2B where none is stated.
fn default_class(_: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "2A",
        Side::Internal => "2B",
    }
}

/// The series of the UN form with the same sizes: `UNC` for `UNRC` and `UNJC`.
fn plain_series(series: &'static str) -> &'static str {
    match series {
        "UNRC" | "UNJC" => "UNC",
        "UNRF" | "UNJF" => "UNF",
        "UNREF" | "UNJEF" => "UNEF",
        "UNRS" | "UNJS" => "UNS",
        "UNR" | "UNJ" => "UN",
        series => series,
    }
}

/// The series that lists a diameter with a pitch, UNS where none does.
fn series_of(major: Diameter, pitch: Lead) -> &'static str {
    let listed = series::sizes().iter();
    let mut listed = listed.filter(|s| s.major == major && s.pitch == pitch);
    listed.next().map_or("UNS", |s| s.series)
}

/// Special sizes are made to sixteenths of an inch (common practice).
fn special(major_mm: f64, pitch_mm: f64, tolerance_mm: f64) -> Option<Thread> {
    let sixteenth = 25.4 / 16.0;
    let major = Diameter::from_mm((major_mm / sixteenth).round() * sixteenth);
    let close = |p: &Lead| (p.mm() - pitch_mm).abs() <= tolerance_mm;
    let pitch = series::sizes().iter().map(|s| s.pitch).find(close)?;
    let sound = pitch.mm() < major.mm() / 2.0;
    sound.then(|| Thread::new(Family::Unified, "UNS", major, pitch))
}

#[cfg(test)]
mod tests;
