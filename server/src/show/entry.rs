//! The findings of a program as the formats for machines need them: places as lines and columns,
//! text made visible, owned, so that they outlive the program.

use std::path::Path;

use lexer::program::Program;
use lexer::source::Span;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, percent_encode};
use rules::date::Date;
use rules::finding::{Finding, Fix, FixKind, Severity};
use rules::fingerprint::Print;
use rules::judge::Judgement;
use rules::waive::By;

use super::text::Text;
use super::verdict::Verdict;
use super::visible;

/// One program with what there is to say about it.
#[derive(Debug, Clone)]
pub(crate) struct FileEntry {
    /// The path as shown.
    pub(crate) path: String,
    /// The path as a URI reference: relative to the folder of the run, or absolute.
    pub(crate) uri: String,
    /// Number of threading sections.
    pub(crate) sections: usize,
    /// Findings: those that count first, then known and waived ones.
    pub(crate) entries: Vec<Entry>,
    /// What was not judged.
    pub(crate) not_judged: Vec<NotJudged>,
}

/// A finding.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    pub(crate) rule: &'static str,
    pub(crate) severity: Severity,
    pub(crate) place: Place,
    pub(crate) message: String,
    /// The sum, the source and what to do, line by line.
    pub(crate) details: Vec<String>,
    pub(crate) related: Vec<(Place, String)>,
    pub(crate) fixes: Vec<FixEntry>,
    pub(crate) print: Print,
    pub(crate) state: State,
}

/// What a finding means for a gate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum State {
    /// It counts.
    Counts,
    /// The baseline knows it.
    Known,
    /// A waiver covers it.
    Waived {
        reason: String,
        until: Option<Date>,
        /// In the program rather than in the configuration.
        in_source: bool,
    },
}

/// A fix.
#[derive(Debug, Clone)]
pub(crate) struct FixEntry {
    pub(crate) title: String,
    pub(crate) kind: FixKind,
    pub(crate) edits: Vec<(Place, String)>,
}

/// From a character to another, the end exclusive; lines and columns from 1, columns in
/// characters of the decoded line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Place {
    pub(crate) line: u32,
    pub(crate) column: u32,
    pub(crate) end_line: u32,
    pub(crate) end_column: u32,
}

/// Something that was not judged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NotJudged {
    pub(crate) lines: (u32, u32),
    /// The rule that could not judge; none for text that was not read.
    pub(crate) rule: Option<&'static str>,
    pub(crate) why: String,
}

/// Gathers what there is to say. `path` is the real path.
pub(crate) fn file(
    path: &Path,
    text: Text<'_>,
    program: &Program,
    judgement: &Judgement,
    verdict: &Verdict,
) -> FileEntry {
    let counts = judgement.findings.iter().zip(&verdict.prints);
    let counts = counts.map(|(finding, print)| entry(text, finding, print, State::Counts));
    let known = verdict.known.iter();
    let known = known.map(|(finding, print)| entry(text, finding, print, State::Known));
    let waived = judgement.waived.iter().zip(&verdict.waived);
    let waived = waived.map(|(waived, print)| {
        let state = State::Waived {
            reason: visible::text(&waived.reason).into_owned(),
            until: waived.until,
            in_source: matches!(waived.by, By::Note { .. }),
        };
        entry(text, &waived.finding, print, state)
    });
    FileEntry {
        path: text.path.to_owned(),
        uri: uri(path),
        sections: program.sections.len(),
        entries: counts.chain(known).chain(waived).collect(),
        not_judged: not_judged(program, judgement),
    }
}

/// What was not judged, text that was not read first.
pub(crate) fn not_judged(program: &Program, judgement: &Judgement) -> Vec<NotJudged> {
    let mut not_judged = Vec::new();
    for mark in &program.unread {
        not_judged.push(NotJudged {
            lines: (mark.line, mark.line),
            rule: None,
            why: mark.value.to_owned(),
        });
    }
    for (section, rules) in program.sections.iter().zip(&judgement.not_judged) {
        for (rule, why) in rules {
            not_judged.push(NotJudged {
                lines: (section.first_line, section.last_line),
                rule: Some(rule),
                why: visible::text(why).into_owned(),
            });
        }
    }
    not_judged
}

fn entry(text: Text<'_>, finding: &Finding, print: &Print, state: State) -> Entry {
    let shown = |text: &String| visible::text(text).into_owned();
    let mut details: Vec<String> = finding.because.iter().map(shown).collect();
    if !finding.source.is_empty() {
        details.push(format!("source: {}", visible::text(&finding.source)));
    }
    if !finding.help.is_empty() {
        details.push(format!("help: {}", visible::text(&finding.help)));
    }
    Entry {
        rule: finding.rule,
        severity: finding.severity,
        place: place(text, finding.span),
        message: shown(&finding.message),
        details,
        related: finding
            .related
            .iter()
            .map(|related| (place(text, related.span), shown(&related.text)))
            .collect(),
        fixes: finding.fixes.iter().map(|one| fix(text, one)).collect(),
        print: print.clone(),
        state,
    }
}

fn fix(text: Text<'_>, fix: &Fix) -> FixEntry {
    FixEntry {
        title: visible::text(&fix.title).into_owned(),
        kind: fix.kind,
        edits: fix
            .edits
            .iter()
            .map(|edit| (place(text, edit.span), edit.text.clone()))
            .collect(),
    }
}

pub(crate) fn place(text: Text<'_>, span: Span) -> Place {
    let (line, column) = text.place(span.start);
    let (end_line, end_column) = text.place(span.end.max(span.start));
    Place {
        line,
        column,
        end_line,
        end_column,
    }
}

/// Characters that stay as they are in the path of a URI (RFC 3986, section 3.3).
const PATH: &AsciiSet = &NON_ALPHANUMERIC
    .remove(b'-')
    .remove(b'.')
    .remove(b'_')
    .remove(b'~')
    .remove(b'/');

/// A path as a URI reference (RFC 3986): relative where the path is.
pub(crate) fn uri(path: &Path) -> String {
    let path = path.strip_prefix(".").unwrap_or(path);
    #[cfg(unix)]
    let bytes = std::os::unix::ffi::OsStrExt::as_bytes(path.as_os_str()).to_vec();
    #[cfg(not(unix))]
    let bytes = path.to_string_lossy().replace('\\', "/").into_bytes();
    let encoded = percent_encode(&bytes, PATH).to_string();
    if path.is_absolute() {
        let slash = if encoded.starts_with('/') { "" } else { "/" };
        format!("file://{slash}{encoded}")
    } else {
        encoded
    }
}

/// Entries of many programs, worst first, and where equally bad in the order of the programs and
/// their places; with the index of the program.
pub(crate) fn worst_first(
    files: &[FileEntry],
    wanted: impl Fn(&Entry) -> bool,
) -> Vec<(usize, &Entry)> {
    let mut all: Vec<(usize, &Entry)> = files
        .iter()
        .enumerate()
        .flat_map(|(index, file)| file.entries.iter().map(move |entry| (index, entry)))
        .filter(|(_, entry)| wanted(entry))
        .collect();
    // Those that count come before those that do not.
    all.sort_by_key(|(_, entry)| {
        let open = entry.state == State::Counts;
        (std::cmp::Reverse(open), std::cmp::Reverse(entry.severity))
    });
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Examples of RFC 3986: section 2.1 (percent-encoding), 4.2 (a colon in the first segment).
    #[test]
    fn paths_become_references() {
        for (path, wanted) in [
            ("lathe2/O1200.NC", "lathe2/O1200.NC"),
            ("./lathe2/O1200", "lathe2/O1200"),
            ("a b/c%d#e?.nc", "a%20b/c%25d%23e%3F.nc"),
            ("a:b.nc", "a%3Ab.nc"),
            ("Welle_\u{fc}.nc", "Welle_%C3%BC.nc"),
            ("../old/O1", "../old/O1"),
        ] {
            assert_eq!(uri(Path::new(path)), wanted);
        }
        if cfg!(unix) {
            assert_eq!(uri(Path::new("/srv/nc/O1")), "file:///srv/nc/O1");
        }
    }
}
