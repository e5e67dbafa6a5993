//! Clients that are rough: huge lines, names that are no files, folders that are gone, a scan that
//! is in the way, versions that are none. The server answers what it can and ends when asked.

use std::fmt::Write as _;

use serde_json::{Value, json};
use server::lsp::Ended;
use tempfile::TempDir;

use super::client::{Client, at, range};

const STUD: &str = "%\nO4711 (STUD)\n(THREAD M30X2-6G)\nG21 G40 G99\nT0303\nG97 S1000 M3\n\
                    G0 X34. Z10.\nG76 P021055 Q80 R0.05\nG76 X27,546 Z-36. P1227 Q350 F2.\nM30\n";

fn folder(programs: usize) -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    for number in 0..programs {
        std::fs::write(folder.path().join(format!("O{number:04}")), STUD).expect("a file");
    }
    folder
}

fn uri(folder: &TempDir) -> String {
    format!("file://{}", folder.path().display())
}

async fn is_alive(client: &mut Client) {
    let uri = "untitled:alive";
    client.open(uri, STUD).await;
    let marks = client.marks(uri, client.version()).await;
    let codes: Vec<&Value> = marks
        .as_array()
        .unwrap()
        .iter()
        .map(|mark| &mark["code"])
        .collect();
    assert!(codes.contains(&&json!("code-damaged")), "{codes:?}");
    client.close(uri).await;
    assert_eq!(client.marks(uri, None).await, json!([]));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_line_of_ten_megabytes_is_read_and_edited() {
    let mut client = Client::house(None, json!({})).await;
    let comment = format!("({})", "SLEEVE ".repeat((10 << 20) / 7));
    client
        .open("untitled:long", &format!("{comment}\n{STUD}"))
        .await;
    let before = client.marks("untitled:long", client.version()).await;
    let middle = range((0, 5_000_000), (0, 5_000_001));
    client
        .change("untitled:long", json!([{"range": middle, "text": "Ø"}]))
        .await;
    assert_eq!(
        client.marks("untitled:long", client.version()).await,
        before
    );

    let mut words = String::new();
    for number in 0..100_000 {
        let _ = write!(words, "X{number}.");
    }
    client
        .change("untitled:long", json!([{"text": words}]))
        .await;
    client.marks("untitled:long", client.version()).await;
    let last = range((0, 9_999_999), (0, 9_999_999));
    client
        .change("untitled:long", json!([{"range": last, "text": "\n"}]))
        .await;
    client.marks("untitled:long", client.version()).await;
    is_alive(&mut client).await;
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn names_that_are_no_files_are_documents_all_the_same() {
    let mut client = Client::house(None, json!({})).await;
    for uri in [
        "untitled:Untitled-1",
        "vscode-vfs://host/shop/stud.nc",
        "git:/shop/stud.nc?%7B%22ref%22%3A%22HEAD%22%7D",
        "file://elsewhere/share/stud.nc",
        "file:///no/such/folder/%C3%98%20stud.nc",
        "inmemory://model/1",
    ] {
        client.open(uri, STUD).await;
        let marks = client.marks(uri, client.version()).await;
        assert!(!marks.as_array().unwrap().is_empty(), "{uri}");
        let hover = client.ask("textDocument/hover", at(uri, 8, 2)).await;
        assert!(
            hover["contents"]["value"].as_str().unwrap().contains("M30"),
            "{uri}"
        );
        client.close(uri).await;
        assert_eq!(client.marks(uri, None).await, json!([]), "{uri}");
    }
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_two_roots_one_may_go() {
    let (one, other) = (folder(2), folder(3));
    let mut client = Client::house(Some(&uri(&one)), json!({})).await;
    let added = json!({"added": [{"uri": uri(&other), "name": "other"}], "removed": []});
    client
        .notify(
            "workspace/didChangeWorkspaceFolders",
            json!({"event": added}),
        )
        .await;
    let all = client
        .ask("workspace/symbol", json!({"query": "M30"}))
        .await;
    assert_eq!(all.as_array().unwrap().len(), 5);
    // Deleted from the disk, and nobody says so.
    drop(one);
    let left = client
        .ask("workspace/symbol", json!({"query": "M30"}))
        .await;
    assert_eq!(left.as_array().unwrap().len(), 3);
    is_alive(&mut client).await;
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_scan_does_not_delay_a_keystroke() {
    let shop = folder(3000);
    let mut client = Client::house(Some(&uri(&shop)), json!({})).await;
    let scan = client
        .request("workspace/symbol", json!({"query": "M30"}))
        .await;
    client.open("untitled:stud", STUD).await;
    client.marks("untitled:stud", client.version()).await;
    for _ in 0..5 {
        let place = range((4, 0), (4, 0));
        client
            .change("untitled:stud", json!([{"range": place, "text": "N"}]))
            .await;
        client.marks("untitled:stud", client.version()).await;
    }
    assert!(
        !client.holds_answer(scan),
        "the scan was over before six judgements"
    );
    client.notify("$/cancelRequest", json!({"id": scan})).await;
    client.answer(scan).await.expect_err("cancelled");
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn shutdown_in_the_middle_of_a_scan() {
    let shop = folder(3000);
    let mut client = Client::house(Some(&uri(&shop)), json!({})).await;
    let scan = client
        .request("workspace/symbol", json!({"query": ""}))
        .await;
    client.ask("shutdown", Value::Null).await;
    assert!(
        !client.holds_answer(scan),
        "the scan was over before the shutdown"
    );
    client.notify("exit", Value::Null).await;
    let (ended, _) = client.end().await;
    assert_eq!(
        ended,
        Ended::Exit {
            after_shutdown: true
        }
    );
}

/// A change without a usable version cannot be placed; a full text puts all right again.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn versions_that_are_none_cost_no_more_than_their_message() {
    let mut client = Client::house(None, json!({})).await;
    let uri = "untitled:stud";
    client.open(uri, STUD).await;
    client.marks(uri, client.version()).await;
    for version in [
        json!("two"),
        json!(1.5),
        json!(i64::MAX),
        json!({}),
        Value::Null,
    ] {
        let document = json!({"uri": uri, "version": version});
        let params = json!({"textDocument": document, "contentChanges": [{"text": ""}]});
        client.notify("textDocument/didChange", params).await;
    }
    client.change(uri, json!([{"text": "%\n"}])).await;
    assert_eq!(client.marks(uri, client.version()).await, json!([]));
    let document = json!({"uri": uri, "version": -7});
    let params = json!({"textDocument": document, "contentChanges": [{"text": STUD}]});
    client.notify("textDocument/didChange", params).await;
    let marks = client.marks(uri, -7).await;
    assert!(!marks.as_array().unwrap().is_empty());
    is_alive(&mut client).await;
    client.finish().await;
}
