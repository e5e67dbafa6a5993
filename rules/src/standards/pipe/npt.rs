//! American taper pipe threads: NPT (ASME B1.20.1, GOST 6111 К) and the dryseal NPTF (ASME B1.20.3).

mod geometry;

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Units};

use super::super::form::{End, Flanks, Form, Measure, Profile, SHARP_V, Spread};
use super::super::limits::{Band, Basic, Limits, round_to};
use super::super::planes::{Datum, GaugePlanes, Plane};
use super::super::reader::{Looks, Reader};
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side};
use super::{hand, of_name, read_hand, read_name, read_size, tpi};
pub(super) use geometry::{Inches, ROWS};
use geometry::{TAPER, crest_over_pitch, ends, truncation};

/// What the project knows of American taper pipe threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "American taper pipe NPT, NPTF",
    standards: "ASME B1.20.1, ASME B1.20.3, GOST 6111",
    units: Units::Inch,
    several_starts: false,
    initials: "NKMF.0123456789",
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

const SOURCE: &str = "ASME B1.20.1 table 2 and its formulas";
const DRYSEAL: &str = "ASME B1.20.3 (truncations, from memory)";

fn size_of(thread: &Thread) -> Inches {
    let known = thread.name.and_then(Inches::of);
    // Every thread of the family has a name of the table.
    known.unwrap_or(Inches {
        tpi: 25.4 / thread.pitch.mm(),
        p: thread.pitch.mm() / 25.4,
        pipe: thread.major.mm() / 25.4,
        l1: 0.0,
    })
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let mut all = Vec::new();
        for (series, rank) in [("NPT", 1), ("NPTF", 4)] {
            let size = |(name, tpi, ..): &(&'static str, f64, f64, f64)| {
                let inches = Inches::of(name)?;
                let major = inches.e1() + crest_over_pitch(series, &inches);
                // Dryseal threads end at 3 in.
                let listed = series == "NPT" || inches.pipe <= 3.5;
                listed.then_some(Size {
                    name: Some(name),
                    major: Diameter(Units::Inch.length(major)),
                    pitch: Lead::per_inch((tpi * 10_000.0) as i64)?,
                    series,
                    rank,
                })
            };
            all.extend(ROWS.iter().filter_map(size));
        }
        all
    });
    &SIZES
}

/// Depths from the nominal crest; the bisector of the angle stands square to the axis, so they are
/// radial.
fn form(thread: &Thread) -> Form {
    let size = size_of(thread);
    let truncation = truncation(thread.series, &size);
    let (crest, _) = ends(truncation.crest);
    let (least, most) = ends(truncation.root);
    let below = |inches: f64| Measure {
        per_pitch: SHARP_V,
        plus_mm: -25.4 * inches,
    };
    let design = match thread.series {
        "NPT" => Measure::of_pitch(0.8),
        _ => below(crest + least),
    };
    // A flat is as wide as the truncation is deep, times 2 tan 30°; a radius that touches the
    // flanks leaves as much of the V as the truncation takes.
    let flat = |inches: f64| Measure {
        per_pitch: 0.0,
        plus_mm: 25.4 * inches * 2.0 / 3f64.sqrt(),
    };
    let radius = |inches: f64| Measure {
        per_pitch: 0.0,
        plus_mm: 25.4 * inches,
    };
    let profile = Profile {
        depth: Spread {
            min: below(crest + most),
            design,
            max: design,
        },
        crest: End {
            flat: Some(flat(crest)),
            radius: None,
        },
        root: End {
            flat: Some(flat(least)),
            radius: Some(Spread {
                min: radius(least),
                design: radius(least),
                max: radius(most),
            }),
        },
    };
    Form {
        flanks: Some(Flanks::symmetric(30.0)),
        external: profile,
        internal: profile,
        taper: TAPER,
        source: if thread.series == "NPT" {
            SOURCE
        } else {
            DRYSEAL
        },
    }
}

/// Diameters in the gauge plane.
fn basic(thread: &Thread) -> Basic {
    let size = size_of(thread);
    let over = 25.4 * crest_over_pitch(thread.series, &size);
    let pitch = 25.4 * size.e1();
    let depth = form(thread).design_depth(Side::External, thread.pitch.mm());
    Basic {
        major: pitch + over,
        pitch,
        minor: pitch + over - 2.0 * depth,
        root: pitch + over - 2.0 * depth,
    }
}

fn gauge(thread: &Thread, side: Side) -> Option<GaugePlanes> {
    let size = thread.name.and_then(Inches::of)?;
    let mm = |inches: f64| 25.4 * inches;
    let at = |z_mm| Plane {
        name: "gauge plane, L1",
        z_mm,
        at: basic(thread),
    };
    let mut planes = match side {
        Side::External => {
            let gauge = at(mm(size.l1));
            let mut planes = GaugePlanes::new(side, TAPER, Datum::SmallEnd, gauge);
            planes.add("small end", 0.0);
            planes.add("end of the perfect thread, L5", mm(size.l5()));
            planes.add("end of the effective thread, L2", mm(size.l2()));
            planes.add("end of the washout, L4", mm(size.l4()));
            planes.useful_mm = Some(mm(size.l2()));
            planes
        }
        Side::Internal => {
            let mut planes = GaugePlanes::new(side, TAPER, Datum::LargeEnd, at(0.0));
            planes.add("small end of a thread screwed in by hand", -mm(size.l1));
            planes.add("wrench make-up, L3", -mm(size.l1 + size.l3()));
            planes.useful_mm = Some(mm(size.l1 + size.l3()));
            planes
        }
    };
    let turn = thread.pitch.mm();
    planes.travel = Band::between(planes.gauge.z_mm - turn, planes.gauge.z_mm + turn);
    planes.sources.push(SOURCE);
    planes.notes.push(TURN.to_owned());
    planes.unverified = true;
    Some(planes)
}

const TURN: &str = "the gauge plane may lie one turn off either way (from memory)";

/// The standard bounds where the gauge plane lies, and the truncations.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    let Some(size) = thread.name.and_then(Inches::of) else {
        return limits;
    };
    if !(class.is_empty() || thread.series == "NPTF" && matches!(class, "1" | "2")) {
        let note = format!("{} has no class {class}", thread.series);
        limits.notes.push(note);
        return limits;
    }
    limits.sources.push(SOURCE);
    if thread.series == "NPTF" {
        limits.sources.push(DRYSEAL);
    }
    limits.unverified = true;
    let turn = size.p * TAPER;
    limits.notes.push(format!(
        "in the gauge plane: {TURN}, which is {turn:.4} in on the diameters"
    ));
    let truncation = truncation(thread.series, &size);
    let (crest, root) = (ends(truncation.crest), ends(truncation.root));
    let (least, most) = (size.e1() - turn, size.e1() + turn);
    let sharp = SHARP_V * size.p;
    let outer = |t: (f64, f64)| Band::between(least + sharp - 2.0 * t.1, most + sharp - 2.0 * t.0);
    let inner = |t: (f64, f64)| Band::between(least - sharp + 2.0 * t.0, most - sharp + 2.0 * t.1);
    limits.pitch = Band::between(least, most);
    (limits.major, limits.minor) = match side {
        Side::External => (outer(crest), inner(root)),
        Side::Internal => (outer(root), inner(crest)),
    };
    limits.root = match side {
        Side::External => limits.minor,
        Side::Internal => limits.major,
    };
    for diameter in [
        &mut limits.major,
        &mut limits.pitch,
        &mut limits.minor,
        &mut limits.root,
    ] {
        *diameter = diameter.map(|inch| round_to(inch, 1e-4) * 25.4);
    }
    limits
}

const WORDS: [(&str, &str); 4] = [
    ("NPT", "NPT"),
    ("NPTF", "NPTF"),
    ("MNPT", "NPT"),
    ("FNPT", "NPT"),
];

/// Reads `1/2-14 NPT`, `NPT1/2`, `1-11 1/2 NPT-LH`, `1/8-27 NPTF-1`, and the `К 1/2` of GOST 6111.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    if reader.eat_word("K") {
        reader.blanks();
        let name = read_name(reader)?;
        let mut thread = of_name(reader, Family::Npt, "NPT", name)?;
        thread.written.series = true;
        thread.written.pitch = false;
        read_hand(reader, &mut thread);
        // K is a radius of an arc, a height of a cycle, a group of carbides.
        reader.looks = match name.contains('/') {
            true => Looks::Radius,
            false => Looks::Address,
        };
        return Some(thread);
    }
    let (mut thread, written) = read_size(reader, Family::Npt, &WORDS)?;
    thread.side = match written {
        "MNPT" => Some(Side::External),
        "FNPT" => Some(Side::Internal),
        _ => None,
    };
    loop {
        if read_hand(reader, &mut thread) {
            continue;
        }
        let mark = reader.place();
        let class = reader.eat('-').then(|| reader.integer()).flatten();
        match class {
            Some(class @ 1..=2) if thread.series == "NPTF" && !thread.written.class => {
                thread.external = Some(class.to_string());
                thread.internal = Some(class.to_string());
                thread.written.class = true;
            }
            _ => {
                reader.back_to(mark);
                reader.looks = Looks::Named;
                return Some(thread);
            }
        }
    }
}

/// Prints `1/2-14 NPT-LH` and `1/8-27 NPTF-1`.
fn write(thread: &Thread) -> String {
    let name = thread.name.unwrap_or_default();
    let mut text = format!("{name}{} {}", tpi(thread), thread.series);
    if let Some(class) = thread.external.as_ref().or(thread.internal.as_ref()) {
        text += &format!("-{class}");
    }
    text + hand(thread)
}
