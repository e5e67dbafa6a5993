//! What follows the size in the designations of most families: class, hand, number of starts, the
//! family's own words and the standard's number, in any order that occurs.

use super::reader::Reader;
use super::thread::Thread;
use super::{Hand, Side};

/// What a family knows of its tail.
pub(super) struct Tail {
    /// Whether a class exists for a side, in its canonical letters.
    pub(super) class: fn(&str, Side) -> bool,
    /// Words in capitals that name the family behind its size: `BUTTRESS`.
    pub(super) words: &'static [&'static str],
    /// Words in capitals that tell the side: `PIN`.
    pub(super) sides: &'static [(&'static str, Side)],
    /// Numbers of the standards that name it: the 513 of `DIN 513`.
    pub(super) numbers: &'static [u32],
}

/// Bodies whose standards are cited behind a size, after look-alike letters are made even.
const BODIES: [&str; 7] = ["DIN", "ISO", "EN", "ANSI", "BS", "GOST", "ГOCT"];

impl Tail {
    /// A tail of hand and starts, without classes.
    pub(super) const PLAIN: Tail = Tail {
        class: |_, _| false,
        words: &[],
        sides: &[],
        numbers: &[],
    };

    /// Reads on as long as something of the tail follows. Says whether a word or a number named
    /// the family; `None` with a complaint when what follows contradicts the size.
    pub(super) fn read(&self, reader: &mut Reader<'_>, thread: &mut Thread) -> Option<bool> {
        let mut named = false;
        loop {
            let mark = reader.place();
            if let Some(hand) = reader.hand() {
                thread.hand = hand;
            } else if let Some(count) = reader.starts_note() {
                if count != thread.starts {
                    return reader.complain("the number of starts contradicts lead and pitch");
                }
            } else if !thread.written.class && self.read_class(reader, thread).is_some() {
                thread.written.class = true;
            } else if self.read_word(reader, thread) || self.read_number(reader) {
                named = true;
            }
            if reader.complaint.is_some() {
                return None;
            }
            if reader.place() == mark {
                return Some(named);
            }
        }
    }

    fn read_word(&self, reader: &mut Reader<'_>, thread: &mut Thread) -> bool {
        let mark = reader.place();
        reader.separator();
        let bracket = reader.eat('(');
        if reader.eat_one(self.words).is_some() && (!bracket || reader.eat(')')) {
            return true;
        }
        if !bracket
            && let Some((_, side)) = self.sides.iter().find(|(word, _)| reader.eat_word(word))
        {
            thread.side = Some(*side);
            return true;
        }
        reader.back_to(mark);
        false
    }

    /// `DIN 513`, `ГОСТ 24737-81`.
    fn read_number(&self, reader: &mut Reader<'_>) -> bool {
        let mark = reader.place();
        reader.separator();
        if reader.eat_one(&BODIES).is_some() {
            reader.blanks();
            let number = reader.integer();
            if number.is_some_and(|number| self.numbers.contains(&number)) {
                let mark = reader.place();
                let year = reader.eat('-') && reader.integer().is_some();
                if !year {
                    reader.back_to(mark);
                }
                return true;
            }
        }
        reader.back_to(mark);
        false
    }

    /// `-7e`, ` 7H`, `-7H/7e`. In a text of capitals a class that either side has stays open.
    fn read_class(&self, reader: &mut Reader<'_>, thread: &mut Thread) -> Option<()> {
        let start = reader.place();
        reader.separator();
        let Some(first) = token(reader) else {
            reader.back_to(start);
            return None;
        };
        let mark = reader.place();
        let second = if reader.eat_spaced('/') {
            token(reader)
        } else {
            None
        };
        let capitals = reader.capitals();
        let of = |token: &str, side: Side| {
            let class = match side {
                Side::External if (self.class)(&token.to_lowercase(), side) => token.to_lowercase(),
                _ => token.to_uppercase(),
            };
            let as_written = capitals || class == token;
            (as_written && (self.class)(&class, side)).then_some(class)
        };
        if let Some(second) = second {
            thread.internal = of(&first, Side::Internal);
            thread.external = of(&second, Side::External);
            return thread
                .internal
                .as_ref()
                .and(thread.external.as_ref())
                .map(|_| ());
        }
        reader.back_to(mark);
        let (external, internal) = (of(&first, Side::External), of(&first, Side::Internal));
        if external.is_none() && internal.is_none() {
            reader.back_to(start);
            return None;
        }
        thread.written.capitals = external.is_some() && internal.is_some();
        let side = match (&external, &internal) {
            (Some(_), None) => Some(Side::External),
            (None, Some(_)) => Some(Side::Internal),
            _ => None,
        };
        thread.side = side.or(thread.side);
        (thread.external, thread.internal) = (external, internal);
        Some(())
    }
}

/// A digit with one or two letters, as it stands.
fn token(reader: &mut Reader<'_>) -> Option<String> {
    let mut token = String::new();
    token.push(reader.peek().to_digit(10).map(|_| reader.peek())?);
    reader.step();
    while reader.peek_case().is_ascii_alphabetic() && token.len() < 3 {
        token.push(reader.peek_case());
        reader.step();
    }
    (token.len() > 1 && !reader.in_word()).then_some(token)
}

/// The class or classes as printed behind a size, with the dash before them.
pub(super) fn classes(thread: &Thread) -> String {
    match (&thread.internal, &thread.external) {
        (Some(class), Some(_)) if thread.is_ambiguous() => format!("-{class}"),
        (Some(internal), Some(external)) => format!("-{internal}/{external}"),
        (Some(class), None) | (None, Some(class)) => format!("-{class}"),
        (None, None) => String::new(),
    }
}

/// A size with its class and its hand. What is open between the sides is printed in capitals, as
/// it was written.
pub(super) fn finish(size: String, thread: &Thread) -> String {
    let mut text = size + &classes(thread);
    if thread.is_ambiguous() {
        text = text.to_uppercase();
    }
    if thread.hand == Hand::Left {
        text += "-LH";
    }
    text
}

/// The lead and the pitch in mm of a family that writes `40x14(P7)`.
pub(super) fn lead_and_pitch(thread: &Thread) -> String {
    let pitch = thread.pitch.length();
    if thread.starts > 1 {
        format!("{}(P{pitch})", pitch * i64::from(thread.starts))
    } else {
        pitch.to_string()
    }
}

#[cfg(test)]
mod tests;
