//! Metric trapezoidal threads Tr: ISO 2901 (form), ISO 2902 (sizes), ISO 2903 (tolerances), ISO 2904
//! (basic diameters); DIN 103; GOST 9484, 24737, 24738, with the tolerances of GOST 9562 for one
//! start and of GOST 24739 for several.

pub(super) mod sizes;
pub(super) mod tolerance;

use lexer::units::{Diameter, Length, Units};

use super::form::{End, Flanks, Form, Measure, Profile, Spread};
use super::limits::{Band, Basic, Limits, round_to};
use super::metric::reading::read_pitch;
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Standard, either_side, parallel};

/// What the project knows of metric trapezoidal threads.
pub(super) static STANDARD: Standard = Standard {
    name: "metric trapezoidal",
    standards: "ISO 2901, ISO 2902, ISO 2903, ISO 2904",
    units: Units::Millimetre,
    several_starts: true,
    initials: "T",
    read,
    write,
    form,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes: sizes::sizes,
    special: |_, _, _| None,
};

/// Half of the form's angle.
const HALF_ANGLE_DEG: f64 = 15.0;
/// Width of the basic crest flat: half a pitch less both flanks over a quarter of the pitch,
/// P (1/2 - 1/2 tan 15°).
const CREST: f64 = 0.366_025_403_784_438_6;
/// By how much the root flat narrows per mm of clearance, 2 tan 15°.
const NARROWING: f64 = 0.535_898_384_862_245_4;

/// Names in front of the size, look-alike letters made even: `Тр` and `ТРАП` of older GOST
/// drawings read as the second and the third.
const NAMES: [&str; 4] = ["TR", "TP", "TPAП", "TRAP"];

const TAIL: Tail = Tail {
    class: |class, side| Zone::of(class, side).is_some(),
    words: &[],
    sides: &[],
    numbers: &[103, 2901, 2902, 2903, 2904, 9484, 9562, 24737, 24738, 24739],
};

/// A grade with a position of the pitch diameter; the crests and the root of the external thread
/// have positions of their own (ISO 2903 clause 6).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Zone {
    pub(super) grade: u8,
    pub(super) position: char,
}

impl Zone {
    /// The zone of a class in its canonical letters. Positions g and h are those of GOST 9562.
    pub(super) fn of(class: &str, side: Side) -> Option<Zone> {
        let mut letters = class.chars();
        let grade = u8::try_from(letters.next()?.to_digit(10)?).ok()?;
        let position = letters.next()?;
        let known = match side {
            Side::External => matches!(position, 'c' | 'e' | 'g' | 'h') && (6..=9).contains(&grade),
            Side::Internal => position == 'H' && (6..=9).contains(&grade),
        };
        (known && letters.next().is_none()).then_some(Zone { grade, position })
    }
}

/// Clearance between crest and root in mm: 0.15 for pitch 1.5, 0.25 for 2 to 5, 0.5 for 6 to 12, 1
/// for 14 to 44 (ISO 2901, two public pages). Pitches between take the row below.
fn clearance(pitch: f64) -> f64 {
    match pitch {
        p if p < 2.0 => 0.15,
        p if p < 6.0 => 0.25,
        p if p < 14.0 => 0.5,
        _ => 1.0,
    }
}

/// The depths accepted reach from what the nut needs, half the pitch, to the smallest root diameter
/// of the class; into a nut as far again as the clearance (our own choice: ISO 2903 sets no bound).
fn form(thread: &Thread) -> Form {
    let clearance = clearance(thread.pitch.mm());
    let half = |plus_mm| Measure {
        per_pitch: 0.5,
        plus_mm,
    };
    let root = |corner: f64| End {
        flat: Some(Measure {
            per_pitch: CREST,
            plus_mm: -NARROWING * clearance,
        }),
        radius: Some(Spread::up_to(corner)),
    };
    let slack = external_root(thread, thread.class(Side::External))
        .and_then(|(least, most)| Some((most? - least?) / 2.0))
        .unwrap_or(0.0);
    Form {
        flanks: Some(Flanks::symmetric(HALF_ANGLE_DEG)),
        external: Profile {
            depth: Spread {
                min: half(0.0),
                design: half(clearance),
                max: half(clearance + slack),
            },
            crest: End {
                flat: Some(Measure::of_pitch(CREST)),
                radius: Some(Spread::up_to(0.5 * clearance)),
            },
            root: root(clearance),
        },
        internal: Profile {
            depth: Spread {
                min: half(0.0),
                design: half(clearance),
                max: half(2.0 * clearance),
            },
            crest: End::flat(CREST),
            root: root(clearance),
        },
        taper: 0.0,
        source: "ISO 2901 (basic and design profile)",
    }
}

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.5 * p,
        minor: d - p,
        root: d - p - 2.0 * clearance(p),
    }
}

/// DIN 103 and ISO 2903 recommend grade 7 where nothing is stated (from memory).
fn default_class(_: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "7e",
        Side::Internal => "7H",
    }
}

const BASIC_SOURCE: &str = "ISO 2904 (basic diameters)";
const TOLERANCE_SOURCE: &str = "ISO 2903 (tolerances)";

/// Smallest and largest root diameter of the external thread in mm before rounding.
fn external_root(thread: &Thread, class: &str) -> Option<(Option<f64>, Option<f64>)> {
    let zone = Zone::of(class, Side::External)?;
    let most = basic(thread).root;
    let shift = tolerance::deviation(zone.position, thread.pitch)?;
    let width = tolerance::root(thread, zone.grade)?;
    Some((Some(most + (shift.um - width.um) / 1000.0), Some(most)))
}

/// The pitch diameter takes the position of the class; both crests and the root take h or H whatever
/// the class says (ISO 2903 clause 6). Sums are rounded once to 0.001 mm.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    let Some(zone) = Zone::of(class, side) else {
        limits
            .notes
            .push(format!("{class} is no {} class of ISO 2903", side.name()));
        return limits;
    };
    limits.sources = vec![BASIC_SOURCE, TOLERANCE_SOURCE];
    let basic = basic(thread);
    let mut sum = Sum {
        limits: &mut limits,
    };
    let width = sum.mm(
        tolerance::pitch_diameter(thread, side, zone.grade),
        "pitch diameter tolerance",
    );
    let crest = sum.mm(
        Some(tolerance::crest(side, thread.pitch)),
        "crest tolerance",
    );
    match side {
        Side::External => {
            let shift = sum.mm(
                tolerance::deviation(zone.position, thread.pitch),
                "deviation",
            );
            limits.major = Band {
                min: crest.map(|width| basic.major - width),
                max: Some(basic.major),
            };
            limits.pitch.max = shift.map(|shift| basic.pitch + shift);
            limits.pitch.min = limits
                .pitch
                .max
                .zip(width)
                .map(|(most, width)| most - width);
            limits.root.max = Some(basic.root);
            limits.root.min = external_root(thread, class).and_then(|(least, _)| least);
            limits.minor = limits.root;
        }
        Side::Internal => {
            let major = basic.major + 2.0 * clearance(thread.pitch.mm());
            limits.major = Band::from(major);
            limits.root = limits.major;
            limits.pitch = Band {
                min: Some(basic.pitch),
                max: width.map(|width| basic.pitch + width),
            };
            limits.minor = Band {
                min: Some(basic.minor),
                max: crest.map(|width| basic.minor + width),
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
    if thread.starts > 1 {
        let note = "the pitch diameter tolerance is widened for several starts, which some \
                    makers of screws do not do";
        limits.notes.push(note.to_owned());
    }
    if limits.unverified {
        let note = "part of the tolerances of ISO 2903 is from memory; what a public table of \
                    class 7e shows agrees";
        limits.notes.push(note.to_owned());
    }
    limits
}

/// Collects the terms of a limit with what is to be said about them.
struct Sum<'l> {
    limits: &'l mut Limits,
}

impl Sum<'_> {
    fn mm(&mut self, value: Option<tolerance::Value>, what: &str) -> Option<f64> {
        let Some(value) = value else {
            let note = format!("no {what} is known for {} and this size", self.limits.class);
            self.limits.notes.push(note);
            return None;
        };
        self.limits.unverified |= !value.confirmed;
        Some(value.um / 1000.0)
    }
}

/// Reads `Tr 40x7-7e`, `Tr 40x14(P7)-7e`, `Tr 40x14P7`, `Tr40x7LH-7H`, `TR40X7`, `Тр 40х7`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    reader.eat_one(&NAMES)?;
    let _ = reader.eat('.');
    reader.blanks();
    let major = Diameter(reader.number()?.real(Units::Millimetre)?);
    if !(5.0..=1500.0).contains(&major.mm()) {
        return reader.complain(format!("Tr{major} is outside 5 to 1500 mm"));
    }
    let Some((pitch, starts)) = read_pitch(reader) else {
        let missing = format!("Tr{major} needs its pitch, because every diameter has several");
        return if reader.complaint.is_some() {
            None
        } else {
            reader.complain(missing)
        };
    };
    if pitch.length() <= Length::ZERO || pitch.mm() > major.mm() / 2.0 {
        let pitch = pitch.length();
        return reader.complain(format!("a pitch of {pitch} leaves no core in Tr{major}"));
    }
    let mut thread = Thread::new(Family::Trapezoidal, "", major, pitch);
    thread.starts = starts;
    let named = TAIL.read(reader, &mut thread)?;
    reader.looks = if named || thread.has_usual_pitch() {
        Looks::Named
    } else {
        Looks::Doubtful
    };
    Some(thread)
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    let size = format!("Tr {}x{}", thread.major, tail::lead_and_pitch(thread));
    tail::finish(size, thread)
}

#[cfg(test)]
mod tests;
