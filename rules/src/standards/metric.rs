//! ISO metric threads M: ISO 68-1 (form), ISO 261, 262 and 724 (sizes), ISO 965-1 (tolerances).

pub(super) mod mj;
pub(super) mod reading;
mod sizes;
mod tolerance;

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flanks, Form, NUT_HEIGHT, Profile, ROUNDED_ROOT, SHARP_V, Spread};
use super::form::{Measure, TEACHING_RULE};
use super::limits::{Band, Basic, Limits, round_to};
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side, parallel};

/// What the project knows of ISO metric threads.
pub(super) static STANDARD: Standard = Standard {
    name: "ISO metric",
    standards: "ISO 68-1, ISO 261, ISO 262, ISO 724, ISO 965-1",
    units: Units::Millimetre,
    several_starts: true,
    initials: "M",
    read: reading::read,
    write: reading::write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes,
    special,
};

/// The form of ISO 68-1: flats of P/8 on the external and P/4 on the internal crest, a root
/// radius of H/6 by design and of 0.125 P at least (ISO 965-1 clause 11).
const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(30.0)),
    external: Profile {
        depth: Spread::of_pitch(NUT_HEIGHT, ROUNDED_ROOT, TEACHING_RULE),
        crest: End::flat(0.125),
        root: End::radius(Spread::of_pitch(0.125, SHARP_V / 6.0, SHARP_V / 6.0)),
    },
    internal: Profile {
        depth: Spread::of_pitch(NUT_HEIGHT, NUT_HEIGHT, TEACHING_RULE),
        crest: End::flat(0.25),
        // The largest radius that still clears the major diameter, H/8 (derived), down to none.
        root: End {
            flat: Some(Measure::of_pitch(0.125)),
            radius: Some(Spread::of_pitch(0.0, SHARP_V / 8.0, SHARP_V / 8.0)),
        },
    },
    taper: 0.0,
    source: "ISO 68-1, ISO 965-1 clause 11",
};

const BASIC_SOURCE: &str = "ISO 724 (basic diameters)";
const TABLE_SOURCE: &str = "ISO 965-1 (tables of deviations and tolerances)";
const FORMULA_SOURCE: &str = "ISO 965-1 clause 13 (formulas, with the actual diameter)";
const ROOT_SOURCE: &str = "ISO 965-1 clause 11 (root of the external thread)";
/// The rule is from memory; the open dataset threadlib has it in all 123 of its 6H rows.
const NUT_ROOT_SOURCE: &str = "ASME B1.13M (largest root of the internal thread, D2 max + 11/12 H)";

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |major, pitch, series, rank| Size {
            name: None,
            major: Diameter(micrometres(major)),
            pitch: Lead::per_turn(micrometres(pitch)),
            series,
            rank,
        };
        let mut all = Vec::new();
        for row in &sizes::ROWS {
            if row.coarse > 0 {
                all.push(size(row.major, row.coarse, "coarse", 0));
            }
            all.extend(row.fine.iter().map(|p| size(row.major, *p, "fine", 1)));
        }
        let miniature = sizes::MINIATURE.iter();
        all.extend(miniature.map(|(d, p)| size(*d, *p, "miniature", 3)));
        all
    });
    &SIZES
}

const fn micrometres(um: i64) -> Length {
    Length::from_pm(um * 1_000_000)
}

/// Whole µm of a length, where it is one.
fn whole_um(length: Length) -> i64 {
    (length.pm() + 500_000).div_euclid(1_000_000)
}

/// The pitch that a bare `M24` means, in the coarse or the miniature series.
fn coarse_pitch(major: Diameter) -> Option<Lead> {
    let named = |s: &&Size| s.major == major && s.series != "fine";
    sizes().iter().find(named).map(|s| s.pitch)
}

/// Special sizes are made to whole millimetres, below 10 mm to halves (common practice).
fn special(major_mm: f64, pitch_mm: f64, tolerance_mm: f64) -> Option<Thread> {
    let step = if major_mm < 10.0 { 0.5 } else { 1.0 };
    let major = Diameter::from_mm((major_mm / step).round() * step);
    let close = |s: &&Size| (s.pitch.mm() - pitch_mm).abs() <= tolerance_mm;
    let pitch = sizes().iter().find(close)?.pitch;
    let sound = major.mm() >= 1.0 && pitch.mm() < major.mm() / 2.0;
    sound.then(|| Thread::new(Family::Metric, "", major, pitch))
}

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.75 * SHARP_V * p,
        minor: d - 2.0 * NUT_HEIGHT * p,
        root: d - 2.0 * ROUNDED_ROOT * p,
    }
}

/// ISO 965-2 gives grade 6 to what is not stated, grade 5 up to 1.4 mm (the words of the default
/// are from memory, the grade from the tables).
fn default_class(thread: &Thread, side: Side) -> &'static str {
    let small = thread.major <= Diameter(micrometres(1400));
    match (side, small) {
        (Side::External, false) => "6g",
        (Side::Internal, false) => "6H",
        (Side::External, true) => "5h6h",
        (Side::Internal, true) => "5H",
    }
}

/// Minor and root diameter of an external thread, from its basic diameters, the deviation and
/// (where it is known) the tolerance of its pitch diameter, and its pitch.
type ExternalRoot = fn(&Basic, f64, Option<f64>, f64) -> (Band, Band);

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = limits_of(thread, side, class, &basic(thread), external_root);
    if limits.root.min.is_some() {
        limits.sources.push(match side {
            Side::External => ROOT_SOURCE,
            Side::Internal => NUT_ROOT_SOURCE,
        });
    }
    limits
}

/// Deviations add to the unrounded basic diameters; the sum is rounded once to 0.001 mm.
fn limits_of(
    thread: &Thread,
    side: Side,
    class: &str,
    basic: &Basic,
    external_root: ExternalRoot,
) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    let Some(zones) = reading::zones(class, side) else {
        limits
            .notes
            .push(format!("{class} is no {} class of ISO 965-1", side.name()));
        return limits;
    };
    if thread.major < Diameter(micrometres(1000)) {
        let note = "ISO 965-1 begins at 1 mm; no tolerances are known for miniature threads";
        limits.notes.push(note.to_owned());
        return limits;
    }
    limits.sources.push(BASIC_SOURCE);
    doubts(thread, &mut limits);

    let (d_um, p_um) = (whole_um(thread.major.0), whole_um(thread.pitch.length()));
    let p = thread.pitch.mm();
    let mut sum = Sum {
        limits: &mut limits,
        class,
    };
    let pitch_shift = sum.mm(
        tolerance::deviation(zones.pitch.position, p_um),
        zones.pitch,
        "deviation",
    );
    let crest_shift = sum.mm(
        tolerance::deviation(zones.crest.position, p_um),
        zones.crest,
        "deviation",
    );
    let pitch_width = sum.mm(
        tolerance::pitch_diameter(side, zones.pitch.grade, d_um, p_um),
        zones.pitch,
        "pitch diameter tolerance",
    );
    let crest_width = sum.mm(
        tolerance::crest(side, zones.crest.grade, p_um),
        zones.crest,
        "crest tolerance",
    );

    match side {
        Side::External => {
            limits.major = band(basic.major, crest_shift, crest_width.map(|w| -w));
            limits.pitch = band(basic.pitch, pitch_shift, pitch_width.map(|w| -w));
            if let Some(shift) = pitch_shift {
                (limits.minor, limits.root) = external_root(basic, shift, pitch_width, p);
            }
        }
        Side::Internal => {
            limits.major.min = crest_shift.map(|shift| basic.major + shift);
            limits.pitch = band(basic.pitch, pitch_shift, pitch_width);
            limits.minor = band(basic.minor, crest_shift, crest_width);
            limits.root = Band {
                min: limits.major.min,
                max: limits.pitch.max.map(|d2| d2 + 11.0 / 12.0 * SHARP_V * p),
            };
        }
    }
    for diameter in [
        &mut limits.major,
        &mut limits.pitch,
        &mut limits.minor,
        &mut limits.root,
    ] {
        *diameter = diameter.map(|v| round_to(v, 0.001));
    }
    limits
}

/// Says where the rules of ISO 965-1 are known not to settle the limits.
fn doubts(thread: &Thread, limits: &mut Limits) {
    if thread.starts > 1 {
        limits.unverified = true;
        let note = "the tolerances of the single-start thread are used: no rule for several \
                    starts is known for M";
        limits.notes.push(note.to_owned());
    }
    let m5_5 = thread.major == Diameter(micrometres(5500));
    if m5_5 && thread.pitch == Lead::per_turn(micrometres(500)) {
        limits.unverified = true;
        let note = "published limits of M5.5x0.5 are those of the next range of diameters \
                    (Td2 0.090, TD2 0.120 in grade 6)";
        limits.notes.push(note.to_owned());
    }
}

/// Collects the terms of a limit with what is to be said about them.
struct Sum<'l> {
    limits: &'l mut Limits,
    class: &'l str,
}

impl Sum<'_> {
    fn mm(
        &mut self,
        value: Option<tolerance::Value>,
        zone: reading::Zone,
        what: &str,
    ) -> Option<f64> {
        let Some(value) = value else {
            self.limits.notes.push(format!(
                "ISO 965-1 gives no {what} for {zone} at this pitch (class {})",
                self.class
            ));
            return None;
        };
        let source = if value.tabulated {
            TABLE_SOURCE
        } else {
            let note = format!("the {what} of {zone} is not tabulated for this size: formula");
            self.limits.notes.push(note);
            FORMULA_SOURCE
        };
        if !self.limits.sources.contains(&source) {
            self.limits.sources.push(source);
        }
        Some(value.um / 1000.0)
    }
}

/// From a basic size, its shift, and the width of the tolerance with its direction.
fn band(basic: f64, shift: Option<f64>, width: Option<f64>) -> Band {
    let Some(shift) = shift else {
        return Band::OPEN;
    };
    let first = basic + shift;
    let second = width.map(|w| first + w);
    if width.is_some_and(|w| w > 0.0) {
        Band {
            min: Some(first),
            max: second,
        }
    } else {
        Band {
            min: second,
            max: Some(first),
        }
    }
}

/// The minor diameter is bounded above by the flat root of the go gauge. Root diameters lie
/// between the largest and the smallest truncation, from the smallest pitch diameter:
/// d3 = d2 min − H + 2 C (ISO 965-1 clause 11).
fn external_root(basic: &Basic, shift: f64, width: Option<f64>, pitch: f64) -> (Band, Band) {
    let mut minor = Band {
        min: None,
        max: Some(basic.minor + shift),
    };
    let Some(width) = width else {
        return (minor, Band::OPEN);
    };
    let least_pitch_diameter = basic.pitch + shift - width;
    let height = SHARP_V * pitch;
    let radius = 0.125 * pitch;
    let least = least_pitch_diameter - height + 2.0 * 0.125 * pitch;
    let cosine = 1.0 - width / (4.0 * radius);
    let most = (cosine >= -1.0).then(|| {
        let angle = std::f64::consts::FRAC_PI_3 - cosine.acos();
        let truncation = height / 4.0 - radius * (1.0 - angle.cos()) + width / 2.0;
        least_pitch_diameter - height + 2.0 * truncation
    });
    minor.min = Some(least);
    let root = Band {
        min: Some(least),
        max: most,
    };
    (minor, root)
}

#[cfg(test)]
mod tests;
