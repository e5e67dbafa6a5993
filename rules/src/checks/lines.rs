//! Blocks of the program around a section, read again where a rule needs their words.

use std::ops::RangeInclusive;

use lexer::block::{Block, Blocks};
use lexer::source::Span;

use super::Context;

/// Calls `see` with each block of the lines (from 1) until it returns `false`. Spans and lines of
/// the block are those of the whole text.
pub(super) fn blocks(
    cx: &Context<'_>,
    lines: RangeInclusive<u32>,
    mut see: impl FnMut(&Block) -> bool,
) {
    if lines.is_empty() {
        return;
    }
    let index = &cx.program.lines;
    let text = index.span(*lines.start()).to(index.span(*lines.end()));
    let mut reader = Blocks::new(text.of(cx.bytes));
    let mut block = Block::default();
    while reader.read(&mut block) {
        place(&mut block, text.start, lines.start() - 1);
        if block.line > *lines.end() || !see(&block) {
            return;
        }
    }
}

/// Moves the places of a block that was read from a piece of the text.
fn place(block: &mut Block, bytes: u32, lines: u32) {
    let shift = |span: &mut Span| *span = Span::new(span.start + bytes, span.end + bytes);
    block.line += lines;
    shift(&mut block.span);
    let words = block.words.iter_mut();
    for word in words.chain(&mut block.number).chain(&mut block.program) {
        shift(&mut word.span);
        shift(&mut word.value_span);
    }
    for name in &mut block.names {
        shift(&mut name.span);
        if let Some(arguments) = &mut name.arguments {
            shift(arguments);
        }
    }
    block.comments.iter_mut().for_each(shift);
    block
        .faults
        .iter_mut()
        .for_each(|fault| shift(&mut fault.span));
    block.statement.iter_mut().for_each(shift);
}

/// First and last line of the O-program that holds the section.
pub(super) fn part(cx: &Context<'_>) -> RangeInclusive<u32> {
    let parts = &cx.program.parts;
    let next = parts.partition_point(|part| part.first_line <= cx.section.first_line);
    let first = next
        .checked_sub(1)
        .map_or(1, |index| parts[index].first_line);
    let last = parts
        .get(next)
        .map_or(cx.program.lines.count(), |part| part.first_line - 1);
    first..=last
}
