//! Pipe threads that seal on the thread: ISO 7-1, EN 10226, GOST 6211. R is the taper external
//! thread, Rc the taper and Rp the parallel internal one (BSPT and PT where the side is not told).

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Units};

use super::super::british::whitworth;
use super::super::form::{End, Form, Profile, Spread};
use super::super::limits::{Band, Limits, round_to};
use super::super::planes::{Datum, GaugePlanes, Plane};
use super::super::reader::{Looks, Reader};
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard};
use super::{hand, micrometres, parallel, read_hand, read_name, read_size};

/// What the project knows of sealing pipe threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "sealing pipe R, Rc, Rp",
    standards: "ISO 7-1, EN 10226, GOST 6211",
    units: Units::Millimetre,
    several_starts: false,
    initials: "RBPK.0123456789",
    read,
    write,
    form,
    // Height and diameters are rounded as those of G.
    basic: parallel::basic,
    gauge,
    made_for,
    limits,
    default_class: |_, _| "",
    sizes,
    special: |_, _, _| None,
};

/// Taper on the diameter.
const TAPER: f64 = 1.0 / 16.0;
/// Radius at crest and root of the taper form.
const RADIUS: f64 = 0.137_278;

const SOURCE: &str = "ISO 7-1, EN 10226-1 table 1";

/// One size: lengths in mm.
struct Row {
    name: &'static str,
    tpi: i64,
    /// Major diameter in the gauge plane, µm.
    major: i64,
    /// Gauge length.
    gauge: f64,
    /// Fitting allowance: useful thread behind the gauge plane.
    fitting: f64,
}

const fn row(name: &'static str, tpi: i64, major: i64, gauge: f64, fitting: f64) -> Row {
    Row {
        name,
        tpi,
        major,
        gauge,
        fitting,
    }
}

/// ISO 7-1:1994 table 1 (two public transcriptions that agree).
#[rustfmt::skip]
const ROWS: [Row; 15] = [
    row("1/16", 28, 7723, 4.0, 2.5),
    row("1/8", 28, 9728, 4.0, 2.5),
    row("1/4", 19, 13157, 6.0, 3.7),
    row("3/8", 19, 16662, 6.4, 3.7),
    row("1/2", 14, 20955, 8.2, 5.0),
    row("3/4", 14, 26441, 9.5, 5.0),
    row("1", 11, 33249, 10.4, 6.4),
    row("1 1/4", 11, 41910, 12.7, 6.4),
    row("1 1/2", 11, 47803, 12.7, 6.4),
    row("2", 11, 59614, 15.9, 7.5),
    row("2 1/2", 11, 75184, 17.5, 9.2),
    row("3", 11, 87884, 20.6, 9.2),
    row("4", 11, 113030, 25.4, 10.4),
    row("5", 11, 138430, 28.6, 11.5),
    row("6", 11, 163830, 28.6, 11.5),
];

impl Row {
    fn of(thread: &Thread) -> Option<&'static Row> {
        ROWS.iter().find(|row| Some(row.name) == thread.name)
    }

    /// Turns by which the gauge plane may lie off: more from 2 1/2 on. The printed lengths are
    /// these turns rounded to 0.1 mm.
    fn turns(&self, side: Side) -> f64 {
        match side {
            _ if self.major > 60_000 => 1.5,
            Side::External => 1.0,
            Side::Internal => 1.25,
        }
    }
}

/// `BSPT` leaves the side open.
fn made_for(series: &str) -> Option<Side> {
    match series {
        "R" => Some(Side::External),
        "Rc" | "Rp" => Some(Side::Internal),
        _ => None,
    }
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let mut all = Vec::new();
        for (series, rank) in [("R", 1), ("Rc", 2), ("Rp", 4)] {
            let size = |row: &Row| {
                Some(Size {
                    name: Some(row.name),
                    major: Diameter(micrometres(row.major)),
                    pitch: Lead::per_inch(row.tpi * 10_000)?,
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

fn form(thread: &Thread) -> Form {
    let tapered = thread.series != "Rp";
    let profile = if tapered {
        let radii = Spread::of_pitch(RADIUS / 2.0, RADIUS, RADIUS);
        Profile {
            crest: End::radius(radii),
            root: End::radius(radii),
            ..whitworth::FORM.external
        }
    } else {
        whitworth::FORM.external
    };
    Form {
        external: profile,
        internal: profile,
        taper: if tapered { TAPER } else { 0.0 },
        source: "ISO 7-1 (Whitworth form, heights across the axis)",
        ..whitworth::FORM
    }
}

/// The external thread is counted from its small end, the internal one from its face, where its
/// gauge plane lies.
fn gauge(thread: &Thread, side: Side) -> Option<GaugePlanes> {
    let row = Row::of(thread)?;
    if thread.series == "Rp" || !thread.exists_on(side) {
        return None;
    }
    let at = |z_mm| Plane {
        name: "gauge plane",
        z_mm,
        at: parallel::basic(thread),
    };
    let travel = round_to(row.turns(side) * thread.pitch.mm(), 0.1);
    let mut planes = match side {
        Side::External => {
            let gauge = at(row.gauge);
            let mut planes = GaugePlanes::new(side, TAPER, Datum::SmallEnd, gauge);
            let useful = row.gauge + row.fitting;
            planes.add("small end", 0.0);
            planes.add("end of the useful thread", useful);
            planes.useful_mm = Some(useful);
            planes
        }
        Side::Internal => {
            let mut planes = GaugePlanes::new(side, TAPER, Datum::LargeEnd, at(0.0));
            planes.add("small end of a thread screwed in by hand", -row.gauge);
            let note = "the least length of an internal thread is not known here";
            planes.notes.push(note.to_owned());
            planes
        }
    };
    planes.travel = Band::between(planes.gauge.z_mm - travel, planes.gauge.z_mm + travel);
    planes.sources.push(SOURCE);
    Some(planes)
}

/// The standard bounds where the gauge plane lies. On the diameters, which it does not bound
/// otherwise, that comes to a sixteenth.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    let Some(row) = Row::of(thread).filter(|_| thread.exists_on(side)) else {
        let note = format!("{} is no {} thread", thread.series, side.name());
        limits.notes.push(note);
        return limits;
    };
    limits.sources.push(SOURCE);
    let basic = parallel::basic(thread);
    let shift = row.turns(side) * thread.pitch.mm() * TAPER;
    let band = |d: f64| Band::between(d - shift, d + shift).map(|v| round_to(v, 0.001));
    limits.major = band(basic.major);
    limits.pitch = band(basic.pitch);
    limits.minor = band(basic.minor);
    let turns = row.turns(side);
    if thread.series == "Rp" {
        limits.unverified = true;
        limits.notes.push(format!(
            "plus or minus {turns} turns of a 1:16 taper, taken as a tolerance of the diameters \
             (from memory)"
        ));
    } else {
        limits.notes.push(format!(
            "in the gauge plane: it may lie {turns} turns off, which is {shift:.3} mm on the \
             diameters (derived)"
        ));
    }
    limits
}

/// Old names, for either side.
const WORDS: [(&str, &str); 3] = [("BSPT", "R"), ("PT", "R"), ("KR", "R")];

/// Reads `R 1/2`, `Rc1/2`, `Rp 1/2-LH`, `1/2-14 BSPT`, `PT 1/2`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let series = match reader.word_ahead().as_str() {
        "R" => "R",
        "RC" => "Rc",
        "RP" => "Rp",
        _ => {
            let (mut thread, written) = read_size(reader, Family::PipeTaper, &WORDS)?;
            (thread.series, thread.side) = ("BSPT", None);
            read_hand(reader, &mut thread);
            let fraction = thread.name.is_some_and(|name| name.contains('/'));
            // `PT 2` is a point.
            reader.looks = match (written, fraction) {
                ("BSPT", _) => Looks::Named,
                (_, true) => Looks::Likely,
                (_, false) => Looks::Address,
            };
            return Some(thread);
        }
    };
    reader.eat_word(&series.to_ascii_uppercase());
    reader.blanks();
    let name = read_name(reader)?;
    let mut thread = super::of_name(reader, Family::PipeTaper, series, name)?;
    thread.written.series = true;
    thread.written.pitch = false;
    let left = read_hand(reader, &mut thread) && thread.hand == super::Hand::Left;
    // R is a radius, and an address of blocks, more often than a thread.
    reader.looks = match (series, name.contains('/')) {
        (_, true) if left => Looks::Named,
        ("R", true) => Looks::Radius,
        (_, true) => Looks::Fitting,
        (_, false) => Looks::Address,
    };
    Some(thread)
}

/// Prints `R 1/2-LH`.
fn write(thread: &Thread) -> String {
    let name = thread.name.unwrap_or_default();
    format!("{} {name}{}", thread.series, hand(thread))
}
