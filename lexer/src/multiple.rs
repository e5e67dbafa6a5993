//! Words that are multiples of one value that the text does not give: `F#1` beside `P[613.4*#1]`,
//! `S#2` beside `F[1.25*#2]`. Neither is known, their ratio is.

use crate::block::{Block, Value as WordValue};
use crate::expression::{Num, Value};
use crate::moved::places;
use crate::section::{Syntax, Val};
use crate::source::{Mark, Span};
use crate::units::{Lead, Length, Units};

/// A word that is a number of times an unknown value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Multiple {
    letter: u8,
    /// Which unknown.
    of: u32,
    times: Num,
    pub(crate) span: Span,
    pub(crate) line: u32,
}

impl Multiple {
    /// The word with a letter, where its value is a multiple.
    pub(crate) fn of(letter: u8, value: Value, span: Span, line: u32) -> Option<Multiple> {
        match value {
            Value::Linear(linear) if linear.plus.is_zero() => Some(Multiple {
                letter,
                of: linear.of,
                times: linear.by,
                span,
                line,
            }),
            _ => None,
        }
    }

    fn over(&self, other: &Multiple) -> Option<Num> {
        (self.of == other.of)
            .then(|| self.times.over(other.times))
            .flatten()
    }
}

places!(Multiple {
    at (span, line);
    other letter, of, times;
});

/// Feed and speed in force, where they are multiples.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Tied {
    feed: Option<Multiple>,
    speed: Option<Multiple>,
}

places!(Tied {
    in feed, speed;
});

impl Tied {
    /// Takes the words of a block.
    pub(crate) fn see(&mut self, block: &Block, all: &[Multiple]) {
        // Beside these S is the highest speed.
        let clamps = [260, 500, 920].iter().any(|&code| block.has_g(code));
        for (letter, tied) in [(b'F', &mut self.feed), (b'S', &mut self.speed)] {
            if letter == b'S' && clamps {
                continue;
            }
            if block
                .word(letter)
                .is_some_and(|word| word.value != WordValue::Missing)
            {
                *tied = named(all, letter);
            }
        }
    }

    /// Feed per minute over turns per minute.
    pub(crate) fn lead(&self, units: Units) -> Option<Val<Lead>> {
        let ratio = self.feed?.over(&self.speed?)?;
        let (number, exact) = ratio.number(true)?;
        let lead = Lead::per_turn(number.real(units)?);
        if lead.mm() <= 0.0 {
            return None;
        }
        let near = Lead::per_turn(Length::from_pm(1));
        Some(if exact {
            Val::Exact(lead)
        } else {
            Val::Approx(lead, near)
        })
    }
}

fn named(all: &[Multiple], letter: u8) -> Option<Multiple> {
    all.iter().rev().find(|word| word.letter == letter).copied()
}

/// Height over lead of a multi-pass cycle whose height and lead are multiples of one value, at the
/// word that carries the height.
pub(crate) fn height_over_lead(
    syntax: Syntax,
    all: &[Multiple],
    units: Units,
    radius_mode: bool,
) -> Option<Mark<f64>> {
    let (height, lead) = match syntax {
        Syntax::TwoBlock => (b'P', b'F'),
        Syntax::OneBlock => (b'K', b'F'),
        Syntax::DriveLine => (b'K', b'P'),
        _ => return None,
    };
    let (height, lead) = (named(all, height)?, named(all, lead)?);
    let ratio = height.over(&lead)?.value();
    let value = match syntax {
        // Least increments. A small number of times may be meant for a control that reads real
        // units there.
        Syntax::TwoBlock if height.times.integer().is_none() && ratio.abs() < 100.0 => return None,
        Syntax::TwoBlock => ratio * units.value_of(units.least_increment()),
        // Under G7 the height is a difference of diameters.
        Syntax::DriveLine if !radius_mode => ratio / 2.0,
        _ => ratio,
    };
    Some(Mark {
        value,
        span: height.span,
        line: height.line,
    })
}
