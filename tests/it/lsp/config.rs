//! The configuration changes under open documents.

use serde_json::{Value, json};

use super::client::{Client, URI};

fn message(marks: &Value) -> &str {
    marks[0]["message"]
        .as_str()
        .unwrap()
        .lines()
        .next()
        .unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn configuration_files_are_watched_where_the_client_can() {
    let watching = json!({"workspace": {"didChangeWatchedFiles": {"dynamicRegistration": true}}});
    let mut client = Client::start(watching).await;
    let request = client.expect("client/registerCapability").await;
    let registrations = json!([{
        "id": "configuration-files",
        "method": "workspace/didChangeWatchedFiles",
        "registerOptions": {"watchers": [{"globPattern": "**/flankwise.toml"}]},
    }]);
    assert_eq!(request["params"]["registrations"], registrations);
    client.reply(&request).await;

    client.open(URI, "G76").await;
    client.open("untitled:1", "G84").await;
    assert_eq!(
        message(&client.marks(URI, 1).await),
        "flagged under configuration 0"
    );
    client.marks("untitled:1", 2).await;
    let change = json!({"uri": "file:///shop/flankwise.toml", "type": 2});
    client
        .notify(
            "workspace/didChangeWatchedFiles",
            json!({"changes": [change]}),
        )
        .await;
    for (uri, version) in [(URI, 1), ("untitled:1", 2)] {
        let marks = client.marks(uri, version).await;
        assert_eq!(message(&marks), "flagged under configuration 1");
    }
    // A save says nothing that watching does not say.
    client
        .notify(
            "textDocument/didSave",
            json!({"textDocument": {"uri": URI}}),
        )
        .await;
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_client_that_cannot_watch_is_served_at_each_save() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    client
        .notify(
            "textDocument/didSave",
            json!({"textDocument": {"uri": URI}}),
        )
        .await;
    assert_eq!(
        message(&client.marks(URI, 1).await),
        "flagged under configuration 1"
    );
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn changed_settings_are_a_changed_configuration() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    client
        .notify(
            "workspace/didChangeConfiguration",
            json!({"settings": null}),
        )
        .await;
    assert_eq!(
        message(&client.marks(URI, 1).await),
        "flagged under configuration 1"
    );
    client.finish().await;
}

/// Edits and configuration changes at the same time: the last word has the text that the client
/// holds and the configuration as it is.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn edits_and_configuration_changes_do_not_undo_each_other() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "G76").await;
    for count in 2..=60 {
        client
            .notify(
                "workspace/didChangeConfiguration",
                json!({"settings": null}),
            )
            .await;
        client
            .change(URI, json!([{"text": "G76 ".repeat(count)}]))
            .await;
    }
    loop {
        let mark = client.expect("textDocument/publishDiagnostics").await;
        let marks = &mark["params"]["diagnostics"];
        if marks.as_array().unwrap().len() == 60 && message(marks).ends_with(" 59") {
            break;
        }
    }
    assert_eq!(client.text(URI).await, "G76 ".repeat(60));
    client.ask("shutdown", Value::Null).await;
    client.notify("exit", Value::Null).await;
    client.end().await;
}
