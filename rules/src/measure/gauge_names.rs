//! The gauges that decide on a thread, by the names under which they are ordered.
//!
//! Names and rules of acceptance follow ISO 1502 for families in millimetres and ASME B1.2 for those
//! in inches (both from memory; the two are for M and for UN, the other families go by the same
//! pattern).

use lexer::units::Units;

use crate::standards::limits::{Band, Limits};
use crate::standards::thread::Thread;
use crate::standards::{Hand, Side};

/// A gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct Gauge {
    /// What it is ordered by.
    pub name: String,
    /// What it checks.
    pub checks: &'static str,
    /// The limit it stands for in mm, where one is known.
    pub size: Option<f64>,
    /// When the part passes.
    pub passes: &'static str,
}

/// Where the rules of acceptance come from.
pub const SOURCE: &str = "gauges: by the pattern of ISO 1502 and ASME B1.2 (from memory)";

/// The gauges for one side of a thread; none where no limit of the pitch diameter is known. A taper
/// thread has one, which is read at its gauge plane.
#[must_use]
pub fn gauges(thread: &Thread, side: Side, limits: &Limits) -> Vec<Gauge> {
    let name = thread.designation_for(side);
    let (ring, plain) = match side {
        Side::External => ("thread ring", "plain snap or ring"),
        Side::Internal => ("thread plug", "plain plug"),
    };
    if thread.form().taper != 0.0 {
        return vec![Gauge {
            name: format!("{name} taper {ring}"),
            checks: "where the gauge stands at its gauge plane",
            size: None,
            passes: "its face lies where the standard allows",
        }];
    }
    if limits.pitch == Band::OPEN {
        return Vec::new();
    }
    let inch = thread.units() == Units::Inch;
    let not_go = match (inch, side) {
        (false, _) => "NOT GO",
        (true, Side::External) => "NOT GO (LO)",
        (true, Side::Internal) => "NOT GO (HI)",
    };
    let stops = if inch {
        "does not enter, or drags by the third turn"
    } else {
        "does not enter, or stops within two turns"
    };
    let goes = match thread.hand {
        Hand::Right => "screws freely over its whole length",
        Hand::Left => "screws freely, left-hand, over its whole length",
    };
    let (crest, crest_name, pitch) = match side {
        Side::External => (limits.major, "major diameter", limits.pitch),
        Side::Internal => (limits.minor, "minor diameter", limits.pitch),
    };
    // The go limit is the one with most material.
    let (pitch_go, pitch_not, crest_go, crest_not) = match side {
        Side::External => (pitch.max, pitch.min, crest.max, crest.min),
        Side::Internal => (pitch.min, pitch.max, crest.min, crest.max),
    };
    let gauge = |name: String, checks, size, passes| Gauge {
        name,
        checks,
        size,
        passes,
    };
    let mut gauges = vec![
        gauge(
            format!("{name} GO {ring}"),
            "pitch diameter, form and lead together",
            pitch_go,
            goes,
        ),
        gauge(
            format!("{name} {not_go} {ring}"),
            "pitch diameter alone",
            pitch_not,
            stops,
        ),
    ];
    if let (Some(_), Some(_)) = (crest_go, crest_not) {
        let slides = match side {
            Side::External => "goes over the crests",
            Side::Internal => "goes into the hole",
        };
        for (word, size, passes) in [
            ("GO", crest_go, slides),
            ("NOT GO", crest_not, "does not go"),
        ] {
            gauges.push(gauge(format!("{word} {plain}"), crest_name, size, passes));
        }
    }
    gauges
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::standards::designation::parse;

    fn names(name: &str) -> Vec<(String, Option<f64>)> {
        let thread = parse(name, None).unwrap();
        let side = thread.side.unwrap();
        let gauges = gauges(&thread, side, &thread.limits(side));
        gauges.into_iter().map(|g| (g.name, g.size)).collect()
    }

    #[test]
    fn the_go_gauge_stands_for_most_material() {
        let external = names("M24x3-6g");
        assert_eq!(external[0].0, "M24x3-6g GO thread ring");
        assert_eq!(external[0].1, Some(22.003));
        assert_eq!(external[1].1, Some(21.803));
        let internal = names("M10x1.5-6H");
        assert_eq!(
            internal[0],
            ("M10x1.5-6H GO thread plug".into(), Some(9.026))
        );
        assert_eq!(internal[3], ("NOT GO plain plug".into(), Some(8.676)));
        let inch = names("1/2-13 UNC-2A");
        assert_eq!(inch[1].0, "1/2-13 UNC-2A NOT GO (LO) thread ring");
    }
}
