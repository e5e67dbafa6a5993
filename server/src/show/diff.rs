//! What a fix changes, as a unified diff for reading.

use std::fmt::Write as _;

use similar::{ChangeTag, TextDiff};

use super::visible;

/// The unified diff of two texts with three lines of context; empty when they are equal. Control
/// characters are shown, not sent; line ends other than LF and CRLF end a line with `␍`.
pub(crate) fn unified(path: &str, old: &[u8], new: &[u8]) -> String {
    let mut out = String::new();
    let diff = TextDiff::from_lines(old, new);
    let mut unified = diff.unified_diff();
    unified.context_radius(3);
    for hunk in unified.iter_hunks() {
        if out.is_empty() {
            let _ = writeln!(out, "--- {path}\n+++ {path}");
        }
        let _ = writeln!(out, "{}", hunk.header());
        for change in hunk.iter_changes() {
            let sign = match change.tag() {
                ChangeTag::Delete => '-',
                ChangeTag::Insert => '+',
                ChangeTag::Equal => ' ',
            };
            let line: &[u8] = change.value();
            let (text, end) = match line {
                [text @ .., b'\r', b'\n'] => (text, "\r\n"),
                [text @ .., b'\n'] => (text, "\n"),
                text if text.ends_with(b"\r") => (text, "\n"),
                text => (text, "\n\\ No newline at end of file\n"),
            };
            let _ = write!(out, "{sign}{}{end}", tabbed(text));
        }
    }
    out
}

/// Visible text that keeps its tabs.
fn tabbed(bytes: &[u8]) -> String {
    let parts: Vec<_> = bytes
        .split(|&byte| byte == b'\t')
        .map(visible::bytes)
        .collect();
    parts.join("\t")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_with_their_surroundings() {
        let old = b"%\r\n(\x1b[31m M24)\r\nG97 S800\r\nT3\r\nG76 P1840\r\nM30\r\n%";
        let new = b"%\r\n(\x1b[31m M24)\r\nG97 S800\r\nT3\r\nG76 P1900\r\nM30\r\n%";
        assert_eq!(
            unified("shop/a.nc", old, new),
            "--- shop/a.nc\n+++ shop/a.nc\n@@ -2,6 +2,6 @@\n (␛[31m M24)\r\n G97 S800\r\n T3\r\n\
             -G76 P1840\r\n+G76 P1900\r\n M30\r\n %\n\\ No newline at end of file\n"
        );
        assert_eq!(unified("a", old, old), "");
        assert!(unified("a", b"G0\rX1\r", b"G0\rX2\r").contains("-X1␍\n+X2␍\n"));
    }
}
