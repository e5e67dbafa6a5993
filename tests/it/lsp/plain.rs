//! A document as the protocol's specification describes it, written the slow and obvious way: the
//! reference that ropes and their columns are compared with.

use server::lsp::position::Encoding;
use tower_lsp::ls_types::{Position, TextDocumentContentChangeEvent};

/// The text as characters with their byte offsets implied.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Plain(pub(super) Vec<char>);

impl Plain {
    pub(super) fn new(text: &str) -> Self {
        Self(text.chars().collect())
    }

    pub(super) fn text(&self) -> String {
        self.0.iter().collect()
    }

    /// Start and end of each line in characters, line ends left out. LF, CRLF and CR end a line.
    pub(super) fn lines(&self) -> Vec<(usize, usize)> {
        let (mut lines, mut start, mut at) = (Vec::new(), 0, 0);
        while at < self.0.len() {
            let step = match self.0[at] {
                '\r' if self.0.get(at + 1) == Some(&'\n') => 2,
                '\r' | '\n' => 1,
                _ => 0,
            };
            if step > 0 {
                lines.push((start, at));
                start = at + step;
            }
            at += step.max(1);
        }
        lines.push((start, at));
        lines
    }

    /// The character that a position names.
    pub(super) fn place(&self, at: Position, encoding: Encoding) -> usize {
        let lines = self.lines();
        let Some(&(start, end)) = lines.get(at.line as usize) else {
            return self.0.len();
        };
        let mut column = 0;
        for place in start..end {
            column += units(self.0[place], encoding);
            if column > at.character as usize {
                return place;
            }
        }
        end
    }

    /// The position of a character.
    pub(super) fn position(&self, place: usize, encoding: Encoding) -> Position {
        let lines = self.lines();
        let line = lines
            .iter()
            .rposition(|&(start, _)| start <= place)
            .unwrap();
        let (start, end) = lines[line];
        let column: usize = self.0[start..place.min(end)]
            .iter()
            .map(|&char| units(char, encoding))
            .sum();
        Position::new(line as u32, column as u32)
    }

    pub(super) fn apply(&mut self, change: &TextDocumentContentChangeEvent, encoding: Encoding) {
        let Some(range) = change.range else {
            *self = Self::new(&change.text);
            return;
        };
        let one = self.place(range.start, encoding);
        let other = self.place(range.end, encoding);
        self.0
            .splice(one.min(other)..one.max(other), change.text.chars());
    }

    /// The byte offset of a character.
    pub(super) fn byte(&self, place: usize) -> usize {
        self.0[..place].iter().map(|char| char.len_utf8()).sum()
    }
}

fn units(char: char, encoding: Encoding) -> usize {
    match encoding {
        Encoding::Utf8 => char.len_utf8(),
        Encoding::Utf16 => char.len_utf16(),
        Encoding::Utf32 => 1,
    }
}
