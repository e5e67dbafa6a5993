//! What can be done about a place: fixes, rewrites, and every harmless fix at once.

use std::collections::{HashMap, HashSet};
use std::ops::Range;
use std::sync::Arc;

use tower_lsp::jsonrpc;
use tower_lsp::ls_types::*;

use super::analysis::{self, Action, ActionKind, Analysis};
use super::backend::Shared;
use super::client::ClientFacts;
use super::diagnostics;
use super::documents::Snapshot;
use super::position;
use super::work::blocking;

/// Every fix that leaves the cut as it is.
pub(super) const FIX_ALL: CodeActionKind = CodeActionKind::new("source.fixAll.flankwise");

/// The one change annotation that an action needs.
const CHANGES_THE_CUT: &str = "changes-the-cut";

/// Answers `textDocument/codeAction`.
pub(super) async fn actions<A: Analysis>(
    shared: Arc<Shared<A>>,
    snapshot: Arc<Snapshot<A::Result>>,
    range: tower_lsp::ls_types::Range,
    context: CodeActionContext,
) -> jsonrpc::Result<Option<CodeActionResponse>> {
    let result = shared.result(&snapshot).await?;
    let facts = shared.facts();
    blocking("code actions", move || {
        let wanted = |kind: &CodeActionKind| {
            let only = context.only.as_ref();
            only.is_none_or(|only| only.iter().any(|one| is_within(kind, one)))
        };
        let analysis = &shared.analysis;
        let bytes = position::bytes(&snapshot.text, range, facts.encoding);
        let found = analysis.diagnostics(&result);
        let mut offered = Vec::new();
        for action in analysis.actions(&result, bytes) {
            let mends = action.diagnostic.and_then(|index| found.get(index));
            let kind = match mends {
                Some(_) => CodeActionKind::QUICKFIX,
                None => CodeActionKind::REFACTOR_REWRITE,
            };
            if wanted(&kind) {
                let mends = mends.map(|it| diagnostics::convert(it.clone(), &snapshot, facts));
                offered.push(convert(action, kind, mends, &snapshot, facts).into());
            }
        }
        // Editors look for a light bulb at every move of the cursor: too often for the whole text.
        let is_glance = context.only.is_none()
            && context.trigger_kind == Some(CodeActionTriggerKind::AUTOMATIC);
        if wanted(&FIX_ALL) && !is_glance {
            let all = analysis.actions(&result, 0..snapshot.text.len_bytes());
            offered.extend(fix_all(all, &snapshot, facts).map(CodeActionOrCommand::from));
        }
        Some(offered)
    })
    .await
}

/// Whether a kind is `of` or below it: `source.fixAll.flankwise` is within `source.fixAll`.
fn is_within(kind: &CodeActionKind, of: &CodeActionKind) -> bool {
    let rest = kind.as_str().strip_prefix(of.as_str());
    of.as_str().is_empty() || rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

fn convert<R>(
    action: Action,
    kind: CodeActionKind,
    mends: Option<Diagnostic>,
    snapshot: &Snapshot<R>,
    facts: ClientFacts,
) -> CodeAction {
    let caution = action
        .caution
        .filter(|_| facts.confirms)
        .map(|caution| ChangeAnnotation {
            label: action.title.clone(),
            needs_confirmation: Some(true),
            description: Some(caution),
        });
    let preferred = action.is_preferred && action.kind == ActionKind::Text;
    CodeAction {
        kind: Some(kind),
        diagnostics: mends.map(|mends| vec![mends]),
        edit: Some(workspace_edit(&action.edits, caution, snapshot, facts)),
        is_preferred: preferred.then_some(true),
        title: action.title,
        ..CodeAction::default()
    }
}

/// All `Text` actions in one, as far as they do not touch: one for a finding, each whole or not at
/// all. What is left out is still there the next time.
fn fix_all<R>(
    mut actions: Vec<Action>,
    snapshot: &Snapshot<R>,
    facts: ClientFacts,
) -> Option<CodeAction> {
    actions.retain(|action| action.kind == ActionKind::Text && action.diagnostic.is_some());
    actions.sort_by_key(|action| !action.is_preferred);
    let mut mended = HashSet::new();
    let mut edits: Vec<analysis::Edit> = Vec::new();
    for action in actions {
        let touches = |edit: &analysis::Edit| edits.iter().any(|it| touch(&it.bytes, &edit.bytes));
        if !mended.contains(&action.diagnostic) && !action.edits.iter().any(touches) {
            mended.insert(action.diagnostic);
            edits.extend(action.edits);
        }
    }
    edits.sort_by_key(|edit| edit.bytes.start);
    (!edits.is_empty()).then(|| CodeAction {
        title: "Apply every fix that leaves the cut unchanged".to_owned(),
        kind: Some(FIX_ALL),
        edit: Some(workspace_edit(&edits, None, snapshot, facts)),
        ..CodeAction::default()
    })
}

/// Whether two replacements overlap or meet; where they meet their order would be open.
fn touch(one: &Range<usize>, other: &Range<usize>) -> bool {
    one.start <= other.end && other.start <= one.end
}

fn workspace_edit<R>(
    edits: &[analysis::Edit],
    caution: Option<ChangeAnnotation>,
    snapshot: &Snapshot<R>,
    facts: ClientFacts,
) -> WorkspaceEdit {
    let edits = edits.iter().map(|edit| {
        let range = position::range(&snapshot.text, edit.bytes.clone(), facts.encoding);
        TextEdit::new(range, edit.text.clone())
    });
    let uri = snapshot.uri.clone();
    if !facts.versioned_edits {
        return WorkspaceEdit::new(HashMap::from([(uri, edits.collect())]));
    }
    let annotate = |text_edit| match caution {
        Some(_) => OneOf::Right(AnnotatedTextEdit {
            text_edit,
            annotation_id: CHANGES_THE_CUT.to_owned(),
        }),
        None => OneOf::Left(text_edit),
    };
    WorkspaceEdit {
        document_changes: Some(DocumentChanges::Edits(vec![TextDocumentEdit {
            edits: edits.map(annotate).collect(),
            text_document: OptionalVersionedTextDocumentIdentifier::new(uri, snapshot.version),
        }])),
        change_annotations: caution
            .map(|caution| HashMap::from([(CHANGES_THE_CUT.to_owned(), caution)])),
        changes: None,
    }
}
