//! Rewrites at a thread, with the analysis of the house.

use serde_json::{Value, json};

use super::client::{Client, URI, range};

const SHAFT: &str = "%\nO1200 (PUMP SHAFT)\nG21 G40 G99\nT0303\n(THREAD M30X2-6G)\nG97 S1000 M3\n\
    G0 X34. Z8.\nG76 P020055 Q20 R0.05\nG76 X27.546 Z-36. P1227 Q150 F2.\nG0 X100. Z100. M5\nM30\n%\n";

async fn shaft(text: &str) -> Client {
    let edits = json!({
        "documentChanges": true,
        "changeAnnotationSupport": {"groupsOnLabel": true},
    });
    let capabilities = json!({
        "workspace": {"workspaceEdit": edits},
        "textDocument": {
            "codeAction": {"codeActionLiteralSupport": {"codeActionKind": {"valueSet": [
                "quickfix", "refactor", "source",
            ]}}},
            "diagnostic": {},
        },
    });
    let mut client = Client::house(None, capabilities).await;
    client.open(URI, text).await;
    client
}

async fn rewrites(client: &mut Client, line: u32) -> Vec<Value> {
    let params = json!({
        "textDocument": {"uri": URI},
        "range": range((line, 0), (line, 0)),
        "context": {"diagnostics": [], "only": ["refactor.rewrite"]},
    });
    match client.ask("textDocument/codeAction", params).await {
        Value::Array(actions) => actions,
        other => panic!("{other}"),
    }
}

fn titles(actions: &[Value]) -> Vec<&str> {
    let title = |action: &'_ Value| action["title"].as_str().map(str::to_owned);
    let all = actions.iter().filter(|action| title(action).is_some());
    all.map(|action| action["title"].as_str().unwrap())
        .collect()
}

/// The text with an action's edits.
fn applied(text: &str, action: &Value) -> String {
    let lines: Vec<usize> = std::iter::once(0)
        .chain(text.match_indices('\n').map(|(at, _)| at + 1))
        .collect();
    let place = |position: &Value| {
        let line = position["line"].as_u64().unwrap() as usize;
        lines[line] + position["character"].as_u64().unwrap() as usize
    };
    let mut edits: Vec<(usize, usize, String)> = action["edit"]["documentChanges"][0]["edits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|edit| {
            let range = &edit["range"];
            let new = edit["newText"].as_str().unwrap().to_owned();
            (place(&range["start"]), place(&range["end"]), new)
        })
        .collect();
    edits.sort();
    let mut after = text.to_owned();
    for (start, end, new) in edits.into_iter().rev() {
        after.replace_range(start..end, &new);
    }
    after
}

/// Fewer passes in the words of the cycle, and the same passes in the other syntaxes of its family;
/// each asks first, and none stands at another place.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_thread_is_split_better_or_written_otherwise() {
    let mut client = shaft(SHAFT).await;
    let actions = rewrites(&mut client, 8).await;
    let titles = titles(&actions);
    assert_eq!(titles.len(), 3, "{titles:?}");
    assert!(
        titles[0].starts_with("Split the depth better, changes the cut: "),
        "{titles:?}"
    );
    assert!(titles[1].ends_with(" passes as strokes"), "{titles:?}");
    assert!(titles[2].ends_with(" passes as box"), "{titles:?}");
    for action in &actions {
        assert_eq!(action["kind"], "refactor.rewrite");
        assert_eq!(action.get("isPreferred"), None);
        let annotation = &action["edit"]["changeAnnotations"]["changes-the-cut"];
        assert_eq!(annotation["needsConfirmation"], true);
        assert!(
            annotation["description"]
                .as_str()
                .unwrap()
                .contains("prove it out")
        );
    }
    let planned = applied(SHAFT, &actions[0]);
    let read = |text: &str| lexer::read(text.as_bytes(), &lexer::program::Settings::default());
    let passes = |text: &str| read(text).sections[0].passes.len();
    assert!(passes(&planned) < passes(SHAFT), "{planned}");
    for action in &actions[1..] {
        let written = applied(SHAFT, action);
        assert_eq!(passes(&written), passes(SHAFT), "{written}");
    }
    assert!(rewrites(&mut client, 3).await.is_empty());
    client.finish().await;
}

/// A note without a thread becomes one: every syntax of the family, at the speed in force.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_thread_is_written_from_its_note() {
    let text =
        "G21 G40 G99\nT0303\nG97 S800 M3\n(THREAD M24X3-6G, LENGTH 30)\nG0 X100. Z100.\nM30\n";
    let mut client = shaft(text).await;
    let actions = rewrites(&mut client, 3).await;
    let titles = titles(&actions);
    assert_eq!(titles.len(), 4, "{titles:?}");
    for (action, syntax) in actions
        .iter()
        .zip(["two-block", "one-block", "box", "strokes"])
    {
        let title = action["title"].as_str().unwrap();
        assert!(
            title.contains(&format!("as {syntax}")) && title.contains("800 1/min"),
            "{title}"
        );
        let written = applied(text, action);
        let settings = lexer::program::Settings::default();
        let program = lexer::read(written.as_bytes(), &settings);
        assert_eq!(program.sections.len(), 1, "{written}");
        assert_eq!(program.sections[0].syntax.name(), syntax, "{written}");
        let facts = rules::facts::Facts::default();
        let judged = rules::judge::judge(written.as_bytes(), &program, &settings, &facts);
        assert!(
            judged.findings.is_empty(),
            "{written}\n{:?}",
            judged.findings
        );
        let (thread, _) = judged.threads[0].thread.as_ref().unwrap();
        assert_eq!(thread.designation(), "M24x3-6g");
    }
    // Without a length nothing is guessed.
    client
        .change(URI, json!([{"text": text.replace(", LENGTH 30", "")}]))
        .await;
    assert!(rewrites(&mut client, 3).await.is_empty());
    client.finish().await;
}

/// A note that names a chamfer or a mill becomes a tap or a helix, in every family that has it, and
/// only where it says all that is needed.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_tap_or_a_mill_is_written_from_its_note() {
    let lathe = "G21 G40 G99\nT0303\nG97 S300 M3\n(THREAD M8-6H, LENGTH 12, CHAMFER 3)\n\
                 G0 X100. Z100.\nM30\n";
    let tap = "G21 G17 G90 G94\nT5 M6\nS300 M3\n(THREAD M8-6H, LENGTH 12, CHAMFER 3, AT 20 -15, AT 40 -15)\n\
               G0 X100. Y100.\nG43 H5 Z100.\nM30\n";
    let mill = tap.replace(
        "CHAMFER 3, AT 20 -15, AT 40 -15",
        "INTERNAL, CUTTER 4, FEED 300, SINGLE ROW, AT 20 -15",
    );
    for (text, syntax, missing) in [
        (lathe, "tap", ", LENGTH 12"),
        (tap, "tap", ", AT 20 -15, AT 40 -15"),
        (&mill, "helix", ", FEED 300"),
    ] {
        let mut client = shaft(text).await;
        let actions = rewrites(&mut client, 3).await;
        assert_eq!(actions.len(), 1, "{text} {actions:?}");
        let title = actions[0]["title"].as_str().unwrap();
        assert_eq!(title, format!("Write M8x1.25-6H as {syntax} at 300 1/min"));
        let written = applied(text, &actions[0]);
        assert_eq!(written.matches("(THREAD M8").count(), 1, "{written}");
        let settings = lexer::program::Settings::default();
        let program = lexer::read(written.as_bytes(), &settings);
        assert_eq!(program.sections.len(), 1, "{written}");
        assert_eq!(program.sections[0].syntax.name(), syntax, "{written}");
        let facts = rules::facts::Facts::default();
        let judged = rules::judge::judge(written.as_bytes(), &program, &settings, &facts);
        assert!(
            judged.findings.is_empty(),
            "{written}\n{:?}",
            judged.findings
        );
        let (thread, _) = judged.threads[0].thread.as_ref().unwrap();
        assert_eq!(thread.designation(), "M8x1.25-6H");
        client
            .change(URI, json!([{"text": text.replace(missing, "")}]))
            .await;
        let without = rewrites(&mut client, 3).await;
        assert!(without.is_empty(), "{without:?}");
        client.finish().await;
    }
}
