//! Round threads Rd: DIN 405, metric diameters with threads per inch.
//!
//! The factors are from memory and hold together with the angle; the pitch diameters of the sizes
//! agree with a public data sheet.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flanks, Form, Profile, Spread};
use super::inch::{decimals, threads_per_inch};
use super::limits::{Basic, Limits, round_to};
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side, parallel};

/// What the project knows of round threads.
pub(super) static STANDARD: Standard = Standard {
    name: "round",
    standards: "DIN 405",
    units: Units::Millimetre,
    several_starts: false,
    initials: "R",
    read,
    write,
    form: |_| FORM,
    basic,
    gauge: parallel,
    made_for: either_side,
    limits,
    default_class,
    sizes,
    special: |_, _, _| None,
};

/// Clearance between crest and root, as a factor of the pitch.
const CLEARANCE: f64 = 0.05;

/// The accepted depth reaches from what the mating crest needs as far again to the other side (our
/// own choice).
const fn profile(crest: f64, root: f64) -> Profile {
    Profile {
        depth: Spread::of_pitch(0.5 - CLEARANCE, 0.5, 0.5 + CLEARANCE),
        crest: End::radius(Spread::of_pitch(crest, crest, crest)),
        root: End::radius(Spread::of_pitch(0.0, root, root)),
    }
}

/// Flanks of 15° between arcs: R1 outside at crest and root, R2 and R3 inside.
const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(15.0)),
    external: profile(0.238_507, 0.238_507),
    internal: profile(0.255_967, 0.221_047),
    taper: 0.0,
    source: "DIN 405-1 (form, from memory)",
};

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    Basic {
        major: d,
        pitch: d - 0.5 * p,
        minor: d - (1.0 - 2.0 * CLEARANCE) * p,
        root: d - p,
    }
}

fn default_class(_: &Thread, side: Side) -> &'static str {
    match side {
        Side::External => "7h",
        Side::Internal => "7H",
    }
}

/// The tolerances of DIN 405-2 are not known; what position h and H leave at the basic size is.
fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    limits.unverified = true;
    limits.sources = vec![FORM.source];
    let basic = basic(thread);
    let known = |value: f64| Some(round_to(value, 0.001));
    match side {
        Side::External => {
            limits.major.max = known(basic.major);
            limits.pitch.max = known(basic.pitch);
            limits.minor.max = known(basic.root);
            limits.root.max = limits.minor.max;
        }
        Side::Internal => {
            let bottom = basic.minor + 2.0 * FORM.design_depth(side, thread.pitch.mm());
            limits.major.min = known(bottom);
            limits.pitch.min = known(basic.pitch);
            limits.minor.min = known(basic.minor);
            limits.root.min = limits.major.min;
        }
    }
    limits
        .notes
        .push("the tolerances of DIN 405-2 are not known here".to_owned());
    limits
}

/// Diameters in mm with their threads per inch (DIN 405-1, 64 sizes as a public data sheet lists
/// them).
const SIZES: [(i64, &[i64]); 4] = [
    (10, &[8, 9, 10, 11, 12]),
    (8, &[14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 34, 36, 38]),
    (
        6,
        &[
            40, 42, 44, 46, 48, 50, 52, 55, 58, 60, 62, 65, 68, 70, 72, 75, 78, 80, 82, 85, 88, 90,
            92, 95, 98, 100,
        ],
    ),
    (
        4,
        &[
            105, 110, 115, 120, 125, 130, 135, 140, 145, 150, 155, 160, 165, 170, 175, 180, 185,
            190, 195, 200,
        ],
    ),
];

fn sizes() -> &'static [Size] {
    static ALL: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let mut all = Vec::new();
        for (count, diameters) in SIZES {
            for d in diameters {
                all.extend(Lead::per_inch(count * 10_000).map(|pitch| Size {
                    name: None,
                    major: Diameter(Length::from_pm(d * 1_000_000_000)),
                    pitch,
                    series: "",
                    rank: 4,
                }));
            }
        }
        all
    });
    &ALL
}

const TAIL: Tail = Tail {
    class: |class, side| match side {
        Side::External => matches!(class, "6h" | "7h" | "8h"),
        Side::Internal => matches!(class, "6H" | "7H" | "8H"),
    },
    words: &[],
    sides: &[],
    numbers: &[405],
};

/// Reads `Rd 40x1/6`, `RD40X1/6LH`, `Rd 40x1/6-7h`. Without its pitch `Rd 40` is a bar.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    if !reader.eat_word("RD") {
        return None;
    }
    reader.blanks();
    let major = Diameter(reader.number()?.real(Units::Millimetre)?);
    if !reader.eat_spaced('X') || reader.integer() != Some(1) || !reader.eat('/') {
        return None;
    }
    let count = reader.number()?.ten_thousandths();
    if !(5_000..=400_000).contains(&count) {
        return reader.complain("the pitch of Rd is written as a part of an inch, like 1/6");
    }
    let pitch = Lead::per_inch(count)?;
    if pitch.mm() > major.mm() / 2.0 {
        return reader.complain(format!("this pitch leaves no core in Rd {major}"));
    }
    let mut thread = Thread::new(Family::Round, "", major, pitch);
    TAIL.read(reader, &mut thread)?;
    reader.looks = if thread.has_usual_pitch() {
        Looks::Named
    } else {
        Looks::Doubtful
    };
    Some(thread)
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    let count = threads_per_inch(thread.pitch).map_or(25.4 / thread.pitch.mm(), |n| n as f64 / 1e4);
    tail::finish(
        format!("Rd {}x1/{}", thread.major, decimals(count, 4)),
        thread,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("Rd 40x1/6", "Rd 40x1/6"),
            ("RD40X1/6LH", "Rd 40x1/6-LH"),
            ("Rd 40 × 1/6 LH", "Rd 40x1/6-LH"),
            ("Rd 40x1/6-7h", "Rd 40x1/6-7h"),
            ("Rd 12x1/10 DIN 405", "Rd 12x1/10"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
        }
        for other in ["Rd 40", "RD 40X100", "RD40-1/6", "Rd 4x1/4"] {
            assert!(parse(other, None).is_err(), "{other}");
        }
    }

    /// Arcs that touch both flanks leave a depth of half the pitch and the clearance, so the factors
    /// hold together.
    #[test]
    fn the_constants_of_the_form_agree() {
        let sharp = FORM.flanks.unwrap().sharp_height();
        let cut_off = |end: End| {
            let radius = end.radius.unwrap().design.per_pitch;
            radius * (15f64.to_radians().sin().recip() - 1.0)
        };
        for profile in [FORM.external, FORM.internal] {
            let depth = sharp - cut_off(profile.crest) - cut_off(profile.root);
            assert!((depth - 0.5).abs() < 1e-5, "{depth}");
        }
        let clearance = cut_off(FORM.external.crest) - cut_off(FORM.internal.root);
        assert!((clearance - CLEARANCE).abs() < 1e-5);
    }

    #[test]
    fn only_the_basic_ends_of_the_limits_are_known() {
        let thread = parse("Rd 40x1/6", None).unwrap();
        let (bolt, nut) = (thread.limits(Side::External), thread.limits(Side::Internal));
        assert!(bolt.unverified && bolt.pitch.min.is_none() && nut.pitch.max.is_none());
        assert_eq!(
            (bolt.pitch.max, nut.pitch.min),
            (Some(37.883), Some(37.883))
        );
        assert!(nut.major.min > bolt.major.max && nut.minor.min > bolt.minor.max);
    }
}
