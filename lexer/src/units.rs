//! Lengths, leads and speeds as exact values. One unit of [`Length`] is 1e-9 mm, so that every
//! metric literal to nine decimals and every inch literal to eight is held without rounding.

use std::fmt;
use std::ops::{Add, AddAssign, Mul, Neg, Sub};

/// Length units of a program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Units {
    /// Millimetres.
    Millimetre,
    /// Inches of exactly 25.4 mm.
    Inch,
}

impl Units {
    /// Picometres in one unit.
    #[must_use]
    pub const fn pm(self) -> i64 {
        match self {
            Units::Millimetre => 1_000_000_000,
            Units::Inch => 25_400_000_000,
        }
    }

    /// Short name, `mm` or `in`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Units::Millimetre => "mm",
            Units::Inch => "in",
        }
    }

    /// Conventional least input increment: 0.001 mm or 0.0001 in (common practice of controls).
    #[must_use]
    pub const fn least_increment(self) -> Length {
        match self {
            Units::Millimetre => Length(1_000_000),
            Units::Inch => Length(2_540_000),
        }
    }

    /// A length given in these units as floating point, rounded to the nearest picometre.
    #[must_use]
    pub fn length(self, value: f64) -> Length {
        Length((value * self.pm() as f64).round() as i64)
    }

    /// The value of `length` counted in these units.
    #[must_use]
    pub fn value_of(self, length: Length) -> f64 {
        length.0 as f64 / self.pm() as f64
    }
}

/// A signed length, exact to 1e-9 mm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Length(i64);

impl Length {
    /// No length.
    pub const ZERO: Length = Length(0);

    /// From picometres (1e-9 mm).
    #[must_use]
    pub const fn from_pm(pm: i64) -> Self {
        Length(pm)
    }

    /// From millimetres, rounded to the nearest picometre; saturates outside ±9.2e9 mm.
    #[must_use]
    pub fn from_mm(mm: f64) -> Self {
        Length((mm * 1e9).round() as i64)
    }

    /// Picometres.
    #[must_use]
    pub const fn pm(self) -> i64 {
        self.0
    }

    /// Millimetres as floating point.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// Magnitude.
    #[must_use]
    pub const fn abs(self) -> Self {
        Length(self.0.saturating_abs())
    }

    /// Half of the length.
    #[must_use]
    pub const fn half(self) -> Self {
        Length(self.0 / 2)
    }

    /// Twice the length.
    #[must_use]
    pub const fn double(self) -> Self {
        Length(self.0.saturating_mul(2))
    }

    /// -1, 0 or 1.
    #[must_use]
    pub const fn signum(self) -> i64 {
        self.0.signum()
    }

    /// Whether the length is exactly zero.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// Whether two lengths differ by no more than `tolerance`.
    #[must_use]
    pub const fn near(self, other: Length, tolerance: Length) -> bool {
        self.0.saturating_sub(other.0).saturating_abs() <= tolerance.0
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        *self = *self + other;
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0.saturating_sub(other.0))
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(self.0.saturating_neg())
    }
}

impl Mul<i64> for Length {
    type Output = Length;
    fn mul(self, factor: i64) -> Length {
        Length(self.0.saturating_mul(factor))
    }
}

impl fmt::Display for Length {
    /// Millimetres with the digits needed, no trailing zeros.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let magnitude = self.0.unsigned_abs();
        let (whole, fraction) = (magnitude / 1_000_000_000, magnitude % 1_000_000_000);
        let sign = if self.0 < 0 { "-" } else { "" };
        if fraction == 0 {
            return write!(f, "{sign}{whole}");
        }
        let digits = format!("{fraction:09}");
        write!(f, "{sign}{whole}.{}", digits.trim_end_matches('0'))
    }
}

/// A length measured across the axis of rotation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Diameter(pub Length);

/// A length measured from the axis, or a depth at right angles to it: half of a difference of
/// diameters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Radial(pub Length);

impl Diameter {
    /// From millimetres.
    #[must_use]
    pub fn from_mm(mm: f64) -> Self {
        Diameter(Length::from_mm(mm))
    }

    /// Millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.0.mm()
    }

    /// The radial distance from `inner` to this diameter, negative when it lies inside `inner`.
    #[must_use]
    pub fn above(self, inner: Diameter) -> Radial {
        Radial((self.0 - inner.0).half())
    }

    /// The diameter that lies `radial` farther out.
    #[must_use]
    pub fn out_by(self, radial: Radial) -> Diameter {
        Diameter(self.0 + radial.0.double())
    }

    /// The diameter that lies `radial` farther in.
    #[must_use]
    pub fn in_by(self, radial: Radial) -> Diameter {
        Diameter(self.0 - radial.0.double())
    }

    /// Magnitude: a tool behind the centre line programs negative diameters.
    #[must_use]
    pub fn abs(self) -> Diameter {
        Diameter(self.0.abs())
    }
}

impl Radial {
    /// From millimetres.
    #[must_use]
    pub fn from_mm(mm: f64) -> Self {
        Radial(Length::from_mm(mm))
    }

    /// Millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.0.mm()
    }
}

impl fmt::Display for Diameter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Display for Radial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// Advance per turn as a ratio, so that 25.4 mm / 13 threads is exact.
#[derive(Debug, Clone, Copy)]
pub struct Lead {
    /// Advance in picometres over `turns` turns; negative where a program writes it so.
    pm: i64,
    turns: i64,
}

impl Lead {
    /// A lead written as a length per turn.
    #[must_use]
    pub const fn per_turn(length: Length) -> Self {
        Lead {
            pm: length.pm(),
            turns: 1,
        }
    }

    /// A lead from threads per inch given in units of 1e-4 threads (`115_000` is 11.5 per inch).
    ///
    /// Returns `None` for zero threads.
    #[must_use]
    pub const fn per_inch(ten_thousandths: i64) -> Option<Self> {
        if ten_thousandths == 0 {
            return None;
        }
        Some(Lead {
            pm: 25_400_000_000 * 10_000,
            turns: ten_thousandths,
        })
    }

    /// A lead from an advance over a number of turns given in units of 1e-4 turns: a feed per
    /// minute over a speed. `None` for no turns, or where the advance is out of all proportion.
    #[must_use]
    pub const fn over(advance: Length, ten_thousandths: i64) -> Option<Self> {
        match advance.pm().checked_mul(10_000) {
            Some(pm) if ten_thousandths > 0 => Some(Lead {
                pm,
                turns: ten_thousandths,
            }),
            _ => None,
        }
    }

    /// Millimetres per turn.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.pm as f64 / self.turns as f64 / 1e9
    }

    /// The lead rounded to the nearest picometre.
    #[must_use]
    pub fn length(self) -> Length {
        let (n, d) = (i128::from(self.pm), i128::from(self.turns));
        let rounded = (2 * n + d * n.signum() * d.signum()) / (2 * d);
        Length(i64::try_from(rounded).unwrap_or(i64::MAX))
    }

    /// The lead of a thread with `starts` starts and this pitch.
    #[must_use]
    pub const fn times(self, starts: u32) -> Self {
        Lead {
            pm: self.pm.saturating_mul(starts as i64),
            turns: self.turns,
        }
    }

    /// The pitch of a thread with `starts` starts and this lead; `starts` of 0 counts as 1.
    #[must_use]
    pub const fn divided(self, starts: u32) -> Self {
        let starts = if starts == 0 { 1 } else { starts as i64 };
        Lead {
            pm: self.pm,
            turns: self.turns.saturating_mul(starts),
        }
    }

    /// Whether the lead is zero.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.pm == 0
    }

    /// Magnitude.
    #[must_use]
    pub const fn abs(self) -> Self {
        Lead {
            pm: self.pm.saturating_abs(),
            turns: self.turns.saturating_abs(),
        }
    }
}

impl PartialEq for Lead {
    fn eq(&self, other: &Lead) -> bool {
        i128::from(self.pm) * i128::from(other.turns)
            == i128::from(other.pm) * i128::from(self.turns)
    }
}

impl Eq for Lead {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inch_leads_are_ratios() {
        let thirteen = Lead::per_inch(130_000).unwrap();
        assert_eq!(thirteen.length().pm(), 1_953_846_154);
        assert_ne!(thirteen, Lead::per_turn(thirteen.length()));
        assert_eq!(thirteen.times(2).divided(2), thirteen);
        assert_eq!(
            Lead::per_inch(160_000).unwrap(),
            Lead::per_turn(Length::from_mm(1.5875))
        );
    }

    #[test]
    fn lengths_print_their_digits() {
        assert_eq!(Length::from_mm(-0.05).to_string(), "-0.05");
        assert_eq!(Length::from_mm(24.0).to_string(), "24");
        assert_eq!(Units::Inch.length(0.059055).to_string(), "1.499997");
    }

    #[test]
    fn diameters_and_radial_depths_differ_by_two() {
        let crest = Diameter::from_mm(24.0);
        let root = crest.in_by(Radial::from_mm(1.84));
        assert_eq!(root, Diameter::from_mm(20.32));
        assert_eq!(crest.above(root), Radial::from_mm(1.84));
    }
}
