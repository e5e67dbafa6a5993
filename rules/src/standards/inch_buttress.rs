//! Inch buttress threads BUTT: ASME B1.9, 7° and 45°, 0.6 of the pitch covered.
//!
//! The factors are from memory; those that follow from the angles are derived.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Units};

use super::form::{End, Flank, Flanks, Form, Measure, Profile, Spread};
use super::inch;
use super::limits::{Band, Basic, Limits, round_to};
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side, parallel};

/// What the project knows of inch buttress threads.
pub(super) static STANDARD: Standard = Standard {
    name: "inch buttress",
    standards: "ASME B1.9",
    units: Units::Inch,
    several_starts: true,
    initials: ".0123456789",
    read,
    write,
    form,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes,
    special: |_, _, _| None,
};

/// What the nut covers.
const COVERED: f64 = 0.6;
/// Depth of the external thread with its rounded root.
const DEPTH: f64 = 0.662_712;
/// Width of the crest flat.
const CREST: f64 = 0.163_16;
/// Radius of the rounded root.
const ROOT: f64 = 0.071_41;

/// The load flank stands 7° off the normal to the axis. A screw that is pulled bears on the flank
/// that follows, one that pushes on the flank that leads (derived for a load on the body behind
/// the thread); where neither is stated, pulling is taken. The accepted depth reaches P/20 beyond
/// the drawing (our own choice).
fn form(thread: &Thread) -> Form {
    let flanks = if thread.series == "PUSH" {
        Flanks {
            leading_deg: 7.0,
            trailing_deg: 45.0,
            pressure: Some(Flank::Leading),
        }
    } else {
        Flanks {
            leading_deg: 45.0,
            trailing_deg: 7.0,
            pressure: Some(Flank::Following),
        }
    };
    Form {
        flanks: Some(flanks),
        external: Profile {
            depth: Spread::of_pitch(COVERED, DEPTH, DEPTH + 0.05),
            crest: End::flat(CREST),
            root: End::radius(Spread::of_pitch(0.0, ROOT, ROOT)),
        },
        internal: Profile {
            depth: Spread::of_pitch(COVERED, COVERED, DEPTH),
            crest: End::flat(CREST),
            root: End {
                flat: Some(Measure::of_pitch(CREST)),
                radius: Some(Spread::of_pitch(0.0, ROOT, ROOT)),
            },
        },
        taper: 0.0,
        source: "ASME B1.9 (form; from memory, height and flat agree with the angles)",
    }
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

fn grade(class: &str, side: Side) -> Option<u8> {
    match (class, side) {
        ("2A", Side::External) | ("2B", Side::Internal) => Some(2),
        ("3A", Side::External) | ("3B", Side::Internal) => Some(3),
        _ => None,
    }
}

fn default_class(_: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "2A",
        Side::Internal => "2B",
    }
}

/// In inches: the tolerance of class 2 is 0.002 D^1/3 + 0.00278 LE^1/2 + 0.00854 P^1/2 with an
/// engagement of ten pitches, that of class 3 two thirds of it; both hold for the major diameter
/// outside, the minor inside, and the pitch diameter. The allowance of the external thread is the
/// tolerance of class 3. All from memory.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    let Some(grade) = grade(class, side) else {
        limits
            .notes
            .push(format!("{class} is no {} class of ASME B1.9", side.name()));
        return limits;
    };
    limits.unverified = true;
    limits.sources = vec!["ASME B1.9 (formulas of tolerances and allowance, from memory)"];
    let (d, p) = (thread.major.mm() / 25.4, thread.pitch.mm() / 25.4);
    let second = 0.002 * d.cbrt() + 0.002_78 * (10.0 * p).sqrt() + 0.008_54 * p.sqrt();
    let third = round_to(second * 2.0 / 3.0, 1e-4);
    let width = if grade == 2 {
        round_to(second, 1e-4)
    } else {
        third
    };
    let (pitch, minor) = (d - COVERED * p, d - 2.0 * COVERED * p);
    match side {
        Side::External => {
            limits.major = Band::between(d - third - width, d - third);
            limits.pitch = Band::between(pitch - third - width, pitch - third);
            limits.minor.max = Some(minor - third);
            limits.root.max = Some(d - third - 2.0 * DEPTH * p);
        }
        Side::Internal => {
            limits.major.min = Some(d);
            limits.root.min = Some(d);
            limits.pitch = Band::between(pitch, pitch + width);
            limits.minor = Band::between(minor, minor + width);
        }
    }
    for diameter in [
        &mut limits.major,
        &mut limits.pitch,
        &mut limits.minor,
        &mut limits.root,
    ] {
        *diameter = diameter.map(|v| round_to(v, 1e-4) * 25.4);
    }
    limits
        .notes
        .push("the smallest root of the screw is not known here".to_owned());
    limits
}

/// Sixteenths of an inch with the threads per inch of each: the preferred pairs of ASME B1.9 table 1
/// as a public page lists them.
const PREFERRED: [(i64, &[i64]); 22] = [
    (8, &[12, 16, 20]),
    (10, &[12, 16, 20]),
    (12, &[12, 16, 20]),
    (14, &[10, 12, 16]),
    (16, &[10, 12, 16]),
    (20, &[8, 10, 12]),
    (22, &[8, 10, 12]),
    (24, &[8, 10, 12]),
    (28, &[6, 8, 10]),
    (32, &[4, 6, 8, 10]),
    (36, &[6, 8, 10]),
    (40, &[6, 8, 10]),
    (44, &[5, 6, 8]),
    (48, &[5, 6, 8]),
    (56, &[5, 6, 8]),
    (64, &[5, 6, 8]),
    (72, &[4, 5, 6]),
    (80, &[4, 5, 6]),
    (88, &[4, 5, 6]),
    (96, &[4, 5, 6]),
    (18, &[10, 12, 16]),
    (26, &[8, 10, 12]),
];

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let mut all = Vec::new();
        for (sixteenths, counts) in PREFERRED {
            for count in counts {
                all.extend(Lead::per_inch(count * 10_000).map(|pitch| Size {
                    name: None,
                    major: Diameter(inch::ten_thousandths_inch(625 * sixteenths)),
                    pitch,
                    series: "",
                    rank: 5,
                }));
            }
        }
        all
    });
    &SIZES
}

const TAIL: Tail = Tail {
    class: |class, side| grade(class, side).is_some(),
    words: &[],
    sides: &[],
    numbers: &[],
};

/// Reads `2.5-8 BUTT-2A`, `2.500-8 PULL-BUTT-2A`, `10-.25P-.5L PUSH-BUTT-3B-LH`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let nominal = inch::read_nominal(reader)?;
    let (pitch, starts) = inch::read_pitch(reader)?;
    reader.separator();
    let direction = reader.eat_one(&["PULL", "PUSH"]);
    reader.separator();
    reader.eat_one(&["BUTT", "BUTTRESS"])?;
    if weld_follows(reader) {
        return None;
    }
    let major = nominal.diameter(None);
    if pitch.mm() <= 0.0 || pitch.mm() > major.mm() / 2.5 {
        return reader.complain("the pitch leaves no core in this diameter");
    }
    let mut thread = Thread::new(Family::InchButtress, direction.unwrap_or(""), major, pitch);
    thread.starts = starts;
    thread.written.series = direction.is_some();
    TAIL.read(reader, &mut thread)?;
    reader.looks = if thread.has_usual_pitch() {
        Looks::Named
    } else {
        Looks::Doubtful
    };
    Some(thread)
}

/// `2.5-8 BUTT WELD` is no thread.
fn weld_follows(reader: &mut Reader<'_>) -> bool {
    let mark = reader.place();
    reader.separator();
    let word = reader.word_ahead();
    reader.back_to(mark);
    word.starts_with("WELD") || word == "JOINT"
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    let direction = match thread.series {
        "" => String::new(),
        direction => format!("{direction}-"),
    };
    let size = inch::inches(thread.major) + &inch::write_pitch(thread);
    tail::finish(format!("{size} {direction}BUTT"), thread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("2.5-8 BUTT-2A", "2 1/2-8 BUTT-2A"),
            ("2.500-8 PULL-BUTT-2A", "2 1/2-8 PULL-BUTT-2A"),
            ("2-1/2-8 PUSH BUTT 3B LH", "2 1/2-8 PUSH-BUTT-3B-LH"),
            ("1-10 BUTTRESS", "1-10 BUTT"),
            ("10.0-.25P-.5L BUTT-2A", "10-.25P-.5L BUTT-2A"),
            ("1-12 BUTT-2B/2A", "1-12 BUTT-2B/2A"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
        }
    }

    #[test]
    fn pull_and_push_swap_the_flanks() {
        let flanks = |text: &str| parse(text, None).unwrap().form().flanks.unwrap();
        let (pull, push) = (flanks("1-10 PULL-BUTT"), flanks("1-10 PUSH-BUTT"));
        assert_eq!((pull.trailing_deg, push.leading_deg), (7.0, 7.0));
        assert_eq!(
            (pull.pressure, push.pressure),
            (Some(Flank::Following), Some(Flank::Leading))
        );
        assert_eq!(flanks("1-10 BUTT"), pull);
    }

    /// The circle of the root radius that touches both flanks ends at the depth, and the crest flat is
    /// what the sharp V leaves (ASME B1.9 figure 1, derived).
    #[test]
    fn the_constants_of_the_form_agree() {
        let flanks = form(&parse("1-10 BUTT", None).unwrap()).flanks.unwrap();
        let sharp = flanks.sharp_height();
        let truncated = (sharp - COVERED) / 2.0;
        assert!((truncated / sharp - CREST).abs() < 1e-5);
        let (half, lean) = (26f64.to_radians(), 19f64.to_radians());
        let bottom = ROOT * (lean.cos() / half.sin() - 1.0);
        assert!((sharp - truncated - bottom - DEPTH).abs() < 1e-4);
    }

    #[test]
    fn limits_are_ordered_and_say_that_they_are_from_memory() {
        for size in sizes() {
            let thread = Thread::of_size(Family::InchButtress, size);
            let of = |class: &str, side| limits(&thread, side, class);
            let (two, three) = (of("2A", Side::External), of("3A", Side::External));
            let nut = of("2B", Side::Internal);
            assert!(two.unverified && nut.unverified);
            assert!(nut.pitch.min > two.pitch.max && nut.minor.min > two.root.max);
            assert!(two.pitch.max == three.pitch.max && two.pitch.min < three.pitch.min);
            assert!(two.major.min < two.major.max && nut.minor.min < nut.minor.max);
        }
        // 2.5-8: 0.00271 + 0.00311 + 0.00302 = 0.0088 in.
        let thread = parse("2.5-8 BUTT-2A", None).unwrap();
        let pitch = thread.limits(Side::External).pitch;
        let width = (pitch.max.unwrap() - pitch.min.unwrap()) / 25.4;
        assert!((width - 0.0088).abs() < 1e-9, "{width}");
    }
}
