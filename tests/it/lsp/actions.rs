//! Fixes and rewrites.

use serde_json::{Value, json};

use super::client::{Client, URI, range};

fn takes(edit: Value) -> Value {
    json!({
        "workspace": {"workspaceEdit": edit},
        "textDocument": {
            "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": [
                "quickfix", "refactor", "source",
            ]}}},
            "diagnostic": {},
        },
    })
}

async fn actions(client: &mut Client, range: Value, only: Value) -> Vec<Value> {
    let mut context = json!({"diagnostics": []});
    if !only.is_null() {
        context["only"] = only;
    }
    let params = json!({"textDocument": {"uri": URI}, "range": range, "context": context});
    match client.ask("textDocument/codeAction", params).await {
        Value::Array(actions) => actions,
        other => panic!("{other}"),
    }
}

fn titles(actions: &[Value]) -> Vec<&str> {
    actions
        .iter()
        .map(|action| action["title"].as_str().unwrap())
        .collect()
}

const FIX_ALL: &str = "Apply every fix that leaves the cut unchanged";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_fix_names_its_diagnostic_and_the_version() {
    let mut client = Client::start(takes(json!({"documentChanges": true}))).await;
    client.open(URI, "(🔩) G76\nG84").await;
    let actions = actions(&mut client, range((0, 6), (0, 6)), Value::Null).await;
    let texts = [
        "Write G92",
        "Write G92 twice",
        "Deeper, changes the cut",
        "Allow it",
        FIX_ALL,
    ];
    assert_eq!(titles(&actions), texts);
    let report = client
        .ask(
            "textDocument/diagnostic",
            json!({"textDocument": {"uri": URI}}),
        )
        .await;
    let expected = json!({
        "title": "Write G92",
        "kind": "quickfix",
        "diagnostics": [report["items"][0]],
        "isPreferred": true,
        "edit": {"documentChanges": [{
            "textDocument": {"uri": URI, "version": 1},
            "edits": [{"range": range((0, 5), (0, 8)), "newText": "G92"}],
        }]},
    });
    assert_eq!(actions[0], expected);
    client.finish().await;
}

/// Without versions the older form of an edit is sent.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_client_without_versions_gets_plain_changes() {
    let mut client = Client::start(takes(json!({}))).await;
    client.open(URI, "G76").await;
    let actions = actions(&mut client, range((0, 0), (0, 3)), json!(["quickfix"])).await;
    let edits = json!([{"range": range((0, 0), (0, 3)), "newText": "G92"}]);
    assert_eq!(actions[0]["edit"], json!({"changes": {URI: edits}}));
    client.finish().await;
}

/// Whatever the analysis prefers: an edit that changes the cut is never the one that an editor
/// applies by itself, and where the editor can ask first, it is told to.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_changes_the_cut_is_confirmed_and_never_preferred() {
    for confirms in [false, true] {
        let mut edit = json!({"documentChanges": true});
        if confirms {
            edit["changeAnnotationSupport"] = json!({"groupsOnLabel": true});
        }
        let mut client = Client::start(takes(edit)).await;
        client.open(URI, "G76").await;
        let actions = actions(&mut client, range((0, 0), (0, 0)), json!(["quickfix"])).await;
        let deeper = &actions[2];
        assert_eq!(deeper["title"], "Deeper, changes the cut");
        assert_eq!(
            (deeper.get("isPreferred"), actions[3].get("isPreferred")),
            (None, None)
        );
        let sent = &deeper["edit"]["documentChanges"][0]["edits"][0];
        let annotation = &deeper["edit"]["changeAnnotations"]["changes-the-cut"];
        if confirms {
            assert_eq!(sent["annotationId"], "changes-the-cut");
            let expected = json!({"label": "Deeper, changes the cut", "needsConfirmation": true,
                                  "description": "Prove it out."});
            assert_eq!(annotation, &expected);
        } else {
            assert_eq!((sent.get("annotationId"), annotation), (None, &Value::Null));
        }
        client.finish().await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn only_the_kinds_asked_for_are_offered() {
    let mut client = Client::start(takes(json!({}))).await;
    client.open(URI, "G33").await;
    let fixes = [
        "Write G92",
        "Write G92 twice",
        "Deeper, changes the cut",
        "Allow it",
    ];
    let rewrite = ["Rewrite as a cycle"];
    let cases: [(Value, Vec<&str>); 9] = [
        (json!(["quickfix"]), fixes.to_vec()),
        (json!(["refactor"]), rewrite.to_vec()),
        (json!(["refactor.rewrite"]), rewrite.to_vec()),
        (json!(["refactor.extract"]), vec![]),
        (json!(["source.fixAll.flankwise"]), vec![FIX_ALL]),
        (json!(["source.fixAll"]), vec![FIX_ALL]),
        (json!(["source"]), vec![FIX_ALL]),
        (json!(["source.fix", "source.fixAll.other", "sour"]), vec![]),
        (json!([""]), [&fixes[..], &rewrite, &[FIX_ALL]].concat()),
    ];
    for (only, expected) in cases {
        let actions = actions(&mut client, range((0, 1), (0, 1)), only.clone()).await;
        assert_eq!(titles(&actions), expected, "{only}");
    }
    client.finish().await;
}

/// One fix for each finding of the whole text, wherever the cursor is; nothing that changes the cut,
/// that waives, that rewrites, or that touches another.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn fix_all_applies_harmless_fixes_only() {
    let mut client = Client::start(takes(json!({"documentChanges": true}))).await;
    client.open(URI, "G76\r\nG33 G76G84\r\n").await;
    let only = json!(["source.fixAll"]);
    let actions = actions(&mut client, range((2, 0), (2, 0)), only.clone()).await;
    let edit = |from, to| json!({"range": range(from, to), "newText": "G92"});
    let edits = json!([
        edit((0, 0), (0, 3)),
        edit((1, 0), (1, 3)),
        edit((1, 4), (1, 7))
    ]);
    assert_eq!(actions[0]["edit"]["documentChanges"][0]["edits"], edits);
    assert_eq!(
        (actions.len(), &actions[0]["kind"]),
        (1, &json!("source.fixAll.flankwise"))
    );

    client
        .change(URI, json!([{"text": "G92\r\nG92 G92G84\r\n"}]))
        .await;
    let rest = self::actions(&mut client, range((0, 0), (0, 0)), only.clone()).await;
    let edits = &rest[0]["edit"]["documentChanges"][0]["edits"];
    assert_eq!(
        edits,
        &json!([edit((1, 7), (1, 10))]),
        "left over from before"
    );

    client.change(URI, json!([{"text": "G92"}])).await;
    assert!(
        self::actions(&mut client, range((0, 0), (0, 0)), only)
            .await
            .is_empty()
    );
    client.finish().await;
}

/// An editor that looks for a light bulb by itself is not offered "fix all", unless it names it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn fix_all_is_not_offered_at_a_glance() {
    let mut client = Client::start(takes(json!({}))).await;
    client.open(URI, "G76").await;
    for (context, is_offered) in [
        (json!({"diagnostics": []}), true),
        (json!({"diagnostics": [], "triggerKind": 1}), true),
        (json!({"diagnostics": [], "triggerKind": 2}), false),
        (
            json!({"diagnostics": [], "triggerKind": 2, "only": ["source.fixAll"]}),
            true,
        ),
    ] {
        let (uri, range) = (json!({"uri": URI}), range((0, 0), (0, 0)));
        let params = json!({"textDocument": uri, "range": range, "context": context});
        let actions = client.ask("textDocument/codeAction", params).await;
        let actions = actions.as_array().unwrap();
        assert_eq!(titles(actions).contains(&FIX_ALL), is_offered, "{context}");
    }
    client.finish().await;
}
