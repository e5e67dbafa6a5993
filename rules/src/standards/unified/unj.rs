//! Unified inch threads for aerospace UNJ: ASME B1.15, MIL-S-8879, ISO 3161. Sizes and tolerances
//! are those of UN, the form is that of MJ.

use std::sync::LazyLock;

use lexer::units::Units;

use super::super::form::{Form, SHARP_V};
use super::super::limits::{Band, Basic, Limits};
use super::super::metric::mj;
use super::super::reader::Reader;
use super::super::thread::Thread;
use super::super::{Family, Side, Size, Standard, either_side, parallel};
use super::{plain_series, reading, series, writing};

/// What the project knows of UNJ threads.
pub(in super::super) static STANDARD: Standard = Standard {
    name: "unified aerospace UNJ",
    standards: "ASME B1.15, MIL-S-8879, ISO 3161",
    units: Units::Inch,
    several_starts: true,
    initials: "U#.0123456789",
    read,
    write: writing::write,
    form,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes,
    special: |_, _, _| None,
};

const SERIES: [&str; 5] = ["UNJC", "UNJF", "UNJEF", "UNJS", "UNJ"];

fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    reading::read_family(reader, Family::UnifiedJ, &SERIES, None)
}

fn form(_: &Thread) -> Form {
    Form {
        source: "ASME B1.15 (UNJ form, from memory; the geometry is that of MJ)",
        ..mj::FORM
    }
}

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    let form = form(thread);
    Basic {
        major: d,
        pitch: d - 0.75 * SHARP_V * p,
        minor: d - 2.0 * form.design_depth(Side::Internal, p),
        root: form.root_diameter(d, p),
    }
}

fn default_class(_: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "3A",
        Side::Internal => "3B",
    }
}

/// Major and pitch diameter have the tolerances of UN; roots and bore follow from the form.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    if !matches!(
        (class, side),
        ("3A", Side::External) | ("3B", Side::Internal)
    ) {
        let mut limits = Limits::open(side, class, Units::Inch);
        let note = format!("no limits of UNJ are known for class {class}, only for 3A and 3B");
        limits.notes.push(note);
        return limits;
    }
    let same = Thread {
        series: plain_series(thread.series),
        ..thread.clone()
    };
    let mut limits = super::limits::limits(&same, side, class);
    limits.unverified = true;
    limits.sources = vec!["ASME B1.15 (tolerances of ASME B1.1 and form of MJ, from memory)"];
    let p = thread.pitch.mm();
    match side {
        Side::External => {
            let root = |pitch: Option<f64>, radius: f64| {
                pitch.map(|d2| d2 - SHARP_V * p + 2.0 * radius * p)
            };
            let band = Band {
                min: root(limits.pitch.min, mj::LEAST_RADIUS),
                max: root(limits.pitch.max, mj::MOST_RADIUS),
            };
            let band = band.map(super::limits::four_decimals);
            (limits.minor, limits.root) = (band, band);
        }
        Side::Internal => {
            let minor = super::limits::four_decimals(basic(thread).minor);
            limits.minor = Band::from(minor);
            let note = "the tolerance of the minor diameter of class 3B is not known for UNJ";
            limits.notes.push(note.to_owned());
        }
    }
    limits
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let rarer = |size: &Size| Size {
            series: SERIES
                .into_iter()
                .find(|name| plain_series(name) == size.series)
                .unwrap_or("UNJS"),
            rank: size.rank + 20,
            ..*size
        };
        series::sizes().iter().map(rarer).collect()
    });
    &SIZES
}
