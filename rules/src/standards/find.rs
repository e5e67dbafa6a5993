//! Looks for designations in free text: program comments, headers, tool lists.
//!
//! A name that is not there is worse than one overlooked, because findings are built on it. So a
//! text must look like a designation in its own right (a pitch that goes with the diameter, a
//! series, a class) or stand beside a word for threading; what could as well be an M code, a date,
//! a drawing number or a size with a length is left alone.

use std::cell::LazyCell;
use std::ops::Range;

use super::reader::{Looks, Reader};
use super::text::{Text, capitals};
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

/// Words beside which a bare `M8` is a machine function, or a bare `M42` a steel.
#[rustfmt::skip]
const MACHINE_WORDS: [&str; 33] = [
    "AIR", "BLOCK", "CALL", "CARBIDE", "CCW", "CHUCK", "CLAMP", "CLOSE", "CODE", "CONTROL",
    "COOLANT", "CW", "END", "FUNCTION", "GRADE", "HSS", "MACHINE", "MATERIAL", "MIST", "OFF", "ON",
    "OPEN", "OPTIONAL", "ORIENT", "PROGRAM", "RANGE", "RESTART", "REWIND", "SPINDLE", "START",
    "STEEL", "STOP", "TOOLCHANGE",
];

/// Words beside which `R 1/4` is a radius.
#[rustfmt::skip]
const RADIUS_WORDS: [&str; 31] = [
    "ARC", "BALL", "BEND", "BLEND", "BREAK", "BULL", "BULLNOSE", "CHAMFER", "CORNER", "CORNERS",
    "CUTTER", "EDGE", "EDGES", "ENDMILL", "FILLET", "FILLETS", "FULL", "GROOVE", "INSERT", "MAX",
    "MILL", "MIN", "NOSE", "RAD", "RADII", "RADIUS", "RELIEF", "ROUND", "TIP", "TOOL", "TYP",
];

/// Words of families: where one stands behind a size that another family has read, the size is
/// none of that family. `3/8-24 NPT` is no thread, above all no unified one.
#[rustfmt::skip]
const FOREIGN_WORDS: [&str; 30] = [
    "ACME", "API", "BA", "BSB", "BSC", "BSF", "BSP", "BSPP", "BSPT", "BSW", "BUTT", "BUTTRESS",
    "CEI", "G", "KR", "NPS", "NPSF", "NPSM", "NPT", "NPTF", "PF", "PT", "STUB", "UNJ", "UNJC",
    "UNJEF", "UNJF", "UNJS", "WHIT", "WHITWORTH",
];

/// Finds all designations in a text, from left to right.
#[must_use]
pub fn find_in_text(text: &str) -> Vec<Found> {
    if !text.bytes().any(|b| b.is_ascii_digit()) {
        return Vec::new();
    }
    let prepared = Text::new(text);
    let words = LazyCell::new(|| Words::of(&prepared));
    let mut found = Vec::new();
    let mut at = 0;
    while at < prepared.len() {
        if may_begin(&prepared, at)
            && let Some((end, looks, thread)) = longest(&prepared, at)
        {
            if ends_clean(&prepared, end, &thread)
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
    let inside = before.is_alphanumeric() || matches!(before, '.' | '#');
    let tail = matches!(before, '-' | '/' | ':' | '+') && !here.is_alphabetic();
    !inside && !tail
}

fn longest(text: &Text, at: usize) -> Option<(usize, Looks, Thread)> {
    let mut best: Option<(usize, Looks, Thread)> = None;
    for family in FAMILIES {
        let mut reader = Reader::new(text, at);
        if !family.standard().initials.contains(reader.peek()) {
            continue;
        }
        if let Some(thread) = (family.standard().read)(&mut reader)
            && best.as_ref().is_none_or(|b| reader.place() > b.0)
        {
            best = Some((reader.place(), reader.looks, thread));
        }
    }
    best
}

/// Whether the text goes on as something else than the tail of a longer number or name. A length
/// may follow a size with its pitch: `M6X1X20`.
fn ends_clean(text: &Text, end: usize, thread: &Thread) -> bool {
    let (here, next) = (text.at(end), text.at(end + 1));
    if matches!(here, 'x' | 'X') {
        return thread.written.pitch && next.is_ascii_digit();
    }
    if here.is_alphanumeric() {
        return false;
    }
    !(matches!(here, '-' | '/' | '.' | ':' | '=') && next.is_alphanumeric())
}

/// The words of a text with their places, and what the text as a whole is about.
struct Words {
    words: Vec<(Range<usize>, String)>,
    /// Blocks of a program rather than words, `G97 S800 M3`: from the first to the last code.
    codes: Option<Range<usize>>,
    /// A tool is called: `T0303`.
    tool: bool,
    /// A word that goes with machine functions or materials.
    machine: bool,
}

impl Words {
    fn of(text: &Text) -> Self {
        let mut words: Vec<(Range<usize>, String)> = Vec::new();
        for at in 0..text.len() {
            let c = text.at(at);
            if !c.is_alphanumeric() {
                continue;
            }
            let upper = capitals(c);
            match words.last_mut() {
                Some((place, word)) if place.end == at => {
                    place.end += 1;
                    word.extend(upper);
                }
                _ => words.push((at..at + 1, upper.collect())),
            }
        }
        let any = |test: &dyn Fn(&str) -> bool| words.iter().any(|(_, word)| test(word));
        Words {
            codes: {
                let mut codes = words
                    .iter()
                    .filter(|(place, word)| is_code(text, place, word));
                let first = codes.next();
                let last = codes.next_back().or(first);
                first
                    .zip(last)
                    .map(|(first, last)| first.0.start..last.0.end)
            },
            tool: any(&|word| {
                let number = word.strip_prefix('T').unwrap_or("");
                !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit())
            }),
            machine: any(&|word| MACHINE_WORDS.contains(&word)),
            words,
        }
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
        let beside = "a word for threading stands beside it";
        if looks == Looks::Named {
            return Some((Confidence::Strong, "the series is written"));
        }
        let next = self.behind(to).next().map_or("", |(_, word)| word.as_str());
        if looks == Looks::Foreign || FOREIGN_WORDS.contains(&next) {
            return None;
        }
        if looks == Looks::Radius && (self.names_radius(from, to) || self.codes_outside(from, to)) {
            return None;
        }
        if self.beside(from, to) && matches!(looks, Looks::Address | Looks::Radius) {
            return Some((Confidence::Weak, beside));
        }
        if self.beside(from, to) {
            // `T0303 M6 THREADING TOOL` changes a tool.
            let change = looks == Looks::Bare && self.tool && thread.major.mm() == 6.0;
            let confidence = if change {
                Confidence::Weak
            } else {
                Confidence::Strong
            };
            return Some((confidence, beside));
        }
        if self.codes_outside(from, to) {
            return None;
        }
        // M30 ends a program far more often than it is a thread.
        let function = self.machine || self.tool || thread.major.mm() == 30.0;
        match looks {
            Looks::Fitting if thread.written.class => {
                Some((Confidence::Strong, "a tolerance class is written"))
            }
            Looks::Fitting => Some((Confidence::Strong, "diameter and pitch belong together")),
            Looks::Bare if function => None,
            Looks::Likely | Looks::Bare | Looks::Radius => {
                Some((Confidence::Weak, "it is written like a thread"))
            }
            _ => None,
        }
    }

    /// Whether a code stands outside the designation itself, which may begin like one: `G1/2`.
    fn codes_outside(&self, from: usize, to: usize) -> bool {
        let codes = self.codes.as_ref();
        codes.is_some_and(|codes| codes.start < from || codes.end > to)
    }

    /// Whether the word before or behind says that a radius is meant.
    fn names_radius(&self, from: usize, to: usize) -> bool {
        let before = self.words.partition_point(|(place, _)| place.end <= from);
        let before = before.checked_sub(1).and_then(|at| self.words.get(at));
        let mut beside = before.into_iter().chain(self.behind(to).next());
        beside.any(|(_, word)| RADIUS_WORDS.contains(&word.as_str()))
    }

    /// Whether a word for threading stands directly before or behind, fillers left out.
    fn beside(&self, from: usize, to: usize) -> bool {
        let before = self.words.partition_point(|(place, _)| place.end <= from);
        first_telling(self.words[..before].iter().rev()) || first_telling(self.behind(to))
    }

    fn behind(&self, to: usize) -> impl Iterator<Item = &(Range<usize>, String)> {
        let behind = self.words.partition_point(|(place, _)| place.start < to);
        self.words[behind..].iter()
    }
}

/// Whether a word is a preparatory function and not the beginning of a pipe size: `G1`, but not
/// the `G1` of `G1/2`.
fn is_code(text: &Text, place: &Range<usize>, word: &str) -> bool {
    let rest = word.strip_prefix('G').unwrap_or("");
    let size = text.at(place.end) == '/' && text.at(place.end + 1).is_ascii_digit();
    rest.starts_with(|c: char| c.is_ascii_digit()) && !size
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

#[cfg(test)]
mod tests;
