//! What speaks for controls with named cycles.

use super::{Evidence, Family};
use crate::block::Block;

/// Looks at the names and comments of a block. A name that only this family has decides alone;
/// a semicolon is a hint (common practice, no source).
pub(super) fn look(evidence: &mut Evidence, block: &Block, bytes: &[u8]) {
    let mut speak = |weight, seen| evidence.speak(block, Family::Call, weight, seen);
    let mut turns = false;
    if block
        .comments
        .iter()
        .any(|span| span.of(bytes).first() == Some(&b';'))
    {
        speak(1, "a comment behind a semicolon");
    }
    if block.percent
        && let Some(header) = block.statement
        && is_header(header.of(bytes))
    {
        speak(5, "a header with the name of the program");
    }
    for word in &block.words {
        let text = word.span.of(bytes);
        if word.letter == b'T' && text.contains(&b'"') {
            speak(4, "a tool by its name");
        } else if text.contains(&b'=') && !text.contains(&b'#') && !text.contains(&b'[') {
            speak(3, "an address with =");
        }
    }
    for name in &block.names {
        let text = name.span.of(bytes).to_ascii_uppercase();
        let assigns = name.value_span.is_some();
        match text.as_slice() {
            [b'C', b'Y', b'C', b'L', b'E', digits @ ..]
                if name.arguments.is_some() && digits.iter().all(u8::is_ascii_digit) =>
            {
                speak(6, "a cycle called by its name");
                turns |= matches!(digits, b"97" | b"98" | b"99");
            }
            b"MCALL" => speak(5, "a modal call"),
            b"DIAMON" | b"DIAMOF" | b"DIAM90" => {
                speak(5, "diameter programming by its name");
                turns = true;
            }
            b"LIMS" if assigns => {
                speak(4, "a speed clamp by its name");
                turns = true;
            }
            b"SF" | b"SPOS" | b"DITS" | b"DITE" | b"CHF" | b"CHR" | b"RND" | b"CR" if assigns => {
                speak(4, "an address of several letters with =");
            }
            [b'S' | b'M', digits @ ..]
                if assigns && !digits.is_empty() && digits.iter().all(u8::is_ascii_digit) =>
            {
                speak(4, "a spindle by its number");
            }
            b"SETMS" => speak(4, "a master spindle"),
            b"DEF" if block.statement.is_some() => speak(4, "a definition of variables"),
            b"MSG" if name.arguments.is_some() => speak(3, "a message"),
            _ => {}
        }
    }
    if turns {
        evidence.lathe += 3;
    }
}

/// `%_N_SHAFT_MPF`, or SPF for a subprogram.
fn is_header(text: &[u8]) -> bool {
    let text = text.trim_ascii().to_ascii_uppercase();
    text.starts_with(b"%_N_") && (text.ends_with(b"_MPF") || text.ends_with(b"_SPF"))
}
