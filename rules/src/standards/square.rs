//! Square threads: no standard, a trade form of half the pitch in depth and in width.

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flanks, Form, Measure, Profile, Spread};
use super::inch;
use super::limits::{Basic, Limits};
use super::metric;
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Standard, either_side, parallel};

/// What the project knows of square threads.
pub(super) static STANDARD: Standard = Standard {
    name: "square",
    standards: "none: a trade form",
    units: Units::Millimetre,
    several_starts: true,
    initials: "S",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes: || &[],
    special: |_, _, _| None,
};

/// Clearance between crest and root in mm at most (common practice: 0.1 to 0.25 mm).
const CLEARANCE_MM: f64 = 0.25;

const PROFILE: Profile = Profile {
    depth: Spread {
        min: Measure::of_pitch(0.5),
        design: Measure::of_pitch(0.5),
        max: Measure {
            per_pitch: 0.5,
            plus_mm: CLEARANCE_MM,
        },
    },
    crest: End::flat(0.5),
    root: End::flat(0.5),
};

const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(0.0)),
    external: PROFILE,
    internal: PROFILE,
    taper: 0.0,
    source: "common practice, no standard",
};

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.5 * p,
        minor: d - p,
        root: d - p,
    }
}

fn limits(_: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    limits
        .notes
        .push("no standard gives limits for square threads".to_owned());
    limits
}

/// Reads `Sq 40x6`, `SQ 40X12(P6)`, `SQUARE THREAD 1-1/2 X 4 TPI`, `SQ 1.5-4`. A square bar can look
/// the same.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    reader.eat_one(&["SQ", "SQUARE"])?;
    reader.separator();
    let mut named = reader.eat_word("THREAD");
    reader.separator();
    let start = reader.place();
    let found = read_inches(reader).or_else(|| {
        reader.back_to(start);
        read_millimetres(reader)
    });
    let (major, pitch, starts) = found?;
    if pitch.mm() <= 0.0 || pitch.mm() > major.mm() / 2.0 {
        return reader.complain("this pitch leaves no core");
    }
    let mut thread = Thread::new(Family::Square, "", major, pitch);
    thread.starts = starts;
    let tail = Tail {
        words: &["SQUARE", "THREAD"],
        ..Tail::PLAIN
    };
    named |= tail.read(reader, &mut thread)?;
    reader.looks = if named { Looks::Named } else { Looks::Doubtful };
    Some(thread)
}

fn read_millimetres(reader: &mut Reader<'_>) -> Option<(Diameter, Lead, u32)> {
    let major = Diameter(reader.number()?.real(Units::Millimetre)?);
    let mark = reader.place();
    let cross = reader.eat_spaced('X');
    reader.back_to(mark);
    let (pitch, starts) = metric::reading::read_pitch(reader).filter(|_| cross)?;
    (major.0 > Length::ZERO).then_some((major, pitch, starts))
}

/// Inches are told by a dash before the threads per inch, by `TPI` or by a pitch `P` with its lead.
fn read_inches(reader: &mut Reader<'_>) -> Option<(Diameter, Lead, u32)> {
    let major = inch::read_nominal(reader)?.diameter(None);
    let mark = reader.place();
    let dash = reader.eat_spaced('-');
    reader.back_to(mark);
    let (pitch, starts) = inch::read_pitch(reader)?;
    let ending: String = (mark..reader.place()).map(|at| reader.glyph(at)).collect();
    (dash || ending.to_uppercase().ends_with("TPI")).then_some((major, pitch, starts))
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    let whole = inch::threads_per_inch(thread.pitch).filter(|count| count % 5_000 == 0);
    let size = match whole {
        Some(_) => inch::inches(thread.major) + &inch::write_pitch(thread),
        None => format!("{}x{}", thread.major, tail::lead_and_pitch(thread)),
    };
    tail::finish(format!("Sq {size}"), thread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("Sq 40x6", "Sq 40x6"),
            ("SQ 40X12(P6)", "Sq 40x12(P6)"),
            ("Sq 40x6 LH", "Sq 40x6-LH"),
            ("square 1-1/2 x 4 TPI", "Sq 1 1/2-4"),
            ("SQUARE THREAD 1.500-4", "Sq 1 1/2-4"),
            ("SQ 1-5-LH", "Sq 1-5-LH"),
            ("SQ 2-.25P-.5L", "Sq 2-.25P-.5L"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
            let again = parse(canonical, None).unwrap();
            assert_eq!((again.major, again.pitch), (thread.major, thread.pitch));
        }
        assert!(parse("SQ 40", None).is_err() && parse("SQ 40X40", None).is_err());
    }

    #[test]
    fn a_form_without_a_sharp_v() {
        let thread = parse("Sq 40x6", None).unwrap();
        assert_eq!(thread.form().sharp_height_mm(6.0), None);
        assert_eq!(thread.depth_band(Side::External).max, Some(3.25));
        assert!(thread.limits(Side::External).notes[0].contains("no standard"));
    }
}
