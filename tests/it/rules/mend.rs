//! Applies one fix to a text.

use ::rules::finding::Fix;

/// The text with the edits of a fix, which must be in order and must not overlap.
pub(super) fn apply(text: &[u8], fix: &Fix) -> Vec<u8> {
    let mut mended = Vec::with_capacity(text.len());
    let mut from = 0;
    for edit in &fix.edits {
        let (start, end) = (edit.span.start as usize, edit.span.end as usize);
        assert!(from <= start && start <= end, "{}: order", fix.title);
        mended.extend_from_slice(&text[from..start]);
        mended.extend_from_slice(edit.text.as_bytes());
        from = end;
    }
    mended.extend_from_slice(&text[from..]);
    mended
}
