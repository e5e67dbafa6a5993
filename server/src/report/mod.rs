//! The audit of a tree as a report: for a terminal, as CSV, JSON, Markdown and one HTML page.

mod charts;
pub(crate) mod csv;
pub(crate) mod html;
pub(crate) mod json;
pub(crate) mod markdown;
mod page;
pub(crate) mod text;
mod words;

use maud::PreEscaped;
use rules::audit::detail::{Bar, bars, edge_must_last, with_front};
use rules::audit::program::{Planned, Source};
use rules::audit::quantities::Quantity;
use rules::audit::sum::{Audit, Row};
use rules::rewrite::plan::{Point, State};
use rules::table::Seconds;

use crate::show::passes_svg::{Drawing, Passes, drawing};

/// Everything that is reported.
pub(crate) struct Report {
    /// The sums.
    pub(crate) audit: Audit,
    /// Threads shown at length, worst first.
    pub(crate) details: Vec<Detail>,
    /// Programs with their SHA-256, in the order of [`Audit::summed`].
    pub(crate) programs: Vec<(String, String)>,
    /// Configurations and the file of quantities, each with its SHA-256.
    pub(crate) facts: Vec<(String, String)>,
    /// What could not be read, with the reason.
    pub(crate) unread: Vec<(String, String)>,
    /// Columns of the quantities that are not read.
    pub(crate) unused_columns: Vec<String>,
    /// The day that the caller wants to stand on it.
    pub(crate) date: Option<String>,
}

/// A thread at length.
pub(crate) struct Detail {
    /// Its place in the ranking.
    pub(crate) row: usize,
    /// The passes in the form, as written and by the plan.
    pub(crate) drawings: [Option<Drawing>; 2],
    /// The areas of the passes, as written and by the plan.
    pub(crate) bars: [Vec<Bar>; 2],
    /// Seconds as written and by the plan.
    pub(crate) seconds: [Option<Seconds>; 2],
    /// How the depth is split, as written and by the plan.
    pub(crate) states: Option<(State, Option<State>)>,
    /// Time against load.
    pub(crate) front: Vec<Point>,
    /// The limits of the plan with their sources.
    pub(crate) limits: Vec<String>,
    /// What was assumed.
    pub(crate) notes: Vec<String>,
    /// Findings that the plan brings.
    pub(crate) new_findings: Vec<String>,
    /// Parts that an edge lasts for, and must last for after the change.
    pub(crate) edge: Option<(f64, f64)>,
}

impl Detail {
    /// Looks at a thread again; `nth` makes its drawings' ids differ from those of others.
    pub(crate) fn of(source: Source<'_>, audit: &Audit, row: usize, nth: usize) -> Option<Detail> {
        let ranked: &Row = audit.summed.rows.get(row)?;
        let known = audit.summed.thread(ranked);
        let quantity: &Quantity = &audit.summed.quantities[ranked.program];
        let index = ranked.thread;
        let section = source.program.sections.get(index)?;
        let identified = source.judgement.threads.get(index)?;
        let table = source.judgement.tables.get(index)?;
        // A thread that the audit did not plan is not planned here either.
        let plan = match known.planned {
            Planned::Not(_) => None,
            _ => with_front(source, index),
        };
        let better = plan.as_ref().and_then(|plan| plan.better.as_ref());
        let draw = |section, table, heading: &str, id: String| {
            let passes = Passes {
                section,
                identified,
                table,
            };
            drawing(passes, heading, &id, false)
        };
        let after = better.map(|better| &better.reread);
        Some(Detail {
            row,
            drawings: [
                draw(section, table, "As written", format!("p{nth}a")),
                after.and_then(|after| {
                    draw(
                        &after.section,
                        &after.table,
                        "By the plan",
                        format!("p{nth}b"),
                    )
                }),
            ],
            bars: [
                bars(section, table),
                after.map_or_else(Vec::new, |after| bars(&after.section, &after.table)),
            ],
            seconds: [table.seconds, after.and_then(|after| after.table.seconds)],
            states: plan.as_ref().map(|plan| {
                (
                    plan.before.clone(),
                    better.map(|better| better.after.clone()),
                )
            }),
            limits: plan.as_ref().map_or_else(Vec::new, |plan| {
                plan.limits.iter().map(|limit| limit.text()).collect()
            }),
            notes: plan
                .as_ref()
                .map_or_else(Vec::new, |plan| plan.notes.clone()),
            new_findings: after.map_or_else(Vec::new, |after| after.new_findings.clone()),
            front: plan.map_or_else(Vec::new, |plan| plan.front),
            edge: edge_must_last(known, quantity),
        })
    }
}

impl Drawing {
    /// For a page: the SVG element is made by a library that escapes its texts.
    fn markup(&self) -> PreEscaped<&str> {
        PreEscaped(self.svg.trim())
    }
}
