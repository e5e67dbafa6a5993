//! Columns: the only place that knows UTF-16, UTF-8 and UTF-32 units. Everything else counts bytes.
//!
//! Lines end at LF, CRLF and CR and at nothing else (Language Server Protocol 3.17, "Text Documents").
//! Every conversion clamps: a line past the last one means the end of the document, a column past
//! the end of a line means the end of that line before its line end, and a place inside a character
//! means the start of that character.

use std::ops::Range;

use ropey::Rope;
use tower_lsp::ls_types::{self, Position, PositionEncodingKind};

/// What one column counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Encoding {
    /// Bytes of UTF-8.
    Utf8,
    /// Code units of UTF-16: the protocol's default, which every client understands.
    #[default]
    Utf16,
    /// Unicode scalar values.
    Utf32,
}

impl Encoding {
    /// Chooses from what the client offers: UTF-8 because it needs no conversion, else UTF-16.
    /// UTF-32 only for a client that offers nothing else.
    pub fn negotiate(offered: Option<&[PositionEncodingKind]>) -> Self {
        let has = |kind| offered.is_some_and(|offered| offered.contains(&kind));
        if has(PositionEncodingKind::UTF8) {
            Self::Utf8
        } else if has(PositionEncodingKind::UTF32) && !has(PositionEncodingKind::UTF16) {
            Self::Utf32
        } else {
            Self::Utf16
        }
    }

    /// The name that the protocol has for it.
    pub fn kind(self) -> PositionEncodingKind {
        match self {
            Self::Utf8 => PositionEncodingKind::UTF8,
            Self::Utf16 => PositionEncodingKind::UTF16,
            Self::Utf32 => PositionEncodingKind::UTF32,
        }
    }
}

/// The byte that a position names, clamped into the text and onto a character border.
pub fn offset(text: &Rope, at: Position, encoding: Encoding) -> usize {
    let line = size(at.line);
    if line >= text.len_lines() {
        return text.len_bytes();
    }
    let chars = line_chars(text, line);
    let column = size(at.character);
    let place = match encoding {
        Encoding::Utf8 => {
            let byte = text.char_to_byte(chars.start).saturating_add(column);
            text.byte_to_char(byte.min(text.char_to_byte(chars.end)))
        }
        Encoding::Utf16 => {
            let unit = text.char_to_utf16_cu(chars.start).saturating_add(column);
            text.utf16_cu_to_char(unit.min(text.char_to_utf16_cu(chars.end)))
        }
        Encoding::Utf32 => chars.start.saturating_add(column).min(chars.end),
    };
    text.char_to_byte(place)
}

/// The position of a byte. A byte inside a line end gives the end of that line.
pub fn position(text: &Rope, byte: usize, encoding: Encoding) -> Position {
    let place = text.byte_to_char(byte.min(text.len_bytes()));
    let line = text.char_to_line(place);
    let chars = line_chars(text, line);
    let place = place.min(chars.end);
    let column = match encoding {
        Encoding::Utf8 => text.char_to_byte(place) - text.char_to_byte(chars.start),
        Encoding::Utf16 => text.char_to_utf16_cu(place) - text.char_to_utf16_cu(chars.start),
        Encoding::Utf32 => place - chars.start,
    };
    Position::new(count(line), count(column))
}

/// The bytes that a range names; a range written backwards means the same range forwards.
pub fn bytes(text: &Rope, range: ls_types::Range, encoding: Encoding) -> Range<usize> {
    let start = offset(text, range.start, encoding);
    let end = offset(text, range.end, encoding);
    start.min(end)..start.max(end)
}

/// The range that covers some bytes.
pub fn range(text: &Rope, bytes: Range<usize>, encoding: Encoding) -> ls_types::Range {
    let start = position(text, bytes.start, encoding);
    let end = position(text, bytes.end, encoding);
    ls_types::Range::new(start, end.max(start))
}

/// The characters of a line without its line end. The line must exist.
fn line_chars(text: &Rope, line: usize) -> Range<usize> {
    let start = text.line_to_char(line);
    let mut end = text.line_to_char(line + 1);
    if end > start && text.char(end - 1) == '\n' {
        end -= 1;
    }
    if end > start && text.char(end - 1) == '\r' {
        end -= 1;
    }
    start..end
}

fn size(units: u32) -> usize {
    usize::try_from(units).unwrap_or(usize::MAX)
}

fn count(units: usize) -> u32 {
    u32::try_from(units).unwrap_or(u32::MAX)
}
