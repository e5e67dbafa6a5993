//! How a session begins and how it ends, besides the rows of `measured`.

use std::time::Duration;

use serde_json::{Value, json};
use server::lsp::{Ended, Timing, serve};
use tokio::io::AsyncWriteExt;

use super::client::{Client, URI, at, frame};
use super::fake::Fake;
use super::measured::watching;

/// Nothing is sent between the answer to `initialize` and `initialized`.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_is_sent_before_initialized() {
    let mut client = Client::silent(Timing::default());
    client
        .initialize(json!({"processId": null, "capabilities": watching()}))
        .await;
    client.open(URI, "G76").await;
    assert_eq!(
        client.text(URI).await,
        "G76",
        "answers are no unasked messages"
    );
    client
        .send(&json!({"jsonrpc": "2.0", "id": "shutdown", "method": "shutdown"}))
        .await;
    client.claim("an answer", |it| it["id"] == "shutdown").await;
    client.notify("exit", Value::Null).await;
    assert_eq!(
        client.ended().await,
        Ended::Exit {
            after_shutdown: true
        }
    );
}

/// After `shutdown` only `exit` counts.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn requests_after_shutdown_are_refused() {
    let mut client = Client::start(json!({})).await;
    client.ask("shutdown", Value::Null).await;
    assert_eq!(
        client.refused("textDocument/hover", at(URI, 0, 0)).await,
        -32600
    );
    client.notify("exit", Value::Null).await;
    assert_eq!(
        client.ended().await,
        Ended::Exit {
            after_shutdown: true
        }
    );
}

/// The client takes nothing any more, but keeps its other end open.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_output_that_is_closed_ends_the_session() {
    let (mut ours, input) = tokio::io::duplex(1 << 12);
    let (output, gone) = tokio::io::duplex(1 << 12);
    drop(gone);
    let params = json!({"processId": null, "capabilities": {}});
    let message = json!({"jsonrpc": "2.0", "id": 1, "method": "initialize", "params": params});
    ours.write_all(&frame(&message.to_string())).await.unwrap();
    let session = serve(input, output, Fake::default(), Timing::default());
    let ended = tokio::time::timeout(Duration::from_secs(30), session).await;
    assert_eq!(ended.expect("an end"), Ended::OutputClosed);
}

/// The process that the client named is gone, but the streams are held open by someone.
#[cfg(target_os = "linux")]
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_parent_that_is_gone_ends_the_session() {
    let mut parent = std::process::Command::new("sleep")
        .arg("600")
        .spawn()
        .expect("sleep");
    let timing = Timing {
        parent_look: Duration::from_millis(5),
        ..Timing::default()
    };
    let mut client = Client::silent(timing);
    client
        .initialize(json!({"processId": parent.id(), "capabilities": {}}))
        .await;
    client.notify("initialized", json!({})).await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    parent.kill().expect("our own child"); // not waited for: it stays as a zombie
    assert_eq!(client.ended().await, Ended::ParentGone);
    parent.wait().expect("our own child");
}

/// A process id from another container names nothing here: that is no sign of an end.
#[cfg(target_os = "linux")]
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_parent_that_was_never_seen_ends_nothing() {
    let timing = Timing {
        parent_look: Duration::from_millis(1),
        ..Timing::default()
    };
    let mut client = Client::silent(timing);
    client
        .initialize(json!({"processId": u32::MAX, "capabilities": {}}))
        .await;
    client.notify("initialized", json!({})).await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    client.finish().await;
}
