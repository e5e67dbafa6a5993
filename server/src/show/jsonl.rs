//! JSON lines: one object a line, for tools that read a stream. Each line says what it is by
//! `type`: `finding`, `known`, `waived`, `not-judged`,
//! `missing-fact`, `unread`, and last `summary`. The keys of a
//! finding are those of the JSON document, with the path in front.

use serde::Serialize;

use super::json::{self, FindingOut, Summary};
use super::missing::MissingOut;
use super::text::{Tally, Text};
use super::verdict::Verdict;
use super::{entry, visible};
use lexer::program::Program;
use rules::judge::Judgement;

#[derive(Serialize)]
struct Line<'a, T> {
    r#type: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    path: Option<&'a str>,
    #[serde(flatten)]
    what: T,
}

#[derive(Serialize)]
struct NotJudged<'a> {
    line: u32,
    end_line: u32,
    rule: Option<&'static str>,
    why: &'a str,
}

#[derive(Serialize)]
struct Unread<'a> {
    why: &'a str,
}

fn line<T: Serialize>(r#type: &'static str, path: Option<&str>, what: T) -> String {
    let mut line = json::print(&Line { r#type, path, what });
    line.push('\n');
    line
}

/// The lines of one program.
pub(crate) fn file(
    text: Text<'_>,
    program: &Program,
    judgement: &Judgement,
    verdict: &Verdict,
) -> String {
    let mut lines = String::new();
    let out: json::Sorted = json::sorted(text, judgement, Some(verdict));
    let kinds: [(&'static str, Vec<FindingOut>); 3] = [
        ("finding", out.findings),
        ("known", out.known),
        ("waived", out.waived),
    ];
    for (kind, findings) in kinds {
        for finding in findings {
            lines.push_str(&line(kind, Some(text.path), finding));
        }
    }
    for one in entry::not_judged(program, judgement) {
        let what = NotJudged {
            line: one.lines.0,
            end_line: one.lines.1,
            rule: one.rule,
            why: &one.why,
        };
        lines.push_str(&line("not-judged", Some(text.path), what));
    }
    for one in rules::missing::missing(program, judgement) {
        lines.push_str(&line("missing-fact", Some(text.path), MissingOut::of(one)));
    }
    lines
}

/// An input that could not be read.
pub(crate) fn unread(path: &str, why: &str) -> String {
    let why = visible::text(why);
    line("unread", Some(path), Unread { why: &why })
}

/// The last line.
pub(crate) fn tail(tally: &Tally) -> String {
    line("summary", None, Summary::of(tally))
}
