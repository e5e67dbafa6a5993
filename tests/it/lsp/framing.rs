//! Messages on the wire, whole and damaged.

use proptest::prelude::*;
use serde_json::{Value, json};
use server::lsp::{Ended, Timing};

use super::client::{Client, at, frame};

const PARSE_ERROR: i64 = -32700;
const INVALID_REQUEST: i64 = -32600;

async fn is_alive(client: &mut Client) {
    assert!(
        client
            .ask("textDocument/hover", at("file:///none.nc", 0, 0))
            .await
            .is_null()
    );
}

async fn refusal(client: &mut Client) -> (i64, Value) {
    let mut message = client
        .claim("a refusal", |it| it.get("error").is_some())
        .await;
    (
        message["error"]["code"].as_i64().expect("a code"),
        message["id"].take(),
    )
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn malformed_messages_are_answered_and_survived() {
    let mut client = Client::start(json!({})).await;
    let deep = format!("{}{}", "[".repeat(200), "]".repeat(200));
    let deep =
        format!(r#"{{"jsonrpc":"2.0","id":3,"method":"textDocument/hover","params":{deep}}}"#);
    let cases: [(&[u8], i64, Value); 11] = [
        (br#"{"jsonrpc":"2.0","method":"#, PARSE_ERROR, Value::Null),
        (b"not JSON", PARSE_ERROR, Value::Null),
        (
            b"{\"jsonrpc\":\"2.0\",\"method\":\"\xff\"}",
            PARSE_ERROR,
            Value::Null,
        ),
        (deep.as_bytes(), PARSE_ERROR, Value::Null),
        (
            br#"{"jsonrpc":"2.0","id":3,"method":"a","params":1e999}"#,
            PARSE_ERROR,
            Value::Null,
        ),
        (
            br#"{"jsonrpc":"2.0","id":3,"method":"a","params":"\ud800"}"#,
            PARSE_ERROR,
            Value::Null,
        ),
        (b"[]", INVALID_REQUEST, Value::Null),
        (b"42", INVALID_REQUEST, Value::Null),
        (
            br#"{"jsonrpc":"1.0","id":"x","method":"a"}"#,
            INVALID_REQUEST,
            json!("x"),
        ),
        (
            br#"{"jsonrpc":"2.0","id":1.5,"method":"a"}"#,
            INVALID_REQUEST,
            Value::Null,
        ),
        (br#"{"jsonrpc":"2.0","id":8}"#, INVALID_REQUEST, json!(8)),
    ];
    for (body, code, id) in cases {
        let header = format!("Content-Length: {}\r\n\r\n", body.len());
        client.send_bytes(&[header.as_bytes(), body].concat()).await;
        assert_eq!(
            refusal(&mut client).await,
            (code, id),
            "{}",
            String::from_utf8_lossy(body)
        );
        is_alive(&mut client).await;
    }
    client.finish().await;
}

/// Answering it would be answering an answer.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_malformed_answer_is_dropped() {
    let mut client = Client::start(json!({})).await;
    client
        .send(&json!({"jsonrpc": "2.0", "id": 0, "error": {"code": "?", "message": 5}}))
        .await;
    client
        .send(&json!({"jsonrpc": "2.0", "id": {}, "result": null}))
        .await;
    client
        .send(&json!({"jsonrpc": "2.0", "id": 77, "result": "to a request never made"}))
        .await;
    is_alive(&mut client).await;
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn odd_headers_are_read() {
    let mut client = Client::start(json!({})).await;
    let body = r#"{"jsonrpc":"2.0","id":"odd","method":"textDocument/hover","params":
        {"textDocument":{"uri":"file:///none.nc"},"position":{"line":0,"character":0}}}"#;
    let length = body.len();
    for header in [
        format!("content-length: {length}\r\n\r\n"),
        format!("CONTENT-LENGTH:{length}\r\n\r\n"),
        format!("Content-Length : {length} \r\n\r\n"),
        format!("Content-Length: {length}\n\n"),
        format!(
            "Content-Type: application/vscode-jsonrpc; charset=utf8\r\nContent-Length: {length}\r\n\r\n"
        ),
        format!("Content-Length: {length}\r\nContent-Type: text/plain; charset=latin-1\r\n\r\n"),
        format!("\r\n\r\nContent-Length: 0\r\n\r\nContent-Length: {length}\r\n\r\n"),
        format!("a stray line\r\nX-Other: 1\r\nContent-Length: {length}\r\n\r\n"),
        format!("Content-Length: -1\r\n\r\nContent-Length: {length}\r\n\r\n"),
    ] {
        client
            .send_bytes(&[header.as_bytes(), body.as_bytes()].concat())
            .await;
        let answer = client.claim("an answer", |it| it["id"] == "odd").await;
        assert!(answer["result"].is_null(), "{header:?}");
    }
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_wrong_length_costs_a_message_and_not_the_session() {
    let mut client = Client::start(json!({})).await;
    let body =
        json!({"jsonrpc": "2.0", "id": 1, "method": "nothing", "params": {"a": 1}}).to_string();
    for wrong in [body.len() - 7, 1] {
        let short = format!("Content-Length: {wrong}\r\n\r\n{body}");
        client.send_bytes(short.as_bytes()).await;
        assert_eq!(refusal(&mut client).await.1, Value::Null);
        is_alive(&mut client).await;
    }
    let long = format!("Content-Length: {}\r\n\r\n{body}", body.len() + 30);
    client.send_bytes(long.as_bytes()).await;
    client.send_bytes(&frame(&body)).await;
    assert_eq!(refusal(&mut client).await, (PARSE_ERROR, Value::Null));
    is_alive(&mut client).await;
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_message_may_come_in_pieces() {
    let mut client = Client::start(json!({})).await;
    let hover = json!({"jsonrpc": "2.0", "id": "drop by drop", "method": "textDocument/hover",
                       "params": at("file:///none.nc", 0, 0)});
    for byte in frame(&hover.to_string()) {
        client.send_bytes(&[byte]).await;
        tokio::task::yield_now().await;
    }
    client
        .claim("an answer", |it| it["id"] == "drop by drop")
        .await;
    client.finish().await;
}

/// Notifications that the library cannot decode, and methods that nobody knows, change nothing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn unknown_and_undecodable_messages_are_survived() {
    let mut client = Client::start(json!({})).await;
    client
        .notify("textDocument/didOpen", json!({"wrong": true}))
        .await;
    client.notify("$/setTrace", json!({"value": "off"})).await;
    client.notify("flankwise/nothing", json!(null)).await;
    assert_eq!(
        client.refused("textDocument/hover", json!([])).await,
        -32602
    );
    let unoffered = json!({"textDocument": {"uri": "file:///none.nc"}});
    assert_eq!(
        client
            .refused("textDocument/documentColor", unoffered)
            .await,
        -32601
    );
    assert_eq!(client.refused("flankwise/nothing", json!({})).await, -32601);
    client.finish().await;
}

fn session(bytes: Vec<u8>) -> Ended {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let mut client = Client::silent(Timing::default());
        client.send_bytes(&bytes).await;
        client.send_bytes(b"\r\n").await;
        let params = json!({"processId": null, "capabilities": {}});
        let message =
            json!({"jsonrpc": "2.0", "id": "alive", "method": "initialize", "params": params});
        client.send(&message).await;
        client.claim("an answer", |it| it["id"] == "alive").await;
        client.hang_up();
        client.end().await.0
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// No bytes before a good message keep it from being answered.
    #[test]
    fn noise_is_read_past(noise in prop::collection::vec(any::<u8>(), 0..300)) {
        prop_assert_eq!(session(noise), Ended::InputClosed);
    }

    /// Nor does a good frame around a spoilt message.
    #[test]
    fn spoilt_messages_are_survived(spoils in prop::collection::vec((any::<u16>(), any::<u8>()), 1..4)) {
        let params = at("file:///a.nc", 1, 2);
        let message = json!({"jsonrpc": "2.0", "id": 5, "method": "textDocument/hover", "params": params});
        let mut body = message.to_string().into_bytes();
        for (at, byte) in spoils {
            let at = usize::from(at) % body.len();
            body[at] = byte;
        }
        let header = format!("Content-Length: {}\r\n\r\n", body.len());
        prop_assert_eq!(session([header.as_bytes(), &body].concat()), Ended::InputClosed);
    }
}
