//! Open documents under edits: never anything but what the client holds.

use proptest::prelude::*;
use serde_json::json;
use server::lsp::documents::{Documents, path_of};
use server::lsp::edit::apply;
use server::lsp::position::Encoding;
use tower_lsp::ls_types::{Position, Range, TextDocumentContentChangeEvent, TextDocumentItem, Uri};

use super::client::{Client, URI, range};
use super::plain::Plain;

pub(super) const ENCODINGS: [Encoding; 3] = [Encoding::Utf8, Encoding::Utf16, Encoding::Utf32];

/// Texts of all three line ends, alone and mixed, with characters of one to four bytes.
pub(super) fn text() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        4 => prop::sample::select(vec!["G76 ", "X20.5", "(", ")", "N10", " "]),
        3 => prop::sample::select(vec!["\n", "\r\n", "\r", "\n\r"]),
        2 => prop::sample::select(vec!["é", "Ø", "螺", "𝔤", "🔩", "e\u{301}", "\u{2028}"]),
    ];
    prop::collection::vec(piece, 0..24).prop_map(|pieces| pieces.concat())
}

/// A change somewhere, often at or past the end of a line, sometimes backwards, sometimes in full.
fn change() -> impl Strategy<Value = TextDocumentContentChangeEvent> {
    let place = (0..9_u32, prop_oneof![9 => 0..9_u32, 1 => Just(u32::MAX)]);
    let place = place.prop_map(|(line, column)| Position::new(line, column));
    let range = (place.clone(), place).prop_map(|(start, end)| Range::new(start, end));
    (prop::option::weighted(0.97, range), text()).prop_map(event)
}

fn event((range, text): (Option<Range>, String)) -> TextDocumentContentChangeEvent {
    TextDocumentContentChangeEvent {
        range,
        range_length: None,
        text,
    }
}

fn uri(text: &str) -> Uri {
    text.parse().expect("a URI")
}

fn item(version: i32, text: &str) -> TextDocumentItem {
    TextDocumentItem::new(uri(URI), "gcode".to_owned(), version, text.to_owned())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Every state on the way, and what each notification says has changed.
    #[test]
    fn edits_agree_with_the_reference(
        start in text(),
        batches in prop::collection::vec(prop::collection::vec(change(), 0..4), 1..12),
    ) {
        for encoding in ENCODINGS {
            let documents = Documents::<()>::default();
            documents.open(item(1, &start));
            let mut plain = Plain::new(&start);
            for (version, batch) in (2..).zip(&batches) {
                let change = documents.change(&uri(URI), version, batch, encoding);
                for change in batch {
                    plain.apply(change, encoding);
                }
                let snapshot = change.expect("it is open");
                prop_assert_eq!(snapshot.text.to_string(), plain.text());
                prop_assert_eq!(snapshot.version, version);
            }
        }
    }

    /// The stretch that a row of changes reports is all that differs.
    #[test]
    fn changes_add_up(start in text(), changes in prop::collection::vec(change(), 1..8)) {
        for encoding in ENCODINGS {
            let mut text = start.as_str().into();
            let changed = changes.iter().map(|change| apply(&mut text, change, encoding));
            let changed = changed.reduce(|sum, later| sum.then(&later)).expect("at least one");
            let text = text.to_string();
            prop_assert_eq!(changed.old.start, changed.new.start);
            let rebuilt =
                [&start[..changed.old.start], &text[changed.new], &start[changed.old.end..]];
            prop_assert_eq!(rebuilt.concat(), text);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4))]

    /// A long burst. Long lines and a growing text reach across the inner borders of a rope.
    #[test]
    fn two_thousand_edits_agree_with_the_reference(
        seeds in prop::collection::vec((any::<[u16; 4]>(), text()), 2000),
        encoding in prop::sample::select(ENCODINGS.to_vec()),
    ) {
        let start = "N10 G76 X18.16 Z-30. (é🔩)\r\n".repeat(200);
        let documents = Documents::<()>::default();
        documents.open(item(0, &start));
        let mut plain = Plain::new(&start);
        for (version, ([line, column, lines, columns], text)) in (1..).zip(seeds) {
            let line = u32::from(line) % plain.lines().len() as u32;
            let start = Position::new(line, u32::from(column) % 40);
            let end = Position::new(line + u32::from(lines) % 3, u32::from(columns) % 40);
            let change = event((Some(Range::new(start, end)), text));
            plain.apply(&change, encoding);
            documents.change(&uri(URI), version, &[change], encoding);
        }
        let snapshot = documents.current(&uri(URI)).expect("it is open");
        prop_assert_eq!(snapshot.text.to_string(), plain.text());
    }
}

#[test]
fn a_change_of_an_unknown_document_is_ignored() {
    let documents = Documents::<()>::default();
    let change = event((None, "G76".to_owned()));
    assert!(
        documents
            .change(&uri(URI), 1, &[change], Encoding::Utf8)
            .is_none()
    );
    assert!(documents.current(&uri(URI)).is_none());
}

/// The text must stay what the client holds, whatever it thinks of the numbers.
#[test]
fn versions_that_do_not_rise_are_applied() {
    let documents = Documents::<()>::default();
    let first = documents.open(item(7, "A"));
    let insert = |text: &str| event((Some(Range::default()), text.to_owned()));
    for (version, text) in [(7, "BA"), (3, "CBA"), (-1, "DCBA"), (8, "EDCBA")] {
        let change = documents.change(&uri(URI), version, &[insert(&text[..1])], Encoding::Utf8);
        let snapshot = change.expect("it is open");
        assert_eq!(
            (snapshot.text.to_string().as_str(), snapshot.version),
            (text, version)
        );
        assert!(documents.is_current(&snapshot) && !documents.is_current(&first));
    }
}

#[test]
fn opening_again_replaces_and_closing_forgets() {
    let documents = Documents::<()>::default();
    let first = documents.open(item(1, "A"));
    let second = documents.open(item(1, "B"));
    assert!(!documents.is_current(&first) && documents.is_current(&second));
    assert!(documents.close(&uri(URI)));
    assert!(!documents.is_current(&second) && !documents.close(&uri(URI)));
}

#[test]
fn renewing_keeps_text_and_version() {
    let documents = Documents::<()>::default();
    let before = documents.open(item(4, "G76"));
    let renewed = documents.renew();
    assert_eq!((renewed.len(), renewed[0].version), (1, 4));
    assert_eq!(renewed[0].text, before.text);
    assert!(documents.is_current(&renewed[0]) && !documents.is_current(&before));
}

/// From another thread, as a changed configuration does it.
#[test]
fn renewing_meanwhile_loses_no_edit() {
    let documents = Documents::<()>::default();
    documents.open(item(0, ""));
    std::thread::scope(|scope| {
        let edits = scope.spawn(|| {
            for version in 1..=2000 {
                let insert = event((Some(Range::default()), "X".to_owned()));
                documents.change(&uri(URI), version, &[insert], Encoding::Utf8);
            }
        });
        while !edits.is_finished() {
            documents.renew();
        }
    });
    let snapshot = documents.current(&uri(URI)).expect("it is open");
    assert_eq!((snapshot.text.len_bytes(), snapshot.version), (2000, 2000));
}

#[test]
fn only_files_of_this_machine_have_a_path() {
    let path = |text| path_of(&uri(text)).map(|path| path.display().to_string());
    if cfg!(not(windows)) {
        assert_eq!(
            path("file:///shop/O%201234%20%C3%98.nc"),
            Some("/shop/O 1234 Ø.nc".to_owned())
        );
        assert_eq!(
            path("file://localhost/shop/a.nc"),
            Some("/shop/a.nc".to_owned())
        );
        assert_eq!(path("file://server/shop/a.nc"), None);
    }
    assert_eq!(path("untitled:Untitled-1"), None);
    assert_eq!(path("file:"), None);
    assert_eq!(path("vscode-vfs://host/shop/a.nc"), None);
    assert_eq!(path("git:/shop/a.nc?HEAD"), None);
}

/// The same over the wire, in the two encodings that clients use.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn edits_over_the_wire() {
    for (offered, after_bolt) in [("utf-16", 4), ("utf-8", 7)] {
        let offered = json!({"general": {"positionEncodings": [offered]}});
        let mut client = Client::start(offered).await;
        client.open(URI, "(Ø🔩)\rX1\r\nY2\n").await;
        client.marks(URI, client.version()).await;

        let behind_bolt = range((0, after_bolt), (0, after_bolt));
        client
            .change(URI, json!([{"range": behind_bolt, "text": "µ"}]))
            .await;
        client.marks(URI, client.version()).await;
        assert_eq!(client.text(URI).await, "(Ø🔩µ)\rX1\r\nY2\n");

        let changes = json!([
            {"range": range((1, 2), (2, 0)), "text": ""},
            {"range": range((0, 99), (0, 99)), "text": " G76"},
            {"range": range((99, 0), (99, 0)), "text": "M30"},
        ]);
        client.change(URI, changes).await;
        assert_eq!(
            client
                .marks(URI, client.version())
                .await
                .as_array()
                .unwrap()
                .len(),
            1
        );
        assert_eq!(client.text(URI).await, "(Ø🔩µ) G76\rX1Y2\nM30");

        client.change(URI, json!([{"text": "%"}])).await;
        assert_eq!(client.marks(URI, client.version()).await, json!([]));
        assert_eq!(client.text(URI).await, "%");
        client.finish().await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn changes_of_unknown_documents_do_no_harm_over_the_wire() {
    let mut client = Client::start(json!({})).await;
    client.change(URI, json!([{"text": "G76"}])).await;
    client.close(URI).await;
    assert!(
        client
            .ask("textDocument/hover", super::client::at(URI, 0, 0))
            .await
            .is_null()
    );
    client.finish().await;
}
