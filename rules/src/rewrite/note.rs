//! `(THREAD …)` notes: the one that a written block bears, and blocks written from one.

use lexer::section::{Note, Side};
use lexer::source::decode;
use lexer::units::Units;

use super::block::Order;
use crate::standards::designation::parse;
use crate::standards::thread::Thread;

/// The note of a block, without brackets: letters that any control takes. None where its designation
/// cannot be written so that it reads back as the same thread.
#[must_use]
pub fn text(order: &Order) -> Option<String> {
    let units = order.style.units;
    let mut parts: Vec<String> = Vec::new();
    parts.extend(order.nose.map(|nose| length("NOSE", nose, units)));
    parts.push(length("LENGTH", order.length, units));
    naming(&order.thread, order.side, &parts)
}

/// A length of a note with its name, `LENGTH 20`, from mm.
#[must_use]
pub fn length(name: &str, mm: f64, units: Units) -> String {
    let (value, decimals) = match units {
        Units::Millimetre => (mm, 3),
        Units::Inch => (mm / 25.4, 4),
    };
    format!("{name} {}", crate::checks::text::number(value, decimals))
}

/// The note of a thread with what else is to be said, without brackets.
#[must_use]
pub fn naming(thread: &Thread, side: Side, parts: &[String]) -> Option<String> {
    let mut text = format!("THREAD {}", name(thread, side)?);
    for part in parts {
        text.push_str(", ");
        text.push_str(part);
    }
    Some(text)
}

/// The designation as a comment can hold it: without brackets, in capitals where they read back.
fn name(thread: &Thread, side: Side) -> Option<String> {
    let own = thread.designation();
    let plain: String = own.chars().filter(|c| !matches!(c, '(' | ')')).collect();
    let spaced: String = own.replace('(', " ").replace(')', "");
    let candidates = [
        own.to_uppercase(),
        plain.to_uppercase(),
        spaced.to_uppercase(),
        plain,
        spaced,
    ];
    let wanted = thread.on(side);
    candidates.into_iter().find(|text| {
        let fits = |c: char| c.is_ascii() && !c.is_control() && !"(),;".contains(c);
        let same = |read: Thread| {
            let read = read.on(side);
            (read.family, read.major, read.pitch, read.starts, read.hand)
                == (
                    wanted.family,
                    wanted.major,
                    wanted.pitch,
                    wanted.starts,
                    wanted.hand,
                )
                && read.class(side) == wanted.class(side)
        };
        text.chars().all(fits) && parse(text, Some(side)).is_ok_and(same)
    })
}

/// What a note asks for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// The thread.
    pub thread: Thread,
    /// Bolt or nut, where the note or the designation says so.
    pub side: Option<Side>,
    /// Length, mm.
    pub length: Option<f64>,
    /// Nose radius, mm.
    pub nose: Option<f64>,
    /// Turns per minute.
    pub rpm: Option<f64>,
    /// Chamfer of a tap, pitches.
    pub chamfer: Option<f64>,
    /// Diameter of a thread mill, mm.
    pub cutter: Option<f64>,
    /// Feed at the edge of a thread mill, mm/min.
    pub feed: Option<f64>,
    /// Length of a thread mill over which its rows of teeth stand a pitch apart, mm.
    pub edge: Option<f64>,
    /// Whether its teeth stand in one row.
    pub single_row: bool,
    /// X and Y of the threads, mm.
    pub places: Vec<(f64, f64)>,
}

/// Reads a `THREAD` note: the designation, then `NOSE`, `LENGTH`, `RPM` with their values, and
/// `EXTERNAL` or `INTERNAL`, between commas; for a tap `CHAMFER`, for a mill `CUTTER`, `FEED`, and
/// `EDGE` or `SINGLE ROW`, for both `AT` with X and Y.
#[must_use]
pub fn read(bytes: &[u8], note: &Note, units: Units) -> Option<Asked> {
    let text = decode(note.span.of(bytes));
    let text = text
        .trim_start_matches(['(', ';', ' '])
        .trim_end_matches([')', ' ']);
    let head = text.get(..7)?;
    if !head.eq_ignore_ascii_case("THREAD ") {
        return None;
    }
    let mut parts = text[7..].split(',').map(str::trim);
    let thread = parse(parts.next()?, None).ok()?;
    let mut asked = Asked {
        side: thread.side,
        thread,
        length: None,
        nose: None,
        rpm: None,
        chamfer: None,
        cutter: None,
        feed: None,
        edge: None,
        single_row: false,
        places: Vec::new(),
    };
    for part in parts {
        let mut words = part.split_whitespace();
        let word = words.next().unwrap_or_default().to_uppercase();
        let value = words.next().and_then(|value| value.parse::<f64>().ok());
        let mm = value.map(|value| units.length(value).mm());
        match word.as_str() {
            "NOSE" => asked.nose = mm,
            "LENGTH" => asked.length = mm,
            "RPM" => asked.rpm = value,
            "CHAMFER" => asked.chamfer = value,
            "CUTTER" => asked.cutter = mm,
            "FEED" => asked.feed = mm,
            "EDGE" => asked.edge = mm,
            "SINGLE" => asked.single_row = true,
            "AT" => {
                let y = words.next().and_then(|value| value.parse::<f64>().ok());
                let y = y.map(|value| units.length(value).mm());
                asked.places.extend(mm.zip(y));
            }
            "EXTERNAL" => asked.side = Some(Side::External),
            "INTERNAL" => asked.side = Some(Side::Internal),
            _ => {}
        }
    }
    Some(asked)
}
