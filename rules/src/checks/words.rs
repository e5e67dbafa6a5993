//! Words of a section as they are written, and how to write others like them.

use lexer::block::blocks;
use lexer::section::{Role, RoleWord, Scale, Section};
use lexer::source::Span;
use lexer::units::{Lead, Length, Units};

use crate::finding::Edit;

/// Whether a word stands in a block of the section, not in one before that is still in force.
pub(super) fn is_own(section: &Section, word: &RoleWord) -> bool {
    let holds = |span: Span| span.start <= word.span.start && word.span.end <= span.end;
    section.blocks.iter().any(|block| holds(block.span))
}

/// The word with a role that is in force at a line of the section.
pub(super) fn at_line(section: &Section, role: Role, line: u32) -> Option<&RoleWord> {
    let mut words = section.words.iter().rev().filter(|w| w.role == role);
    words.find(|word| word.line <= line)
}

/// A value in the style of a lead word. Leads are written with up to four decimals in millimetres
/// and six in inches (what controls take, from memory).
pub(super) fn spell_lead(word: &RoleWord, lead: Lead) -> String {
    match word.scale {
        Scale::Real(units) => {
            let decimals = if units == Units::Inch { 6 } else { 4 };
            spell_real(word, units.value_of(lead.length()), decimals)
        }
        Scale::Plain => spell_real(word, 25.4 / lead.mm(), 4),
        Scale::Increments(_) => word.spell(lead.length()),
    }
}

/// A value in the style of a word, with a point added where the value needs one.
fn spell_real(word: &RoleWord, value: f64, decimals: u8) -> String {
    let whole = (value - value.round()).abs() < 0.5 * 10f64.powi(-i32::from(decimals));
    if word.number.point || whole {
        return word.number.restyle(value, decimals);
    }
    let text = format!("{value:.*}", usize::from(decimals));
    text.trim_end_matches('0').to_owned()
}

/// A length in the style of a word, with a point added where whole units cannot say it, and the
/// length that this text says.
pub(super) fn spell_length(word: &RoleWord, length: Length) -> String {
    match word.scale {
        Scale::Real(units) if !word.number.point => {
            let raw = (length - word.base).pm() as f64 * word.divisor as f64 / word.factor as f64;
            let decimals = if units == Units::Inch { 4 } else { 3 };
            spell_real(word, raw / units.pm() as f64, decimals)
        }
        _ => word.spell(length),
    }
}

/// A word as written, letter and value.
pub(super) fn text_of(bytes: &[u8], span: Span) -> String {
    let text = String::from_utf8_lossy(span.of(bytes));
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

/// An edit that adds words behind the last word of a block, spaced as the block is.
pub(super) fn append(bytes: &[u8], block: Span, words: &[String]) -> Option<Edit> {
    let text = block.of(bytes);
    let read = blocks(text);
    let last = read.first()?.words.last()?.span;
    let spaced = read
        .first()?
        .words
        .windows(2)
        .any(|pair| pair[0].span.end < pair[1].span.start);
    let gap = if spaced { " " } else { "" };
    let at = block.start + last.end;
    let text: String = words.iter().map(|word| format!("{gap}{word}")).collect();
    Some(Edit {
        span: Span::new(at, at),
        text,
    })
}
