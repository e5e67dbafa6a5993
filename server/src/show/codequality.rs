//! Code quality JSON: the list of problems that a code host shows beside a merge request. The
//! fields `description`, `check_name`, `fingerprint`, `severity`, `location.path` and
//! `location.lines.begin` are the ones that the host documents (from memory).

use std::hash::Hasher as _;

use rules::finding::Severity;
use serde::Serialize;

use super::entry::{FileEntry, State, worst_first};
use super::json;

#[derive(Serialize)]
struct Problem<'a> {
    description: String,
    check_name: &'a str,
    fingerprint: String,
    severity: &'static str,
    location: Location<'a>,
}

#[derive(Serialize)]
struct Location<'a> {
    path: &'a str,
    lines: Lines,
}

#[derive(Serialize)]
struct Lines {
    begin: u32,
    end: u32,
}

/// The document: findings worst first, then inputs that could not be read.
pub(crate) fn document(files: &[FileEntry], unread: &[(String, String)]) -> String {
    let open = worst_first(files, |entry| entry.state == State::Counts);
    let mut problems: Vec<String> = open
        .into_iter()
        .map(|(index, entry)| {
            let path = files[index].path.as_str();
            let print = &entry.print;
            json::print(&Problem {
                description: entry.message.clone(),
                check_name: entry.rule,
                fingerprint: unique(&[path, &print.hash, &print.number.to_string()]),
                severity: match entry.severity {
                    Severity::Error => "critical",
                    Severity::Warning => "major",
                    Severity::Advice => "info",
                },
                location: Location {
                    path,
                    lines: Lines {
                        begin: entry.place.line,
                        end: entry.place.end_line,
                    },
                },
            })
        })
        .collect();
    problems.extend(unread.iter().map(|(path, why)| {
        json::print(&Problem {
            description: format!("not read: {}", super::visible::text(why)),
            check_name: "unread",
            fingerprint: unique(&[path, "unread"]),
            severity: "blocker",
            location: Location {
                path,
                lines: Lines { begin: 1, end: 1 },
            },
        })
    }));
    if problems.is_empty() {
        return "[]\n".to_owned();
    }
    format!("[\n{}\n]\n", problems.join(",\n"))
}

/// A name that no other problem of the report has.
fn unique(parts: &[&str]) -> String {
    let mut one = rules::fingerprint::Fnv::default();
    for part in parts {
        one.write(part.as_bytes());
        one.write(b"\0");
    }
    format!("{:016x}", one.finish())
}
