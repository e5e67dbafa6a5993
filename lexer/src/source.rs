//! Byte spans, the line index, and comments decoded for reading.

use std::borrow::Cow;

/// A range of bytes from the start of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// A span from its two ends.
    #[must_use]
    pub const fn new(start: u32, end: u32) -> Self {
        Span { start, end }
    }

    /// The smallest span that holds both.
    #[must_use]
    pub fn to(self, other: Span) -> Span {
        Span::new(self.start.min(other.start), self.end.max(other.end))
    }

    /// The bytes of the span; empty when it does not fit the text.
    #[must_use]
    pub fn of(self, bytes: &[u8]) -> &[u8] {
        bytes
            .get(self.start as usize..self.end as usize)
            .unwrap_or_default()
    }

    /// Whether the offset lies inside or at the end of the span.
    #[must_use]
    pub const fn touches(self, offset: u32) -> bool {
        self.start <= offset && offset <= self.end
    }
}

/// A value and the place where it was written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark<T> {
    /// The value.
    pub value: T,
    /// Where it was written.
    pub span: Span,
    /// Line, from 1.
    pub line: u32,
}

/// Line starts of a text. A line ends at LF, CRLF or CR.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Lines {
    starts: Vec<u32>,
    length: u32,
}

impl Lines {
    /// Finds the lines of a text.
    #[must_use]
    pub fn new(bytes: &[u8]) -> Self {
        let mut starts = vec![0];
        for at in memchr::memchr2_iter(b'\n', b'\r', bytes) {
            if bytes[at] == b'\r' && bytes.get(at + 1) == Some(&b'\n') {
                continue;
            }
            starts.push(at as u32 + 1);
        }
        Lines {
            starts,
            length: bytes.len() as u32,
        }
    }

    /// The lines of a text in which whole lines were replaced: of `self` the line `from` and those
    /// behind it up to `to` (from 0) by lines that start at `starts`; what stands behind moves by
    /// `by` bytes.
    pub(crate) fn replaced(&self, from: usize, to: usize, starts: &[u32], by: i64) -> Lines {
        let moved = |&start: &u32| u32::try_from(i64::from(start) + by).unwrap_or_default();
        let mut all = Vec::with_capacity(self.starts.len() + starts.len() + from - to);
        all.extend_from_slice(&self.starts[..from]);
        all.extend_from_slice(starts);
        all.extend(self.starts[to..].iter().map(moved));
        Lines {
            starts: all,
            length: moved(&self.length),
        }
    }

    /// Starts of the lines.
    pub(crate) fn starts(&self) -> &[u32] {
        &self.starts
    }

    /// Number of lines; a text that ends with a line end has an empty last line.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.starts.len() as u32
    }

    /// Line of an offset, from 1.
    #[must_use]
    pub fn line(&self, offset: u32) -> u32 {
        self.starts.partition_point(|&start| start <= offset) as u32
    }

    /// Line and column of an offset, both from 1; the column counts bytes.
    #[must_use]
    pub fn line_column(&self, offset: u32) -> (u32, u32) {
        let line = self.line(offset);
        (line, offset - self.starts[line as usize - 1] + 1)
    }

    /// The bytes of a line (from 1), its line end included. Empty when there is no such line.
    #[must_use]
    pub fn span(&self, line: u32) -> Span {
        let index = (line.max(1) - 1) as usize;
        let Some(&start) = self.starts.get(index) else {
            return Span::new(self.length, self.length);
        };
        let end = self.starts.get(index + 1).copied().unwrap_or(self.length);
        Span::new(start, end)
    }
}

/// A comment's text for reading: UTF-8 where it is valid, otherwise Windows-1251 where the bytes
/// look like Cyrillic words, otherwise Windows-1252. Never used for writing.
#[must_use]
pub fn decode(bytes: &[u8]) -> Cow<'_, str> {
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Cow::Borrowed(text);
    }
    let high = bytes.iter().filter(|&&b| b >= 0x80).count();
    let cyrillic_letters = bytes.iter().filter(|&&b| b >= 0xc0).count();
    let longest_run = bytes
        .split(|&b| b < 0xc0)
        .map(<[u8]>::len)
        .max()
        .unwrap_or(0);
    let page = if cyrillic_letters * 10 >= high * 9 && longest_run >= 4 {
        encoding_rs::WINDOWS_1251
    } else {
        encoding_rs::WINDOWS_1252
    };
    page.decode_without_bom_handling(bytes).0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_at_lf_crlf_and_cr() {
        let lines = Lines::new(b"a\r\nb\nc\rd");
        assert_eq!(lines.count(), 4);
        assert_eq!(lines.span(1), Span::new(0, 3));
        assert_eq!(lines.span(4), Span::new(7, 8));
        assert_eq!(lines.line_column(0), (1, 1));
        assert_eq!(lines.line_column(3), (2, 1));
        assert_eq!(lines.line_column(7), (4, 1));
        assert_eq!(lines.span(9), Span::new(8, 8));
    }

    #[test]
    fn comments_of_any_code_page_are_read() {
        assert_eq!(decode("РЕЗЬБА".as_bytes()), "РЕЗЬБА");
        let (page, _, _) = encoding_rs::WINDOWS_1251.encode("РЕЗЬБА М24");
        assert_eq!(decode(&page), "РЕЗЬБА М24");
        assert_eq!(decode(b"GEWINDE f\xfcr Spindel"), "GEWINDE für Spindel");
    }
}
