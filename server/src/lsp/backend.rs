//! The handlers. Each one decodes, changes or takes a snapshot of the state at once, and hands the
//! rest to a task: none of them works, and none of them waits for the client.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

use tokio::sync::{Mutex, Semaphore, mpsc, watch};
use tower_lsp::jsonrpc::{self, Error, ErrorCode};
use tower_lsp::ls_types::*;
use tower_lsp::{Client, LanguageServer};

use super::analysis::Analysis;
use super::assist::Assist;
use super::client::ClientFacts;
use super::documents::{Documents, Snapshot, path_of};
use super::features::{self, Asked, Asking, Workspace};
use super::work::{self, Outcome, task};
use super::{Ended, Timing, actions, config, diagnostics, guard, hover};

/// What the handlers and their tasks share.
pub(super) struct Shared<A: Analysis> {
    pub(super) analysis: Arc<A>,
    pub(super) client: Client,
    pub(super) documents: Documents<A::Result>,
    pub(super) timing: Timing,
    pub(super) workspace: Workspace,
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
            workspace: Workspace::default(),
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
pub(super) struct Backend<A: Assist>(pub(super) Arc<Shared<A>>);

impl<A: Assist> Backend<A> {
    fn shared(&self) -> Arc<Shared<A>> {
        Arc::clone(&self.0)
    }

    fn current(&self, document: &TextDocumentIdentifier) -> Option<Arc<Snapshot<A::Result>>> {
        self.0.documents.current(&document.uri)
    }

    /// Runs a job about an open document; the empty answer for one that is not open.
    async fn about<T: Default + Send + 'static>(
        &self,
        name: &'static str,
        document: &TextDocumentIdentifier,
        job: impl FnOnce(Asked<A>) -> T + Send + 'static,
    ) -> jsonrpc::Result<T> {
        match self.current(document) {
            Some(snapshot) => task(name, features::ask(name, self.shared(), snapshot, job)).await,
            None => Ok(T::default()),
        }
    }
}

impl<A: Assist> LanguageServer for Backend<A> {
    async fn initialize(&self, params: InitializeParams) -> jsonrpc::Result<InitializeResult> {
        self.0.workspace.set_roots(roots(&params));
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
        self.0.workspace.touch();
        // For a client that cannot watch files, a save is the moment to look at the configuration.
        if !self.0.facts().watches_files {
            config::changed(&self.0);
        }
    }

    async fn did_close(&self, params: DidCloseTextDocumentParams) {
        self.0.workspace.touch();
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

    async fn document_symbol(
        &self,
        params: DocumentSymbolParams,
    ) -> jsonrpc::Result<Option<DocumentSymbolResponse>> {
        self.about("outline", &params.text_document, |asked| {
            Some(features::symbols(&asked))
        })
        .await
    }

    async fn folding_range(
        &self,
        params: FoldingRangeParams,
    ) -> jsonrpc::Result<Option<Vec<FoldingRange>>> {
        self.about("folding", &params.text_document, |asked| {
            Some(features::folds(&asked))
        })
        .await
    }

    async fn selection_range(
        &self,
        params: SelectionRangeParams,
    ) -> jsonrpc::Result<Option<Vec<SelectionRange>>> {
        self.about("selection", &params.text_document, move |asked| {
            Some(features::selections(&asked, &params.positions))
        })
        .await
    }

    async fn inlay_hint(&self, params: InlayHintParams) -> jsonrpc::Result<Option<Vec<InlayHint>>> {
        self.about("hints", &params.text_document, move |asked| {
            Some(features::hints(&asked, params.range))
        })
        .await
    }

    async fn code_lens(&self, params: CodeLensParams) -> jsonrpc::Result<Option<Vec<CodeLens>>> {
        self.about("lenses", &params.text_document, |asked| {
            Some(features::lenses(&asked))
        })
        .await
    }

    async fn semantic_tokens_full(
        &self,
        params: SemanticTokensParams,
    ) -> jsonrpc::Result<Option<SemanticTokensResult>> {
        self.about("tokens", &params.text_document, |asked| {
            Some(features::tokens(&asked, None).into())
        })
        .await
    }

    async fn semantic_tokens_range(
        &self,
        params: SemanticTokensRangeParams,
    ) -> jsonrpc::Result<Option<SemanticTokensRangeResult>> {
        self.about("tokens", &params.text_document, move |asked| {
            Some(features::tokens(&asked, Some(params.range)).into())
        })
        .await
    }

    async fn goto_definition(
        &self,
        params: GotoDefinitionParams,
    ) -> jsonrpc::Result<Option<GotoDefinitionResponse>> {
        let at = params.text_document_position_params;
        self.about("definition", &at.text_document, move |asked| {
            features::definition(&asked, at.position)
        })
        .await
    }

    async fn references(&self, params: ReferenceParams) -> jsonrpc::Result<Option<Vec<Location>>> {
        let at = params.text_document_position;
        let all = params.context.include_declaration;
        self.about("references", &at.text_document, move |asked| {
            Some(features::references(&asked, at.position, all))
        })
        .await
    }

    async fn document_highlight(
        &self,
        params: DocumentHighlightParams,
    ) -> jsonrpc::Result<Option<Vec<DocumentHighlight>>> {
        let at = params.text_document_position_params;
        self.about("highlight", &at.text_document, move |asked| {
            Some(features::highlights(&asked, at.position))
        })
        .await
    }

    async fn document_link(
        &self,
        params: DocumentLinkParams,
    ) -> jsonrpc::Result<Option<Vec<DocumentLink>>> {
        self.about("links", &params.text_document, |asked| {
            Some(features::links(&asked))
        })
        .await
    }

    async fn prepare_call_hierarchy(
        &self,
        params: CallHierarchyPrepareParams,
    ) -> jsonrpc::Result<Option<Vec<CallHierarchyItem>>> {
        let at = params.text_document_position_params;
        self.about("calls", &at.text_document, move |asked| {
            features::prepare(&asked, at.position)
        })
        .await
    }

    async fn incoming_calls(
        &self,
        params: CallHierarchyIncomingCallsParams,
    ) -> jsonrpc::Result<Option<Vec<CallHierarchyIncomingCall>>> {
        let document = TextDocumentIdentifier::new(params.item.uri);
        self.about("calls", &document, move |asked| {
            Some(features::calls_to(&asked, &params.item.name))
        })
        .await
    }

    async fn outgoing_calls(
        &self,
        params: CallHierarchyOutgoingCallsParams,
    ) -> jsonrpc::Result<Option<Vec<CallHierarchyOutgoingCall>>> {
        let document = TextDocumentIdentifier::new(params.item.uri);
        self.about("calls", &document, move |asked| {
            Some(features::calls_from(&asked, &params.item.name))
        })
        .await
    }

    async fn completion(
        &self,
        params: CompletionParams,
    ) -> jsonrpc::Result<Option<CompletionResponse>> {
        let at = params.text_document_position;
        self.about("completion", &at.text_document, move |asked| {
            Some(features::completions(&asked, at.position).into())
        })
        .await
    }

    async fn signature_help(
        &self,
        params: SignatureHelpParams,
    ) -> jsonrpc::Result<Option<SignatureHelp>> {
        let at = params.text_document_position_params;
        self.about("signature", &at.text_document, move |asked| {
            features::signature(&asked, at.position)
        })
        .await
    }

    async fn symbol(
        &self,
        params: WorkspaceSymbolParams,
    ) -> jsonrpc::Result<Option<WorkspaceSymbolResponse>> {
        let found = features::find(self.shared(), &params.query).await?;
        Ok(Some(found.into()))
    }

    async fn workspace_diagnostic(
        &self,
        params: WorkspaceDiagnosticParams,
    ) -> jsonrpc::Result<WorkspaceDiagnosticReportResult> {
        features::workspace_diagnostics(self.shared(), params).await
    }

    async fn execute_command(
        &self,
        params: ExecuteCommandParams,
    ) -> jsonrpc::Result<Option<LSPAny>> {
        let token = params.work_done_progress_params.work_done_token.clone();
        match features::command(params)? {
            Asking::Section(uri, at) => {
                let document = TextDocumentIdentifier::new(uri);
                self.about("section", &document, move |asked| {
                    features::section(&asked, at)
                })
                .await
            }
            Asking::Audit {
                path,
                quantities,
                page,
            } => {
                let paths = path.map_or_else(|| self.0.workspace.roots(), |path| vec![path]);
                let analysis = Arc::clone(&self.0.analysis);
                let audit = move || analysis.audit(&paths, quantities.as_deref(), page);
                let said = super::work::blocking("audit", audit).await?;
                Ok(said.map(
                    |(text, messages)| serde_json::json!({"text": text, "messages": messages}),
                ))
            }
            Asking::CheckWorkspace => {
                let (files, findings) = features::send(self.shared(), token).await?;
                Ok(Some(
                    serde_json::json!({"files": files, "findings": findings}),
                ))
            }
        }
    }

    async fn did_change_workspace_folders(&self, params: DidChangeWorkspaceFoldersParams) {
        let paths = |folders: Vec<WorkspaceFolder>| {
            let folders = folders.iter().map(|folder| &folder.uri);
            folders.filter_map(path_of).collect::<Vec<_>>()
        };
        let (added, removed) = (paths(params.event.added), paths(params.event.removed));
        self.0.workspace.change_roots(added, &removed);
    }

    async fn did_change_watched_files(&self, _: DidChangeWatchedFilesParams) {
        config::changed(&self.0);
    }

    async fn did_change_configuration(&self, _: DidChangeConfigurationParams) {
        config::changed(&self.0);
    }
}

/// The folders that the client works in.
fn roots(params: &InitializeParams) -> Vec<std::path::PathBuf> {
    if let Some(folders) = &params.workspace_folders {
        return folders
            .iter()
            .filter_map(|folder| path_of(&folder.uri))
            .collect();
    }
    #[allow(deprecated)] // older clients know nothing else
    let root = params.root_uri.as_ref().and_then(path_of);
    root.into_iter().collect()
}
