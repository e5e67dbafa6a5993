//! Help while typing: completion and the words of a cycle.

use tower_lsp::ls_types::*;

use super::Asked;
use crate::lsp::assist::Assist;

/// Characters after which completion is worth asking for: behind the word THREAD of a
/// note, behind a comma in one, and between the words of a cycle.
pub(in crate::lsp) const TRIGGERS: [&str; 3] = [" ", ",", "("];

/// Answers `textDocument/completion`.
pub(in crate::lsp) fn completions<A: Assist>(asked: &Asked<A>, at: Position) -> CompletionList {
    let found = asked
        .analysis
        .completions(&asked.result, asked.offset(at))
        .into_iter();
    let items = found
        .enumerate()
        .map(|(place, one)| CompletionItem {
            kind: Some(CompletionItemKind::VALUE),
            detail: (!one.detail.is_empty()).then_some(one.detail),
            documentation: Some(one.documentation)
                .filter(|text| !text.is_empty())
                .map(Documentation::String),
            // The order of the analysis, not of the alphabet.
            sort_text: Some(format!("{place:05}")),
            filter_text: Some(one.text.clone()),
            text_edit: Some(CompletionTextEdit::Edit(TextEdit::new(
                asked.range(one.bytes),
                one.text,
            ))),
            label: one.label,
            ..CompletionItem::default()
        })
        .collect();
    CompletionList {
        is_incomplete: false,
        items,
    }
}

/// Answers `textDocument/signatureHelp`.
pub(in crate::lsp) fn signature<A: Assist>(
    asked: &Asked<A>,
    at: Position,
) -> Option<SignatureHelp> {
    let found = asked.analysis.signature(&asked.result, asked.offset(at))?;
    let active = found.active.map(|active| active as u32);
    let parameters = found
        .words
        .into_iter()
        .map(|(place, meaning)| ParameterInformation {
            label: ParameterLabel::LabelOffsets([place.start as u32, place.end as u32]),
            documentation: Some(Documentation::String(meaning)),
        })
        .collect();
    Some(SignatureHelp {
        signatures: vec![SignatureInformation {
            label: found.label,
            documentation: Some(Documentation::String(found.documentation)),
            parameters: Some(parameters),
            active_parameter: active,
        }],
        active_signature: Some(0),
        active_parameter: active,
    })
}
