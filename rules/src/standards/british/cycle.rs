//! British Standard cycle threads BSC (BS 811), which grew out of the CEI threads: 60°, rounded at
//! crest and root.

use std::sync::LazyLock;

use lexer::units::Units;

use super::super::form::{End, Flanks, Form, Profile, Spread};
use super::super::limits::{Basic, Limits};
use super::super::reader::Reader;
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side, parallel};
use super::{Pair, listed, read_hand, read_size, write};

/// What the project knows of cycle threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "British cycle",
    standards: "BS 811",
    units: Units::Inch,
    several_starts: false,
    initials: "BC.0123456789",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes,
    special: |_, _, _| None,
};

/// Depth and radius of the form: P/6 at crest and root (from memory) leaves 0.532692 P (derived;
/// a public table of core diameters agrees with it to 0.001 in).
const DEPTH: f64 = 0.532_692;
const RADIUS: f64 = 1.0 / 6.0;
/// A nose of half the radius has to go deeper by that half to reach the same flanks (derived).
const DEPTHS: Spread = Spread::of_pitch(DEPTH, DEPTH, DEPTH + RADIUS / 2.0);
const RADII: Spread = Spread::of_pitch(RADIUS / 2.0, RADIUS, RADIUS);

const PROFILE: Profile = Profile {
    depth: DEPTHS,
    crest: End::radius(RADII),
    root: End::radius(RADII),
};

const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(30.0)),
    external: PROFILE,
    internal: PROFILE,
    taper: 0.0,
    source: "BS 811 (cycle thread form, from memory)",
};

/// 26 threads per inch from 1/4 to 1 in from a public table, the others from memory.
#[rustfmt::skip]
const BSC: [Pair; 21] = [
    (12500, 4000), (15625, 3200), (18750, 3200), (21875, 2600), (25000, 2600),
    (28125, 2600), (31250, 2600), (37500, 2600), (43750, 2600), (50000, 2600),
    (56250, 2600), (62500, 2600), (68750, 2600), (75000, 2600), (100000, 2600),
    (50000, 2000), (56250, 2000), (100000, 2400), (112500, 2600), (129000, 2400),
    (137000, 2400),
];

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| listed(&BSC, "BSC", 8));
    &SIZES
}

/// Reads `9/16-20 BSC` and `1/4-26 CEI`.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let mut thread = read_size(reader, Family::Cycle, &["BSC", "BSCY", "CEI"], &[])?;
    read_hand(reader, &mut thread);
    Some(thread)
}

fn basic(thread: &Thread) -> Basic {
    let (d, depth) = (thread.major.mm(), DEPTH * thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - depth,
        minor: d - 2.0 * depth,
        root: d - 2.0 * depth,
    }
}

fn limits(_: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    let note = "no limits are known for British Standard cycle threads";
    limits.notes.push(note.to_owned());
    limits
}
