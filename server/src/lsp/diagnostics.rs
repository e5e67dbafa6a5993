//! Findings in the editor: sent after a change, or handed out when asked.

use std::sync::Arc;

use tower_lsp::jsonrpc::{self, Error, ErrorCode};
use tower_lsp::ls_types::*;

use super::analysis::{self, Analysis, Severity, Tag};
use super::backend::Shared;
use super::client::{ClientFacts, SOURCE};
use super::documents::{Documents, Snapshot};
use super::position;
use super::work::{Outcome, blocking, internal_error};

/// "The answer is void; ask again", the protocol's ServerCancelled.
const SERVER_CANCELLED: i64 = -32802;

/// Analyses a snapshot and sends what was found, unless a newer one has come. A single change is
/// looked at at once; in a burst the last one is, when it is over. For a client that asks for itself
/// there is nothing to do.
pub(super) fn schedule<A: Analysis>(shared: &Arc<Shared<A>>, snapshot: Arc<Snapshot<A::Result>>) {
    if shared.facts().pulls {
        return;
    }
    let shared = Arc::clone(shared);
    tokio::spawn(async move {
        if snapshot.work.in_burst() {
            tokio::time::sleep(shared.timing.quiet).await;
        }
        let found = match shared.outcome(&snapshot).await {
            Outcome::Done(result) => of(&shared, &snapshot, result).await,
            Outcome::Failed => Ok(vec![failure()]),
            Outcome::Superseded => return,
        };
        let found = found.unwrap_or_else(|_| vec![failure()]);
        let (uri, version) = (snapshot.uri.clone(), Some(snapshot.version));
        let still_holds = |documents: &Documents<_>| documents.is_current(&snapshot);
        shared.publish(uri, found, version, still_holds).await;
    });
}

/// Takes the marks of a closed document away.
pub(super) fn clear<A: Analysis>(shared: &Arc<Shared<A>>, uri: Uri) {
    if shared.facts().pulls {
        return;
    }
    let shared = Arc::clone(shared);
    tokio::spawn(async move {
        let is_closed = |documents: &Documents<_>| documents.current(&uri).is_none();
        shared
            .publish(uri.clone(), Vec::new(), None, is_closed)
            .await;
    });
}

/// Answers a client that asks. The result id is our number for the state of the document.
pub(super) async fn pull<A: Analysis>(
    shared: Arc<Shared<A>>,
    snapshot: Arc<Snapshot<A::Result>>,
    known: Option<String>,
) -> jsonrpc::Result<DocumentDiagnosticReportResult> {
    let result_id = snapshot.revision.to_string();
    if known.as_ref() == Some(&result_id) {
        let report = UnchangedDocumentDiagnosticReport { result_id };
        return Ok(
            DocumentDiagnosticReport::from(RelatedUnchangedDocumentDiagnosticReport {
                related_documents: None,
                unchanged_document_diagnostic_report: report,
            })
            .into(),
        );
    }
    let result = match shared.outcome(&snapshot).await {
        Outcome::Done(result) => result,
        Outcome::Failed => return Err(internal_error("analysis")),
        Outcome::Superseded => {
            return Err(Error {
                data: Some(serde_json::json!({"retriggerRequest": true})),
                ..Error::new(ErrorCode::ServerError(SERVER_CANCELLED))
            });
        }
    };
    Ok(full(Some(result_id), of(&shared, &snapshot, result).await?))
}

/// A report of everything that was found.
pub(super) fn full(
    result_id: Option<String>,
    items: Vec<Diagnostic>,
) -> DocumentDiagnosticReportResult {
    DocumentDiagnosticReport::from(RelatedFullDocumentDiagnosticReport {
        related_documents: None,
        full_document_diagnostic_report: FullDocumentDiagnosticReport { result_id, items },
    })
    .into()
}

async fn of<A: Analysis>(
    shared: &Arc<Shared<A>>,
    snapshot: &Arc<Snapshot<A::Result>>,
    result: Arc<A::Result>,
) -> jsonrpc::Result<Vec<Diagnostic>> {
    let (analysis, snapshot) = (Arc::clone(&shared.analysis), Arc::clone(snapshot));
    let facts = shared.facts();
    blocking("diagnostics", move || {
        let found = analysis.diagnostics(&result);
        found
            .into_iter()
            .map(|found| convert(found, &snapshot, facts))
            .collect()
    })
    .await
}

/// A finding in the words of the protocol and within what the client can show.
pub(super) fn convert<R>(
    found: analysis::Diagnostic,
    snapshot: &Snapshot<R>,
    facts: ClientFacts,
) -> Diagnostic {
    let place = |bytes| position::range(&snapshot.text, bytes, facts.encoding);
    let mut message = found.message;
    let mut related = Vec::new();
    for other in found.related {
        let range = place(other.bytes);
        if facts.related {
            let location = Location::new(snapshot.uri.clone(), range);
            related.push(DiagnosticRelatedInformation {
                location,
                message: other.message,
            });
        } else {
            message.push_str(&format!(
                "\nline {}: {}",
                range.start.line + 1,
                other.message
            ));
        }
    }
    let href = found
        .href
        .filter(|_| facts.code_links)
        .and_then(|href| href.parse().ok());
    let tags = found
        .tags
        .into_iter()
        .filter(|_| facts.tags)
        .map(|tag| match tag {
            Tag::Unnecessary => DiagnosticTag::UNNECESSARY,
            Tag::Deprecated => DiagnosticTag::DEPRECATED,
        });
    let tags: Vec<_> = tags.collect();
    Diagnostic {
        range: place(found.bytes),
        severity: Some(match found.severity {
            Severity::Error => DiagnosticSeverity::ERROR,
            Severity::Warning => DiagnosticSeverity::WARNING,
            Severity::Advice => DiagnosticSeverity::INFORMATION,
        }),
        code: Some(NumberOrString::String(found.code)),
        code_description: href.map(|href| CodeDescription { href }),
        source: Some(SOURCE.to_owned()),
        message,
        related_information: (!related.is_empty()).then_some(related),
        tags: (!tags.is_empty()).then_some(tags),
        data: Some(found.data).filter(|data| facts.data && !data.is_null()),
    }
}

/// Shown when the analysis broke: an empty list would look like a clean program.
fn failure() -> Diagnostic {
    Diagnostic {
        range: Range::default(),
        severity: Some(DiagnosticSeverity::WARNING),
        code: Some(NumberOrString::String("internal-error".to_owned())),
        source: Some(SOURCE.to_owned()),
        message: "not judged: an internal error stopped the analysis of this program\n\
                  Nothing in it was checked. Please report it, with the program if you may."
            .to_owned(),
        ..Diagnostic::default()
    }
}
