//! Names of the connections: `NC50`, `3 1/2 REG`, `4-1/2 IF`, `З-133`, with PIN or BOX behind.

use super::super::Family;
use super::super::inch;
use super::super::reader::{Looks, Reader};
use super::super::tail::{self, Tail};
use super::super::thread::Thread;
use super::{CONNECTIONS, Connection};

/// How a connection is called where it is not its own name; the series of the thread.
const FLUSH: &str = "IF";
const FULL_HOLE: &str = "FH";
const GOST: &str = "GOST";

/// Names that mean a numbered connection: series, size, connection (API Spec 7-2; the two smallest
/// from a public table).
const ALIASES: [(&str, &str, &str); 6] = [
    (FLUSH, "2 3/8", "NC26"),
    (FLUSH, "2 7/8", "NC31"),
    (FLUSH, "3 1/2", "NC38"),
    (FLUSH, "4", "NC46"),
    (FLUSH, "4 1/2", "NC50"),
    (FULL_HOLE, "4", "NC40"),
];

const TAIL: Tail = Tail {
    words: &["API", "CONNECTION", "CONN", "RSC"],
    sides: super::super::CONNECTION_SIDES,
    numbers: &[28487],
    ..Tail::PLAIN
};

/// Words behind a name that make `NC50` a machine or a program, and `5-1/2 REG` a length.
const OTHERS: [&str; 18] = [
    "MACHINE", "MACHINES", "LATHE", "MILL", "CONTROL", "PROGRAM", "PROG", "CODE", "FILE", "ROUTER",
    "CENTER", "CENTRE", "DRILL", "TURRET", "SYSTEM", "UNIT", "LENGTH", "LEN",
];

fn of(connection: &'static Connection, series: &'static str) -> Option<Thread> {
    let mut sizes = super::sizes().iter();
    let size = sizes.find(|size| size.name == Some(connection.name))?;
    let mut thread = Thread::of_size(Family::RotaryShouldered, size);
    thread.series = series;
    thread.written.series = !series.is_empty();
    thread.written.pitch = false;
    Some(thread)
}

/// Reads a name with what stands around it.
pub(super) fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let mut named = reader.eat_word("API");
    reader.separator();
    let (mut thread, looks) = read_name(reader)?;
    if reader.in_word() {
        return None;
    }
    named |= TAIL.read(reader, &mut thread)? || thread.side.is_some();
    let mark = reader.place();
    reader.blanks();
    let next = reader.word_ahead();
    reader.back_to(mark);
    // `CUT 4-1/2 IF NEEDED` is a condition.
    let other = OTHERS.contains(&next.as_str()) || thread.series == FLUSH && !next.is_empty();
    if !named && other {
        return None;
    }
    reader.looks = if named { Looks::Named } else { looks };
    Some(thread)
}

fn read_name(reader: &mut Reader<'_>) -> Option<(Thread, Looks)> {
    if reader.eat_word("NC") {
        reader.separator();
        let number = reader.integer()?;
        let name = format!("NC{number}");
        let Some(connection) = CONNECTIONS.iter().find(|c| c.name == name) else {
            return reader.complain(format!("{name} is no connection whose data is known here"));
        };
        return Some((of(connection, "")?, Looks::Bare));
    }
    if matches!(reader.peek(), 'З' | 'з') {
        reader.step();
        reader.separator();
        let number = reader.integer()?;
        let Some(connection) = CONNECTIONS.iter().find(|c| c.gost == number) else {
            return reader.complain(format!(
                "З-{number} is no connection whose data is known here"
            ));
        };
        return Some((of(connection, GOST)?, Looks::Named));
    }
    if reader.word_ahead() == "Z" {
        return reader.complain("Z is an axis word; write З-133 in Cyrillic letters, or NC50");
    }
    let size = inch::inches(inch::read_nominal(reader)?.diameter(None));
    reader.separator();
    let word = reader.eat_one(&["REG", "REGULAR", "FH", "IF"])?;
    let series = match word {
        "IF" => FLUSH,
        "FH" => FULL_HOLE,
        _ => "REG",
    };
    let alias = ALIASES
        .into_iter()
        .find(|(s, n, _)| *s == series && *n == size);
    let name = alias.map_or(format!("{size} {series}"), |(_, _, name)| name.to_owned());
    let Some(connection) = CONNECTIONS.iter().find(|c| c.name == name) else {
        return reader.complain(format!(
            "{size} {series} is no connection whose data is known here"
        ));
    };
    let looks = match series {
        "REG" => Looks::Named,
        _ => Looks::Likely,
    };
    Some((of(connection, alias.map_or("", |_| series))?, looks))
}

/// Prints the name it was called by.
pub(super) fn write(thread: &Thread) -> String {
    let connection = super::connection(thread);
    let same = |(series, _, name): &(&str, &str, &str)| {
        *series == thread.series && *name == connection.name
    };
    let name = match ALIASES.iter().find(|alias| same(alias)) {
        Some((series, size, _)) => format!("{size} {series}"),
        None if thread.series == GOST => format!("З-{}", connection.gost),
        None => connection.name.to_owned(),
    };
    tail::finish(name, thread)
}
