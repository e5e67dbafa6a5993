//! Pipe threads: the names of their sizes, which are bores of pipes and no diameters of threads.
//! The families are in [`parallel`] (G), [`taper`] (R, Rc, Rp), [`npt`] (NPT, NPTF) and [`npsm`].

pub(super) mod npsm;
pub(super) mod npt;
pub(super) mod parallel;
pub(super) mod taper;

use lexer::units::{Diameter, Lead, Length, Units};

use super::inch::{decimals, read_nominal, threads_per_inch};
use super::reader::Reader;
use super::thread::Thread;
use super::{Family, Hand, Size};

/// Names of the sizes, with their value in sixteenths of an inch.
#[rustfmt::skip]
const NAMES: [(&str, i64); 33] = [
    ("1/16", 1), ("1/8", 2), ("1/4", 4), ("3/8", 6), ("1/2", 8), ("5/8", 10), ("3/4", 12),
    ("7/8", 14), ("1", 16), ("1 1/8", 18), ("1 1/4", 20), ("1 1/2", 24), ("1 3/4", 28),
    ("2", 32), ("2 1/4", 36), ("2 1/2", 40), ("2 3/4", 44), ("3", 48), ("3 1/2", 56),
    ("4", 64), ("4 1/2", 72), ("5", 80), ("5 1/2", 88), ("6", 96), ("8", 128), ("10", 160),
    ("12", 192), ("14", 224), ("16", 256), ("18", 288), ("20", 320), ("22", 352), ("24", 384),
];

/// Takes the name of a size: `1/2`, `1 1/4`, `1-1/4`, with or without its inch mark.
fn read_name(reader: &mut Reader<'_>) -> Option<&'static str> {
    let start = reader.place();
    let diameter = read_nominal(reader).map(|nominal| nominal.diameter(None));
    let sixteenth = Units::Inch.pm() / 16;
    let name = diameter.and_then(|Diameter(inches)| {
        let mut names = NAMES.into_iter();
        names.find(|(_, value)| value * sixteenth == inches.pm())
    });
    if name.is_none() {
        reader.back_to(start);
    }
    name.map(|(name, _)| name)
}

/// Takes `-14`, `-11.5`, `-11 1/2` or `-14 TPI` behind a size.
fn read_tpi(reader: &mut Reader<'_>) -> Option<Lead> {
    let start = reader.place();
    let tpi = read_count(reader);
    if tpi.is_none() {
        reader.back_to(start);
    }
    tpi
}

fn read_count(reader: &mut Reader<'_>) -> Option<Lead> {
    if !reader.eat_spaced('-') && !reader.eat_spaced('X') {
        return None;
    }
    let mut count = reader.number()?.ten_thousandths();
    let mark = reader.place();
    let _ = reader.eat('-');
    reader.blanks();
    let half = reader.integer() == Some(1) && reader.eat('/') && reader.integer() == Some(2);
    if half && count % 10_000 == 0 {
        count += 5_000;
    } else {
        reader.back_to(mark);
    }
    let mark = reader.place();
    reader.blanks();
    if reader.eat_one(&["TPI"]).is_none() {
        reader.back_to(mark);
    }
    Lead::per_inch(count)
}

/// Reads `1/2-14 NPT` or `NPT 1/2` up to what stands behind both; the words are the letters of the
/// family's series as written and as meant. Returns the word that was written.
fn read_size(
    reader: &mut Reader<'_>,
    family: Family,
    words: &[(&'static str, &'static str)],
) -> Option<(Thread, &'static str)> {
    let ahead = word(reader, words);
    if ahead.is_some() {
        reader.separator();
    }
    let name = read_name(reader)?;
    let tpi = read_tpi(reader);
    let (written, series) = ahead.or_else(|| {
        reader.separator();
        word(reader, words)
    })?;
    let mut thread = of_name(reader, family, series, name)?;
    thread.written.series = true;
    thread.written.pitch = tpi.is_some();
    match tpi {
        Some(tpi) if tpi != thread.pitch => {
            let count = threads_per_inch(thread.pitch).unwrap_or(0) as f64 / 10_000.0;
            let count = decimals(count, 4);
            reader.complain(format!("{series} {name} has {count} threads per inch"))
        }
        _ => Some((thread, written)),
    }
}

/// The thread of a named size, or the complaint that the series has none.
fn of_name(
    reader: &mut Reader<'_>,
    family: Family,
    series: &'static str,
    name: &'static str,
) -> Option<Thread> {
    let found = |s: &&Size| s.series == series && s.name == Some(name);
    match family.sizes().iter().find(found) {
        Some(size) => Some(Thread::of_size(family, size)),
        None => reader.complain(format!("{series} has no size {name}")),
    }
}

/// Takes one of the words, with what it means. A size may follow directly: `NPT1/2`.
fn word(
    reader: &mut Reader<'_>,
    words: &[(&'static str, &'static str)],
) -> Option<(&'static str, &'static str)> {
    let ahead = reader.word_ahead();
    let found = *words.iter().find(|(written, _)| *written == ahead)?;
    reader.eat_word(found.0);
    Some(found)
}

/// Takes the hand, where it is written.
fn read_hand(reader: &mut Reader<'_>, thread: &mut Thread) -> bool {
    let hand = reader.hand();
    if let Some(hand) = hand {
        thread.hand = hand;
    }
    hand.is_some()
}

fn hand(thread: &Thread) -> &'static str {
    match thread.hand {
        Hand::Left => "-LH",
        Hand::Right => "",
    }
}

/// `-14`, `-11.5`.
fn tpi(thread: &Thread) -> String {
    let count = threads_per_inch(thread.pitch).unwrap_or(0) as f64 / 10_000.0;
    format!("-{}", decimals(count, 4))
}

const fn micrometres(um: i64) -> Length {
    Length::from_pm(um * 1_000_000)
}
