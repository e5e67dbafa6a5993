//! What was measured on the server library and its own loop (0.20.0 and 0.23.0, eleven rows, with
//! drivers of our own): each row is a trap for a language server, and each has a test here that says
//! what ours does. They hold whatever the library does in later versions.

use std::sync::atomic::Ordering::SeqCst;
use std::time::Duration;

use serde_json::{Value, json};
use server::lsp::{Ended, Timing};

use super::client::{Client, URI, at, frame, range, until};

/// Row 1: state that is changed before the first wait is changed in the order of the messages.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_1_two_thousand_changes_take_effect_in_order() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "").await;
    let mut expected = String::new();
    for number in 0..2000 {
        let block = format!("N{number} X{}.\n", number % 7);
        let end = range((number, 0), (number, 0));
        client
            .change(URI, json!([{"range": end, "text": block}]))
            .await;
        expected.push_str(&block);
    }
    assert_eq!(client.text(URI).await, expected);
    let last = client.version();
    let is_mark = |it: &Value| it["method"] == "textDocument/publishDiagnostics";
    let mut newest = 0;
    while newest < last {
        let mark = client.claim("diagnostics", is_mark).await;
        let version = mark["params"]["version"].as_i64().unwrap() as i32;
        assert!(version > newest, "{version} after {newest}");
        newest = version;
    }
    client.finish().await;
}

/// Row 2: every handler is polled on one task; work that blocks must not stand in its way.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_2_blocked_work_does_not_block_the_others() {
    let mut client = Client::start(json!({})).await;
    client.open("file:///sticky.nc", "STICKY G76").await;
    client.open(URI, "G76").await;
    client.marks("file:///sticky.nc", 1).await;
    client.marks(URI, 2).await;
    let mut stuck = Vec::new();
    for _ in 0..32 {
        stuck.push(
            client
                .request("textDocument/hover", at("file:///sticky.nc", 0, 7))
                .await,
        );
    }
    let control = client.control.clone();
    until("hovers that hold", || control.held.load(SeqCst) == 32).await;

    assert_eq!(client.text(URI).await, "G76", "answered meanwhile");
    client.change(URI, json!([{"text": "G76 G76"}])).await;
    assert_eq!(
        client.marks(URI, 3).await.as_array().unwrap().len(),
        2,
        "and judged"
    );

    client.control.release();
    for id in stuck {
        client.answer(id).await.expect("a hover");
    }
    client.finish().await;
}

/// Row 3: a cancelled request is answered at once. Its work is shared with the diagnostics, so it
/// goes on until a newer text makes it void.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_3_cancelling_answers_at_once_and_newer_text_stops_the_work() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "HOLD").await;
    let hover = client.request("textDocument/hover", at(URI, 0, 0)).await;
    let control = client.control.clone();
    until("an analysis", || control.begun.load(SeqCst) == 1).await;
    client.notify("$/cancelRequest", json!({"id": hover})).await;
    assert_eq!(
        client.answer(hover).await.expect_err("cancelled")["code"],
        -32800
    );
    assert_eq!(control.cancelled.load(SeqCst), 0);

    let hover = client.request("textDocument/hover", at(URI, 0, 0)).await;
    client.change(URI, json!([{"text": "G76"}])).await;
    until("the end of the old analysis", || {
        control.cancelled.load(SeqCst) == 1
    })
    .await;
    let error = client
        .answer(hover)
        .await
        .expect_err("it asked about a text that is gone");
    assert_eq!(error["code"], -32801);
    assert_eq!(client.marks(URI, 2).await.as_array().unwrap().len(), 1);
    assert_eq!(
        control.begun.load(SeqCst),
        2,
        "one analysis for each text, however many asked"
    );
    client.finish().await;
}

/// Row 4: a panic costs the answer and nothing else. (In a handler itself: tested beside the guard.)
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_4_panics_are_answered_and_survived() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "PANIC").await;
    let marks = client.marks(URI, 1).await;
    assert_eq!(
        marks[0]["code"], "internal-error",
        "not the same as a clean program"
    );
    assert_eq!(
        client.refused("textDocument/hover", at(URI, 0, 0)).await,
        -32603
    );

    client.open("file:///touchy.nc", "TOUCHY").await;
    client.marks("file:///touchy.nc", 2).await;
    assert_eq!(
        client
            .refused("textDocument/hover", at("file:///touchy.nc", 0, 1))
            .await,
        -32603
    );

    client.change(URI, json!([{"text": "G76"}])).await;
    assert_eq!(client.marks(URI, 3).await[0]["code"], "flagged-g76");
    client.finish().await;
}

pub(super) fn watching() -> Value {
    json!({"workspace": {"didChangeWatchedFiles": {"dynamicRegistration": true}}})
}

/// Row 5: the client answers our request long after nobody waits for it any more.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_5_late_answers_are_survived() {
    let timing = Timing {
        client_answer: Duration::ZERO,
        ..Timing::default()
    };
    let mut client = Client::silent(timing);
    client
        .initialize(json!({"processId": null, "capabilities": watching()}))
        .await;
    client.notify("initialized", json!({})).await;
    let request = client.expect("client/registerCapability").await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    client.reply(&request).await;
    client.reply(&request).await;
    assert_eq!(client.text(URI).await, "G76");
    client.finish().await;
}

/// Row 6: `exit` ends the session although the input stays open.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_6_exit_ends_with_the_input_open() {
    Client::start(json!({})).await.finish().await;

    let mut rude = Client::start(json!({})).await;
    rude.notify("exit", Value::Null).await;
    assert_eq!(
        rude.ended().await,
        Ended::Exit {
            after_shutdown: false
        }
    );

    let mut early = Client::silent(Timing::default());
    early.notify("exit", Value::Null).await;
    assert_eq!(
        early.ended().await,
        Ended::Exit {
            after_shutdown: false
        }
    );
}

/// Row 6, with work that never ends: the session waits no longer than its grace.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_6_exit_ends_with_work_that_hangs() {
    let mut client = Client::silent(Timing {
        grace: Duration::from_millis(20),
        ..Timing::default()
    });
    client
        .initialize(json!({"processId": null, "capabilities": {}}))
        .await;
    client.notify("initialized", json!({})).await;
    client.open(URI, "STICKY").await;
    client.marks(URI, 1).await;
    client.request("textDocument/hover", at(URI, 0, 0)).await;
    let control = client.control.clone();
    until("a hover that holds", || control.held.load(SeqCst) == 1).await;
    client.hang_up();
    assert_eq!(client.ended().await, Ended::InputClosed);
}

/// Row 7: a client that goes without a word (closing its end, or in the middle of a message).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_7_the_end_of_the_input_ends_the_session() {
    for last_words in ["", "Content-Le", "Content-Length: 50\r\n\r\n{\"jsonrpc\""] {
        let mut client = Client::start(json!({})).await;
        client.send_bytes(last_words.as_bytes()).await;
        client.hang_up();
        assert_eq!(client.ended().await, Ended::InputClosed);
    }
}

/// Row 7, the other way round: requests before the end of the input are still answered.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_7_what_was_asked_before_the_end_is_answered() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    let id = client.request("textDocument/hover", at(URI, 0, 1)).await;
    client.hang_up();
    client.answer(id).await.expect("a hover");
    assert_eq!(client.ended().await, Ended::InputClosed);
}

/// Row 8: requests of ours that are never answered, and hundreds of messages behind them.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_8_nothing_waits_for_the_client() {
    let mut client = Client::start(watching()).await;
    client.open(URI, "G76").await;
    for _ in 0..300 {
        client
            .notify(
                "workspace/didChangeConfiguration",
                json!({"settings": null}),
            )
            .await;
    }
    let mut asked = Vec::new();
    for _ in 0..300 {
        asked.push(
            client
                .request(
                    "textDocument/codeAction",
                    json!({
                        "textDocument": {"uri": "file:///none.nc"}, "range": range((0, 0), (0, 0)),
                        "context": {"diagnostics": []},
                    }),
                )
                .await,
        );
    }
    for id in asked {
        assert_eq!(client.answer(id).await, Ok(Value::Null));
    }
    let control = client.control.clone();
    until("the configuration", || control.config.load(SeqCst) == 300).await;
    client.expect("client/registerCapability").await;
    client.hang_up();
    let (ended, left) = client.end().await;
    assert_eq!(ended, Ended::InputClosed);
    assert!(
        left.iter()
            .all(|it| it["method"] == "textDocument/publishDiagnostics"),
        "{left:?}"
    );
}

/// Row 8, from the other side: a client that writes and writes before it reads an answer.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_8_a_client_that_does_not_read_does_not_stop_the_server() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, &"N10 G76 X18.16\n".repeat(100)).await;
    let mut asked = Vec::new();
    for _ in 0..1000 {
        asked.push(client.request("textDocument/hover", at(URI, 0, 0)).await);
    }
    for id in asked {
        client.answer(id).await.expect("a hover");
    }
    client.marks(URI, 1).await;
    client.finish().await;
}

/// Row 9: one malformed message. (More of them: `framing`.)
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_9_a_malformed_message_is_survived() {
    let mut client = Client::start(json!({})).await;
    client
        .send_bytes(&frame(r#"{"jsonrpc":"2.0","method":"#))
        .await;
    let refusal = client
        .claim("a refusal", |it| it.get("error").is_some())
        .await;
    assert_eq!(
        (&refusal["id"], &refusal["error"]["code"]),
        (&Value::Null, &json!(-32700))
    );
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    client.finish().await;
}

/// Row 10: a header in lower case.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_10_header_names_have_no_case() {
    let mut client = Client::start(json!({})).await;
    let hover = json!({"jsonrpc": "2.0", "id": 1000, "method": "textDocument/hover",
                       "params": at(URI, 0, 0)});
    let message = frame(&hover.to_string());
    client.send_bytes(&message.to_ascii_lowercase()[..16]).await;
    client.send_bytes(&message[16..]).await;
    assert_eq!(client.answer(1000).await, Ok(Value::Null));
    client.finish().await;
}

/// Row 11: requests before `initialize` are refused, and do no harm.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn row_11_nothing_is_answered_before_initialize() {
    let mut client = Client::silent(Timing::default());
    let early = client.request("textDocument/hover", at(URI, 0, 0)).await;
    client.open(URI, "G76").await;
    assert_eq!(
        client.answer(early).await.expect_err("too early")["code"],
        -32002
    );
    client
        .initialize(json!({"processId": null, "capabilities": {}}))
        .await;
    client.notify("initialized", json!({})).await;
    assert_eq!(
        client
            .refused("initialize", json!({"processId": null, "capabilities": {}}))
            .await,
        -32600
    );
    assert_eq!(
        client.ask("textDocument/hover", at(URI, 0, 0)).await,
        Value::Null
    );
    client.finish().await;
}
