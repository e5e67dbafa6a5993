//! What stands under the mouse.

use std::sync::Arc;

use tower_lsp::jsonrpc;
use tower_lsp::ls_types::*;

use super::analysis::Analysis;
use super::backend::Shared;
use super::documents::Snapshot;
use super::position;
use super::work::blocking;

/// Answers `textDocument/hover`.
pub(super) async fn hover<A: Analysis>(
    shared: Arc<Shared<A>>,
    snapshot: Arc<Snapshot<A::Result>>,
    at: Position,
) -> jsonrpc::Result<Option<Hover>> {
    let result = shared.result(&snapshot).await?;
    let facts = shared.facts();
    blocking("hover", move || {
        let byte = position::offset(&snapshot.text, at, facts.encoding);
        let found = shared.analysis.hover(&result, byte)?;
        let kind = if facts.markdown {
            MarkupKind::Markdown
        } else {
            MarkupKind::PlainText
        };
        Some(Hover {
            contents: HoverContents::Markup(MarkupContent {
                kind,
                value: found.markdown,
            }),
            range: Some(position::range(&snapshot.text, found.bytes, facts.encoding)),
        })
    })
    .await
}
