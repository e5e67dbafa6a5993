//! A plan for one thread: text and JSON.

use std::fmt::Write as _;

use lexer::section::Section;
use lexer::units::{Length, Radial, Units};
use rules::cut::load::ESTIMATE;
use rules::cut::money::{Range, Saving, saving};
use rules::facts::Production;
use rules::rewrite::Job;
use rules::rewrite::plan::{Better, Plan, State};
use serde::Serialize;

use super::json::{VERSION, print, round};
use super::text::plural;
use super::{CAUTION_SHORT, thread, visible};

/// What is shown.
pub(crate) struct Shown<'a> {
    /// The program as messages call it.
    pub(crate) path: &'a str,
    /// The thread.
    pub(crate) job: &'a Job<'a>,
    /// Its plan.
    pub(crate) plan: &'a Plan,
    /// How many parts, and what an hour is worth.
    pub(crate) production: &'a Production,
}

impl Shown<'_> {
    fn section(&self) -> &Section {
        &self.job.program.sections[self.job.index]
    }

    fn designation(&self) -> Option<String> {
        let identified = self.job.judgement.threads.get(self.job.index);
        thread::of(self.section(), identified).designation
    }

    /// Seconds before and after, where the plan changes something and both are known.
    fn seconds(&self) -> Option<(f64, f64)> {
        let after = self.plan.better.as_ref()?.after.seconds?;
        self.plan.before.seconds.zip(Some(after))
    }

    fn saving(&self) -> Option<Saving> {
        let (before, after) = self.seconds()?;
        Some(saving(Range::exact(before - after), self.production))
    }
}

/// The plan for a person; ends with an empty line.
pub(crate) fn text(shown: &Shown<'_>) -> String {
    let section = shown.section();
    let units = section.units;
    let mut out = String::new();
    let name = shown.designation();
    // Writing to a string cannot fail.
    let _ = writeln!(
        out,
        "{}:{}-{}  {}  {}",
        shown.path,
        section.first_line,
        section.last_line,
        visible::text(name.as_deref().unwrap_or("thread not named")),
        section.syntax.name()
    );
    let after = shown.plan.better.as_ref().map(|better| &better.after);
    states(&mut out, &shown.plan.before, after, units);
    saved(&mut out, shown);
    out.push_str("  limits\n");
    for limit in &shown.plan.limits {
        let _ = writeln!(out, "    {}", visible::text(&limit.text()));
    }
    if let Some((passes, peak)) = shown.plan.free {
        let _ = writeln!(
            out,
            "  a free list of passes would take {passes}, {peak:.4} mm² each at most; this cycle cannot \
             split so"
        );
    }
    if let Some(better) = &shown.plan.better {
        passes(&mut out, better, units);
    }
    if !shown.plan.front.is_empty() {
        out.push_str("  time against load, the lightest split of every number of passes\n");
        out.push_str("    passes  first mm  heaviest mm²  seconds\n");
        for point in &shown.plan.front {
            let _ = writeln!(
                out,
                "    {:>6}  {:>8.3}  {:>12.4}  {:>7}",
                point.passes,
                point.first_mm,
                point.peak_mm2,
                number(point.seconds, 1)
            );
        }
    }
    let basis = shown.job.judgement.tables.get(shown.job.index);
    if let Some(basis) = basis.map(|table| table.time_basis.as_str())
        && !basis.is_empty()
    {
        let _ = writeln!(out, "  time: {}", visible::text(basis));
    }
    for note in &shown.plan.notes {
        let _ = writeln!(out, "  note: {}", visible::text(note));
    }
    if let Some(better) = &shown.plan.better {
        for finding in &better.reread.new_findings {
            let _ = writeln!(out, "  new finding: {}", visible::text(finding));
        }
    }
    out.push('\n');
    out
}

fn states(out: &mut String, before: &State, after: Option<&State>, units: Units) {
    let unit = units.name();
    type Cell = (String, Box<dyn Fn(&State) -> Option<String>>);
    let inch = units == Units::Inch;
    let length = move |value: f64| {
        if inch {
            format!("{:.4}", value / 25.4)
        } else {
            format!("{value:.3}")
        }
    };
    let rows: Vec<Cell> = vec![
        ("passes".into(), Box::new(|s| Some(s.passes.to_string()))),
        (
            "of one start without new depth".into(),
            Box::new(|s| Some(s.springs.to_string())),
        ),
        (
            format!("first pass {unit}"),
            Box::new(move |s| Some(length(s.first_mm))),
        ),
        (
            format!("last step {unit}"),
            Box::new(move |s| Some(length(s.last_mm))),
        ),
        (
            "heaviest pass mm²".into(),
            Box::new(|s| Some(format!("{:.4}", s.peak_mm2))),
        ),
        (
            format!("heaviest pass N ({ESTIMATE})"),
            Box::new(|s| s.peak_n.map(|force| format!("{force:.0}"))),
        ),
        (
            "speed 1/min".into(),
            Box::new(|s| s.rpm.map(|rpm| format!("{rpm}"))),
        ),
        (
            "seconds".into(),
            Box::new(|s| s.seconds.map(|seconds| format!("{seconds:.1}"))),
        ),
    ];
    let head = if after.is_some() { "after" } else { "" };
    let _ = writeln!(out, "  {:<42}{:>10}{head:>10}", "", "before");
    for (name, cell) in rows {
        let (Some(was), is) = (cell(before), after.and_then(&cell)) else {
            continue;
        };
        let line = format!("  {name:<42}{was:>10}{:>10}", is.unwrap_or_default());
        let _ = writeln!(out, "{}", line.trim_end());
    }
}

fn saved(out: &mut String, shown: &Shown<'_>) {
    let (Some((before, after)), Some(saving)) = (shown.seconds(), shown.saving()) else {
        return;
    };
    let part = if before > 0.0 {
        100.0 * (before - after) / before
    } else {
        0.0
    };
    let _ = writeln!(
        out,
        "  saved: {:.1} s a part ({part:.0} % of the threading time)",
        before - after
    );
    if let Some(parts) = shown.production.parts_per_batch {
        let hours = |seconds: f64| seconds * parts / 3600.0;
        let _ = writeln!(
            out,
            "  a batch of {parts} parts: {:.2} h before, {:.2} h after, {:.2} h saved",
            hours(before),
            hours(after),
            hours(before - after)
        );
    }
    if let Some(hours) = saving.per_year_h {
        let _ = writeln!(out, "  a year: {:.1} h saved", hours.low);
    }
    match (saving.machine_money_per_year, saving.bottleneck) {
        (Some(money), _) => {
            let currency = shown.production.currency.as_deref().unwrap_or("");
            let _ = writeln!(
                out,
                "  machine time worth {:.0} {} a year",
                money.low,
                visible::text(currency)
            );
        }
        (None, Some(false)) => {
            out.push_str(
                "  the machine does not hold the shop up: the hours are capacity, not money\n",
            );
        }
        (None, _) => {}
    }
}

fn passes(out: &mut String, better: &Better, units: Units) {
    let section = &better.reread.section;
    let _ = writeln!(
        out,
        "  after: {}",
        plural(section.passes.len(), "pass", "passes")
    );
    let unit = units.name();
    let _ = writeln!(
        out,
        "    pass  purpose     X {unit}  depth {unit}  step {unit}  area mm²"
    );
    for (index, (pass, row)) in section
        .passes
        .iter()
        .zip(&better.reread.table.rows)
        .enumerate()
    {
        let decimals = if units == Units::Inch { 4 } else { 3 };
        let value = |length: Option<Length>| {
            let value = length.map(|length| units.value_of(length));
            number(value, decimals)
        };
        let radial = |radial: Option<Radial>| value(radial.map(|radial| radial.0));
        let _ = writeln!(
            out,
            "    {:>4}  {:<7}  {:>7}  {:>8}  {:>7}  {:>8}",
            index + 1,
            pass.purpose.name(),
            value(pass.x.map(|x| x.0)),
            radial(row.depth),
            radial(row.step),
            number(row.area_mm2, 4)
        );
    }
}

fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "?".to_owned(), |value| format!("{value:.decimals$}"))
}

#[derive(Serialize)]
struct Document<'a> {
    version: u32,
    path: &'a str,
    lines: [u32; 2],
    syntax: &'static str,
    designation: Option<String>,
    before: StateOut,
    after: Option<StateOut>,
    limits: Vec<LimitOut<'a>>,
    saved_s: Option<f64>,
    batch: Option<BatchOut>,
    year_h: Option<f64>,
    passes: Vec<PassOut>,
    free: Option<FreeOut>,
    front: Vec<PointOut>,
    edits: Vec<EditOut<'a>>,
    new_findings: &'a [String],
    notes: &'a [String],
    caution: Option<&'static str>,
}

#[derive(Serialize)]
struct StateOut {
    passes: usize,
    springs: usize,
    first_mm: f64,
    last_mm: f64,
    peak_mm2: f64,
    peak_n: Option<f64>,
    rpm: Option<f64>,
    seconds: Option<f64>,
}

#[derive(Serialize)]
struct LimitOut<'a> {
    limit: &'static str,
    value: f64,
    from: &'a str,
}

#[derive(Serialize)]
struct BatchOut {
    parts: f64,
    before_h: f64,
    after_h: f64,
    saved_h: f64,
}

#[derive(Serialize)]
struct PassOut {
    purpose: &'static str,
    x_mm: Option<f64>,
    depth_mm: Option<f64>,
    step_mm: Option<f64>,
    area_mm2: Option<f64>,
}

#[derive(Serialize)]
struct FreeOut {
    passes: usize,
    peak_mm2: f64,
}

#[derive(Serialize)]
struct PointOut {
    passes: usize,
    first_mm: f64,
    peak_mm2: f64,
    seconds: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct EditOut<'a> {
    pub(super) bytes: [u32; 2],
    pub(super) text: &'a str,
}

/// The plan as a document, version 1.
pub(crate) fn json(shown: &Shown<'_>) -> String {
    let section = shown.section();
    let plan = shown.plan;
    let better = plan.better.as_ref();
    let state = |state: &State| StateOut {
        passes: state.passes,
        springs: state.springs,
        first_mm: round(state.first_mm, 6),
        last_mm: round(state.last_mm, 6),
        peak_mm2: round(state.peak_mm2, 6),
        peak_n: state.peak_n.map(|force| round(force, 1)),
        rpm: state.rpm,
        seconds: state.seconds.map(|seconds| round(seconds, 3)),
    };
    let seconds = shown.seconds();
    let batch = seconds
        .zip(shown.production.parts_per_batch)
        .map(|((before, after), parts)| BatchOut {
            parts,
            before_h: round(before * parts / 3600.0, 3),
            after_h: round(after * parts / 3600.0, 3),
            saved_h: round((before - after) * parts / 3600.0, 3),
        });
    let passes = better.map_or_else(Vec::new, |better| {
        let rows = better
            .reread
            .section
            .passes
            .iter()
            .zip(&better.reread.table.rows);
        rows.map(|(pass, row)| PassOut {
            purpose: pass.purpose.name(),
            x_mm: pass.x.map(|x| x.mm()),
            depth_mm: row.depth.map(Radial::mm),
            step_mm: row.step.map(Radial::mm),
            area_mm2: row.area_mm2.map(|area| round(area, 6)),
        })
        .collect()
    });
    let edits = better.map_or_else(Vec::new, |better| {
        let edits = better.edits.iter();
        edits
            .map(|edit| EditOut {
                bytes: [edit.span.start, edit.span.end],
                text: &edit.text,
            })
            .collect()
    });
    print(&Document {
        version: VERSION,
        path: shown.path,
        lines: [section.first_line, section.last_line],
        syntax: section.syntax.name(),
        designation: shown.designation(),
        before: state(&plan.before),
        after: better.map(|better| state(&better.after)),
        limits: plan
            .limits
            .iter()
            .map(|limit| LimitOut {
                limit: limit.kind.name(),
                value: round(limit.value, 6),
                from: &limit.from,
            })
            .collect(),
        saved_s: seconds.map(|(before, after)| round(before - after, 3)),
        batch,
        year_h: shown
            .saving()
            .and_then(|saving| Some(round(saving.per_year_h?.low, 3))),
        passes,
        free: plan.free.map(|(passes, peak)| FreeOut {
            passes,
            peak_mm2: round(peak, 6),
        }),
        front: plan
            .front
            .iter()
            .map(|point| PointOut {
                passes: point.passes,
                first_mm: round(point.first_mm, 6),
                peak_mm2: round(point.peak_mm2, 6),
                seconds: point.seconds.map(|seconds| round(seconds, 3)),
            })
            .collect(),
        edits,
        new_findings: better.map_or(&[], |better| &better.reread.new_findings),
        notes: &plan.notes,
        caution: better.map(|_| CAUTION_SHORT),
    }) + "\n"
}
