//! Reads unified designations: `1/2-13 UNC-2A`, `.500-13 UNC-2A`, `#10-32 UNF`,
//! `1-1/4-12 UNF-2A-LH`, `UNC 1/2`, `.750-.0625P-.1875L UN-2A`, `2.500-28 UNS-2A LE=1.00`.

use lexer::number::Number;
use lexer::units::{Diameter, Lead, Length, Units};

use super::super::reader::{Looks, Reader};
use super::super::thread::{Engagement, Thread};
use super::super::{Family, Side};
use super::series::{NUMBERS, named_by_number, numbered, sizes};
use super::{limits, series_of, threads_per_inch};

/// Names of the series; those with R have a rounded root.
const SERIES: [&str; 10] = [
    "UNC", "UNF", "UNEF", "UNS", "UN", "UNRC", "UNRF", "UNREF", "UNRS", "UNR",
];

/// A size as written.
#[derive(Clone, Copy)]
enum Nominal {
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
    fn diameter(self, tpi: Option<i64>) -> Diameter {
        match self {
            Nominal::Inches(diameter) | Nominal::Short(diameter) => diameter,
            Nominal::Numbered(number) => numbered(number),
            Nominal::Whole(n) if tpi.is_some_and(|tpi| named_by_number(n, tpi)) => numbered(n),
            Nominal::Whole(n) => Diameter(Length::from_pm(i64::from(n) * Units::Inch.pm())),
        }
    }

    /// Whether hardly anything but an inch thread is written like this.
    fn is_distinctive(self) -> bool {
        matches!(self, Nominal::Inches(_) | Nominal::Numbered(_))
    }
}

/// Reads the longest unified designation at the reader's place.
pub(super) fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let ahead = reader.eat_one(&SERIES);
    reader.blanks();
    let nominal = read_nominal(reader)?;
    let pitch = read_pitch(reader);
    // The number of starts stands between lead and series; the lead has told it already.
    let stated = reader.starts_note();
    if let (Some(stated), Some((_, starts))) = (stated, pitch)
        && stated != starts
    {
        return reader.complain("the number of starts contradicts lead and pitch");
    }
    let series = ahead.or_else(|| {
        let mark = reader.place();
        reader.separator();
        let series = reader.eat_one(&SERIES);
        if series.is_none() {
            reader.back_to(mark);
        }
        series
    });
    let mut thread = match (pitch, series) {
        (Some((pitch, starts)), _) => {
            let major = nominal.diameter(threads_per_inch(pitch).filter(|_| starts == 1));
            let mut thread = Thread::new(Family::Unified, "", major, pitch);
            thread.starts = starts;
            thread.series = series.unwrap_or_else(|| series_of(major, pitch));
            thread
        }
        (None, Some(series)) => by_series(reader, nominal, series)?,
        (None, None) => return None,
    };
    thread.written.series = series.is_some();
    if !(0.01..=40.0).contains(&(thread.major.mm() / 25.4)) {
        return reader.complain("a unified thread is between 0.01 and 40 in");
    }
    if thread.pitch.mm() > thread.major.mm() / 2.0 {
        return reader.complain("the pitch leaves no core in this diameter");
    }
    contradiction(reader, &thread)?;
    read_tail(reader, &mut thread)?;
    // Whole numbers on both sides of a dash are a date or a part number as often as a thread.
    reader.looks = if thread.written.series {
        Looks::Named
    } else if !thread.is_standard_size() {
        Looks::Foreign
    } else if thread.written.class {
        Looks::Fitting
    } else if nominal.is_distinctive() {
        Looks::Likely
    } else {
        Looks::Doubtful
    };
    Some(thread)
}

/// A size without its pitch: the series tells the pitch.
fn by_series(reader: &mut Reader<'_>, nominal: Nominal, series: &'static str) -> Option<Thread> {
    let plain = series.replacen("UNR", "UN", 1);
    let in_series = || sizes().iter().filter(|s| s.series == plain);
    let whole_inches = nominal.diameter(None);
    let number = match nominal {
        Nominal::Whole(n) if NUMBERS.contains(&n) => Some(numbered(n)),
        _ => None,
    };
    let mut found = in_series().filter(|s| s.major == whole_inches || Some(s.major) == number);
    let (first, second) = (found.next(), found.next());
    match (first, second) {
        (Some(size), None) => {
            let mut thread = Thread::new(Family::Unified, series, size.major, size.pitch);
            thread.written.pitch = false;
            Some(thread)
        }
        (Some(_), Some(_)) => {
            reader.complain("more than one pitch fits, write the threads per inch")
        }
        _ => reader.complain(format!("{series} has no thread of this size")),
    }
}

/// The series UNC, UNF and UNEF list one pitch for a diameter: another one is a slip of the pen.
fn contradiction(reader: &mut Reader<'_>, thread: &Thread) -> Option<()> {
    let plain = thread.series.replacen("UNR", "UN", 1);
    let fixed = matches!(plain.as_str(), "UNC" | "UNF" | "UNEF");
    let listed = |s: &&super::super::Size| {
        s.series == plain && s.major == thread.major && s.pitch == thread.pitch
    };
    if fixed && thread.starts == 1 && !sizes().iter().any(|s| listed(&s)) {
        let series = thread.series;
        return reader.complain(format!(
            "{series} does not list this pitch for this diameter"
        ));
    }
    Some(())
}

fn read_nominal(reader: &mut Reader<'_>) -> Option<Nominal> {
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
fn read_fraction(reader: &mut Reader<'_>) -> Option<Length> {
    let top = reader.integer()?;
    if !reader.eat('/') {
        return None;
    }
    let bottom = reader.integer()?;
    let usual = matches!(bottom, 2 | 4 | 8 | 16 | 32 | 64) && top > 0 && top < 64 * 40;
    usual.then(|| Length::from_pm(Units::Inch.pm() / 64 * i64::from(top * (64 / bottom))))
}

/// Takes `"`, `''`, `IN` or `INCH` behind a size.
fn inch_mark(reader: &mut Reader<'_>) -> bool {
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
fn read_pitch(reader: &mut Reader<'_>) -> Option<(Lead, u32)> {
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

/// Class, hand, starts and length of engagement, in any order that occurs.
fn read_tail(reader: &mut Reader<'_>, thread: &mut Thread) -> Option<()> {
    loop {
        let mark = reader.place();
        if let Some(hand) = reader.hand() {
            thread.hand = hand;
        } else if let Some(count) = reader.starts_note() {
            if count != thread.starts {
                return reader.complain("the number of starts contradicts lead and pitch");
            }
        } else if !thread.written.class && read_class(reader, thread).is_some() {
            thread.written.class = true;
        } else if thread.engagement.is_none() {
            reader.back_to(mark);
            thread.engagement = read_engagement(reader);
        }
        if reader.place() == mark {
            return Some(());
        }
    }
}

fn read_class(reader: &mut Reader<'_>, thread: &mut Thread) -> Option<()> {
    let mark = reader.place();
    reader.separator();
    let Some(first) = one_class(reader) else {
        reader.back_to(mark);
        return None;
    };
    let mark = reader.place();
    let second = if reader.eat_spaced('/') {
        one_class(reader)
    } else {
        None
    };
    if second.is_none() {
        reader.back_to(mark);
    }
    for class in [Some(first), second].into_iter().flatten() {
        if limits::exists(&class, Side::External) {
            thread.external = Some(class);
        } else {
            thread.internal = Some(class);
        }
    }
    thread.side = match (&thread.external, &thread.internal) {
        (Some(_), None) => Some(Side::External),
        (None, Some(_)) => Some(Side::Internal),
        _ => None,
    };
    Some(())
}

/// Reads `2A` in any case.
fn one_class(reader: &mut Reader<'_>) -> Option<String> {
    let digit = reader.peek();
    reader.step();
    let letter = reader.peek();
    reader.step();
    let class = format!("{digit}{letter}");
    let known = limits::exists(&class, Side::External) || limits::exists(&class, Side::Internal);
    (known && !reader.in_word()).then_some(class)
}

/// `LE=1.00` or `LE 1.00`, in inches.
fn read_engagement(reader: &mut Reader<'_>) -> Option<Engagement> {
    let mark = reader.place();
    reader.separator();
    let mut read = || {
        if !reader.eat_word("LE") {
            return None;
        }
        if !reader.eat_spaced('=') {
            reader.blanks();
        }
        let length = reader.number()?.real(Units::Inch)?;
        (length > Length::ZERO).then_some(Engagement::Length(length))
    };
    let read = read();
    if read.is_none() {
        reader.back_to(mark);
    }
    read
}
