//! Diagnostics that are sent unasked.

use std::sync::atomic::Ordering::SeqCst;

use serde_json::json;
use server::lsp::Timing;

use super::client::{Client, URI, range, until};

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn opening_shows_what_was_found() {
    let mut client = Client::start(json!({"textDocument": {"publishDiagnostics": {
        "relatedInformation": true, "codeDescriptionSupport": true, "dataSupport": true,
        "tagSupport": {"valueSet": [1, 2]},
    }}}))
    .await;
    client.open(URI, "%\n(🔩) G76 G84 G33").await;
    let marks = client.marks(URI, 1).await;
    let expected = json!({
        "range": range((1, 5), (1, 8)),
        "severity": 2,
        "code": "flagged-g76",
        "codeDescription": {"href": "https://example.org/rules"},
        "source": "flankwise",
        "message": "flagged under configuration 0\nthe sum behind it",
        "relatedInformation": [{
            "location": {"uri": URI, "range": range((0, 0), (0, 1))},
            "message": "the program starts here",
        }],
        "data": {"at": 9},
    });
    assert_eq!(marks[0], expected);
    assert_eq!(
        (&marks[1]["code"], &marks[1]["severity"]),
        (&json!("flagged-g84"), &json!(1))
    );
    assert_eq!(
        (&marks[2]["severity"], &marks[2]["tags"]),
        (&json!(3), &json!([1]))
    );
    assert_eq!(marks.as_array().unwrap().len(), 3);
    client.finish().await;
}

/// A client that shows no related places still gets to know them, and is sent no field that it
/// did not ask for.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_message_stands_alone() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "%\nG33").await;
    let expected = json!([{
        "range": range((1, 0), (1, 3)),
        "severity": 3,
        "code": "flagged-g33",
        "source": "flankwise",
        "message":
            "flagged under configuration 0\nthe sum behind it\nline 1: the program starts here",
    }]);
    assert_eq!(client.marks(URI, 1).await, expected);
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn columns_count_what_was_agreed() {
    for (encoding, column) in [("utf-8", 8), ("utf-16", 5), ("utf-32", 4)] {
        let offered = json!({"general": {"positionEncodings": [encoding]}});
        let mut client = Client::start(offered).await;
        client.open(URI, "Ø(🔩G76)").await;
        let marks = client.marks(URI, 1).await;
        let columns = (column - 1, column + 2);
        assert_eq!(
            marks[0]["range"],
            range((0, columns.0), (0, columns.1)),
            "{encoding}"
        );
        client.finish().await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_change_shows_the_new_state_and_builds_on_the_old() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "G76 X1\nX2\n").await;
    assert_eq!(client.marks(URI, 1).await.as_array().unwrap().len(), 1);
    client
        .change(
            URI,
            json!([
                {"range": range((1, 0), (1, 2)), "text": "G76"},
                {"range": range((0, 0), (0, 0)), "text": "N1 "},
            ]),
        )
        .await;
    let marks = client.marks(URI, 2).await;
    assert_eq!(marks[0]["range"], range((0, 3), (0, 6)));
    assert_eq!(marks[1]["range"], range((1, 0), (1, 3)));
    assert_eq!(client.control.continued.load(SeqCst), 1);
    client.finish().await;
}

/// Changes in a burst are looked at when it is over; what is shown is of the last version, and no
/// older list ever follows a newer one.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_burst_ends_with_the_last_version() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "").await;
    for count in 1..=200 {
        client
            .change(URI, json!([{"text": "G76 ".repeat(count)}]))
            .await;
    }
    let last = client.version();
    let mut newest = 0;
    while newest < last {
        let mut mark = client.expect("textDocument/publishDiagnostics").await;
        let version = mark["params"]["version"].as_i64().unwrap() as i32;
        assert!(version > newest, "{version} after {newest}");
        newest = version;
        let marks = mark["params"]["diagnostics"].take();
        assert_eq!(marks.as_array().unwrap().len(), newest as usize - 1);
    }
    client.finish().await;
}

/// Undo and redo by numbers that do not rise: the marks still follow the text.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn versions_that_do_not_rise_are_shown_as_they_are() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    for text in ["G76 G76", "G76 G76 G76"] {
        let params = json!({"textDocument": {"uri": URI, "version": 0},
                            "contentChanges": [{"text": text}]});
        client.notify("textDocument/didChange", params).await;
        let marks = client.marks(URI, 0).await;
        assert_eq!(marks.as_array().unwrap().len(), text.split(' ').count());
    }
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn closing_clears_and_stops() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "G76").await;
    client.marks(URI, 1).await;
    client.close(URI).await;
    assert_eq!(client.marks(URI, None).await, json!([]));

    client.open(URI, "G76 HOLD").await;
    let control = client.control.clone();
    until("an analysis", || control.begun.load(SeqCst) == 2).await;
    client.close(URI).await;
    assert_eq!(client.marks(URI, None).await, json!([]));
    until("its end", || control.cancelled.load(SeqCst) == 1).await;
    client.finish().await;
}

/// What was found is looked at once more before it is sent: a newer text may have come meanwhile.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_no_longer_holds_is_not_sent() {
    let mut client = Client::start(json!({})).await;
    client.open(URI, "SLOW G76").await;
    let control = client.control.clone();
    until("slow diagnostics", || control.held.load(SeqCst) == 1).await;
    client.change(URI, json!([{"text": "G76 G76"}])).await;
    assert_eq!(client.marks(URI, 2).await.as_array().unwrap().len(), 2);
    control.release();
    until("their end", || control.freed.load(SeqCst) == 1).await;
    for _ in 0..20 {
        assert_eq!(client.text(URI).await, "G76 G76");
    }
    client.finish().await; // with nothing unclaimed
}

/// Closing and opening again and again, with everything that this wants to send held up until the
/// client is ready: then nothing but the last state is worth a message.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn reopening_ends_with_marks() {
    let mut client = Client::silent(Timing::default());
    client
        .initialize(json!({"processId": null, "capabilities": {}}))
        .await;
    for _ in 0..50 {
        client.open(URI, "G76").await;
        client.close(URI).await;
    }
    client.open(URI, "G76 G76").await;
    assert_eq!(client.text(URI).await, "G76 G76");
    client.notify("initialized", json!({})).await;
    let marks = client.marks(URI, client.version()).await;
    assert_eq!(marks.as_array().unwrap().len(), 2);
    for _ in 0..20 {
        client.text(URI).await;
    }
    client.finish().await; // with nothing unclaimed
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn documents_do_not_disturb_each_other() {
    let mut client = Client::start(json!({})).await;
    client.open("file:///a.nc", "HOLD G76").await;
    client.open("untitled:Untitled-1", "G76 G76").await;
    client.open("file:///b.nc", "").await;
    assert_eq!(
        client
            .marks("untitled:Untitled-1", 2)
            .await
            .as_array()
            .unwrap()
            .len(),
        2
    );
    assert_eq!(client.marks("file:///b.nc", 3).await, json!([]));
    client.control.release();
    assert_eq!(
        client
            .marks("file:///a.nc", 1)
            .await
            .as_array()
            .unwrap()
            .len(),
        1
    );
    client.finish().await;
}

/// A name with blanks and brackets is no URI; the document is judged all the same.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn names_that_are_no_uri_are_encoded() {
    let mut client = Client::start(json!({})).await;
    client.open("file:///shop/O 12 [ä].nc", "G76").await;
    let encoded = "file:///shop/O%2012%20%5B%C3%A4%5D.nc";
    assert_eq!(client.marks(encoded, 1).await.as_array().unwrap().len(), 1);
    assert_eq!(client.text("file:///shop/O 12 [ä].nc").await, "G76");
    client.close("file:///shop/O 12 [ä].nc").await;
    client.marks(encoded, None).await;
    client.finish().await;
}
