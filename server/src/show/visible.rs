//! Program text made safe to look at. Comments may hold any bytes: escape sequences that drive a
//! terminal, marks that reverse the reading direction, letters of old code pages.

use std::borrow::Cow;
use std::path::Path;

use lexer::source::{Span, decode};

/// Most bytes of a line that are looked at to show it.
const LINE_LIMIT: usize = 4096;

/// A character as it is shown, where that is not the character itself.
fn stand_in(c: char) -> Option<String> {
    match c {
        '\0'..='\u{1f}' => char::from_u32(0x2400 + u32::from(c)).map(String::from),
        '\u{7f}' => Some('\u{2421}'.to_string()),
        _ if hidden(c) => Some(format!("<U+{:04X}>", u32::from(c))),
        _ => None,
    }
}

/// Whether a character moves, hides or reverses others: C1 controls, joiners, direction marks,
/// line separators, tags.
pub(crate) fn hidden(c: char) -> bool {
    matches!(
        c,
        '\u{80}'..='\u{9f}'
            | '\u{ad}'
            | '\u{61c}'
            | '\u{180e}'
            | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e007f}'
    )
}

/// A text with every control and direction character visible; line ends and tabs too.
#[must_use]
pub fn text(text: &str) -> Cow<'_, str> {
    if text.chars().all(|c| stand_in(c).is_none()) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match stand_in(c) {
            Some(other) => shown.push_str(&other),
            None => shown.push(c),
        }
    }
    Cow::Owned(shown)
}

/// Bytes of a program as visible text.
pub(crate) fn bytes(bytes: &[u8]) -> String {
    text(&decode(bytes)).into_owned()
}

/// A program as visible lines, each ended by LF.
pub(crate) fn lines(program: &[u8]) -> String {
    let unix = decode(program).replace("\r\n", "\n").replace('\r', "\n");
    unix.lines()
        .map(|line| format!("{}\n", text(line)))
        .collect()
}

/// A path as visible text, `/` between folders. A leading `:` gets `./` in front, because build
/// servers take a line that begins with `::` for a command.
#[must_use]
pub fn path(path: &Path) -> String {
    let path = path.strip_prefix(".").unwrap_or(path);
    let mut shown = text(&path.to_string_lossy()).into_owned();
    if cfg!(windows) {
        shown = shown.replace('\\', "/");
    }
    if shown.starts_with([':', '#']) || shown.is_empty() {
        shown.insert_str(0, "./");
    }
    shown
}

/// Column of an offset in its line: characters of the decoded line, from 1. A byte order mark
/// before the first line is none.
pub(crate) fn column(line: &[u8], offset: usize) -> u32 {
    let offset = offset.min(line.len());
    let before = match std::str::from_utf8(line) {
        Ok(text) => {
            let inside = |(at, c): &(usize, char)| *at < offset && *c != '\u{feff}';
            text.char_indices().filter(inside).count()
        }
        // The old code pages have one byte a character.
        Err(_) => offset,
    };
    before as u32 + 1
}

/// A line cut to what fits a screen, with marked ranges moved along.
pub(crate) struct Window {
    /// The text; `…` where something is cut off. Tabs are kept.
    pub(crate) text: String,
    /// The marks as byte ranges of the text, in the order given.
    pub(crate) marks: Vec<std::ops::Range<usize>>,
}

/// Shows a line (without its line end) so that the first mark is seen.
pub(crate) fn window(line: &[u8], marks: &[Span], width: usize) -> Window {
    let first = marks.first().map_or(0, |mark| mark.start as usize);
    let (from, to) = byte_range(line, first);
    let chars = characters(&line[from..to]);
    // A third of the width before the mark, the rest behind it.
    let at = chars.partition_point(|&(offset, _)| from + offset < first);
    let start = if chars.len() <= width {
        0
    } else {
        at.saturating_sub(width / 3).min(chars.len() - width)
    };
    let end = (start + width).min(chars.len());
    let mut text = String::new();
    if start > 0 || from > 0 {
        text.push('…');
    }
    // Where each byte of the line's cut stands in the text.
    let mut places = Vec::with_capacity(end - start + 1);
    for &(offset, c) in &chars[start..end] {
        places.push((from + offset, text.len()));
        match stand_in(c) {
            Some(other) if c != '\t' => text.push_str(&other),
            _ => text.push(c),
        }
    }
    let last = text.len();
    if end < chars.len() || to < line.len() {
        text.push('…');
    }
    let place = |offset: u32| {
        let index = places.partition_point(|&(at, _)| at < offset as usize);
        places.get(index).map_or(last, |&(_, place)| place)
    };
    let marks = marks
        .iter()
        .map(|mark| place(mark.start)..place(mark.end).max(place(mark.start)))
        .collect();
    Window { text, marks }
}

/// The part of a very long line around an offset, not cutting a UTF-8 character.
fn byte_range(line: &[u8], offset: usize) -> (usize, usize) {
    if line.len() <= LINE_LIMIT {
        return (0, line.len());
    }
    let mut from = offset.min(line.len()).saturating_sub(LINE_LIMIT / 4);
    let mut to = (from + LINE_LIMIT).min(line.len());
    let inside = |at: usize| line.get(at).is_some_and(|byte| byte & 0xc0 == 0x80);
    for _ in 0..3 {
        from -= usize::from(from > 0 && inside(from));
        to -= usize::from(to > from && inside(to));
    }
    (from, to)
}

/// Characters with their byte offsets.
fn characters(bytes: &[u8]) -> Vec<(usize, char)> {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.char_indices().collect(),
        Err(_) => decode(bytes).chars().enumerate().collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_reaches_the_terminal_as_a_command() {
        let hostile = "\u{1b}[2J\u{9b}31m\u{202e}M24\u{200b}\r\n\t\0\u{7f}";
        let shown = text(hostile);
        assert_eq!(shown, "␛[2J<U+009B>31m<U+202E>M24<U+200B>␍␊␉␀␡");
        assert!(shown.chars().all(|c| !c.is_control() && !hidden(c)));
        assert_eq!(text("M24x3 – Ø24"), "M24x3 – Ø24");
    }

    #[test]
    fn columns_count_characters() {
        let utf8 = "(Gänge) G76".as_bytes();
        assert_eq!(column(utf8, utf8.len() - 3), 9);
        assert_eq!(column(b"(G\xe4nge) G76", 8), 9);
        assert_eq!(column("\u{feff}G0".as_bytes(), 3), 1);
        assert_eq!(column(b"G0", 99), 3);
    }

    #[test]
    fn a_window_keeps_its_marks() {
        let line = "(\u{1b}[31m Gänge)\tG76 X20.".as_bytes();
        let start = line.len() as u32 - 4;
        let shown = window(line, &[Span::new(start, start + 4)], 120);
        assert_eq!(shown.text, "(␛[31m Gänge)\tG76 X20.");
        assert_eq!(&shown.text[shown.marks[0].clone()], "X20.");
    }

    #[test]
    fn long_lines_are_cut_around_the_mark() {
        let mut line = "ä".repeat(40_000).into_bytes();
        let at = line.len() as u32;
        line.extend_from_slice(b"F3.");
        line.extend_from_slice("ö".repeat(40_000).as_bytes());
        let shown = window(&line, &[Span::new(at, at + 3)], 60);
        assert_eq!(shown.text.chars().count(), 62);
        assert!(shown.text.starts_with('…') && shown.text.ends_with('…'));
        assert_eq!(&shown.text[shown.marks[0].clone()], "F3.");
        let none = window(b"", &[Span::new(0, 0)], 60);
        assert_eq!((none.text.as_str(), none.marks[0].clone()), ("", 0..0));
    }

    #[test]
    fn paths_cannot_pose_as_commands() {
        assert_eq!(path(Path::new("./shop/a.nc")), "shop/a.nc");
        assert_eq!(path(Path::new("::error::x.nc")), "./::error::x.nc");
        assert_eq!(path(Path::new("a\u{1b}[0m.nc")), "a␛[0m.nc");
        assert_eq!(path(Path::new(".")), "./");
    }
}
