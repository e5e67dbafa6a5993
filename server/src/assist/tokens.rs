//! What each word of a program is.

use std::collections::HashSet;
use std::ops::Range;

use lexer::block::{Block, Value, Word};
use lexer::codes::{Meaning, meaning};
use lexer::evidence::Family;
use lexer::source::Span;

use super::names::variables;
use super::{bytes, each_block};
use crate::analysis::Judged;
use crate::lsp::{Token, TokenKind};

pub(super) fn tokens(judged: &Judged, within: &Range<usize>) -> Vec<Token> {
    let thread = Thread::of(judged);
    let mut tokens = Vec::new();
    each_block(judged, within.clone(), |block| {
        let from = tokens.len();
        block_tokens(judged, block, &thread, &mut tokens);
        tokens[from..].sort_by_key(|token: &Token| token.bytes.start);
    });
    let mut end = 0;
    tokens.retain(|token| {
        let fits = token.bytes.start >= end && token.bytes.end > token.bytes.start;
        if fits {
            end = token.bytes.end;
        }
        fits
    });
    tokens.retain(|token| within.start < token.bytes.end && token.bytes.start < within.end);
    tokens
}

/// The blocks and words of threading sections.
struct Thread {
    blocks: HashSet<Span>,
    words: HashSet<Span>,
}

impl Thread {
    fn of(judged: &Judged) -> Self {
        let sections = || judged.program.sections.iter();
        let blocks = sections().flat_map(|section| section.blocks.iter().map(|block| block.span));
        let words = sections().flat_map(|section| section.words.iter().map(|word| word.span));
        Self {
            blocks: blocks.collect(),
            words: words.collect(),
        }
    }
}

fn block_tokens(judged: &Judged, block: &Block, thread: &Thread, tokens: &mut Vec<Token>) {
    let mut push = |bytes: Range<usize>, kind| tokens.push(Token { bytes, kind });
    let in_thread = thread.blocks.contains(&block.span);
    if let Some(word) = &block.number {
        push(bytes(word.span), TokenKind::LineNumber);
    }
    if let Some(word) = &block.program {
        push(bytes(word.span), TokenKind::Program);
    }
    for word in &block.words {
        match word.letter {
            b'G' if in_thread && is_thread_code(judged.program.family, word) => {
                push(bytes(word.span), TokenKind::ThreadCode);
            }
            b'G' | b'M' => push(bytes(word.span), TokenKind::Code),
            _ => {
                let kind = if thread.words.contains(&word.span) {
                    TokenKind::ThreadWord
                } else {
                    TokenKind::Address
                };
                let letter = word.span.start as usize;
                push(letter..letter + 1, kind);
                if matches!(word.value, Value::Number(_)) {
                    push(bytes(word.value_span), TokenKind::Number);
                }
            }
        }
    }
    for name in &block.names {
        push(bytes(name.span), TokenKind::Name);
    }
    for (place, _, _) in variables(block, &judged.bytes) {
        push(place, TokenKind::Variable);
    }
    for &comment in &block.comments {
        let kind = if is_note(comment.of(&judged.bytes)) {
            TokenKind::Note
        } else {
            TokenKind::Comment
        };
        push(bytes(comment), kind);
    }
}

fn is_thread_code(family: Family, word: &Word) -> bool {
    word.code().is_some_and(|code| {
        matches!(
            meaning(family, code, false),
            Meaning::Stroke | Meaning::VariableLead | Meaning::BoxThread | Meaning::MultiPass
        )
    })
}

fn is_note(comment: &[u8]) -> bool {
    let text = comment.strip_prefix(b"(").or(comment.strip_prefix(b";"));
    let text = text.unwrap_or(comment).trim_ascii_start();
    [b"THREAD".as_slice(), b"ALLOW"].iter().any(|word| {
        text.len() > word.len()
            && text[..word.len()].eq_ignore_ascii_case(word)
            && !text[word.len()].is_ascii_alphanumeric()
    })
}
