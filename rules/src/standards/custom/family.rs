//! Threads of the shop's own as a family. They are not read from a text: the configuration knows
//! their names.

use lexer::units::Units;

use super::Custom;
use crate::standards::form::{Form, Profile};
use crate::standards::limits::{Basic, Limits};
use crate::standards::planes::{Datum, GaugePlanes, Plane};
use crate::standards::thread::Thread;
use crate::standards::{Side, Standard, either_side};

/// What the project knows of threads of the shop's own.
pub(in crate::standards) static STANDARD: Standard = Standard {
    name: "of the shop's own",
    standards: SOURCE,
    units: Units::Millimetre,
    several_starts: false,
    initials: "",
    read: |_| None,
    write: |thread| of(thread, |custom| custom.name.clone()).unwrap_or_default(),
    form,
    basic,
    gauge,
    made_for: either_side,
    limits,
    default_class: |_, _| "",
    sizes: || &[],
    special: |_, _, _| None,
};

const SOURCE: &str = "the configuration";

/// Asks the numbers behind a thread. Every thread of this family has them, see
/// [`Custom::thread`]; without them nothing is known.
fn of<T>(thread: &Thread, ask: impl FnOnce(&Custom) -> T) -> Option<T> {
    thread.custom.as_deref().map(ask)
}

fn form(thread: &Thread) -> Form {
    of(thread, Custom::form).unwrap_or(Form {
        flanks: None,
        external: Profile::default(),
        internal: Profile::default(),
        taper: 0.0,
        source: SOURCE,
    })
}

fn basic(thread: &Thread) -> Basic {
    let major = thread.major.mm();
    of(thread, Custom::basic).unwrap_or(Basic {
        major,
        pitch: major,
        minor: major,
        root: major,
    })
}

fn gauge(thread: &Thread, side: Side) -> Option<GaugePlanes> {
    let custom = thread.custom.as_deref()?;
    let place = custom.gauge_plane_mm.filter(|_| custom.taper > 0.0)?;
    let (datum, z_mm) = match side {
        Side::External => (Datum::SmallEnd, place),
        Side::Internal => (Datum::LargeEnd, -place),
    };
    let gauge = Plane {
        name: "gauge plane",
        z_mm,
        at: custom.basic(),
    };
    let mut planes = GaugePlanes::new(side, custom.taper, datum, gauge);
    planes.add("end face", 0.0);
    planes.sources.push(SOURCE);
    Some(planes)
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let known = of(thread, |custom| custom.limits(side)).flatten();
    known.unwrap_or_else(|| {
        let mut limits = Limits::open(side, class, Units::Millimetre);
        limits.sources.push(SOURCE);
        let note = format!("the configuration gives no {} thread", side.name());
        limits.notes.push(note);
        limits
    })
}
