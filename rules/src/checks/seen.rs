//! What the checks of one section look at beside it, so that they need not run again while that
//! stays as it is. Every look beyond the section itself and the sections next to it has to be taken
//! down here.

use std::cell::{Cell, RefCell};
use std::ops::RangeInclusive;

use lexer::block::{Block, Value, Word};

/// A note of what was looked at.
#[derive(Debug, Default)]
pub struct Seen {
    lines: RefCell<Vec<(u32, u32)>>,
    states: RefCell<Vec<(u32, u32)>>,
    sections: Cell<bool>,
    contour: Cell<bool>,
}

/// What was looked at.
#[derive(Debug, Clone, Default)]
pub(crate) struct Looks {
    /// First and last lines of stretches of the text, from 1.
    pub(crate) lines: Vec<(u32, u32)>,
    /// The same, of which only blocks that are no [plain moves](is_plain_move) were looked at.
    pub(crate) states: Vec<(u32, u32)>,
    /// Sections anywhere in the file.
    pub(crate) sections: bool,
    /// What was turned around the section.
    pub(crate) contour: bool,
}

impl Seen {
    /// Lines of the text, from 1; whether there was damage in them counts too.
    pub fn lines(&self, lines: RangeInclusive<u32>) {
        self.lines.borrow_mut().push(lines.into_inner());
    }

    /// Lines of which plain moves were left out.
    pub(super) fn states(&self, lines: RangeInclusive<u32>) {
        self.states.borrow_mut().push(lines.into_inner());
    }

    /// Sections anywhere in the file.
    pub fn sections(&self) {
        self.sections.set(true);
    }

    /// What was turned around the section.
    pub fn contour(&self) {
        self.contour.set(true);
    }

    pub(crate) fn looks(self) -> Looks {
        Looks {
            lines: self.lines.into_inner(),
            states: self.states.into_inner(),
            sections: self.sections.get(),
            contour: self.contour.get(),
        }
    }
}

/// Whether a block has nothing but comments and a straight or circular move with literals.
pub(crate) fn is_plain_move(block: &Block) -> bool {
    let plain = |word: &Word| match word.letter {
        b'G' => matches!(word.code(), Some(0 | 10 | 20 | 30)),
        letter => b"XYZUVWIJKRACF".contains(&letter) && word.value != Value::Expression,
    };
    block.statement.is_none()
        && block.names.is_empty()
        && block.program.is_none()
        && block.assignments.is_empty()
        && block.words.iter().all(plain)
}
