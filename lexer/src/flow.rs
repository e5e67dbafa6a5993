//! Loops and jumps. They are not run; what stands in them may be cut more than once or not at
//! all, which is said.

use crate::block::Block;

/// What a block does to the order of blocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Flow {
    /// A loop begins behind the block.
    Opens,
    /// A loop ends before the block.
    Closes,
    /// The control may go on elsewhere.
    Jumps,
}

/// The loops that are open, by the number of an o-word or the word that opened them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Loops {
    open: Vec<Vec<u8>>,
}

impl Loops {
    /// Whether a block stands in a loop.
    pub(crate) fn inside(&self) -> bool {
        !self.open.is_empty()
    }

    /// Looks at a block and keeps the open loops.
    pub(crate) fn see(&mut self, block: &Block, bytes: &[u8]) -> Option<Flow> {
        let statement = match (block.statement, block.names.first()) {
            (Some(statement), _) => statement.of(bytes),
            (None, Some(name)) => name.span.of(bytes),
            (None, None) => return None,
        };
        let words = words(statement);
        let first = words.first()?.as_slice();
        if first[0] == b'O' && (first.len() > 1 && first[1].is_ascii_digit() || first.len() == 1) {
            return self.o_word(first, words.get(1)?);
        }
        match first {
            b"WHILE" | b"FOR" | b"LOOP" | b"REPEAT" => Some(self.opens(first)),
            b"ENDWHILE" | b"ENDFOR" | b"ENDLOOP" | b"UNTIL" => Some(self.closes()),
            [b'E', b'N', b'D', digits @ ..] if digits.iter().all(u8::is_ascii_digit) => {
                // `END1` closes `DO1`; a plain END without a loop is the end of something else.
                self.inside().then(|| self.closes())
            }
            _ if words.iter().any(|word| word.starts_with(b"GOTO")) => Some(Flow::Jumps),
            _ => None,
        }
    }

    /// `o100 while`, `o100 do` … `o100 while`, `o100 repeat`.
    fn o_word(&mut self, label: &[u8], keyword: &[u8]) -> Option<Flow> {
        match keyword {
            b"WHILE" if self.open.last().is_some_and(|open| open == label) => Some(self.closes()),
            b"WHILE" | b"DO" | b"REPEAT" => Some(self.opens(label)),
            b"ENDWHILE" | b"ENDREPEAT" => Some(self.closes()),
            b"BREAK" | b"CONTINUE" | b"CALL" => Some(Flow::Jumps),
            _ => None,
        }
    }

    fn opens(&mut self, label: &[u8]) -> Flow {
        // Deeper nesting than any control has says nothing more.
        if self.open.len() < 64 {
            self.open.push(label.to_vec());
        }
        Flow::Opens
    }

    fn closes(&mut self) -> Flow {
        self.open.pop();
        Flow::Closes
    }
}

/// The first words of a statement in capitals.
fn words(statement: &[u8]) -> Vec<Vec<u8>> {
    statement
        .split(|byte| !byte.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .take(12)
        .map(<[u8]>::to_ascii_uppercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::block::blocks;

    fn flows(text: &[u8]) -> Vec<Option<Flow>> {
        let mut loops = Loops::default();
        blocks(text)
            .iter()
            .map(|block| loops.see(block, text))
            .collect()
    }

    #[test]
    fn loops_of_both_kinds() {
        use Flow::{Closes, Jumps, Opens};
        assert_eq!(
            flows(b"WHILE[#6LE#3]DO1\nG0X1\nEND1\nIF [#1 GT 2] GOTO 10\nN10 #1=2"),
            [Some(Opens), None, Some(Closes), Some(Jumps), None]
        );
        assert_eq!(
            flows(b"o100 while [#<i> LT 3]\nG1 X2\no100 endwhile\no2 do\no2 while [#1 LT 2]\no3 repeat [4]\no3 endrepeat"),
            [Some(Opens), None, Some(Closes), Some(Opens), Some(Closes), Some(Opens), Some(Closes)]
        );
        assert_eq!(flows(b"END\nroughing pass\nO100\nMCALL"), [None; 4]);
    }
}
