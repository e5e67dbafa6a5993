//! The work on one snapshot: done once however many ask for it, on a worker thread, and given up
//! when a newer snapshot takes its place.

use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::{OnceCell, Semaphore};
use tower_lsp::jsonrpc::{self, Error};

use super::analysis::{Analysis, Cancel, Changed, Input, Previous};
use super::documents::Snapshot;

/// What is known about the text of a snapshot.
pub(super) struct Work<R> {
    cancelled: Cancel,
    previous: Mutex<Option<(Arc<R>, Changed)>>,
    outcome: OnceCell<Outcome<R>>,
    in_burst: bool,
}

/// How the analysis of a snapshot ended.
pub(super) enum Outcome<R> {
    /// With a result.
    Done(Arc<R>),
    /// A newer snapshot, or the end, came first.
    Superseded,
    /// It panicked.
    Failed,
}

impl<R> Work<R> {
    /// The work on a text that differs from this one by `changed`.
    pub(super) fn after(&self, changed: &Changed) -> Self {
        let previous = match self.outcome.get() {
            Some(Outcome::Done(result)) => Some((Arc::clone(result), changed.clone())),
            _ => self
                .previous()
                .map(|(result, before)| (result, before.then(changed))),
        };
        Self {
            previous: Mutex::new(previous),
            in_burst: self.outcome.get().is_none(),
            ..Self::default()
        }
    }

    /// Whether this text came before the one before it was done with.
    pub(super) fn in_burst(&self) -> bool {
        self.in_burst
    }

    /// Lets the work stop: nobody waits for it.
    pub(super) fn cancel(&self) {
        self.cancelled.set();
    }

    pub(super) fn is_cancelled(&self) -> bool {
        self.cancelled.is_set()
    }

    fn previous(&self) -> Option<(Arc<R>, Changed)> {
        self.previous
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

/// Waits for the analysis of a snapshot, starting it if need be. Call it from a task of its own: a
/// request that is dropped must not drop the work that others wait for.
pub(super) async fn outcome<A: Analysis>(
    analysis: &Arc<A>,
    slots: &Semaphore,
    snapshot: &Arc<Snapshot<A::Result>>,
) -> Outcome<A::Result> {
    let run = || async {
        let _slot = slots.acquire().await;
        if snapshot.work.is_cancelled() {
            return Outcome::Superseded;
        }
        let (analysis, snapshot) = (Arc::clone(analysis), Arc::clone(snapshot));
        let job = blocking("analysis", move || analyse(&*analysis, &snapshot));
        job.await.unwrap_or(Outcome::Failed)
    };
    snapshot.work.outcome.get_or_init(run).await.clone()
}

fn analyse<A: Analysis>(analysis: &A, snapshot: &Snapshot<A::Result>) -> Outcome<A::Result> {
    let work = &snapshot.work;
    let previous = work.previous();
    let result = analysis.analyse(Input {
        path: snapshot.path.as_deref(),
        text: &snapshot.text,
        previous: previous.as_ref().map(|(result, changed)| Previous {
            result: result.as_ref(),
            changed: changed.clone(),
        }),
        cancelled: &work.cancelled,
    });
    match result {
        Some(result) if !work.is_cancelled() => {
            *work.previous.lock().unwrap_or_else(PoisonError::into_inner) = None;
            Outcome::Done(Arc::new(result))
        }
        Some(_) => Outcome::Superseded,
        None if work.is_cancelled() => Outcome::Superseded,
        None => {
            tracing::error!("an analysis gave up although nobody had asked it to");
            Outcome::Failed
        }
    }
}

/// Runs a job on a worker thread. A panic in it becomes an internal error that names the job.
pub(super) async fn blocking<T: Send + 'static>(
    name: &'static str,
    job: impl FnOnce() -> T + Send + 'static,
) -> jsonrpc::Result<T> {
    tokio::task::spawn_blocking(job)
        .await
        .map_err(|_| panicked(name))
}

/// Runs what a request asks for in a task of its own: it goes on when the request is cancelled, and
/// a panic in it becomes an internal error that names it.
pub(super) async fn task<T: Send + 'static>(
    name: &'static str,
    work: impl Future<Output = jsonrpc::Result<T>> + Send + 'static,
) -> jsonrpc::Result<T> {
    tokio::spawn(work)
        .await
        .unwrap_or_else(|_| Err(panicked(name)))
}

fn panicked(name: &'static str) -> Error {
    tracing::error!(job = name, "a job panicked");
    internal_error(name)
}

/// The answer for a job that panicked.
pub(super) fn internal_error(name: &'static str) -> Error {
    Error {
        message: format!("internal error in {name}; the language server goes on").into(),
        ..Error::internal_error()
    }
}

impl<R> Default for Work<R> {
    fn default() -> Self {
        Self {
            cancelled: Cancel::default(),
            previous: Mutex::default(),
            outcome: OnceCell::new(),
            in_burst: false,
        }
    }
}

impl<R> Clone for Outcome<R> {
    fn clone(&self) -> Self {
        match self {
            Self::Done(result) => Self::Done(Arc::clone(result)),
            Self::Superseded => Self::Superseded,
            Self::Failed => Self::Failed,
        }
    }
}

impl<R> fmt::Debug for Work<R> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let state = match self.outcome.get() {
            None => "open",
            Some(Outcome::Done(_)) => "done",
            Some(Outcome::Superseded) => "superseded",
            Some(Outcome::Failed) => "failed",
        };
        f.debug_tuple("Work").field(&state).finish()
    }
}
