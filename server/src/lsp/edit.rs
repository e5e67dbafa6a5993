//! Changes that the client sends, applied to a rope.

use ropey::Rope;
use tower_lsp::ls_types::TextDocumentContentChangeEvent;

use super::analysis::Changed;
use super::position::{self, Encoding};

/// Applies one change and says which bytes it replaced. A range outside the text is clamped.
pub fn apply(
    text: &mut Rope,
    change: &TextDocumentContentChangeEvent,
    encoding: Encoding,
) -> Changed {
    let Some(range) = change.range else {
        let old = 0..text.len_bytes();
        *text = Rope::from_str(&change.text);
        return Changed {
            old,
            new: 0..text.len_bytes(),
        };
    };
    let old = position::bytes(text, range, encoding);
    let start = text.byte_to_char(old.start);
    text.remove(start..text.byte_to_char(old.end));
    text.insert(start, &change.text);
    let new = old.start..old.start + change.text.len();
    Changed { old, new }
}

impl Changed {
    /// Adds a later change: the result spans both, from the text before the first to the text after
    /// the second.
    pub fn then(mut self, later: &Self) -> Self {
        if later.old.start < self.new.start {
            self.old.start = later.old.start;
            self.new.start = later.old.start;
        }
        if later.old.end > self.new.end {
            self.old.end += later.old.end - self.new.end;
            self.new.end = later.old.end;
        }
        self.new.end = self.new.end - later.old.len() + later.new.len();
        self
    }
}
