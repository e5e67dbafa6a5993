//! What a run of `fix` did and did not do, as one JSON document, version 1.

use rules::finding::{Finding, FixKind};
use rules::fix::{Applied, Mended, Refused};
use serde::Serialize;

use super::text::Tally;
use super::{CAUTION, json};

/// A run, program by program.
#[derive(Default)]
pub(crate) struct Document {
    files: Vec<String>,
    unread: Vec<String>,
    changed: usize,
    motion: bool,
}

#[derive(Serialize)]
struct FileOut<'a> {
    path: &'a str,
    changed: bool,
    applied: Vec<DoneOut<'a>>,
    refused: Vec<NotDoneOut<'a>>,
    overtaken: Vec<NotDoneOut<'a>>,
    undoing_each_other: &'a [&'static str],
    left: Vec<LeftOut<'a>>,
}

#[derive(Serialize)]
struct DoneOut<'a> {
    rule: &'static str,
    line: u32,
    kind: &'static str,
    title: &'a str,
}

#[derive(Serialize)]
struct NotDoneOut<'a> {
    rule: &'static str,
    line: u32,
    title: &'a str,
    why: &'a str,
}

#[derive(Serialize)]
struct LeftOut<'a> {
    rule: &'static str,
    severity: &'static str,
    line: u32,
    message: &'a str,
}

#[derive(Serialize)]
struct Summary {
    files: usize,
    changed: usize,
    error: usize,
    warning: usize,
    advice: usize,
    unread: usize,
}

impl Document {
    /// Adds a program that was read.
    pub(crate) fn file(&mut self, path: &str, mended: &Mended, changed: bool) {
        fn not_done(all: &[Refused]) -> Vec<NotDoneOut<'_>> {
            all.iter()
                .map(|one| NotDoneOut {
                    rule: one.rule,
                    line: one.line,
                    title: &one.title,
                    why: &one.why,
                })
                .collect()
        }
        let applied = mended.applied.iter().map(|one: &Applied| DoneOut {
            rule: one.rule,
            line: one.line,
            kind: one.kind.name(),
            title: &one.title,
        });
        let left = mended.left.iter().map(|one: &Finding| LeftOut {
            rule: one.rule,
            severity: one.severity.name(),
            line: one.line,
            message: &one.message,
        });
        self.files.push(json::print(&FileOut {
            path,
            changed,
            applied: applied.collect(),
            refused: not_done(&mended.refused),
            overtaken: not_done(&mended.overtaken),
            undoing_each_other: &mended.fighting,
            left: left.collect(),
        }));
        self.changed += usize::from(changed);
        self.motion |= mended.applied.iter().any(|one| one.kind == FixKind::Motion);
    }

    /// Adds an input that was left alone: it could not be read or not be written.
    pub(crate) fn unread(&mut self, path: &str, why: &str) {
        self.unread.push(json::print(&json::Unread { path, why }));
    }

    /// The document. `written` says whether the programs were changed or would be.
    pub(crate) fn text(&self, written: bool, tally: &Tally) -> String {
        let summary = Summary {
            files: tally.files,
            changed: self.changed,
            error: tally.errors,
            warning: tally.warnings,
            advice: tally.advice,
            unread: tally.unread,
        };
        let caution = if self.motion { CAUTION } else { "" };
        format!(
            "{{\"version\":{},\n\"written\":{written},\n\"files\":[\n{}\n],\n\"unread\":[{}],\n\
             \"caution\":{},\n\"summary\":{}}}\n",
            json::VERSION,
            self.files.join(",\n"),
            self.unread.join(",\n"),
            json::print(&caution),
            json::print(&summary)
        )
    }
}
