//! Reads `ALLOW` notes out of a program's comments.

use lexer::program::Program;
use lexer::source::{Span, decode};

use crate::checks::{RULES, Rule};
use crate::date::Date;
use crate::finding::Finding;
use crate::nearest::nearest;

/// A note that waives a rule.
pub(super) struct Allow {
    pub(super) rule: &'static Rule,
    pub(super) reason: String,
    pub(super) until: Option<Date>,
    pub(super) at: (Span, u32),
    /// The section that it is for: the next one, or the one that it stands in.
    pub(super) section: Option<usize>,
    /// Last line that it reaches.
    last_line: u32,
}

impl Allow {
    /// Whether a finding is one that the note speaks of. A finding about the file as a whole is
    /// covered where it lies between the note and the end of its section.
    pub(super) fn covers(&self, finding: &Finding) -> bool {
        self.rule.name == finding.rule
            && match finding.section {
                Some(section) => Some(section) == self.section,
                None => (self.at.1..=self.last_line).contains(&finding.line),
            }
    }
}

/// A comment that begins with ALLOW.
pub(super) enum Read {
    Allow(Allow),
    Unreadable {
        why: String,
        help: String,
        at: (Span, u32),
    },
}

/// Every ALLOW note of a program, in order.
pub(super) fn all<'a>(bytes: &'a [u8], program: &'a Program) -> impl Iterator<Item = Read> + 'a {
    program.notes.iter().filter_map(|note| {
        let text = behind_allow(note.span.of(bytes))?;
        let text = decode(text);
        let at = (note.span, note.line);
        match parse(&text)? {
            Err((why, help)) => Some(Read::Unreadable { why, help, at }),
            Ok((rule, reason, until)) => {
                let next = program
                    .sections
                    .partition_point(|section| section.last_line < note.line);
                let section = program.sections.get(next);
                Some(Read::Allow(Allow {
                    rule,
                    reason,
                    until,
                    at,
                    section: section.map(|_| next),
                    last_line: section.map_or(u32::MAX, |section| section.last_line),
                }))
            }
        }
    })
}

/// What stands behind the word ALLOW in a comment that begins with it.
fn behind_allow(comment: &[u8]) -> Option<&[u8]> {
    let mut text = comment;
    while let [b'(' | b';' | b'/', rest @ ..] = text {
        text = rest;
    }
    let text = text.trim_ascii();
    let text = match comment {
        [b'(', ..] => text.strip_suffix(b")").unwrap_or(text),
        _ => text,
    };
    let (word, rest) = text.split_at_checked(5)?;
    let blank = rest.first().is_some_and(u8::is_ascii_whitespace);
    (word.eq_ignore_ascii_case(b"ALLOW") && blank).then_some(rest)
}

type Parsed = Result<(&'static Rule, String, Option<Date>), (String, String)>;

/// Rule, reason and last day; or what is wrong and what would be right. None for a comment that
/// happens to begin with the word.
fn parse(text: &str) -> Option<Parsed> {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let written = parts.first().copied().unwrap_or_default();
    let name = written.to_ascii_lowercase().replace(['_', ' '], "-");
    let has_until = parts.last().and_then(|part| until(part));
    let Some(rule) = Rule::named(&name) else {
        let near = nearest(&name, RULES.iter().map(|rule| rule.name));
        // One word with a hyphen is a rule's name; words of a sentence are not.
        let meant = !written.contains(' ') && (written.contains('-') || near.is_some())
            || has_until.is_some();
        return meant.then(|| {
            let help = near.map_or_else(
                || "`flankwise explain` lists the rules".to_owned(),
                |near| format!("did you mean {near}?"),
            );
            Err((format!("there is no rule {name}"), help))
        });
    };
    let (reason, until) = match has_until {
        Some(date) => (&parts[1..parts.len() - 1], Some(date)),
        None => (&parts[1..], None),
    };
    let reason = reason.join(", ");
    let wrong = |why: &str, help: &str| Some(Err((why.to_owned(), help.to_owned())));
    let until = match until {
        None => None,
        Some(text) => match Date::parse(text) {
            Some(date) => Some(date),
            None => {
                return wrong(
                    &format!("`{text}` is no date"),
                    "write the last day as UNTIL year-month-day, such as UNTIL 2027-03-31",
                );
            }
        },
    };
    if !reason.chars().any(char::is_alphanumeric) {
        return wrong(
            "it gives no reason",
            "write why the shop allows it behind the rule's name and a comma",
        );
    }
    Some(Ok((rule, reason, until)))
}

/// The date of `UNTIL 2027-03-31`, as written.
fn until(part: &str) -> Option<&str> {
    let (word, rest) = part.split_at_checked(5)?;
    let blank = rest.is_empty() || rest.starts_with(char::is_whitespace);
    (word.eq_ignore_ascii_case("UNTIL") && blank).then(|| rest.trim())
}
