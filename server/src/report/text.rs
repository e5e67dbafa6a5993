//! The audit in short, for a terminal.

use std::fmt::Write as _;

use super::Report;
use super::words::{
    CAUTIONS, confidence, known, known_hours, left_out, name, planned, top_programs, verdict,
};
use crate::show::text::plural;
use crate::show::visible;

/// Most lines of each list.
const MOST: usize = 10;

/// The summary; ends with a line end.
pub(crate) fn summary(report: &Report) -> String {
    let audit = &report.audit;
    let mut out = String::new();
    let mut line = |text: &str| {
        let text = visible::text(text);
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{}", text.trim_end());
    };
    if let Some(date) = &report.date {
        line(&format!("audit of {date}"));
    }
    for sentence in verdict(audit) {
        line(&sentence);
    }
    line(&confidence(audit));
    if !audit.summed.rows.is_empty() {
        line("");
        line("where the hours go");
        line("    h a year  h saved  s a part  s after  thread");
        for row in audit.summed.rows.iter().take(MOST) {
            let thread = audit.summed.thread(row);
            line(&format!(
                "  {:>10}  {:>7}  {:>8}  {:>7}  {}  {}: {}",
                known_hours(row.hours_year),
                known_hours(row.saved_year),
                known(thread.total(), 1),
                known(thread.total_after(), 1),
                audit.summed.place(row),
                name(thread),
                planned(thread),
            ));
        }
        more(&mut line, audit.summed.rows.len(), "thread", "threads");
        let (unit, programs) = top_programs(audit, 3);
        let names: Vec<String> = programs
            .iter()
            .map(|(path, before, _)| format!("{path} {before:.1}"))
            .collect();
        if audit.totals.with_threads > 1 && !names.is_empty() {
            line(&format!(
                "  programs with most {unit}: {}",
                names.join(", ")
            ));
        }
    }
    if !audit.clusters.is_empty() {
        line("");
        line("the same thread");
        for cluster in audit.clusters.iter().take(MOST) {
            let (least, most) = cluster.passes;
            let passes = if least == most {
                format!("{least} passes each")
            } else {
                format!("{least} to {most} passes, {} ways", cluster.ways)
            };
            line(&format!(
                "  {} {} {}: {} in {}, {passes}; {:.1} s, {:.1} s to save",
                cluster.name,
                cluster.kind.name(),
                cluster.side,
                plural(cluster.rows.len(), "time", "times"),
                plural(cluster.programs, "program", "programs"),
                cluster.seconds,
                cluster.saved_seconds,
            ));
        }
        more(&mut line, audit.clusters.len(), "thread", "threads");
    }
    if !audit.wrong.is_empty() {
        line("");
        line("what is wrong");
        for one in audit.wrong.iter().take(MOST) {
            let [errors, warnings, advice] = one.counts;
            line(&format!(
                "  {}[{}]: {}, {}, {advice} advice in {}; first {}: {}",
                one.worst.name(),
                one.rule,
                plural(errors, "error", "errors"),
                plural(warnings, "warning", "warnings"),
                plural(one.programs, "program", "programs"),
                one.first.0,
                one.first.1,
            ));
        }
        more(&mut line, audit.wrong.len(), "rule", "rules");
    }
    if !audit.missing.is_empty() {
        line("");
        line("what could not be judged, and what settles it");
        for one in audit.missing.iter().take(MOST) {
            let settle = one.settle.as_deref().unwrap_or("no key is known for it");
            let rules: Vec<&str> = one.rules.iter().copied().collect();
            line(&format!(
                "  {} in {}, first {}: {settle} (for {})",
                one.what,
                plural(one.threads, "thread", "threads"),
                one.first,
                rules.join(", "),
            ));
        }
        more(&mut line, audit.missing.len(), "fact", "facts");
    }
    let out_of = left_out(report);
    let reasons = audit.not_planned.iter().map(|reason| {
        let threads = plural(reason.threads, "thread", "threads");
        format!(
            "{threads} not planned, first {}: {}",
            reason.first, reason.text
        )
    });
    let assumed = audit.assumed.iter().map(|reason| {
        let threads = plural(reason.threads, "thread", "threads");
        format!("assumed for {threads}: {}", reason.text)
    });
    let notes: Vec<String> = out_of.into_iter().chain(reasons).chain(assumed).collect();
    if !notes.is_empty() {
        line("");
        for note in notes.iter().take(2 * MOST) {
            line(&format!("note: {note}"));
        }
    }
    if audit.totals.faster + audit.totals.lighter > 0 {
        line("");
        for caution in CAUTIONS {
            line(&format!("caution: {caution}"));
        }
    }
    out
}

fn more(line: &mut impl FnMut(&str), count: usize, one: &str, many: &str) {
    if count > MOST {
        let left = plural(count - MOST, one, many);
        line(&format!(
            "  and {left} more: --format html, csv or json has all"
        ));
    }
}
