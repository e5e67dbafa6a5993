//! A line of a program as skip mark, line number, words, names and comments. Never fails: what
//! cannot be read is a [`Fault`] with its place.

mod reader;

pub use reader::{Blocks, blocks};

use smallvec::SmallVec;

use crate::number::Number;
use crate::source::Span;

/// The value of a word.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// A literal.
    Number(Number),
    /// A variable or an expression.
    Expression,
    /// The address stands alone.
    Missing,
}

/// An address letter with its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Word {
    /// Upper-case address letter.
    pub letter: u8,
    /// The value.
    pub value: Value,
    /// Where the word stands, letter and value.
    pub span: Span,
    /// Where the value stands.
    pub value_span: Span,
}

impl Word {
    /// The literal, where the value is one.
    #[must_use]
    pub fn number(&self) -> Option<Number> {
        match self.value {
            Value::Number(number) => Some(number),
            _ => None,
        }
    }

    /// A G code with more than one decimal, such as `G76.55`.
    #[must_use]
    pub fn is_odd_code(&self) -> bool {
        self.letter == b'G' && self.number().is_some_and(|number| number.decimals > 1)
    }

    /// A code in tenths (`G33.1` is 331), where the value is a literal with one decimal at most.
    #[must_use]
    pub fn code(&self) -> Option<i32> {
        let number = self.number()?;
        if number.decimals > 1 || number.digits < 0 || number.clipped {
            return None;
        }
        let scale = if number.decimals == 0 { 10 } else { 1 };
        let tenths = number.digits.checked_mul(scale)?;
        i32::try_from(tenths).ok()
    }
}

/// Damage in the text of a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FaultKind {
    /// A comma stands where the decimal point belongs.
    DecimalComma,
    /// A typographic dash stands where the minus belongs.
    TypographicMinus,
    /// The letter O stands where a zero belongs.
    LetterO,
    /// An address without a value.
    MissingValue,
    /// A comment that is not closed on its line.
    UnclosedComment,
    /// A G code with more than one decimal, which no control has.
    OddCode,
    /// Bytes that belong to no word.
    Junk,
}

impl FaultKind {
    /// What is wrong, in words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            FaultKind::DecimalComma => "a decimal comma stands where the control wants a point",
            FaultKind::TypographicMinus => {
                "a typographic dash stands where the control wants the minus sign"
            }
            FaultKind::LetterO => "the letter O stands where a zero belongs",
            FaultKind::MissingValue => "an address has no value",
            FaultKind::UnclosedComment => "a comment is not closed on its line",
            FaultKind::OddCode => "a G code has more than one decimal",
            FaultKind::Junk => "characters that belong to no word",
        }
    }
}

/// A [`FaultKind`] with its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Fault {
    /// What is wrong.
    pub kind: FaultKind,
    /// Where.
    pub span: Span,
}

/// A name in a block: a keyword, a call, or an address of several letters or with an index and `=`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Name {
    /// Where the name stands.
    pub span: Span,
    /// The literal after `=`, as in `LIMS=3000` or `S1=800`.
    pub assigned: Option<Number>,
    /// Where the value behind `=` stands.
    pub value_span: Option<Span>,
    /// What stands in the brackets right behind the name, as in `CYCLE97(…)`.
    pub arguments: Option<Span>,
}

/// One line.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Block {
    /// The line without its line end.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
    /// Block skip: 1 for `/`, the digit for `/2`.
    pub skip: Option<u8>,
    /// The N word.
    pub number: Option<Word>,
    /// The O or `:` word.
    pub program: Option<Word>,
    /// Words in the order written, without N and O.
    pub words: SmallVec<[Word; 8]>,
    /// Names in the order written.
    pub names: SmallVec<[Name; 1]>,
    /// Comments, brackets and semicolon included.
    pub comments: SmallVec<[Span; 1]>,
    /// Damage.
    pub faults: SmallVec<[Fault; 1]>,
    /// Where a statement begins that this reader does not evaluate: an assignment, a condition, a
    /// loop, plain text.
    pub statement: Option<Span>,
    /// Assignments to R parameters and names: `R1=5`, `DEPTH=R1*2`.
    pub assignments: SmallVec<[Span; 1]>,
    /// Whether the line is a tape mark (`%`).
    pub percent: bool,
    /// Letters of the words, one bit each, and [`COMPUTED`].
    letters: u32,
}

/// The bit of a letter.
const fn bit(letter: u8) -> u32 {
    1u32.wrapping_shl(letter.wrapping_sub(b'A') as u32)
}

/// Beside the letters: a word is a variable or an expression.
const COMPUTED: u32 = 1 << 31;

fn bits_of(word: &Word) -> u32 {
    let computed = match word.value {
        Value::Expression => COMPUTED,
        _ => 0,
    };
    bit(word.letter) | computed
}

impl Block {
    /// The last word with this letter (controls keep the last of two).
    #[must_use]
    pub fn word(&self, letter: u8) -> Option<&Word> {
        if !self.has(letter) {
            return None;
        }
        self.words.iter().rev().find(|word| word.letter == letter)
    }

    /// Whether a word with this letter stands in the block.
    #[must_use]
    pub fn has(&self, letter: u8) -> bool {
        self.letters & bit(letter) != 0
    }

    /// Whether any word with one of these letters stands in the block.
    #[must_use]
    pub fn has_any(&self, letters: &[u8]) -> bool {
        letters.iter().any(|&letter| self.has(letter))
    }

    fn push(&mut self, word: Word) {
        self.letters |= bits_of(&word);
        self.words.push(word);
    }

    /// The literal of the word with this letter.
    #[must_use]
    pub fn number_of(&self, letter: u8) -> Option<Number> {
        self.word(letter)?.number()
    }

    /// G codes of the block in tenths, in order.
    pub fn g_codes(&self) -> impl Iterator<Item = (i32, &Word)> {
        self.codes(b'G')
    }

    /// M codes of the block in tenths, in order.
    pub fn m_codes(&self) -> impl Iterator<Item = (i32, &Word)> {
        self.codes(b'M')
    }

    fn codes(&self, letter: u8) -> impl Iterator<Item = (i32, &Word)> {
        let words = if self.has(letter) {
            self.words.as_slice()
        } else {
            &[]
        };
        words
            .iter()
            .filter(move |word| word.letter == letter)
            .filter_map(|word| Some((word.code()?, word)))
    }

    /// Whether the G code (in tenths) stands in the block.
    #[must_use]
    pub fn has_g(&self, tenths: i32) -> bool {
        self.g_codes().any(|(code, _)| code == tenths)
    }

    /// Whether G0, G1, G2 or G3 stands in the block.
    #[must_use]
    pub fn has_motion_code(&self) -> bool {
        self.g_codes()
            .any(|(code, _)| matches!(code, 0 | 10 | 20 | 30))
    }

    /// Whether a word was written as a variable or an expression.
    #[must_use]
    pub(crate) fn computes(&self) -> bool {
        self.letters & COMPUTED != 0
    }

    /// Whether a G code is a variable or an expression.
    #[must_use]
    pub fn computes_code(&self) -> bool {
        self.has(b'G')
            && self
                .words
                .iter()
                .any(|word| word.letter == b'G' && word.value == Value::Expression)
    }

    /// Takes out every word that `keep` does not want.
    pub(crate) fn retain(&mut self, mut keep: impl FnMut(&Word) -> bool) {
        self.words.retain(|word| keep(word));
        self.letters = self.words.iter().fold(0, |all, word| all | bits_of(word));
    }

    /// Moves the places of a block that was read from a piece of a text to where they are in the
    /// whole: `bytes` and `lines` stand before the piece.
    pub fn shift(&mut self, bytes: u32, lines: u32) {
        let moved = |span: &mut Span| *span = Span::new(span.start + bytes, span.end + bytes);
        self.line += lines;
        moved(&mut self.span);
        let words = self.words.iter_mut();
        for word in words.chain(&mut self.number).chain(&mut self.program) {
            moved(&mut word.span);
            moved(&mut word.value_span);
        }
        for name in &mut self.names {
            moved(&mut name.span);
            name.arguments.iter_mut().for_each(moved);
        }
        self.comments.iter_mut().for_each(moved);
        self.statement.iter_mut().for_each(moved);
        self.assignments.iter_mut().for_each(moved);
        self.faults
            .iter_mut()
            .for_each(|fault| moved(&mut fault.span));
    }

    /// Empties the block for the next line.
    fn clear(&mut self) {
        self.skip = None;
        self.number = None;
        self.program = None;
        self.words.clear();
        self.names.clear();
        self.comments.clear();
        self.faults.clear();
        self.statement = None;
        self.assignments.clear();
        self.percent = false;
        self.letters = 0;
    }
}

#[cfg(test)]
mod tests;
