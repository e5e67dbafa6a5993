//! What every form of the report says in the same words: verdict, assumptions, cautions, sources.

use std::collections::BTreeSet;

use rules::audit::program::{Planned, ThreadAudit};
use rules::audit::sum::Audit;

use super::Report;
use crate::show::lengths::plain;
use crate::show::text::plural;

/// The sentences that sum an audit up, the first the most important.
pub(super) fn verdict(audit: &Audit) -> Vec<String> {
    let totals = &audit.totals;
    let mut said = Vec::new();
    let with = plural(totals.with_threads, "program", "programs");
    if totals.threads == 0 {
        let read = plural(totals.programs, "program", "programs");
        return vec![format!("No threading section in {read}.")];
    }
    let faster = plural(totals.faster, "thread", "threads");
    if totals.with_quantity > 0 {
        said.push(format!(
            "Threading takes {} h a year in {}; plans that are never slower would free {} h of it \
             ({} %), in {faster}.",
            hours(totals.hours_year),
            plural(totals.with_hours, "program", "programs"),
            hours(totals.saved_year),
            per_cent(totals.saved_year, totals.hours_year),
        ));
    }
    let saved = totals.seconds - totals.seconds_after;
    said.push(format!(
        "One part of each of {with} takes {} s of threading; plans would save {} s ({} %).",
        plain(totals.seconds, 1),
        plain(saved, 1),
        per_cent(saved, totals.seconds),
    ));
    if totals.timed < totals.threads {
        let unknown = plural(totals.threads - totals.timed, "thread", "threads");
        said.push(format!("The time of {unknown} is not known and in no sum."));
    }
    if totals.hours_batch > 0.0 {
        said.push(format!(
            "One batch of each takes {} h; plans would save {} h.",
            hours(totals.hours_batch),
            hours(totals.saved_batch)
        ));
    }
    if totals.lighter > 0 {
        let lighter = plural(totals.lighter, "thread", "threads");
        said.push(format!(
            "In {lighter} more a plan takes as long and loads the edge less."
        ));
    }
    said.extend(money(audit));
    let [errors, warnings, advice] = totals.findings;
    said.push(format!(
        "{}, {}, {advice} advice.",
        plural(errors, "error", "errors"),
        plural(warnings, "warning", "warnings")
    ));
    said
}

/// What the hours are worth, or which fact is missing to say so.
fn money(audit: &Audit) -> Vec<String> {
    let totals = &audit.totals;
    let mut said = Vec::new();
    if totals.with_quantity == 0 {
        said.push(
            "No quantities are known, so hours a year and money are not said: give --quantities \
             FILE, or parts_per_batch and batches_per_year in [production] of flankwise.toml."
                .to_owned(),
        );
        return said;
    }
    if totals.with_quantity < totals.with_threads {
        said.push(format!(
            "Parts a year are known for {} of {} programs with threads; the others are ranked by \
             seconds a part and are in no hours.",
            totals.with_quantity, totals.with_threads
        ));
    }
    for (currency, money) in &totals.money {
        let currency = if currency.is_empty() {
            "(no currency is configured)"
        } else {
            currency
        };
        said.push(format!(
            "Machine time worth {} {currency} a year on machines that hold the shop up.",
            plain(*money, 0)
        ));
    }
    let mut hours_said = |value: f64, why: &str| {
        if value > 0.0 {
            said.push(format!("{} h of those saved {why}.", hours(value)));
        }
    };
    hours_said(
        totals.unpriced_hours,
        "are on machines that hold the shop up; what an hour is worth is not stated \
         (rate_per_hour), so no money is said",
    );
    hours_said(
        totals.capacity_hours,
        "are capacity, not money: the machine does not hold the shop up",
    );
    hours_said(
        totals.unsaid_hours,
        "are hours only: nobody has said whether the machine holds the shop up (bottleneck in \
         [production] or in the quantities)",
    );
    said
}

/// How sure the times are.
pub(super) fn confidence(audit: &Audit) -> String {
    let totals = &audit.totals;
    match (totals.calibrated, totals.threads) {
        (0, _) => {
            "All times are estimates from the program text; none is corrected by a stop-watch \
                   (time_factor of a [[machine]])."
                .to_owned()
        }
        (all, threads) if all == threads => {
            "All times are corrected by the stop-watch factor of their machine.".to_owned()
        }
        (some, threads) => format!(
            "The times of {some} of {threads} threads are corrected by the stop-watch factor of \
             their machine; the others are estimates from the program text."
        ),
    }
}

/// What holds for every figure.
pub(super) const ASSUMPTIONS: [&str; 7] = [
    "Times are of the threading sections alone, not of the rest of the program.",
    "A plan keeps the depth, the place and the speed of its thread and splits the depth anew; it is \
     written, read back and compared before it is counted. None is counted that would be slower.",
    "Each plan is made for its thread alone, the rest of its program as it stands.",
    "A thread with an error is not planned: a better split of a wrong thread saves nothing.",
    "Hours are seconds a part times parts a year; no set-up, no scrap, no tool change is in them.",
    "Tool life after a change is not predicted. Where the price and the life of an edge are known, \
     the life that still pays is shown.",
    "Chip areas are those of the tool at hand where its nose is known, of a sharp point otherwise, \
     and of a flat where the form has one.",
];

/// The cautions.
pub(super) const CAUTIONS: [&str; 7] = [
    "This report is arithmetic on program text. It does not know offsets, set-up, work holding or \
     the state of machine and tool, and promises no saving.",
    "Prove every changed program out before it cuts a part: graphics or dry run, without a part or \
     with the tool clear of it, single block where the control allows it in a thread, reduced rapid.",
    "Keep a hand near feed hold. Feed hold and the overrides may not act inside a threading pass.",
    "Cut the first part with the offset on the safe side, check the pitch, gauge it before the batch.",
    "Measure before and after on the same machine, warm, at least three cycles each, before savings \
     are reported (common practice, no source).",
    "The manuals of control and machine, the rules of the shop, local law and qualified staff decide.",
    "A changed program needs the approval that it had before. Where a process is frozen or a first \
     article was approved, a change of the program may ask for a new one (from memory: AS9102).",
];

/// Where the figures come from, those of the findings among them.
pub(super) fn sources(audit: &Audit) -> Vec<String> {
    let mut all: BTreeSet<String> = BTreeSet::new();
    for program in &audit.summed.programs {
        for found in &program.findings {
            if !found.source.is_empty() {
                all.insert(format!("{}: {}", found.rule, found.source));
            }
            // A tree of thousands repeats itself with other numbers.
            if all.len() > 200 {
                break;
            }
        }
    }
    let mut said = vec![
        "Times: stroke at lead times speed, half the time to get to speed, rapids with their \
         acceleration, the wait for the one-turn mark; derived, to be calibrated by stop-watch."
            .to_owned(),
        "Chip areas: plane geometry of the tool in the groove.".to_owned(),
        "Hours and break-even life of an edge: cost of a part = rate × time + edge, the standard form \
         of machining economics in textbooks (known from excerpts)."
            .to_owned(),
    ];
    let books = audit.summed.rows.iter().any(|row| {
        let split = audit.summed.thread(row).better();
        split.is_some_and(|split| split.by_book)
    });
    if books {
        said.push(
            "Limits of plans where nothing is configured: a table of vocational textbooks for 60° \
             threads, from memory; each plan names its own."
                .to_owned(),
        );
    }
    said.extend(all);
    said
}

/// The programs with most hours, or most seconds where no quantity is known, with the plans: name,
/// before, after, and what the figures are.
pub(super) fn top_programs(audit: &Audit, count: usize) -> (&'static str, Vec<(String, f64, f64)>) {
    let with_hours = audit.totals.hours_year > 0.0;
    let mut all: Vec<(String, f64, f64)> = audit
        .summed
        .programs
        .iter()
        .zip(&audit.summed.quantities)
        .filter_map(|(program, quantity)| {
            let factor = if with_hours {
                quantity.parts_per_year? / 3600.0
            } else {
                1.0
            };
            let sum = |seconds: fn(&ThreadAudit) -> Option<f64>| {
                factor * program.threads.iter().filter_map(seconds).sum::<f64>()
            };
            let before = sum(ThreadAudit::total);
            let after = sum(ThreadAudit::total_after);
            (before > 0.0).then(|| (program.path.clone(), before, after))
        })
        .collect();
    // The order of equal ones is that of the paths.
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    all.truncate(count);
    let unit = if with_hours {
        "hours of threading a year"
    } else {
        "seconds of threading a part"
    };
    (unit, all)
}

/// What became of a thread's plan, in a few words.
pub(super) fn planned(thread: &ThreadAudit) -> String {
    match &thread.planned {
        Planned::Better(split) if split.after.passes == split.before.passes => {
            format!("{} passes, lighter", split.after.passes)
        }
        Planned::Better(split) => {
            format!("{} → {} passes", split.before.passes, split.after.passes)
        }
        Planned::Same(_) => "as good as its limits".to_owned(),
        Planned::Not(why) => format!("not planned: {why}"),
    }
}

/// The thread by its name, or by its lead.
pub(super) fn name(thread: &ThreadAudit) -> String {
    match (&thread.designation, thread.lead_mm) {
        (Some((name, _)), _) => name.clone(),
        (None, Some(lead)) => format!("lead {} mm", crate::show::lengths::trimmed(lead, 4)),
        (None, None) => "not named".to_owned(),
    }
}

/// What a reader is told of inputs that are not in the figures.
pub(super) fn left_out(report: &Report) -> Vec<String> {
    let mut said: Vec<String> = report
        .unread
        .iter()
        .map(|(path, why)| format!("{path} could not be read: {why}"))
        .collect();
    said.extend(
        report
            .audit
            .stray_quantities
            .iter()
            .map(|stray| format!("a row of the quantities is not used: {stray}")),
    );
    if !report.unused_columns.is_empty() {
        said.push(format!(
            "columns of the quantities that are not read: {}",
            report.unused_columns.join(", ")
        ));
    }
    said
}

/// Hours with as many digits as they deserve.
pub(super) fn hours(value: f64) -> String {
    plain(value, if value.abs() < 10.0 { 2 } else { 1 })
}

pub(super) fn per_cent(part: f64, whole: f64) -> String {
    if whole > 0.0 {
        plain(100.0 * part / whole, 0)
    } else {
        "0".to_owned()
    }
}

/// A figure that may not be known.
pub(super) fn known(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "?".to_owned(), |value| plain(value, decimals))
}

/// Hours that may not be known.
pub(super) fn known_hours(value: Option<f64>) -> String {
    value.map_or_else(|| "?".to_owned(), hours)
}
