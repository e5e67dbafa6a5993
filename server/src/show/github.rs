//! Workflow commands: lines that a code host's runner turns into notes beside the code. What
//! would end a command early is escaped as the runner's library does it: `%`, CR and LF in the
//! text, `:` and `,` too in a property (from memory).

use std::fmt::Write as _;

use rules::finding::Severity;

use super::entry::{Entry, FileEntry, State, worst_first};
use super::text::Tally;

/// Notes of one kind that a runner shows for one step (from memory); the worst come first.
const SHOWN: usize = 10;

/// The commands, and the summary as plain text at the end.
pub(crate) fn document(files: &[FileEntry], unread: &[(String, String)], tally: &Tally) -> String {
    let mut out = String::new();
    for (path, why) in unread {
        let _ = writeln!(
            out,
            "::error file={},title=not read::{}",
            property(path),
            text(&super::visible::text(why))
        );
    }
    let mut counts = [unread.len(), 0, 0];
    for (index, entry) in worst_first(files, |entry| entry.state == State::Counts) {
        counts[match entry.severity {
            Severity::Error => 0,
            Severity::Warning => 1,
            Severity::Advice => 2,
        }] += 1;
        let _ = writeln!(out, "{}", command(&files[index].path, entry));
    }
    if counts.iter().any(|count| *count > SHOWN) {
        let _ = writeln!(
            out,
            "a step may show {SHOWN} notes of each kind only; the worst come first"
        );
    }
    out.push_str(&tally.summary());
    out
}

fn command(path: &str, entry: &Entry) -> String {
    let kind = match entry.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Advice => "notice",
    };
    let place = entry.place;
    let mut properties = format!("file={},line={}", property(path), place.line);
    // Columns are read within one line only.
    if place.end_line == place.line {
        let _ = write!(properties, ",col={}", place.column);
        if place.end_column > place.column {
            let _ = write!(properties, ",endColumn={}", place.end_column);
        }
    } else {
        let _ = write!(properties, ",endLine={}", place.end_line);
    }
    let mut lines = vec![entry.message.clone()];
    lines.extend(entry.details.iter().cloned());
    format!(
        "::{kind} {properties},title={}::{}",
        property(entry.rule),
        text(&lines.join("\n"))
    )
}

fn text(text: &str) -> String {
    text.replace('%', "%25")
        .replace('\r', "%0D")
        .replace('\n', "%0A")
}

fn property(value: &str) -> String {
    text(value).replace(':', "%3A").replace(',', "%2C")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_ends_a_command_early() {
        assert_eq!(text("50 %\r\n::error::x"), "50 %25%0D%0A::error::x");
        assert_eq!(property("a,b:c%\n"), "a%2Cb%3Ac%25%0A");
    }
}
