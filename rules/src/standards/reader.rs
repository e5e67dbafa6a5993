//! Reads on in a prepared text, one piece of a designation after the other.

use lexer::number::Number;

use super::text::{Text, capitals};

/// How much a designation just read looks like one, told by the family that read it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Looks {
    /// It names its family or its series: nothing else is written like this.
    Named,
    /// Numbers that belong together, as only a thread has them; among blocks of a program they
    /// could still be words of a block.
    Fitting,
    /// It could be something else.
    Likely,
    /// It could be something else, a machine function above all: `M8`.
    Bare,
    /// It is a radius as often as a thread: `R 1/4`.
    Radius,
    /// It is a word of a block or a count, and not sure to be a thread even beside a word for
    /// threading: `G1`, `R 3`.
    Address,
    /// It is something else unless a word for threading stands beside it: `10-32`.
    #[default]
    Doubtful,
    /// It is something else: `M8x20` is a screw of 20 mm.
    Foreign,
}

/// A place in a text that reads on.
#[derive(Debug)]
pub(super) struct Reader<'t> {
    text: &'t Text,
    start: usize,
    place: usize,
    /// Why a designation whose beginning was recognised is none.
    pub(super) complaint: Option<String>,
    /// What the designation looks like that was read last.
    pub(super) looks: Looks,
}

impl<'t> Reader<'t> {
    pub(super) fn new(text: &'t Text, start: usize) -> Self {
        Reader {
            text,
            start,
            place: start,
            complaint: None,
            looks: Looks::default(),
        }
    }

    pub(super) fn place(&self) -> usize {
        self.place
    }

    /// Goes back to a place where the reader has been.
    pub(super) fn back_to(&mut self, place: usize) {
        self.place = place;
    }

    /// Remembers why nothing was read.
    pub(super) fn complain<T>(&mut self, why: impl Into<String>) -> Option<T> {
        self.complaint = Some(why.into());
        None
    }

    /// The next character in capitals, a blank at the end.
    pub(super) fn peek(&self) -> char {
        self.text.at(self.place).to_ascii_uppercase()
    }

    /// Whether the letters read so far are all capitals.
    pub(super) fn capitals(&self) -> bool {
        (self.start..self.place).all(|at| !self.text.at(at).is_lowercase())
    }

    /// The next character as it stands.
    pub(super) fn peek_case(&self) -> char {
        self.text.at(self.place)
    }

    pub(super) fn step(&mut self) {
        self.place += 1;
    }

    pub(super) fn blanks(&mut self) {
        while self.place < self.text.len() && self.peek() == ' ' {
            self.step();
        }
    }

    /// A character anywhere in the text.
    pub(super) fn glyph(&self, place: usize) -> char {
        self.text.at(place)
    }

    /// Takes one character, whatever its case.
    pub(super) fn eat(&mut self, c: char) -> bool {
        let found = self.place < self.text.len() && self.peek() == c;
        self.place += usize::from(found);
        found
    }

    /// Takes a character with blanks around it, or nothing at all.
    pub(super) fn eat_spaced(&mut self, c: char) -> bool {
        let mark = self.place;
        self.blanks();
        if self.eat(c) {
            self.blanks();
            return true;
        }
        self.place = mark;
        false
    }

    /// Takes blanks with at most one dash among them; says whether there was either.
    pub(super) fn separator(&mut self) -> bool {
        let mark = self.place;
        if !self.eat_spaced('-') {
            self.blanks();
        }
        self.place > mark
    }

    /// The run of letters ahead, in capitals, without taking it.
    pub(super) fn word_ahead(&self) -> String {
        let letters = (self.place..).map(|at| self.text.at(at));
        letters
            .take_while(|c| c.is_alphabetic())
            .flat_map(capitals)
            .collect()
    }

    /// Takes a whole word, whatever its case; `LH` does not match the beginning of `LHS`.
    pub(super) fn eat_word(&mut self, word: &str) -> bool {
        let found = self.word_ahead() == word;
        if found {
            self.place += word.chars().count();
        }
        found
    }

    /// Takes one of the words and returns it.
    pub(super) fn eat_one(&mut self, words: &[&'static str]) -> Option<&'static str> {
        words.iter().find(|word| self.eat_word(word)).copied()
    }

    /// Takes a whole number of at most nine digits.
    pub(super) fn integer(&mut self) -> Option<u32> {
        let mark = self.place;
        while self.peek().is_ascii_digit() {
            self.step();
        }
        let digits: String = (mark..self.place).map(|at| self.text.at(at)).collect();
        let value = digits.parse().ok().filter(|v| *v < 1_000_000_000);
        if value.is_none() {
            self.place = mark;
        }
        value
    }

    /// Takes a decimal number. A point at its end belongs to it only when the designation goes on
    /// directly behind it: `M24X3.-6G`.
    pub(super) fn number(&mut self) -> Option<Number> {
        let mark = self.place;
        while self.peek().is_ascii_digit() {
            self.step();
        }
        if self.peek() == '.' {
            let next = self.text.at(self.place + 1);
            if next.is_ascii_digit() {
                self.step();
                while self.peek().is_ascii_digit() {
                    self.step();
                }
            } else if matches!(next, '-' | 'x' | 'X') && self.place > mark {
                self.step();
            }
        }
        let literal: String = (mark..self.place).map(|at| self.text.at(at)).collect();
        let number = Number::parse(literal.as_bytes()).filter(|n| !n.clipped);
        if number.is_none() {
            self.place = mark;
        }
        number
    }

    /// Whether a letter or digit follows.
    pub(super) fn in_word(&self) -> bool {
        self.text.at(self.place).is_alphanumeric()
    }

    /// Whether only blanks and a closing point are left.
    pub(super) fn at_end(&self) -> bool {
        (self.place..self.text.len()).all(|at| matches!(self.text.at(at), ' ' | '.'))
    }

    /// Takes a note on the number of starts, `(2 STARTS)` or `(TWO START)`, or nothing.
    pub(super) fn starts_note(&mut self) -> Option<u32> {
        const NUMBERS: [&str; 7] = ["ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "EIGHT"];
        let mark = self.place;
        self.blanks();
        let mut read = || {
            if !self.eat('(') {
                return None;
            }
            let count = self.integer().or_else(|| match self.eat_one(&NUMBERS)? {
                "EIGHT" => Some(8),
                word => u32::try_from(NUMBERS.iter().position(|n| *n == word)? + 1).ok(),
            })?;
            self.separator();
            self.eat_one(&["START", "STARTS"])?;
            self.eat(')').then_some(count)
        };
        let count = read();
        if count.is_none() {
            self.place = mark;
        }
        count
    }

    /// Takes a statement of the hand with the separator before it: `LH`, `-LH`, ` LEFT HAND`.
    /// `RH` is taken too and says nothing new.
    pub(super) fn hand(&mut self) -> Option<super::Hand> {
        use super::Hand;
        let mark = self.place;
        let separated = self.separator();
        let hand = match self.word_ahead().as_str() {
            "LH" => Hand::Left,
            "RH" => Hand::Right,
            "LEFT" if separated => Hand::Left,
            "RIGHT" if separated => Hand::Right,
            _ => {
                self.place = mark;
                return None;
            }
        };
        let long = self.word_ahead().len() > 2;
        self.place += self.word_ahead().len();
        if long {
            let mark = self.place;
            self.separator();
            if !self.eat_word("HAND") {
                self.place = mark;
            }
        }
        Some(hand)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_starts() {
        let text = Text::new("3.-6 (two starts)");
        let mut reader = Reader::new(&text, 0);
        assert_eq!(reader.number().unwrap().value(), 3.0);
        assert!(reader.eat_spaced('-') && reader.integer() == Some(6));
        assert_eq!(reader.starts_note(), Some(2));
        assert!(reader.at_end());
    }
}
