//! A thread in another syntax: text and JSON.

use std::fmt::Write as _;

use lexer::section::Syntax;
use lexer::units::Length;
use rules::rewrite::Job;
use rules::rewrite::convert::Converted;
use serde::Serialize;

use super::json::{VERSION, print, round};
use super::plan::EditOut;
use super::{CAUTION_SHORT, visible};

/// The blocks with what proves them and what they lose; ends with an empty line.
pub(crate) fn text(path: &str, job: &Job<'_>, to: Syntax, converted: &Converted) -> String {
    let section = &job.program.sections[job.index];
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = writeln!(
        out,
        "{path}:{}-{}  {} -> {}",
        section.first_line,
        section.last_line,
        section.syntax.name(),
        to.name()
    );
    for line in converted.text.lines() {
        let _ = writeln!(out, "    {}", visible::text(line));
    }
    let _ = writeln!(
        out,
        "  read back: {} of {} passes agree, the farthest {} mm off (rounding)",
        converted.passes,
        converted.passes,
        rounded(converted.deviation)
    );
    for lost in &converted.lost {
        let _ = writeln!(out, "  not carried over: {}", visible::text(lost));
    }
    if let Some(reread) = &converted.reread {
        for finding in &reread.new_findings {
            let _ = writeln!(out, "  new finding: {}", visible::text(finding));
        }
    }
    out.push('\n');
    out
}

fn rounded(length: Length) -> f64 {
    round(length.mm(), 6)
}

#[derive(Serialize)]
struct Document<'a> {
    version: u32,
    path: &'a str,
    lines: [u32; 2],
    from: &'static str,
    to: &'static str,
    text: &'a str,
    passes: usize,
    deviation_mm: f64,
    not_carried_over: &'a [String],
    edits: Vec<EditOut<'a>>,
    new_findings: &'a [String],
    caution: &'static str,
}

/// The same as a document, version 1.
pub(crate) fn json(path: &str, job: &Job<'_>, to: Syntax, converted: &Converted) -> String {
    let section = &job.program.sections[job.index];
    print(&Document {
        version: VERSION,
        path,
        lines: [section.first_line, section.last_line],
        from: section.syntax.name(),
        to: to.name(),
        text: &converted.text,
        passes: converted.passes,
        deviation_mm: rounded(converted.deviation),
        not_carried_over: &converted.lost,
        edits: converted
            .edits
            .iter()
            .map(|edit| EditOut {
                bytes: [edit.span.start, edit.span.end],
                text: &edit.text,
            })
            .collect(),
        new_findings: match &converted.reread {
            Some(reread) => &reread.new_findings,
            None => &[],
        },
        caution: CAUTION_SHORT,
    }) + "\n"
}
