//! Which of the features a client can use, and how they are offered to it.

use tower_lsp::ls_types::*;

use super::{COMMANDS, LEGEND, TRIGGERS};

/// The features that a client says it knows.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::lsp) struct Offers {
    outline: bool,
    folding: bool,
    selection: bool,
    hints: bool,
    lenses: bool,
    tokens: bool,
    definition: bool,
    references: bool,
    highlight: bool,
    links: bool,
    calls: bool,
    completion: bool,
    signature: bool,
    symbols: bool,
    commands: bool,
}

impl Offers {
    /// What a client can use.
    pub(in crate::lsp) fn new(capabilities: &ClientCapabilities) -> Self {
        let document = capabilities.text_document.clone().unwrap_or_default();
        let workspace = capabilities.workspace.clone().unwrap_or_default();
        Self {
            outline: document.document_symbol.is_some(),
            folding: document.folding_range.is_some(),
            selection: document.selection_range.is_some(),
            hints: document.inlay_hint.is_some(),
            lenses: document.code_lens.is_some(),
            tokens: document.semantic_tokens.is_some(),
            definition: document.definition.is_some(),
            references: document.references.is_some(),
            highlight: document.document_highlight.is_some(),
            links: document.document_link.is_some(),
            calls: document.call_hierarchy.is_some(),
            completion: document.completion.is_some(),
            signature: document.signature_help.is_some(),
            symbols: workspace.symbol.is_some(),
            commands: workspace.execute_command.is_some(),
        }
    }

    /// Adds them to the answer to `initialize`.
    pub(in crate::lsp) fn provide(self, capabilities: &mut ServerCapabilities) {
        capabilities.document_symbol_provider = yes(self.outline);
        capabilities.workspace_symbol_provider = yes(self.symbols);
        capabilities.folding_range_provider = self.folding.then(|| true.into());
        capabilities.selection_range_provider = self.selection.then(|| true.into());
        capabilities.inlay_hint_provider = yes(self.hints);
        capabilities.code_lens_provider = self.lenses.then_some(CodeLensOptions {
            resolve_provider: None,
        });
        capabilities.semantic_tokens_provider = self.tokens.then(|| {
            SemanticTokensOptions {
                legend: SemanticTokensLegend {
                    token_types: LEGEND.to_vec(),
                    token_modifiers: Vec::new(),
                },
                range: Some(true),
                full: Some(SemanticTokensFullOptions::Bool(true)),
                ..SemanticTokensOptions::default()
            }
            .into()
        });
        capabilities.definition_provider = yes(self.definition);
        capabilities.references_provider = yes(self.references);
        capabilities.document_highlight_provider = yes(self.highlight);
        capabilities.document_link_provider = self.links.then(|| DocumentLinkOptions {
            resolve_provider: None,
            work_done_progress_options: WorkDoneProgressOptions::default(),
        });
        capabilities.call_hierarchy_provider = self.calls.then(|| true.into());
        capabilities.completion_provider = self.completion.then(|| CompletionOptions {
            trigger_characters: Some(TRIGGERS.map(str::to_owned).to_vec()),
            ..CompletionOptions::default()
        });
        capabilities.signature_help_provider = self.signature.then(|| SignatureHelpOptions {
            trigger_characters: Some(vec![" ".to_owned()]),
            retrigger_characters: None,
            work_done_progress_options: WorkDoneProgressOptions::default(),
        });
        capabilities.execute_command_provider = self.commands.then(|| ExecuteCommandOptions {
            commands: COMMANDS.map(str::to_owned).to_vec(),
            work_done_progress_options: WorkDoneProgressOptions::default(),
        });
    }
}

fn yes<Options>(offered: bool) -> Option<OneOf<bool, Options>> {
    offered.then_some(OneOf::Left(true))
}
