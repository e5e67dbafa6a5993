//! Blocks of the program around a section, read again where a rule needs their words.

use std::ops::RangeInclusive;

use lexer::block::{Block, Blocks};

use super::Context;
use super::seen::is_plain_move;

/// Calls `see` with each block of the lines (from 1) until it returns `false`. Spans and lines of
/// the block are those of the whole text.
pub(super) fn blocks(
    cx: &Context<'_>,
    lines: RangeInclusive<u32>,
    see: impl FnMut(&Block) -> bool,
) {
    cx.seen.lines(read(cx, lines, see));
}

/// The same without plain moves: for what may have been set far above, by M, S, T and other codes.
pub(super) fn states(
    cx: &Context<'_>,
    lines: RangeInclusive<u32>,
    mut see: impl FnMut(&Block) -> bool,
) {
    let seen = read(cx, lines, |block| is_plain_move(block) || see(block));
    cx.seen.states(seen);
}

/// Reads the blocks; the lines on which the end of the look depends.
fn read(
    cx: &Context<'_>,
    lines: RangeInclusive<u32>,
    mut see: impl FnMut(&Block) -> bool,
) -> RangeInclusive<u32> {
    let (first, last) = (*lines.start(), *lines.end());
    if lines.is_empty() {
        // There may come to be some.
        return last.saturating_sub(1)..=first + 1;
    }
    let index = &cx.program.lines;
    let text = index.span(first).to(index.span(last));
    let mut reader = Blocks::new(text.of(cx.bytes));
    let mut block = Block::default();
    while reader.read(&mut block) {
        block.shift(text.start, first - 1);
        if block.line > last {
            break;
        }
        if !see(&block) {
            return first..=block.line;
        }
    }
    first..=last + 1
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
