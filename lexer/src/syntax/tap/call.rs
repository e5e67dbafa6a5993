//! Calls of tapping cycles with positional arguments, once or at every position that follows
//! (MCALL). The order of the arguments is as described for the language of these calls:
//! retract plane, reference plane, safety distance, depth, depth from the reference plane, dwell,
//! direction after the cycle, size, pitch, start angle, speed in, speed out; with a floating holder
//! retract plane, reference plane, safety distance, depth, depth from the reference plane, dwell,
//! direction out, direction after, encoder, size, pitch.

use crate::block::Block;
use crate::number::Number;
use crate::section::tapping::Way;
use crate::source::Span;
use crate::units::{Length, Units};

/// An argument.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Argument {
    Empty,
    Number(Number),
    Other,
}

/// A call of a tapping or drilling cycle.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Call {
    /// Floating or synchronised; none for drilling, whose first arguments are the same.
    pub(crate) way: Option<Way>,
    /// Where the call stands, name and arguments.
    pub(crate) span: Span,
    /// Whether it is repeated at every position that follows.
    pub(crate) modal: bool,
    arguments: Vec<Argument>,
}

/// The call in a block.
pub(crate) fn call(block: &Block, bytes: &[u8]) -> Option<Call> {
    let mut modal = false;
    for name in &block.names {
        let text = name.span.of(bytes);
        modal |= text.eq_ignore_ascii_case(b"MCALL");
        if let Some(arguments) = name.arguments
            && let Some(way) = way(text)
        {
            return Some(Call {
                way,
                span: name.span.to(arguments),
                modal,
                arguments: split(arguments.of(bytes)),
            });
        }
    }
    None
}

/// What the cycle of a name does: taps in a way, or drills.
fn way(name: &[u8]) -> Option<Option<Way>> {
    let name = name.to_ascii_uppercase();
    match name.as_slice() {
        b"CYCLE84" => Some(Some(Way::Call)),
        b"CYCLE840" => Some(Some(Way::FloatingCall)),
        b"CYCLE81" | b"CYCLE82" | b"CYCLE83" => Some(None),
        _ => None,
    }
}

/// `(10,0,,-20)` into its arguments.
fn split(text: &[u8]) -> Vec<Argument> {
    let inner = text.strip_prefix(b"(").unwrap_or(text);
    let inner = inner.strip_suffix(b")").unwrap_or(inner);
    let read = |piece: &[u8]| {
        let piece = piece.trim_ascii();
        let plain = piece
            .iter()
            .all(|b| b.is_ascii_digit() || matches!(b, b'+' | b'-' | b'.'));
        match Number::parse(piece) {
            _ if piece.is_empty() => Argument::Empty,
            Some(number) if plain => Argument::Number(number),
            _ => Argument::Other,
        }
    };
    // No call has more arguments than this.
    inner.split(|&b| b == b',').take(64).map(read).collect()
}

impl Call {
    fn at(&self, index: usize) -> Argument {
        self.arguments
            .get(index)
            .copied()
            .unwrap_or(Argument::Empty)
    }

    fn number(&self, index: usize) -> Option<Number> {
        match self.at(index) {
            Argument::Number(number) => Some(number),
            _ => None,
        }
    }

    fn length(&self, index: usize, units: Units) -> Option<Length> {
        self.number(index)?.real(units)
    }

    /// Where the stroke starts: reference plane and safety distance.
    pub(crate) fn clear(&self, units: Units) -> Option<Length> {
        let face = self.length(1, units)?;
        match self.at(2) {
            Argument::Empty => Some(face),
            _ => self.length(2, units).map(|safe| face + safe.abs()),
        }
    }

    /// The bottom of the hole: the depth, or the distance below the reference plane.
    pub(crate) fn bottom(&self, units: Units) -> Option<Length> {
        match (self.at(3), self.at(4)) {
            (Argument::Empty, Argument::Number(_)) => {
                Some(self.length(1, units)? - self.length(4, units)?.abs())
            }
            (Argument::Number(_), Argument::Empty) => self.length(3, units),
            (Argument::Number(_), Argument::Number(by)) if by.digits == 0 => self.length(3, units),
            _ => None,
        }
    }

    /// Index of the size; the pitch follows.
    fn size_at(&self) -> usize {
        match self.way {
            Some(Way::FloatingCall) => 9,
            _ => 7,
        }
    }

    /// Nominal metric size in mm, sign for the hand.
    pub(crate) fn size(&self) -> Option<f64> {
        let size = self.number(self.size_at())?.value();
        (size != 0.0).then_some(size)
    }

    /// Pitch, sign for the hand.
    pub(crate) fn pitch(&self, units: Units) -> Option<Length> {
        let pitch = self.length(self.size_at() + 1, units)?;
        // The longer form counts the pitch in other units by a further argument.
        let counted_otherwise = self.way == Some(Way::Call)
            && match self.at(13) {
                Argument::Empty => false,
                Argument::Number(number) => !matches!(number.integer(), Some(0 | 1)),
                Argument::Other => true,
            };
        (!pitch.is_zero() && !counted_otherwise).then_some(pitch)
    }

    /// Speeds in and out, where they are arguments.
    pub(crate) fn speeds(&self) -> (Option<f64>, Option<f64>) {
        if self.way == Some(Way::FloatingCall) {
            return (None, None);
        }
        let speed = |index| self.number(index).map(Number::value).filter(|s| *s > 0.0);
        (speed(10), speed(11))
    }

    /// Whether arguments are variables.
    pub(crate) fn open(&self) -> bool {
        self.arguments.contains(&Argument::Other)
    }
}
