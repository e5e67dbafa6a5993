//! What a change does to each thread: for a terminal, for a review comment, as JSON.

use std::fmt::Write as _;

use rules::compare::{Comparison, Fate, Figures, ThreadChange};
use rules::finding::Finding;
use serde::Serialize;

use super::lengths::trimmed;
use super::{CAUTION, json, visible};

/// One program with what has changed.
pub(crate) struct Compared {
    /// How messages call it now; before where it is gone.
    pub(crate) path: String,
    /// How it was called before, where that is another name.
    pub(crate) old_path: Option<String>,
    /// What has changed.
    pub(crate) comparison: Comparison,
    /// The time budget and whether it is kept.
    pub(crate) budget: Option<Budget>,
}

/// A time budget.
pub(crate) struct Budget {
    /// Most seconds that a change may add.
    pub(crate) seconds: f64,
    /// Where it stands.
    pub(crate) source: String,
}

/// Name of the finding about a budget that is not kept.
pub(crate) const SLOWER: &str = "slower-than-budget";

impl Compared {
    /// The message about the budget, where it is not kept.
    pub(crate) fn over_budget(&self) -> Option<String> {
        let budget = self.budget.as_ref()?;
        let added = self.comparison.added_seconds().ok()?;
        // A hundredth of a second is below what is shown.
        (added > budget.seconds + 0.005).then(|| {
            format!(
                "the change adds {} s to a part, the budget is {} s ({})",
                seconds(added),
                trimmed(budget.seconds, 2),
                visible::text(&budget.source)
            )
        })
    }

    /// Why the budget was not judged, where it was not.
    fn budget_unjudged(&self) -> Option<String> {
        self.budget.as_ref()?;
        self.comparison.added_seconds().err()
    }
}

fn seconds(value: f64) -> String {
    trimmed(value, 1)
}

/// A figure that has changed: what it is, before, after.
struct Row(&'static str, String, String);

const UNKNOWN: &str = "not known";

/// The figures of a thread, in the order of the tables.
fn figures(figures: &Figures) -> Vec<(&'static str, String)> {
    let number = |value: Option<f64>, decimals: usize, unit: &str| {
        value.map_or_else(
            || UNKNOWN.to_owned(),
            |value| format!("{} {unit}", trimmed(value, decimals)),
        )
    };
    let spring = match figures.spring {
        0 => String::new(),
        spring => format!(" ({spring} spring)"),
    };
    vec![
        (
            "thread",
            figures
                .designation
                .clone()
                .unwrap_or_else(|| "not named".to_owned()),
        ),
        ("syntax", figures.syntax.to_owned()),
        (
            "tool",
            figures
                .tool
                .map_or_else(|| UNKNOWN.to_owned(), |tool| format!("T{tool}")),
        ),
        ("passes", format!("{}{spring}", figures.passes)),
        ("depth", number(figures.depth_mm, 3, "mm")),
        ("crest X", number(figures.crest_mm, 3, "mm")),
        ("root X", number(figures.root_mm, 3, "mm")),
        ("lead", number(figures.lead_mm, 6, "mm")),
        ("starts", figures.starts.to_string()),
        ("speed", number(figures.rpm, 1, "1/min")),
        ("infeed", figures.infeed.clone()),
        ("first step", number(figures.first_step_mm, 3, "mm")),
        ("last step", number(figures.last_step_mm, 3, "mm")),
        ("largest chip", number(figures.peak_area_mm2, 4, "mm²")),
        ("start Z", number(figures.z_start_mm, 3, "mm")),
        ("end Z", number(figures.z_end_mm, 3, "mm")),
        ("time", number(figures.seconds, 1, "s")),
    ]
}

/// The rows of a thread: those that differ, and of one that came or went all.
fn rows(thread: &ThreadChange) -> Vec<Row> {
    let side = |one: &Option<Figures>| one.as_ref().map(figures);
    match (side(&thread.before), side(&thread.after)) {
        (Some(before), Some(after)) => before
            .into_iter()
            .zip(after)
            .filter(|(one, other)| one.1 != other.1)
            .map(|(one, other)| Row(one.0, one.1, other.1))
            .collect(),
        (Some(all), None) => all
            .into_iter()
            .map(|(name, value)| Row(name, value, "gone".to_owned()))
            .collect(),
        (None, Some(all)) => all
            .into_iter()
            .map(|(name, value)| Row(name, "new".to_owned(), value))
            .collect(),
        (None, None) => Vec::new(),
    }
}

fn title(thread: &ThreadChange) -> String {
    let figures = thread.after.as_ref().or(thread.before.as_ref());
    let Some(figures) = figures else {
        return String::new();
    };
    let name = figures.designation.as_deref().unwrap_or("thread not named");
    let (first, last) = figures.lines;
    let old = if thread.fate == Fate::Removed {
        "old "
    } else {
        ""
    };
    let lines = if first == last {
        format!("{old}line {first}")
    } else {
        format!("{old}lines {first} to {last}")
    };
    format!("{name}, {lines}: {}", thread.fate.name())
}

fn same(comparison: &Comparison) -> usize {
    comparison
        .threads
        .iter()
        .filter(|thread| thread.fate == Fate::Same)
        .count()
}

fn total(comparison: &Comparison) -> String {
    match comparison.added_seconds() {
        Ok(added) if added.abs() < 0.05 => "no change in time".to_owned(),
        Ok(added) if added < 0.0 => format!("{} s less a part", seconds(-added)),
        Ok(added) => format!("{} s more a part", seconds(added)),
        Err(why) => format!("time not judged: {why}"),
    }
}

fn heading(one: &Compared) -> String {
    match &one.old_path {
        Some(old) => format!("{} (was {old})", one.path),
        None => one.path.clone(),
    }
}

/// For a terminal. Programs that are the same are counted only.
pub(crate) fn text(all: &[Compared]) -> String {
    let mut out = String::new();
    for one in all
        .iter()
        .filter(|one| !one.comparison.is_same() || one.old_path.is_some())
    {
        let comparison = &one.comparison;
        let _ = writeln!(out, "{}: {}", heading(one), total(comparison));
        for thread in comparison
            .threads
            .iter()
            .filter(|thread| thread.fate != Fate::Same)
        {
            let _ = writeln!(out, "  {}", visible::text(&title(thread)));
            for Row(name, before, after) in rows(thread) {
                let (before, after) = (
                    visible::text(&before).into_owned(),
                    visible::text(&after).into_owned(),
                );
                let _ = writeln!(out, "    {name:12}  {before:>18}  ->  {after}");
            }
            told(&mut out, "    ", "new", &thread.new);
            told(&mut out, "    ", "cured", &thread.cured);
        }
        told(&mut out, "  ", "new", &comparison.new);
        told(&mut out, "  ", "cured", &comparison.cured);
        if same(comparison) > 0 {
            let _ = writeln!(
                out,
                "  the same: {}",
                super::text::plural(same(comparison), "thread", "threads")
            );
        }
        if let Some(over) = one.over_budget() {
            let _ = writeln!(out, "  error[{SLOWER}]: {over}");
        }
        if let Some(why) = one.budget_unjudged() {
            let _ = writeln!(out, "  not judged: {SLOWER}: {why}");
        }
        out.push('\n');
    }
    if cut_changed(all) {
        let _ = writeln!(out, "{CAUTION}");
    }
    let _ = writeln!(out, "{}", summary(all));
    out
}

/// Whether a thread is cut another way, so that the cautions are due.
fn cut_changed(all: &[Compared]) -> bool {
    let mut threads = all.iter().flat_map(|one| &one.comparison.threads);
    threads.any(|thread| matches!(thread.fate, Fate::Changed | Fate::Added))
}

fn told(out: &mut String, indent: &str, state: &str, findings: &[Finding]) {
    for finding in findings {
        let _ = writeln!(
            out,
            "{indent}{state}: {}[{}] line {}: {}",
            finding.severity.name(),
            finding.rule,
            finding.line,
            visible::text(&finding.message)
        );
    }
}

fn summary(all: &[Compared]) -> String {
    let changed = all.iter().filter(|one| !one.comparison.is_same()).count();
    let threads = all.iter().flat_map(|one| &one.comparison.threads);
    let threads = threads.filter(|thread| thread.fate != Fate::Same).count();
    let new: usize = all.iter().map(|one| one.comparison.all_new().count()).sum();
    let cured: usize = all
        .iter()
        .map(|one| one.comparison.all_cured().count())
        .sum();
    let plural = super::text::plural;
    format!(
        "{}, {} changed: {}; {}, {cured} cured",
        plural(all.len(), "program", "programs"),
        changed,
        plural(threads, "thread differs", "threads differ"),
        plural(new, "new finding", "new findings"),
    )
}

/// Markdown for a review comment.
pub(crate) fn markdown(all: &[Compared]) -> String {
    let mut out = String::from("## Threads\n\n");
    for one in all
        .iter()
        .filter(|one| !one.comparison.is_same() || one.old_path.is_some())
    {
        let comparison = &one.comparison;
        let was = one
            .old_path
            .as_ref()
            .map_or_else(String::new, |old| format!(" (was {})", code(old)));
        let _ = writeln!(
            out,
            "### {}{was}\n\n{}\n",
            code(&one.path),
            plain(&total(comparison))
        );
        for thread in comparison
            .threads
            .iter()
            .filter(|thread| thread.fate != Fate::Same)
        {
            let _ = writeln!(out, "**{}**\n", plain(&title(thread)));
            let rows = rows(thread);
            if !rows.is_empty() {
                out.push_str("| | before | after |\n| --- | ---: | ---: |\n");
                for Row(name, before, after) in rows {
                    let _ = writeln!(out, "| {name} | {} | {} |", plain(&before), plain(&after));
                }
                out.push('\n');
            }
            listed(&mut out, "new", &thread.new);
            listed(&mut out, "cured", &thread.cured);
        }
        listed(&mut out, "new", &comparison.new);
        listed(&mut out, "cured", &comparison.cured);
        if let Some(over) = one.over_budget() {
            let _ = writeln!(out, "**{SLOWER}**: {}\n", plain(&over));
        }
        if let Some(why) = one.budget_unjudged() {
            let _ = writeln!(out, "not judged: {SLOWER}: {}\n", plain(&why));
        }
    }
    let _ = writeln!(out, "{}\n", plain(&summary(all)));
    if cut_changed(all) {
        let caution: Vec<&str> = CAUTION.lines().map(str::trim).collect();
        let _ = writeln!(out, "> {}", plain(&caution.join(" ")));
    }
    out
}

fn listed(out: &mut String, state: &str, findings: &[Finding]) {
    for finding in findings {
        let _ = writeln!(
            out,
            "- {state} {}: {} in line {}: {}",
            finding.severity.name(),
            code(finding.rule),
            finding.line,
            plain(&finding.message)
        );
    }
    if !findings.is_empty() {
        out.push('\n');
    }
}

/// Text in which nothing is markup.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in visible::text(text).chars() {
        if "\\`*_{}[]<>()#|~&!@".contains(c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

/// Text as code, also within a table.
fn code(text: &str) -> String {
    format!(
        "`{}`",
        visible::text(text).replace('`', "'").replace('|', "\\|")
    )
}

#[derive(Serialize)]
struct Document<'a> {
    version: u32,
    programs: Vec<ProgramOut<'a>>,
    unread: Vec<json::Unread<'a>>,
    summary: SummaryOut,
    caution: &'static str,
}

#[derive(Serialize)]
struct ProgramOut<'a> {
    path: &'a str,
    old_path: Option<&'a str>,
    same: bool,
    threads: Vec<ThreadOut<'a>>,
    new: Vec<FindingOut<'a>>,
    cured: Vec<FindingOut<'a>>,
    added_seconds: Option<f64>,
    added_seconds_unknown: Option<String>,
    time_budget_s: Option<f64>,
    over_budget: Option<String>,
}

#[derive(Serialize)]
struct ThreadOut<'a> {
    change: &'static str,
    differs: Vec<&'static str>,
    before: Option<FiguresOut<'a>>,
    after: Option<FiguresOut<'a>>,
    new: Vec<FindingOut<'a>>,
    cured: Vec<FindingOut<'a>>,
}

#[derive(Serialize)]
struct FiguresOut<'a> {
    designation: Option<&'a str>,
    syntax: &'static str,
    lines: [u32; 2],
    tool: Option<u32>,
    passes: usize,
    spring: usize,
    depth_mm: Option<f64>,
    crest_x_mm: Option<f64>,
    root_x_mm: Option<f64>,
    lead_mm: Option<f64>,
    starts: u32,
    rpm: Option<f64>,
    infeed: &'a str,
    first_step_mm: Option<f64>,
    last_step_mm: Option<f64>,
    peak_area_mm2: Option<f64>,
    z_start_mm: Option<f64>,
    z_end_mm: Option<f64>,
    seconds: Option<f64>,
}

#[derive(Serialize)]
struct FindingOut<'a> {
    rule: &'static str,
    severity: &'static str,
    line: u32,
    message: &'a str,
}

#[derive(Serialize)]
struct SummaryOut {
    programs: usize,
    changed: usize,
    threads: usize,
    new: usize,
    cured: usize,
    unread: usize,
}

fn figures_out(figures: &Figures) -> FiguresOut<'_> {
    let nine = |value: Option<f64>| value.map(|value| json::round(value, 9));
    FiguresOut {
        designation: figures.designation.as_deref(),
        syntax: figures.syntax,
        lines: [figures.lines.0, figures.lines.1],
        tool: figures.tool,
        passes: figures.passes,
        spring: figures.spring,
        depth_mm: nine(figures.depth_mm),
        crest_x_mm: nine(figures.crest_mm),
        root_x_mm: nine(figures.root_mm),
        lead_mm: nine(figures.lead_mm),
        starts: figures.starts,
        rpm: figures.rpm,
        infeed: &figures.infeed,
        first_step_mm: nine(figures.first_step_mm),
        last_step_mm: nine(figures.last_step_mm),
        peak_area_mm2: figures.peak_area_mm2.map(|area| json::round(area, 6)),
        z_start_mm: nine(figures.z_start_mm),
        z_end_mm: nine(figures.z_end_mm),
        seconds: figures.seconds.map(|seconds| json::round(seconds, 3)),
    }
}

fn findings_out(findings: &[Finding]) -> Vec<FindingOut<'_>> {
    let out = findings.iter().map(|finding| FindingOut {
        rule: finding.rule,
        severity: finding.severity.name(),
        line: finding.line,
        message: &finding.message,
    });
    out.collect()
}

/// One document, version 1.
pub(crate) fn document(all: &[Compared], unread: &[(String, String)]) -> String {
    let programs = all.iter().map(|one| {
        let comparison = &one.comparison;
        let added = comparison.added_seconds();
        ProgramOut {
            path: &one.path,
            old_path: one.old_path.as_deref(),
            same: comparison.is_same(),
            threads: comparison
                .threads
                .iter()
                .map(|thread| ThreadOut {
                    change: thread.fate.name(),
                    differs: match thread.fate {
                        Fate::Changed => rows(thread).iter().map(|row| row.0).collect(),
                        _ => Vec::new(),
                    },
                    before: thread.before.as_ref().map(figures_out),
                    after: thread.after.as_ref().map(figures_out),
                    new: findings_out(&thread.new),
                    cured: findings_out(&thread.cured),
                })
                .collect(),
            new: findings_out(&comparison.new),
            cured: findings_out(&comparison.cured),
            added_seconds: added.as_ref().ok().map(|added| json::round(*added, 3)),
            added_seconds_unknown: added.err(),
            time_budget_s: one.budget.as_ref().map(|budget| budget.seconds),
            over_budget: one.over_budget(),
        }
    });
    let programs: Vec<_> = programs.collect();
    let threads = all.iter().flat_map(|one| &one.comparison.threads);
    let document = Document {
        version: json::VERSION,
        unread: unread
            .iter()
            .map(|(path, why)| json::Unread { path, why })
            .collect(),
        summary: SummaryOut {
            programs: all.len(),
            changed: programs.iter().filter(|program| !program.same).count(),
            threads: threads.filter(|thread| thread.fate != Fate::Same).count(),
            new: all.iter().map(|one| one.comparison.all_new().count()).sum(),
            cured: all
                .iter()
                .map(|one| one.comparison.all_cured().count())
                .sum(),
            unread: unread.len(),
        },
        programs,
        caution: CAUTION,
    };
    let mut text = json::print(&document);
    text.push('\n');
    text
}
