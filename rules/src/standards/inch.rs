//! Sizes and pitches in inches: how designations write them and how they print.

use lexer::number::Number;
use lexer::units::{Diameter, Lead, Length, Units};

use super::reader::Reader;
use super::thread::Thread;

/// Basic diameters of the numbered sizes in 1e-4 in: 0.060 + 0.013 N (ASME B1.1).
pub(super) const NUMBERS: [u32; 10] = [0, 1, 2, 3, 4, 5, 6, 8, 10, 12];

/// A size as written.
#[derive(Clone, Copy)]
pub(super) enum Nominal {
    /// `1/2`, `1-1/4`, `1"`, `.500`.
    Inches(Diameter),
    /// A decimal of one or two places: `2.5`.
    Short(Diameter),
    /// `#10`.
    Numbered(u32),
    /// A whole number: inches or a number, the pitch tells.
    Whole(u32),
}

impl Nominal {
    /// The diameter; a pitch in 1e-4 threads per inch tells numbers from inches.
    pub(super) fn diameter(self, tpi: Option<i64>) -> Diameter {
        match self {
            Nominal::Inches(diameter) | Nominal::Short(diameter) => diameter,
            Nominal::Numbered(number) => numbered(number),
            Nominal::Whole(n) if tpi.is_some_and(|tpi| named_by_number(n, tpi)) => numbered(n),
            Nominal::Whole(n) => Diameter(Length::from_pm(i64::from(n) * Units::Inch.pm())),
        }
    }

    /// Whether hardly anything but an inch thread is written like this.
    pub(super) fn is_distinctive(self) -> bool {
        matches!(self, Nominal::Inches(_) | Nominal::Numbered(_))
    }
}

/// Takes a size: `1/2`, `1-1/4`, `.500`, `#10`, with or without its inch mark.
pub(super) fn read_nominal(reader: &mut Reader<'_>) -> Option<Nominal> {
    let numbered = reader.eat('#');
    let mark = reader.place();
    if let Some(whole) = reader.integer() {
        if numbered {
            let known = NUMBERS.contains(&whole) && reader.peek() != '.' && reader.peek() != '/';
            return known.then_some(Nominal::Numbered(whole));
        }
        if reader.peek() == '/' {
            reader.back_to(mark);
            let fraction = read_fraction(reader)?;
            inch_mark(reader);
            return Some(Nominal::Inches(Diameter(fraction)));
        }
        if reader.peek() != '.' {
            let mark = reader.place();
            let _ = reader.eat('-');
            reader.blanks();
            let fraction = read_fraction(reader).filter(|f| f.pm() < Units::Inch.pm());
            if let Some(fraction) = fraction {
                inch_mark(reader);
                let whole = Length::from_pm(i64::from(whole).checked_mul(Units::Inch.pm())?);
                return Some(Nominal::Inches(Diameter(whole + fraction)));
            }
            reader.back_to(mark);
            let marked = inch_mark(reader);
            if marked {
                let inches = Length::from_pm(i64::from(whole).checked_mul(Units::Inch.pm())?);
                return Some(Nominal::Inches(Diameter(inches)));
            }
            return (whole <= 40).then_some(Nominal::Whole(whole));
        }
        reader.back_to(mark);
    }
    if numbered {
        return None;
    }
    let decimal = reader.number()?;
    inch_mark(reader);
    let inches = decimal.real(Units::Inch)?;
    let nominal = if decimal.decimals >= 3 {
        Nominal::Inches
    } else {
        Nominal::Short
    };
    (decimal.point && inches > Length::ZERO).then(|| nominal(Diameter(inches)))
}

/// A fraction of an inch in halves down to sixty-fourths.
pub(super) fn read_fraction(reader: &mut Reader<'_>) -> Option<Length> {
    let top = reader.integer()?;
    if !reader.eat('/') {
        return None;
    }
    let bottom = reader.integer()?;
    let usual = matches!(bottom, 2 | 4 | 8 | 16 | 32 | 64) && top > 0 && top < 64 * 40;
    usual.then(|| Length::from_pm(Units::Inch.pm() / 64 * i64::from(top * (64 / bottom))))
}

/// Takes `"`, `''`, `IN` or `INCH` behind a size.
pub(super) fn inch_mark(reader: &mut Reader<'_>) -> bool {
    let mark = reader.place();
    if reader.eat('"') || (reader.eat('\'') && reader.eat('\'')) {
        return true;
    }
    reader.back_to(mark);
    reader.blanks();
    if reader.eat_one(&["IN", "INCH"]).is_some() {
        return true;
    }
    reader.back_to(mark);
    false
}

/// Reads `-13`, `-13TPI` or `-.0625P-.1875L`; pitch and starts.
pub(super) fn read_pitch(reader: &mut Reader<'_>) -> Option<(Lead, u32)> {
    let mark = reader.place();
    let read = read_pitch_inner(reader);
    if read.is_none() {
        reader.back_to(mark);
    }
    read
}

fn read_pitch_inner(reader: &mut Reader<'_>) -> Option<(Lead, u32)> {
    if !reader.eat_spaced('-') && !reader.eat_spaced('X') {
        return None;
    }
    let number = reader.number()?;
    let mark = reader.place();
    if reader.eat_word("P") {
        let pitch = number.real(Units::Inch)?;
        let leads = reader.eat_spaced('-').then(|| reader.number()).flatten();
        let lead = leads.filter(|_| reader.eat_word("L"));
        let Some(lead) = lead.and_then(|n| n.real(Units::Inch)) else {
            return reader.complain("a pitch P in inches needs its lead L, as in -.0625P-.1875L");
        };
        if pitch <= Length::ZERO {
            return None;
        }
        let starts = lead.pm() as f64 / pitch.pm() as f64;
        if !(1.0..=24.0).contains(&starts) || (starts - starts.round()).abs() > 0.01 {
            return reader.complain("the lead is not a whole number of pitches");
        }
        return Some((ratio(pitch, number), starts.round() as u32));
    }
    reader.back_to(mark);
    let tpi = number.ten_thousandths();
    if !(5_000..=1_280_000).contains(&tpi) {
        return None;
    }
    reader.blanks();
    if reader.eat_one(&["TPI"]).is_none() {
        reader.back_to(mark);
    }
    Some((Lead::per_inch(tpi)?, 1))
}

/// A pitch in inches that is the rounded part of an inch becomes that part, to half threads.
fn ratio(pitch: Length, written: Number) -> Lead {
    let count = (2.0 * Units::Inch.pm() as f64 / pitch.pm() as f64).round() / 2.0;
    let exact = Units::Inch.pm() as f64 / count;
    let half_unit = Units::Inch.pm() as f64 / 2.0 / 10f64.powi(i32::from(written.decimals));
    let close = (exact - pitch.pm() as f64).abs() <= half_unit;
    let per_inch = Lead::per_inch((count * 10_000.0) as i64).filter(|_| close);
    per_inch.unwrap_or(Lead::per_turn(pitch))
}

/// Threads per inch, to four decimals; `None` where the pitch is no such number.
pub(super) fn threads_per_inch(pitch: Lead) -> Option<i64> {
    let count = (25.4 / pitch.mm() * 10_000.0).round() as i64;
    (Lead::per_inch(count)? == pitch).then_some(count)
}

/// Basic diameter of a numbered size.
pub(super) fn numbered(number: u32) -> Diameter {
    Diameter(ten_thousandths_inch(600 + 130 * i64::from(number)))
}

/// A length in 1e-4 in.
pub(super) const fn ten_thousandths_inch(count: i64) -> Length {
    Length::from_pm(count * 2_540_000)
}

/// Whether a bare whole number with these threads per inch (in 1e-4) names a numbered size and not
/// inches: `10-32`, `4-40`, but `1-8` and `4-4`.
pub(super) fn named_by_number(number: u32, tpi: i64) -> bool {
    NUMBERS.contains(&number) && tpi >= if number >= 5 { 200_000 } else { 360_000 }
}
/// Prints the size of a unified thread: `10`, `1/2`, `1 1/4`, `.301`.
pub(super) fn size(thread: &Thread) -> String {
    let tpi = threads_per_inch(thread.pitch).filter(|_| thread.starts == 1);
    if let Some(number) = NUMBERS.into_iter().find(|n| numbered(*n) == thread.major) {
        let plain = tpi.is_some_and(|tpi| named_by_number(number, tpi));
        return format!("{}{number}", if plain { "" } else { "#" });
    }
    let text = inches(thread.major);
    let confusing = |n| tpi.is_some_and(|tpi| named_by_number(n, tpi));
    match text.parse() {
        Ok(whole) if confusing(whole) => text + ".000",
        _ => text,
    }
}

/// Prints a diameter in inches: `1/2`, `1 1/4`, `3`, `.301`.
pub(super) fn inches(diameter: Diameter) -> String {
    let pm = diameter.0.pm();
    let unit = Units::Inch.pm() / 64;
    if pm % unit != 0 {
        return decimals(Units::Inch.value_of(diameter.0), 8)
            .trim_start_matches('0')
            .to_owned();
    }
    let (whole, mut top) = (pm / unit / 64, pm / unit % 64);
    let mut bottom = 64;
    while top > 0 && top % 2 == 0 {
        (top, bottom) = (top / 2, bottom / 2);
    }
    match (whole, top) {
        (0, _) => format!("{top}/{bottom}"),
        (_, 0) => whole.to_string(),
        _ => format!("{whole} {top}/{bottom}"),
    }
}

/// Prints `-13`, or `-.0625P-.1875L` where the thread has several starts or no number of threads
/// per inch.
pub(super) fn write_pitch(thread: &Thread) -> String {
    let tpi = threads_per_inch(thread.pitch).filter(|_| thread.starts == 1);
    if let Some(tpi) = tpi {
        return format!("-{}", decimals(tpi as f64 / 10_000.0, 4));
    }
    let lengths = [(thread.pitch.length(), 'P'), (thread.lead().length(), 'L')];
    let write = |(length, letter)| {
        let inches = Units::Inch.value_of(length);
        format!("-{}{letter}", decimals(inches, 8).trim_start_matches('0'))
    };
    lengths.map(write).concat()
}

/// A number with at most so many decimals and no trailing zeros.
pub(super) fn decimals(value: f64, most: usize) -> String {
    let text = format!("{value:.most$}");
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
