//! Looks for designations in free text: program comments, headers, tool lists.
//!
//! A name that is not there is worse than one overlooked, because findings are built on it. So a
//! text must look like a designation in its own right (a pitch that goes with the diameter, a
//! series, a class) or stand beside a word for threading; what could as well be an M code, a date,
//! a drawing number or a size with a length is left alone.

use std::ops::Range;

use super::reader::{Looks, Reader, Text};
use super::thread::Thread;
use super::{FAMILIES, Side};

/// How sure it is that a text names a thread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    /// It could be something else; numbers must bear it out.
    Weak,
    /// It is a designation.
    Strong,
}

/// A designation found in a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What it says.
    pub thread: Thread,
    /// The bytes of the text it covers.
    pub span: Range<usize>,
    /// How sure it is.
    pub confidence: Confidence,
    /// What speaks for it, as the end of "found because …".
    pub because: &'static str,
}

/// Beginnings of words that say that the text is about a thread, after look-alike letters are
/// made even.
const THREAD_STEMS: [&str; 11] = [
    "THREAD", "THD", "TAPP", "GEWIND", "FILET", "TARAUD", "ROSCA", "MASCHI", "GWINT", "PEЗЬБ",
    "METЧИK",
];
/// Whole words of the same kind; `TAPER` and `THROUGH` are none.
const THREAD_WORDS: [&str; 4] = ["TAP", "TAPS", "THR", "THRD"];

/// Words that may stand between a designation and its word for threading.
const FILLERS: [&str; 18] = [
    "FOR", "SIZE", "DRILL", "OD", "ID", "INT", "EXT", "INTERNAL", "EXTERNAL", "RH", "LH", "CUT",
    "ROUGH", "FINISH", "MALE", "FEMALE", "FINE", "COARSE",
];

/// Words beside which a bare `M8` is a machine function.
const MACHINE_WORDS: [&str; 26] = [
    "AIR",
    "BLOCK",
    "CALL",
    "CCW",
    "CHUCK",
    "CLAMP",
    "CLOSE",
    "CODE",
    "COOLANT",
    "CW",
    "END",
    "FUNCTION",
    "MIST",
    "OFF",
    "ON",
    "OPEN",
    "OPTIONAL",
    "ORIENT",
    "PROGRAM",
    "RANGE",
    "RESTART",
    "REWIND",
    "SPINDLE",
    "START",
    "STOP",
    "TOOLCHANGE",
];

/// Words of families that are not known here: `1/2-14 NPT` is no unified thread.
const FOREIGN_WORDS: [&str; 22] = [
    "ACME", "API", "BA", "BSF", "BSP", "BSPP", "BSPT", "BSW", "BUTT", "BUTTRESS", "G", "KR",
    "NPSF", "NPSM", "NPT", "NPTF", "PF", "PT", "STUB", "UNJ", "UNJC", "UNJF",
];

/// Finds all designations in a text, from left to right.
#[must_use]
pub fn find_in_text(text: &str) -> Vec<Found> {
    if !text.bytes().any(|b| b.is_ascii_digit()) {
        return Vec::new();
    }
    let prepared = Text::new(text);
    let words = Words::of(&prepared);
    let mut found = Vec::new();
    let mut at = 0;
    while at < prepared.len() {
        if may_begin(&prepared, at)
            && let Some((end, looks, thread)) = longest(&prepared, at)
        {
            if ends_clean(&prepared, end)
                && let Some((confidence, because)) = words.judge(&thread, looks, at, end)
            {
                found.push(Found {
                    thread,
                    span: prepared.span(at, end),
                    confidence,
                    because,
                });
                at = end;
                continue;
            }
            // Nothing inside a number or word that was read as a whole is a designation.
            while prepared.at(at).is_alphanumeric() {
                at += 1;
            }
        }
        at += 1;
    }
    found
}

/// Whether a designation can begin here: not inside a word, a number, a date or a part number.
fn may_begin(text: &Text, at: usize) -> bool {
    let (before, here) = (if at == 0 { ' ' } else { text.at(at - 1) }, text.at(at));
    if before.is_alphanumeric() || before == '.' {
        return false;
    }
    match here {
        'M' | 'm' | 'U' | 'u' => true,
        '#' => before != '#',
        '.' | '0'..='9' => !matches!(before, '-' | '/' | ':' | '#' | '+'),
        other => other.is_alphabetic(),
    }
}

fn longest(text: &Text, at: usize) -> Option<(usize, Looks, Thread)> {
    let mut best: Option<(usize, Looks, Thread)> = None;
    for family in FAMILIES {
        let mut reader = Reader::new(text, at);
        if let Some(thread) = (family.standard().read)(&mut reader)
            && best.as_ref().is_none_or(|b| reader.place() > b.0)
        {
            best = Some((reader.place(), reader.looks, thread));
        }
    }
    best
}

/// Whether the text goes on as something else than the tail of a longer number or name.
fn ends_clean(text: &Text, end: usize) -> bool {
    let (here, next) = (text.at(end), text.at(end + 1));
    if here.is_alphanumeric() {
        return false;
    }
    !(matches!(here, '-' | '/' | '.' | ':' | '=') && next.is_alphanumeric())
}

/// The words of a text with their places.
struct Words {
    words: Vec<(Range<usize>, String)>,
}

impl Words {
    fn of(text: &Text) -> Self {
        let mut words: Vec<(Range<usize>, String)> = Vec::new();
        for at in 0..text.len() {
            let c = text.at(at);
            if !c.is_alphanumeric() {
                continue;
            }
            let upper = c.to_uppercase();
            match words.last_mut() {
                Some((place, word)) if place.end == at => {
                    place.end += 1;
                    word.extend(upper);
                }
                _ => words.push((at..at + 1, upper.collect())),
            }
        }
        Words { words }
    }

    /// What the text around says for the thread read from `from` to `to`; `None` when it must be
    /// taken for something else.
    fn judge(
        &self,
        thread: &Thread,
        looks: Looks,
        from: usize,
        to: usize,
    ) -> Option<(Confidence, &'static str)> {
        let foreign = self.next(to).is_some_and(|w| FOREIGN_WORDS.contains(&w));
        if foreign || looks == Looks::Foreign {
            return None;
        }
        if looks == Looks::Named {
            return Some((Confidence::Strong, "the series is written"));
        }
        if self.beside(from, to) {
            return Some((Confidence::Strong, "a word for threading stands beside it"));
        }
        if self.has_codes() {
            return None;
        }
        match looks {
            Looks::Fitting if thread.written.class => {
                Some((Confidence::Strong, "a tolerance class is written"))
            }
            Looks::Fitting => Some((Confidence::Strong, "diameter and pitch belong together")),
            Looks::Bare if self.machine_function(thread) => None,
            Looks::Likely | Looks::Bare => Some((Confidence::Weak, "it is written like a thread")),
            _ => None,
        }
    }

    /// Whether a word for threading stands directly before or behind, fillers left out.
    fn beside(&self, from: usize, to: usize) -> bool {
        let before = self.words.iter().rev().filter(|(p, _)| p.end <= from);
        let behind = self.words.iter().filter(|(p, _)| p.start >= to);
        first_telling(before) || first_telling(behind)
    }

    fn next(&self, to: usize) -> Option<&str> {
        let mut behind = self.words.iter().filter(|(p, _)| p.start >= to);
        behind.next().map(|(_, word)| word.as_str())
    }

    /// Whether the text holds blocks of a program rather than words: `G97 S800 M3`.
    fn has_codes(&self) -> bool {
        self.words.iter().any(|(_, word)| {
            let mut chars = word.chars();
            chars.next() == Some('G') && chars.next().is_some_and(|c| c.is_ascii_digit())
        })
    }

    /// Whether a bare `M8` is rather a machine function.
    fn machine_function(&self, thread: &Thread) -> bool {
        // M30 ends a program far more often than it is a thread.
        let program_end = thread.major.mm() == 30.0;
        program_end
            || self.words.iter().any(|(_, word)| {
                let tool_call = word.len() > 1
                    && word.starts_with('T')
                    && word[1..].bytes().all(|b| b.is_ascii_digit());
                tool_call || MACHINE_WORDS.contains(&word.as_str())
            })
    }
}

fn first_telling<'w>(words: impl Iterator<Item = &'w (Range<usize>, String)>) -> bool {
    let mut telling = words.filter(|(_, word)| !FILLERS.contains(&word.as_str()));
    telling.next().is_some_and(|(_, word)| {
        THREAD_WORDS.contains(&word.as_str())
            || THREAD_STEMS.iter().any(|stem| word.starts_with(stem))
    })
}

impl Found {
    /// The thread with the side settled, see [`Thread::on`].
    #[must_use]
    pub fn on(&self, side: Side) -> Thread {
        self.thread.on(side)
    }
}
