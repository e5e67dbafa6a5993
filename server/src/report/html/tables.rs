//! The tables of the page.

use maud::{Markup, html};
use rules::finding::Severity;

use crate::report::Report;
use crate::report::page::{Column, cell, list, safe, table};
use crate::report::words::{hours, known, known_hours, name, planned};

/// Every thread in the order of the hours.
pub(super) fn threads(report: &Report) -> Markup {
    let summed = &report.audit.summed;
    let columns = [
        Column("rank", true),
        Column("place", false),
        Column("thread", false),
        Column("side", false),
        Column("syntax", false),
        Column("h a year", true),
        Column("h saved", true),
        Column("s a part", true),
        Column("s after", true),
        Column("passes", true),
        Column("findings", false),
        Column("plan", false),
    ];
    let rows = summed.rows.iter().enumerate().map(|(rank, row)| {
        let thread = summed.thread(row);
        let findings = summed.programs[row.program].findings.iter();
        let its: Vec<_> = findings
            .filter(|found| found.thread == Some(row.thread))
            .collect();
        let worst = its.iter().map(|found| found.severity).max();
        vec![
            html! { (rank + 1) },
            cell(&summed.place(row)),
            cell(&name(thread)),
            cell(thread.side.map_or("unknown", |side| side.name())),
            cell(thread.syntax.name()),
            cell(&known_hours(row.hours_year)),
            cell(&known_hours(row.saved_year)),
            cell(&known(thread.total(), 1)),
            cell(&known(thread.total_after(), 1)),
            html! { (thread.passes) },
            match worst {
                None => html! { "none" },
                Some(worst) => {
                    let rules: Vec<&str> = its.iter().map(|found| found.rule).collect();
                    html! { (severity(worst)) ": " (rules.join(", ")) }
                }
            },
            cell(&planned(thread)),
        ]
    });
    html! {
        p.tools {
            label for="filter" { "Show rows that hold " }
            input #filter type="search" autocomplete="off";
        }
        (table("threads", "Every threading section; ? is not known. A head sorts its column.", &columns, rows))
    }
}

fn severity(severity: Severity) -> Markup {
    html! { span class=(severity.name()) { (severity.name()) } }
}

/// Threads that are the same.
pub(super) fn clusters(report: &Report) -> Markup {
    let summed = &report.audit.summed;
    let columns = [
        Column("thread", false),
        Column("side", false),
        Column("made by", false),
        Column("times", true),
        Column("programs", true),
        Column("fewest passes", true),
        Column("most passes", true),
        Column("h a year", true),
        Column("h saved", true),
        Column("s one each", true),
        Column("s saved", true),
        Column("places", false),
    ];
    let rows = report.audit.clusters.iter().map(|one| {
        let places = one
            .rows
            .iter()
            .take(6)
            .map(|at| summed.place(&summed.rows[*at]));
        let mut places: Vec<String> = places.collect();
        if one.rows.len() > places.len() {
            places.push(format!("and {} more", one.rows.len() - places.len()));
        }
        vec![
            cell(&one.name),
            cell(one.side),
            cell(one.kind.name()),
            html! { (one.rows.len()) },
            html! { (one.programs) },
            html! { (one.passes.0) },
            html! { (one.passes.1) },
            cell(&known_hours(one.hours)),
            cell(&known_hours(one.saved_hours)),
            cell(&known(Some(one.seconds), 1)),
            cell(&known(Some(one.saved_seconds), 1)),
            cell(&places.join(", ")),
        ]
    });
    table(
        "clusters",
        "Threads with the same designation, side, lead and starts: one mended split serves them all",
        &columns,
        rows,
    )
}

/// Findings by rule.
pub(super) fn wrong(report: &Report) -> Markup {
    let columns = [
        Column("rule", false),
        Column("worst", false),
        Column("errors", true),
        Column("warnings", true),
        Column("advice", true),
        Column("programs", true),
        Column("h a year", true),
        Column("with a fix", true),
        Column("first place", false),
        Column("what", false),
    ];
    let rows = report.audit.wrong.iter().map(|one| {
        let [errors, warnings, advice] = one.counts;
        vec![
            cell(one.rule),
            severity(one.worst),
            html! { (errors) },
            html! { (warnings) },
            html! { (advice) },
            html! { (one.programs) },
            cell(&hours(one.hours)),
            html! { (one.fixes) },
            cell(&one.first.0),
            cell(&one.first.1),
        ]
    });
    html! {
        (table("rules", "Findings by rule, worst first; the hours are those of the threads concerned", &columns, rows))
        p.soft { "flankwise check shows each finding with its sum; flankwise explain RULE shows the rule." }
    }
}

/// What could not be judged, planned or read.
pub(super) fn open(report: &Report, left: &[String]) -> Markup {
    let missing = [
        Column("missing", false),
        Column("threads", true),
        Column("programs", true),
        Column("h a year", true),
        Column("settled by", false),
        Column("keeps from being judged", false),
        Column("first", false),
    ];
    let rows = report.audit.missing.iter().map(|one| {
        let rules: Vec<&str> = one.rules.iter().copied().collect();
        vec![
            cell(&one.what),
            html! { (one.threads) },
            html! { (one.programs) },
            cell(&hours(one.hours)),
            cell(one.settle.as_deref().unwrap_or("no key is known for it")),
            cell(&rules.join(", ")),
            cell(&one.first),
        ]
    });
    let not_planned = [
        Column("threads", true),
        Column("why", false),
        Column("first", false),
    ];
    let reasons = report
        .audit
        .not_planned
        .iter()
        .map(|one| vec![html! { (one.threads) }, cell(&one.text), cell(&one.first)]);
    html! {
        @if !report.audit.missing.is_empty() {
            (table("missing", "Facts that are missing, and what settles each", &missing, rows))
        }
        @if !report.audit.not_planned.is_empty() {
            (table("unplanned", "Threads without a plan", &not_planned, reasons))
        }
        @if !left.is_empty() {
            h3 { "Left out" }
            (list(left.iter().map(String::as_str)))
        }
    }
}

/// The files with their hashes.
pub(super) fn files(report: &Report) -> Markup {
    let count = report.programs.len() + report.facts.len();
    html! {
        details open[count <= 50] {
            summary { (count) " files with their SHA-256" }
            div.scroll {
                table {
                    caption { "What this report was made from" }
                    thead { tr { th scope="col" { "file" } th scope="col" { "SHA-256" } } }
                    tbody {
                        @for (path, hash) in report.facts.iter().chain(&report.programs) {
                            tr { td.p { (safe(path)) } td.h { (hash) } }
                        }
                    }
                }
            }
        }
    }
}
