//! Lengths in mm as text in the units of a reader.

use lexer::units::Units;
use rules::standards::limits::Band;

/// Writes lengths in one unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Lengths(pub(crate) Units);

impl Lengths {
    /// In these units.
    pub(crate) fn value(self, mm: f64) -> f64 {
        match self.0 {
            Units::Millimetre => mm,
            Units::Inch => mm / 25.4,
        }
    }

    /// `mm` or `in`.
    pub(crate) fn name(self) -> &'static str {
        self.0.name()
    }

    /// Three decimals of a millimetre, four of an inch; no unit.
    pub(crate) fn fixed(self, mm: f64) -> String {
        let decimals = match self.0 {
            Units::Millimetre => 3,
            Units::Inch => 4,
        };
        plain(self.value(mm), decimals)
    }

    /// The same, with the unit.
    pub(crate) fn with_unit(self, mm: f64) -> String {
        format!("{} {}", self.fixed(mm), self.name())
    }

    /// As many digits as the length needs, at most so many decimals more than usual; with the unit.
    pub(crate) fn needed(self, mm: f64, more: usize) -> String {
        let decimals = more
            + match self.0 {
                Units::Millimetre => 3,
                Units::Inch => 4,
            };
        let text = trimmed(self.value(mm), decimals);
        format!("{text} {}", self.name())
    }

    /// `1.624 to 1.949 mm`, with words for open ends.
    pub(crate) fn band(self, band: Band) -> String {
        let name = self.name();
        match (band.min, band.max) {
            (Some(min), Some(max)) if self.fixed(min) == self.fixed(max) => self.with_unit(min),
            (Some(min), Some(max)) => format!("{} to {} {name}", self.fixed(min), self.fixed(max)),
            (Some(min), None) => format!("at least {}", self.with_unit(min)),
            (None, Some(max)) => format!("at most {}", self.with_unit(max)),
            (None, None) => "not known".to_owned(),
        }
    }
}

/// A number with so many decimals and no sign before zero.
pub(crate) fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// A number with at most so many decimals.
pub(crate) fn trimmed(value: f64, decimals: usize) -> String {
    let text = plain(value, decimals);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits() {
        let (mm, inch) = (Lengths(Units::Millimetre), Lengths(Units::Inch));
        assert_eq!(mm.with_unit(22.0031), "22.003 mm");
        assert_eq!(inch.with_unit(12.7), "0.5000 in");
        assert_eq!(inch.needed(25.4 / 13.0, 2), "0.076923 in");
        assert_eq!(mm.needed(3.0, 0), "3 mm");
        assert_eq!(mm.needed(20.0, 0), "20 mm");
        assert_eq!(mm.fixed(-0.0001), "0.000");
        assert_eq!(mm.band(Band::from(1.0)), "at least 1.000 mm");
        assert_eq!(mm.band(Band::between(1.0, 1.00001)), "1.000 mm");
    }
}
