//! An analysis for tests. It flags three words, and a few words in the text make it misbehave:
//! `PANIC` and `HOLD` while it analyses, `SLOW` while it tells what it found, `TOUCHY` and `STICKY`
//! while it answers a hover. `HOLD`, `SLOW` and `STICKY` wait until `Control::release`; `HOLD` gives
//! up when cancelled.

use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use server::lsp::{
    Action, ActionKind, Analysis, Assist, Cancel, Diagnostic, Edit, Hover, Input, Related,
    Severity, Tag,
};

const FLAGGED: [(&str, Severity); 3] = [
    ("G76", Severity::Warning),
    ("G84", Severity::Error),
    ("G33", Severity::Advice),
];

/// What a test can see and steer.
#[derive(Debug, Default)]
pub(super) struct Control {
    /// Analyses begun.
    pub(super) begun: AtomicUsize,
    /// Analyses that were given a previous result to start from.
    pub(super) continued: AtomicUsize,
    /// Analyses that noticed that they were cancelled.
    pub(super) cancelled: AtomicUsize,
    /// Answers that were held (`SLOW`, `STICKY`).
    pub(super) held: AtomicUsize,
    /// Answers that were held and let go.
    pub(super) freed: AtomicUsize,
    /// Times the configuration was read anew.
    pub(super) config: AtomicUsize,
    released: Mutex<bool>,
    changed: Condvar,
}

impl Control {
    /// Lets everything go on that is held now or later.
    pub(super) fn release(&self) {
        *self.released.lock().unwrap() = true;
        self.changed.notify_all();
    }

    fn hold_answer(&self) {
        self.held.fetch_add(1, SeqCst);
        self.hold(None);
        self.freed.fetch_add(1, SeqCst);
    }

    fn hold(&self, cancel: Option<&Cancel>) {
        let mut released = self.released.lock().unwrap();
        while !*released && !cancel.is_some_and(Cancel::is_set) {
            released = self
                .changed
                .wait_timeout(released, Duration::from_millis(2))
                .unwrap()
                .0;
        }
    }
}

/// The analysis.
#[derive(Debug, Default)]
pub(super) struct Fake(pub(super) Arc<Control>);

/// What it keeps of a program.
#[derive(Debug)]
pub(super) struct Seen {
    text: String,
    path: String,
    config: usize,
    flagged: Vec<(Range<usize>, Severity)>,
}

impl Assist for Fake {}

impl Analysis for Fake {
    type Result = Seen;

    fn analyse(&self, input: Input<'_, Seen>) -> Option<Seen> {
        self.0.begun.fetch_add(1, SeqCst);
        let text = String::from_utf8(input.bytes()).expect("ropes hold UTF-8");
        if let Some(previous) = input.previous {
            self.0.continued.fetch_add(1, SeqCst);
            let (before, changed) = (&previous.result.text, previous.changed);
            assert_eq!(
                before[..changed.old.start],
                text[..changed.new.start],
                "before the change"
            );
            assert_eq!(
                before[changed.old.end..],
                text[changed.new.end..],
                "behind the change"
            );
        }
        assert!(!text.contains("PANIC"), "asked to");
        if text.contains("HOLD") {
            self.0.hold(Some(input.cancelled));
        }
        if input.cancelled.is_set() {
            self.0.cancelled.fetch_add(1, SeqCst);
            return None;
        }
        let mut flagged = Vec::new();
        for (word, severity) in FLAGGED {
            let found = text.match_indices(word);
            flagged.extend(found.map(|(at, word)| (at..at + word.len(), severity)));
        }
        flagged.sort_by_key(|(bytes, _)| bytes.start);
        let path = input
            .path
            .map(|path| path.display().to_string())
            .unwrap_or_default();
        Some(Seen {
            text,
            path,
            config: self.0.config.load(SeqCst),
            flagged,
        })
    }

    fn diagnostics(&self, seen: &Seen) -> Vec<Diagnostic> {
        if seen.text.contains("SLOW") {
            self.0.hold_answer();
        }
        let diagnostic = |(bytes, severity): &(Range<usize>, Severity)| Diagnostic {
            bytes: bytes.clone(),
            severity: *severity,
            code: format!("flagged-{}", seen.text[bytes.clone()].to_lowercase()),
            href: Some("https://example.org/rules".to_owned()),
            message: format!(
                "flagged under configuration {}\nthe sum behind it",
                seen.config
            ),
            related: vec![Related {
                bytes: 0..1,
                message: "the program starts here".to_owned(),
            }],
            data: serde_json::json!({"at": bytes.start}),
            tags: if *severity == Severity::Advice {
                vec![Tag::Unnecessary]
            } else {
                vec![]
            },
        };
        seen.flagged.iter().map(diagnostic).collect()
    }

    /// On a flagged word what it is; on the first byte the path and the whole text.
    fn hover(&self, seen: &Seen, at: usize) -> Option<Hover> {
        assert!(!seen.text.contains("TOUCHY"), "asked to");
        if seen.text.contains("STICKY") {
            self.0.hold_answer();
        }
        if at == 0 {
            return Some(Hover {
                markdown: format!("{}\n{}", seen.path, seen.text),
                bytes: 0..0,
            });
        }
        let (bytes, _) = seen.flagged.iter().find(|(bytes, _)| bytes.contains(&at))?;
        let markdown = format!("**{}** at byte {}", &seen.text[bytes.clone()], bytes.start);
        Some(Hover {
            markdown,
            bytes: bytes.clone(),
        })
    }

    fn actions(&self, seen: &Seen, at: Range<usize>) -> Vec<Action> {
        let mut actions = Vec::new();
        for (index, (bytes, severity)) in seen.flagged.iter().enumerate() {
            if bytes.start > at.end || at.start > bytes.end {
                continue;
            }
            let action = |title: &str, kind, edit: (Range<usize>, &str)| Action {
                title: title.to_owned(),
                kind,
                edits: vec![Edit {
                    bytes: edit.0,
                    text: edit.1.to_owned(),
                }],
                is_preferred: true,
                diagnostic: Some(index),
                caution: (kind == ActionKind::Motion).then(|| "Prove it out.".to_owned()),
            };
            let end = bytes.end..bytes.end;
            actions.push(action(
                "Write G92",
                ActionKind::Text,
                (bytes.clone(), "G92"),
            ));
            actions.push(action(
                "Write G92 twice",
                ActionKind::Text,
                (bytes.clone(), "G92G92"),
            ));
            actions.push(action(
                "Deeper, changes the cut",
                ActionKind::Motion,
                (end.clone(), "D1"),
            ));
            actions.push(action(
                "Allow it",
                ActionKind::Comment,
                (end.clone(), "(ALLOW)"),
            ));
            if *severity == Severity::Advice {
                let rewrite = action(
                    "Rewrite as a cycle",
                    ActionKind::Text,
                    (bytes.clone(), "G76"),
                );
                actions.push(Action {
                    diagnostic: None,
                    ..rewrite
                });
            }
        }
        actions
    }

    fn config_changed(&self) {
        self.0.config.fetch_add(1, SeqCst);
    }
}
