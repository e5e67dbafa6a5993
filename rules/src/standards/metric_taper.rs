//! Metric taper threads: GOST 25229 (MK), DIN 158 (`keg`). The form of ISO 68-1 on a cone of 1:16,
//! with the diameters of the parallel thread in the gauge plane. Sizes and lengths are from memory.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::TEACHING_RULE;
use super::form::{End, Flanks, Form, NUT_HEIGHT, Profile, ROUNDED_ROOT, SHARP_V, Spread};
use super::limits::{Basic, Limits};
use super::planes::{Datum, GaugePlanes, Plane};
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side};

/// What the project knows of metric taper threads.
pub(super) static STANDARD: Standard = Standard {
    name: "metric taper",
    standards: "GOST 25229, DIN 158",
    units: Units::Millimetre,
    several_starts: false,
    initials: "M",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes,
    special: |_, _, _| None,
};

const TAPER: f64 = 1.0 / 16.0;

const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(30.0)),
    external: Profile {
        depth: Spread::of_pitch(NUT_HEIGHT, ROUNDED_ROOT, TEACHING_RULE),
        crest: End::flat(0.125),
        root: End::radius(Spread::of_pitch(0.0, SHARP_V / 6.0, SHARP_V / 6.0)),
    },
    internal: Profile {
        depth: Spread::of_pitch(NUT_HEIGHT, NUT_HEIGHT, TEACHING_RULE),
        crest: End::flat(0.25),
        root: End::radius(Spread::of_pitch(0.0, SHARP_V / 8.0, SHARP_V / 8.0)),
    },
    taper: TAPER,
    source: "GOST 25229 and DIN 158 (form, from memory)",
};

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.75 * SHARP_V * p,
        minor: d - 2.0 * NUT_HEIGHT * p,
        root: d - 2.0 * ROUNDED_ROOT * p,
    }
}

/// For a pitch in µm: length of the external thread, distance of the gauge plane from the end of the
/// external and from the face of the internal thread, in mm.
const LENGTHS: [(i64, f64, f64, f64); 3] = [
    (1_000, 8.0, 2.5, 3.0),
    (1_500, 11.0, 3.5, 4.0),
    (2_000, 16.0, 5.0, 6.0),
];

fn gauge(thread: &Thread, side: Side) -> Option<GaugePlanes> {
    let pitch_um = thread.pitch.length().pm() / 1_000_000;
    let (_, length, out, inside) = LENGTHS.into_iter().find(|row| row.0 == pitch_um)?;
    let plane = |z_mm| Plane {
        name: "gauge plane",
        z_mm,
        at: basic(thread),
    };
    let mut planes = match side {
        Side::External => {
            let mut planes = GaugePlanes::new(side, TAPER, Datum::SmallEnd, plane(out));
            planes.add("small end", 0.0);
            planes.add("end of the useful thread, l", length);
            planes
        }
        Side::Internal => {
            let mut planes = GaugePlanes::new(side, TAPER, Datum::LargeEnd, plane(-inside));
            planes.add("face", 0.0);
            planes
        }
    };
    planes.useful_mm = (side == Side::External).then_some(length);
    planes.sources = vec!["GOST 25229 (lengths, from memory)"];
    planes.notes = vec!["the lengths are from memory".to_owned()];
    planes.unverified = true;
    Some(planes)
}

fn limits(_: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    limits.unverified = true;
    limits.sources = vec![FORM.source];
    let note = "a taper thread is judged by where its gauge stands; the allowed travel is not \
                known here";
    limits.notes.push(note.to_owned());
    limits
}

/// Diameters in mm with their pitch in µm.
const SIZES: [(&[i64], i64); 3] = [
    (&[6, 8, 10], 1_000),
    (&[12, 14, 16, 18, 20, 22, 24, 26, 27, 30], 1_500),
    (&[27, 30, 33, 36, 39, 42, 45, 48, 52, 56, 60], 2_000),
];

fn sizes() -> &'static [Size] {
    static ALL: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |d: i64, pitch: i64| Size {
            name: None,
            major: Diameter(Length::from_pm(d * 1_000_000_000)),
            pitch: Lead::per_turn(Length::from_pm(pitch * 1_000_000)),
            series: "",
            rank: 4,
        };
        let pairs = SIZES.into_iter();
        pairs
            .flat_map(|(all, pitch)| all.iter().map(move |d| size(*d, pitch)))
            .collect()
    });
    &ALL
}

/// Reads `MK 20x1.5`, `МК20×1,5LH`, `M/MK 20x1.5`, `M24x1.5 keg`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let mark = reader.place();
    if reader.eat('M') && !reader.eat('/') {
        reader.back_to(mark);
    }
    let ahead = reader.eat_word("MK");
    if !ahead && !reader.eat('M') {
        return None;
    }
    reader.blanks();
    let major = Diameter(reader.number()?.real(Units::Millimetre)?);
    if !reader.eat_spaced('X') {
        return None;
    }
    let pitch = Lead::per_turn(reader.number()?.real(Units::Millimetre)?);
    if !ahead {
        reader.blanks();
        if !reader.eat_word("KEG") {
            return None;
        }
    }
    if pitch.mm() <= 0.0 || pitch.mm() > major.mm() / 2.0 {
        return reader.complain("this pitch leaves no core");
    }
    let mut thread = Thread::new(Family::MetricTaper, "", major, pitch);
    let tail = Tail {
        words: &["KEG"],
        numbers: &[158, 25229],
        ..Tail::PLAIN
    };
    tail.read(reader, &mut thread)?;
    reader.looks = if thread.has_usual_pitch() {
        Looks::Named
    } else {
        Looks::Doubtful
    };
    Some(thread)
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    let size = format!("MK {}x{}", thread.major, thread.pitch.length());
    tail::finish(size, thread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("MK 20x1.5", "MK 20x1.5"),
            ("МК20×1,5LH", "MK 20x1.5-LH"),
            ("M/MK 20x1.5 LH ГОСТ 25229-82", "MK 20x1.5-LH"),
            ("M24x1.5 keg", "MK 24x1.5"),
            ("M24x1,5 keg DIN 158", "MK 24x1.5"),
            ("M24x1.5", "M24x1.5"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
        }
        // A Morse taper is no thread.
        assert!(parse("MK 3", None).is_err() && parse("MK3", None).is_err());
    }

    #[test]
    fn the_diameters_hold_in_the_gauge_plane() {
        let thread = parse("MK 20x1.5", None).unwrap();
        let planes = thread.gauge_planes(Side::External).unwrap();
        assert!((planes.at(3.5).major - 20.0).abs() < 1e-9);
        assert!((planes.at(0.0).major - (20.0 - 3.5 / 16.0)).abs() < 1e-9);
        assert!(planes.unverified && planes.others.len() == 2);
        let nut = thread.gauge_planes(Side::Internal).unwrap();
        assert!((nut.at(0.0).pitch - nut.gauge.at.pitch - 0.25).abs() < 1e-9);
        assert!(thread.limits(Side::External).unverified);
    }
}
