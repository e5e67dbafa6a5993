//! The configuration changed under the open documents.

use std::sync::Arc;

use serde_json::json;
use tower_lsp::ls_types::Registration;

use super::analysis::Analysis;
use super::backend::Shared;
use super::diagnostics;
use super::work::blocking;

/// The files that a client is asked to watch.
const WATCHED: &str = "**/flankwise.toml";

/// Lets the client watch the configuration files, where it can.
pub(super) fn watch<A: Analysis>(shared: &Arc<Shared<A>>) {
    if !shared.facts().watches_files {
        return;
    }
    let shared = Arc::clone(shared);
    tokio::spawn(async move {
        let registration = Registration {
            id: "configuration-files".to_owned(),
            method: "workspace/didChangeWatchedFiles".to_owned(),
            register_options: Some(json!({"watchers": [{"globPattern": WATCHED}]})),
        };
        let asked = shared.client.register_capability(vec![registration]);
        match tokio::time::timeout(shared.timing.client_answer, asked).await {
            Ok(Ok(())) => {}
            Ok(Err(_)) => tracing::warn!("the client does not watch the configuration files"),
            Err(_) => tracing::warn!("the client gave no answer about watching files"),
        }
    });
}

/// Reads the configuration anew and looks at every open document again.
pub(super) fn changed<A: Analysis>(shared: &Arc<Shared<A>>) {
    let shared = Arc::clone(shared);
    tokio::spawn(async move {
        let analysis = Arc::clone(&shared.analysis);
        let _ = blocking("configuration", move || analysis.config_changed()).await;
        shared.workspace.forget();
        for snapshot in shared.documents.renew() {
            diagnostics::schedule(&shared, snapshot);
        }
        if shared.facts().pulls && shared.facts().refreshes {
            let asked = shared.client.workspace_diagnostic_refresh();
            if tokio::time::timeout(shared.timing.client_answer, asked)
                .await
                .is_err()
            {
                tracing::warn!("the client gave no answer about asking again");
            }
        }
    });
}
