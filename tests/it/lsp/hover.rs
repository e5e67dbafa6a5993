//! What stands under the mouse.

use serde_json::{Value, json};

use super::client::{Client, URI, at, range};

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_hover_names_its_word() {
    for (encoding, column) in [("utf-8", 8), ("utf-16", 6)] {
        let offered = json!({"general": {"positionEncodings": [encoding]}});
        let mut client = Client::start(offered).await;
        client.open(URI, "N1\r\n(🔩) G76 X1").await;
        client.marks(URI, 1).await;
        let hover = client.ask("textDocument/hover", at(URI, 1, column)).await;
        let contents = json!({"kind": "markdown", "value": "**G76** at byte 11"});
        assert_eq!(hover["contents"], contents, "{encoding}");
        assert_eq!(hover["range"], range((1, column - 1), (1, column + 2)));
        let nothing = client
            .ask("textDocument/hover", at(URI, 1, column + 4))
            .await;
        assert_eq!(nothing, Value::Null);
        client.finish().await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn plain_text_for_a_client_that_shows_no_markdown() {
    let capabilities = json!({"textDocument": {"hover": {"contentFormat": ["plaintext"]}}});
    let mut client = Client::start(capabilities).await;
    client.open(URI, " G76").await;
    client.marks(URI, 1).await;
    let hover = client.ask("textDocument/hover", at(URI, 0, 2)).await;
    assert_eq!(hover["contents"]["kind"], "plaintext");
    client.finish().await;
}

/// A hover right behind a change is about the changed text, whether or not it was analysed yet.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_hover_is_about_the_text_as_it_is() {
    let mut client = Client::start(json!({"textDocument": {"diagnostic": {}}})).await;
    client.open(URI, "").await;
    for count in 1..40_usize {
        client
            .change(URI, json!([{"text": format!("{}G76", " ".repeat(count))}]))
            .await;
        let hover = client
            .ask("textDocument/hover", at(URI, 0, count as u32))
            .await;
        assert_eq!(
            hover["contents"]["value"],
            format!("**G76** at byte {count}")
        );
    }
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_analysis_is_told_the_path_of_files_alone() {
    let mut client = Client::start(json!({"textDocument": {"diagnostic": {}}})).await;
    let cases = [
        ("file:///shop/O%201234.nc", "/shop/O 1234.nc"),
        ("untitled:Untitled-1", ""),
        ("vscode-vfs://host/shop/a.nc", ""),
    ];
    for (uri, path) in cases {
        client.open(uri, "G76").await;
        let hover = client.ask("textDocument/hover", at(uri, 0, 0)).await;
        if cfg!(not(windows)) {
            assert_eq!(hover["contents"]["value"], format!("{path}\nG76"));
        }
    }
    client.finish().await;
}

/// A picture only for clients that show it, and none that would be too large for a hover.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_picture_for_clients_that_show_pictures() {
    let marked = json!({"general": {"markdown": {"parser": "marked", "version": "1.1.0"}}});
    let tags = json!({"general": {"markdown": {"parser": "other", "allowedTags": ["p", "img"]}}});
    let other = json!({"general": {"markdown": {"parser": "other"}}});
    let mut plain = marked.clone();
    plain["textDocument"] = json!({"hover": {"contentFormat": ["plaintext"]}});
    for (capabilities, text, shown) in [
        (&marked, " G76", true),
        (&tags, " G76", true),
        (&other, " G76", false),
        (&plain, " G76", false),
        (&marked, " G76 HUGE", false),
    ] {
        let mut client = Client::start(capabilities.clone()).await;
        client.open(URI, text).await;
        client.marks(URI, 1).await;
        let hover = client.ask("textDocument/hover", at(URI, 0, 2)).await;
        let value = hover["contents"]["value"].as_str().unwrap();
        let picture = "\n\n![a drawing](data:image/svg+xml,%3Csvg/%3E)";
        assert!(value.starts_with("**G76** at byte 1"), "{value}");
        assert_eq!(value.ends_with(picture), shown, "{capabilities} {text}");
        assert_eq!(value.contains("data:"), shown, "{capabilities} {text}");
        client.finish().await;
    }
}

/// The real analysis draws the passes of the thread under the mouse.
#[test]
fn the_passes_are_drawn_in_the_form_of_the_thread() {
    use ropey::Rope;
    use server::lsp::{Analysis, Cancel, Input};
    let core = server::analysis::Core::default();
    let text =
        "G21\n(THREAD M30X2-6G)\nG97 S800 M3\nG0 X34. Z8.\nG92 X29. Z-36. F2.\nX27.546\nG0 X90.\n";
    let judged = core
        .analyse(Input {
            path: None,
            text: &Rope::from_str(text),
            previous: None,
            cancelled: &Cancel::default(),
        })
        .unwrap();
    let cycle = text.find("G92").unwrap();
    let picture = core.picture(&judged, cycle).unwrap();
    assert_eq!(picture.words, "passes of M30x2-6g");
    assert!(picture.svg.contains("<svg") && picture.svg.contains("M30x2-6g"));
    assert!(picture.svg.len() < 20_000, "{}", picture.svg.len());
    assert_eq!(core.picture(&judged, 0), None);
}
