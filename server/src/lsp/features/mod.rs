//! The requests of [`super::assist`]: decoded, asked of the analysis on a worker thread, and turned
//! into the protocol's types.

mod inline;
mod names;
mod offers;
mod outline;
mod panel;
mod typing;
mod workspace;

use inline::LEGEND;
pub(super) use inline::{hints, lenses, tokens};
pub(super) use names::{calls_from, calls_to, definition, highlights, links, prepare, references};
pub(super) use offers::Offers;
pub(super) use outline::{folds, selections, symbols};
use panel::COMMANDS;
pub(super) use panel::{Asking, command, section};
use typing::TRIGGERS;
pub(super) use typing::{completions, signature};
pub(super) use workspace::{Workspace, diagnostics as workspace_diagnostics, find, send};

use std::sync::Arc;

use tower_lsp::jsonrpc;

use super::assist::Assist;
use super::backend::Shared;
use super::client::ClientFacts;
use super::documents::Snapshot;
use super::work::blocking;

/// What a job on a worker thread works with.
pub(super) struct Asked<A: Assist> {
    pub(super) analysis: Arc<A>,
    pub(super) result: Arc<A::Result>,
    pub(super) snapshot: Arc<Snapshot<A::Result>>,
    pub(super) facts: ClientFacts,
}

/// Waits for the analysis of a snapshot, then runs a job about it on a worker thread.
pub(super) async fn ask<A: Assist, T: Send + 'static>(
    name: &'static str,
    shared: Arc<Shared<A>>,
    snapshot: Arc<Snapshot<A::Result>>,
    job: impl FnOnce(Asked<A>) -> T + Send + 'static,
) -> jsonrpc::Result<T> {
    let result = shared.result(&snapshot).await?;
    let asked = Asked {
        analysis: Arc::clone(&shared.analysis),
        result,
        snapshot,
        facts: shared.facts(),
    };
    blocking(name, move || job(asked)).await
}

impl<A: Assist> Asked<A> {
    fn range(&self, bytes: std::ops::Range<usize>) -> tower_lsp::ls_types::Range {
        super::position::range(&self.snapshot.text, bytes, self.facts.encoding)
    }

    fn offset(&self, at: tower_lsp::ls_types::Position) -> usize {
        super::position::offset(&self.snapshot.text, at, self.facts.encoding)
    }
}
