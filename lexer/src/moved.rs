//! How places follow when a stretch of the text is replaced: what stands before stays, what stands
//! behind moves, what stood inside is lost.

use std::ops::Range;

use crate::source::{Lines, Mark, Span};

/// One replacement, for places that are to follow it.
#[derive(Debug, Clone)]
pub struct Moved {
    /// The replaced stretch in the old text.
    old: Range<u32>,
    /// How far what stands behind it moves.
    bytes: i64,
    /// Lines of its ends in the old text, from 1.
    on: (u32, u32),
    /// Lines by which what stands behind it moves.
    lines: i64,
    pub(crate) lost: bool,
    touched: bool,
    shifted: bool,
}

impl Moved {
    /// A replacement of the bytes `old` by the bytes `new`, which start at the same place.
    #[must_use]
    pub fn new(old: &Range<u32>, new: &Range<u32>, before: &Lines, after: &Lines) -> Moved {
        let on = (before.line(old.start), before.line(old.end));
        Moved {
            old: old.clone(),
            bytes: i64::from(new.end) - i64::from(old.end),
            on,
            lines: i64::from(after.line(new.end)) - i64::from(on.1),
            lost: false,
            touched: false,
            shifted: false,
        }
    }

    /// Whether a place was lost since the last call.
    pub fn lost(&mut self) -> bool {
        std::mem::take(&mut self.lost)
    }

    /// Whether a place met the replaced stretch or its ends since the last call.
    pub fn touched(&mut self) -> bool {
        std::mem::take(&mut self.touched)
    }

    /// Whether a place moved since the last call.
    pub fn shifted(&mut self) -> bool {
        std::mem::take(&mut self.shifted)
    }

    /// Whether a place stands wholly before the replacement, so that it stays.
    #[must_use]
    pub const fn is_behind(&self, span: Span) -> bool {
        span.end <= self.old.start
    }

    /// Lines of its ends in the old text, from 1, and the line of its end in the new one.
    #[must_use]
    pub fn lines(&self) -> (u32, u32, u32) {
        (self.on.0, self.on.1, Self::add(self.on.1, self.lines))
    }

    /// Whether a span of the old text meets the replaced stretch or its ends.
    #[must_use]
    pub const fn meets(&self, span: Span) -> bool {
        span.start <= self.old.end && self.old.start <= span.end
    }

    fn add(value: u32, by: i64) -> u32 {
        u32::try_from(i64::from(value) + by).unwrap_or_default()
    }

    /// A span follows.
    pub fn span(&mut self, span: &mut Span) {
        self.touched |= self.meets(*span);
        if span.end <= self.old.start && (span.start < self.old.start || span.start == span.end) {
            return;
        }
        if span.start >= self.old.end {
            self.shifted = true;
            span.start = Self::add(span.start, self.bytes);
            span.end = Self::add(span.end, self.bytes);
            return;
        }
        // Around the replacement, or cut by it.
        if span.start <= self.old.start && span.end >= self.old.end {
            span.end = Self::add(span.end, self.bytes);
            return;
        }
        self.lost = true;
    }

    /// A span and the line of its start follow.
    pub fn place(&mut self, span: &mut Span, line: &mut u32) {
        let behind =
            span.start >= self.old.end && !(span.end <= self.old.start && span.start == span.end);
        if behind {
            *line = Self::add(*line, self.lines);
        }
        self.span(span);
    }

    /// A line follows that is known by nothing but its number.
    pub fn line(&mut self, line: &mut u32) {
        if *line > self.on.1 {
            self.shifted = true;
            *line = Self::add(*line, self.lines);
        } else if *line >= self.on.0 && (self.lines != 0 || self.on.0 != self.on.1) {
            self.lost = true;
        }
    }
}

/// What holds places in a text.
pub trait Places {
    /// Every place in it follows a replacement.
    fn follow(&mut self, moved: &mut Moved);
}

impl<T: Places> Places for Option<T> {
    fn follow(&mut self, moved: &mut Moved) {
        if let Some(it) = self {
            it.follow(moved);
        }
    }
}

impl<T: Places> Places for Vec<T> {
    fn follow(&mut self, moved: &mut Moved) {
        self.iter_mut().for_each(|it| it.follow(moved));
    }
}

impl<T: Places> Places for std::collections::VecDeque<T> {
    fn follow(&mut self, moved: &mut Moved) {
        self.iter_mut().for_each(|it| it.follow(moved));
    }
}

impl<T: Places + ?Sized> Places for Box<T> {
    fn follow(&mut self, moved: &mut Moved) {
        (**self).follow(moved);
    }
}

impl Places for Span {
    fn follow(&mut self, moved: &mut Moved) {
        moved.span(self);
    }
}

/// A span and its line.
impl Places for (Span, u32) {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.0, &mut self.1);
    }
}

/// Values that hold no place of their own; [`Places`] of a mark leaves them.
pub(crate) trait Plain {}

macro_rules! plain {
    ($($type:ty),*) => { $(impl $crate::moved::Plain for $type {})* };
}
pub(crate) use plain;

plain!((), bool, u32, i32, f64, &'static str);

impl<T: Plain> Places for Mark<T> {
    fn follow(&mut self, moved: &mut Moved) {
        moved.place(&mut self.span, &mut self.line);
    }
}

/// Writes [`Places`] for a struct, of which every field has to be named: under `at` a span with its
/// line, under `in` what holds places itself, under `lines` line numbers alone, under `other` what
/// holds none.
macro_rules! places {
    ($type:ty {
        $(at ($span:ident, $line:ident);)?
        $(in $($field:ident),+;)?
        $(lines $($number:ident),+;)?
        $(other $($rest:ident),+;)?
    }) => {
        impl $crate::moved::Places for $type {
            fn follow(&mut self, moved: &mut $crate::moved::Moved) {
                let Self {
                    $($span, $line,)?
                    $($($field,)+)?
                    $($($number,)+)?
                    $($($rest: _,)+)?
                } = self;
                $(moved.place($span, $line);)?
                $($($crate::moved::Places::follow($field, moved);)+)?
                $($(moved.line($number);)+)?
            }
        }
    };
}
pub(crate) use places;

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(text: &str, old: Range<u32>, put: &str) -> Moved {
        let mut after = text.to_owned();
        after.replace_range(old.start as usize..old.end as usize, put);
        let new = old.start..old.start + put.len() as u32;
        Moved::new(
            &old,
            &new,
            &Lines::new(text.as_bytes()),
            &Lines::new(after.as_bytes()),
        )
    }

    #[test]
    fn places_follow_an_insertion_in_a_line() {
        let mut it = moved("G0 X1\nG1 Z2\nM30\n", 9..9, "(A)\n");
        let mut before = (Span::new(6, 8), 2);
        before.follow(&mut it);
        assert_eq!(before, (Span::new(6, 8), 2));
        let mut behind = (Span::new(9, 11), 2);
        behind.follow(&mut it);
        assert_eq!(
            behind,
            (Span::new(13, 15), 3),
            "the rest of the line is a line of its own"
        );
        let mut around = Span::new(6, 11);
        around.follow(&mut it);
        assert_eq!(around, Span::new(6, 15));
        assert!(!it.lost());
        let mut line = 2;
        it.line(&mut line);
        assert!(it.lost(), "which of the two lines is meant is not known");
        line = 3;
        it.line(&mut line);
        assert_eq!((line, it.lost()), (4, false));
    }

    #[test]
    fn what_stood_inside_is_lost() {
        let mut it = moved("G0 X1\nG1 Z2\nM30\n", 4..8, "");
        Span::new(3, 5).follow(&mut it);
        assert!(it.lost());
        Span::new(6, 8).follow(&mut it);
        assert!(it.lost());
        Span::new(0, 4).follow(&mut it);
        assert!(!it.lost());
        let mut behind = (Span::new(9, 11), 2);
        behind.follow(&mut it);
        assert_eq!(behind, (Span::new(5, 7), 1));
    }
}
