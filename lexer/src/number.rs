//! A number as it was written: digits, decimals, point or none. What it means as a length depends
//! on the units and on how the control reads a number without a point.

use crate::units::{Length, Units};

/// How a control reads a length without a decimal point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DecimalRule {
    /// `X20` is 20 units.
    #[default]
    Whole,
    /// `X20` is 20 least increments (0.020 mm or 0.0020 in).
    LeastIncrement,
}

/// A decimal literal with its spelling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Number {
    /// All digits as one integer, sign included.
    pub digits: i64,
    /// Digits after the point.
    pub decimals: u8,
    /// Digits before the point, leading zeros included.
    pub whole_digits: u8,
    /// Whether a point (or a comma taken for one) was written.
    pub point: bool,
    /// Whether a sign was written.
    pub signed: bool,
    /// Whether digits were dropped because the literal is longer than any control reads.
    pub clipped: bool,
}

impl Number {
    /// Reads a literal of digits, one sign and one point; blanks inside are skipped, as the open
    /// interpreter does. Returns `None` when there is no digit.
    #[must_use]
    pub fn parse(text: &[u8]) -> Option<Number> {
        let mut number = Number::default();
        let (mut negative, mut seen) = (false, false);
        for &byte in text {
            match byte {
                b'0'..=b'9' => {
                    seen = true;
                    let digit = i64::from(byte - b'0');
                    match number
                        .digits
                        .checked_mul(10)
                        .and_then(|d| d.checked_add(digit))
                    {
                        Some(digits) if number.decimals < 18 => {
                            number.digits = digits;
                            if number.point {
                                number.decimals += 1;
                            } else {
                                number.whole_digits = number.whole_digits.saturating_add(1);
                            }
                        }
                        _ => number.clipped = true,
                    }
                }
                b'.' | b',' => number.point = true,
                b'-' => (negative, number.signed) = (true, true),
                b'+' => number.signed = true,
                _ => {}
            }
        }
        if negative {
            number.digits = -number.digits;
        }
        seen.then_some(number)
    }

    /// The literal that begins at `at` and its end: a sign at most, digits and a point at most, no
    /// blanks, fifteen digits at most. `None` for everything else.
    #[must_use]
    pub(crate) fn plain(bytes: &[u8], at: usize) -> Option<(Number, usize)> {
        let rest = bytes.get(at..)?;
        let sign = *rest.first()?;
        let signed = matches!(sign, b'+' | b'-');
        let rest = &rest[usize::from(signed)..];
        let run = |digits: &mut i64, rest: &[u8]| {
            let mut length = 0;
            while let Some(byte @ b'0'..=b'9') = rest.get(length).copied() {
                *digits = digits.wrapping_mul(10).wrapping_add(i64::from(byte - b'0'));
                length += 1;
            }
            length
        };
        let mut digits = 0;
        let whole = run(&mut digits, rest);
        let mut length = whole;
        let point = rest.get(whole) == Some(&b'.');
        let mut decimals = 0;
        if point {
            decimals = run(&mut digits, &rest[whole + 1..]);
            length += 1 + decimals;
        }
        // Fifteen digits fit in any case.
        if whole + decimals == 0 || whole + decimals > 15 {
            return None;
        }
        let number = Number {
            digits: if sign == b'-' { -digits } else { digits },
            decimals: decimals as u8,
            whole_digits: whole as u8,
            point,
            signed,
            clipped: false,
        };
        Some((number, at + usize::from(signed) + length))
    }

    /// The plain value.
    #[must_use]
    pub fn value(self) -> f64 {
        self.digits as f64 / 10f64.powi(i32::from(self.decimals))
    }

    /// The value where it is a whole number, with or without a point.
    #[must_use]
    pub fn integer(self) -> Option<i64> {
        let scale = 10i64.checked_pow(u32::from(self.decimals))?;
        (self.digits % scale == 0).then(|| self.digits / scale)
    }

    /// The value in ten-thousandths, rounded; saturates.
    #[must_use]
    pub fn ten_thousandths(self) -> i64 {
        (self.value() * 10_000.0).round() as i64
    }

    /// The number as a length in real units, point or not. `None` when it does not fit.
    #[must_use]
    pub fn real(self, units: Units) -> Option<Length> {
        if self.clipped {
            return None;
        }
        if let (Some(exact), 0..=9) = (self.digits.checked_mul(units.pm()), self.decimals) {
            let scale = 10i64.pow(u32::from(self.decimals));
            if exact % scale == 0 {
                return Some(Length::from_pm(exact / scale));
            }
        }
        let scale = 10i128.pow(u32::from(self.decimals));
        let exact = i128::from(self.digits) * i128::from(units.pm());
        let half = if exact < 0 { -(scale / 2) } else { scale / 2 };
        i64::try_from((exact + half) / scale)
            .ok()
            .map(Length::from_pm)
    }

    /// The number as a length: real units with a point, by `rule` without one.
    #[must_use]
    pub fn length(self, units: Units, rule: DecimalRule) -> Option<Length> {
        if self.point || rule == DecimalRule::Whole {
            return self.real(units);
        }
        self.increments(units)
    }

    /// The number as a count of least increments. `None` when it does not fit.
    #[must_use]
    pub fn increments(self, units: Units) -> Option<Length> {
        let scale = 10i128.pow(u32::from(self.decimals));
        let exact = i128::from(self.digits) * i128::from(units.least_increment().pm());
        i64::try_from(exact / scale).ok().map(Length::from_pm)
    }

    /// Writes `value` the way this number is written: the same point habit, leading zeros and
    /// at least the decimals needed, never fewer than a bare trailing point where one stood.
    #[must_use]
    pub fn restyle(self, value: f64, max_decimals: u8) -> String {
        if !self.point {
            let value = value.round() as i64;
            let width = usize::from(self.whole_digits);
            let padded = width > self.digits.unsigned_abs().max(1).ilog10() as usize + 1;
            return match (padded, value < 0) {
                (true, true) => format!("{value:0width$}", width = width + 1),
                (true, false) => format!("{value:0width$}"),
                (false, _) => value.to_string(),
            };
        }
        let mut text = format!("{:.*}", usize::from(max_decimals.max(self.decimals)), value);
        if text.contains('.') {
            while text.ends_with('0')
                && text.len() - text.find('.').unwrap_or(0) - 1 > usize::from(self.decimals)
            {
                text.pop();
            }
        }
        if !text.contains('.') {
            text.push('.');
        }
        let bare = self.whole_digits == 0;
        if bare && let Some(rest) = text.strip_prefix("0.") {
            text = format!(".{rest}");
        } else if bare && let Some(rest) = text.strip_prefix("-0.") {
            text = format!("-.{rest}");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str) -> Number {
        Number::parse(text.as_bytes()).unwrap()
    }

    #[test]
    fn spelling_is_kept() {
        let n = number("+0035000");
        assert_eq!(
            (n.digits, n.decimals, n.whole_digits, n.point),
            (35000, 0, 7, false)
        );
        let n = number("-.05");
        assert_eq!(
            (n.digits, n.decimals, n.whole_digits, n.point),
            (-5, 2, 0, true)
        );
        assert_eq!(
            number("5.").real(Units::Millimetre),
            Some(Length::from_mm(5.0))
        );
        assert_eq!(number("+0. 12 34").value(), 0.1234);
        assert_eq!(Number::parse(b"-."), None);
    }

    #[test]
    fn eight_inch_decimals_are_exact() {
        assert_eq!(
            number("0.07692308").real(Units::Inch),
            Some(Length::from_pm(1_953_846_232))
        );
        assert_eq!(
            number(".00000001").real(Units::Inch),
            Some(Length::from_pm(254))
        );
    }

    #[test]
    fn least_increments() {
        let rule = DecimalRule::LeastIncrement;
        assert_eq!(
            number("920").length(Units::Millimetre, rule),
            Some(Length::from_mm(0.92))
        );
        assert_eq!(
            number("140").length(Units::Inch, rule),
            Some(Length::from_mm(0.3556))
        );
        assert_eq!(
            number("0.92").length(Units::Millimetre, rule),
            Some(Length::from_mm(0.92))
        );
        assert_eq!(
            number("20").length(Units::Millimetre, DecimalRule::Whole),
            Some(Length::from_mm(20.0))
        );
    }

    #[test]
    fn restyled_like_the_shop_writes() {
        assert_eq!(number("92").restyle(920.4, 3), "920");
        assert_eq!(number("0500").restyle(200.0, 0), "0200");
        assert_eq!(number("021055").restyle(10_055.0, 0), "010055");
        assert_eq!(number("0").restyle(12.0, 0), "12");
        assert_eq!(number(".05").restyle(0.5, 3), ".50");
        assert_eq!(number("20.").restyle(18.0, 3), "18.");
        assert_eq!(number("20.0").restyle(20.319, 3), "20.319");
        assert_eq!(number("1.5").restyle(2.0, 4), "2.0");
    }

    #[test]
    fn too_long_is_said() {
        assert!(number("99999999999999999999999").clipped);
        assert_eq!(number("99999999999999999999999").real(Units::Inch), None);
    }
}
