//! The audit as Markdown.

use std::fmt::Write as _;

use super::Report;
use super::words::{
    ASSUMPTIONS, CAUTIONS, confidence, known, known_hours, left_out, name, planned, sources,
    verdict,
};
use crate::show::visible;

/// Most rows of a table.
const MOST: usize = 100;

/// The document.
pub(crate) fn document(report: &Report) -> String {
    let audit = &report.audit;
    let mut out = String::from("# Threading audit\n\n");
    if let Some(date) = &report.date {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{}\n", safe(date));
    }
    for (at, sentence) in verdict(audit).iter().enumerate() {
        let strong = if at == 0 { "**" } else { "" };
        let _ = writeln!(out, "{strong}{}{strong}  ", safe(sentence));
    }
    let _ = writeln!(out, "{}\n", safe(&confidence(audit)));
    let summed = &audit.summed;
    table(
        &mut out,
        "Where the hours go",
        &[
            "thread", "place", "h a year", "h saved", "s a part", "s after", "plan",
        ],
        summed.rows.iter().map(|row| {
            let thread = summed.thread(row);
            vec![
                name(thread),
                summed.place(row),
                known_hours(row.hours_year),
                known_hours(row.saved_year),
                known(thread.total(), 1),
                known(thread.total_after(), 1),
                planned(thread),
            ]
        }),
    );
    table(
        &mut out,
        "The same thread",
        &[
            "thread",
            "side",
            "times",
            "programs",
            "passes",
            "h a year",
            "s a part each",
            "s saved",
        ],
        audit.clusters.iter().map(|one| {
            let (least, most) = one.passes;
            vec![
                one.name.clone(),
                one.side.to_owned(),
                one.rows.len().to_string(),
                one.programs.to_string(),
                if least == most {
                    least.to_string()
                } else {
                    format!("{least} to {most}")
                },
                known_hours(one.hours),
                known(Some(one.seconds), 1),
                known(Some(one.saved_seconds), 1),
            ]
        }),
    );
    table(
        &mut out,
        "What is wrong",
        &[
            "rule", "worst", "errors", "warnings", "advice", "programs", "first",
        ],
        audit.wrong.iter().map(|one| {
            let [errors, warnings, advice] = one.counts.map(|count| count.to_string());
            vec![
                one.rule.to_owned(),
                one.worst.name().to_owned(),
                errors,
                warnings,
                advice,
                one.programs.to_string(),
                format!("{}: {}", one.first.0, one.first.1),
            ]
        }),
    );
    table(
        &mut out,
        "What could not be judged",
        &["missing", "threads", "h a year", "settled by", "rules"],
        audit.missing.iter().map(|one| {
            let rules: Vec<&str> = one.rules.iter().copied().collect();
            vec![
                one.what.clone(),
                one.threads.to_string(),
                known_hours(Some(one.hours)),
                one.settle.clone().unwrap_or_default(),
                rules.join(", "),
            ]
        }),
    );
    table(
        &mut out,
        "Not planned",
        &["threads", "why", "first"],
        audit
            .not_planned
            .iter()
            .map(|one| vec![one.threads.to_string(), one.text.clone(), one.first.clone()]),
    );
    list(&mut out, "Left out", &left_out(report));
    let assumed = audit.assumed.iter();
    let assumed = assumed.map(|one| format!("{} ({} threads)", one.text, one.threads));
    let all = ASSUMPTIONS.iter().map(|text| (*text).to_owned());
    list(
        &mut out,
        "Assumptions",
        &all.chain(assumed).collect::<Vec<_>>(),
    );
    list(&mut out, "Cautions", &CAUTIONS.map(str::to_owned));
    list(&mut out, "Sources", &sources(audit));
    let files = report.facts.iter().chain(&report.programs);
    let files: Vec<_> = files
        .map(|(path, hash)| vec![path.clone(), hash.clone()])
        .collect();
    table(&mut out, "Files", &["file", "SHA-256"], files.into_iter());
    out
}

fn table(
    out: &mut String,
    title: &str,
    head: &[&str],
    rows: impl ExactSizeIterator<Item = Vec<String>>,
) {
    let count = rows.len();
    if count == 0 {
        return;
    }
    let _ = writeln!(out, "## {title}\n\n| {} |", head.join(" | "));
    let _ = writeln!(out, "|{}", " --- |".repeat(head.len()));
    for row in rows.take(MOST) {
        let cells: Vec<String> = row.iter().map(|cell| safe(cell)).collect();
        let _ = writeln!(out, "| {} |", cells.join(" | "));
    }
    if count > MOST {
        let _ = writeln!(out, "\nand {} more", count - MOST);
    }
    out.push('\n');
}

fn list(out: &mut String, title: &str, items: &[String]) {
    if items.is_empty() {
        return;
    }
    let _ = writeln!(out, "## {title}\n");
    for item in items {
        let _ = writeln!(out, "- {}", safe(item));
    }
    out.push('\n');
}

/// A text that Markdown takes for nothing but text.
fn safe(text: &str) -> String {
    let mut shown = String::with_capacity(text.len() + 8);
    for c in visible::text(text).chars() {
        match c {
            // Not even a sign of its own is left to tags.
            '<' => shown.push_str("&lt;"),
            '>' => shown.push_str("&gt;"),
            '&' => shown.push_str("&amp;"),
            '\\' | '|' | '`' | '*' | '_' | '[' | ']' | '#' | '~' | '$' | '!' => {
                shown.push('\\');
                shown.push(c);
            }
            _ => shown.push(c),
        }
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::safe;

    #[test]
    fn nothing_is_markup() {
        assert_eq!(
            safe("a|b `c` <d> [e](f)"),
            "a\\|b \\`c\\` &lt;d&gt; \\[e\\](f)"
        );
        assert_eq!(safe("a\nb"), "a␊b");
        assert_eq!(safe("M24x3-6g"), "M24x3-6g");
    }
}
