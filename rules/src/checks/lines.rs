//! Blocks of the program around a section, read again where a rule needs their words.

use std::ops::RangeInclusive;

use lexer::block::{Block, Blocks};

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
        block.shift(text.start, lines.start() - 1);
        if block.line > *lines.end() || !see(&block) {
            return;
        }
    }
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

/// How many blocks with words stand between two lines, counted up to `most`: blank lines and
/// comments bring nothing apart.
pub(super) fn words_between(cx: &Context<'_>, behind: u32, before: u32, most: usize) -> usize {
    let mut count = 0;
    blocks(cx, behind + 1..=before.saturating_sub(1), |block| {
        count += usize::from(!block.words.is_empty());
        count < most
    });
    count
}
