//! A calendar date, as waivers and fact files write it. The day of today comes from the caller:
//! nothing here asks a clock.

use std::fmt;

/// A day of the Gregorian calendar, ordered by time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

impl Date {
    /// A day that exists, years 1 to 9999.
    #[must_use]
    pub fn new(year: u16, month: u8, day: u8) -> Option<Date> {
        let leap = year.is_multiple_of(4) && !year.is_multiple_of(100) || year.is_multiple_of(400);
        let days = match month {
            1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
            4 | 6 | 9 | 11 => 30,
            2 if leap => 29,
            2 => 28,
            _ => return None,
        };
        let fits = (1..=9999).contains(&year) && (1..=days).contains(&day);
        fits.then_some(Date { year, month, day })
    }

    /// Reads `2027-03-31`, the calendar date of ISO 8601 in its extended form.
    #[must_use]
    pub fn parse(text: &str) -> Option<Date> {
        let mut parts = text.split('-');
        let mut part = |digits: usize| {
            let part = parts.next()?;
            let sound = part.len() == digits && part.bytes().all(|byte| byte.is_ascii_digit());
            if sound {
                part.parse::<u16>().ok()
            } else {
                None
            }
        };
        let (year, month, day) = (part(4)?, part(2)?, part(2)?);
        if parts.next().is_some() {
            return None;
        }
        Date::new(year, u8::try_from(month).ok()?, u8::try_from(day).ok()?)
    }
}

impl fmt::Display for Date {
    /// `2027-03-31`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_days_that_exist_are_read() {
        for text in ["2027-03-31", "2028-02-29", "2000-02-29", "0001-01-01"] {
            assert_eq!(Date::parse(text).unwrap().to_string(), text);
        }
        for text in [
            "2027-02-29",
            "1900-02-29",
            "2027-04-31",
            "2027-13-01",
            "2027-00-01",
            "2027-1-1",
            "27-01-01",
            "2027-01-01-01",
            "2027/01/01",
            "",
            "+027-01-01",
            "0000-01-01",
        ] {
            assert_eq!(Date::parse(text), None, "{text}");
        }
    }

    #[test]
    fn dates_are_ordered_by_time() {
        let date = |text| Date::parse(text).unwrap();
        assert!(date("2026-12-31") < date("2027-01-01"));
        assert!(date("2027-01-31") < date("2027-02-01"));
    }
}
