//! Columns and bytes.

use proptest::prelude::*;
use server::lsp::position::{Encoding, bytes, offset, position, range};
use tower_lsp::ls_types::{Position, PositionEncodingKind, Range};

use super::documents::{ENCODINGS, text};
use super::plain::Plain;

/// Language Server Protocol 3.17, "Text Documents": in `a𐐀b` the character offset of `a` is 0, of
/// `𐐀` 1 and of `b` 3 when UTF-16 code units are counted. The other two columns follow from the
/// lengths that the Unicode Standard gives U+10400 in UTF-8 (4) and UTF-32 (1).
#[test]
fn the_specifications_example() {
    let text = "a𐐀b".into();
    for (encoding, column) in [
        (Encoding::Utf8, 5),
        (Encoding::Utf16, 3),
        (Encoding::Utf32, 2),
    ] {
        assert_eq!(position(&text, 1, encoding), Position::new(0, 1));
        assert_eq!(position(&text, 5, encoding), Position::new(0, column));
        assert_eq!(offset(&text, Position::new(0, column), encoding), 5);
    }
}

#[test]
fn a_column_inside_a_character_means_its_start() {
    let text = "a𐐀b".into();
    assert_eq!(offset(&text, Position::new(0, 2), Encoding::Utf16), 1);
    for column in 2..5 {
        assert_eq!(offset(&text, Position::new(0, column), Encoding::Utf8), 1);
    }
    assert_eq!(position(&text, 3, Encoding::Utf16), Position::new(0, 1));
}

/// The same place: "If the character value is greater than the line length it defaults back to the
/// line length."
#[test]
fn what_lies_outside_is_clamped() {
    let text = "G76\r\nX20.\rZ-5.\n".into();
    for encoding in ENCODINGS {
        let offset = |line, column| offset(&text, Position::new(line, column), encoding);
        assert_eq!(offset(0, 4), 3, "before the CR LF, not inside it");
        assert_eq!(offset(1, u32::MAX), 9);
        assert_eq!(offset(3, 0), 15, "the empty line behind the last line end");
        assert_eq!(offset(4, 0), 15);
        assert_eq!(offset(u32::MAX, u32::MAX), 15);
        assert_eq!(
            position(&text, 4, encoding),
            Position::new(0, 3),
            "inside the CR LF"
        );
        assert_eq!(position(&text, usize::MAX, encoding), Position::new(3, 0));
    }
}

/// Other line separators of Unicode, and the controls VT and FF, end no line in the protocol.
#[test]
fn only_lf_crlf_and_cr_end_a_line() {
    let text = "a\u{b}\u{c}\u{85}\u{2028}\u{2029}b\nc";
    let behind = text.find('c').expect("it ends so");
    assert_eq!(
        position(&text.into(), behind, Encoding::Utf16),
        Position::new(1, 0)
    );
}

#[test]
fn a_range_written_backwards_is_read_forwards() {
    let text = "G76 P010060".into();
    let backwards = Range::new(Position::new(0, 7), Position::new(0, 4));
    assert_eq!(bytes(&text, backwards, Encoding::Utf16), 4..7);
}

#[test]
fn utf8_is_preferred_and_utf16_the_default() {
    let kind = PositionEncodingKind::new;
    let choose = |offered: &[&'static str]| {
        let offered: Vec<_> = offered.iter().map(|&tag| kind(tag)).collect();
        Encoding::negotiate(Some(&offered))
    };
    assert_eq!(Encoding::negotiate(None), Encoding::Utf16);
    assert_eq!(choose(&[]), Encoding::Utf16);
    assert_eq!(choose(&["utf-16"]), Encoding::Utf16);
    assert_eq!(choose(&["utf-16", "utf-8"]), Encoding::Utf8);
    assert_eq!(choose(&["utf-8", "utf-32", "utf-16"]), Encoding::Utf8);
    assert_eq!(choose(&["utf-32", "utf-16"]), Encoding::Utf16);
    assert_eq!(choose(&["utf-32"]), Encoding::Utf32);
    assert_eq!(choose(&["ebcdic"]), Encoding::Utf16);
}

proptest! {
    /// Every place of every text, against the reference, there and back.
    #[test]
    fn agrees_with_the_reference(text in text()) {
        let plain = Plain::new(&text);
        let rope = text.as_str().into();
        for encoding in ENCODINGS {
            for place in 0..=plain.0.len() {
                let byte = plain.byte(place);
                let at = position(&rope, byte, encoding);
                prop_assert_eq!(at, plain.position(place, encoding));
                prop_assert_eq!(offset(&rope, at, encoding), plain.byte(plain.place(at, encoding)));
            }
            for line in 0..plain.lines().len() as u32 + 2 {
                for column in 0..12 {
                    let at = Position::new(line, column);
                    prop_assert_eq!(offset(&rope, at, encoding), plain.byte(plain.place(at, encoding)));
                }
            }
        }
    }

    /// No number at all makes a conversion panic or leave the text.
    #[test]
    fn never_leaves_the_text(text in text(), numbers in any::<[u32; 4]>(), at in any::<[usize; 2]>()) {
        let rope = text.as_str().into();
        let wild = Range::new(
            Position::new(numbers[0], numbers[1]),
            Position::new(numbers[2] % 8, numbers[3]),
        );
        for encoding in ENCODINGS {
            let inside = bytes(&rope, wild, encoding);
            prop_assert!(text.get(inside.clone()).is_some());
            let back = range(&rope, inside.clone(), encoding);
            prop_assert_eq!(bytes(&rope, back, encoding), inside);
            let any = range(&rope, at[0]..at[1], encoding);
            prop_assert!(any.start <= any.end);
        }
    }
}
