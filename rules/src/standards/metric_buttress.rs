//! Metric buttress (saw) threads S: DIN 513, GOST 10177, with the tolerances of GOST 25096.
//!
//! The constants are from memory; the angles give the sharp height, and the flats, the depth and the
//! radius hold together with it (tested).

use lexer::units::{Diameter, Length, Units};

use super::form::{End, Flank, Flanks, Form, Measure, Profile, Spread};
use super::limits::{Band, Basic, Limits, round_to};
use super::metric::reading::read_pitch;
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::trapezoidal::{sizes, tolerance};
use super::{Family, Side, Standard, either_side, parallel};

/// What the project knows of metric buttress threads.
pub(super) static STANDARD: Standard = Standard {
    name: "metric buttress",
    standards: "DIN 513",
    units: Units::Millimetre,
    several_starts: true,
    initials: "SУ",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes: sizes::buttress,
    special: |_, _, _| None,
};

/// What the nut covers, H1.
const COVERED: f64 = 0.75;
/// Depth of the external thread, h3.
const DEPTH: f64 = 0.867_767;
/// Width of the crest flat, w.
const CREST: f64 = 0.263_841;
/// Radius of the external root, R.
const ROOT: f64 = 0.124_271;

/// The load flank stands 3° off the normal to the axis, the other 30°. A bolt that is pulled bears
/// on its following flank. The accepted depth reaches P/20 beyond the drawing on either side (our
/// own choice).
const FORM: Form = Form {
    flanks: Some(Flanks {
        leading_deg: 30.0,
        trailing_deg: 3.0,
        pressure: Some(Flank::Following),
    }),
    external: Profile {
        depth: Spread::of_pitch(COVERED, DEPTH, DEPTH + 0.05),
        crest: End::flat(CREST),
        root: End::radius(Spread::of_pitch(0.0, ROOT, ROOT)),
    },
    internal: Profile {
        depth: Spread::of_pitch(COVERED, COVERED, COVERED + 0.05),
        crest: End::flat(CREST),
        root: End {
            flat: Some(Measure::of_pitch(CREST)),
            radius: None,
        },
    },
    taper: 0.0,
    source: "DIN 513 (form; from memory, the constants agree with the angles)",
};

/// Words in front of the size: `УП` is the older GOST name.
const NAMES: [&str; 2] = ["S", "УП"];

const TAIL: Tail = Tail {
    class: |class, side| position(class, side).is_some(),
    words: &["BUTTRESS", "BUTT", "SAW", "SAEGE", "SÄGE"],
    sides: &[],
    numbers: &[513, 10177, 25096],
};

/// Grade and position of a class: 7e, 8c and 7H of DIN 513-3, 7h and 7AZ of GOST 25096.
fn position(class: &str, side: Side) -> Option<(u8, &str)> {
    let grade = class.chars().next()?.to_digit(10)?;
    let letters = class.get(1..)?;
    let known = match side {
        Side::External => matches!(letters, "c" | "e" | "h"),
        Side::Internal => matches!(letters, "H" | "AZ"),
    };
    (known && (7..=9).contains(&grade)).then_some((u8::try_from(grade).ok()?, letters))
}

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - COVERED * p,
        minor: d - 2.0 * COVERED * p,
        root: d - 2.0 * DEPTH * p,
    }
}

/// DIN 513-3 (from memory); GOST 25096 has 7h and 7AZ instead.
fn default_class(_: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "7e",
        Side::Internal => "7H",
    }
}

/// The pitch diameter takes the tolerances of ISO 2903, as DIN 513-3 does; both from memory. Those
/// of the crests are not known.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    let Some((grade, letters)) = position(class, side) else {
        limits
            .notes
            .push(format!("{class} is no {} class of DIN 513", side.name()));
        return limits;
    };
    limits.unverified = true;
    limits.sources = vec![
        FORM.source,
        "DIN 513-3 (tolerances, from memory: those of ISO 2903)",
    ];
    let basic = basic(thread);
    let position = letters.chars().next().filter(|_| letters.len() == 1);
    let shift = position.and_then(|letter| tolerance::deviation(letter, thread.pitch));
    let width = tolerance::pitch_diameter(thread, side, grade);
    let sum = shift
        .zip(width)
        .map(|(shift, width)| (shift.um / 1000.0, width.um / 1000.0));
    match side {
        Side::External => {
            limits.major.max = Some(basic.major);
            limits.minor.max = Some(basic.minor);
            limits.root.max = Some(basic.root);
            if let Some((shift, width)) = sum {
                let most = basic.pitch + shift;
                limits.pitch = Band::between(most - width, most);
            }
        }
        Side::Internal => {
            limits.major.min = Some(basic.major);
            limits.minor.min = Some(basic.minor);
            limits.root.min = limits.major.min;
            if let Some((shift, width)) = sum {
                let least = basic.pitch + shift;
                limits.pitch = Band::between(least, least + width);
            }
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
    let unknown = "the tolerances of crests and roots of DIN 513-3 are not known here";
    limits.notes.push(unknown.to_owned());
    if sum.is_none() {
        limits.notes.push(format!(
            "the deviation of {class} is not known for this pitch"
        ));
    }
    limits
}

/// Reads `S 40x7`, `S40x14P7-8e`, `S 80x10-7AZ`, `S40X7 BUTTRESS`, `УП 80х10`. A text without its
/// pitch is a spindle speed.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let name = reader.eat_one(&NAMES)?;
    reader.blanks();
    let major = Diameter(reader.number()?.real(Units::Millimetre)?);
    if !(5.0..=1500.0).contains(&major.mm()) {
        return None;
    }
    let mark = reader.place();
    let cross = reader.eat_spaced('X');
    reader.back_to(mark);
    let (pitch, starts) = if cross {
        read_pitch(reader)?
    } else {
        return None;
    };
    if pitch.length() <= Length::ZERO || pitch.mm() > major.mm() / 2.5 {
        let pitch = pitch.length();
        return reader.complain(format!("a pitch of {pitch} leaves no core in S{major}"));
    }
    let mut thread = Thread::new(Family::MetricButtress, "", major, pitch);
    thread.starts = starts;
    let named = TAIL.read(reader, &mut thread)? || name != "S";
    let usual = thread.has_usual_pitch();
    reader.looks = match (named, usual) {
        (true, true) => Looks::Named,
        (_, true) if thread.written.class => Looks::Fitting,
        (_, true) => Looks::Likely,
        _ => Looks::Doubtful,
    };
    Some(thread)
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    let size = format!("S {}x{}", thread.major, tail::lead_and_pitch(thread));
    tail::finish(size, thread)
}

#[cfg(test)]
mod tests;
