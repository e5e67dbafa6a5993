//! Diagnostics that the client asks for: then none are sent unasked.

use std::sync::atomic::Ordering::SeqCst;

use serde_json::{Value, json};

use super::client::{Client, URI, until};

fn pulls() -> Value {
    json!({"textDocument": {"diagnostic": {}}})
}

fn of(uri: &str, known: Value) -> Value {
    json!({"textDocument": {"uri": uri}, "identifier": "flankwise", "previousResultId": known})
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_report_is_full_once_and_unchanged_after() {
    let mut client = Client::start(pulls()).await;
    client.open(URI, "G76 G84").await;
    let full = client
        .ask("textDocument/diagnostic", of(URI, Value::Null))
        .await;
    assert_eq!(
        (&full["kind"], &full["items"][1]["code"]),
        (&json!("full"), &json!("flagged-g84"))
    );
    let same = client
        .ask("textDocument/diagnostic", of(URI, full["resultId"].clone()))
        .await;
    assert_eq!(
        same,
        json!({"kind": "unchanged", "resultId": full["resultId"]})
    );

    client.change(URI, json!([{"text": "G76"}])).await;
    let next = client
        .ask("textDocument/diagnostic", of(URI, full["resultId"].clone()))
        .await;
    assert_eq!(next["items"].as_array().unwrap().len(), 1);
    assert_ne!(next["resultId"], full["resultId"]);

    client.close(URI).await;
    let none = client
        .ask("textDocument/diagnostic", of(URI, Value::Null))
        .await;
    assert_eq!(none, json!({"kind": "full", "items": []}));
    client.finish().await;
}

/// A report that a newer text has overtaken tells the client to ask again.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_overtaken_report_asks_for_another_try() {
    let mut client = Client::start(pulls()).await;
    client.open(URI, "HOLD").await;
    let id = client
        .request("textDocument/diagnostic", of(URI, Value::Null))
        .await;
    let control = client.control.clone();
    until("an analysis", || control.begun.load(SeqCst) == 1).await;
    client.change(URI, json!([{"text": "G76"}])).await;
    let error = client.answer(id).await.expect_err("overtaken");
    assert_eq!(
        (&error["code"], &error["data"]["retriggerRequest"]),
        (&json!(-32802), &json!(true))
    );
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_analysis_that_breaks_is_an_error() {
    let mut client = Client::start(pulls()).await;
    client.open(URI, "PANIC").await;
    assert_eq!(
        client
            .refused("textDocument/diagnostic", of(URI, Value::Null))
            .await,
        -32603
    );
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_new_configuration_asks_the_client_to_ask() {
    let capabilities = json!({"textDocument": {"diagnostic": {}},
                              "workspace": {"diagnostics": {"refreshSupport": true}}});
    let mut client = Client::start(capabilities).await;
    client.open(URI, "G76").await;
    let before = client
        .ask("textDocument/diagnostic", of(URI, Value::Null))
        .await;
    client
        .notify("workspace/didChangeConfiguration", json!({"settings": {}}))
        .await;
    let request = client.expect("workspace/diagnostic/refresh").await;
    client.reply(&request).await;
    let after = client
        .ask(
            "textDocument/diagnostic",
            of(URI, before["resultId"].clone()),
        )
        .await;
    let message = after["items"][0]["message"].as_str().unwrap();
    assert!(
        message.starts_with("flagged under configuration 1\n"),
        "{message}"
    );
    client.finish().await;
}
