//! The open documents. A document is a row of snapshots; each is immutable and knows its text, its
//! version and the work that was done on it. A change makes a new snapshot and cancels the work on
//! the one before. All of it happens at once, before a handler first waits, so messages take effect
//! in the order in which they came.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use ropey::Rope;
use tower_lsp::ls_types::{TextDocumentContentChangeEvent, TextDocumentItem, Uri};

use super::analysis::Changed;
use super::edit;
use super::position::Encoding;
use super::work::Work;

/// One state of one document.
#[derive(Debug)]
pub struct Snapshot<R> {
    /// The document's name, as the client writes it.
    pub uri: Uri,
    /// The file behind that name, if it is a file.
    pub path: Option<PathBuf>,
    /// The client's number for this state; sent back, never compared.
    pub version: i32,
    /// Our own number for this state, never used twice.
    pub revision: u64,
    /// The text.
    pub text: Rope,
    /// What was found out about the text, or is being found out.
    pub(super) work: Work<R>,
}

/// The open documents.
#[derive(Debug)]
pub struct Documents<R> {
    open: Mutex<HashMap<Uri, Arc<Snapshot<R>>>>,
    revisions: AtomicU64,
}

impl<R> Default for Documents<R> {
    fn default() -> Self {
        Self {
            open: Mutex::default(),
            revisions: AtomicU64::new(1),
        }
    }
}

impl<R> Documents<R> {
    /// Takes a document that the client opened. One that was open already is replaced.
    pub fn open(&self, item: TextDocumentItem) -> Arc<Snapshot<R>> {
        let snapshot = Arc::new(Snapshot {
            path: path_of(&item.uri),
            uri: item.uri,
            version: item.version,
            revision: self.next_revision(),
            text: Rope::from_str(&item.text),
            work: Work::default(),
        });
        let before = self
            .lock()
            .insert(snapshot.uri.clone(), Arc::clone(&snapshot));
        if let Some(before) = before {
            tracing::warn!("a document was opened twice; its text is replaced");
            before.work.cancel();
        }
        snapshot
    }

    /// Applies the changes of one notification in their order. Gives the new snapshot, or `None` if
    /// the document is not open.
    ///
    /// The messages of a client arrive in order and each range counts in the text that the one
    /// before has left, so a version that does not rise is applied all the same: leaving it out
    /// would spoil the text for good.
    pub fn change(
        &self,
        uri: &Uri,
        version: i32,
        changes: &[TextDocumentContentChangeEvent],
        encoding: Encoding,
    ) -> Option<Arc<Snapshot<R>>> {
        loop {
            let Some(before) = self.current(uri) else {
                tracing::warn!("a change for a document that is not open is ignored");
                return None;
            };
            if version <= before.version {
                tracing::warn!(version, before = before.version, "a version did not rise");
            }
            let mut text = before.text.clone();
            let changed = changes
                .iter()
                .map(|change| edit::apply(&mut text, change, encoding))
                .reduce(|sum, later| sum.then(&later))
                .unwrap_or(Changed {
                    old: 0..0,
                    new: 0..0,
                });
            let work = before.work.after(&changed);
            let snapshot = self.next(&before, version, text, work);

            let mut open = self.lock();
            if let Some(current) = open.get_mut(uri)
                && current.revision == before.revision
            {
                before.work.cancel();
                *current = Arc::clone(&snapshot);
                return Some(snapshot);
            }
            // Renewed meanwhile: the results that this one would build on are void.
        }
    }

    /// Gives every open document a new snapshot of the same text, with no work done on it.
    pub fn renew(&self) -> Vec<Arc<Snapshot<R>>> {
        let mut open = self.lock();
        let renewed = open.values_mut().map(|current| {
            current.work.cancel();
            *current = self.next(
                current,
                current.version,
                current.text.clone(),
                Work::default(),
            );
            Arc::clone(current)
        });
        renewed.collect()
    }

    /// Forgets a document. `false` if it was not open.
    pub fn close(&self, uri: &Uri) -> bool {
        let closed = self.lock().remove(uri);
        if let Some(open) = &closed {
            open.work.cancel();
        }
        closed.is_some()
    }

    /// The newest snapshot of a document.
    pub fn current(&self, uri: &Uri) -> Option<Arc<Snapshot<R>>> {
        self.lock().get(uri).cloned()
    }

    /// Whether a snapshot is the newest of its document.
    pub fn is_current(&self, snapshot: &Snapshot<R>) -> bool {
        let open = self.lock();
        open.get(&snapshot.uri)
            .is_some_and(|open| open.revision == snapshot.revision)
    }

    /// Cancels all work.
    pub fn cancel_all(&self) {
        for open in self.lock().values() {
            open.work.cancel();
        }
    }

    fn next(
        &self,
        before: &Snapshot<R>,
        version: i32,
        text: Rope,
        work: Work<R>,
    ) -> Arc<Snapshot<R>> {
        Arc::new(Snapshot {
            uri: before.uri.clone(),
            path: before.path.clone(),
            version,
            revision: self.next_revision(),
            text,
            work,
        })
    }

    fn next_revision(&self) -> u64 {
        self.revisions.fetch_add(1, Ordering::Relaxed)
    }

    /// Held for a look or a swap only, so a poisoned lock still guards a whole map.
    fn lock(&self) -> MutexGuard<'_, HashMap<Uri, Arc<Snapshot<R>>>> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<R> Snapshot<R> {
    /// The state of a file that is not open.
    pub(super) fn of_file(uri: Uri, path: PathBuf, text: String) -> Self {
        Snapshot {
            uri,
            path: Some(path),
            version: 0,
            revision: 0,
            text: Rope::from_str(&text),
            work: Work::default(),
        }
    }
}

/// The file that a URI names. `None` for every scheme but `file` and, where the system has no such
/// paths, for a file on another host.
pub fn path_of(uri: &Uri) -> Option<PathBuf> {
    let is_file = uri.scheme().as_str().eq_ignore_ascii_case("file");
    let host = uri
        .authority()
        .map(|authority| authority.host())
        .unwrap_or_default();
    let is_here = host.is_empty() || host.eq_ignore_ascii_case("localhost") || cfg!(windows);
    let path = (is_file && is_here).then(|| uri.to_file_path()).flatten()?;
    Path::new(path.as_ref())
        .is_absolute()
        .then(|| path.into_owned())
}
