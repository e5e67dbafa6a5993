//! Edison threads E of lamp caps and holders: IEC 60061, DIN 40400, GOST 6042. Arcs of one radius at
//! crest and root that run into each other; the sizes are from memory and, but for E40, agree with
//! that form.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Form, Measure, Profile, Spread};
use super::limits::{Basic, Limits};
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side, parallel};

/// What the project knows of Edison threads.
pub(super) static STANDARD: Standard = Standard {
    name: "Edison",
    standards: "IEC 60061, DIN 40400",
    units: Units::Millimetre,
    several_starts: false,
    initials: "E",
    read,
    write,
    form,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes,
    special: |_, _, _| None,
};

/// A size: cap and holder in µm, the pitch in threads per inch.
struct Row {
    name: &'static str,
    /// Largest major and minor diameter of the cap.
    cap: [i64; 2],
    /// Smallest major and minor diameter of the holder.
    holder: [i64; 2],
    per_inch: i64,
    /// Radius of the arcs.
    radius: f64,
}

#[rustfmt::skip]
const ROWS: [Row; 4] = [
    Row { name: "E10", cap: [9_530, 8_510], holder: [9_610, 8_590], per_inch: 14, radius: 0.531 },
    Row { name: "E14", cap: [13_890, 12_290], holder: [13_970, 12_370], per_inch: 9, radius: 0.822 },
    Row { name: "E27", cap: [26_450, 24_260], holder: [26_550, 24_360], per_inch: 7, radius: 1.025 },
    Row { name: "E40", cap: [39_500, 35_950], holder: [39_600, 36_050], per_inch: 4, radius: 1.85 },
];

const SOURCE: &str = "DIN 40400 (sizes and radii, from memory)";

fn row(thread: &Thread) -> &'static Row {
    let named = |row: &&Row| Some(row.name) == thread.name;
    ROWS.iter().find(named).unwrap_or(&ROWS[0])
}

fn mm(um: i64) -> f64 {
    um as f64 / 1000.0
}

/// The accepted depth reaches a tenth to either side (our own choice).
fn form(thread: &Thread) -> Form {
    let row = row(thread);
    let depth = mm(row.cap[0] - row.cap[1]) / 2.0;
    let fixed = |plus_mm| Measure {
        per_pitch: 0.0,
        plus_mm,
    };
    let arc = End::radius(Spread {
        min: fixed(row.radius),
        design: fixed(row.radius),
        max: fixed(row.radius),
    });
    let profile = Profile {
        depth: Spread {
            min: fixed(0.9 * depth),
            design: fixed(depth),
            max: fixed(1.1 * depth),
        },
        crest: arc,
        root: arc,
    };
    Form {
        flanks: None,
        external: profile,
        internal: profile,
        taper: 0.0,
        source: SOURCE,
    }
}

/// Of the cap at its largest.
fn basic(thread: &Thread) -> Basic {
    let [major, minor] = row(thread).cap.map(mm);
    Basic {
        major,
        pitch: (major + minor) / 2.0,
        minor,
        root: minor,
    }
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    limits.unverified = true;
    limits.sources = vec![SOURCE];
    let row = row(thread);
    match side {
        Side::External => {
            [limits.major.max, limits.minor.max] = row.cap.map(|um| Some(mm(um)));
        }
        Side::Internal => {
            [limits.major.min, limits.minor.min] = row.holder.map(|um| Some(mm(um)));
        }
    }
    limits
        .notes
        .push("the far limits of caps and holders are not known here".to_owned());
    limits
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |row: &Row| {
            Some(Size {
                name: Some(row.name),
                major: Diameter(Length::from_pm(row.cap[0] * 1_000_000)),
                pitch: Lead::per_inch(row.per_inch * 10_000)?,
                series: "",
                rank: 6,
            })
        };
        ROWS.iter().filter_map(size).collect()
    });
    &SIZES
}

/// Reads `E27`, `EDISON E27`, `E14 LH`. E is a feed address on many controls, so that the letter with
/// a number alone is never enough in free text.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let mut named = reader.eat_word("EDISON");
    reader.separator();
    if !reader.eat('E') {
        return None;
    }
    let number = reader.integer()?;
    let size = sizes().iter().find(|size| {
        let digits = size.name.and_then(|name| name.strip_prefix('E'));
        digits.and_then(|digits| digits.parse().ok()) == Some(number)
    })?;
    if reader.in_word() || reader.peek() == '.' && !reader.at_end() {
        return None;
    }
    let mut thread = Thread::of_size(Family::Edison, size);
    thread.written.pitch = false;
    let tail = Tail {
        words: &["EDISON"],
        numbers: &[40400, 60061, 6042],
        ..Tail::PLAIN
    };
    named |= tail.read(reader, &mut thread)?;
    reader.looks = if named { Looks::Named } else { Looks::Doubtful };
    Some(thread)
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    tail::finish(row(thread).name.to_owned(), thread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("E27", "E27"),
            ("e14", "E14"),
            ("EDISON E40", "E40"),
            ("E10-LH", "E10-LH"),
            ("E27 ГОСТ 6042-83", "E27"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
        }
        for word in ["E14.5", "E15", "E 27.0", "E27X2"] {
            assert!(parse(word, None).is_err(), "{word}");
        }
    }

    /// Two arcs that run into each other at half the depth have r = (P²/4 + h²) / 4h.
    #[test]
    fn the_radii_agree_with_pitch_and_depth() {
        for row in &ROWS {
            let (p, h) = (
                25.4 / row.per_inch as f64,
                mm(row.cap[0] - row.cap[1]) / 2.0,
            );
            let radius = (p * p / 4.0 + h * h) / (4.0 * h);
            // E40 is drawn with a rounded value.
            let within = if row.name == "E40" { 0.015 } else { 0.001 };
            assert!(
                (radius - row.radius).abs() < within,
                "{} {radius}",
                row.name
            );
        }
    }

    #[test]
    fn the_holder_clears_the_cap() {
        for size in sizes() {
            let thread = Thread::of_size(Family::Edison, size);
            let (cap, holder) = (thread.limits(Side::External), thread.limits(Side::Internal));
            assert!(holder.major.min > cap.major.max && holder.minor.min > cap.minor.max);
            assert!(cap.unverified && thread.form().flanks.is_none());
        }
    }
}
