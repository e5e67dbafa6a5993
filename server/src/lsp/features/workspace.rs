//! Every program of the workspace: found by designation, and judged whether it is open or not.
//!
//! A file is read again only when its size or time changed. The walk runs beside the work on open
//! documents and never takes one of its slots, and it ends with the request that asked for it.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, SystemTime};

use tokio::sync::Notify;
use tower_lsp::jsonrpc;
use tower_lsp::ls_types::*;

use super::outline::kind;
use crate::lsp::analysis::{Cancel, Input};
use crate::lsp::assist::{Assist, SymbolKind};
use crate::lsp::backend::Shared;
use crate::lsp::client::ClientFacts;
use crate::lsp::diagnostics::convert;
use crate::lsp::documents::Snapshot;
use crate::lsp::position;
use crate::lsp::work::blocking;

/// Most symbols that one search answers with.
const SYMBOLS: usize = 500;

/// How long a client that knows everything is kept waiting before it is answered all the same.
const HOLD: Duration = Duration::from_secs(60);

/// What is known of the files of the workspace.
#[derive(Debug, Default)]
pub(in crate::lsp) struct Workspace {
    roots: Mutex<Vec<PathBuf>>,
    files: Mutex<HashMap<PathBuf, Arc<File>>>,
    changed: Notify,
}

/// One judged file.
#[derive(Debug)]
struct File {
    uri: Uri,
    stamp: (SystemTime, u64),
    threads: Vec<(String, String, Range)>,
    found: Vec<Diagnostic>,
}

impl Workspace {
    /// Takes the folders of the workspace.
    pub(in crate::lsp) fn set_roots(&self, roots: Vec<PathBuf>) {
        *self.roots.lock().unwrap_or_else(PoisonError::into_inner) = roots;
    }

    /// The folders of the workspace.
    pub(in crate::lsp) fn roots(&self) -> Vec<PathBuf> {
        let roots = self.roots.lock().unwrap_or_else(PoisonError::into_inner);
        roots.clone()
    }

    /// Adds and removes folders.
    pub(in crate::lsp) fn change_roots(&self, added: Vec<PathBuf>, removed: &[PathBuf]) {
        let mut roots = self.roots.lock().unwrap_or_else(PoisonError::into_inner);
        roots.retain(|root| !removed.contains(root));
        roots.extend(added);
        drop(roots);
        self.touch();
    }

    /// A file may have changed: a client that waits is answered.
    pub(in crate::lsp) fn touch(&self) {
        self.changed.notify_waiters();
    }

    /// The configuration changed: every file is judged anew.
    pub(in crate::lsp) fn forget(&self) {
        self.files().clear();
        self.touch();
    }

    fn files(&self) -> std::sync::MutexGuard<'_, HashMap<PathBuf, Arc<File>>> {
        self.files.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Sets the flag when the request that holds it is dropped.
struct StopWithRequest(Cancel);

impl Drop for StopWithRequest {
    fn drop(&mut self) {
        self.0.set();
    }
}

/// Answers `workspace/symbol`: threads whose designation holds the query, whatever its case.
pub(in crate::lsp) async fn find<A: Assist>(
    shared: Arc<Shared<A>>,
    query: &str,
) -> jsonrpc::Result<Vec<SymbolInformation>> {
    let squeeze = |text: &str| {
        let kept = text.chars().filter(|c| !c.is_whitespace());
        kept.collect::<String>().to_lowercase()
    };
    let wanted = squeeze(query);
    let mut symbols = Vec::new();
    for file in walk(&shared, None).await? {
        for (name, detail, range) in &file.threads {
            if symbols.len() < SYMBOLS && squeeze(name).contains(&wanted) {
                symbols.push(information(&file.uri, name, detail, *range));
            }
        }
    }
    Ok(symbols)
}

#[allow(deprecated)] // the field has to be written
fn information(uri: &Uri, name: &str, detail: &str, range: Range) -> SymbolInformation {
    SymbolInformation {
        name: name.to_owned(),
        kind: kind(SymbolKind::Thread),
        tags: None,
        deprecated: None,
        location: Location::new(uri.clone(), range),
        container_name: Some(detail.to_owned()),
    }
}

/// Answers `workspace/diagnostic`. A client that knows every result already waits until something
/// may have changed: clients ask again as soon as they are answered.
pub(in crate::lsp) async fn diagnostics<A: Assist>(
    shared: Arc<Shared<A>>,
    params: WorkspaceDiagnosticParams,
) -> jsonrpc::Result<WorkspaceDiagnosticReportResult> {
    let known: HashMap<Uri, String> = params
        .previous_result_ids
        .into_iter()
        .map(|one| (one.uri, one.value))
        .collect();
    let token = params.work_done_progress_params.work_done_token;
    // From here on, so that a change during the walk counts.
    let changed = shared.workspace.changed.notified();
    tokio::pin!(changed);
    changed.as_mut().enable();
    let mut items = report(&walk(&shared, token).await?, &known, &shared);
    let nothing_new = |items: &[WorkspaceDocumentDiagnosticReport]| {
        items
            .iter()
            .all(|item| matches!(item, WorkspaceDocumentDiagnosticReport::Unchanged(_)))
    };
    if !known.is_empty() && nothing_new(&items) {
        let _ = tokio::time::timeout(HOLD, changed).await;
        items = report(&walk(&shared, None).await?, &known, &shared);
    }
    Ok(WorkspaceDiagnosticReport { items }.into())
}

fn report<A: Assist>(
    files: &[Arc<File>],
    known: &HashMap<Uri, String>,
    shared: &Shared<A>,
) -> Vec<WorkspaceDocumentDiagnosticReport> {
    // An open document is asked for by itself, in the state that the editor holds.
    let closed = files
        .iter()
        .filter(|file| shared.documents.current(&file.uri).is_none());
    let here: Vec<_> = closed
        .map(|file| {
            let result_id = result_id(file);
            if known.get(&file.uri) == Some(&result_id) {
                return WorkspaceUnchangedDocumentDiagnosticReport {
                    uri: file.uri.clone(),
                    version: None,
                    unchanged_document_diagnostic_report: UnchangedDocumentDiagnosticReport {
                        result_id,
                    },
                }
                .into();
            }
            WorkspaceFullDocumentDiagnosticReport {
                uri: file.uri.clone(),
                version: None,
                full_document_diagnostic_report: FullDocumentDiagnosticReport {
                    result_id: Some(result_id),
                    items: file.found.clone(),
                },
            }
            .into()
        })
        .collect();
    // What is gone, or is no program any more, has no findings.
    let gone = known.keys().filter(|uri| {
        shared.documents.current(uri).is_none() && files.iter().all(|file| file.uri != **uri)
    });
    let gone = gone.map(|uri| {
        WorkspaceFullDocumentDiagnosticReport {
            uri: uri.clone(),
            version: None,
            full_document_diagnostic_report: FullDocumentDiagnosticReport::default(),
        }
        .into()
    });
    here.into_iter().chain(gone).collect()
}

/// The same for the same findings, so that a file that was only touched is unchanged.
fn result_id(file: &File) -> String {
    use std::hash::{DefaultHasher, Hash as _, Hasher as _};
    let mut hasher = DefaultHasher::new();
    serde_json::to_string(&file.found)
        .unwrap_or_default()
        .hash(&mut hasher);
    format!("file-{:016x}", hasher.finish())
}

/// Judges the files of the workspace for a client that is sent its findings, and sends them for
/// those that are not open. Gives the number of files and of findings.
pub(in crate::lsp) async fn send<A: Assist>(
    shared: Arc<Shared<A>>,
    token: Option<ProgressToken>,
) -> jsonrpc::Result<(usize, usize)> {
    let files = walk(&shared, token).await?;
    let count = files.iter().map(|file| file.found.len()).sum();
    if !shared.facts().pulls {
        for file in &files {
            let uri = file.uri.clone();
            let closed =
                |documents: &crate::lsp::documents::Documents<_>| documents.current(&uri).is_none();
            shared
                .publish(uri.clone(), file.found.clone(), None, closed)
                .await;
        }
    }
    Ok((files.len(), count))
}

/// Every program of the workspace, judged. Stops when the future is dropped.
async fn walk<A: Assist>(
    shared: &Arc<Shared<A>>,
    token: Option<ProgressToken>,
) -> jsonrpc::Result<Vec<Arc<File>>> {
    let roots = shared
        .workspace
        .roots
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .clone();
    let stop = StopWithRequest(Cancel::default());
    let cancel = stop.0.clone();
    let analysis = Arc::clone(&shared.analysis);
    let mut paths = blocking("workspace walk", move || {
        let stopped = || cancel.is_set();
        let found = roots
            .iter()
            .flat_map(|root| analysis.programs(root, &stopped));
        found.collect::<Vec<_>>()
    })
    .await?;
    paths.sort();
    paths.dedup();
    let progress = match token {
        Some(token) => {
            let begun = shared.client.progress(token, "Judging programs");
            Some(begun.with_percentage(0).begin().await)
        }
        None => None,
    };
    let mut files = Vec::with_capacity(paths.len());
    let total = paths.len().max(1);
    for (at, path) in paths.into_iter().enumerate() {
        let (shared, cancel, facts) = (Arc::clone(shared), stop.0.clone(), shared.facts());
        let job = move || file(&shared, &path, facts, &cancel);
        files.extend(blocking("workspace", job).await?);
        if let Some(progress) = &progress
            && at % 64 == 63
        {
            progress.report((at * 100 / total) as u32).await;
        }
    }
    if let Some(progress) = progress {
        progress.finish().await;
    }
    Ok(files)
}

/// A file with what is known of it; none when it is gone or cannot be read.
fn file<A: Assist>(
    shared: &Shared<A>,
    path: &Path,
    facts: ClientFacts,
    cancel: &Cancel,
) -> Option<Arc<File>> {
    let meta = std::fs::metadata(path).ok()?;
    let stamp = (meta.modified().ok()?, meta.len());
    if let Some(known) = shared.workspace.files().get(path)
        && known.stamp == stamp
    {
        return Some(Arc::clone(known));
    }
    let uri = Uri::from_file_path(path)?;
    let snapshot = Snapshot::<A::Result>::of_file(uri, path.to_owned(), text(path)?);
    let result = shared.analysis.analyse(Input {
        path: Some(path),
        text: &snapshot.text,
        previous: None,
        cancelled: cancel,
    })?;
    let found = shared.analysis.diagnostics(&result).into_iter();
    let found = found.map(|one| convert(one, &snapshot, facts)).collect();
    let mut threads = Vec::new();
    gather(shared.analysis.symbols(&result), &mut |symbol| {
        let range = position::range(&snapshot.text, symbol.bytes, facts.encoding);
        threads.push((symbol.name, symbol.detail, range));
    });
    let file = Arc::new(File {
        uri: snapshot.uri.clone(),
        stamp,
        threads,
        found,
    });
    shared
        .workspace
        .files()
        .insert(path.to_owned(), Arc::clone(&file));
    Some(file)
}

fn gather(
    symbols: Vec<crate::lsp::assist::Symbol>,
    take: &mut dyn FnMut(crate::lsp::assist::Symbol),
) {
    for mut symbol in symbols {
        let children = std::mem::take(&mut symbol.children);
        if symbol.kind == SymbolKind::Thread {
            take(symbol);
        }
        gather(children, take);
    }
}

/// The text as an editor would hold it: UTF-8, or else one byte a character.
fn text(path: &Path) -> Option<String> {
    let bytes = std::fs::read(path).ok()?;
    Some(match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => error
            .into_bytes()
            .iter()
            .map(|&byte| char::from(byte))
            .collect(),
    })
}
