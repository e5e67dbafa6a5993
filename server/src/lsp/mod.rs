//! The language server: the same findings as everywhere, in an editor.
//!
//! `serve` stands between a client and an [`Analysis`]. From outside in:
//!
//! ```text
//! bytes ─ frames ─ session ─ guard ─ (server library) ─ backend ─ documents ─ work ─ Analysis
//!                                                          │
//!                                            diagnostics, hover, actions, config
//! ```
//!
//! `position` turns columns into bytes and back; no other module counts anything but bytes.

mod actions;
mod analysis;
mod assist;
mod backend;
mod client;
mod config;
mod diagnostics;
pub mod documents;
pub mod edit;
mod features;
mod frames;
mod guard;
mod hover;
mod log;
pub mod position;
mod session;
mod work;

use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::mpsc;
use tokio::time::timeout;
use tower_lsp::LspService;

pub use self::analysis::{
    Action, ActionKind, Analysis, Cancel, Changed, Diagnostic, Edit, Hover, Input, Previous,
    Related, Severity, Tag,
};
pub use self::assist::{
    Assist, Completion, Hint, Lens, Link, Occurrence, Routine, Signature, Symbol, SymbolKind,
    Token, TokenKind, View,
};
use self::backend::{Backend, Shared};
use self::frames::Outbox;
use self::guard::Guarded;
use self::session::InputEnd;

/// How long things wait.
#[derive(Clone, Copy, Debug)]
pub struct Timing {
    /// A burst of changes is over when none came for this long.
    pub quiet: Duration,
    /// How long an answer of the client is waited for.
    pub client_answer: Duration,
    /// How often to look whether the parent process lives.
    pub parent_look: Duration,
    /// How long answers in progress may take once the session is over.
    pub grace: Duration,
}

impl Default for Timing {
    fn default() -> Self {
        Self {
            quiet: Duration::from_millis(15),
            client_answer: Duration::from_secs(10),
            parent_look: Duration::from_secs(3),
            grace: Duration::from_secs(1),
        }
    }
}

/// Why a session was over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The client sent `exit`, after `shutdown` or without it.
    Exit {
        /// Whether `shutdown` came first, as the protocol asks.
        after_shutdown: bool,
    },
    /// The client closed its end of the input.
    InputClosed,
    /// Nobody takes the output any more.
    OutputClosed,
    /// The process that the client named is gone.
    ParentGone,
}

impl From<Ended> for ExitCode {
    /// 1 for an `exit` without `shutdown`, as the protocol asks; otherwise 0.
    fn from(ended: Ended) -> Self {
        match ended {
            Ended::Exit {
                after_shutdown: false,
            } => Self::FAILURE,
            _ => Self::SUCCESS,
        }
    }
}

/// Serves one client on the standard input and output of this process, logging to the standard
/// error. Returns when the session is over; call it from the main thread and return its code.
pub fn run<A: Assist>(analysis: A) -> ExitCode {
    log::to_stderr();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => {
            tracing::error!(%error, "cannot start the language server");
            return ExitCode::from(2);
        }
    };
    let session = serve(
        tokio::io::stdin(),
        tokio::io::stdout(),
        analysis,
        Timing::default(),
    );
    let ended = runtime.block_on(session);
    // A read of the standard input cannot be interrupted, so do not wait for its thread.
    runtime.shutdown_background();
    ended.into()
}

/// Serves one client on any pair of streams until the session is over.
pub async fn serve<A: Assist>(
    input: impl AsyncRead + Unpin + Send + 'static,
    output: impl AsyncWrite + Unpin + Send + 'static,
    analysis: A,
    timing: Timing,
) -> Ended {
    let (ends, mut ended) = mpsc::unbounded_channel();
    let (outbox, messages) = Outbox::new();
    let writer = tokio::spawn({
        let ends = ends.clone();
        async move {
            if let Err(error) = frames::write_all(messages, output).await {
                tracing::warn!(%error, "the output broke");
                let _ = ends.send(Ended::OutputClosed);
            }
        }
    });

    let (service, socket) =
        LspService::new(|client| Backend(Arc::new(Shared::new(analysis, client, timing, ends))));
    let shared = Arc::clone(&service.inner().0);
    let session = session::serve(input, outbox, Guarded(service), socket, timing.grace);
    let ended = tokio::select! {
        end = session => match end {
            InputEnd::Exit => Ended::Exit {
                after_shutdown: shared.was_shut_down(),
            },
            InputEnd::Closed => Ended::InputClosed,
        },
        Some(ended) = ended.recv() => ended,
    };
    // What was said last shall still go out.
    let _ = timeout(timing.grace, writer).await;
    shared.documents.cancel_all();
    ended
}
