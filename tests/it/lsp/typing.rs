//! Typing over the wire gives the marks that opening the same text gives.

use serde_json::{Value, json};
use server::lsp::edit::apply;
use server::lsp::position::Encoding;
use tower_lsp::ls_types::TextDocumentContentChangeEvent;

use super::client::{Client, range};

const SHAFT: &str = "%\nO4711 (STUD Ø30 🔩)\n(THREAD M30X2-6G)\nG21 G40 G99\nT0101\nG96 S180 M3\nG0 X32. Z2.\n\
                     G1 Z-36. F.2\nG0 X100. Z100.\nT0303\nG97 S1000 M3\nG0 X34. Z10.\n\
                     G76 P021055 Q80 R0.05\nG76 X27,546 Z-36. P1227 Q350 F2.\nG0 X100. Z100.\n\
                     T0505 (THREAD M24X3-6G)\nG97 S700\nG0 X28. Z9.\nG92 X23. Z-20. F3.\nX22.4\nX21.9\nX20.319\n\
                     G0 X100.\nM30\n%\n";

/// What an edit puts in.
const PUT: [&str; 16] = [
    "", "", "(", ")", "\n", "\r\n", "X30.", "S", "9", "G20\n", "T0404\n", "Ø🔩", "#1=5.\n",
    "O12\n", "M5\n", "F1.5",
];

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn typing_marks_as_opening_does() {
    let mut client = Client::house(None, json!({})).await;
    let mut chance = 7_u64;
    let mut below = |end: u32| {
        chance = chance
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (chance >> 33) as u32 % end
    };
    let mut marked = 0;
    for _ in 0..6 {
        let mut text = ropey::Rope::from_str(SHAFT);
        client.open("untitled:typed", SHAFT).await;
        client.marks("untitled:typed", client.version()).await;
        for _ in 0..20 {
            let mut changes = Vec::new();
            for _ in 0..=below(2) {
                let (line, column) = (below(28), below(30));
                let length = if below(4) == 0 { below(12) } else { 0 };
                let place = range((line, column), (line, column + length));
                changes.push(json!({"range": place, "text": PUT[below(16) as usize]}));
            }
            for change in &changes {
                let change: TextDocumentContentChangeEvent =
                    serde_json::from_value(change.clone()).expect("a change");
                apply(&mut text, &change, Encoding::Utf16);
            }
            client.change("untitled:typed", Value::from(changes)).await;
            let typed = client.marks("untitled:typed", client.version()).await;
            client.open("untitled:opened", &text.to_string()).await;
            let opened = client.marks("untitled:opened", client.version()).await;
            assert_eq!(typed, opened, "{text}");
            client.close("untitled:opened").await;
            client.marks("untitled:opened", None).await;
            marked += typed.as_array().expect("marks").len();
        }
        client.close("untitled:typed").await;
        client.marks("untitled:typed", None).await;
    }
    assert!(marked > 100, "{marked}");
    client.finish().await;
}
