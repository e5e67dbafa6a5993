//! British Association threads BA: BS 93. Numbered sizes by a law: the pitch is 0.9 to the power of
//! the number, in mm to two decimals; the diameter is 6 times its power of 1.2, to two figures.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flanks, Form, Profile, Spread};
use super::limits::{Band, Basic, Limits, round_to};
use super::reader::{Looks, Reader};
use super::tail::Tail;
use super::thread::Thread;
use super::{Family, Hand, Side, Size, Standard, either_side, parallel};

/// What the project knows of British Association threads.
pub(super) static STANDARD: Standard = Standard {
    name: "British Association",
    standards: "BS 93",
    units: Units::Millimetre,
    several_starts: false,
    initials: "B0123456789",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class: |_, _| NORMAL,
    sizes,
    special: |_, _, _| None,
};

/// Depth, 0.6 of the pitch inside and outside.
const DEPTH: f64 = 0.6;
/// Radius at crests and roots: what 47.5° leaves for that depth.
const RADIUS: f64 = 0.180_834;
/// How far the accepted depth reaches to either side (our own choice).
const SLACK: f64 = 0.03;

const PROFILE: Profile = Profile {
    depth: Spread::of_pitch(DEPTH - SLACK, DEPTH, DEPTH + SLACK),
    crest: End::radius(Spread::of_pitch(RADIUS, RADIUS, RADIUS)),
    root: End::radius(Spread::of_pitch(0.0, RADIUS, RADIUS)),
};

const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(23.75)),
    external: PROFILE,
    internal: PROFILE,
    taper: 0.0,
    source: "BS 93 (form, from memory; the radius agrees with angle and depth)",
};

/// The classes of external threads; internal threads have one, called normal here.
const NORMAL: &str = "normal";
const CLOSE: &str = "close";

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    let minor = d - 2.0 * DEPTH * p;
    Basic {
        major: d,
        pitch: d - DEPTH * p,
        minor,
        root: minor,
    }
}

/// The formulas of BS 93:2008 annex B in mm; those of the minor and internal diameters and of the
/// major diameter as a public extract has them, the external pitch diameter half of the minor. The
/// allowance of the normal class, 0.025 mm up to 10 BA, is from memory.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    limits.sources = vec![
        FORM.source,
        "BS 93:2008 annex B (formulas of the tolerances)",
    ];
    let (basic, p) = (basic(thread), thread.pitch.mm());
    let small = NAMES[11..].contains(&thread.name.unwrap_or_default());
    match side {
        Side::External => {
            let normal = class != CLOSE;
            let (allowance, major, pitch) = match (normal, small) {
                (true, true) => (0.0, 0.25 * p, 0.10 * p + 0.025),
                (true, false) => (0.025, 0.20 * p, 0.10 * p + 0.025),
                (false, _) => (0.0, 0.15 * p, 0.08 * p + 0.02),
            };
            let below =
                |most: f64, width: f64| Band::between(most - allowance - width, most - allowance);
            limits.major = below(basic.major, major);
            limits.pitch = below(basic.pitch, pitch);
            limits.minor = below(basic.minor, 2.0 * pitch);
            limits.root = limits.minor;
            limits.unverified = true;
            let memory = "the allowance and the pitch diameter tolerance are from memory";
            limits.notes.push(memory.to_owned());
            if !normal && small {
                limits
                    .notes
                    .push("the close class ends at 10 BA (from memory)".to_owned());
            }
        }
        Side::Internal => {
            limits.major.min = Some(basic.major);
            limits.root.min = Some(basic.major);
            limits.pitch = Band::between(basic.pitch, basic.pitch + 0.12 * p + 0.03);
            limits.minor = Band::between(basic.minor, basic.minor + 0.375 * p);
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
    let depth = "the depth is 0.6 P; BS 93 rounds it to 0.005 mm (from memory)";
    limits.notes.push(depth.to_owned());
    limits
}

const NAMES: [&str; 17] = [
    "0 BA", "1 BA", "2 BA", "3 BA", "4 BA", "5 BA", "6 BA", "7 BA", "8 BA", "9 BA", "10 BA",
    "11 BA", "12 BA", "13 BA", "14 BA", "15 BA", "16 BA",
];

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |(number, name): (i32, &'static str)| {
            let pitch = 0.9f64.powi(number);
            let diameter = 6.0 * pitch.powf(1.2);
            let figure = if diameter < 1.0 { 0.01 } else { 0.1 };
            Size {
                name: Some(name),
                major: Diameter(Length::from_mm(round_to(diameter, figure))),
                pitch: Lead::per_turn(Length::from_mm(round_to(pitch, 0.01))),
                series: "",
                rank: 5 + u8::from(number > 10),
            }
        };
        (0..).zip(NAMES).map(size).collect()
    });
    &SIZES
}

/// Reads `2 BA`, `2BA`, `BA 2`, `2 BA CLOSE`, `4 BA LH`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let ahead = reader.eat_word("BA");
    reader.blanks();
    let number = reader.integer()?;
    if !ahead {
        reader.blanks();
        if !reader.eat_word("BA") {
            return None;
        }
    }
    let Some(size) = sizes().get(usize::try_from(number).ok()?) else {
        return reader.complain("BA threads are numbered from 0 to 16");
    };
    if reader.in_word() || reader.peek() == '.' && !reader.at_end() {
        return None;
    }
    let mut thread = Thread::of_size(Family::BritishAssociation, size);
    thread.written.pitch = false;
    let mark = reader.place();
    reader.separator();
    match reader.eat_one(&["CLOSE", "NORMAL"]) {
        Some("CLOSE") => {
            thread.external = Some(CLOSE.to_owned());
            thread.side = Some(Side::External);
        }
        Some(_) => {
            thread.external = Some(NORMAL.to_owned());
            thread.internal = Some(NORMAL.to_owned());
        }
        None => reader.back_to(mark),
    }
    thread.written.class = thread.external.is_some();
    Tail::PLAIN.read(reader, &mut thread)?;
    reader.looks = if ahead {
        Looks::Doubtful
    } else {
        Looks::Likely
    };
    Some(thread)
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    let mut text = thread.name.unwrap_or("BA").to_owned();
    let classes = [&thread.external, &thread.internal];
    if let Some(class) = classes.into_iter().flatten().next() {
        text += &format!(" {class}");
    }
    if thread.hand == Hand::Left {
        text += "-LH";
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("2 BA", "2 BA"),
            ("2BA", "2 BA"),
            ("0BA", "0 BA"),
            ("BA 4", "4 BA"),
            ("2 BA CLOSE", "2 BA close"),
            ("10BA normal", "10 BA normal"),
            ("4BA-LH", "4 BA-LH"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
        }
        assert!(parse("17 BA", None).is_err() && parse("2.5 BA", None).is_err());
    }

    /// An arc that touches both flanks of 47.5° and leaves a depth of 0.6 P.
    #[test]
    fn the_radius_agrees_with_angle_and_depth() {
        let sharp = FORM.flanks.unwrap().sharp_height();
        let cut_off = (sharp - DEPTH) / 2.0;
        let radius = cut_off / (23.75f64.to_radians().sin().recip() - 1.0);
        assert!((radius - RADIUS).abs() < 1e-6, "{radius}");
    }

    #[test]
    fn limits_are_ordered() {
        for size in sizes() {
            let thread = Thread::of_size(Family::BritishAssociation, size);
            let (normal, close) = (
                limits(&thread, Side::External, NORMAL),
                limits(&thread, Side::External, CLOSE),
            );
            let nut = limits(&thread, Side::Internal, NORMAL);
            assert!(nut.pitch.min >= close.pitch.max && close.pitch.max >= normal.pitch.max);
            assert!(close.pitch.min > normal.pitch.min && nut.minor.min < nut.minor.max);
            assert!(normal.unverified && !nut.unverified);
        }
        // 2 BA: 0.12 · 0.81 + 0.03 = 0.1272 mm.
        let nut = parse("2 BA", None).unwrap().limits(Side::Internal);
        assert_eq!(nut.pitch, Band::between(4.214, 4.341));
        assert_eq!(nut.minor, Band::between(3.728, 4.032));
    }
}
