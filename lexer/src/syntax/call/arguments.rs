//! Arguments by their place.

use smallvec::SmallVec;

use crate::block::Block;
use crate::number::Number;
use crate::section::{Role, RoleWord, Scale, Val};
use crate::source::Span;
use crate::units::{Length, Units};

/// What stands at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Value {
    Empty,
    Number(Number),
    Expression,
}

/// The arguments of a call.
pub(super) struct Arguments {
    all: SmallVec<[(Value, Span); 24]>,
}

/// An argument with the name that manuals give it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Argument {
    pub(super) name: &'static str,
    value: Value,
    span: Span,
}

impl Arguments {
    /// Splits what stands between the brackets, which are part of the span.
    pub(super) fn split(span: Span, bytes: &[u8]) -> Arguments {
        let end = bytes.len().min(span.end as usize);
        let (from, to) = ((span.start as usize + 1).min(end), end.saturating_sub(1));
        let mut all = SmallVec::new();
        let mut start = from;
        let mut depth = 0usize;
        let mut quoted = false;
        for (at, byte) in bytes.iter().enumerate().take(to).skip(from) {
            match byte {
                b'"' => quoted = !quoted,
                b'(' | b'[' if !quoted => depth += 1,
                b')' | b']' if !quoted => depth = depth.saturating_sub(1),
                b',' if !quoted && depth == 0 => {
                    all.push(argument(bytes, start, at));
                    start = at + 1;
                }
                _ => {}
            }
        }
        all.push(argument(bytes, start, to.max(start)));
        Arguments { all }
    }

    /// How many there are, the empty ones too.
    pub(super) fn len(&self) -> usize {
        self.all.len()
    }

    /// The argument at a place, from 0; an empty one behind the last.
    pub(super) fn at(&self, place: usize, name: &'static str) -> Argument {
        let (value, span) = self
            .all
            .get(place)
            .copied()
            .unwrap_or((Value::Empty, Span::default()));
        Argument { name, value, span }
    }
}

fn argument(bytes: &[u8], start: usize, end: usize) -> (Value, Span) {
    let text = bytes.get(start..end).unwrap_or_default();
    let trimmed = text.trim_ascii();
    let from = start + (text.len() - text.trim_ascii_start().len());
    let span = Span::new(from as u32, (from + trimmed.len()) as u32);
    if trimmed.is_empty() {
        return (Value::Empty, span);
    }
    match Number::plain(trimmed, 0) {
        // A place is a real value, with or without a point.
        Some((number, length)) if length == trimmed.len() => {
            let number = Number {
                point: true,
                ..number
            };
            (Value::Number(number), span)
        }
        _ => (Value::Expression, span),
    }
}

impl Argument {
    /// Whether nothing stands there.
    pub(super) fn is_empty(&self) -> bool {
        self.value == Value::Empty
    }

    /// The literal.
    pub(super) fn number(&self) -> Option<Number> {
        match self.value {
            Value::Number(number) => Some(number),
            _ => None,
        }
    }

    /// Why there is no literal.
    pub(super) fn why(&self) -> String {
        match self.value {
            Value::Empty => format!("{} is not written", self.name),
            Value::Expression => format!(
                "{} is a variable or an expression, which is not evaluated",
                self.name
            ),
            Value::Number(_) => format!("{} is too long a number", self.name),
        }
    }

    /// The literal, `default` where nothing is written.
    pub(super) fn or(&self, default: f64) -> Val<f64> {
        match self.value {
            Value::Empty => Val::Exact(default),
            _ => Val::or_unknown(self.number().map(Number::value), self.why()),
        }
    }

    /// A length.
    pub(super) fn length(&self, units: Units) -> Val<Length> {
        Val::or_unknown(
            self.number().and_then(|number| number.real(units)),
            self.why(),
        )
    }

    /// A length, none where nothing is written.
    pub(super) fn length_or_none(&self, units: Units) -> Val<Length> {
        match self.value {
            Value::Empty => Val::Exact(Length::ZERO),
            _ => self.length(units),
        }
    }

    /// A count, `default` where nothing is written.
    pub(super) fn count(&self, default: u32) -> Val<u32> {
        let count = self.number().and_then(Number::integer);
        match self.value {
            Value::Empty => Val::Exact(default),
            _ => Val::or_unknown(
                count.and_then(|count| u32::try_from(count).ok()),
                match self.value {
                    Value::Number(_) => format!("{} is no count", self.name),
                    _ => self.why(),
                },
            ),
        }
    }

    /// The argument as a word with a meaning. A place has no letter: a blank stands for it.
    pub(super) fn word(&self, block: &Block, role: Role, scale: Scale) -> Option<RoleWord> {
        Some(RoleWord {
            role,
            letter: b' ',
            number: self.number()?,
            span: self.span,
            value_span: self.span,
            line: block.line,
            scale,
            factor: 1,
            divisor: 1,
            base: Length::ZERO,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_brackets_and_quotes() {
        let text = b"(1.5, ,-30,R5+(2,3),\"A,B\", .05)";
        let all = Arguments::split(Span::new(0, text.len() as u32), text);
        assert_eq!(all.len(), 6);
        assert_eq!(all.at(0, "A").number().unwrap().value(), 1.5);
        assert!(all.at(1, "B").is_empty());
        assert_eq!(all.at(2, "C").number().unwrap().value(), -30.0);
        assert!(all.at(3, "D").why().contains("variable"));
        assert_eq!(all.at(4, "E").span.of(text), b"\"A,B\"");
        assert_eq!(all.at(5, "F").span.of(text), b".05");
        assert!(all.at(99, "G").is_empty());
        for text in [&b"()"[..], b"(", b"", b"(((", b"(\",)"] {
            let span = Span::new(0, text.len() as u32);
            assert!(Arguments::split(span, text).len() >= 1);
        }
    }
}
