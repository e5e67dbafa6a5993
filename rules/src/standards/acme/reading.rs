//! Reads and prints Acme designations: `1-5 ACME-2G`, `1.750-4 ACME-2G-LH`,
//! `2.875-0.4P-0.8L-ACME-3G (TWO STARTS)`, `1/2-20 STUB ACME`.

use super::super::inch::{inches, read_nominal, read_pitch, write_pitch};
use super::super::reader::{Looks, Reader};
use super::super::thread::Thread;
use super::super::{Family, Hand};
use super::{ACME, STUB, class_of, has_class, sizes};

/// Reads the longest Acme designation at the reader's place.
pub(super) fn read(reader: &mut Reader<'_>) -> Option<Thread> {
    let ahead = read_series(reader);
    if ahead.is_some() {
        reader.separator();
    }
    let nominal = read_nominal(reader)?;
    let pitch = read_pitch(reader);
    let stated = reader.starts_note();
    let series = ahead.or_else(|| {
        reader.separator();
        read_series(reader)
    })?;
    let major = nominal.diameter(None);
    let (pitch, starts) = match pitch {
        Some(pitch) => pitch,
        None => {
            let listed = |s: &&super::Size| s.series == series && s.major == major;
            let Some(size) = sizes().iter().find(listed) else {
                return reader.complain(format!("{series} has no thread of this size"));
            };
            (size.pitch, 1)
        }
    };
    if stated.is_some_and(|stated| stated != starts) {
        return reader.complain("the number of starts contradicts lead and pitch");
    }
    if !(0.01..=40.0).contains(&(major.mm() / 25.4)) || pitch.mm() > major.mm() / 2.0 {
        return reader.complain("the pitch leaves no core in this diameter");
    }
    let mut thread = Thread::new(Family::Acme, series, major, pitch);
    thread.starts = starts;
    thread.written.series = true;
    read_tail(reader, &mut thread)?;
    reader.looks = Looks::Named;
    Some(thread)
}

fn read_series(reader: &mut Reader<'_>) -> Option<&'static str> {
    if reader.eat_word("ACME") {
        return Some(ACME);
    }
    let mark = reader.place();
    if reader.eat_word("STUB") {
        reader.separator();
        if reader.eat_word("ACME") {
            return Some(STUB);
        }
    }
    reader.back_to(mark);
    None
}

/// Class, hand and starts, in any order that occurs.
fn read_tail(reader: &mut Reader<'_>, thread: &mut Thread) -> Option<()> {
    loop {
        let mark = reader.place();
        if let Some(hand) = reader.hand() {
            thread.hand = hand;
        } else if let Some(count) = reader.starts_note() {
            if count != thread.starts {
                return reader.complain("the number of starts contradicts lead and pitch");
            }
        } else if !thread.written.class {
            read_class(reader, thread)?;
        }
        if reader.place() == mark {
            return Some(());
        }
    }
}

/// Takes `2G`, which both sides have; complains of `9G`.
fn read_class(reader: &mut Reader<'_>, thread: &mut Thread) -> Option<()> {
    let mark = reader.place();
    reader.separator();
    let (digit, letter) = (reader.peek(), {
        reader.step();
        reader.peek()
    });
    reader.step();
    if !digit.is_ascii_digit() || !matches!(letter, 'G' | 'C') || reader.in_word() {
        reader.back_to(mark);
        return Some(());
    }
    let class = format!("{digit}{letter}");
    if !has_class(thread.series, &class) {
        let series = thread.series;
        return reader.complain(format!(
            "{class} is no class of {series} threads known here"
        ));
    }
    thread.external = Some(class.clone());
    thread.internal = Some(class);
    thread.written.class = true;
    Some(())
}

/// Prints `1-5 ACME-2G-LH`.
pub(super) fn write(thread: &Thread) -> String {
    let mut text = inches(thread.major) + &write_pitch(thread);
    text += &format!(" {}", thread.series);
    if let Some(class) = class_of(thread) {
        text += &format!("-{class}");
    }
    if thread.hand == Hand::Left {
        text += "-LH";
    }
    text
}
