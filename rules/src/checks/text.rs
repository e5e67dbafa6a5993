//! Numbers and words for messages.

use lexer::number::Number;
use lexer::source::{Span, decode};
use lexer::units::{Lead, Length, Units};

/// A length in mm with at most `decimals` decimals, and in inches in front of it for an inch
/// program: `0.0767 in (1.948 mm)`.
#[must_use]
pub fn length(value: Length, units: Units) -> String {
    match units {
        Units::Millimetre => format!("{} mm", mm(value.mm())),
        Units::Inch => format!("{} in ({} mm)", inch(value.mm()), mm(value.mm())),
    }
}

/// A lead or pitch with the digits it needs: `2.5 mm`, `0.076923 in (1.95385 mm)`.
#[must_use]
pub fn lead(value: Lead, units: Units) -> String {
    let metric = format!("{} mm", number(value.mm(), 5));
    match units {
        Units::Millimetre => metric,
        Units::Inch => format!("{} in ({metric})", number(value.mm() / 25.4, 6)),
    }
}

/// Millimetres with at most three decimals.
#[must_use]
pub fn mm(value: f64) -> String {
    trimmed(format!("{value:.3}"))
}

/// Millimetres as inches with at most four decimals.
#[must_use]
pub fn inch(value_mm: f64) -> String {
    trimmed(format!("{:.4}", value_mm / 25.4))
}

/// A plain number with at most `decimals` decimals.
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    trimmed(format!("{value:.decimals$}"))
}

fn trimmed(text: String) -> String {
    if !text.contains('.') {
        return text;
    }
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".into()
    } else {
        text.into()
    }
}

/// A word as written with its line: `F2.5 in line 8`. Control characters are not shown.
#[must_use]
pub fn quoted(bytes: &[u8], span: Span, line: u32) -> String {
    let text: String = decode(span.of(bytes))
        .chars()
        .filter(|c| !c.is_control())
        .take(40)
        .collect();
    format!("{text} in line {line}")
}

/// A length in mm as [`length`] writes it.
#[must_use]
pub fn length_of_mm(mm: f64, units: Units) -> String {
    length(Length::from_mm(mm), units)
}

/// A speed in 1/min.
#[must_use]
pub fn rpm(value: f64) -> String {
    format!("{} 1/min", number(value, 1))
}

/// A feed rate: `2500 mm/min`, in an inch program `98.4 in/min (2500 mm/min)`.
#[must_use]
pub fn feed(mm_per_minute: f64, units: Units) -> String {
    let metric = format!("{} mm/min", number(mm_per_minute, 0));
    match units {
        Units::Millimetre => metric,
        Units::Inch => format!("{} in/min ({metric})", number(mm_per_minute / 25.4, 1)),
    }
}

/// An S word written again with another speed, in its own style.
#[must_use]
pub fn speed_word(bytes: &[u8], word: Span, rpm: f64) -> Option<String> {
    let written = word.of(bytes);
    // `S800`, `S1=800`, `LIMS=800`.
    let value = written.iter().position(|&byte| byte == b'=').unwrap_or(0) + 1;
    let (address, value) = written.split_at_checked(value)?;
    let number = Number::parse(value)?;
    let blanks = value.iter().take_while(|b| b.is_ascii_whitespace()).count();
    Some(format!(
        "{}{}{}",
        String::from_utf8_lossy(address),
        " ".repeat(blanks),
        number.restyle(rpm, number.decimals)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_lose_their_zeros_and_nothing_else() {
        assert_eq!(mm(18.0), "18");
        assert_eq!(mm(-0.0001), "0");
        assert_eq!(
            length(Length::from_mm(2.54), Units::Inch),
            "0.1 in (2.54 mm)"
        );
        assert_eq!(number(1000.0, 0), "1000");
        assert_eq!(feed(2540.0, Units::Inch), "100 in/min (2540 mm/min)");
    }

    #[test]
    fn speeds_keep_their_style() {
        for (written, wanted) in [
            ("S1200", "S900"),
            ("s1200.", "s900."),
            ("S 1200", "S 900"),
            ("S1=1200", "S1=900"),
            ("LIMS=1200", "LIMS=900"),
        ] {
            let span = Span::new(0, written.len() as u32);
            assert_eq!(
                speed_word(written.as_bytes(), span, 900.0).as_deref(),
                Some(wanted)
            );
        }
    }
}
