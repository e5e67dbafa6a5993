//! A finding as text for the snapshots.

use std::fmt::Write;

use ::rules::finding::Finding;
use lexer::source::{Lines, Span};

use super::mend::apply;

/// Everything that a finding says, with the lines that its fixes change.
pub(super) fn finding(finding: &Finding, text: &[u8]) -> String {
    let lines = Lines::new(text);
    let place = |span: Span| {
        let (line, column) = lines.line_column(span.start);
        format!(
            "{line}:{column} `{}`",
            String::from_utf8_lossy(span.of(text))
        )
    };
    let mut out = String::new();
    let mut add = |line: String| {
        out.push_str(&line);
        out.push('\n');
    };
    add(format!(
        "{}[{}] {}",
        finding.severity.name(),
        finding.rule,
        place(finding.span)
    ));
    assert_eq!(finding.line, lines.line(finding.span.start));
    add(finding.message.clone());
    for line in &finding.because {
        add(format!("  sum: {line}"));
    }
    add(format!("  source: {}", finding.source));
    add(format!("  help: {}", finding.help));
    for related in &finding.related {
        assert_eq!(related.line, lines.line(related.span.start));
        add(format!("  see {}: {}", place(related.span), related.text));
    }
    for fix in &finding.fixes {
        add(format!("  fix ({}): {}", fix.kind.name(), fix.title));
        add(changed(text, &apply(text, fix)));
    }
    out
}

fn changed(before: &[u8], after: &[u8]) -> String {
    let (before, after) = (
        String::from_utf8_lossy(before),
        String::from_utf8_lossy(after),
    );
    let old: Vec<&str> = before.lines().collect();
    let new: Vec<&str> = after.lines().collect();
    let same = |pair: &(&&str, &&str)| pair.0 == pair.1;
    let head = old.iter().zip(&new).take_while(same).count();
    let rest = old[head..].iter().rev().zip(new[head..].iter().rev());
    let tail = rest.take_while(same).count();
    let mut out = String::new();
    for line in &old[head..old.len() - tail] {
        let _ = writeln!(out, "    - {line}");
    }
    for line in &new[head..new.len() - tail] {
        let _ = writeln!(out, "    + {line}");
    }
    out.trim_end().to_owned()
}
