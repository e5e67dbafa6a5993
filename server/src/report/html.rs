//! The audit as one HTML page that needs nothing else: no network, no font, no script but its own.
//!
//! Everything that comes from programs and configuration passes through [`html!`], which escapes
//! it; the page's policy allows its own style and script by their hashes and nothing more.

mod detail;
mod tables;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use super::Report;
use super::charts::{self, Words};
use super::page::{cell, list, part, safe};
use super::words::{
    ASSUMPTIONS, CAUTIONS, confidence, hours, left_out, name, per_cent, sources, top_programs,
    verdict,
};
use crate::show::lengths::plain;
use crate::show::passes_svg::STYLE as DRAWINGS;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");
/// Programs in the chart of those with most hours.
const TOP: usize = 20;

/// The page.
pub(crate) fn document(report: &Report) -> String {
    let style = format!("{STYLE}{DRAWINGS}");
    let policy = format!(
        "default-src 'none'; style-src '{}'; script-src '{}'; base-uri 'none'; form-action 'none'",
        hash(&style),
        hash(SCRIPT)
    );
    let audit = &report.audit;
    let said = verdict(audit);
    let parts = parts(report);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                title { "Threading audit" }
                style { (PreEscaped(&style)) }
            }
            body {
                header {
                    h1 { "Threading audit" }
                    @if let Some(date) = &report.date { p.soft { (safe(date)) } }
                    @for (at, sentence) in said.iter().enumerate() {
                        @if at == 0 { p.lead { (safe(sentence)) } } @else { p { (safe(sentence)) } }
                    }
                    p.soft { (confidence(audit)) }
                    div.caution role="note" aria-label="Cautions" {
                        h2 { "Before anything is changed" }
                        (list(CAUTIONS))
                    }
                }
                nav aria-label="Contents" {
                    ul {
                        @for (id, heading, _) in &parts {
                            li { a href=(format!("#{id}")) { (heading) } }
                        }
                    }
                }
                main {
                    p #said role="status" aria-live="polite" class="soft tools" {}
                    @for (id, heading, inside) in parts {
                        (part(id, heading, inside))
                    }
                }
                footer {
                    p.soft {
                        "Made by flankwise " (env!("CARGO_PKG_VERSION")) " from the files listed under Files. "
                        "The same files give the same page."
                    }
                }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    page.into_string() + "\n"
}

/// A source for the page's policy.
fn hash(text: &str) -> String {
    format!(
        "sha256-{}",
        STANDARD.encode(Sha256::digest(text.as_bytes()))
    )
}

type Part = (&'static str, &'static str, Markup);

/// The parts of the page that have something to say.
fn parts(report: &Report) -> Vec<Part> {
    let audit = &report.audit;
    let some = |wanted: bool, part: Part| wanted.then_some(part);
    let rows = !audit.summed.rows.is_empty();
    let left = left_out(report);
    [
        some(rows, ("sums", "Before and after", sums(report))),
        some(
            !report.details.is_empty(),
            ("worst", "The threads with most to look at", worst(report)),
        ),
        some(rows, ("all", "Every thread", tables::threads(report))),
        some(
            !audit.clusters.is_empty(),
            ("same", "The same thread", tables::clusters(report)),
        ),
        some(
            !audit.wrong.is_empty(),
            ("wrong", "What is wrong", tables::wrong(report)),
        ),
        some(
            !audit.missing.is_empty() || !audit.not_planned.is_empty() || !left.is_empty(),
            (
                "open",
                "What could not be judged",
                tables::open(report, &left),
            ),
        ),
        Some(("assumptions", "Assumptions", assumptions(report))),
        Some((
            "sources",
            "Sources",
            list(sources(audit).iter().map(String::as_str)),
        )),
        Some(("files", "Files", tables::files(report))),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The sums, and the programs with most hours.
fn sums(report: &Report) -> Markup {
    let audit = &report.audit;
    let totals = &audit.totals;
    let line = |what: &str, before: f64, after: f64, show: &dyn Fn(f64) -> String| {
        html! {
            tr {
                th scope="row" { (what) }
                td.n { (show(before)) }
                td.n { (show(after)) }
                td.n { (show(before - after)) }
                td.n { (per_cent(before - after, before)) " %" }
            }
        }
    };
    let (unit, programs) = top_programs(audit, TOP);
    let figures: Vec<String> = programs
        .iter()
        .map(|(path, before, after)| format!("{path} {} to {}", hours(*before), hours(*after)))
        .collect();
    let words = Words {
        id: "top",
        title: "Programs with most threading time",
        words: &format!(
            "{unit}, as written and with the plans: {}.",
            figures.join("; ")
        ),
    };
    html! {
        div.scroll {
            table {
                caption { "Threading time of " (totals.timed) " of " (totals.threads) " threads whose time is known" }
                thead {
                    tr {
                        th scope="col" { "" span { "sum" } }
                        th.n scope="col" { "as written" }
                        th.n scope="col" { "with the plans" }
                        th.n scope="col" { "saved" }
                        th.n scope="col" { "part" }
                    }
                }
                tbody {
                    (line("one part of each program, s", totals.seconds, totals.seconds_after, &|v| plain(v, 1)))
                    @if totals.hours_batch > 0.0 {
                        (line("one batch of each program, h", totals.hours_batch,
                            totals.hours_batch - totals.saved_batch, &hours))
                    }
                    @if totals.with_quantity > 0 {
                        (line("a year, h", totals.hours_year, totals.hours_year - totals.saved_year, &hours))
                    }
                }
            }
        }
        @if let Some(chart) = charts::top_programs(&words, unit, &programs) {
            figure { (chart) figcaption { "Programs with most " (unit) "." } }
        }
    }
}

/// The threads at length.
fn worst(report: &Report) -> Markup {
    let summed = &report.audit.summed;
    let threads: Vec<_> = report
        .details
        .iter()
        .filter_map(|detail| {
            let row = &summed.rows[detail.row];
            let name = format!("{} {}", summed.place(row), name(summed.thread(row)));
            Some((name, detail.seconds[0]?, detail.seconds[1]))
        })
        .collect();
    let figures: Vec<String> = threads
        .iter()
        .map(|(name, before, after)| {
            let after = after.map_or_else(String::new, |after| format!(" to {:.1}", after.total()));
            format!("{name} {:.1}{after} s", before.total())
        })
        .collect();
    let words = Words {
        id: "time",
        title: "What the time is spent on",
        words: &format!("Seconds a part: {}.", figures.join("; ")),
    };
    html! {
        @if let Some(chart) = charts::stacked_time(&words, &threads) {
            figure {
                (chart)
                figcaption { "What the seconds of one part are spent on; out and in is the move across, return the move along the thread." }
            }
        }
        @for (nth, one) in report.details.iter().enumerate() {
            (detail::article(report, one, nth))
        }
    }
}

fn assumptions(report: &Report) -> Markup {
    html! {
        (list(ASSUMPTIONS))
        @if !report.audit.assumed.is_empty() {
            (super::page::table(
                "assumed",
                "What the figures of these programs rest on",
                &[
                    super::page::Column("threads", true),
                    super::page::Column("assumption", false),
                    super::page::Column("first", false),
                ],
                report.audit.assumed.iter().map(|one| {
                    vec![html! { (one.threads) }, cell(&one.text), cell(&one.first)]
                }),
            ))
        }
    }
}
