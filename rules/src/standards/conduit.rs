//! Steel conduit threads Pg: DIN 40430, 80°. Everything is from memory; the depth agrees with the
//! angle and the radius.

use std::sync::LazyLock;

use lexer::units::{Diameter, Lead, Length, Units};

use super::form::{End, Flanks, Form, Profile, Spread};
use super::limits::{Basic, Limits, round_to};
use super::reader::{Looks, Reader};
use super::tail::{self, Tail};
use super::thread::Thread;
use super::{Family, Side, Size, Standard, either_side, parallel};

/// What the project knows of steel conduit threads.
pub(super) static STANDARD: Standard = Standard {
    name: "steel conduit",
    standards: "DIN 40430",
    units: Units::Millimetre,
    several_starts: false,
    initials: "P",
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

/// Depth inside and outside.
const DEPTH: f64 = 0.476_952;
/// Radius at crests and roots.
const RADIUS: f64 = 0.107;
/// How far the accepted depth reaches to either side (our own choice).
const SLACK: f64 = 0.03;

const PROFILE: Profile = Profile {
    depth: Spread::of_pitch(DEPTH - SLACK, DEPTH, DEPTH + SLACK),
    crest: End::radius(Spread::of_pitch(RADIUS, RADIUS, RADIUS)),
    root: End::radius(Spread::of_pitch(0.0, RADIUS, RADIUS)),
};

const FORM: Form = Form {
    flanks: Some(Flanks::symmetric(40.0)),
    external: PROFILE,
    internal: PROFILE,
    taper: 0.0,
    source: "DIN 40430 (form and sizes, from memory)",
};

fn basic(thread: &Thread) -> Basic {
    let (d, p) = (thread.major.mm(), thread.pitch.mm());
    let minor = d - 2.0 * DEPTH * p;
    Basic {
        major: d,
        pitch: d - DEPTH * p,
        minor,
        root: minor,
    }
}

fn limits(thread: &Thread, side: Side, class: &str) -> Limits {
    let mut limits = Limits::open(side, class, Units::Millimetre);
    limits.unverified = true;
    limits.sources = vec![FORM.source];
    let basic = basic(thread);
    let known = |value: f64| Some(round_to(value, 0.01));
    match side {
        Side::External => {
            limits.major.max = known(basic.major);
            limits.minor.max = known(basic.minor);
        }
        Side::Internal => {
            limits.major.min = known(basic.major);
            limits.minor.min = known(basic.minor);
        }
    }
    limits
        .notes
        .push("the tolerances of DIN 40430 are not known here".to_owned());
    limits
}

/// Name, diameter in µm and threads per inch.
const SIZES: [(&str, i64, i64); 10] = [
    ("7", 12_500, 20),
    ("9", 15_200, 18),
    ("11", 18_600, 18),
    ("13.5", 20_400, 18),
    ("16", 22_500, 18),
    ("21", 28_300, 16),
    ("29", 37_000, 16),
    ("36", 47_000, 16),
    ("42", 54_000, 16),
    ("48", 59_300, 16),
];

fn sizes() -> &'static [Size] {
    static ALL: LazyLock<Vec<Size>> = LazyLock::new(|| {
        let size = |(name, um, count): (&'static str, i64, i64)| {
            Some(Size {
                name: Some(name),
                major: Diameter(Length::from_pm(um * 1_000_000)),
                pitch: Lead::per_inch(count * 10_000)?,
                series: "",
                rank: 5,
            })
        };
        SIZES.into_iter().filter_map(size).collect()
    });
    &ALL
}

/// Reads `Pg 16`, `PG13,5`, `Pg 21 LH`. A page of a document can look the same.
fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    if !reader.eat_word("PG") {
        return None;
    }
    reader.blanks();
    let number = reader.number()?.value();
    let size = sizes().iter().find(|size| {
        let name = size.name.and_then(|name| name.parse::<f64>().ok());
        name.is_some_and(|name| (name - number).abs() < 1e-9)
    });
    let Some(size) = size else {
        return reader.complain("this is no size of Pg: 7, 9, 11, 13.5, 16, 21, 29, 36, 42, 48");
    };
    let mut thread = Thread::of_size(Family::Conduit, size);
    thread.written.pitch = false;
    Tail::PLAIN.read(reader, &mut thread)?;
    reader.looks = Looks::Bare;
    Some(thread)
}

/// Prints the canonical text that `read` takes back.
fn write(thread: &Thread) -> String {
    tail::finish(format!("Pg {}", thread.name.unwrap_or_default()), thread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    #[test]
    fn notations() {
        for (written, canonical) in [
            ("Pg 16", "Pg 16"),
            ("PG13,5", "Pg 13.5"),
            ("PG 13.5", "Pg 13.5"),
            ("Pg 21 LH", "Pg 21-LH"),
        ] {
            let thread = parse(written, None).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(thread.designation(), canonical, "{written}");
        }
        assert!(
            parse("PG 12", None)
                .unwrap_err()
                .reason
                .contains("no size of Pg")
        );
    }

    /// Arcs of this radius that touch both flanks leave this depth.
    #[test]
    fn the_depth_agrees_with_angle_and_radius() {
        let sharp = FORM.flanks.unwrap().sharp_height();
        let cut_off = RADIUS * (40f64.to_radians().sin().recip() - 1.0);
        assert!((sharp - 2.0 * cut_off - DEPTH).abs() < 1e-5);
    }

    #[test]
    fn limits_are_one_sided_and_marked() {
        let thread = parse("Pg 16", None).unwrap();
        let (bolt, nut) = (thread.limits(Side::External), thread.limits(Side::Internal));
        assert!(bolt.unverified && !bolt.notes.is_empty());
        assert_eq!((bolt.major.max, bolt.major.min), (Some(22.5), None));
        assert_eq!((nut.minor.min, nut.minor.max), (Some(21.15), None));
    }
}
