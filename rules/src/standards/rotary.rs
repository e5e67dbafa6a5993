//! Rotary shouldered connections: API Spec 7-2, ISO 10424-2, GOST 28487. Numbered (NC), regular
//! (REG) and full hole (FH) connections; the internal flush names (IF) and the `З-133` of GOST are
//! other names of some of them.

mod names;

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flanks, Form, Measure, Profile, SHARP_V, Spread};
use super::limits::{Basic, Limits};
use super::planes::{Datum, GaugePlanes, Plane};
use super::thread::Thread;
use super::{Side, Size, Standard, either_side};
use names::{read, write};

/// What the project knows of rotary shouldered connections.
pub(super) static STANDARD: Standard = Standard {
    name: "rotary shouldered connection",
    standards: "API Spec 7-2, ISO 10424-2, GOST 28487",
    units: Units::Inch,
    several_starts: false,
    initials: "NA0123456789Зз",
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

/// A thread form: lengths in inches.
struct Profiled {
    name: &'static str,
    per_inch: i64,
    crest_flat: f64,
    root_radius: f64,
    source: &'static str,
}

/// V-038R as a public data sheet of NC23 has it.
const V_038R: Profiled = Profiled {
    name: "V-038R",
    per_inch: 4,
    crest_flat: 0.065,
    root_radius: 0.038,
    source: "API Spec 7-2 (V-038R; flat and radius from a public data sheet of NC23)",
};
const V_040: Profiled = Profiled {
    name: "V-040",
    per_inch: 5,
    crest_flat: 0.040,
    root_radius: 0.020,
    source: "API Spec 7-2 (V-040; flat and radius from memory)",
};
const V_050: Profiled = Profiled {
    name: "V-050",
    per_inch: 4,
    crest_flat: 0.050,
    root_radius: 0.025,
    source: "API Spec 7-2 (V-050; flat and radius from memory)",
};

impl Profiled {
    fn pitch(&self) -> f64 {
        1.0 / self.per_inch as f64
    }

    /// Height of the sharp V at right angles to the axis: 0.866 P, less what the cone takes from
    /// it, (T/2)² / 3 (derived).
    fn sharp(&self, taper: f64) -> f64 {
        SHARP_V * self.pitch() * (1.0 - (taper / 2.0).powi(2) / 3.0)
    }

    fn crest_truncation(&self, taper: f64) -> f64 {
        self.crest_flat * self.sharp(taper) / self.pitch()
    }

    /// A circle between flanks of 60° takes away as much as its radius.
    fn root_truncation(&self) -> f64 {
        self.root_radius
    }

    fn depth(&self, taper: f64) -> f64 {
        self.sharp(taper) - self.crest_truncation(taper) - self.root_truncation()
    }
}

/// A connection.
struct Connection {
    name: &'static str,
    form: &'static Profiled,
    /// Inches per foot on the diameter.
    per_foot: u8,
    /// Pitch diameter at the gauge point in inches.
    pitch_diameter: f64,
    /// Length of the pin in inches.
    pin: f64,
    /// Whether the numbers were seen published.
    confirmed: bool,
    /// What GOST 28487 calls it, from memory: the large diameter of the pin in mm.
    gost: u32,
}

const fn nc(name: &'static str, per_foot: u8, c: f64, pin: f64, gost: u32) -> Connection {
    Connection {
        name,
        form: &V_038R,
        per_foot,
        pitch_diameter: c,
        pin,
        confirmed: true,
        gost,
    }
}

const fn old(
    name: &'static str,
    form: &'static Profiled,
    per_foot: u8,
    c: f64,
    pin: f64,
    gost: u32,
) -> Connection {
    Connection {
        form,
        confirmed: false,
        ..nc(name, per_foot, c, pin, gost)
    }
}

/// NC23 to NC61 from API Spec 7-2 (2017) table B.1; NC70 and NC77 agree with a public table; REG
/// and FH are from memory, and the large diameter of each pin follows from them.
#[rustfmt::skip]
const CONNECTIONS: [Connection; 23] = [
    nc("NC23", 2, 2.355, 3.0, 65),
    nc("NC26", 2, 2.668, 3.0, 73),
    nc("NC31", 2, 3.183, 3.5, 86),
    nc("NC35", 2, 3.531, 3.75, 94),
    nc("NC38", 2, 3.808, 4.0, 102),
    nc("NC40", 2, 4.072, 4.5, 108),
    nc("NC44", 2, 4.417, 4.5, 118),
    nc("NC46", 2, 4.626, 4.5, 122),
    nc("NC50", 2, 5.0417, 4.5, 133),
    nc("NC56", 3, 5.616, 5.0, 149),
    nc("NC61", 3, 6.178, 5.5, 163),
    nc("NC70", 3, 7.053, 6.0, 185),
    nc("NC77", 3, 7.741, 6.5, 203),
    old("2 3/8 REG", &V_040, 3, 2.365_37, 3.0, 66),
    old("2 7/8 REG", &V_040, 3, 2.740_37, 3.5, 76),
    old("3 1/2 REG", &V_040, 3, 3.239_87, 3.75, 88),
    old("4 1/2 REG", &V_040, 3, 4.364_87, 4.25, 117),
    old("5 1/2 REG", &V_050, 3, 5.234_02, 4.75, 140),
    old("6 5/8 REG", &V_050, 2, 5.757_80, 5.0, 152),
    old("7 5/8 REG", &V_050, 3, 6.714_53, 5.25, 177),
    old("8 5/8 REG", &V_050, 3, 7.666_58, 5.375, 201),
    old("5 1/2 FH", &V_050, 2, 5.591_00, 5.0, 147),
    old("6 5/8 FH", &V_050, 2, 6.519_60, 5.0, 171),
];

/// Distance of the gauge point from the shoulder in inches.
const GAUGE_POINT: f64 = 0.625;

impl Connection {
    fn taper(&self) -> f64 {
        f64::from(self.per_foot) / 12.0
    }

    /// Diameters in mm in the plane of the gauge point.
    fn at_gauge_point(&self) -> Basic {
        let (form, taper) = (self.form, self.taper());
        let to_crest = form.sharp(taper) / 2.0 - form.crest_truncation(taper);
        let to_root = form.sharp(taper) / 2.0 - form.root_truncation();
        let c = self.pitch_diameter;
        Basic {
            major: 25.4 * (c + 2.0 * to_crest),
            pitch: 25.4 * c,
            minor: 25.4 * (c - 2.0 * to_crest),
            root: 25.4 * (c - 2.0 * to_root),
        }
    }
}

fn connection(thread: &Thread) -> &'static Connection {
    let named = |c: &&Connection| Some(c.name) == thread.name;
    CONNECTIONS.iter().find(named).unwrap_or(&CONNECTIONS[0])
}

/// The height may be 0.003 in smaller and 0.001 in larger, the root radius 0.001 in either way (a
/// public data sheet of NC23).
fn form(thread: &Thread) -> Form {
    let connection = connection(thread);
    let (form, taper) = (connection.form, connection.taper());
    let inches = |value: f64| Measure {
        per_pitch: 0.0,
        plus_mm: 25.4 * value,
    };
    let spread = |below: f64, value: f64, above: f64| Spread {
        min: inches(value - below),
        design: inches(value),
        max: inches(value + above),
    };
    let profile = Profile {
        depth: spread(0.003, form.depth(taper), 0.001),
        crest: End {
            flat: Some(inches(form.crest_flat)),
            radius: None,
        },
        root: End::radius(spread(0.001, form.root_radius, 0.001)),
    };
    Form {
        flanks: Some(Flanks::symmetric(30.0)),
        external: profile,
        internal: profile,
        taper,
        source: form.source,
    }
}

fn basic(thread: &Thread) -> Basic {
    connection(thread).at_gauge_point()
}

/// Places are counted from the shoulder of the pin and the face of the box, which meet.
fn gauge(thread: &Thread, side: Side) -> Option<GaugePlanes> {
    let connection = connection(thread);
    let gauge = Plane {
        name: "gauge point",
        z_mm: -25.4 * GAUGE_POINT,
        at: connection.at_gauge_point(),
    };
    let mut planes = GaugePlanes::new(side, connection.taper(), Datum::LargeEnd, gauge);
    match side {
        Side::External => {
            planes.add("small end of the pin, D_S", -25.4 * connection.pin);
            planes.add("shoulder, D_L", 0.0);
        }
        Side::Internal => {
            // The box is threaded an eighth of an inch deeper than the pin is long.
            planes.add(
                "end of the box threads, L_BT",
                -25.4 * (connection.pin + 0.125),
            );
            planes.add("face of the box", 0.0);
        }
    }
    planes.sources = vec![if connection.confirmed {
        "API Spec 7-2 (2017) table B.1, and a public table for NC70 and NC77"
    } else {
        "API Spec 7-2 (from memory; the large diameter of the pin agrees)"
    }];
    planes.unverified = !connection.confirmed;
    if planes.unverified {
        let note = "the pitch diameter of this connection is from memory";
        planes.notes.push(note.to_owned());
    }
    planes
        .notes
        .push(format!("thread form {}", connection.form.name));
    Some(planes)
}

/// Taper threads are gauged by their stand-off; the standard limits height, taper and lead.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Inch);
    limits.sources = vec![form(thread).source];
    limits.unverified = !connection(thread).confirmed;
    let note = "a shouldered connection is judged by the stand-off of its gauge, by height, taper \
                and lead; there are no limits of diameters";
    limits.notes.push(note.to_owned());
    limits
}

fn sizes() -> &'static [Size] {
    static SIZES: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |connection: &Connection| {
            Some(Size {
                name: Some(connection.name),
                major: Diameter(Length::from_mm(connection.at_gauge_point().major)),
                pitch: Lead::per_inch(connection.form.per_inch * 10_000)?,
                series: "",
                rank: 2,
            })
        };
        CONNECTIONS.iter().filter_map(size).collect()
    });
    &SIZES
}

#[cfg(test)]
mod tests;
