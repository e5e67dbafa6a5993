//! Programs, tools, threads and passes of a file, and what belongs together.

use std::collections::HashSet;
use std::ops::Range;

use lexer::section::Section;
use lexer::source::Span;

use super::{block_at, bytes, each_block, section_at};
use crate::analysis::Judged;
use crate::lsp::{Symbol, SymbolKind};
use crate::show::{summary, visible};

/// Most passes of one thread in the outline.
const PASSES: usize = 200;

pub(super) fn symbols(judged: &Judged) -> Vec<Symbol> {
    let mut roots = stretches(judged);
    for (index, section) in judged.program.sections.iter().enumerate() {
        let thread = thread(judged, index, section);
        place(&mut roots, thread);
    }
    roots
}

/// Programs with their tools, each to the start of the next.
fn stretches(judged: &Judged) -> Vec<Symbol> {
    let end = judged.bytes.len();
    let mut roots: Vec<Symbol> = Vec::new();
    let close = |list: &mut Vec<Symbol>, at: usize| {
        if let Some(last) = list.last_mut() {
            last.bytes.end = last.bytes.end.min(at);
            if let Some(child) = last.children.last_mut() {
                child.bytes.end = child.bytes.end.min(at);
            }
        }
    };
    each_block(judged, 0..end, |block| {
        let start = block.span.start as usize;
        let comment = block.comments.first().map_or_else(String::new, |span| {
            let text = visible::bytes(span.of(&judged.bytes));
            text.trim_matches(|c: char| "();".contains(c) || c.is_whitespace())
                .to_owned()
        });
        if let Some(word) = block.program {
            close(&mut roots, start);
            let number = visible::bytes(word.span.of(&judged.bytes));
            roots.push(entry(
                number,
                comment,
                SymbolKind::Program,
                start..end,
                bytes(word.span),
            ));
            return;
        }
        let Some(word) = block.word(b'T').filter(|word| word.number().is_some()) else {
            return;
        };
        let name = visible::bytes(word.span.of(&judged.bytes));
        let tool = entry(
            name,
            comment,
            SymbolKind::Tool,
            start..end,
            bytes(word.span),
        );
        let in_program = roots
            .last()
            .is_some_and(|root| root.kind == SymbolKind::Program);
        let list = if in_program {
            &mut roots.last_mut().expect("looked at just now").children
        } else {
            &mut roots
        };
        close(list, start);
        list.push(tool);
    });
    roots
}

fn entry(
    name: String,
    detail: String,
    kind: SymbolKind,
    bytes: Range<usize>,
    select: Range<usize>,
) -> Symbol {
    Symbol {
        name,
        detail,
        kind,
        bytes,
        select,
        children: Vec::new(),
    }
}

fn thread(judged: &Judged, index: usize, section: &Section) -> Symbol {
    let (name, detail) = summary::of(judged, index);
    let mut thread = entry(
        name,
        detail,
        SymbolKind::Thread,
        bytes(section.span),
        bytes(section.span),
    );
    // A cycle makes all its passes in one block, a loop more than one in each.
    let mut seen = HashSet::new();
    let own = section.passes.iter().all(|pass| {
        section.span.start <= pass.span.start
            && pass.span.end <= section.span.end
            && seen.insert(pass.span)
    });
    if own {
        let table = &judged.judgement.tables[index];
        let passes = section.passes.iter().zip(&table.rows).take(PASSES);
        thread.children = passes
            .enumerate()
            .map(|(at, (pass, row))| {
                entry(
                    format!("pass {}", at + 1),
                    summary::pass(section, row),
                    SymbolKind::Pass,
                    bytes(pass.span),
                    bytes(pass.span),
                )
            })
            .collect();
    }
    thread
}

/// Puts a thread into the innermost stretch that holds all of it.
fn place(list: &mut Vec<Symbol>, thread: Symbol) {
    let holds = |symbol: &Symbol| {
        symbol.kind != SymbolKind::Thread
            && symbol.bytes.start <= thread.bytes.start
            && thread.bytes.end <= symbol.bytes.end
    };
    match list.iter().position(holds) {
        Some(at) => place(&mut list[at].children, thread),
        None => {
            let at = list.partition_point(|symbol| symbol.bytes.start <= thread.bytes.start);
            list.insert(at, thread);
        }
    }
}

pub(super) fn folds(judged: &Judged) -> Vec<Range<usize>> {
    let mut folds = Vec::new();
    let mut open = symbols(judged);
    while let Some(symbol) = open.pop() {
        if symbol.kind == SymbolKind::Pass {
            continue;
        }
        // Up to the end of the last line of its own, not to the start of the next.
        let text = &judged.bytes[symbol.bytes.clone()];
        let blank = text
            .iter()
            .rev()
            .take_while(|byte| byte.is_ascii_whitespace())
            .count();
        let end = symbol.bytes.end - blank;
        if judged.bytes[symbol.bytes.start..end].contains(&b'\n') {
            folds.push(symbol.bytes.start..end);
        }
        open.extend(symbol.children);
    }
    folds.sort_by_key(|fold| (fold.start, std::cmp::Reverse(fold.end)));
    folds
}

pub(super) fn companions(judged: &Judged, at: usize) -> Vec<Range<usize>> {
    section_at(judged, at).map_or_else(Vec::new, |index| {
        let blocks = &judged.program.sections[index].blocks;
        blocks.iter().map(|block| bytes(block.span)).collect()
    })
}

pub(super) fn around(judged: &Judged, at: usize) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    if let Some(block) = block_at(judged, at) {
        let touched = |span: Span| span.touches(at as u32);
        let words = block
            .words
            .iter()
            .chain(&block.number)
            .chain(&block.program);
        for word in words.filter(|word| touched(word.span)) {
            found.extend([bytes(word.value_span), bytes(word.span)]);
        }
        found.extend(
            block
                .comments
                .iter()
                .filter(|&&c| touched(c))
                .map(|&c| bytes(c)),
        );
        found.push(bytes(block.span));
    }
    if let Some(index) = section_at(judged, at) {
        found.push(bytes(judged.program.sections[index].span));
    }
    let mut list = symbols(judged);
    while let Some(symbol) = list
        .into_iter()
        .find(|symbol| symbol.bytes.start <= at && at <= symbol.bytes.end)
    {
        found.push(symbol.bytes);
        list = symbol.children;
    }
    found.push(0..judged.bytes.len());
    // Each has to hold the one before it, and more.
    found.sort_by_key(|range| range.end - range.start);
    let mut nested: Vec<Range<usize>> = Vec::new();
    for range in found {
        let holds = |inner: &Range<usize>| range.start <= inner.start && inner.end <= range.end;
        let inside = range.start <= at && at <= range.end;
        if inside
            && nested
                .last()
                .is_none_or(|inner| holds(inner) && range != *inner)
        {
            nested.push(range);
        }
    }
    nested
}
