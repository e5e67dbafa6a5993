//! SARIF 2.1.0, the OASIS Static Analysis Results Interchange Format. Columns count Unicode code
//! points (`columnKind`). Fixes that change the cut are told in the message and not offered as
//! SARIF fixes, because a viewer would apply them without the caution.

use rules::checks::{RULES, Rule};
use rules::finding::{FixKind, Severity};
use serde_json::{Value, json};

use super::entry::{Entry, FileEntry, Place, State, worst_first};
use super::{json as print, page};

/// Results that a code host takes for one run (its documentation, seen as an excerpt).
const MOST: usize = 25_000;

const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/// How the run ended.
pub(crate) struct Run {
    /// The exit status.
    pub(crate) status: u8,
    /// Whether a baseline was compared with.
    pub(crate) baseline: bool,
}

/// The document.
pub(crate) fn document(
    files: &[FileEntry],
    unread: &[(String, String, String)],
    run: &Run,
) -> String {
    let mut results = worst_first(files, |_| true);
    let mut notes = Vec::new();
    let total = results.len();
    if total > MOST {
        results.truncate(MOST);
        notes.push(json!({
            "level": "warning",
            "message": {"text": format!("{total} findings; only the worst {MOST} are in this file")},
            "descriptor": {"id": "results-cut"},
        }));
    }
    for (path, uri, why) in unread {
        let why = super::visible::text(why);
        notes.push(json!({
            "level": "error",
            "message": {"text": escaped(&format!("{path}: {why}"))},
            "descriptor": {"id": "unread"},
            "locations": [{"physicalLocation": {"artifactLocation": location(uri)}}],
        }));
    }
    for file in files {
        for one in &file.not_judged {
            let (first, last) = one.lines;
            let rule = one
                .rule
                .map_or_else(String::new, |rule| format!("{rule}: "));
            let mut note = json!({
                "level": "note",
                "message": {"text": escaped(&format!("not judged: {rule}{}", one.why))},
                "descriptor": {"id": "not-judged"},
                "locations": [{"physicalLocation": {
                    "artifactLocation": location(&file.uri),
                    "region": {"startLine": first, "endLine": last},
                }}],
            });
            if let Some(index) = one.rule.and_then(index) {
                note["associatedRule"] = json!({"id": RULES[index].name, "index": index});
            }
            notes.push(note);
        }
    }
    let results: Vec<Value> = results
        .into_iter()
        .map(|(at, entry)| result(&files[at], entry, run))
        .collect();
    let rules: Vec<Value> = RULES.iter().map(|rule| descriptor(rule)).collect();
    let log = json!({
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [{
            "tool": {"driver": {
                "name": "flankwise",
                "version": env!("CARGO_PKG_VERSION"),
                "semanticVersion": env!("CARGO_PKG_VERSION"),
                "rules": rules,
                "notifications": [
                    {"id": "unread", "shortDescription": {"text": "An input could not be read"}},
                    {"id": "not-judged", "shortDescription": {"text": "A rule could not judge a thread, or text was not read"}},
                    {"id": "results-cut", "shortDescription": {"text": "More findings than a host takes"}},
                ],
            }},
            "automationDetails": {"id": "flankwise/"},
            "columnKind": "unicodeCodePoints",
            "invocations": [{
                "executionSuccessful": unread.is_empty(),
                "exitCode": run.status,
                "toolExecutionNotifications": notes,
            }],
            "results": results,
        }],
    });
    let mut text = print::print(&log);
    text.push('\n');
    text
}

fn index(rule: &'static str) -> Option<usize> {
    RULES.iter().position(|known| known.name == rule)
}

fn level(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Advice => "note",
    }
}

fn descriptor(rule: &Rule) -> Value {
    let full = |text: &str| format!("{}.", text);
    json!({
        "id": rule.name,
        "shortDescription": {"text": escaped(&full(rule.summary))},
        "fullDescription": {"text": escaped(&full(rule.summary))},
        "help": {"text": escaped(&page::text(rule)), "markdown": page::markdown(rule, 2)},
        "defaultConfiguration": {"level": level(rule.severity)},
        "properties": {"tags": ["threading"]},
    })
}

fn result(file: &FileEntry, entry: &Entry, run: &Run) -> Value {
    let artifact = location(&file.uri);
    let mut lines = vec![entry.message.clone()];
    lines.extend(entry.details.iter().cloned());
    for fix in entry.fixes.iter().filter(|fix| fix.kind == FixKind::Motion) {
        lines.push(format!("fix that changes the cut: {}", fix.title));
    }
    let mut result = json!({
        "ruleId": entry.rule,
        "level": level(entry.severity),
        "message": {"text": escaped(&lines.join("\n"))},
        "locations": [{"physicalLocation": {
            "artifactLocation": artifact,
            "region": region(entry.place),
        }}],
        "partialFingerprints": {
            "threadSection/v1": entry.print.hash,
            // The name that a code host matches by, where there is one.
            "primaryLocationLineHash": format!("{}:{}", entry.print.hash, entry.print.number),
        },
    });
    if let Some(index) = index(entry.rule) {
        result["ruleIndex"] = json!(index);
    }
    let related: Vec<Value> = entry
        .related
        .iter()
        .enumerate()
        .map(|(at, (place, text))| {
            json!({
                "id": at + 1,
                "message": {"text": escaped(text)},
                "physicalLocation": {"artifactLocation": artifact, "region": region(*place)},
            })
        })
        .collect();
    if !related.is_empty() {
        result["relatedLocations"] = json!(related);
    }
    let fixes: Vec<Value> = entry
        .fixes
        .iter()
        .filter(|fix| fix.kind == FixKind::Text && !fix.edits.is_empty())
        .map(|fix| {
            let replacements: Vec<Value> = fix
                .edits
                .iter()
                .map(|(place, text)| {
                    json!({"deletedRegion": region(*place), "insertedContent": {"text": text}})
                })
                .collect();
            json!({
                "description": {"text": escaped(&fix.title)},
                "artifactChanges": [{"artifactLocation": artifact, "replacements": replacements}],
            })
        })
        .collect();
    if !fixes.is_empty() {
        result["fixes"] = json!(fixes);
    }
    if let State::Waived {
        reason,
        until,
        in_source,
    } = &entry.state
    {
        let until = until.map_or_else(String::new, |until| format!(" (until {until})"));
        result["suppressions"] = json!([{
            "kind": if *in_source { "inSource" } else { "external" },
            "status": "accepted",
            "justification": format!("{reason}{until}"),
        }]);
    }
    if run.baseline {
        result["baselineState"] = json!(match entry.state {
            State::Known => "unchanged",
            _ => "new",
        });
    }
    result
}

fn location(uri: &str) -> Value {
    if uri.starts_with("file://") {
        json!({"uri": uri})
    } else {
        json!({"uri": uri, "uriBaseId": "SRCROOT"})
    }
}

fn region(place: Place) -> Value {
    json!({
        "startLine": place.line,
        "startColumn": place.column,
        "endLine": place.end_line,
        "endColumn": place.end_column,
    })
}

/// Text in which no part is taken for a link or a place-holder (sections 3.11.5 and 3.11.6):
/// brackets of `[…](…)` and the brace of `{0` are escaped where they would be read so.
fn escaped(text: &str) -> String {
    let bytes = text.as_bytes();
    let link = text.contains("](");
    let mut out = String::with_capacity(text.len());
    for (at, c) in text.char_indices() {
        let digit = bytes.get(at + 1).is_some_and(u8::is_ascii_digit);
        match c {
            '[' | ']' if link => {
                out.push('\\');
                out.push(c);
            }
            '{' if digit => out.push_str("{{"),
            _ => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use lexer::source::Lines;
    use rules::fingerprint::Print;

    fn many(count: usize) -> FileEntry {
        let lines = Lines::new(b"G0 X1\n");
        assert_eq!(lines.count(), 2);
        let entry = |at: usize| Entry {
            rule: "wrong-side",
            severity: match at % 3 {
                0 => Severity::Advice,
                1 => Severity::Warning,
                _ => Severity::Error,
            },
            place: Place {
                line: 1,
                column: 1,
                end_line: 1,
                end_column: 3,
            },
            message: format!("finding {at}"),
            details: Vec::new(),
            related: Vec::new(),
            fixes: Vec::new(),
            print: Print {
                hash: "0123456789abcdef".to_owned(),
                number: at as u32 + 1,
            },
            state: if at == 2 { State::Known } else { State::Counts },
        };
        FileEntry {
            path: "O1".to_owned(),
            uri: "O1".to_owned(),
            sections: 1,
            entries: (0..count).map(entry).collect(),
            not_judged: Vec::new(),
        }
    }

    #[test]
    fn a_host_gets_the_worst_and_is_told_that_more_were_cut() {
        let run = Run {
            status: 1,
            baseline: true,
        };
        let text = document(&[many(MOST + 5)], &[], &run);
        let log: Value = serde_json::from_str(&text).unwrap();
        let run = &log["runs"][0];
        let results = run["results"].as_array().unwrap();
        assert_eq!(results.len(), MOST);
        let levels: Vec<_> = results
            .iter()
            .map(|result| result["level"].as_str().unwrap())
            .collect();
        let rank = |level: &str| {
            ["error", "warning", "note"]
                .iter()
                .position(|one| *one == level)
        };
        assert!(
            levels.is_sorted_by_key(|level| rank(level)),
            "the known one is cut"
        );
        assert!(
            results
                .iter()
                .all(|result| result["baselineState"] == "new")
        );
        let notes = run["invocations"][0]["toolExecutionNotifications"]
            .as_array()
            .unwrap();
        assert_eq!(notes.len(), 1);
        assert_eq!(
            notes[0]["message"]["text"],
            "25005 findings; only the worst 25000 are in this file"
        );
    }

    #[test]
    fn text_is_no_link_and_no_place_holder() {
        assert_eq!(
            escaped("X[#1](A) {0} {a} #[2]"),
            "X\\[#1\\](A) {{0} {a} #\\[2\\]"
        );
        assert_eq!(escaped("X[#1+2] is {b}"), "X[#1+2] is {b}");
    }
}
