//! Buttress casing threads: API Spec 5B (BTC), and ОТТМ and ОТТГ of GOST 632 and 33758. Five threads per
//! inch, a load flank of 3° and a stab flank of 10°.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flank, Flanks, Form, Measure, Profile, Spread};
use super::inch;
use super::limits::{Basic, Limits};
use super::planes::{Datum, GaugePlanes, Plane};
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side};

/// What the project knows of buttress casing threads.
pub(super) static STANDARD: Standard = Standard {
    name: "API buttress casing",
    standards: "API Spec 5B, GOST 33758",
    units: Units::Inch,
    several_starts: false,
    initials: "OО0123456789",
    read,
    write,
    form,
    basic,
    gauge,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes,
    special: |_, _, _| None,
};

/// Pipes from this diameter in mm on have a taper of 1:12 and threads parallel to the axis.
const LARGE: f64 = 15.0 * 25.4;

/// The load flank of a pipe that hangs is the one that follows.
const FLANKS: Flanks = Flanks {
    leading_deg: 10.0,
    trailing_deg: 3.0,
    pressure: Some(Flank::Following),
};

fn is_gost(thread: &Thread) -> bool {
    thread.name.is_some_and(|name| name.starts_with("ОТТ"))
}

fn taper(thread: &Thread) -> f64 {
    let large = !is_gost(thread) && thread.major.mm() > LARGE;
    if large { 1.0 / 12.0 } else { 1.0 / 16.0 }
}

/// Height in mm: 0.062 in of API, on a public gauge page; 1.6 mm of GOST, from memory.
fn depth(thread: &Thread) -> f64 {
    if is_gost(thread) { 1.6 } else { 0.062 * 25.4 }
}

/// The accepted height reaches 0.001 in to either side (API Spec 5B, from memory). The root is
/// rounded on both sides with 0.2 mm (GOST 33758 table 1; API 0.008 in from memory).
fn form(thread: &Thread) -> Form {
    let depth = depth(thread);
    let fixed = |plus_mm| Measure {
        per_pitch: 0.0,
        plus_mm,
    };
    // Half the pitch at mid-height, less both flanks (derived).
    // Half the pitch at mid-height, less both flanks (derived).
    let slope = FLANKS.leading_deg.to_radians().tan() + FLANKS.trailing_deg.to_radians().tan();
    let flat = Some(Measure {
        per_pitch: 0.5,
        plus_mm: -0.5 * depth * slope,
    });
    let profile = Profile {
        depth: Spread {
            min: fixed(depth - 0.0254),
            design: fixed(depth),
            max: fixed(depth + 0.0254),
        },
        crest: End { flat, radius: None },
        root: End {
            flat,
            radius: Some(Spread {
                min: fixed(0.15),
                design: fixed(0.2),
                max: fixed(0.25),
            }),
        },
    };
    Form {
        flanks: Some(FLANKS),
        external: profile,
        internal: profile,
        taper: taper(thread),
        source: if is_gost(thread) {
            "GOST 33758 table 1 (angles, taper and radii; the height from memory)"
        } else {
            "API Spec 5B (angles, height and taper on a public gauge page)"
        },
    }
}

/// In the plane L7 in which the full crests end. To 13 3/8 in the crest is there 0.016 in larger than
/// the pipe, above as large (from memory). For ОТТМ and ОТТГ, whose plane is not known, as large.
fn basic(thread: &Thread) -> Basic {
    let grown = !is_gost(thread) && thread.major.mm() < LARGE;
    let (depth, over) = (depth(thread), if grown { 0.016 * 25.4 } else { 0.0 });
    let major = thread.major.mm() + over;
    Basic {
        major,
        pitch: major - depth,
        minor: major - 2.0 * depth,
        root: major - 2.0 * depth,
    }
}

/// A size of API: name, outside diameter in 1e-4 in, length of the perfect threads L7 in inches.
#[rustfmt::skip]
const API: [(&str, i64, f64); 14] = [
    ("4 1/2 BTC", 45_000, 1.6535),
    ("5 BTC", 50_000, 1.7785),
    ("5 1/2 BTC", 55_000, 1.841),
    ("6 5/8 BTC", 66_250, 2.0285),
    ("7 BTC", 70_000, 2.216),
    ("7 5/8 BTC", 76_250, 2.4035),
    ("8 5/8 BTC", 86_250, 2.5285),
    ("9 5/8 BTC", 96_250, 2.5285),
    ("10 3/4 BTC", 107_500, 2.5285),
    ("11 3/4 BTC", 117_500, 2.5285),
    ("13 3/8 BTC", 133_750, 2.5285),
    ("16 BTC", 160_000, 3.1245),
    ("18 5/8 BTC", 186_250, 3.1245),
    ("20 BTC", 200_000, 3.1245),
];

/// A size of GOST: names and outside diameter in µm.
#[rustfmt::skip]
const GOST: [([&str; 2], i64); 13] = [
    (["ОТТМ 114", "ОТТГ 114"], 114_300),
    (["ОТТМ 127", "ОТТГ 127"], 127_000),
    (["ОТТМ 140", "ОТТГ 140"], 139_700),
    (["ОТТМ 146", "ОТТГ 146"], 146_100),
    (["ОТТМ 168", "ОТТГ 168"], 168_300),
    (["ОТТМ 178", "ОТТГ 178"], 177_800),
    (["ОТТМ 194", "ОТТГ 194"], 193_700),
    (["ОТТМ 219", "ОТТГ 219"], 219_100),
    (["ОТТМ 245", "ОТТГ 245"], 244_500),
    (["ОТТМ 273", "ОТТГ 273"], 273_100),
    (["ОТТМ 299", "ОТТГ 299"], 298_500),
    (["ОТТМ 324", "ОТТГ 324"], 323_900),
    (["ОТТМ 340", "ОТТГ 340"], 339_700),
];

fn gauge(thread: &Thread, side: Side) -> Option<GaugePlanes> {
    let (_, _, perfect) = *API.iter().find(|row| Some(row.0) == thread.name)?;
    let taper = taper(thread);
    let gauge = Plane {
        name: "end of the perfect threads, L7",
        z_mm: 25.4 * perfect,
        at: basic(thread),
    };
    let mut planes = GaugePlanes::new(side, taper, Datum::SmallEnd, gauge);
    planes.add("end of the pipe", 0.0);
    // Where the root has risen to the height of the crests at L7.
    let vanish = planes.gauge.z_mm + 2.0 * depth(thread) / taper;
    planes.add("vanish point, L4", vanish);
    planes.useful_mm = Some(planes.gauge.z_mm);
    planes.sources = vec!["API Spec 5B (lengths and diameters, from memory)"];
    planes.unverified = true;
    planes
        .notes
        .push("lengths and diameters are from memory".to_owned());
    if side == Side::Internal {
        let note = "the planes are those of the pipe in the coupling, from the pipe's end";
        planes.notes.push(note.to_owned());
    }
    Some(planes)
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    limits.sources = vec![form(thread).source];
    limits.unverified = true;
    let note = "a taper thread is judged by the stand-off of its gauge, by height, taper and lead; \
                there are no limits of diameters";
    limits.notes.push(note.to_owned());
    if is_gost(thread) {
        let note = "the pitch diameter and the lengths of ОТТМ and ОТТГ are not known here";
        limits.notes.push(note.to_owned());
    }
    limits
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |name, major, rank| {
            Some(Size {
                name: Some(name),
                major: Diameter(major),
                pitch: Lead::per_inch(50_000)?,
                series: "",
                rank,
            })
        };
        let inches = inch::ten_thousandths_inch;
        let api = API
            .iter()
            .filter_map(|(name, outside, _)| size(*name, inches(*outside), 3));
        let gost = GOST.iter().flat_map(|(names, um)| {
            let outside = Length::from_pm(um * 1_000_000);
            names.iter().filter_map(move |name| size(*name, outside, 4))
        });
        api.chain(gost).collect()
    });
    &SIZES
}

const TAIL: Tail = Tail {
    words: &["API", "CASING", "CSG"],
    sides: super::CONNECTION_SIDES,
    numbers: &[632, 33758],
    ..Tail::PLAIN
};

/// Reads `9-5/8 BTC`, `7 BC`, `ОТТМ 168`, `ОТТГ-146`. `BC` is a bolt circle as often as a thread.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let (mut thread, looks) = read_name(reader)?;
    if reader.in_word() {
        return None;
    }
    thread.written.pitch = false;
    let named = TAIL.read(reader, &mut thread)? || thread.side.is_some();
    reader.looks = if named { Looks::Named } else { looks };
    Some(thread)
}

fn read_name(reader: &mut Reader<'_>) -> Option<(Thread, Looks)> {
    // `ОТТМ` and `ОТТГ` after look-alike letters are made even, and their Latin spellings.
    if let Some(word) = reader.eat_one(&["OTTM", "OTTГ", "OTTG"]) {
        let word = if word == "OTTM" {
            "ОТТМ"
        } else {
            "ОТТГ"
        };
        reader.separator();
        let name = format!("{word} {}", reader.integer()?);
        let Some(size) = sizes().iter().find(|s| s.name == Some(&name)) else {
            return reader.complain(format!("{name} is no size that is known here"));
        };
        return Some((Thread::of_size(Family::CasingButtress, size), Looks::Named));
    }
    let outside = inch::read_nominal(reader)?.diameter(None);
    reader.separator();
    let word = reader.eat_one(&["BTC", "BC"])?;
    let mut of_api = sizes().iter().take(API.len());
    let Some(size) = of_api.find(|size| size.major == outside) else {
        let outside = inch::inches(outside);
        return reader.complain(format!("{outside} BTC is no size that is known here"));
    };
    let looks = match word {
        "BTC" => Looks::Named,
        _ => Looks::Doubtful,
    };
    Some((Thread::of_size(Family::CasingButtress, size), looks))
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    tail::finish(thread.name.unwrap_or_default().to_owned(), thread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("9-5/8 BTC", "9 5/8 BTC"),
            ("9 5/8\" BC", "9 5/8 BTC"),
            ("7 BTC BOX", "7 BTC"),
            ("ОТТМ 168", "ОТТМ 168"),
            ("ОТТГ-146 ГОСТ 632-80", "ОТТГ 146"),
            ("OTTM 245", "ОТТМ 245"),
            ("оттг 245", "ОТТГ 245"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
        }
        assert!(parse("8 BTC", None).unwrap_err().reason.contains("no size"));
    }

    /// API Spec 5B from memory: E7 is D - 0.046 in to 13 3/8 in and D - 0.062 in from 16 in on, and L4 -
    /// L7 is 1.984 and 1.488 in.
    #[test]
    fn diameters_and_lengths_agree() {
        for (name, outside, perfect) in API {
            let thread = parse(name, None).unwrap();
            let planes = thread.gauge_planes(Side::External).unwrap();
            let less = 1e-4 * outside as f64 - planes.gauge.at.pitch / 25.4;
            let vanish = planes.others.last().unwrap().z_mm / 25.4 - perfect;
            let (expected, length) = if outside < 150_000 {
                (0.046, 1.984)
            } else {
                (0.062, 1.488)
            };
            assert!((less - expected).abs() < 1e-9, "{name} {less}");
            assert!((vanish - length).abs() < 1e-9, "{name} {vanish}");
            assert!(planes.unverified);
        }
    }

    #[test]
    fn a_thread_without_its_plane_says_so() {
        let thread = parse("ОТТМ 168", None).unwrap();
        assert!(thread.gauge_planes(Side::External).is_none());
        assert!(thread.limits(Side::External).notes[1].contains("not known"));
        assert!((thread.form().taper - 0.0625).abs() < 1e-12);
    }
}
