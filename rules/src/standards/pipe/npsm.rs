//! American straight pipe threads for mechanical joints NPSM: ASME B1.20.1. They have the form of
//! unified threads on the pitch diameter that NPT has in its gauge plane.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Units};

use super::super::form::{
    End, Flanks, Form, Measure, NUT_HEIGHT, Profile, SHARP_V, Spread, TEACHING_RULE,
};
use super::super::limits::{Band, Basic, Limits};
use super::super::reader::{Looks, Reader};
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side, parallel};
use super::npt::{Inches, ROWS as TAPER_ROWS};
use super::{hand, read_hand, read_size, tpi};

/// What the project knows of NPSM threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "American straight pipe NPSM",
    standards: "ASME B1.20.1",
    units: Units::Inch,
    several_starts: false,
    initials: "N.0123456789",
    read,
    write: |thread| {
        let name = thread.name.unwrap_or_default();
        format!("{name}{} NPSM{}", tpi(thread), hand(thread))
    },
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes,
    special: |_, _, _| None,
};

/// The form is from memory; the crest 3/8 H above and 1/4 H below the pitch line agrees with the
/// published diameters (derived).
const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(30.0)),
    external: Profile {
        depth: Spread::of_pitch(NUT_HEIGHT, NUT_HEIGHT, TEACHING_RULE),
        crest: End::flat(0.125),
        root: End {
            flat: Some(Measure::of_pitch(0.25)),
            radius: Some(Spread::of_pitch(0.0, SHARP_V / 6.0, SHARP_V / 6.0)),
        },
    },
    internal: Profile {
        depth: Spread::of_pitch(NUT_HEIGHT, NUT_HEIGHT, TEACHING_RULE),
        crest: End::flat(0.25),
        root: End {
            flat: Some(Measure::of_pitch(0.125)),
            radius: Some(Spread::of_pitch(0.0, SHARP_V / 8.0, SHARP_V / 8.0)),
        },
    },
    taper: 0.0,
    source: "ASME B1.20.1 (NPSM, form from memory)",
};

const SOURCE: &str = "ASME B1.20.1 (NPSM table, Machinery's Handbook 27, Pipe Threads, table 5)";
const MEMORY: &str = "ASME B1.20.1 (NPSM table, from memory)";

/// Limits of one size in 1e-4 in.
struct Row {
    name: &'static str,
    /// External: major diameter, pitch diameter, largest first.
    external: [i32; 4],
    /// Internal: minor diameter, pitch diameter, smallest first.
    internal: [i32; 4],
}

const fn row(name: &'static str, external: [i32; 4], internal: [i32; 4]) -> Row {
    Row {
        name,
        external,
        internal,
    }
}

/// The first five as published, the others from memory; the smallest pitch diameter of the nut is
/// E1 of NPT in all of them.
const PUBLISHED: usize = 5;
#[rustfmt::skip]
const ROWS: [Row; 15] = [
    row("1/8", [3970, 3900, 3725, 3689], [3580, 3640, 3736, 3783]),
    row("1/4", [5260, 5170, 4903, 4859], [4680, 4810, 4916, 4974]),
    row("3/8", [6620, 6530, 6256, 6211], [6030, 6120, 6270, 6329]),
    row("1/2", [8230, 8130, 7769, 7718], [7470, 7590, 7784, 7851]),
    row("3/4", [10340, 10240, 9873, 9820], [9580, 9700, 9889, 9958]),
    row("1", [12930, 12810, 12369, 12311], [12010, 12110, 12386, 12462]),
    row("1 1/4", [16380, 16260, 15816, 15756], [15460, 15550, 15834, 15912]),
    row("1 1/2", [18770, 18650, 18205, 18144], [17850, 17940, 18223, 18302]),
    row("2", [23510, 23390, 22944, 22882], [22590, 22680, 22963, 23044]),
    row("2 1/2", [28410, 28260, 27600, 27526], [27080, 27270, 27622, 27720]),
    row("3", [34670, 34520, 33862, 33786], [33340, 33530, 33885, 33984]),
    row("3 1/2", [39680, 39530, 38865, 38788], [38350, 38480, 38888, 38988]),
    row("4", [44660, 44510, 43848, 43771], [43330, 43460, 43871, 43971]),
    row("5", [55280, 55130, 54469, 54390], [53950, 54080, 54493, 54598]),
    row("6", [65850, 65700, 65036, 64955], [64520, 64640, 65060, 65165]),
];

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |row: &Row| {
            let (_, tpi, ..) = TAPER_ROWS.iter().find(|taper| taper.0 == row.name)?;
            let e1 = Inches::of(row.name)?.e1();
            Some(Size {
                name: Some(row.name),
                major: Diameter(Units::Inch.length(e1 + 0.75 * SHARP_V / tpi)),
                pitch: Lead::per_inch((tpi * 10_000.0) as i64)?,
                series: "NPSM",
                rank: 6,
            })
        };
        ROWS.iter().filter_map(size).collect()
    });
    &SIZES
}

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.75 * SHARP_V * p,
        minor: d - 2.0 * NUT_HEIGHT * p,
        root: d - 2.0 * NUT_HEIGHT * p,
    }
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    if !class.is_empty() {
        limits.notes.push(format!("NPSM has no class {class}"));
        return limits;
    }
    let Some(at) = ROWS.iter().position(|row| Some(row.name) == thread.name) else {
        return limits;
    };
    limits.unverified = at >= PUBLISHED;
    limits
        .sources
        .push(if limits.unverified { MEMORY } else { SOURCE });
    let band = |a: i32, b: i32| Band::between(f64::from(a), f64::from(b)).map(|v| v * 25.4e-4);
    match side {
        Side::External => {
            let [most, least, pitch, small] = ROWS[at].external;
            limits.major = band(least, most);
            limits.pitch = band(small, pitch);
            let note = "no limits of the minor diameter are published for the external thread";
            limits.notes.push(note.to_owned());
        }
        Side::Internal => {
            let [small, large, pitch, most] = ROWS[at].internal;
            limits.minor = band(small, large);
            limits.pitch = band(pitch, most);
            let note = "no limits of the major diameter are published for the internal thread";
            limits.notes.push(note.to_owned());
        }
    }
    limits
}

/// Reads `1/2-14 NPSM` and `NPSM 1/2`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let (mut thread, _) = read_size(reader, Family::Npsm, &[("NPSM", "NPSM")])?;
    read_hand(reader, &mut thread);
    reader.looks = Looks::Named;
    Some(thread)
}
