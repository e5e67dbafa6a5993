//! What an editor may ask about a program beyond its findings, with the analysis of the house.

use std::path::Path;

use serde_json::{Value, json};

use super::client::{Client, URI, at, range};

/// A sleeve with a thread in two blocks and one of four boxes, in two programs.
const SLEEVE: &str = "\
%
O2301 (SHAFT SLEEVE)
(THREAD M24X3-6G, NOSE 0.4)
N10 G21 G99
T0505 (THREAD TOOL)
G97 S500 M3
G0 X30. Z9.
G76 P010060 Q100 R.05
G76 X20.319 Z-30. P1840 Q500 F3.
G0 X150. Z100.
M98 P2302
M30
O2302 (PACKING NUT)
#101=36.
G0 X32. Z6.
G92 X34.5 Z-22. F2.
X35.2
X35.7
X[#101]
G0 Z100.
M99
%
";

async fn sleeve() -> Client {
    let capabilities = json!({"textDocument": {
        "diagnostic": {},
        "documentSymbol": {"hierarchicalDocumentSymbolSupport": true},
    }});
    let mut client = Client::house(None, capabilities).await;
    client.open(URI, SLEEVE).await;
    client
}

fn document() -> Value {
    json!({"textDocument": {"uri": URI}})
}

fn names(symbols: &Value) -> Vec<&str> {
    let list = symbols.as_array().unwrap();
    list.iter()
        .map(|one| one["name"].as_str().unwrap())
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_outline_holds_programs_tools_threads_and_passes() {
    let mut client = sleeve().await;
    let outline = client.ask("textDocument/documentSymbol", document()).await;
    assert_eq!(names(&outline), ["O2301", "O2302"]);
    let tools = &outline[0]["children"];
    assert_eq!(names(tools), ["T0505"]);
    assert_eq!(tools[0]["detail"], "THREAD TOOL");
    let cycle = &tools[0]["children"];
    assert_eq!(names(cycle), ["M24x3-6g"]);
    assert_eq!(cycle[0]["range"], range((7, 0), (8, 32)));
    assert_eq!(cycle[0]["children"], Value::Null);
    let boxes = &outline[1]["children"][0]["children"];
    assert!(
        names(boxes).starts_with(&["pass 1", "pass 2", "pass 3"]),
        "{boxes}"
    );
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn hints_give_depths_and_what_a_count_stands_for() {
    let mut client = sleeve().await;
    let asked = json!({"textDocument": {"uri": URI}, "range": range((0, 0), (22, 0))});
    let hints = client.ask("textDocument/inlayHint", asked).await;
    let texts: Vec<_> = hints
        .as_array()
        .unwrap()
        .iter()
        .map(|hint| {
            let line = hint["position"]["line"].as_u64().unwrap();
            (line, hint["label"].as_str().unwrap())
        })
        .collect();
    // Q100 is 100 least increments of a micrometre, P1840 the height, 3 × 0.61343.
    assert!(texts.contains(&(7, "= 0.1 mm")), "{texts:?}");
    assert!(texts.contains(&(8, "= 1.84 mm")), "{texts:?}");
    assert!(
        texts
            .iter()
            .any(|(line, text)| *line == 8 && text.starts_with("M24x3-6g, two-block, "))
    );
    // A box pass from 34.5 to 35.2 takes 0.35 on the radius.
    assert!(
        texts
            .iter()
            .any(|(line, text)| *line == 16 && text.ends_with("+0.350")),
        "{texts:?}"
    );
    let part = json!({"textDocument": {"uri": URI}, "range": range((7, 0), (7, 30))});
    let part = client.ask("textDocument/inlayHint", part).await;
    assert!(
        part.as_array()
            .unwrap()
            .iter()
            .all(|hint| hint["position"]["line"] == 7)
    );
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_lens_stands_above_each_thread() {
    let mut client = sleeve().await;
    let lenses = client.ask("textDocument/codeLens", document()).await;
    assert_eq!(lenses.as_array().unwrap().len(), 2);
    let title = lenses[0]["command"]["title"].as_str().unwrap();
    assert!(
        title.starts_with("M24x3-6g: two-block, ") && title.contains("heaviest pass"),
        "{title}"
    );
    let view = json!({
        "command": lenses[0]["command"]["command"], "arguments": lenses[0]["command"]["arguments"],
    });
    let view = client.ask("workspace/executeCommand", view).await;
    assert_eq!(view["title"], "M24x3-6g, lines 8 to 9");
    assert!(view["text"].as_str().unwrap().contains("rough"), "{view}");
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn names_are_found_where_they_are_set_and_used() {
    let mut client = sleeve().await;
    let call = client.ask("textDocument/definition", at(URI, 10, 6)).await;
    assert_eq!(call[0]["range"], range((12, 0), (12, 5)));
    let variable = client.ask("textDocument/definition", at(URI, 18, 4)).await;
    assert_eq!(variable[0]["range"], range((13, 0), (13, 4)));
    let mut asked = at(URI, 13, 1);
    asked["context"] = json!({"includeDeclaration": false});
    let uses = client.ask("textDocument/references", asked).await;
    assert_eq!(uses.as_array().unwrap().len(), 1);
    assert_eq!(
        uses[0]["range"]["start"],
        json!({"line": 18, "character": 2})
    );
    let halves = client
        .ask("textDocument/documentHighlight", at(URI, 8, 2))
        .await;
    assert_eq!(halves[0]["range"], range((7, 0), (7, 21)));
    assert_eq!(halves[1]["range"], range((8, 0), (8, 32)));
    let item = client
        .ask("textDocument/prepareCallHierarchy", at(URI, 10, 6))
        .await;
    assert_eq!(item[0]["name"], "O2302");
    let callers = client
        .ask("callHierarchy/incomingCalls", json!({"item": item[0]}))
        .await;
    assert_eq!(callers[0]["from"]["name"], "O2301");
    let called = client
        .ask(
            "callHierarchy/outgoingCalls",
            json!({"item": callers[0]["from"]}),
        )
        .await;
    assert_eq!(called[0]["to"]["name"], "O2302");
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_word_under_the_cursor_is_named_and_its_digits_decoded() {
    let mut client = sleeve().await;
    let first = client
        .ask("textDocument/signatureHelp", at(URI, 7, 9))
        .await;
    let help = &first["signatures"][0];
    assert_eq!(help["label"], "G76 P Q R");
    assert_eq!(first["activeParameter"], 0);
    let digits = help["parameters"][0]["documentation"].as_str().unwrap();
    assert!(
        digits.ends_with("P010060: 01 finishing passes, 00 = pull-out over 0.0 leads, 60 degrees"),
        "{digits}"
    );
    let second = client
        .ask("textDocument/signatureHelp", at(URI, 8, 22))
        .await;
    assert_eq!(second["signatures"][0]["label"], "G76 X Z R P Q F");
    assert_eq!(second["activeParameter"], 3);
    let elsewhere = client
        .ask("textDocument/signatureHelp", at(URI, 6, 4))
        .await;
    assert_eq!(elsewhere, Value::Null);
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn completion_knows_notes_and_the_words_of_a_cycle() {
    let mut client = sleeve().await;
    let cases = [
        ("(TH", "THREAD", "(THREAD "),
        ("(THREAD M24X3", "M24x3", "(THREAD M24X3"),
        ("(THREAD TR40X", "Tr40x7", "(THREAD TR40X7"),
        ("G76 X20. Z-30. ", "P", "G76 X20. Z-30. P"),
    ];
    for (version, (typed, label, wanted)) in cases.into_iter().enumerate() {
        let text = format!("%\nO1\nG21 G99\n{typed}");
        client.change(URI, json!([{"text": text}])).await;
        let place = at(URI, 3, typed.len() as u32);
        let list = client.ask("textDocument/completion", place).await;
        let items = list["items"].as_array().unwrap();
        let item = items
            .iter()
            .find(|item| item["label"].as_str().unwrap().replace(' ', "") == label);
        let item = item.unwrap_or_else(|| panic!("{version} {typed}: {items:?}"));
        let edit = &item["textEdit"];
        let from = edit["range"]["start"]["character"].as_u64().unwrap() as usize;
        let done = format!("{}{}", &typed[..from], edit["newText"].as_str().unwrap());
        assert_eq!(done.replace(' ', ""), wanted.replace(' ', ""));
    }
    client.finish().await;
}

/// Notes that nothing reads are not offered, and codes that may stand for something else get no
/// words of a thread: fine boring, a speed clamp, peck drilling on a lathe.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_may_be_something_else_gets_no_words() {
    let mut client = sleeve().await;
    let mill = "%\nO1\nG21 G17 G54\nG43 H1 Z20.\nT9 M6\nG0 X5. Y5.\n";
    let lathe = "%\nO1\nG21 G99\nT0303\nG97 S500 M3\nG0 X30. Z9.\nG1 Z-5. F.2\nU2. W1.\n";
    let cases = [
        (mill, "G76 X5. Y5. Z-25. R3. Q.2 F80."),
        (lathe, "G92 S2000"),
        (lathe, "G74 Z-45. Q8000 F.12"),
        (lathe, "(ALLOW "),
    ];
    for (head, typed) in cases {
        client
            .change(URI, json!([{"text": format!("{head}{typed}")}]))
            .await;
        let line = head.matches('\n').count() as u32;
        let place = at(URI, line, typed.len() as u32);
        let help = client
            .ask("textDocument/signatureHelp", place.clone())
            .await;
        assert_eq!(help, Value::Null, "{typed}");
        let list = client.ask("textDocument/completion", place).await;
        assert_eq!(list["items"], json!([]), "{typed}");
    }
    client.finish().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_workspace_is_searched_and_judged() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("O2301"), SLEEVE).unwrap();
    std::fs::write(folder.path().join("notes.md"), "M24X3").unwrap();
    let bad = SLEEVE.replace("P1840", "P184");
    std::fs::write(folder.path().join("bad.nc"), bad).unwrap();
    let uri = format!("file://{}", folder.path().display());
    let capabilities = json!({"textDocument": {"diagnostic": {}}});
    let mut client = Client::house(Some(&uri), capabilities).await;

    let found = client
        .ask("workspace/symbol", json!({"query": "m24 X3"}))
        .await;
    assert_eq!(names(&found), ["M24x3-6g", "M24x3-6g"]);
    let nothing = client
        .ask("workspace/symbol", json!({"query": "M99"}))
        .await;
    assert_eq!(nothing, json!([]));

    let report = client
        .ask("workspace/diagnostic", json!({"previousResultIds": []}))
        .await;
    let items = report["items"].as_array().unwrap();
    assert_eq!(items.len(), 2);
    let bad = items
        .iter()
        .find(|item| item["uri"].as_str().unwrap().ends_with("bad.nc"));
    let codes: Vec<_> = bad.unwrap()["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| &it["code"])
        .collect();
    assert!(codes.contains(&&json!("depth-scale")), "{codes:?}");

    // A file that is mended is answered anew, the other is unchanged.
    let known: Vec<_> = items
        .iter()
        .map(|item| json!({"uri": item["uri"], "value": item["resultId"]}))
        .collect();
    std::fs::write(folder.path().join("bad.nc"), format!("{SLEEVE}\n")).unwrap();
    let report = client
        .ask("workspace/diagnostic", json!({"previousResultIds": known}))
        .await;
    let kinds: Vec<_> = report["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| &it["kind"])
        .collect();
    assert_eq!(kinds, [&json!("unchanged"), &json!("full")]);

    // A file that vanished has no findings.
    std::fs::remove_file(folder.path().join("bad.nc")).unwrap();
    let report = client
        .ask("workspace/diagnostic", json!({"previousResultIds": known}))
        .await;
    let gone = report["items"].as_array().unwrap().last().unwrap();
    assert!(gone["uri"].as_str().unwrap().ends_with("bad.nc"));
    assert_eq!(
        (&gone["kind"], &gone["items"]),
        (&json!("full"), &json!([]))
    );
    client.finish().await;
}

/// Every question about every program of the corpus is answered, inside the text, in order.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_program_of_the_corpus_can_be_asked_everything() {
    let capabilities = json!({"textDocument": {
        "diagnostic": {},
        "documentSymbol": {"hierarchicalDocumentSymbolSupport": true},
    }});
    let mut client = Client::house(None, capabilities).await;
    for folder in ["shop", "constructs", "silent"] {
        let corpus = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../corpus")
            .join(folder);
        for entry in std::fs::read_dir(corpus).unwrap() {
            let path = entry.unwrap().path();
            let Ok(text) = std::fs::read_to_string(&path) else {
                continue;
            };
            let uri = format!(
                "file:///corpus/{}",
                path.file_name().unwrap().to_str().unwrap()
            );
            client.open(&uri, &text).await;
            let lines: Vec<&str> = text.split('\n').collect();
            ask_all(&mut client, &uri, &lines).await;
            client
                .notify(
                    "textDocument/didClose",
                    json!({"textDocument": {"uri": uri}}),
                )
                .await;
        }
    }
    client.finish().await;
}

async fn ask_all(client: &mut Client, uri: &str, lines: &[&str]) {
    let document = json!({"textDocument": {"uri": uri}});
    let outline = client
        .ask("textDocument/documentSymbol", document.clone())
        .await;
    nested(&outline, None, uri);
    for method in [
        "textDocument/foldingRange",
        "textDocument/codeLens",
        "textDocument/documentLink",
    ] {
        assert!(
            client.ask(method, document.clone()).await.is_array(),
            "{uri} {method}"
        );
    }
    let tokens = client
        .ask("textDocument/semanticTokens/full", document.clone())
        .await;
    let data: Vec<u64> = tokens["data"]
        .as_array()
        .unwrap()
        .iter()
        .map(|n| n.as_u64().unwrap())
        .collect();
    let (mut line, mut column, mut end) = (0, 0, 0);
    for token in data.chunks(5) {
        if token[0] > 0 {
            (column, end) = (0, 0);
        }
        (line, column) = (line + token[0], column + token[1]);
        assert!(column >= end, "{uri}:{line}: tokens overlap");
        end = column + token[2];
        let width = lines[line as usize]
            .trim_end_matches('\r')
            .encode_utf16()
            .count() as u64;
        assert!(end <= width, "{uri}:{line}: a token ends behind its line");
    }
    let all =
        json!({"textDocument": {"uri": uri}, "range": range((0, 0), (lines.len() as u32, 0))});
    for hint in client
        .ask("textDocument/inlayHint", all)
        .await
        .as_array()
        .unwrap()
    {
        assert!(!hint["label"].as_str().unwrap().is_empty());
    }
    for (line, text) in lines.iter().enumerate() {
        let place = at(uri, line as u32, (text.len() / 2) as u32);
        for method in [
            "textDocument/documentHighlight",
            "textDocument/definition",
            "textDocument/signatureHelp",
            "textDocument/completion",
            "textDocument/prepareCallHierarchy",
        ] {
            client.ask(method, place.clone()).await;
        }
        let mut asked = document.clone();
        asked["positions"] = json!([place["position"]]);
        let mut selection = &client.ask("textDocument/selectionRange", asked).await[0];
        while selection["parent"].is_object() {
            assert!(
                holds(&selection["parent"]["range"], &selection["range"]),
                "{uri}:{line}"
            );
            selection = &selection["parent"];
        }
    }
}

fn nested(symbols: &Value, parent: Option<&Value>, uri: &str) {
    for symbol in symbols.as_array().into_iter().flatten() {
        assert!(
            holds(&symbol["range"], &symbol["selectionRange"]),
            "{uri} {symbol}"
        );
        if let Some(parent) = parent {
            assert!(
                holds(parent, &symbol["range"]),
                "{uri} {symbol} in {parent}"
            );
        }
        nested(&symbol["children"], Some(&symbol["range"]), uri);
    }
}

fn holds(outer: &Value, inner: &Value) -> bool {
    let place = |at: &Value| (at["line"].as_u64(), at["character"].as_u64());
    place(&outer["start"]) <= place(&inner["start"]) && place(&inner["end"]) <= place(&outer["end"])
}

/// The commands `flankwise.audit` and `flankwise.report`, for the workspace and for one file.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_audit_is_answered_as_markdown_and_as_a_page() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("O2301"), SLEEVE).unwrap();
    std::fs::write(
        folder.path().join("parts.csv"),
        "program,parts_per_year\nO2301,3600\nO9,1\n",
    )
    .unwrap();
    let uri = |name: &str| format!("file://{}/{name}", folder.path().display());
    let mut client = Client::house(Some(uri("").trim_end_matches('/')), json!({})).await;
    let audit = json!({"command": "flankwise.audit"});
    let audit = client.ask("workspace/executeCommand", audit).await;
    let text = audit["text"].as_str().unwrap();
    assert!(
        text.starts_with("# Threading audit") && text.contains("M24x3-6g"),
        "{text}"
    );
    assert_eq!(audit["messages"], "");
    let arguments = json!([uri("O2301"), uri("parts.csv")]);
    let report = json!({"command": "flankwise.report", "arguments": arguments});
    let report = client.ask("workspace/executeCommand", report).await;
    let page = report["text"].as_str().unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("h a year"));
    let messages = report["messages"].as_str().unwrap();
    assert!(
        messages.contains("parts.csv:3: no program `O9`"),
        "{messages}"
    );
    client.finish().await;
}
