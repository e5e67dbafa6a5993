//! American taper pipe threads: NPT (ASME B1.20.1, GOST 6111 К) and the dryseal NPTF (ASME B1.20.3).

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Units};

use super::super::form::{End, Flanks, Form, Measure, Profile, SHARP_V, Spread};
use super::super::limits::{Band, Basic, Limits, round_to};
use super::super::planes::{Datum, GaugePlanes, Plane};
use super::super::reader::{Looks, Reader};
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side};
use super::{hand, of_name, read_hand, read_name, read_size, tpi};

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

/// Taper on the diameter.
const TAPER: f64 = 1.0 / 16.0;

const SOURCE: &str = "ASME B1.20.1 table 2 and its formulas";
const DRYSEAL: &str = "ASME B1.20.3 (truncations, from memory)";

/// Size, threads per inch, outside diameter of the pipe D and hand-tight engagement L1 in inches
/// (ASME B1.20.1-2013 table 2, a public transcription).
#[rustfmt::skip]
pub(super) const ROWS: [(&str, f64, f64, f64); 24] = [
    ("1/16", 27.0, 0.3125, 0.16),
    ("1/8", 27.0, 0.405, 0.1615),
    ("1/4", 18.0, 0.54, 0.2278),
    ("3/8", 18.0, 0.675, 0.24),
    ("1/2", 14.0, 0.84, 0.32),
    ("3/4", 14.0, 1.05, 0.339),
    ("1", 11.5, 1.315, 0.4),
    ("1 1/4", 11.5, 1.66, 0.42),
    ("1 1/2", 11.5, 1.9, 0.42),
    ("2", 11.5, 2.375, 0.436),
    ("2 1/2", 8.0, 2.875, 0.682),
    ("3", 8.0, 3.5, 0.766),
    ("3 1/2", 8.0, 4.0, 0.821),
    ("4", 8.0, 4.5, 0.844),
    ("5", 8.0, 5.563, 0.937),
    ("6", 8.0, 6.625, 0.958),
    ("8", 8.0, 8.625, 1.063),
    ("10", 8.0, 10.75, 1.21),
    ("12", 8.0, 12.75, 1.36),
    ("14", 8.0, 14.0, 1.562),
    ("16", 8.0, 16.0, 1.812),
    ("18", 8.0, 18.0, 2.0),
    ("20", 8.0, 20.0, 2.125),
    ("24", 8.0, 24.0, 2.375),
];

/// One size: everything in inches, by the formulas of ASME B1.20.1.
pub(super) struct Inches {
    tpi: f64,
    /// Pitch.
    p: f64,
    /// Outside diameter of the pipe.
    pipe: f64,
    /// Length of hand-tight engagement.
    l1: f64,
}

impl Inches {
    pub(super) fn of(name: &str) -> Option<Self> {
        let (_, tpi, pipe, l1) = *ROWS.iter().find(|row| row.0 == name)?;
        Some(Inches {
            tpi,
            p: 1.0 / tpi,
            pipe,
            l1,
        })
    }

    /// Pitch diameter at the small end.
    fn e0(&self) -> f64 {
        self.pipe - (0.05 * self.pipe + 1.1) * self.p
    }

    /// Pitch diameter in the gauge plane.
    pub(super) fn e1(&self) -> f64 {
        self.e0() + TAPER * self.l1
    }

    /// Length of effective thread.
    fn l2(&self) -> f64 {
        (0.80 * self.pipe + 6.8) * self.p
    }

    /// Wrench make-up: three threads up to 2 in, two above.
    fn l3(&self) -> f64 {
        if self.pipe < 2.5 {
            3.0 * self.p
        } else {
            2.0 * self.p
        }
    }

    /// Overall length with the washout.
    fn l4(&self) -> f64 {
        self.l2() + 3.47 * self.p
    }

    /// Length of thread that is perfect at crest and root.
    fn l5(&self) -> f64 {
        self.l2() - 2.0 * self.p
    }
}

/// How much crests and roots are cut off the sharp V, in inches.
struct Truncation {
    crest: Band,
    root: Band,
}

/// NPT: 0.033 P at least, at most a tabulated length, the same for crests and roots. NPTF: crests
/// less than roots, so that they crush (from memory; the factors of the pitch agree with the lengths
/// of the same table to 0.0001 in).
fn truncation(series: &str, size: &Inches) -> Truncation {
    let p = size.p;
    if series == "NPTF" {
        let (a, b, c) = match size.tpi {
            27.0 => (0.047, 0.094, 0.140),
            18.0 => (0.047, 0.078, 0.109),
            14.0 => (0.036, 0.060, 0.085),
            11.5 => (0.040, 0.060, 0.090),
            _ => (0.042, 0.055, 0.076),
        };
        return Truncation {
            crest: Band::between(a * p, b * p),
            root: Band::between(b * p, c * p),
        };
    }
    let most = match size.tpi {
        27.0 => 0.0036,
        18.0 => 0.0049,
        14.0 => 0.0056,
        11.5 => 0.0063,
        _ => 0.0078,
    };
    let band = Band::between(0.033 * p, most);
    Truncation {
        crest: band,
        root: band,
    }
}

/// Least and largest in inches; zeros where a band is open, which those of this file never are.
fn ends(band: Band) -> (f64, f64) {
    (band.min.unwrap_or(0.0), band.max.unwrap_or(0.0))
}

/// Distance from the pitch cone to the nominal crest, as twice the height above it, in inches.
/// NPT: the height 0.8 P is the standard's own rounding of H - 0.066 P.
fn crest_over_pitch(series: &str, size: &Inches) -> f64 {
    if series == "NPT" {
        return 0.8 * size.p;
    }
    let (least, _) = ends(truncation(series, size).crest);
    SHARP_V * size.p - 2.0 * least
}

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
