//! Names: `7 LTC`, `9-5/8 STC`, `2-7/8 EUE 8RD`, `НКТ 73`, `НКТ 73 В`.

use super::super::Family;
use super::super::inch;
use super::super::reader::{Looks, Reader};
use super::super::tail::{self, Tail};
use super::super::thread::Thread;
use super::{Kind, ROWS, Row};

/// Words behind the size, those of API 5CT and those of the field.
const WORDS: [(&str, &str); 9] = [
    ("STC", "STC"),
    ("SC", "STC"),
    ("LTC", "LTC"),
    ("LC", "LTC"),
    ("EUE", "EUE"),
    ("EU", "EUE"),
    ("NUE", "NUE"),
    ("NU", "NUE"),
    ("NEU", "NUE"),
];

const TAIL: Tail = Tail {
    words: &["API", "CASING", "TUBING", "CSG", "TBG", "RD", "ROUND"],
    sides: super::super::CONNECTION_SIDES,
    numbers: &[632, 633],
    ..Tail::PLAIN
};

fn of(row: &'static Row) -> Option<Thread> {
    let mut sizes = super::sizes().iter();
    let size = sizes.find(|size| size.name == Some(row.name))?;
    let mut thread = Thread::of_size(Family::CasingRound, size);
    thread.written.pitch = false;
    Some(thread)
}

pub(super) fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let (mut thread, looks) = read_name(reader)?;
    let rounds = round_note(reader);
    if rounds.is_some_and(|count| inch::threads_per_inch(thread.pitch) != Some(count * 10_000)) {
        return reader.complain("this size has another number of threads per inch");
    }
    if reader.in_word() {
        return None;
    }
    let named = TAIL.read(reader, &mut thread)? || thread.side.is_some() || rounds.is_some();
    reader.looks = if named { Looks::Named } else { looks };
    Some(thread)
}

/// `8RD`, `10 RD`, `8 ROUND`.
fn round_note(reader: &mut Reader<'_>) -> Option<i64> {
    let mark = reader.place();
    reader.separator();
    let count = reader.integer().filter(|count| matches!(count, 8 | 10));
    reader.separator();
    let read = count.filter(|_| reader.eat_one(&["RD", "ROUND", "RND"]).is_some());
    if read.is_none() {
        reader.back_to(mark);
    }
    read.map(i64::from)
}

fn read_name(reader: &mut Reader<'_>) -> Option<(Thread, Looks)> {
    // `НКТ` after look-alike letters are made even, and its Latin spelling.
    if let Some(word) = reader.eat_one(&["HKT", "NKT", "HKTB", "NKTB"]) {
        let mut upset = word.ends_with('B');
        reader.separator();
        let number = reader.integer()?;
        let mark = reader.place();
        reader.separator();
        if reader.eat_word("B") {
            upset = true;
        } else {
            reader.back_to(mark);
        }
        let name = format!("{number}{}", if upset { " B" } else { "" });
        let kind = |row: &&Row| matches!(row.kind, Kind::Nkt | Kind::NktUpset);
        let Some(row) = ROWS.iter().filter(kind).find(|row| row.name == name) else {
            return reader.complain(format!("НКТ {name} is no size whose thread is known here"));
        };
        return Some((of(row)?, Looks::Likely));
    }
    let size = inch::read_nominal(reader)?.diameter(None);
    reader.separator();
    let word = reader.word_ahead();
    let (written, word) = *WORDS.iter().find(|(written, _)| *written == word)?;
    reader.eat_word(written);
    let named = |row: &&Row| {
        let mut parts = row.name.rsplitn(2, ' ');
        parts.next() == Some(word) && parts.next().and_then(outside) == Some(size)
    };
    let Some(row) = ROWS.iter().find(named) else {
        let size = inch::inches(size);
        return reader.complain(format!("{size} {word} is no size that is known here"));
    };
    // `SC`, `LC`, `EU` and `NU` are too short to be sure of.
    let looks = if written == word {
        Looks::Named
    } else {
        Looks::Doubtful
    };
    Some((of(row)?, looks))
}

/// The diameter that a size is called by.
fn outside(name: &str) -> Option<lexer::units::Diameter> {
    let text = super::super::text::Text::new(name);
    let mut reader = Reader::new(&text, 0);
    Some(inch::read_nominal(&mut reader)?.diameter(None))
}

/// Prints the canonical text that `read` takes back.
pub(super) fn write(thread: &Thread) -> String {
    let name = thread.name.unwrap_or_default();
    let nkt = super::row(thread).is_some_and(|row| matches!(row.kind, Kind::Nkt | Kind::NktUpset));
    let name = match nkt {
        true => format!("НКТ {}", name.replace('B', "В")),
        false => name.to_owned(),
    };
    tail::finish(name, thread)
}
