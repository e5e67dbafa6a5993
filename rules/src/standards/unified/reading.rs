//! Reads unified designations: `1/2-13 UNC-2A`, `.500-13 UNC-2A`, `#10-32 UNF`,
//! `1-1/4-12 UNF-2A-LH`, `UNC 1/2`, `.750-.0625P-.1875L UN-2A`, `2.500-28 UNS-2A LE=1.00`.

use lexer::units::{Length, Units};

use super::super::inch::{NUMBERS, Nominal, numbered, read_nominal, read_pitch, threads_per_inch};
use super::super::reader::{Looks, Reader};
use super::super::thread::{Engagement, Thread};
use super::super::{Family, Side};
use super::series::sizes;
use super::{limits, plain_series, series_of};

/// Names of the series; those with R have a rounded root.
const SERIES: [&str; 10] = [
    "UNC", "UNF", "UNEF", "UNS", "UN", "UNRC", "UNRF", "UNREF", "UNRS", "UNR",
];

/// Reads the longest unified designation at the reader's place.
pub(super) fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let series_left_out = |thread: &Thread| series_of(thread.major, thread.pitch);
    read_family(reader, Family::Unified, &SERIES, Some(&series_left_out))
}

/// Reads a designation of a family with these series; `left_out` tells the series of a thread that
/// is written without one, where the family allows that.
pub(super) fn read_family(
    reader: &mut Reader<'_>,
    family: Family,
    names: &[&'static str],
    left_out: Option<&dyn Fn(&Thread) -> &'static str>,
) -> Option<Thread> {
    let ahead = reader.eat_one(names);
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
        let series = reader.eat_one(names);
        if series.is_none() {
            reader.back_to(mark);
        }
        series
    });
    let mut thread = match (pitch, series) {
        (Some((pitch, starts)), _) => {
            let major = nominal.diameter(threads_per_inch(pitch).filter(|_| starts == 1));
            let mut thread = Thread::new(family, "", major, pitch);
            thread.starts = starts;
            thread.series = match (series, left_out) {
                (Some(series), _) => series,
                (None, Some(left_out)) => left_out(&thread),
                (None, None) => return None,
            };
            thread
        }
        (None, Some(series)) => by_series(reader, family, nominal, series)?,
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
fn by_series(
    reader: &mut Reader<'_>,
    family: Family,
    nominal: Nominal,
    series: &'static str,
) -> Option<Thread> {
    let plain = plain_series(series);
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
            let mut thread = Thread::new(family, series, size.major, size.pitch);
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
    let plain = plain_series(thread.series);
    let fixed = matches!(plain, "UNC" | "UNF" | "UNEF");
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
