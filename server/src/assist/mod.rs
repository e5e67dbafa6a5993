//! What an editor may ask about a program beyond its findings, answered from the judged text.

mod cycles;
mod hints;
mod names;
mod outline;
mod tokens;
mod typing;
mod view;

use std::ops::Range;
use std::path::{Path, PathBuf};

use lexer::block::{Block, Blocks};
use lexer::source::Span;

use crate::analysis::{Core, Judged};
use crate::cli::{audited, programs_below};
use crate::lsp::{
    Assist, Completion, Hint, Lens, Link, Occurrence, Routine, Signature, Symbol, Token, View,
};

impl Assist for Core {
    fn symbols(&self, judged: &Judged) -> Vec<Symbol> {
        outline::symbols(judged)
    }

    fn folds(&self, judged: &Judged) -> Vec<Range<usize>> {
        outline::folds(judged)
    }

    fn hints(&self, judged: &Judged, within: Range<usize>) -> Vec<Hint> {
        hints::hints(judged, &within)
    }

    fn lenses(&self, judged: &Judged) -> Vec<Lens> {
        hints::lenses(judged)
    }

    fn tokens(&self, judged: &Judged, within: Range<usize>) -> Vec<Token> {
        tokens::tokens(judged, &within)
    }

    fn occurrences(&self, judged: &Judged, at: usize) -> Vec<Occurrence> {
        names::occurrences(judged, at)
    }

    fn companions(&self, judged: &Judged, at: usize) -> Vec<Range<usize>> {
        outline::companions(judged, at)
    }

    fn around(&self, judged: &Judged, at: usize) -> Vec<Range<usize>> {
        outline::around(judged, at)
    }

    fn routines(&self, judged: &Judged) -> Vec<Routine> {
        names::routines(judged)
    }

    fn links(&self, judged: &Judged) -> Vec<Link> {
        names::links(judged)
    }

    fn completions(&self, judged: &Judged, at: usize) -> Vec<Completion> {
        typing::completions(judged, at)
    }

    fn signature(&self, judged: &Judged, at: usize) -> Option<Signature> {
        typing::signature(judged, at)
    }

    fn section(&self, judged: &Judged, at: usize) -> Option<View> {
        view::section(judged, at)
    }

    fn audit(
        &self,
        paths: &[PathBuf],
        quantities: Option<&Path>,
        page: bool,
    ) -> Option<(String, String)> {
        audited(paths, quantities, page)
    }

    fn programs(&self, folder: &Path, stop: &dyn Fn() -> bool) -> Vec<PathBuf> {
        programs_below(folder, stop)
    }
}

/// A span as a range of bytes.
fn bytes(span: Span) -> Range<usize> {
    span.start as usize..span.end as usize
}

/// The section whose block touches a byte.
fn section_at(judged: &Judged, at: usize) -> Option<usize> {
    let at = u32::try_from(at).ok()?;
    judged
        .program
        .sections
        .iter()
        .position(|section| section.blocks.iter().any(|block| block.span.touches(at)))
}

/// The block at a byte.
fn block_at(judged: &Judged, at: usize) -> Option<Block> {
    let at = u32::try_from(at).ok()?;
    let line = judged.program.lines.span(judged.program.lines.line(at));
    let start = line.start as usize;
    let mut found = None;
    each_block(judged, start..start, |block| {
        found.get_or_insert_with(|| block.clone());
    });
    found
}

/// Calls `look` with every block of the lines that touch `within`.
fn each_block(judged: &Judged, within: Range<usize>, mut look: impl FnMut(&Block)) {
    let lines = &judged.program.lines;
    let first = lines.line(u32::try_from(within.start).unwrap_or(u32::MAX));
    let start = lines.span(first).start;
    let end = within.end.min(judged.bytes.len());
    let end = lines.span(lines.line(end as u32)).end as usize;
    let Some(text) = judged.bytes.get(start as usize..end.max(start as usize)) else {
        return;
    };
    let mut blocks = Blocks::new(text);
    let mut block = Block::default();
    while blocks.read(&mut block) {
        block.shift(start, first - 1);
        look(&block);
    }
}
