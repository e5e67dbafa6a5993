//! What is offered, to clients that can much and clients that can little.

use serde_json::{Value, json};
use server::lsp::Timing;

use super::client::{Client, URI};

async fn offered(capabilities: Value) -> Value {
    let client = Client::start(capabilities).await;
    let offered = client.initialized["capabilities"].clone();
    client.finish().await;
    offered
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_client_that_can_little_is_offered_what_it_can_use() {
    let expected = json!({
        "positionEncoding": "utf-16",
        "textDocumentSync": {"openClose": true, "change": 2, "save": {"includeText": false}},
        "hoverProvider": true,
        "workspace": {"workspaceFolders": {"supported": true, "changeNotifications": true}},
    });
    assert_eq!(offered(json!({})).await, expected);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_client_that_can_much_is_offered_all() {
    let capabilities = json!({
        "general": {"positionEncodings": ["utf-16", "utf-8"]},
        "textDocument": {
            "diagnostic": {},
            "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": []}}},
            "documentSymbol": {}, "foldingRange": {}, "selectionRange": {}, "inlayHint": {},
            "codeLens": {}, "definition": {}, "references": {}, "documentHighlight": {},
            "documentLink": {}, "callHierarchy": {}, "completion": {}, "signatureHelp": {},
            "semanticTokens": {"requests": {}, "tokenTypes": [], "tokenModifiers": [], "formats": []},
        },
        "workspace": {"symbol": {}, "executeCommand": {}},
    });
    let offered = offered(capabilities).await;
    assert_eq!(offered["positionEncoding"], "utf-8");
    let kinds = ["quickfix", "refactor.rewrite", "source.fixAll.flankwise"];
    assert_eq!(
        offered["codeActionProvider"],
        json!({"codeActionKinds": kinds})
    );
    let pull = json!({"identifier": "flankwise", "interFileDependencies": false,
                      "workspaceDiagnostics": true});
    assert_eq!(offered["diagnosticProvider"], pull);
    let providers = [
        "callHierarchy",
        "codeLens",
        "completion",
        "definition",
        "documentHighlight",
        "documentLink",
        "documentSymbol",
        "executeCommand",
        "foldingRange",
        "inlayHint",
        "references",
        "selectionRange",
        "semanticTokens",
        "signatureHelp",
        "workspaceSymbol",
    ];
    for provider in providers {
        assert!(
            !offered[format!("{provider}Provider")].is_null(),
            "{provider}"
        );
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_server_says_its_name() {
    let client = Client::start(json!({})).await;
    assert_eq!(client.initialized["serverInfo"]["name"], "flankwise");
    assert!(client.initialized["serverInfo"]["version"].is_string());
    client.finish().await;
}

/// No root, one, several, and roots that are no URI at all: all the same to us.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn roots_of_every_kind_are_accepted() {
    let roots = [
        json!({}),
        json!({"rootUri": null, "rootPath": null, "workspaceFolders": null}),
        json!({"rootUri": "file:///shop"}),
        json!({"rootUri": "", "rootPath": ""}),
        json!({"rootUri": "C:\\NC programs", "rootPath": 5}),
        json!({"workspaceFolders": []}),
        json!({"workspaceFolders": [{"uri": "file:///shop", "name": "shop"},
                                    {"uri": "file:///not encoded", "name": "store"}]}),
    ];
    for mut params in roots {
        params["processId"] = Value::Null;
        params["capabilities"] = json!({});
        let mut client = Client::silent(Timing::default());
        client.initialize(params).await;
        client.notify("initialized", json!({})).await;
        client.open(URI, "G76").await;
        client.marks(URI, 1).await;
        client.finish().await;
    }
}
