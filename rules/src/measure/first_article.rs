//! The lines of a first-article sheet: what to check on the first part, the value wanted, and how.

use super::gauge_names::Gauge;
use super::taper::Taper;
use super::wires::Wires;
use crate::standards::limits::{Band, Limits};
use crate::standards::thread::Thread;
use crate::standards::{Hand, Side};

/// What a line wants to see.
#[derive(Debug, Clone, PartialEq)]
pub enum Wanted {
    /// A length in mm between two bounds.
    Between(Band),
    /// A word or a count, as it stands.
    Words(String),
    /// Nothing: the line is filled in by hand.
    ByHand,
}

/// One line of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What is checked.
    pub what: String,
    /// A length in mm that belongs behind `what`: the wires, the depth of the pass.
    pub with: Option<f64>,
    /// What is wanted.
    pub wanted: Wanted,
    /// How it is checked.
    pub how: String,
}

/// Start of the wear offset on the safe side, on the diameter in mm (common practice).
pub const SAFE_OFFSET: Band = Band::between(0.10, 0.15);
/// Radial depth of a pass that only marks the pitch, in mm (common practice).
pub const SCRATCH_DEPTH: f64 = 0.05;

/// The lines for one side of a thread, in the order in which they are worked off.
#[must_use]
pub fn lines(
    thread: &Thread,
    side: Side,
    limits: &Limits,
    wires: Option<&Wires>,
    gauges: &[Gauge],
) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut line = |what: &str, wanted: Wanted, how: &str| {
        lines.push(Line {
            what: what.to_owned(),
            with: None,
            wanted,
            how: how.to_owned(),
        });
    };
    let safe = match side {
        Side::External => "wear offset of the first cut: larger in X by",
        Side::Internal => "wear offset of the first cut: smaller in X by",
    };
    let how = "on the diameter; take it out after gauging (common practice)";
    line(safe, Wanted::Between(SAFE_OFFSET), how);
    let lead = exactly(thread.lead().mm());
    line(SCRATCH, lead, "pitch gauge, or rule over ten threads");
    let hand = match thread.hand {
        Hand::Right => "right",
        Hand::Left => "left",
    };
    line("hand", Wanted::Words(hand.to_owned()), "by eye");
    if thread.starts > 1 {
        let count = Wanted::Words(thread.starts.to_string());
        line("starts", count, "count the grooves at the end face");
    }
    let crest = match side {
        Side::External => ("major diameter", limits.major, "micrometer"),
        Side::Internal => ("minor diameter", limits.minor, "plain plug or bore gauge"),
    };
    line(crest.0, Wanted::Between(crest.1), crest.2);
    line(
        "pitch diameter",
        Wanted::Between(limits.pitch),
        match side {
            Side::External => "thread micrometer, or from the reading over wires",
            Side::Internal => "from the reading over two balls",
        },
    );
    if let Some(wires) = wires {
        let (what, how) = match side {
            Side::External => (OVER_WIRES, "outside micrometer"),
            Side::Internal => (OVER_BALLS, "internal comparator set with a ring"),
        };
        line(what, Wanted::Between(wires.over), how);
    }
    if let Some(taper) = Taper::of(thread.form().taper) {
        let wanted = Wanted::Words(format!("1 in {:.4} on the diameter", taper.one_in()));
        line(
            "taper",
            wanted,
            "sine bar, or two diameters a known length apart",
        );
    }
    for gauge in gauges {
        line(
            &gauge.name,
            Wanted::Words("passes".to_owned()),
            gauge.passes,
        );
    }
    let clean = Wanted::Words("clean".to_owned());
    line("burrs, first and last thread", clean, "by eye and nail");
    line("released by", Wanted::ByHand, "measured, date, name");
    for line in &mut lines {
        line.with = match line.what.as_str() {
            SCRATCH => Some(SCRATCH_DEPTH),
            OVER_WIRES | OVER_BALLS => wires.map(|wires| wires.wire),
            _ => None,
        };
    }
    lines
}

const SCRATCH: &str = "lead, on a scratch pass of";
const OVER_WIRES: &str = "over three wires of";
const OVER_BALLS: &str = "over two balls of";

fn exactly(value: f64) -> Wanted {
    Wanted::Between(Band::between(value, value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::gauge_names::gauges;
    use crate::measure::wires::wires;
    use crate::standards::designation::parse;

    #[test]
    fn a_sheet_holds_every_band_that_is_known() {
        let thread = parse("M16xPh3P1-6g", None).unwrap();
        let side = Side::External;
        let limits = thread.limits(side);
        let over = wires(&thread, side, &limits, None).unwrap();
        let gauges = gauges(&thread, side, &limits);
        let lines = lines(&thread, side, &limits, Some(&over), &gauges);
        let wanted = |what: &str| {
            let line = lines.iter().find(|line| line.what.starts_with(what));
            line.unwrap_or_else(|| panic!("no line {what}"))
                .wanted
                .clone()
        };
        assert_eq!(wanted("pitch diameter"), Wanted::Between(limits.pitch));
        assert_eq!(wanted("major diameter"), Wanted::Between(limits.major));
        assert_eq!(wanted("over three wires"), Wanted::Between(over.over));
        assert_eq!(wanted("lead"), exactly(3.0));
        assert_eq!(wanted("starts"), Wanted::Words("3".to_owned()));
        assert_eq!(wanted("released"), Wanted::ByHand);
        let passing = lines
            .iter()
            .filter(|line| line.wanted == Wanted::Words("passes".into()));
        assert_eq!(passing.count(), gauges.len());
    }
}
