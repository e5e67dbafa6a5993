//! One thread at length on the page.

use maud::{Markup, html};
use rules::audit::program::Planned;
use rules::rewrite::plan::State;

use crate::report::charts::{self, Words};
use crate::report::page::{list, safe};
use crate::report::words::{known, known_hours, name, planned};
use crate::report::{Detail, Report};
use crate::show::lengths::{plain, trimmed};

/// The thread: figures, drawings, charts, findings.
pub(super) fn article(report: &Report, one: &Detail, nth: usize) -> Markup {
    let summed = &report.audit.summed;
    let row = &summed.rows[one.row];
    let thread = summed.thread(row);
    let program = &summed.programs[row.program];
    let place = summed.place(row);
    let id = format!("t{nth}");
    let findings = program.findings.iter();
    let findings: Vec<_> = findings
        .filter(|found| found.thread == Some(row.thread))
        .collect();
    html! {
        article aria-labelledby=(id) {
            h3 id=(id) { (nth + 1) ". " (safe(&name(thread))) ", " (safe(&place)) }
            p {
                (thread.kind.name()) " " (thread.syntax.name())
                @if let Some(side) = thread.side { ", " (side.name()) }
                @if let Some(tool) = &thread.tool { ", tool " (safe(tool)) }
                @if let Some(rpm) = thread.rpm { ", " (trimmed(rpm, 2)) " 1/min" }
                ". "
                @if !matches!(thread.planned, Planned::Not(_)) { "Plan: " }
                (safe(&planned(thread))) "."
                @if row.hours_year.is_some() {
                    " " (known_hours(row.hours_year)) " h a year"
                    @if row.saved_year.is_some_and(|saved| saved > 0.0) {
                        ", " span.good { (known_hours(row.saved_year)) " h saved" }
                    }
                    "."
                }
                @if let Some(money) = row.money_year.filter(|money| *money > 0.0) {
                    " Machine time worth " (plain(money, 0)) " "
                    (safe(summed.quantities[row.program].currency.as_deref().unwrap_or("")))
                    " a year."
                }
            }
            @if let Some((before, after)) = &one.states { (states(before, after.as_ref())) }
            @if let Some((now, least)) = one.edge {
                p {
                    "An edge lasts for " (trimmed(now, 1)) " parts now; after the change it must last for at least "
                    (trimmed(least.ceil(), 0)) " for the change to pay."
                }
            }
            div.pair {
                @for (drawing, how) in one.drawings.iter().zip(["as written", "by the plan"]) {
                    @if let Some(drawing) = drawing {
                        figure { (drawing.markup()) figcaption { "What each pass takes, " (how) ", to scale." } }
                    }
                }
            }
            div.pair { (areas(one, nth)) (front(one, nth)) }
            @if !findings.is_empty() {
                ul {
                    @for found in findings {
                        li {
                            span class=(found.severity.name()) { (found.severity.name()) }
                            " line " (found.line) ", " (found.rule) ": " (safe(&found.message))
                        }
                    }
                }
            }
            @if !(one.limits.is_empty() && one.notes.is_empty() && one.new_findings.is_empty()) {
                details {
                    summary { "Limits and assumptions of the plan" }
                    (list(one.limits.iter().chain(&one.notes).map(String::as_str)))
                    @for finding in &one.new_findings {
                        p.warning { "new finding with the plan: " (safe(finding)) }
                    }
                }
            }
            p.soft { "Time: " (safe(&thread.time_basis)) "." }
        }
    }
}

fn states(before: &State, after: Option<&State>) -> Markup {
    type Cell = (&'static str, fn(&State) -> Option<String>);
    let rows: [Cell; 8] = [
        ("passes", |s| Some(s.passes.to_string())),
        ("of one start without new depth", |s| {
            Some(s.springs.to_string())
        }),
        ("first pass, mm", |s| Some(plain(s.first_mm, 3))),
        ("last step, mm", |s| Some(plain(s.last_mm, 3))),
        ("heaviest pass, mm²", |s| Some(plain(s.peak_mm2, 4))),
        ("heaviest pass, N (estimate for comparison)", |s| {
            s.peak_n.map(|force| plain(force, 0))
        }),
        ("speed, 1/min", |s| s.rpm.map(|rpm| trimmed(rpm, 2))),
        ("seconds a part", |s| {
            s.seconds.map(|seconds| plain(seconds, 1))
        }),
    ];
    html! {
        div.scroll {
            table {
                caption { "Before and after" }
                thead {
                    tr {
                        th scope="col" { "figure" }
                        th.n scope="col" { "as written" }
                        @if after.is_some() { th.n scope="col" { "by the plan" } }
                    }
                }
                tbody {
                    @for (what, cell) in rows {
                        @if let Some(was) = cell(before) {
                            tr {
                                th scope="row" { (what) }
                                td.n { (was) }
                                @if let Some(after) = after { td.n { (cell(after).unwrap_or_default()) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn areas(one: &Detail, nth: usize) -> Markup {
    let [before, after] = &one.bars;
    let list = |bars: &[rules::audit::detail::Bar]| {
        let all = bars.iter().map(|bar| known(bar.area_mm2, 3));
        all.collect::<Vec<_>>().join(", ")
    };
    let mut words = format!(
        "Chip area of each pass in mm² as written: {}.",
        list(before)
    );
    if !after.is_empty() {
        words.push_str(&format!(" By the plan: {}.", list(after)));
    }
    let chart = charts::pass_areas(
        &Words {
            id: &format!("a{nth}"),
            title: "Chip area of each pass",
            words: &words,
        },
        before,
        after,
    );
    html! {
        @if let Some(chart) = chart {
            figure { (chart) figcaption { "Chip area of each pass: even bars load the edge evenly." } }
        }
    }
}

fn front(one: &Detail, nth: usize) -> Markup {
    let Some((before, after)) = &one.states else {
        return html! {};
    };
    let points: Vec<String> = one
        .front
        .iter()
        .filter_map(|point| {
            let seconds = point.seconds?;
            Some(format!(
                "{} passes {:.1} s {:.3} mm²",
                point.passes, seconds, point.peak_mm2
            ))
        })
        .collect();
    let words = format!(
        "The lightest split of each number of passes: {}.",
        points.join("; ")
    );
    let chart = charts::front(
        &Words {
            id: &format!("f{nth}"),
            title: "Time against the heaviest pass",
            words: &words,
        },
        &one.front,
        before,
        after.as_ref(),
    );
    html! {
        @if let Some(chart) = chart {
            figure {
                (chart)
                figcaption {
                    "Time against the heaviest pass; the numbers count the passes of one start. "
                    "A point above the line is heavier than its number of passes needs."
                }
            }
        }
    }
}
