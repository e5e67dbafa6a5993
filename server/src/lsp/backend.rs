//! The handlers. Each one decodes, changes or takes a snapshot of the state at once, and hands the
//! rest to a task: none of them works, and none of them waits for the client.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

use tokio::sync::{Mutex, Semaphore, mpsc, watch};
use tower_lsp::jsonrpc::{self, Error, ErrorCode};
use tower_lsp::ls_types::*;
use tower_lsp::{Client, LanguageServer};

use super::analysis::Analysis;
use super::client::ClientFacts;
use super::documents::{Documents, Snapshot};
use super::work::{self, Outcome, task};
use super::{Ended, Timing, actions, config, diagnostics, guard, hover};

/// What the handlers and their tasks share.
pub(super) struct Shared<A: Analysis> {
    pub(super) analysis: Arc<A>,
    pub(super) client: Client,
    pub(super) documents: Documents<A::Result>,
    pub(super) timing: Timing,
    facts: OnceLock<ClientFacts>,
    slots: Semaphore,
    publishing: Mutex<()>,
    initialized: watch::Sender<bool>,
    shut_down: AtomicBool,
    ends: mpsc::UnboundedSender<Ended>,
}

impl<A: Analysis> Shared<A> {
    pub(super) fn new(
        analysis: A,
        client: Client,
        timing: Timing,
        ends: mpsc::UnboundedSender<Ended>,
    ) -> Self {
        let threads = std::thread::available_parallelism()
            .map_or(2, usize::from)
            .max(2);
        Self {
            analysis: Arc::new(analysis),
            client,
            documents: Documents::default(),
            timing,
            publishing: Mutex::default(),
            facts: OnceLock::new(),
            slots: Semaphore::new(threads),
            initialized: watch::Sender::new(false),
            shut_down: AtomicBool::new(false),
            ends,
        }
    }

    /// What the client can do; the least of it before it has said so.
    pub(super) fn facts(&self) -> ClientFacts {
        self.facts.get().copied().unwrap_or_default()
    }

    pub(super) fn was_shut_down(&self) -> bool {
        self.shut_down.load(Ordering::Relaxed)
    }

    /// Waits for the analysis of a snapshot. Call it from a task of its own.
    pub(super) async fn outcome(&self, snapshot: &Arc<Snapshot<A::Result>>) -> Outcome<A::Result> {
        work::outcome(&self.analysis, &self.slots, snapshot).await
    }

    /// The same for a request that names a place in the text: it is void once the text has changed.
    pub(super) async fn result(
        &self,
        snapshot: &Arc<Snapshot<A::Result>>,
    ) -> jsonrpc::Result<Arc<A::Result>> {
        match self.outcome(snapshot).await {
            Outcome::Done(result) => Ok(result),
            Outcome::Superseded => Err(Error::new(ErrorCode::ContentModified)),
            Outcome::Failed => Err(work::internal_error("analysis")),
        }
    }

    /// Sends diagnostics if they still hold. Nothing is sent before the client has said
    /// `initialized`, and a list that was looked at first is sent first, so that an older one never
    /// follows a newer one.
    pub(super) async fn publish(
        &self,
        uri: Uri,
        found: Vec<Diagnostic>,
        version: Option<i32>,
        still_holds: impl Fn(&Documents<A::Result>) -> bool,
    ) {
        let _ = self.initialized.subscribe().wait_for(|&it| it).await; // the sender is our own
        let _turn = self.publishing.lock().await;
        if still_holds(&self.documents) {
            self.client.publish_diagnostics(uri, found, version).await;
        }
    }
}

/// The language server as the library sees it.
pub(super) struct Backend<A: Analysis>(pub(super) Arc<Shared<A>>);

impl<A: Analysis> Backend<A> {
    fn shared(&self) -> Arc<Shared<A>> {
        Arc::clone(&self.0)
    }

    fn current(&self, document: &TextDocumentIdentifier) -> Option<Arc<Snapshot<A::Result>>> {
        self.0.documents.current(&document.uri)
    }
}

impl<A: Analysis> LanguageServer for Backend<A> {
    async fn initialize(&self, params: InitializeParams) -> jsonrpc::Result<InitializeResult> {
        let facts = *self
            .0
            .facts
            .get_or_init(|| ClientFacts::new(params.capabilities));
        if let Some(process) = params.process_id {
            let (ends, every) = (self.0.ends.clone(), self.0.timing.parent_look);
            tokio::spawn(async move {
                guard::watch_parent(process, every).await;
                let _ = ends.send(Ended::ParentGone);
            });
        }
        Ok(facts.answer())
    }

    async fn initialized(&self, _: InitializedParams) {
        self.0.initialized.send_replace(true);
        config::watch(&self.0);
    }

    async fn shutdown(&self) -> jsonrpc::Result<()> {
        self.0.shut_down.store(true, Ordering::Relaxed);
        self.0.documents.cancel_all();
        Ok(())
    }

    async fn did_open(&self, params: DidOpenTextDocumentParams) {
        let snapshot = self.0.documents.open(params.text_document);
        diagnostics::schedule(&self.0, snapshot);
    }

    async fn did_change(&self, params: DidChangeTextDocumentParams) {
        let (document, changes) = (params.text_document, params.content_changes);
        let (documents, encoding) = (&self.0.documents, self.0.facts().encoding);
        if let Some(snapshot) =
            documents.change(&document.uri, document.version, &changes, encoding)
        {
            diagnostics::schedule(&self.0, snapshot);
        }
    }

    async fn did_save(&self, _: DidSaveTextDocumentParams) {
        // For a client that cannot watch files, a save is the moment to look at the configuration.
        if !self.0.facts().watches_files {
            config::changed(&self.0);
        }
    }

    async fn did_close(&self, params: DidCloseTextDocumentParams) {
        if self.0.documents.close(&params.text_document.uri) {
            diagnostics::clear(&self.0, params.text_document.uri);
        }
    }

    async fn diagnostic(
        &self,
        params: DocumentDiagnosticParams,
    ) -> jsonrpc::Result<DocumentDiagnosticReportResult> {
        let Some(snapshot) = self.current(&params.text_document) else {
            return Ok(diagnostics::full(None, Vec::new()));
        };
        let work = diagnostics::pull(self.shared(), snapshot, params.previous_result_id);
        task("diagnostics", work).await
    }

    async fn hover(&self, params: HoverParams) -> jsonrpc::Result<Option<Hover>> {
        let at = params.text_document_position_params;
        let Some(snapshot) = self.current(&at.text_document) else {
            return Ok(None);
        };
        task("hover", hover::hover(self.shared(), snapshot, at.position)).await
    }

    async fn code_action(
        &self,
        params: CodeActionParams,
    ) -> jsonrpc::Result<Option<CodeActionResponse>> {
        let Some(snapshot) = self.current(&params.text_document) else {
            return Ok(None);
        };
        let work = actions::actions(self.shared(), snapshot, params.range, params.context);
        task("code actions", work).await
    }

    async fn did_change_watched_files(&self, _: DidChangeWatchedFilesParams) {
        config::changed(&self.0);
    }

    async fn did_change_configuration(&self, _: DidChangeConfigurationParams) {
        config::changed(&self.0);
    }
}
