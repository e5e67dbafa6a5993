//! What the client can do, and what it is told that we can do.

use tower_lsp::ls_types::*;

use super::actions::FIX_ALL;
use super::features::Offers;
use super::position::Encoding;

/// What the client said at `initialize`, reduced to the questions that are asked later.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct ClientFacts {
    /// What its columns count.
    pub(super) encoding: Encoding,
    /// It asks for diagnostics; then none are sent unasked.
    pub(super) pulls: bool,
    /// It can be told to ask for diagnostics again.
    pub(super) refreshes: bool,
    /// It shows places that belong to a diagnostic.
    pub(super) related: bool,
    /// It links a diagnostic's code to a page.
    pub(super) code_links: bool,
    /// It draws tags.
    pub(super) tags: bool,
    /// It sends a diagnostic's data back.
    pub(super) data: bool,
    /// It takes code actions as objects; without this it takes commands only.
    pub(super) actions: bool,
    /// It takes edits that name the version of the document.
    pub(super) versioned_edits: bool,
    /// It can ask for confirmation of an edit.
    pub(super) confirms: bool,
    /// It shows Markdown.
    pub(super) markdown: bool,
    /// It can watch files for us.
    pub(super) watches_files: bool,
    /// It shows an outline as a tree.
    pub(super) nested_symbols: bool,
    /// What else it knows.
    offers: Offers,
}

impl ClientFacts {
    pub(super) fn new(capabilities: ClientCapabilities) -> Self {
        let offers = Offers::new(&capabilities);
        let encodings = capabilities
            .general
            .and_then(|general| general.position_encodings);
        let document = capabilities.text_document.unwrap_or_default();
        let workspace = capabilities.workspace.unwrap_or_default();
        let publish = document.publish_diagnostics.unwrap_or_default();
        let pull = document.diagnostic.as_ref();
        let edit = workspace.workspace_edit.unwrap_or_default();
        let formats = document.hover.and_then(|hover| hover.content_format);
        let outline = document.document_symbol.unwrap_or_default();
        Self {
            encoding: Encoding::negotiate(encodings.as_deref()),
            pulls: pull.is_some(),
            refreshes: workspace.diagnostics.and_then(|it| it.refresh_support) == Some(true),
            related: yes(
                publish.related_information,
                pull.and_then(|it| it.related_information),
            ),
            code_links: yes(
                publish.code_description_support,
                pull.and_then(|it| it.code_description_support),
            ),
            tags: publish.tag_support.is_some() || pull.is_some_and(|it| it.tag_support.is_some()),
            data: yes(publish.data_support, pull.and_then(|it| it.data_support)),
            actions: document
                .code_action
                .is_some_and(|it| it.code_action_literal_support.is_some()),
            versioned_edits: edit.document_changes == Some(true),
            confirms: edit.document_changes == Some(true)
                && edit.change_annotation_support.is_some(),
            markdown: formats.is_none_or(|formats| formats.contains(&MarkupKind::Markdown)),
            watches_files: workspace
                .did_change_watched_files
                .and_then(|it| it.dynamic_registration)
                == Some(true),
            nested_symbols: outline.hierarchical_document_symbol_support == Some(true),
            offers,
        }
    }

    /// The answer to `initialize`. Nothing is offered that the client could not use.
    pub(super) fn answer(&self) -> InitializeResult {
        let mut answer = InitializeResult {
            capabilities: ServerCapabilities {
                position_encoding: Some(self.encoding.kind()),
                text_document_sync: Some(
                    TextDocumentSyncOptions {
                        open_close: Some(true),
                        change: Some(TextDocumentSyncKind::INCREMENTAL),
                        save: Some(
                            SaveOptions {
                                include_text: Some(false),
                            }
                            .into(),
                        ),
                        ..TextDocumentSyncOptions::default()
                    }
                    .into(),
                ),
                hover_provider: Some(true.into()),
                code_action_provider: self.actions.then(|| {
                    CodeActionOptions {
                        code_action_kinds: Some(vec![
                            CodeActionKind::QUICKFIX,
                            CodeActionKind::REFACTOR_REWRITE,
                            FIX_ALL,
                        ]),
                        ..CodeActionOptions::default()
                    }
                    .into()
                }),
                diagnostic_provider: self.pulls.then(|| {
                    DiagnosticServerCapabilities::Options(DiagnosticOptions {
                        identifier: Some(SOURCE.to_owned()),
                        inter_file_dependencies: false,
                        workspace_diagnostics: true,
                        ..DiagnosticOptions::default()
                    })
                }),
                workspace: Some(WorkspaceServerCapabilities {
                    workspace_folders: Some(WorkspaceFoldersServerCapabilities {
                        supported: Some(true),
                        change_notifications: Some(OneOf::Left(true)),
                    }),
                    file_operations: None,
                }),
                ..ServerCapabilities::default()
            },
            server_info: Some(ServerInfo {
                name: SOURCE.to_owned(),
                version: Some(env!("CARGO_PKG_VERSION").to_owned()),
            }),
            offset_encoding: None,
        };
        self.offers.provide(&mut answer.capabilities);
        answer
    }
}

/// Who speaks, in every diagnostic.
pub(super) const SOURCE: &str = "flankwise";

fn yes(one: Option<bool>, other: Option<bool>) -> bool {
    one == Some(true) || other == Some(true)
}
