//! What is shown in and above the blocks: hints, lenses, meanings of words.

use ropey::Rope;
use serde_json::json;
use tower_lsp::ls_types::*;

use super::Asked;
use super::panel::SECTION;
use crate::lsp::assist::{Assist, TokenKind};
use crate::lsp::position::{self, Encoding};

/// Answers `textDocument/inlayHint`.
pub(in crate::lsp) fn hints<A: Assist>(asked: &Asked<A>, range: Range) -> Vec<InlayHint> {
    let within = position::bytes(&asked.snapshot.text, range, asked.facts.encoding);
    let hints = asked.analysis.hints(&asked.result, within);
    hints
        .into_iter()
        .map(|hint| InlayHint {
            position: asked.range(hint.at..hint.at).start,
            label: InlayHintLabel::String(hint.text),
            kind: None,
            text_edits: None,
            tooltip: (!hint.tooltip.is_empty()).then_some(InlayHintTooltip::String(hint.tooltip)),
            padding_left: Some(true),
            padding_right: None,
            data: None,
        })
        .collect()
}

/// Answers `textDocument/codeLens`.
pub(in crate::lsp) fn lenses<A: Assist>(asked: &Asked<A>) -> Vec<CodeLens> {
    let lenses = asked.analysis.lenses(&asked.result);
    lenses
        .into_iter()
        .map(|lens| {
            let range = asked.range(lens.bytes);
            CodeLens {
                command: Some(Command {
                    title: lens.title,
                    command: SECTION.to_owned(),
                    arguments: Some(vec![json!(asked.snapshot.uri), json!(range.start)]),
                }),
                range,
                data: None,
            }
        })
        .collect()
}

/// The standard token types that our kinds go by, in the order of [`TokenKind::ALL`].
pub(in crate::lsp) const LEGEND: [SemanticTokenType; 11] = [
    SemanticTokenType::KEYWORD,
    SemanticTokenType::FUNCTION,
    SemanticTokenType::PARAMETER,
    SemanticTokenType::PROPERTY,
    SemanticTokenType::NUMBER,
    SemanticTokenType::EVENT,
    SemanticTokenType::NAMESPACE,
    SemanticTokenType::VARIABLE,
    SemanticTokenType::MACRO,
    SemanticTokenType::COMMENT,
    SemanticTokenType::DECORATOR,
];

/// Answers `textDocument/semanticTokens/full` and `…/range`.
pub(in crate::lsp) fn tokens<A: Assist>(asked: &Asked<A>, range: Option<Range>) -> SemanticTokens {
    let text = &asked.snapshot.text;
    let within = match range {
        Some(range) => position::bytes(text, range, asked.facts.encoding),
        None => 0..text.len_bytes(),
    };
    let mut data = Vec::new();
    let mut columns = Columns::new(text, asked.facts.encoding);
    let (mut line, mut column) = (0, 0);
    for token in asked.analysis.tokens(&asked.result, within) {
        let (at_line, start) = columns.place(token.bytes.start);
        let (end_line, end) = columns.place(token.bytes.end);
        if end_line != at_line || end <= start {
            continue;
        }
        data.push(SemanticToken {
            delta_line: at_line - line,
            delta_start: start - if at_line == line { column } else { 0 },
            length: end - start,
            token_type: TokenKind::ALL
                .iter()
                .position(|&kind| kind == token.kind)
                .unwrap_or(0) as u32,
            token_modifiers_bitset: 0,
        });
        (line, column) = (at_line, start);
    }
    SemanticTokens {
        result_id: None,
        data,
    }
}

/// Line and column of bytes that come in order, without a search for each.
struct Columns<'a> {
    text: &'a Rope,
    encoding: Encoding,
    line: usize,
    starts: usize,
    ends: usize,
    ascii: bool,
}

impl<'a> Columns<'a> {
    fn new(text: &'a Rope, encoding: Encoding) -> Self {
        Self {
            text,
            encoding,
            line: 0,
            starts: 0,
            ends: 0,
            ascii: false,
        }
    }

    fn place(&mut self, byte: usize) -> (u32, u32) {
        if byte < self.starts || byte >= self.ends {
            self.line = self.text.byte_to_line(byte.min(self.text.len_bytes()));
            let line = self.text.line(self.line);
            self.starts = self.text.line_to_byte(self.line);
            self.ends = self.starts + line.len_bytes();
            self.ascii = line.len_bytes() == line.len_chars();
        }
        if self.ascii {
            return (self.line as u32, (byte - self.starts) as u32);
        }
        let at = position::position(self.text, byte, self.encoding);
        (at.line, at.character)
    }
}
